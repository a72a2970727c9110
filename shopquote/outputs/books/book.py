"""The common parts of all our workbooks: safe cells, one style, one page set-up.

    book = new_book("Quote J-0001")
    sheet = book.add("Quote")
    put(sheet, 1, 1, "Hooks for =the= yard", HEADING)      # text stays text, whatever it begins with
    put_formula(sheet, 2, 1, "=SUM(B1:B9)", BOLD)          # the only way in for a formula
    set_page(sheet, paper="A4")
    save_book(book, path)                                  # files.py: written beside, then renamed

Text of a person's can never become a formula: `save_book` turns every cell that
looks like one and did not come through `put_formula` back into text. A table goes on a
sheet by `sheet_table.draw`.
"""

import re
from collections.abc import Iterable
from copy import copy
from datetime import date
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.numbers import shown
from shopquote.errors import InputError
from shopquote.outputs.books.style import PLAIN, WRAPPED, Style, dress

Value = str | int | float | Decimal | date | bool | None

# A cell can hold 32,767 characters; spreadsheet programs call a file with more damaged.
LONGEST_TEXT = 32_000
# The column in which every row begins.
_FIRST = 1
_PAPER_CODE = {"A4": "9", "Letter": "1"}
_NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NOT_IN_TITLE = re.compile(r"[\[\]:*?/\\]")
_NOT_IN_FILE_NAME = re.compile(r"[^\w .,+-]+")
_WAKES_A_SHEET = ("=", "+", "-", "@", "\t", "\r")


class Book(Workbook):
    """A workbook that knows which formulas we wrote; all others are turned back into text on saving."""

    def __init__(self) -> None:
        """An empty workbook without sheets."""
        super().__init__()
        for sheet in self.worksheets:
            self.remove(sheet)
        self._own_formulas: set[tuple[int, int, int]] = set()
        self._styles_of: dict[Style, object] = {}

    def add(self, title: str) -> Worksheet:
        """A new sheet; the title is cleaned, shortened and made unique."""
        wanted = sheet_title(title)
        taken = {sheet.title.casefold() for sheet in self.worksheets}
        name, number = wanted, 2
        while name.casefold() in taken:
            ending = f" {number}"
            name, number = wanted[: 31 - len(ending)] + ending, number + 1
        sheet: Worksheet = self.create_sheet(name)
        sheet.sheet_view.showGridLines = False
        return sheet

    def own(self, cell: Cell) -> None:
        """Mark this cell's formula as ours."""
        self._own_formulas.add((id(cell.parent), cell.row, cell.column))

    @property
    def has_formulas(self) -> bool:
        """Whether the workbook has any formula of ours."""
        return bool(self._own_formulas)

    def is_own(self, cell: Cell) -> bool:
        """Whether this cell's formula came through `put_formula`."""
        return (id(cell.parent), cell.row, cell.column) in self._own_formulas

    def dress(self, cell: Cell, style: Style) -> None:
        """Give a cell its style; each style is built once in a workbook and shared by its cells.

        Call `undress` before changing a single cell's look. Shared, because 200,000 styles took 19 MB.
        """
        held = self._styles_of.get(style)
        if held is None:
            undress(cell)
            dress(cell, style)
            held = self._styles_of[style] = cell._style  # type: ignore[attr-defined]
        cell._style = held  # type: ignore[attr-defined]


def new_book(title: str = "", author: str = "") -> Book:
    """An empty workbook whose properties hold only a title and the shop's name."""
    book = Book()
    book.properties.title = safe_text(title) or None
    book.properties.creator = safe_text(author)
    book.properties.lastModifiedBy = None
    return book


def safe_text(value: object) -> str:
    """Text that a sheet can hold: no control characters, at most 32 000 characters.

    A text that begins like a formula is kept; `put` and `save_book` make sure that it stays text.

    >>> safe_text("=1+1\\x07")
    '=1+1'
    """
    return shown(_NOT_IN_XML.sub("", str(value)))[:LONGEST_TEXT]


