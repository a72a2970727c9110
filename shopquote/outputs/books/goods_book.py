"""Sheets to fill in at the rack: goods in for a delivery, and the count of a stocktake.

Both are read back by `reading.table_files.read_table`: the first row names the columns.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from shopquote.outputs.books.book import new_book, set_page
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.sheet_table import Theme, draw
from shopquote.outputs.books.style import WRAPPED
from shopquote.outputs.looks import COUNT, TEXT
from shopquote.outputs.table import Column, Fill, Table

Line = Mapping[str, Any]

# Rows with room to write by hand, and empty ones below for what is not listed.
_SHEET = Theme(WRAPPED.but(rule="b", down="center"), figures="center", row_height=18)
_EMPTY_ROWS = 6

GOODS_COLUMNS: tuple[Column[Line], ...] = (
    Column("line", lambda line: line["line"], COUNT, 6, fill="both"),
    Column("bar", lambda line: line["bar"], width=18),
    Column("grade", lambda line: line["grade"]),
    Column("ordered length", lambda line: line["length"], width=15),
    Column("open", lambda line: line["open"], COUNT, 7),
    Column("count", lambda line: None, COUNT, 8, fill="both"),
    Column("length", lambda line: None, width=14, fill="both"),
    Column("heat", lambda line: None, width=14, fill="both"),
    Column("certificate", lambda line: None, width=22, fill="both"),
    Column("charged each", lambda line: None, fill="both"),
)
# The count sheet: width of each column, and where it is filled in.
_COUNT_SHEET: dict[str, tuple[float, Fill]] = {
    "code": (10, ""), "bar": (18, "spare"), "grade": (12, "spare"), "length": (14, ""), "heat": (14, "spare"),
    "place": (14, "both"), "found": (14, "both"), "count": (8, "spare"), "cost": (9, "spare"),
    "note": (22, "both"),
}  # fmt: skip


def write_goods_sheet(content: Mapping[str, Any], path: Path, *, paper: str = "A4") -> Path:
    """The sheet for a delivery: a row for each open line, with the columns to fill in marked.

    Raises:
        InputError: the file cannot be written.
    """
    title = f"Goods in {content['number']}"
    footer = f"{content['number']} {content['supplier']} · charged in {content['currency']} per bar"
    return _write(Table(GOODS_COLUMNS, content["lines"], title), path, paper, footer)


def write_count_sheet(
    names: Sequence[str], rows: Sequence[Sequence[object]], path: Path, *, paper: str = "A4"
) -> Path:
    """The sheet of a stocktake, in the order of the places.

    Raises:
        InputError: the file cannot be written.
    """

    def column(name: str) -> Column[Line]:
        width, fill = _COUNT_SHEET.get(name, (12, ""))
        look = COUNT if name in ("count", "cost") else TEXT
        return Column(name, lambda row: row[name] or None, look, width, fill=fill)

    listed = [dict(zip(names, row, strict=True)) for row in rows]
    footer = "found: the length, 0 when it is not there, empty when not looked for; bars not listed go below"
    return _write(Table([column(name) for name in names], listed, "Rack count"), path, paper, footer)


def _write(table: Table[Line], path: Path, paper: str, footer: str) -> Path:
    book = new_book(table.title)
    sheet = book.add(table.title)
    draw(sheet, table, theme=_SHEET, spare=_EMPTY_ROWS)
    sheet.freeze_panes = "A2"
    set_page(sheet, paper=paper, landscape=True, head_rows="1:1", footer=footer)
    return save_book(book, path)
