"""A job with its quote: figures, what-if, answer, next revision, states, papers."""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.pricing.document import QuoteDocument
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Table
from shopquote.outputs.tables.quote_tables import BREAKS, DIFFERENCES, LINES, OPERATIONS, chance_words
from shopquote.page.desk import desk
from shopquote.page.papers import download, download_as
from shopquote.page.parts import drawings, made_before
from shopquote.page.pictures import price_curve, sawn_bar
from shopquote.reading.job_file import write_job_text
from shopquote.reading.kinds import count, money, read_typed
from shopquote.services.buying.orders_on_file import open_orders_words
from shopquote.services.floor.delivery_note import (
    delivered_words,
    deliveries_of,
    delivery_note,
    left_to_deliver,
    note_again,
    record_delivery,
)
from shopquote.services.jobs.job_list import newest_jobs
from shopquote.services.jobs.job_states import (
    MOVES,
    STATES_ASKED,
    STATES_ENDED,
    STATES_TO_MAKE,
    STATES_TO_REVISE,
    WON_STATES,
)
from shopquote.services.jobs.jobs import LoadedJob, find_job, load_job, set_state
from shopquote.services.jobs.money_in import MoneyIn, money_in
from shopquote.services.jobs.promises import still_promised
from shopquote.services.quotes.joint import told_beside
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quote_changes import compare_revisions, price_for, what_if
from shopquote.services.quotes.quote_options import QuoteOptions
from shopquote.services.quotes.quotes_on_file import answer_quote, list_quotes, store_quote, stored_quote
from shopquote.services.review.close import close_job, reopen_job
from shopquote.services.review.good_pieces import short_of_good
from shopquote.services.review.job_review import before_closing, missing_of, review_job
from shopquote.services.shop.shop_on_file import bending_shop, shop_notation

rooms = Blueprint("quote", __name__, url_prefix="/quote")
REVISION_FIELDS = ("sets", "breaks", "margin_pct", "discount_pct", "rush_pct")


@rooms.get("/<job>")
def show(job: str) -> str:
    """Show a job with its newest quote, as stored or with a what-if."""
    held = desk()
    today = held.now().date()
    with held.database.reading() as session:
        loaded = load_job(session, job)
        rows = list_quotes(session, today, job_number=job)
        page = _standing(session, loaded, rows[-1] if rows else None)
        if rows:
            page |= _quoted(session, loaded, rows[-1], today)
    return render_template("quote/show.html", **page)


def _standing(session: Any, loaded: LoadedJob, row: Any) -> dict[str, Any]:
    """The job's state, and the moves that the services allow from it."""
    job = loaded.job
    state = job.state
    answers = row.answers if row is not None else ()
    moves = set(MOVES[state]) - {"quoted", "lost"}
    if state == "closed":
        # Reopening needs a reason and has a form of its own.
        moves.clear()
    if "accepted" in answers:
        # Left out: the same as accepting the quote, and users looked for the difference of two buttons.
        moves.discard("won")
    if state == "finished" and money_in(session, [job.id]).get(job.id, MoneyIn()).invoiced:
        moves.discard("dropped")
    delivers = state in WON_STATES
    others: list[Any] = []
    if state in STATES_ASKED:
        others, _ = newest_jobs(session, 2, states=STATES_ASKED, customer=loaded.spec.customer)
    return {
        "loaded": loaded, "document": None, "row": row, "answers": answers, "moves": moves,
        "earned": review_job(session, job.number) if state == "closed" else None,
        "revisable": state in STATES_TO_REVISE, "over": state in STATES_ENDED, "others": len(others) > 1,
        "to_make": state in STATES_TO_MAKE, "delivers": delivers, "went": deliveries_of(session, job),
        # Only then: both load the job again, which a quote that waits for its answer does not need.
        "to_deliver": delivers and left_to_deliver(session, job),
        "delivered": delivered_words(session, job) if delivers else "",
        "drawn": _drawn(session, loaded),
    }  # fmt: skip


