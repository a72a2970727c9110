"""A quote on file."""

from flask import Blueprint

rooms = Blueprint("quote", __name__, url_prefix="/quote")


@rooms.get("/<job>")
def show(job: str) -> str:
    """The newest revision."""
    return job