def sheet_title(text: str) -> str:
    """A sheet's title: at most 31 characters, none that a title may not have.

    >>> sheet_title("Bars [12/16]: S275")
    'Bars  12 16   S275'
    """
    cleaned = _NOT_IN_TITLE.sub(" ", safe_text(text)).strip().strip("'")
    return cleaned[:31].strip() or "Sheet"


def safe_file_name(text: str, ending: str = ".xlsx") -> str:
    """A safe file name from any text: no folders, no special characters, at most 80 characters.

    >>> safe_file_name("../Quote: J-0001/2")
    'Quote J-0001 2.xlsx'
    """
    cleaned = " ".join(_NOT_IN_FILE_NAME.sub(" ", safe_text(text)).split()).lstrip(". ")
    return (cleaned[:80].strip() or "file") + ending


def put(sheet: Worksheet, row: int, column: int, value: Value, style: Style = PLAIN) -> Cell:
    """Write a value; text never becomes a formula, money and numbers keep their digits."""
    cell = _cell(sheet, row, column)
    _dress(sheet, cell, style)
    if isinstance(value, str):
        text = safe_text(value)
        cell.value = text
        if text.startswith(_WAKES_A_SHEET):
            make_text(cell, text)
    elif isinstance(value, date):
        # openpyxl gives a cell with a date a date format if it has none.
        undress(cell)
        cell.value = value
    else:
        cell.value = value
    return cell


def put_formula(sheet: Worksheet, row: int, column: int, formula: str, style: Style = PLAIN) -> Cell:
    """Write a formula of ours; it begins with = and must not contain text from users."""
    cell = _cell(sheet, row, column)
    _dress(sheet, cell, style)
    cell.value = formula
    book = sheet.parent
    if isinstance(book, Book):
        book.own(cell)
    return cell


def put_first(sheet: Worksheet, row: int, value: Value, style: Style = PLAIN) -> Cell:
    """Write in the first column: a heading or name that may run over the empty cells beside it."""
    return put(sheet, row, _FIRST, value, style)


def put_across(
    sheet: Worksheet,
    row: int,
    first: int,
    last: int,
    value: Value,
    style: Style = WRAPPED,
    *,
    fit: bool = True,
) -> Cell:
    """Write over merged columns; with `fit` the row is made tall enough for wrapped text."""
    cell = put(sheet, row, first, value, style)
    if last > first:
        # openpyxl's own merging recomputes the borders of every cell: half the time of a small workbook.
        sheet.merged_cells.add(CellRange(min_col=first, min_row=row, max_col=last, max_row=row))
        for column in range(first + 1, last + 1):
            covered = MergedCell(sheet, row, column)
            covered._style = cell._style  # type: ignore[attr-defined]
            sheet._cells[row, column] = covered
    if fit and isinstance(value, str) and style.wrap:
        width = sum(width_of(sheet, column) for column in range(first, last + 1))
        fit_row(sheet, row, value, width, style.size)
    return cell


def put_line(
    sheet: Worksheet, row: int, last: int, value: Value, style: Style = WRAPPED, *, fit: bool = True
) -> Cell:
    """Write over a row from its first to the last column of a grid."""
    return put_across(sheet, row, _FIRST, last, value, style, fit=fit)


class Bands:
    """Named bands of columns from left to right, for text laid out on a grid.

        terms = Bands(name=2, text=10)
        terms.put(sheet, row, "text", "30 days net")

    Each band is given its width in columns; its position follows.
    """

    def __init__(self, **widths: int) -> None:
        self._ends: dict[str, tuple[int, int]] = {}
        first = _FIRST
        for name, width in widths.items():
            self._ends[name] = (first, first + width - 1)
            first += width

    @property
    def last(self) -> int:
        """The last column of the last band."""
        return max(last for _, last in self._ends.values())

    def first(self, band: str) -> int:
        """The first column of a band."""
        return self._ends[band][0]

    def put(
        self, sheet: Worksheet, row: int, band: str, value: Value, style: Style = WRAPPED, *, fit: bool = True
    ) -> Cell:
        """Write over all columns of a band."""
        return put_across(sheet, row, *self._ends[band], value, style, fit=fit)