def _quoted(session: Any, loaded: LoadedJob, row: Any, today: Any) -> dict[str, Any]:
    job = loaded.job.number
    document = shown = stored_quote(session, job)
    typed = {word: request.args.get(word, "").strip() for word in ("sets", "margin", "target", "what_if")}
    changes = _changes(typed, document)
    # A what-if is a GET: it stores nothing.
    asked = what_if(session, job, today, changes) if changes else None
    target = None
    if typed["target"]:
        net = read_typed("The price in all", money(), typed["target"], shop_notation(session))
        target = price_for(session, job, net, today)
    shown = asked.after if asked is not None else document
    setting = Setting(document.priced.currency, document.units)
    costs = [(name, amount) for name, amount in shown.estimate.by_category.items() if amount]
    left = shown.priced.net - shown.estimate.cost
    parts = [(name, float(amount), "") for name, amount in costs]
    told = ", ".join(f"{name} {amount:.2f}" for name, amount in costs)
    steps = {step.sets: step.unit_price for step in document.priced.breaks}
    # The curve holds for the stored quote's conditions; only another quantity lies on the same curve.
    of_the_curve = shown if not changes.keys() - {"sets"} else document
    for one in (document, of_the_curve):
        steps[one.priced.sets] = one.priced.net / one.priced.sets
    return {
        "document": document, "shown": shown, "row": row, "newest": row.revision, "asked": asked,
        "typed": typed, "target": target, "costs": costs,
        "sawn": sawn_bar([*parts, ("left", max(float(left), 0), "us")], told),
        "curve": price_curve(
            [(sets, round(steps[sets], 2)) for sets in sorted(steps)], of_the_curve.priced.sets
        ),
        "breaks": Table(BREAKS, document.priced.breaks, setting=setting),
        "operations": Table(OPERATIONS, shown.estimate.operations, setting=setting),
        "lines": Table(LINES, shown.priced.lines, setting=setting),
        "differences": Table(DIFFERENCES, asked.differences if asked is not None else ()),
        "chances": [
            chance_words(chance, shown.estimate.confidence)
            for chance in (shown.priced.chance_below_target_pct, shown.priced.chance_of_loss_pct)
        ],
        "notes": [*shown.priced.notes, *shown.estimate.notes],
        "unsure": {*shown.invented, *shown.guessed},
    }  # fmt: skip


def _changes(typed: dict[str, str], document: QuoteDocument) -> dict[str, str]:
    """The typed what-if: sets and margin if changed, and words such as rate.welding=58."""
    changes = {}
    for pair in filter(None, (text.strip() for text in typed["what_if"].split(","))):
        word, equals, value = pair.partition("=")
        if not equals or not value.strip():
            raise InputError(f"{pair!r} is not of the form word=value, such as rate.welding=58.")
        changes[word.strip()] = value.strip()
    if typed["sets"] and typed["sets"] != str(document.priced.sets):
        changes["sets"] = typed["sets"]
    margin = document.policy.margin_pct
    if typed["margin"] and (margin is None or typed["margin"] != f"{margin:f}"):
        changes["margin"] = typed["margin"]
    return changes


def _drawn(session: Any, loaded: LoadedJob) -> list[tuple[Any, Any]]:
    """Each part with its drawing; without one if it can no longer be made."""
    shop, spec = bending_shop(session, loaded.job.number), loaded.spec
    made = made_before(desk())
    found = []
    for part in spec.parts:
        answer = made.answer(part, spec.units, shop, spec.is_galvanised)
        found.append(
            (part, "" if isinstance(answer, Exception) else drawings(part, answer, spec.units, spec)[0])
        )
    return found


@rooms.post("/<job>/revision")
def revise(job: str) -> Response:
    """Make the quote, or its next revision, from what was typed."""
    held = desk()
    typed: dict[str, Any] = {name: request.form.get(name, "").strip() or None for name in REVISION_FIELDS}
    # Priced while reading, stored while writing: planning takes seconds, and others must not wait for it.
    with held.database.reading() as session:
        _refuse_if_changed(session, job)
        wishes = QuoteOptions(**typed).wishes(shop_notation(session))
        draft = draft_quote(session, job, held.now().date(), wishes)
    with held.writing() as session:
        document = store_quote(session, draft, at=held.now())
    flash(f"{document.number} revision {document.revision} is on file.")
    return redirect(url_for("quote.show", job=job), 303)


def _refuse_if_changed(session: Any, job: str) -> None:
    rows = list_quotes(session, desk().now().date(), job_number=job)
    if request.form.get("seen", ""):
        refuse_if_newer(rows[-1].revision if rows else None)


def refuse_if_newer(newest: int | None) -> None:
    """Refuse a form that was loaded before somebody else made a newer revision.

    `newest` is the newest revision on file, None if there is none.

    Raises:
        InputError: the form was made from another revision.
    """
    seen = request.form.get("seen", "")
    if seen != str(newest or ""):
        raise InputError(
            f"Revision {newest} was made meanwhile; this page shows revision {seen or 'none'}.",
            hint="Load the page again, look at it, and answer then.",
        )


@rooms.post("/<job>/answer")
def answer(job: str) -> Response:
    """Record that the customer accepted, or declined and why."""
    held = desk()
    at = held.now()
    with held.writing() as session:
        _refuse_if_changed(session, job)
        reason = request.form.get("reason", "")
        row = answer_quote(session, job, request.form.get("answer", ""), at.date(), reason=reason, at=at)
        notes = told_beside(session, [row])
    flash(f"{row.number} revision {row.revision} is {row.state}.")
    for note in notes:
        flash(note)
    return redirect(url_for("quote.show", job=job), 303)


@rooms.post("/<job>/state")
def state(job: str) -> Response:
    """Move the job on: won, started, finished, closed with its figures, or dropped."""
    held = desk()
    at: datetime = held.now()
    to = request.form.get("state", "")
    if to == "closed":
        return redirect(url_for("quote.close", job=job), 303)
    with held.writing() as session:
        moved = set_state(session, job, to, at=at, reason=request.form.get("reason", "").strip())
        short = short_of_good(session, moved) if moved.state == "finished" else ()
        coming, bars = open_orders_words(session, moved), still_promised(session, moved)
    flash(f"{job} is {to}.")
    for words in filter(None, (coming, bars)):
        flash(words)
    if short:
        flash(f"Good pieces are short. {'; '.join(short)}.")
    return redirect(url_for("quote.show", job=job), 303)


