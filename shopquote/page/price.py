"""A new price: a form worked out while typing, kept as a draft, then made into a job and its quote."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, jsonify, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.job import JobSpec
from shopquote.calc.lettering import counting_letter
from shopquote.errors import InputError, counted
from shopquote.page.choices import column_words, grades_to_choose
from shopquote.page.desk import desk
from shopquote.page.hints import doors_in_words
from shopquote.page.papers import download, download_as, ending_of, needed_file, put_aside
from shopquote.page.parts import made_before, seen
from shopquote.page.price_form import (
    FIRST,
    OF,
    ONES,
    TypedRow,
    examples,
    faults_by_field,
    fields_of,
    name_of,
    rows_of,
    tables_of,
)
from shopquote.reading.job_book import read_job
from shopquote.reading.job_book_sheets import write_job_book
from shopquote.reading.job_fields import FINISH, HOLE, JOB, PART, SITE, TABLES, FieldTable
from shopquote.reading.job_file import write_job_text
from shopquote.services.jobs.drafts import drop_draft, find_draft, keep_draft, list_drafts, new_draft
from shopquote.services.jobs.drawn import shape_of_drawing
from shopquote.services.jobs.jobs import add_job, load_job, revise_job_to
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quotes_on_file import store_quote
from shopquote.services.quotes.typed import TypedPrice, price_typed
from shopquote.services.shop.lists import read_list
from shopquote.services.shop.shop_on_file import bending_shop, shop_notation, shop_unit, the_shop

rooms = Blueprint("price", __name__, url_prefix="/price")
READ_ENDINGS = (".toml", ".xlsx", ".dxf")
# The number of the template row, which scripts copy and renumber; no typed row can have it.
TEMPLATE_ROW = 999
# Enough to find yesterday's work again; the list is not for searching.
MOST_UNFINISHED = 3


@dataclass
class FormPage:
    """Everything that the form shows: rows as typed, faults by field, results."""

    rows: dict[str, list[TypedRow]]
    word: str = ""
    version: int = 1
    revises: str = ""
    faults: dict[str, str] = field(default_factory=dict)
    others: list[str] = field(default_factory=list)
    typed: TypedPrice | None = None
    numbers: list[int] = field(default_factory=list)


@rooms.get("/new")
def new() -> str:
    """Show an empty form; it becomes a draft with the first thing typed."""
    rows = _with_blanks(rows_of(()))
    with desk().database.reading() as session:
        rows[JOB.name][0].cells["units"] = [the_shop(session).units]
    return _form(FormPage(rows))


@rooms.get("/draft/<word>")
def draft(word: str) -> str:
    """Show a draft as it was typed."""
    with desk().database.reading() as session:
        kept = find_draft(session, word)
        pairs = [(str(name), str(value)) for name, value in kept.fields]
        page = FormPage(_with_blanks(rows_of(pairs)), word, kept.version)
        page.revises = kept.revises.number if kept.revises is not None else ""
    return _form(_worked(page))


@rooms.post("/from/<job>")
def copy(job: str) -> Response:
    """Copy a job on file to a draft; with `do=revise`, to a draft of its next revision."""
    held = desk()
    revises = job if request.form.get("do") == "revise" else ""
    with held.writing() as session:
        spec = load_job(session, job).spec
        kept = new_draft(session, fields_of(spec), title=spec.title, at=held.now(), revises=revises)
    return redirect(url_for("price.draft", word=kept.word), 303)


@rooms.post("/file")
def take_file() -> Response:
    """Read an uploaded file: a job file or workbook becomes a draft, a DXF drawing the shape of a part."""
    held = desk()
    given = needed_file("file", "a job file, a workbook or a DXF drawing", READ_ENDINGS)
    with put_aside(given) as path, held.writing() as session:
        if ending_of(given) == ".dxf":
            pairs, title = (
                _fields_of_drawing(path, request.form.get("bar", "")),
                Path(given.filename or "").stem,
            )
        else:
            grades = bending_shop(session).grades
            spec = read_job(path, grades=grades, notation=shop_notation(session))
            pairs, title = fields_of(spec), spec.title
        kept = new_draft(session, pairs, title=title, at=held.now())
    return redirect(url_for("price.draft", word=kept.word), 303)


def _fields_of_drawing(path: Path, bar: str) -> list[tuple[str, str]]:
    bar = bar.strip() or "round 10"
    shape = shape_of_drawing(path, bar)
    return [("part-0-mark", "A"), ("part-0-per_set", "1"), ("part-0-bar", bar), ("part-0-shape", shape)]


@rooms.post("/live")
def live() -> Response:
    """Work out what is typed: JSON with faults by field, drawings and verdicts by row, the price."""
    page = _worked(_page_of_form(), others="others" in request.args)
    assert page.typed is not None
    see = {
        str(number): render_template(
            "price/see.html", part=part, **seen(part, page.typed.units, page.typed.spec)
        )
        for number, part in zip(page.numbers, page.typed.parts, strict=False)
    }
    return jsonify(
        faults={place: doors_in_words(fault) for place, fault in page.faults.items()},
        others=[doors_in_words(fault) for fault in page.others], see=see, whole="others" in request.args,
        ticket=render_template("price/ticket.html", **_ticket(page)),
    )  # fmt: skip


@rooms.post("/keep")
def keep() -> Response | tuple[Response, int]:
    """Store the draft as typed; answers with its word and version."""
    held = desk()
    pairs, title = _pairs(), request.form.get("job-0-title", "")
    with held.writing() as session:
        word = request.form.get("word", "")
        if word:
            kept = keep_draft(
                session, word, request.form.get("version", 0, int), pairs, title=title, at=held.now()
            )
        else:
            kept = new_draft(
                session, pairs, title=title, at=held.now(), revises=request.form.get("revises", "")
            )
    return jsonify(word=kept.word, version=kept.version, at=f"{held.now():%H:%M}")


@rooms.post("")
def send() -> str | Response | tuple[str, int]:
    """Handle a button press: work out, add a row, keep the draft, make the quote, download a file."""
    do = request.form.get("do", "price")
    page = _page_of_form()
    # Every button sends the whole form, so nothing is lost without scripts.
    if do.startswith("add-"):
        _add_row(page.rows, do)
        return _form(_worked(page))
    if do in ("file", "book"):
        return _as_file(_whole(page), do)
    if do == "quote":
        return _make(page)
    if do == "drop":
        with desk().writing() as session:
            drop_draft(session, page.word)
        return redirect(url_for("office.start"), 303)
    return _form(_worked(page))


def _make(page: FormPage) -> Response | tuple[str, int]:
    """Store the job, or its next revision, and its quote, all or nothing; the draft is deleted with it."""
    held = desk()
    page = _worked(page, named=True)
    assert page.typed is not None
    # Status 422: the form comes back as typed, with mistakes at their fields.
    if page.typed.spec is None or page.typed.document is None:
        return _form(page), 422
    at = held.now()
    with held.writing() as session:
        if page.revises:
            number = revise_job_to(session, page.revises, page.typed.spec, at=at).job.number
        else:
            number = add_job(session, page.typed.spec, at=at).number
        # The quote is drafted from the stored job, so the job must be flushed first.
        session.flush()
        store_quote(session, draft_quote(session, number, at.date()), at=at)
        if page.word:
            drop_draft(session, page.word)
    flash(f"{number} is quoted.")
    return redirect(url_for("quote.show", job=number), 303)


def _whole(page: FormPage) -> JobSpec:
    page = _worked(page, named=True)
    assert page.typed is not None
    if page.typed.spec is None:
        told = [*page.others, *page.faults.values()]
        raise InputError(f"It has {counted(len(told), 'mistake')} and is no file yet: {told[0]}")
    return page.typed.spec


def _as_file(spec: JobSpec, do: str) -> Response:
    """Send what is typed as a job file or workbook to save."""
    if do == "file":
        return download_as("job.toml", write_job_text(spec).encode())
    with tempfile.TemporaryDirectory() as folder:
        return download(write_job_book(spec, Path(folder, "job.xlsx")))


def _pairs() -> list[tuple[str, str]]:
    return [(name, value) for name, value in request.form.items(multi=True) if name.count("-") >= 2]


def _page_of_form() -> FormPage:
    return FormPage(
        _with_blanks(rows_of(_pairs())),
        request.form.get("word", ""),
        request.form.get("version", 1, int),
        request.form.get("revises", ""),
    )


def _worked(page: FormPage, *, named: bool = False, others: bool = True) -> FormPage:
    """The form page with the results of its rows."""
    held = desk()
    document, page.numbers = tables_of(page.rows, named=named)
    with held.database.reading() as session:
        page.typed = price_typed(
            session, document, made_before(held), today=held.now().date(), others=others, revises=page.revises
        )
    page.faults, page.others = faults_by_field(page.typed.faults)
    for number, part in zip(page.numbers, page.typed.parts, strict=False):
        if part.why_not:
            place = name_of(
                PART, number, PART.by_key["length" if part.part and part.part.length else "shape"]
            )
            page.faults.setdefault(place, part.why_not)
    # An empty form shows no faults before the first thing is typed.
    if not page.numbers and not document.keys() - {"format", JOB.name}:
        page.others = []
    return page


def _ticket(page: FormPage) -> dict[str, Any]:
    typed = page.typed
    document = typed.document if typed is not None else None
    minutes = sum(document.estimate.by_operation.values()) if document is not None else 0
    bad = [
        row.value("mark") or str(row.number + 1)
        for row in page.rows[PART.name]
        if any(name.startswith(f"{PART.name}-{row.number}-") for name in page.faults)
    ]
    return {
        "document": document, "minutes": minutes, "bad": bad, "faults": page.faults, "others": page.others,
        "why_not": typed.why_not if typed is not None else "", "empty": not page.numbers,
        "asked": page.rows[JOB.name][0].value("breaks"), "like": typed.like if typed is not None else (),
    }  # fmt: skip


def _with_blanks(rows: dict[str, list[TypedRow]]) -> dict[str, list[TypedRow]]:
    """Add an empty row to each always-shown table that has none."""
    usually = {"job": {"sets": ["1"]}, "part": {"mark": ["A"], "per_set": ["1"]}}
    for table in (JOB, PART, FINISH, SITE):
        if not rows[table.name]:
            rows[table.name] = [TypedRow(0, usually.get(table.name, {}))]
    return rows


def _add_row(rows: dict[str, list[TypedRow]], do: str) -> None:
    """Add a row to a table, or to the holes of a part: do=add-weld, do=add-holes-2."""
    words = do.split("-")
    held = rows.get(words[1])
    if held is None:
        return
    row = TypedRow(max((one.number for one in held), default=-1) + 1)
    if words[1] == HOLE.name and len(words) == 3 and words[2].isdecimal():
        row.of = int(words[2][:6])
    if words[1] == PART.name:
        row.cells = {"mark": [next_mark([one.value("mark") for one in held])], "per_set": ["1"]}
        row.cells["grade"] = [held[-1].value("grade")] if held else [""]
    held.append(row)


def next_mark(marks: list[str]) -> str:
    """A mark that no part has yet: the next free letter, then P with a number.

    >>> next_mark(["A", "B"]), next_mark([chr(65 + number) for number in range(26)])
    ('C', 'P27')
    """
    letters = map(counting_letter, range(26))
    return next((letter for letter in letters if letter not in marks), f"P{len(marks) + 1}")


def _form(page: FormPage) -> str:
    held = desk()
    with held.database.reading() as session:
        shop = bending_shop(session)
        currency, units = the_shop(session).currency, shop_unit(session)
        stock = read_list(session, "stock", on=held.now().date())
        customers = read_list(session, "customers")
        unfinished = [] if page.word or page.numbers else list_drafts(session, MOST_UNFINISHED)
    formers = sorted({former.radius for bender in shop.benders for former in bender.all_formers})
    return render_template(
        "price/form.html", page=page, tables={table.name: table for table in (JOB, *TABLES)}, first=FIRST,
        shown=_shown_columns, empty=FormPage({}), blank_row=_blank_row,
        bars=column_words(stock, "bar"), grades=grades_to_choose(stock, shop.grades, units),
        customers=column_words(customers, "name"),
        seen=seen, name_of=name_of, of=OF, currency=currency, units=units,
        examples=examples(units), unfinished=unfinished,
        formers=[round(radius.mm_float, 3) for radius in formers], ticket=_ticket(page),
    )  # fmt: skip


def _blank_row(name: str) -> TypedRow:
    """The template row that scripts copy, putting their own number in it."""
    usual = ONES.get(name)
    return TypedRow(TEMPLATE_ROW, {usual: ["1"]} if usual else {})


def _shown_columns(table: FieldTable, first: bool) -> list[Any]:
    """The fields of a table that are shown at once, in the order of `FIRST`, or the others."""
    at_once = FIRST[table.name]
    if first:
        return [table.by_key[key] for key in at_once]
    return [column for column in table.columns if column.key not in at_once]
