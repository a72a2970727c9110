"""Several jobs of one customer on one quote: choose, make, show, answer, print."""

import tempfile
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.inwards import saved_together
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.looks import MONEY, Setting
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.quote_tables import BREAKS, LINES
from shopquote.page.desk import desk
from shopquote.page.papers import download
from shopquote.page.quote import refuse_if_newer, write_for_customer
from shopquote.services.jobs.job_list import newest_jobs
from shopquote.services.jobs.job_states import STATES_ASKED
from shopquote.services.quotes.joint import (
    MOST_JOBS,
    answer_joint,
    draft_joint,
    store_joint,
    stored_joint,
    told_beside,
)
from shopquote.services.quotes.quote_options import QuoteOptions
from shopquote.services.quotes.quotes_on_file import QuoteRow, list_quotes
from shopquote.services.shop.shop_on_file import shop_notation

rooms = Blueprint("joint", __name__, url_prefix="/joint")
WISHES = ("breaks", "margin_pct", "discount_pct", "rush_pct")
PAPERS = ("pdf", "letter", "book")

JOBS: tuple[Column[QuoteDocument], ...] = (
    Column("Job", lambda quote: quote.job),
    Column("Title", lambda quote: quote.title),
    Column("Before tax", lambda quote: quote.priced.net, MONEY, sum=True),
    Column("Saved by buying together", lambda quote: saved_together(quote.estimate.costs), MONEY, sum=True),
    Column("Left for the shop", lambda quote: quote.priced.net - quote.estimate.cost, MONEY, sum=True),
)


@rooms.get("/new")
def new() -> str:
    """List the jobs of a customer that can be quoted, to choose from."""
    customer = request.args.get("customer", "")
    with desk().database.reading() as session:
        jobs, older = newest_jobs(session, MOST_JOBS, states=STATES_ASKED, customer=customer)
    return render_template("joint/new.html", customer=customer, jobs=jobs[::-1], older=older)


@rooms.post("")
def make() -> Response:
    """Make a quote of the chosen jobs, or the next revision of a joint quote."""
    held = desk()
    typed: dict[str, Any] = {name: request.form.get(name, "").strip() or None for name in WISHES}
    jobs = request.form.getlist("job")
    if len(jobs) < 2:
        raise InputError("Choose at least two jobs; one alone is quoted on its own page.")
    # Priced while reading, stored while writing: planning takes seconds, and others must not wait for it.
    with held.database.reading() as session:
        if of := request.form.get("of", ""):
            refuse_if_newer(stored_joint(session, of).document.revision)
        wishes = QuoteOptions(**typed).wishes(shop_notation(session))
        drafts = draft_joint(session, jobs, held.now().date(), wishes)
    with held.writing() as session:
        document = store_joint(session, drafts, at=held.now()).document
    flash(f"{document.number} revision {document.revision} is on file.")
    return redirect(url_for("joint.show", number=document.number), 303)


@rooms.get("/<number>")
def show(number: str) -> str:
    """Show a joint quote: its total, each job's price, and each job's answer."""
    held = desk()
    with held.database.reading() as session:
        joint = stored_joint(session, number)
        rows = _rows(session, joint.quotes)
        states = {job: _stands(row) for job, row in rows.items()}
        answers = {job: row.answers for job, row in rows.items()}
    document = joint.document
    setting = Setting(document.priced.currency, document.units)
    return render_template(
        "joint/show.html", document=document, quotes=joint.quotes, states=states, papers=PAPERS,
        answers=answers, still_open=any(answers.values()),
        accepted=any("accepted" in one for one in answers.values()),
        jobs=Table(JOBS, joint.quotes, setting=setting, foot="Total"),
        job_address=lambda quote: url_for("quote.show", job=quote.job),
        lines=Table(LINES, document.priced.lines, setting=setting),
        breaks=Table(BREAKS, document.priced.breaks, setting=setting),
    )  # fmt: skip


def _stands(row: QuoteRow) -> str:
    """The word for the state of a job's quote: a stored "sent" only means made and not yet answered."""
    if row.state != "sent":
        return row.state
    return "not answered yet" if row.answers else row.job_state


def _rows(session: Any, quotes: tuple[QuoteDocument, ...]) -> dict[str, QuoteRow]:
    """Each job's quote as this paper has it, by job number."""
    found = {}
    for quote in quotes:
        rows = list_quotes(session, desk().now().date(), job_number=quote.job)
        found[quote.job] = next(row for row in rows if row.revision == quote.revision)
    return found


@rooms.post("/<number>/answer")
def answer(number: str) -> Response:
    """Record that the customer accepted or declined all that is open, or one job."""
    held = desk()
    at, reason, word = held.now(), request.form.get("reason", ""), request.form.get("answer", "")
    with held.writing() as session:
        newest = stored_joint(session, number).document
        refuse_if_newer(newest.revision)
        rows = answer_joint(
            session, number, word, at.date(), reason=reason, at=at, only=request.form.getlist("job")
        )
        notes = told_beside(session, rows)
    flash("; ".join(f"{row.job} is {row.state}" for row in rows) + ".")
    for note in notes:
        flash(note)
    return redirect(url_for("joint.show", number=newest.number), 303)


@rooms.get("/<number>/paper/<kind>")
def paper(number: str, kind: str) -> Response:
    """Download the paper that the customer gets."""
    if kind not in PAPERS:
        raise NotFoundError(f"There is no paper {kind[:20]!r}.", hint=f"{', '.join(PAPERS)}.")
    with desk().database.reading() as session, tempfile.TemporaryDirectory() as folder:
        return download(write_for_customer(stored_joint(session, number).document, kind, Path(folder)))