@rooms.route("/<job>/close", methods=["GET", "POST"])
def close(job: str) -> str | Response:
    """Close the job. What nobody logged is shown first, and counts as quoted if it stays missing."""
    held = desk()
    at: datetime = held.now()
    if request.method == "GET":
        with held.database.reading() as session:
            loaded = load_job(session, job)
            return render_template(
                "quote/close.html", loaded=loaded, asked=before_closing(session, loaded.job)
            )
    with held.writing() as session:
        # The form repeats what the user saw; what was logged since must not be closed unseen.
        seen = tuple(request.form.getlist("missing"))
        if seen != missing_of(session, load_job(session, job).job).words:
            raise InputError(
                f"What is logged of {job} has changed meanwhile, or was not looked at.",
                hint="Open the page again to see what is missing now.",
            )
        close_job(session, job, on=at.date(), at=at, nothing=request.form.getlist("nothing"))
    flash(f"{job} is closed; its figures are fixed.")
    return redirect(url_for("quote.show", job=job), 303)


@rooms.post("/<job>/reopen")
def reopen(job: str) -> Response:
    """Open a closed job again for late entries; the figures of its closing are kept."""
    held = desk()
    at: datetime = held.now()
    with held.writing() as session:
        reopen_job(session, job, request.form.get("reason", ""), on=at.date(), at=at)
    flash(f"{job} is finished again; close it when everything is logged.")
    return redirect(url_for("quote.show", job=job), 303)


@rooms.get("/<job>/compare/<int:before>/<int:after>")
def compare(job: str, before: int, after: int) -> str:
    """Show the differences between two revisions."""
    with desk().database.reading() as session:
        older, newer, found = compare_revisions(session, job, before, after)
    return render_template(
        "quote/compare.html", job=job, older=older, newer=newer, table=Table(DIFFERENCES, found)
    )


@rooms.post("/<job>/deliver")
def deliver(job: str) -> Response:
    """Record a delivery of N sets, else of all that is left; its note is on the job's page."""
    held = desk()
    with held.writing() as session:
        typed = request.form.get("sets", "").strip()
        sets = read_typed("Sets", count(least=1), typed, shop_notation(session)) if typed else None
        # Refused from a stale page: sent from two tabs, the same sets would be delivered twice.
        if request.form.get("went", "0") != str(len(deliveries_of(session, find_job(session, job)))):
            raise InputError("A delivery was put on file meanwhile.", hint="Load the page again and look.")
        note = delivery_note(session, job, held.now().date(), sets)
        record_delivery(session, note)
    flash(f"Delivery {note.name} is on file.")
    return redirect(url_for("quote.show", job=job, _anchor="papers"), 303)


@rooms.get("/<job>/paper/<kind>")
def paper(job: str, kind: str) -> Response:
    """Download a paper of the newest quote, as the command line writes it."""
    held = desk()
    with held.database.reading() as session, tempfile.TemporaryDirectory() as folder:
        if kind == "file":
            loaded = load_job(session, job)
            return download_as(f"{loaded.job.number}.toml", write_job_text(loaded.spec).encode())
        return download(_write(session, job, kind, Path(folder)))


def _write(session: Any, job: str, kind: str, folder: Path) -> Path:
    """Write one paper to a folder; its writer is imported only now."""
    if kind == "traveller":
        from shopquote.outputs.papers.traveller import write_traveller
        from shopquote.services.floor.floor import floor_sheet

        return write_traveller(floor_sheet(session, job, at=desk().now()), folder)
    if kind == "delivery":
        from shopquote.outputs.papers.delivery_paper import write_delivery_note

        which = read_typed("Note", count(least=1), request.args.get("note", ""), shop_notation(session))
        return write_delivery_note(note_again(session, job, which), folder)[0]
    document = stored_quote(session, job)
    if kind == "estimate":
        from shopquote.outputs.books.estimate_book import write_estimate_book

        return write_estimate_book(document, folder)
    return write_for_customer(document, kind, folder)


def write_for_customer(document: QuoteDocument, kind: str, folder: Path) -> Path:
    """Write a paper that the customer gets to a folder; `kind` is pdf, letter or book.

    Raises:
        NotFoundError: `kind` is another word.
    """
    if kind == "letter":
        from shopquote.outputs.papers.letter import write_quote_letter

        return write_quote_letter(document, folder)
    if kind == "pdf":
        from shopquote.outputs.papers.quote_paper import write_quote_paper

        return write_quote_paper(document, folder)
    if kind == "book":
        from shopquote.outputs.books.quote_book import write_quote_book

        return write_quote_book(document, folder)
    raise NotFoundError(
        f"There is no paper {kind[:20]!r}.", hint="pdf, letter, book, estimate, traveller, delivery or file."
    )
