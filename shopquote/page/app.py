"""The Flask application: its rooms (blueprints), its guard, its error pages. Begin at `create_app`.

/            start, jobs by state, find      page/office.py
/price/...   a new price                     page/price.py
/quote/...   a quote on file                 page/quote.py
/joint/...   several jobs on one quote       page/joint.py
/logged/...  what is logged on a job         page/logged.py
/load        hours of the weeks ahead        page/load.py
/bars ...    needs, orders, rack             page/bars.py
/order/<n>/receive  bars that came           page/goods_in.py
/review      finished jobs, standards        page/review.py
/shop ...    lists, devices, backup          page/shop.py
/shop/details  what the shop says of itself  page/details.py
/shop/first    the rates that matter         page/first.py
/f/...       the floor                       page/floor.py
/in, /code   letting devices in              page/door.py
"""

import importlib
import logging
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from flask import Flask, Response, g, jsonify, render_template, request
from werkzeug.exceptions import HTTPException

from shopquote.calc.numbers import shown
from shopquote.errors import CannotMakeError, DatabaseError, InputError, NotFoundError, ShopquoteError
from shopquote.page import details, door, floor, office
from shopquote.page.desk import Desk
from shopquote.page.guard import Guard, add_guard, form_token
from shopquote.page.hints import SURE, doors, doors_in_words, without_options
from shopquote.page.show import FILTERS
from shopquote.services.shop.clock import now as this_moment
from shopquote.services.shop.database import Database

MOST_UPLOAD_BYTES = 12_000_000  # enough for a photo of a certificate; a job file is far smaller
MOST_FIELDS = 40_000  # a form for any usual job; jobs of thousands of parts come as files
ROOMS = ("first", "price", "quote", "joint", "load", "logged", "bars", "goods_in", "review", "shop")
# Status codes by exit code: 422, correct what was typed; 404, no such thing; 503, try again later.
STATUS_OF: dict[type[ShopquoteError], int] = {
    InputError: 422, NotFoundError: 404, CannotMakeError: 422, DatabaseError: 503,
}  # fmt: skip

log = logging.getLogger(__name__)


def create_app(
    database: Database,
    *,
    hosts: frozenset[str],
    now: Callable[[], datetime] = this_moment,
    url: str | None = None,
    addresses: tuple[str, ...] = (),
) -> Flask:
    """Build the application over an open database.

    Args:
        database: open; the caller closes it when the server ends.
        hosts: values of the Host header that are accepted, names with ports.
        now: gives the present time, with its time zone; tests set it.
        url: the database as named with --db, for backups.
        addresses: URLs at which other devices find this machine, shown with their codes.
    """
    app = Flask("shopquote.page", root_path=str(Path(__file__).parent))
    app.config.update(
        MAX_CONTENT_LENGTH=MOST_UPLOAD_BYTES,
        MAX_FORM_MEMORY_SIZE=2_000_000,
        MAX_FORM_PARTS=MOST_FIELDS,
        SEND_FILE_MAX_AGE_DEFAULT=0,
        # Signs flashed messages only; a restart may lose them, since devices are known by their own cookie.
        SECRET_KEY=secrets.token_bytes(32),
        SESSION_COOKIE_SAMESITE="Strict",
    )
    # Template tags leave no blank lines, so that the HTML source stays readable.
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters.update(FILTERS, doors=doors)
    app.jinja_env.globals.update(form_token=form_token, sure=SURE)
    app.jinja_env.tests["of_kind"] = lambda kind, name: type(kind).__name__ == name
    app.extensions["desk"] = Desk(database, now, url, addresses)
    add_guard(app, Guard(hosts))
    app.before_request(details.first_of_all)
    for room in (door, office, floor, details):
        app.register_blueprint(room.rooms)
    # Imported late by name: they load planner, papers and pictures, which the first page does without.
    for name in ROOMS:
        app.register_blueprint(importlib.import_module(f"shopquote.page.{name}").rooms)
    app.after_request(_led_on)
    app.after_request(_shown)
    app.register_error_handler(ShopquoteError, _told)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(Exception, _broken)
    return app


def _led_on(answer: Response) -> Response:
    """Turn a redirect into JSON for our script: following it would use up the flashed messages."""
    if answer.status_code in (302, 303) and _of_a_script():
        told = jsonify(to=answer.headers["Location"])
        told.headers.extend((name, text) for name, text in answer.headers if name == "Set-Cookie")
        return told
    return answer


def _shown(answer: Response) -> Response:
    """Make control characters, which older records may hold, visible in a page."""
    if answer.mimetype == "text/html" and not answer.direct_passthrough:
        text = answer.get_data(as_text=True)
        if (safe := shown(text)) != text:
            answer.set_data(safe)
    return answer


def _of_a_script() -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def _told(error: Exception) -> tuple[Any, int]:
    """Answer an error that the user can put right, with its own message and hint."""
    assert isinstance(error, ShopquoteError)
    status = next((status for kind, status in STATUS_OF.items() if isinstance(error, kind)), 500)
    return _answer(status, without_options(error.message), without_options(error.hint or ""))


# Werkzeug's own messages speak of URLs and methods, which mean nothing at a shop counter.
_PLAIN = {
    400: "This form cannot be read.",
    404: "There is no such page.",
    405: "This page is not asked for in this way.",
    413: "This file is too large: at most 12 MB.",
}


def _refused(error: Exception) -> tuple[Any, int] | Response:
    assert isinstance(error, HTTPException)
    status = error.code or 500
    return _answer(status, _PLAIN.get(status, error.description or "It cannot be done."), "")


def _broken(error: Exception) -> tuple[Any, int]:
    """Answer a fault of the program: the traceback goes to the server's log, never to the page."""
    log.exception("fault at %s %s", request.method, request.path)
    return _answer(500, "This is a fault of the program; nothing was stored.", "The terminal has its trace.")


def _answer(status: int, message: str, hint: str) -> tuple[Any, int]:
    # Our scripts ask for JSON and show the words in place; a form without scripts gets a page.
    if _of_a_script():
        return jsonify(error=doors_in_words(message), hint=doors_in_words(hint)), status
    role = g.device.role if getattr(g, "device", None) is not None else ""
    return render_template("fault.html", message=message, hint=hint, role=role), status
