"""The floor: what a code opens, and what was done today. No price is ever shown here."""

from flask import Blueprint, render_template

rooms = Blueprint("floor", __name__, url_prefix="/f")


@rooms.get("/")
def home() -> str:
    """Where a phone begins."""
    return render_template("floor/home.html")