def fit_row(sheet: Worksheet, row: int, text: str, width: float, size: float = 10) -> None:
    """Make a row tall enough for a text wrapped in `width` character widths."""
    # A column's width counts digits; letters are narrower on average.
    per_line = max(1.0, width * 1.12 * 10.5 / size)
    lines = sum(max(1, -(-len(part) // int(per_line))) for part in text.split("\n"))
    height = max(1, lines) * size * 1.32 + 2
    held = sheet.row_dimensions[row].height
    sheet.row_dimensions[row].height = max(height, held or 0)


def set_widths(sheet: Worksheet, widths: Iterable[float]) -> None:
    """Set the widths of a sheet's columns from the first on, in characters."""
    for index, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(index)].width = width


def set_page(
    sheet: Worksheet,
    *,
    paper: str = "A4",
    landscape: bool = False,
    last_row: int | None = None,
    last_column: int | None = None,
    one_page: bool = False,
    head_rows: str | None = None,
    footer: str = "",
) -> None:
    """Set up printing: paper, margins, print area, one page wide, page numbers in the footer.

    Args:
        paper: "A4" or "Letter".
        landscape: whether the long side lies across.
        last_row: last row printed; None for the last one used.
        last_column: last column printed; None for the last one used.
        one_page: fit the whole sheet on one page, not only its width.
        head_rows: rows repeated on every page, such as "1:3".
        footer: text at the left of the foot.

    Raises:
        InputError: the paper is not known.
    """
    if paper not in _PAPER_CODE:
        raise InputError(f"Paper is {paper!r}; expected A4 or Letter.")
    setup = sheet.page_setup
    setup.paperSize = _PAPER_CODE[paper]
    setup.orientation = "landscape" if landscape else "portrait"
    setup.fitToWidth = 1
    setup.fitToHeight = 1 if one_page else 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.6
    margins.top, margins.bottom = 0.6, 0.75
    margins.header = margins.footer = 0.35
    last = f"{get_column_letter(last_column or sheet.max_column)}{last_row or sheet.max_row}"
    sheet.print_area = f"A1:{last}"
    if head_rows is not None:
        sheet.print_title_rows = head_rows
    foot = sheet.oddFooter
    left, right = (foot.left, foot.right) if foot is not None else (None, None)
    if left is not None and right is not None:
        left.text = safe_text(footer).replace("&", "&&")[:120] or None
        right.text = "&P / &N"
        left.size = right.size = 8


def make_text(cell: Cell, text: str) -> None:
    """Set a cell to text that no program reads as a formula."""
    undress(cell)
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = True


def undress(cell: Cell) -> None:
    """Give a cell its own copy of its style, so that changing it affects no other cell."""
    cell._style = copy(cell._style)  # type: ignore[attr-defined]


def _cell(sheet: Worksheet, row: int, column: int) -> Cell:
    cell = sheet.cell(row, column)
    if not isinstance(cell, Cell):
        raise ValueError(f"{sheet.title} row {row} column {column} lies under a merged cell")
    return cell


def _dress(sheet: Worksheet, cell: Cell, style: Style) -> None:
    book = sheet.parent
    if isinstance(book, Book):
        book.dress(cell, style)
    else:
        dress(cell, style)


def width_of(sheet: Worksheet, column: int) -> float:
    """A column's width in characters."""
    dimension = sheet.column_dimensions.get(get_column_letter(column))
    return dimension.width if dimension is not None and dimension.width else 8.43
