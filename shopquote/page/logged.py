"""The log of a job: minutes, bars, items, bills, invoices and payments; enter them, take them back."""

import re
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.job import OPERATIONS
from shopquote.calc.money import round_money
from shopquote.errors import InputError, counted
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Table
from shopquote.outputs.tables.history_tables import OF_ONE_JOB
from shopquote.outputs.tables.review_columns import LOG
from shopquote.page.choices import of_a_bar
from shopquote.page.desk import desk
from shopquote.page.hints import outside_commands
from shopquote.page.papers import needed_file, put_aside
from shopquote.reading.kinds.lengths import parted
from shopquote.services.floor.entries import good_pieces
from shopquote.services.floor.log_list import JobLog, logged_so_far
from shopquote.services.floor.log_words import LogWords, log_words, needed_by
from shopquote.services.floor.take_back import STRUCK_WHEN_CLOSED
from shopquote.services.jobs.job_states import STATES_ENDED
from shopquote.services.jobs.jobs import find_job
from shopquote.services.jobs.money_in import MoneyIn, money_in
from shopquote.services.review.job_figures import money
from shopquote.services.shop.history import job_history
from shopquote.services.shop.shop_on_file import shop_notation

rooms = Blueprint("logged", __name__, url_prefix="/logged")
CAME_BACK = "Left over and kept, one or more lengths"
# The forms of the page, each with its button; for each field its option's name and its label.
FORMS: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("An invoice to the customer", "Log the invoice", (
        ("invoice", "Number"), ("amount", "Amount before tax"), ("due", "To be paid by"),
        ("reason", "Why, if more than quoted"))),
    ("A credit to the customer", "Log the credit", (
        ("credit", "Number"), ("amount", "Amount before tax"), ("invoice", "Of invoice"), ("reason", "Why"))),
    ("Payment received", "Log the payment", (
        ("paid", "For invoice"), ("amount", "Amount, else all that is open"), ("reason", "Why, if more"))),
    ("Subcontract work", "Log the bill", (
        ("outside", "What"), ("supplier", "Who"), ("cost", "Cost before tax"))),
    ("Bought items", "Log the purchase", (
        ("bought", "What"), ("count", "How many"), ("cost", "Cost of all"))),
    ("A bar from the rack", "Log the bar", (("piece", "Its code"), ("returned", CAME_BACK))),
    ("Bars bought without an order", "Log the bars", (
        ("bar", "Bar"), ("grade", "Grade"), ("length", "Length of one"), ("count", "How many"),
        ("cost", "Cost of all, if not the list price"), ("delivery", "Delivery charged, 0: none"),
        ("returned", CAME_BACK))),
    ("Spoilt pieces", "Log the scrap", (("scrap", "Mark"), ("count", "How many"), ("reason", "Why"))),
    ("Minutes", "Log the minutes", (
        ("operation", "Operation"), ("minutes", "Minutes, or 1:30"), ("person", "Who"))),
)  # fmt: skip
OF_AN_INVOICE = ("paid", "credit")
# Entries still allowed on a closed job, since they change none of its figures.
_WHEN_OVER = {"closed": ("paid", "invoice"), "lost": ("paid",), "dropped": ("paid",)}
FIELDS = {name for _, _, fields in FORMS for name, _ in fields} | {"on"}


@rooms.get("/<job>")
def show(job: str) -> str:
    """Show everything logged on a job by day, its payments, and a form for each kind of entry."""
    held = desk()
    with held.database.reading() as session:
        log = logged_so_far(session, job)
        row = find_job(session, job)
        happened = Table(OF_ONE_JOB, job_history(session, row.number))
        good = good_pieces(session, row)
        bars = of_a_bar(session, held.now().date())
        came = money_in(session, [row.id], today=held.now().date()).get(row.id, MoneyIn())
    return render_template(
        "logged.html", needed=needed_by, log=log, happened=happened, operations=OPERATIONS, good=good,
        ended=log.state in STATES_ENDED,
        forms=[
            form
            for form in FORMS
            if (came.billed or form[2][0][0] not in OF_AN_INVOICE)
            and (log.state not in STATES_ENDED or form[2][0][0] in _WHEN_OVER[log.state])
        ],
        to_take=[
            one for one in log.rows
            if one.number is not None and (log.state != "closed" or one.kind in STRUCK_WHEN_CLOSED)
        ],
        invoiced=money(came.invoiced), paid=money(came.paid), overdue=money(came.overdue),
        table=Table(LOG, log.rows, setting=Setting(log.currency)), seen_of=seen_of, **bars,
    )  # fmt: skip


