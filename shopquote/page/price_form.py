"""The form of a new price, made from the list of job fields, so that it has every key of a job file.

A form field is named table-row-key; of a field with two cells, table-row-key-0 and -1. A hole names the row
of its part in `of`. `tables_of` turns typed rows into the tables of a job file, `fields_of` a stored job into
form fields.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from shopquote.calc.job import JobSpec
from shopquote.errors import Fault
from shopquote.reading.job_fields import FINISH, HOLE, JOB, PART, TABLES, Field, FieldTable
from shopquote.reading.job_kinds import Choice
from shopquote.reading.job_numbers import amount_text
from shopquote.reading.job_reader import FORMAT
from shopquote.reading.rows import PlacedRow

OF = "of"
NOBODY, NOTHING = "not named yet", "not named yet"  # while a customer waits, the price comes before the names
# Fields shown at once; every other field of the table is behind "more".
FIRST = {
    "job": ("title", "customer", "sets", "breaks", "due"),
    "part": ("mark", "name", "per_set", "bar", "grade", "shape", "length"),
    "holes": ("count", "dia", "thread", "leg", "at"),
    "weld": ("count", "kind", "leg", "length", "process"),
    "bought": ("name", "per_set", "unit_cost"),
    "outside": ("name", "basis", "rate", "minimum"),
    "labour": ("operation", "minutes", "per"),
    "finish": ("kind", "coats"),
    "step": ("text", "operation", "marks"),
    "template": ("name", "minutes", "cost", "replaces"),
    "joint": ("count", "kind", "dia", "grip"),
    "site": ("hours", "people", "distance", "journeys", "cost"),
}

# Placeholder texts: in millimetres and, where that differs, in inches.
EXAMPLES = {
    "job-breaks": ("1, 4, 12",), "job-drawing": ("GA-12 rev B",),
    "part-bar": ("flat 40 x 6", "flat 1-1/2 x 1/4"),
    "part-shape": ("leg 250; bend 90 r 36; leg 300", "leg 10; bend 90 r 1-1/2; leg 12"),
    "part-length": ("640", "25-1/4"), "part-ends": ("mitre 45", "mitre 45"), "part-hold": ("15", "5/8"),
    "holes-dia": ("8.5", "11/32"), "holes-thread": ("M8", "3/8-16"), "holes-at": ("30; 80", "1-1/4; 3"),
    "holes-across": ("-15; 15", "-1/2; 1/2"), "holes-slot": ("30", "1-1/4"), "holes-deep": ("20", "3/4"),
    "weld-leg": ("4", "3/16"), "weld-length": ("40", "1-1/2"), "weld-joins": ("A; B",),
    "weld-at": ("A start; B leg 2",), "step-marks": ("A; B",), "joint-joins": ("A; B",),
    "joint-dia": ("8", "5/16"), "joint-grip": ("12", "1/2"),
}  # fmt: skip

# Fields that a new row fills with 1: an untouched 1 there does not make a row count as typed.
ONES = {PART.name: "per_set", HOLE.name: "count", "weld": "count"}

Pairs = Sequence[tuple[str, str]]


@dataclass
class TypedRow:
    """A row as typed: its number in the form, and its cells by key."""

    number: int
    cells: dict[str, list[str]] = field(default_factory=dict)
    of: int = 0

    def value(self, key: str, cell: int = 0) -> str:
        """The text in a field, empty if it was not sent."""
        held = self.cells.get(key, [])
        return held[cell] if cell < len(held) else ""


def examples(unit: str) -> dict[str, str]:
    """Placeholder texts by table-key, in the shop's own unit.

    >>> examples("in")["weld-leg"], examples("mm")["weld-joins"]
    ('3/16', 'A; B')
    """
    return {place: words[-1] if unit == "in" else words[0] for place, words in EXAMPLES.items()}


def rows_of(pairs: Pairs) -> dict[str, list[TypedRow]]:
    """The rows of each table as typed, in the order of the form; unknown names are ignored."""
    found: dict[str, dict[int, TypedRow]] = {table.name: {} for table in (JOB, *TABLES)}
    known = {table.name: table for table in (JOB, *TABLES)}
    for name, value in pairs:
        words = name.split("-")
        if len(words) not in (3, 4) or words[0] not in known or not words[1].isdecimal():
            continue
        number, key = int(words[1][:6]), words[2]
        row = found[words[0]].setdefault(number, TypedRow(number))
        if key == OF and value.isdecimal():
            row.of = int(value[:6])
        elif key in known[words[0]].by_key:
            cell = int(words[3]) if len(words) == 4 and words[3] in ("0", "1") else 0
            held = row.cells.setdefault(key, [])
            held += [""] * (cell + 1 - len(held))
            held[cell] = value
    return {name: list(rows.values()) for name, rows in found.items()}


def is_blank(table: FieldTable, row: TypedRow) -> bool:
    """Whether nothing was typed in a row; preselected options do not count."""
    if table is FINISH:
        return row.value("kind") in ("", "none")
    return not any(
        text.strip()
        for key, texts in row.cells.items()
        for text in texts
        if not isinstance(table.by_key[key].kind, Choice) and not (table is PART and key in ("mark", "grade"))
        and not (ONES.get(table.name) == key and text.strip() == "1")
    )  # fmt: skip


def tables_of(
    rows: Mapping[str, Sequence[TypedRow]], *, named: bool = True
) -> tuple[dict[str, Any], list[int]]:
    """The tables of a job file, and the form row numbers of its parts.

    With `named` False, title and customer are filled in if missing: a price needs neither.
    """
    job = rows[JOB.name][0] if rows[JOB.name] else TypedRow(0)
    values = _values(JOB, job)
    values.setdefault("units", "mm")
    if not named:
        values.setdefault("title", NOTHING)
        values.setdefault("customer", NOBODY)
    document: dict[str, Any] = {"format": FORMAT, JOB.name: _placed(JOB, job, values)}
    numbers: list[int] = []
    for table in TABLES:
        if table.inside is not None:
            continue
        placed = []
        for row in rows[table.name]:
            holes = _holes_of(rows, row) if table is PART else []
            if is_blank(table, row) and not holes:
                continue
            values = _values(table, row)
            if table is PART:
                numbers.append(row.number)
            if holes:
                values[HOLE.name] = holes
            placed.append(_placed(table, row, values))
        if placed:
            document[table.name] = placed if table.most > 1 else placed[0]
    return document, numbers


def _holes_of(rows: Mapping[str, Sequence[TypedRow]], part: TypedRow) -> list[PlacedRow]:
    typed = [hole for hole in rows[HOLE.name] if hole.of == part.number and not is_blank(HOLE, hole)]
    return [_placed(HOLE, hole, _values(HOLE, hole)) for hole in typed]


def _values(table: FieldTable, row: TypedRow) -> dict[str, Any]:
    values = {}
    for key, texts in row.cells.items():
        column = table.by_key[key]
        cells = [text.replace("\r\n", "\n").strip() or None for text in texts]
        cells += [None] * (len(column.headings) - len(cells))
        if any(cell is not None for cell in cells):
            values[key] = column.kind.typed(cells)
    return values


def _placed(table: FieldTable, row: TypedRow, values: Mapping[str, Any]) -> PlacedRow:
    return PlacedRow(values, table.name, str(row.number), {key: key for key in table.keys})


def faults_by_field(faults: Iterable[Fault]) -> tuple[dict[str, str], list[str]]:
    """Messages by the name of their field, and the messages that belong to no field."""
    known = {table.name: table for table in (JOB, *TABLES)}
    by_field: dict[str, str] = {}
    others = []
    for fault in faults:
        text = fault.message or f"found {fault.found}, expected {fault.expected}"
        text += f"; did you mean {fault.nearest}?" if fault.nearest else ""
        table = known.get(fault.table)
        if table is None or fault.key not in table.by_key:
            others.append(text if table is None else f"{table.tab}: {text}")
            continue
        name = name_of(table, int(fault.mark or 0), table.by_key[fault.key])
        by_field[name] = f"{by_field[name]}; {text}" if name in by_field else text
    return by_field, others


def name_of(table: FieldTable, number: int, column: Field, cell: int = 0) -> str:
    """The name of a field of the form."""
    name = f"{table.name}-{number}-{column.key}"
    return f"{name}-{cell}" if column.also else name


def fields_of(spec: JobSpec) -> list[tuple[str, str]]:
    """The form fields of a stored job, each as it was typed."""
    pairs = list(_row_fields(JOB, 0, spec))
    holes = 0
    for table in TABLES:
        if table.inside is not None:
            continue
        for number, row in enumerate(table.rows_of(spec)):
            pairs += _row_fields(table, number, row)
            for hole in row.holes if table is PART else ():
                pairs += [(f"{HOLE.name}-{holes}-{OF}", str(number)), *_row_fields(HOLE, holes, hole)]
                holes += 1
    return pairs


def _row_fields(table: FieldTable, number: int, row: Any) -> Iterable[tuple[str, str]]:
    for column, value in table.written(row):
        for cell, held in enumerate(column.kind.cells(value)):
            if held is not None and held != "":
                yield name_of(table, number, column, cell), _text(held, column.kind.look)


def _text(value: object, look: str) -> str:
    if isinstance(value, Decimal):
        return amount_text(value) if look == "amount" else f"{value:f}"
    return value.isoformat() if isinstance(value, date) else str(value)
