"""The job workbook.

A job as a spreadsheet, with a tab for each table and a row for each part, weld and so on.

What `write_job_book` of `job_book_sheets` writes, `read_job_book` reads back without loss. Cells are turned
into the tables of a job file and checked by `job_reader`, so that both forms obey the same rules. Text in a
cell stays text. A formula is refused: its stored value may be out of date.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.errors import Fault, InputError, nearest_word
from shopquote.reading.job_book_sheets import FORM, NOTES_TAB, columns_of
from shopquote.reading.job_fields import HOLE, JOB, PART, TABLES, Field, FieldTable
from shopquote.reading.job_file import check_file, read_job_file
from shopquote.reading.job_reader import FORMAT, read_job_tables
from shopquote.reading.kinds import Notation
from shopquote.reading.kinds.words import name_key
from shopquote.reading.rows import PlacedRow, short
from shopquote.reading.workbooks import open_book, rows_of, shown_value

# Filled rows of one sheet; no job has so many parts.
MOST_SHEET_ROWS = 20_000
MOST_SHEET_COLUMNS = 100  # the form has far fewer; a value further right is refused
LAST_SHEET_ROW = 1_048_576  # of a sheet in any spreadsheet program; formatted sheets may be that long

# Workbooks write a character that XML cannot hold as _x000D_: ECMA-376, ST_Xstring, as libraries quote it.
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_", re.ASCII)


def read_job(path: Path, *, grades: Iterable[str] | None = None, notation: Notation | None = None) -> JobSpec:
    """Read a job file or a job workbook, by the ending of its name; see `read_job_tables`.

    Raises:
        InputError: it cannot be read or has mistakes.
    """
    if path.suffix.lower() in (".xlsx", ".xlsm", ".xls", ".ods"):
        return read_job_book(path, grades=grades, notation=notation)
    return read_job_file(path, grades=grades, notation=notation)


def read_job_book(
    path: Path, *, grades: Iterable[str] | None = None, notation: Notation | None = None
) -> JobSpec:
    """Read and check a job workbook (.xlsx); tabs and columns may stand in any order.

    `grades` and `notation` as for `read_job_tables`.

    Raises:
        InputError: it is not a workbook, or has mistakes (`.faults`: tab, row, heading).
    """
    check_file(path)
    if path.suffix.lower() != ".xlsx":
        raise InputError(
            f"{path}: only .xlsx workbooks are read.", hint="Save it as an Excel workbook, .xlsx."
        )
    sheets = _read_sheets(path)
    faults: list[Fault] = []
    document = _document(sheets, str(path), faults)
    return read_job_tables(document, str(path), grades=grades, notation=notation, told=faults)


@dataclass(frozen=True)
class _Formula:
    text: str


_Cells = tuple[object, ...]


def _read_sheets(path: Path) -> dict[str, list[tuple[int, _Cells]]]:
    """The rows that are not empty, each with its row number, by tab."""
    with open_book(path, formulas=True) as book:
        return {sheet.title: list(_rows(sheet, path)) for sheet in book.worksheets}


def _rows(sheet: Any, path: Path) -> Iterator[tuple[int, _Cells]]:
    found = rows_of(sheet, path, most_rows=LAST_SHEET_ROW, most_columns=MOST_SHEET_COLUMNS, value_of=_value)
    for count, (place, values) in enumerate(found, start=1):
        if count > MOST_SHEET_ROWS:
            raise InputError(f"{path}: {sheet.title}: more than {MOST_SHEET_ROWS:,} rows.")
        if any(value is not None for value in values):
            yield place, values


def _value(cell: Any) -> object:
    """A cell's value as a job file would have it: text, int, Decimal, bool or date.

    A formula as `_Formula`.
    """
    if cell.data_type == "f":
        return _Formula(str(getattr(cell.value, "text", cell.value)))
    value = shown_value(cell)
    if value is None:
        return None
    if isinstance(value, float):
        return Decimal(str(value))
    if isinstance(value, bool | int | date):
        return value
    text = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), str(value))
    return text.replace("\r\n", "\n").replace("\r", "\n").strip() or None


def _document(
    sheets: Mapping[str, list[tuple[int, _Cells]]], file: str, faults: list[Fault]
) -> dict[str, object]:
    """The tables of a job file made from the tabs of a workbook; mistakes are added to `faults`."""
    names = {table.tab.casefold(): table for table in (JOB, *TABLES)}
    document: dict[str, object] = {"format": FORMAT}
    tables: dict[str, list[PlacedRow]] = {}
    for title, rows in sheets.items():
        table = names.get(title.strip().casefold())
        if table is JOB:
            head = _job_row(rows, file, faults)
            document["format"] = head.pop("format", FORMAT)
            document["job"] = head
        elif table is not None:
            tables[table.name] = _table(table, rows, file, faults)
        elif rows and title.casefold() != NOTES_TAB.casefold():
            known = [table.tab for table in (JOB, *TABLES)]
            near = nearest_word(title, known)
            faults.append(
                Fault(file, title, "", "", f"the tab {title!r}", f"one of {', '.join(known)}", near)
            )
    if "job" not in document:
        known_tabs = ", ".join(sheets) or "no tabs"
        near = nearest_word(JOB.tab, sheets)
        faults.append(Fault(file, "", "", "", f"the tabs {known_tabs}", f"a tab {JOB.tab}", near))
        document["job"] = PlacedRow({}, JOB.tab, "", JOB.told_as, JOB.by_key)
    _put_holes(tables.get(PART.name, []), tables.pop(HOLE.name, []), file, faults)
    for table in TABLES:
        found = tables.get(table.name, [])
        if found and table.most == 1:
            document[table.name] = found[0]
            for row in found[1:]:
                what = f"another {table.name}"
                faults.append(Fault(file, row.table, row.place, "", what, "one row, or none"))
        elif found:
            document[table.name] = found
    return document


def _job_row(rows: Sequence[tuple[int, _Cells]], file: str, faults: list[Fault]) -> PlacedRow:
    """The Job tab as one row: headings are in the first column, values in the second."""
    by_heading = {column.heading.casefold(): column for column in (FORM, *JOB.columns)}
    values: dict[str, object] = {}
    told: set[str] = set()
    for place, cells in rows:
        # People write "Title:" in forms of their own.
        word = str(cells[0]).rstrip(":").strip() if cells[0] is not None else ""
        column = by_heading.get(word.casefold())
        if column is None or column.key in values:
            known = [column.heading for column in (FORM, *JOB.columns)]
            expected = f"one of {', '.join(known)}, each once"
            near = nearest_word(word, known)
            faults.append(Fault(file, JOB.tab, f"row {place}", "", short(word), expected, near))
            continue
        value = cells[1] if len(cells) > 1 else None
        values[column.key] = _typed(column, [value], file, (JOB.tab, ""), faults, told)
        for position, beside in enumerate(cells[2:], 2):
            # The third column holds our explanation, or a person's remark.
            if beside is not None and not (position == 2 and isinstance(beside, str)):
                expected = "one cell beside its word; several numbers in one cell, with commas"
                faults.append(Fault(file, JOB.tab, f"row {place}", column.heading, short(beside), expected))
    filled = {key: value for key, value in values.items() if value is not None}
    return PlacedRow(filled, JOB.tab, "", JOB.told_as, told)


def _table(
    table: FieldTable, rows: Sequence[tuple[int, _Cells]], file: str, faults: list[Fault]
) -> list[PlacedRow]:
    """The rows of a tab below its headings, as values by key."""
    if not rows:
        return []
    first, headings = rows[0]
    places = _places(table, headings, f"row {first}", file, faults)
    known = ", ".join(_headings(table))
    found = []
    for place, cells in rows[1:]:
        told: set[str] = set()
        values: dict[str, object] = {}
        for column in columns_of(table):
            held = [_cell(cells, places.get(heading)) for heading in column.headings]
            values[column.key] = _typed(column, held, file, (table.tab, f"row {place}"), faults, told)
        for position, value in enumerate(cells):
            if value is not None and (position >= len(headings) or headings[position] is None):
                expected = f"nothing under no heading; the headings are {known}"
                faults.append(Fault(file, table.tab, f"row {place}", "", short(value), expected))
        filled = {key: value for key, value in values.items() if value is not None}
        if filled or told:
            found.append(PlacedRow(filled, table.tab, f"row {place}", table.told_as, told))
    return found


def _cell(cells: _Cells, position: int | None) -> object:
    return None if position is None or position >= len(cells) else cells[position]


def _headings(table: FieldTable) -> list[str]:
    return [heading for column in columns_of(table) for heading in column.headings]


def _places(
    table: FieldTable, headings: _Cells, place: str, file: str, faults: list[Fault]
) -> dict[str, int]:
    """Column positions by heading; an unknown or repeated heading is a fault."""
    known = _headings(table)
    by_heading = {heading.casefold(): heading for heading in known}
    places: dict[str, int] = {}
    for position, found in enumerate(headings):
        if found is None:
            continue
        # A heading may be wrapped over several lines of its cell.
        heading = by_heading.get(" ".join(str(found).split()).casefold())
        if heading is None or heading in places:
            expected = f"one of the headings {', '.join(known)}, each once"
            near = nearest_word(str(found), known)
            faults.append(Fault(file, table.tab, place, "", short(found), expected, near))
        else:
            places[heading] = position
    return places


def _typed(
    column: Field,
    cells: Sequence[object],
    file: str,
    place: tuple[str, str],
    faults: list[Fault],
    told: set[str],
) -> object:
    """The value of a field's cells as a job file has it.

    A formula is a fault, and its key is added to `told`.
    """
    for heading, cell in zip(column.headings, cells, strict=True):
        if isinstance(cell, _Formula):
            found = f"the formula {cell.text[:60]!r}"
            faults.append(Fault(file, *place, heading, found, "a typed text or number"))
            told.add(column.key)
    if column.key in told or all(cell is None for cell in cells):
        return None
    return column.kind.typed(cells)


def _put_holes(
    parts: Sequence[PlacedRow], holes: Sequence[PlacedRow], file: str, faults: list[Fault]
) -> None:
    """Move each row of holes into the part whose mark it names, as job files have them."""
    # Reversed, so that the first of several parts with a mark gets the holes; a repeated mark is a fault.
    by_mark = {name_key(str(part["mark"])): part for part in reversed(parts) if "mark" in part}
    for hole in holes:
        mark = hole.pop("part", None)
        part = by_mark.get(name_key(str(mark)))
        if part is not None:
            listed = part.setdefault("holes", [])
            assert isinstance(listed, list)
            listed.append(hole)
        elif "part" not in hole.told:
            marks = [str(part["mark"]) for part in parts if "mark" in part]
            found = "nothing" if mark is None else repr(mark)
            near = nearest_word(str(mark), marks) if mark is not None else None
            faults.append(
                Fault(file, hole.table, hole.place, "Mark", found, f"a mark of the tab {PART.tab}", near)
            )
