"""A list as a CSV file or a workbook that can be read back with nothing lost."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from shopquote.errors import InputError
from shopquote.reading.table_files import cell_text, csv_text

# A cell of a workbook holds a float: more digits than this would come back rounded.
EXACT_DIGITS = 15


def write_table(path: Path, title: str, headings: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
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
        return _write_book(path, title, headings, rows)
    raise InputError(f"{path} ends in {suffix or 'nothing'!r}; expected .csv or .xlsx.")


def _write_csv(path: Path, headings: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    from shopquote.reading.job_book import write_beside

    try:
        # The mark in front tells spreadsheets that the letters are UTF-8.
        return write_beside(path, b"\xef\xbb\xbf" + csv_text(headings, rows).encode())
    except OSError as error:
        raise InputError(f"Cannot write {path}: {error.strerror or error}.") from error


def _write_book(path: Path, title: str, headings: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    from shopquote.outputs.books.book import new_book, put, set_page, set_widths
    from shopquote.outputs.books.files import save_book
    from shopquote.outputs.books.style import DAY, HEAD, NUMBER, PLAIN

    book = new_book(title)
    sheet = book.add(title)
    widths = [float(len(heading) + 2) for heading in headings]
    for column, heading in enumerate(headings, start=1):
        put(sheet, 1, column, heading, HEAD)
    for number, row in enumerate(rows, start=2):
        for column, value in enumerate(row, start=1):
            cell = _cell(value)
            look = DAY if isinstance(value, date) else NUMBER if isinstance(cell, int | Decimal) else PLAIN
            put(sheet, number, column, cell, look)
            widths[column - 1] = min(50.0, max(widths[column - 1], len(cell_text(value)) + 2.0))
    set_widths(sheet, widths)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    set_page(sheet, landscape=True, head_rows="1:1")
    return save_book(book, path)


def _cell(value: object) -> str | int | Decimal | date | None:
    if isinstance(value, bool):
        return cell_text(value)
    if isinstance(value, int | Decimal):
        exact = Decimal(value)
        if len(exact.as_tuple().digits) <= EXACT_DIGITS:
            return value
        return cell_text(value)
    if value is None or isinstance(value, date):
        return value
    return cell_text(value)
