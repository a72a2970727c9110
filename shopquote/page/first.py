"""The rates that matter on one page, with the price of a sample before any of it is stored."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.page.desk import desk
from shopquote.page.office import lists_to_begin
from shopquote.page.show import money
from shopquote.services.quotes.first_rates import (
    BENDER,
    FIRST_RATES,
    PRICE_LIST,
    SAMPLE,
    USUAL_PARTS,
    FirstRate,
    answer_on_file,
    sample_price,
    store_answers,
)
from shopquote.services.shop.invented_entries import has_invented
from shopquote.services.shop.new_shop import benders_to_start_from
from shopquote.services.shop.shop_on_file import the_shop

rooms = Blueprint("first", __name__)


@rooms.route("/shop/first", methods=["GET", "POST"])
def rates() -> str | Response | tuple[str, int]:
    """Show the rates on file; on POST, try the typed ones on the sample and store them if `do=keep`."""
    held = desk()
    on = held.now().date()
    with held.database.trial() as session:
        benders = benders_to_start_from(session)
        asked = [rate for rate in FIRST_RATES if rate is not PRICE_LIST and (benders or rate is not BENDER)]
        # The parts of a wage are not stored, so a usual share is shown until another is typed.
        known = {
            rate: answer_on_file(session, rate, on) if rate.of else USUAL_PARTS.get(rate, "")
            for rate in asked
        }
        currency = the_shop(session).currency
        was, invented = _sample(session)
    if request.method == "GET":
        return _page(known, {}, benders, currency, was, None, invented)
    typed = {rate: request.form.get(_name(rate), known[rate]).strip() for rate in asked}
    with held.database.trial() as session:
        faults = store_answers(session, typed, on)
        is_now = None
        if not faults:
            session.flush()
            # Bars that the sample lacks are added in the same trial; a rollback would lose the answers.
            is_now, invented = _sample(session, lambda: store_answers(session, typed, on))
    if faults or request.form.get("do") != "keep":
        page = _page(typed, faults, benders, currency, was, is_now, invented)
        return (page, 422) if faults else page
    with held.writing() as session:
        store_answers(session, typed, on)
        lacking = lists_to_begin(session)
    assert is_now is not None
    flash(f"Kept. The sample: {money(was, currency)}, now {money(is_now, currency)} {currency}.")
    # The start page shows a new shop what it still lacks.
    return redirect(url_for("office.start" if lacking else "shop.lists"), 303)


def _sample(session: Any, keep: Callable[[], object] = lambda: None) -> tuple[Decimal, bool]:
    """The sample's price, and whether invented bars or benders may be in it."""
    price, invented = sample_price(session, desk().now(), keep)
    return price, invented or has_invented(session)


def _name(rate: FirstRate) -> str:
    return f"r{FIRST_RATES.index(rate)}"


def _page(
    typed: Mapping[FirstRate, str],
    faults: Mapping[FirstRate, str],
    benders: tuple[str, ...],
    currency: str,
    was: Decimal,
    is_now: Decimal | None,
    invented: bool,
) -> str:
    rows = [
        (_name(rate), rate.question, text, faults.get(rate, ""), benders if rate is BENDER else ())
        for rate, text in typed.items()
    ]
    return render_template(
        "shop/first.html", rows=rows, was=was, is_now=is_now, currency=currency, invented=invented,
        sample=SAMPLE.replace("_", " "), faults=len(faults),
    )  # fmt: skip
