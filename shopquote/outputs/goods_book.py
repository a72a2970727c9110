"""Sheets to fill in by the rack: goods in for a delivery, and the count of a stocktake.

Both are read back by `services.tables_io.read_table`: the first row names the columns.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from shopquote.outputs.book import (
    EDITABLE,
    HEAD,
    PLAIN,
    WRAPPED,
    new_book,
    put,
    put_row,
    save_book,
    set_page,
    set_widths,
)

GOODS_COLUMNS = (
    "line", "bar", "grade", "ordered length", "open", "count", "length", "heat", "certificate",
    "charged each",
)  # fmt: skip
_TO_FILL = {"count", "length", "heat", "certificate", "charged each", "found", "note"}
_WIDTHS = {
    "line": 6, "bar": 18, "grade": 12, "ordered length": 15, "open": 7, "count": 8, "length": 14,
    "heat": 14, "certificate": 22, "charged each": 12, "code": 10, "place": 14, "found": 14, "note": 22,
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
    return _write(title, GOODS_COLUMNS, rows, path, paper, footer)


def write_count_sheet(
    columns: Sequence[str], rows: Sequence[Sequence[object]], path: Path, *, paper: str = "A4"
) -> Path:
    """The sheet of a stocktake, in the order of the places.

    Raises:
        InputError: the file cannot be written.
    """
    footer = "found: the length, 0 when it is not there, empty when not looked for; new bars below"
    return _write("Rack count", columns, rows, path, paper, footer)


def _write(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[Any]], path: Path, paper: str, footer: str
) -> Path:
    book = new_book(title)
    sheet = book.add(title)
    set_widths(sheet, [_WIDTHS.get(column, 12) for column in columns])
    looks = [
        (WRAPPED if column in ("bar", "note") else PLAIN).but(
            rule="b", fill=EDITABLE if column in _TO_FILL else None
        )
        for column in columns
    ]
    for column, name in enumerate(columns, start=1):
        put(sheet, 1, column, name, HEAD)
    for i, row in enumerate(rows, start=2):
        put_row(sheet, i, list(row), looks)
    for i in range(len(rows) + 2, len(rows) + 8):
        put_row(sheet, i, [None] * len(columns), looks)
    sheet.freeze_panes = "A2"
    set_page(sheet, paper=paper, landscape=True, head_rows="1:1", footer=footer)
    return save_book(book, path)