def seen_of(row: Any) -> str:
    """A text that identifies an entry, so that no other one that came in meanwhile is taken back."""
    return f"{row.number} {row.table.__name__} {row.id}"


@rooms.post("/<job>")
def enter(job: str) -> Response:
    """Store one entry; the fields have the names of the options of `shopquote log`."""
    held = desk()
    typed: dict[str, Any] = {name: text for name in FIELDS if (text := request.form.get(name, "").strip())}
    if "returned" in typed:
        with held.database.reading() as session:
            typed["returned"] = tuple(map(str, parted(typed["returned"], shop_notation(session))))
    words = LogWords(**typed, sure=request.form.get("sure") == "yes")
    if words.nothing:
        raise InputError("Nothing was typed in this form.")
    try:
        if mistake := words.mistake():
            raise InputError(mistake)
        with held.writing() as session:
            done = log_words(session, job, words, at=held.now())
    except InputError as error:
        raise InputError(
            _in_fields(error.message, typed), hint=_in_fields(error.hint or "", typed) or None
        ) from error
    for row in done.rows:
        cost = f", {round_money(row.cost, done.currency)} {done.currency}" if row.cost else ""
        flash(" ".join(filter(None, (f"{row.what}{cost}.", row.note))))
    return redirect(url_for("logged.show", job=done.job), 303)


# Messages name options; the page's fields have labels instead.
_LABELS = {name: label for _, _, fields in FORMS for name, label in fields} | {
    "count": "How many", "cost": "Cost", "reason": "Why", "due": "To be paid by", "on": "Day",
}  # fmt: skip
_OPTION = re.compile(r"--(?!sure)([a-z]+)( [A-Z]{3,})?")


def _in_fields(text: str, typed: Mapping[str, Any]) -> str:
    """A message with the options that it names replaced by the labels of the page's fields."""
    # The last form with the typed field: the credit form follows the invoice form and has its field too.
    form = next((fields for _, _, fields in reversed(FORMS) if fields[0][0] in typed), ())
    labels = _LABELS | dict(form)

    def in_labels(told: str) -> str:
        return _OPTION.sub(lambda found: f"“{labels.get(found[1], found[1])}”", told)

    return outside_commands(text, in_labels)


@rooms.post("/<job>/sheet")
def take_sheet(job: str) -> Response:
    """Enter a filled-in floor sheet: all of it, or nothing."""
    held = desk()
    given = needed_file("file", "the floor sheet of this job, filled in", (".xlsx",))
    with put_aside(given) as path, held.writing() as session:
        done = log_words(session, job, LogWords(sheet=path), at=held.now())
    flash(f"{counted(len(done.rows), 'entry is', 'entries are')} taken from the sheet.")
    return redirect(url_for("logged.show", job=done.job), 303)


@rooms.post("/<job>/back")
def take_back(job: str) -> Response:
    """Take back an entry, with a reason; it stays readable."""
    held = desk()
    number, _, _ = request.form.get("entry", "").partition(" ")
    with held.writing() as session:
        if request.form.get("entry") not in _seen(logged_so_far(session, job)):
            raise InputError(
                "This entry is not there any more as it was; others were logged or taken back meanwhile.",
                hint="Load the page again and look.",
            )
        words = LogWords(strike=number, reason=request.form.get("reason", "").strip() or None)
        if mistake := words.mistake():
            raise InputError(mistake.replace("--strike", "Taking back").replace("--", "a "))
        log_words(session, job, words, at=held.now())
    flash("It is taken back; the log still shows it.")
    return redirect(url_for("logged.show", job=job), 303)


def _seen(log: JobLog) -> set[str]:
    return {seen_of(row) for row in log.rows if row.number is not None}
