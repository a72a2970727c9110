"""Writes job workbooks, of a job or blank to be filled in; `job_book` reads them.

Columns are formatted in advance, and text is marked as text, so that a spreadsheet makes no day of 5/8 and no
formula of a name. Begin at `write_job_book`.
"""

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopquote.calc.job import JobSpec
from shopquote.calc.numbers import shown
from shopquote.files import put_file
from shopquote.reading.job_fields import HOLE, JOB, TABLES, Field, FieldTable
from shopquote.reading.job_kinds import Text
from shopquote.reading.job_numbers import whole
from shopquote.reading.job_reader import FORMAT

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

FONT = "Calibri"  # openpyxl's default, so that bold and plain cells match
NOTES_TAB = "How to fill in"
BLANK_ROWS = 200  # least number of rows with drop-down lists
# Fields that only a workbook has: the version of its layout, and the part that a row of holes belongs to.
FORM = Field("format", whole(1, 1), "Form", "leave the 1: the form of this workbook")
OWNER = Field("part", Text(), "Mark", "mark of the part that has the holes", 8)
_FORMATS = {"text": "@", "day": "yyyy-mm-dd", "amount": "#,##0.00##"}
_WRAPPED = 40  # columns at least so wide, in characters, hold long texts and wrap them

# An underscore before what looks like an escaped character is itself written as _x005F_ (ECMA-376,
# ST_Xstring, as the tests of a spreadsheet library have it).
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)", re.ASCII)


def write_job_book(spec: JobSpec, path: Path) -> Path:
    """Write a job as a workbook, whole or not at all; return where it is.

    Raises:
        InputError: the file may not be replaced, or the folder cannot be written.
    """
    return _save(_book(spec), path)


def write_blank_job_book(path: Path) -> Path:
    """Write an empty job workbook for a person to fill in; return where it is.

    Raises:
        InputError: as `write_job_book`.
    """
    return _save(_book(None), path)


def columns_of(table: FieldTable) -> tuple[Field, ...]:
    """The columns of a tab: the table's fields, for holes preceded by the mark of their part."""
    return (OWNER, *table.columns) if table is HOLE else table.columns


def _book(spec: JobSpec | None) -> "Workbook":
    from openpyxl import Workbook

    book = Workbook()
    book.properties.creator = "shopquote"
    book.properties.title = spec.title if spec else "Job to fill in"
    sheet = book.active
    assert sheet is not None
    _write_job_tab(sheet, spec)
    for table in TABLES:
        _write_tab(book.create_sheet(table.tab), table, list(_rows_of(table, spec)) if spec else [])
    _write_notes(book.create_sheet(NOTES_TAB))
    return book


def _write_job_tab(sheet: "Worksheet", spec: JobSpec | None) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.title = JOB.tab
    values: dict[str, Any] = {FORM.heading: FORMAT} | (_cells_of(JOB, spec) if spec is not None else {})
    for row, column in enumerate((FORM, *JOB.columns), 1):
        sheet.cell(row, 1, column.heading).font = Font(name=FONT, bold=True)
        _put(sheet, row, 2, values.get(column.heading), column)
        sheet.cell(row, 2).alignment = Alignment(horizontal="left", wrap_text=True, vertical="top")
        sheet.cell(row, 3, column.help).font = Font(name=FONT, italic=True, color="6B6458")
        _offer_words(sheet, column, f"B{row}")
    for letter, width in (("A", 20), ("B", 44), ("C", 62)):
        sheet.column_dimensions[letter].width = width
    _page(sheet)


