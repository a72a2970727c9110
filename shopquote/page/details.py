"""The shop's details: asked of a new shop before anything else, changed here later."""

from contextlib import suppress
from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.errors import InputError
from shopquote.page.desk import desk
from shopquote.services.shop.countries import FOLLOWING
from shopquote.services.shop.new_shop import details_on_file, set_up
from shopquote.services.shop.setup import (
    QUESTIONS,
    ShopDetails,
    asked_of_a_new_shop,
    detail_from_text,
    detail_text,
    in_its_country,
)
from shopquote.services.shop.shop_on_file import is_set_up

rooms = Blueprint("details", __name__)


def first_of_all() -> Response | None:
    """Before each request: redirect the office to these questions while the database has no shop."""
    held = desk()
    if g.device is None or request.blueprint == "details" or request.endpoint == "static":
        return None
    if not held.held.get("has a shop"):
        with held.database.reading() as session:
            if not is_set_up(session):
                answer = redirect(url_for("details.details"))
                assert isinstance(answer, Response)
                return answer
        held.held["has a shop"] = True
    return None


@rooms.route("/shop/details", methods=["GET", "POST"])
def details() -> str | Response | tuple[str, int]:
    """Show and store the shop's details; for a new shop also which lists it starts from."""
    held = desk()
    with held.database.reading() as session:
        known, new = details_on_file(session), not is_set_up(session)
    known = asked_of_a_new_shop(known) if new else known
    # No name is proposed for a new shop, or somebody would quote under an invented one. What is usual in
    # its country stays blank until the country is sent.
    blank = ("name", "address", "email", *FOLLOWING) if new else ()
    typed = {name: "" if name in blank else detail_text(getattr(known, name)) for name, _ in QUESTIONS}
    if request.method == "GET":
        return _form(typed, {}, new, known)
    typed = {name: request.form.get(name, "").replace("\r\n", ";") for name, _ in QUESTIONS}
    faults = {} if new else _changed_meanwhile(known, typed)
    if new:
        _fill_in_country(known, typed)
    said = None if faults else _read(known, typed, faults)
    if said is None:
        return _form(typed, faults, new, known), 422
    with held.writing() as session:
        set_up(session, said, on=held.now().date(), own=request.form.get("start") == "own")
    flash(_set_up_as(said) if new else "The details are changed.")
    return redirect(url_for("first.rates" if new else "shop.lists"), 303)


def _set_up_as(said: ShopDetails) -> str:
    tax = f"{said.tax_name} {detail_text(said.tax_percent)} %"
    return f"The shop is set up, with {said.currency}, {said.units}, {said.paper} and {tax}."


def _fill_in_country(known: ShopDetails, typed: dict[str, str]) -> None:
    """Fill blank details of a new shop with what is usual in its country."""
    with suppress(InputError):  # an unusable country is reported at its field
        usual = in_its_country(known, str(detail_from_text("locale", typed["locale"])))
        for name in FOLLOWING:
            typed[name] = typed[name].strip() or detail_text(getattr(usual, name))


def _changed_meanwhile(known: ShopDetails, typed: dict[str, str]) -> dict[str, str]:
    """Faults for fields changed here and by somebody else since the form was opened.

    Fields not touched here take the other's value in `typed`.
    """
    faults: dict[str, str] = {}
    for name, text in typed.items():
        was, now = request.form.get(f"was-{name}"), detail_text(getattr(known, name))
        if was is None or now in (was, text):
            continue
        if text == was:
            typed[name] = now
        else:
            faults[name] = f"Somebody else changed it to {now!r} meanwhile. Save again if yours is right."
    return faults


def _read(known: ShopDetails, typed: dict[str, str], faults: dict[str, str]) -> ShopDetails | None:
    """The details as typed; None if a field cannot be used, with the reason in `faults` by field."""
    answers: dict[str, Any] = {}
    for name, text in typed.items():
        try:
            answers[name] = detail_from_text(name, text)
        except InputError as error:
            faults[name] = error.message
    return None if faults else replace(known, **answers)


def _form(typed: dict[str, str], faults: dict[str, str], new: bool, known: ShopDetails) -> str:
    was = {name: detail_text(getattr(known, name)) for name, _ in QUESTIONS}
    return render_template(
        "shop/details.html",
        questions=QUESTIONS, typed=typed, was=was, faults=faults, new=new, following=FOLLOWING,
    )  # fmt: skip
