"""Workbooks on disk."""

from decimal import Decimal
from io import BytesIO
from pathlib import Path

from openpyxl.cell.cell import Cell

from shopquote.files import put_file
from shopquote.outputs.books.book import Book, make_text


def save_book(book: Book, path: Path) -> Path:
    """Write a workbook: the file is whole or not there.

    Raises:
        InputError: what is there may not be written over, or the folder cannot be written.
    """
    _quieten(book)
    packed = BytesIO()
    book.save(packed)
    return put_file(path, packed.getvalue())


def _quieten(book: Book) -> None:
    """Turn every formula that is not ours back into text, and money into its exact digits."""
    for sheet in book.worksheets:
        for cell in list(sheet._cells.values()):
            if not isinstance(cell, Cell):
                continue
            if cell.data_type == "f" and not book.is_own(cell):
                make_text(cell, str(cell.value))
            elif isinstance(cell.value, Decimal):
                # The library would write 16 digits of a float: 700.4400000000001 for 700.44.
                cell._value = f"{cell.value:f}"  # type: ignore[attr-defined]
