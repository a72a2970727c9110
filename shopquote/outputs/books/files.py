"""Saves workbooks: whole files, formulas stored with their results, foreign formulas as text."""

import re
from collections.abc import Mapping
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl.cell.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.writer.excel import ExcelWriter

from shopquote.files import put_file
from shopquote.outputs.books.book import Book, make_text

# A formula as openpyxl writes it, without a stored result.
_FORMULA = re.compile(r'(<c r="([A-Z]+[0-9]+)"[^>]*)(><f>[^<]*</f>)<v ?(?:/>|></v>)')


def save_book(book: Book, path: Path) -> Path:
    """Write a workbook, completely or not at all.

    Raises:
        InputError: an existing file may not be replaced, or the folder cannot be written.
    """
    _quieten(book)
    packed = BytesIO()
    if book.has_formulas:
        from shopquote.outputs.books.worked_out import figures_of

        figures = {
            (title, f"{get_column_letter(column)}{row}"): figure
            for (title, row, column), figure in figures_of(book).items()
        }
        ExcelWriter(book, _Archive(packed, book, figures)).save()
    else:
        book.save(packed)
    return put_file(path, packed.getvalue())


class _Archive(ZipFile):
    """The zip archive of a workbook, which adds its result to each formula of a sheet."""

    def __init__(
        self, packed: BytesIO, book: Book, figures: Mapping[tuple[str, str], Decimal | None]
    ) -> None:
        super().__init__(packed, "w", ZIP_DEFLATED)
        self._book, self._figures = book, figures

    def write(self, filename: Any, arcname: Any = None, *args: Any, **more: Any) -> None:
        """Add a file to the archive; a sheet gets the results of its formulas on the way."""
        title = next(sheet.title for sheet in self._book.worksheets if sheet.path == f"/{arcname}")

        def with_figure(found: re.Match[str]) -> str:
            figure = self._figures[title, found[2]]
            if figure is None:
                return f'{found[1]} t="e"{found[3]}<v>#DIV/0!</v>'
            return f"{found[1]}{found[3]}<v>{float(figure)!r}</v>"

        self.writestr(arcname, _FORMULA.sub(with_figure, Path(filename).read_text(encoding="utf-8")))


def _quieten(book: Book) -> None:
    """Turn formulas that are not ours into text, and set money to its exact decimal digits."""
    for sheet in book.worksheets:
        for cell in list(sheet._cells.values()):
            if not isinstance(cell, Cell):
                continue
            if cell.data_type == "f" and not book.is_own(cell):
                make_text(cell, str(cell.value))
            elif isinstance(cell.value, Decimal):
                # openpyxl would write a float with all its digits: 700.4400000000001 for 700.44.
                cell._value = f"{cell.value:f}"  # type: ignore[attr-defined]
