"""Writes a list as a CSV file or a workbook that reads back without loss."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from shopquote.errors import InputError
from shopquote.files import put_file
from shopquote.outputs.looks import DAY, FIGURE, NUMBER, TEXT, Look
from shopquote.outputs.table import Column, Table
from shopquote.reading.cells import cell_text
from shopquote.reading.table_files import csv_text

# A workbook's cell holds a float; a number with more digits than this would come back rounded.
EXACT_DIGITS = 15
WIDEST = 50.0

Cells = Sequence[object]


def write_table(path: Path, title: str, headings: Sequence[str], rows: Iterable[Cells]) -> Path:
    """Write rows below their headings; the file's ending says whether as CSV or as a workbook.

    Text of a person's never becomes a formula in either, and reading the file gives
    the same text back.

    Raises:
        InputError: the ending is neither .csv nor .xlsx, or the folder cannot be written.
    """
    suffix = path.suffix.lower()
    if suffix == ".csv":
        return _write_csv(path, headings, rows)
    if suffix == ".xlsx":
        return _write_book(path, title, headings, list(rows))
    raise InputError(f"{path} ends in {suffix or 'nothing'!r}; expected .csv or .xlsx.")


def _write_csv(path: Path, headings: Sequence[str], rows: Iterable[Cells]) -> Path:
    # The byte order mark tells spreadsheet programs that the file is UTF-8.
    return put_file(path, b"\xef\xbb\xbf" + csv_text(headings, rows).encode())


def _write_book(path: Path, title: str, headings: Sequence[str], rows: Sequence[Cells]) -> Path:
    from shopquote.outputs.books.book import new_book, set_page
    from shopquote.outputs.books.files import save_book
    from shopquote.outputs.books.sheet_table import draw

    book = new_book(title)
    sheet = book.add(title)
    columns = [_column(place, heading, rows) for place, heading in enumerate(headings)]
    draw(sheet, Table(columns, rows, title))
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    set_page(sheet, landscape=True, head_rows="1:1")
    return save_book(book, path)


def _column(place: int, heading: str, rows: Sequence[Cells]) -> Column[Cells]:
    """A column as wide as its longest text, in the look that fits all of its values."""
    values = [row[place] for row in rows]
    width = max((len(cell_text(value)) for value in (heading, *values)), default=0) + 2.0
    return Column(_plain(heading), lambda row: _held(row[place]), _look(values), min(WIDEST, width))


def _plain(heading: str) -> str:
    """A heading of a list's own names no currency and no unit."""
    return heading.replace("{", "{{").replace("}", "}}")


def _look(values: Iterable[object]) -> Look:
    held = [_held(value) for value in values if value is not None]
    if held and all(isinstance(value, date) for value in held):
        return DAY
    if held and all(isinstance(value, int | Decimal) for value in held):
        return NUMBER
    return MIXED


# A column with both numbers and words: each value goes into its cell as it is.
MIXED = Look(TEXT.text, TEXT.data, lambda value, setting: value, FIGURE.number, figure=False)


def _held(value: object) -> str | int | Decimal | date | None:
    if value is None or isinstance(value, date):
        return value
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        exact = Decimal(value)
        return value if len(exact.as_tuple().digits) <= EXACT_DIGITS else cell_text(value)
    return cell_text(value)
