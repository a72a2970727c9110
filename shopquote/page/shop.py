"""The shop's own: devices that are let in, and its lists."""

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.page.desk import desk
from shopquote.page.door import guard
from shopquote.services.shop.devices import list_devices, throw_out

rooms = Blueprint("shop", __name__)


@rooms.get("/devices")
def devices() -> str:
    """Who is let in, and codes for others."""
    return _devices("", "")


@rooms.post("/devices")
def let_in() -> str | Response:
    """A new code for the counter, or a device is thrown out."""
    held = desk()
    if request.form.get("do") == "throw-out":
        with held.database.session() as session:
            throw_out(session, request.form.get("device", 0, int))
        return redirect(url_for("shop.devices"), 303)
    role = "office" if request.form.get("role") == "office" else "floor"
    return _devices(guard().codes.new_code(role), role)


def _devices(code: str, role: str) -> str:
    held = desk()
    with held.database.reading() as session:
        found = list_devices(session, at=held.now())
    return render_template("devices.html", devices=found, code=code, role=role, addresses=held.addresses)