def _write_tab(sheet: "Worksheet", table: FieldTable, rows: Sequence[Mapping[str, object]]) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    last = max(len(rows) + 1, BLANK_ROWS) + 1
    headed = [(column, heading) for column in columns_of(table) for heading in column.headings]
    for position, (column, heading) in enumerate(headed, 1):
        head = sheet.cell(1, position, heading)
        head.font = Font(name=FONT, bold=True)
        head.fill = PatternFill("solid", fgColor="E4E0D6")
        head.border = Border(bottom=Side(style="thin"))
        head.alignment = Alignment(wrap_text=True, vertical="center")
        letter = get_column_letter(position)
        below = sheet.column_dimensions[letter]
        below.width = column.width
        # The whole column is formatted, rows below too: in a "General" cell a typed 5/8 becomes a day.
        below.number_format = _FORMATS.get(column.kind.look, "General")
        _offer_words(sheet, column, f"{letter}2:{letter}{last}")
        for row, values in enumerate(rows, 2):
            if heading in values:
                _put(sheet, row, position, values[heading], column)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    _page(sheet)


def _put(sheet: "Worksheet", row: int, position: int, value: object, column: Field) -> None:
    """Write one cell. Text is marked as text even if it looks like a formula or number."""
    from openpyxl.styles import Alignment

    cell = sheet.cell(row, position)
    if column.kind.look in _FORMATS:
        cell.number_format = _FORMATS[column.kind.look]
    if column.width >= _WRAPPED:
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    if value is None:
        return
    if isinstance(value, str):
        value = _LOOKS_ESCAPED.sub("_x005F_", shown(value))
    cell.value = value  # type: ignore[assignment]
    if isinstance(value, str):
        # openpyxl takes a text that begins with = for a formula otherwise.
        cell.data_type = "s"


def _offer_words(sheet: "Worksheet", column: Field, cells: str) -> None:
    """Add a drop-down list to cells.

    Other words can still be typed; the reader reports those it does not know.
    """
    from openpyxl.worksheet.datavalidation import DataValidation

    if column.kind.words:
        listed = DataValidation(type="list", formula1=f'"{",".join(column.kind.words)}"', allow_blank=True)
        # Not enforced: the reader takes other spellings, and reports what it does not know with its place.
        listed.showErrorMessage = False
        listed.add(cells)
        sheet.add_data_validation(listed)


def _page(sheet: "Worksheet") -> None:
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet.page_setup.orientation = "landscape"
    sheet.print_options.gridLines = True
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _write_notes(sheet: "Worksheet") -> None:
    from openpyxl.styles import Alignment, Font

    lines = [
        ("Tab", "Column", "What goes in"),
        *(
            (table.tab if number == 0 else "", column.told_as, column.help)
            for table in (JOB, *TABLES)
            for number, column in enumerate((FORM, *JOB.columns) if table is JOB else columns_of(table))
        ),
        ("", "", ""),
        (
            "Lengths",
            "",
            "450, 33.5, 5/8, 2-7/16, 7' 6-1/2\", 12 mm, 2 ft, 1.25 m; bare numbers in the units of the job",
        ),
        ("Formulas", "", "are not read: type the value"),
        ("Blank rows", "", "are passed over; this tab is not read"),
    ]
    for row, texts in enumerate(lines, 1):
        for position, text in enumerate(texts, 1):
            cell = sheet.cell(row, position, text or None)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            if row == 1 or position == 1:
                cell.font = Font(name=FONT, bold=True)
    for letter, width in (("A", 15), ("B", 20), ("C", 80)):
        sheet.column_dimensions[letter].width = width
    _page(sheet)


def _rows_of(table: FieldTable, spec: JobSpec) -> Iterator[dict[str, Any]]:
    """The rows of one tab as cell values by heading."""
    if table is HOLE:
        for part in spec.parts:
            for hole in part.holes:
                yield {OWNER.heading: part.mark} | _cells_of(table, hole)
        return
    for row in table.rows_of(spec):
        yield _cells_of(table, row)


def _cells_of(table: FieldTable, row: object) -> dict[str, Any]:
    """The cell values of one row by heading; fields at their default are left out."""
    return {
        heading: cell
        for column, value in table.written(row)
        for heading, cell in zip(column.headings, column.kind.cells(value), strict=True)
    }


def _save(book: "Workbook", path: Path) -> Path:
    packed = io.BytesIO()
    book.save(packed)
    return put_file(path, packed.getvalue())
