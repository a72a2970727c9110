"""Read the filled-in rows of a returned floor sheet, as they stand in the workbook."""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError
from shopquote.reading.forms import Form, is_same_as_above
from shopquote.reading.kinds.documents import is_document
from shopquote.reading.table_files import MOST_COLUMNS, MOST_ROWS
from shopquote.reading.workbooks import open_book, rows_of
from shopquote.services.floor.tabs import BARS_TAB, TABS, Tab

_IDENTITY = re.compile(r"Job (J-\d+), revision (\d+), sheet (\d{8}-\d{6})")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One filled-in row: cell values by column name."""

    tab: Tab
    row: int
    values: dict[str, Any]


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """Filled-in rows of a workbook, the printed sheet that they are from, and the rack codes on it."""

    job: str
    serial: str
    rows: tuple[SheetRow, ...]
    codes: tuple[str, ...] = ()


def read_sheet(path: Path) -> ReadSheet:
    """The filled-in rows of a floor sheet's tabs.

    Raises:
        InputError: not there, too large, not a workbook, or not one of our floor sheets.
    """
    identity = None
    codes: tuple[str, ...] = ()
    rows: list[SheetRow] = []
    with open_book(path) as book:
        for tab in TABS:
            if tab.name not in book.sheetnames:
                continue
            cells = list(_cells(book[tab.name], path))
            identity = identity or _identity(cells)
            if tab is BARS_TAB:
                codes = _codes(cells)
            rows += _rows(tab, cells, path.name)
    if identity is None:
        raise InputError(
            f"{path.name} is not a floor sheet of this program.",
            hint="Write one with: shopquote floor JOB, fill in its shaded cells and save it.",
        )
    return ReadSheet(identity[0], identity[1], tuple(rows), codes)


def _cells(page: Any, path: Path) -> Iterator[tuple[int, list[Any]]]:
    for number, row in rows_of(page, path, most_rows=MOST_ROWS, most_columns=MOST_COLUMNS):
        yield number, [value.strip() if isinstance(value, str) else value for value in row]


def _identity(cells: Sequence[tuple[int, list[Any]]]) -> tuple[str, str] | None:
    # The identity is printed above the headings; lower down it could only be a person's own note.
    for _, row in cells[:5]:
        for value in row:
            match = _IDENTITY.search(value) if isinstance(value, str) else None
            if match is not None:
                return match[1], match[3]
    return None


def _codes(cells: Sequence[tuple[int, list[Any]]]) -> tuple[str, ...]:
    """Codes of rack pieces on the sheet."""
    words = (value for _, row in cells for value in row if isinstance(value, str))
    return tuple(word for word in words if is_document(word, "R"))


def _rows(tab: Tab, cells: Sequence[tuple[int, list[Any]]], name: str) -> list[SheetRow]:
    """Rows below the headings that were filled in.

    A cell that repeats the one above ("), and an empty day or person, take the value of the last filled-in
    row.
    """
    start, places = _headings(tab, cells, name)
    rows: list[SheetRow] = []
    for number, row in cells[start + 1 :]:
        values = dict.fromkeys(tab.columns)
        values |= {column: row[place] if place < len(row) else None for column, place in places.items()}
        # Only these columns tell that a row was filled in: the others are printed on the sheet.
        if any(values[column] not in (None, "") for column in tab.telling):
            if rows:
                above = rows[-1].values
                values = {
                    name: above[name] if _is_above(name, cell) else cell for name, cell in values.items()
                }
            rows.append(SheetRow(tab, number, values))
    return rows


def _is_above(column: str, cell: Any) -> bool:
    return is_same_as_above(cell) or (column in ("Day", "Person") and cell in (None, ""))


def _headings(tab: Tab, cells: Sequence[tuple[int, list[Any]]], name: str) -> tuple[int, dict[str, int]]:
    """Index of the row of headings, and each column's index in it.

    Raises:
        InputError: the row or a needed column is gone.
    """
    start = next((index for index, (_, row) in enumerate(cells) if _begins(tab.form, row[:1])), None)
    if start is None:
        raise InputError(
            f"{name}: tab {tab.name}: the row of headings that begins with {tab.columns[0]!r} is gone."
        )
    heads = cells[start][1]
    found = tab.form.match(head for head in heads if isinstance(head, str))
    missing = [column.name for column in tab.form.columns if column.needed and column.name not in found]
    if missing:
        raise InputError(f"{name}: tab {tab.name}: the column {missing[0]!r} is gone.")
    return start, {column: heads.index(heading) for column, heading in found.items()}


def _begins(form: Form, cells: Sequence[Any]) -> bool:
    """Whether a row is the row of headings: its first cell is the first heading."""
    return any(isinstance(cell, str) and form.named(cell) is form.columns[0] for cell in cells)
