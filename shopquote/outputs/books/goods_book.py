"""Sheets to fill in by the rack: goods in for a delivery, and the count of a stocktake.

Both are read back by `services.tables_io.read_table`: the first row names the columns.
"""

from collections.abc import Mapping, Sequence, Set
from pathlib import Path
from typing import Any

from shopquote.outputs.books.book import new_book, put, put_row, set_page, set_widths
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.style import EDITABLE, HEAD, PLAIN, WRAPPED, Style

_ROW_POINTS = 18.0  # room to write by hand
_EMPTY_ROWS = 6

GOODS_COLUMNS = (
    "line", "bar", "grade", "ordered length", "open", "count", "length", "heat", "certificate",
    "charged each",
)  # fmt: skip
# Columns to fill in: for what is listed, and in the empty rows below for what is not.
_GOODS_FILL = {"count", "length", "heat", "certificate", "charged each"}
_COUNT_FILL = {"place", "found", "note"}
_COUNT_NEW = {"bar", "grade", "heat", "place", "found", "count", "cost", "note"}
_MIDDLE = {"line", "open", "count", "cost"}
_WIDTHS = {
    "line": 6, "bar": 18, "grade": 12, "ordered length": 15, "open": 7, "count": 8, "length": 14,
    "heat": 14, "certificate": 22, "charged each": 12, "code": 10, "place": 14, "found": 14, "note": 22,
    "cost": 9,
}  # fmt: skip


def write_goods_sheet(content: Mapping[str, Any], path: Path, *, paper: str = "A4") -> Path:
    """The sheet for a delivery: a row for each open line, with the columns to fill in marked.

    Raises:
        InputError: the file cannot be written.
    """
    rows = [
        [line["line"], line["bar"], line["grade"], line["length"], line["open"], "", "", "", "", ""]
        for line in content["lines"]
    ]
    title = f"Goods in {content['number']}"
    footer = f"{content['number']} {content['supplier']} · charged in {content['currency']} for one bar"
    return _write(title, GOODS_COLUMNS, rows, path, paper, footer, _GOODS_FILL, {"line", *_GOODS_FILL})


def write_count_sheet(
    columns: Sequence[str], rows: Sequence[Sequence[object]], path: Path, *, paper: str = "A4"
) -> Path:
    """The sheet of a stocktake, in the order of the places.

    Raises:
        InputError: the file cannot be written.
    """
    footer = "found: the length, 0 when it is not there, empty when not looked for; bars not listed go below"
    return _write("Rack count", columns, rows, path, paper, footer, _COUNT_FILL, _COUNT_NEW)


def _looks(columns: Sequence[str], shaded: Set[str]) -> list[Style]:
    return [
        (WRAPPED if column in ("bar", "note") else PLAIN).but(
            rule="lrb" if column in shaded else "b",
            fill=EDITABLE if column in shaded else None,
            across="center" if column in _MIDDLE else None,
            down="center",
        )
        for column in columns
    ]


def _write(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[Any]],
    path: Path,
    paper: str,
    footer: str,
    listed: Set[str],
    new: Set[str],
) -> Path:
    """A sheet whose first row names the columns; `listed` and `new` are shaded in listed and empty rows."""
    book = new_book(title)
    sheet = book.add(title)
    set_widths(sheet, [_WIDTHS.get(column, 12) for column in columns])
    for column, name in enumerate(columns, start=1):
        put(sheet, 1, column, name, HEAD.but(across="center") if name in _MIDDLE else HEAD)
    for i, row in enumerate(rows, start=2):
        put_row(sheet, i, list(row), _looks(columns, listed))
        sheet.row_dimensions[i].height = _ROW_POINTS
    for i in range(len(rows) + 2, len(rows) + 2 + _EMPTY_ROWS):
        put_row(sheet, i, [None] * len(columns), _looks(columns, new))
        sheet.row_dimensions[i].height = _ROW_POINTS
    sheet.freeze_panes = "A2"
    set_page(sheet, paper=paper, landscape=True, head_rows="1:1", footer=footer)
    return save_book(book, path)
