"""What every workbook of ours is made with: safe cells, one look, clean files.

    book = new_book("Quote J-0001")
    sheet = book.add("Quote")
    put(sheet, 1, 1, "Hooks for =the= yard", HEADING)      # text stays text, whatever it begins with
    put_formula(sheet, 2, 1, "=SUM(B1:B9)", MONEY)         # the only way in for a formula
    set_page(sheet, paper="A4")
    save_book(book, path)                                  # written beside, then renamed

Text of a person's can never become a formula: `save_book` turns every cell that
looks like one and did not come through `put_formula` back into text.
"""

import re
import shutil
import subprocess
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import Literal
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.money import currency_digits
from shopquote.errors import CannotMakeError, InputError

Paper = Literal["A4", "Letter"]
Value = str | int | float | Decimal | date | bool | None

INK = "1F2A30"
QUIET = "5E6B70"
ACCENT = "7A3B12"
SHADE = "F1ECE4"
EDITABLE = "FFF8DC"

LONGEST_TEXT = 32_000
_PAPER_CODE = {"A4": "9", "Letter": "1"}
_NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NOT_IN_TITLE = re.compile(r"[\[\]:*?/\\]")
_NOT_IN_FILE_NAME = re.compile(r"[^\w .,+-]+")
_WAKES_A_SHEET = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks. `rule` is where a thin line runs (letters t, b, l, r); `indent` is in characters."""

    bold: bool = False
    italic: bool = False
    size: float = 10
    colour: str = INK
    fill: str | None = None
    across: Literal["left", "right", "center"] | None = None
    down: Literal["top", "center", "bottom"] = "top"
    wrap: bool = False
    rule: str = ""
    indent: int = 0
    number: str = "General"

    def but(self, **changes: object) -> "Look":
        """The same look with some things changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


PLAIN = Look()
WRAPPED = Look(wrap=True)
TITLE = Look(bold=True, size=18, colour=ACCENT)
HEADING = Look(bold=True, size=12, colour=ACCENT)
LABEL = Look(colour=QUIET, size=9)
NOTE = Look(colour=QUIET, size=9, wrap=True)
HEAD = Look(bold=True, size=9, fill=SHADE, rule="b", wrap=True, down="center")
HEAD_RIGHT = HEAD.but(across="right")
MONEY = Look(number="#,##0.00", across="right")
MINUTES = Look(number="#,##0.00", across="right")
NUMBER = Look(number="#,##0.######", across="right")
WHOLE = Look(number="#,##0", across="right")
PERCENT_NUMBER = Look(number='0.0#" %"', across="right")
DAY = Look(number="yyyy-mm-dd", across="left")
CAUTION = Look(bold=True, size=9, wrap=True, colour="8A1C1C")


class Book(Workbook):
    """A workbook that knows which of its formulas are its own."""

    def __init__(self) -> None:
        """An empty workbook without sheets."""
        super().__init__()
        for sheet in self.worksheets:
            self.remove(sheet)
        self._own_formulas: set[tuple[int, int, int]] = set()
        self._styles_of: dict[Look, object] = {}

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
        """Remember that this cell's formula is ours."""
        self._own_formulas.add((id(cell.parent), cell.row, cell.column))

    def is_own(self, cell: Cell) -> bool:
        """Whether this cell's formula came through `put_formula`."""
        return (id(cell.parent), cell.row, cell.column) in self._own_formulas

    def dress(self, cell: Cell, look: Look) -> None:
        """Give a cell its look; each look is worked out once in a workbook."""
        style = self._styles_of.get(look)
        if style is None:
            _work_out(cell, look)
            self._styles_of[look] = copy(cell._style)  # type: ignore[attr-defined]
        else:
            cell._style = copy(style)  # type: ignore[attr-defined]


def new_book(title: str = "", author: str = "") -> Book:
    """An empty workbook whose properties hold only a title and the shop's name."""
    book = Book()
    book.properties.title = safe_text(title) or None
    book.properties.creator = safe_text(author)
    book.properties.lastModifiedBy = None
    return book


def safe_text(value: object) -> str:
    """Text that a sheet can hold: no control characters, at most 32 000 characters.

    What begins like a formula is kept as it is; `put` and `save_book` see that it stays text.

    >>> safe_text("=1+1\\x07")
    '=1+1'
    """
    return _NOT_IN_XML.sub("", str(value))[:LONGEST_TEXT]


def sheet_title(text: str) -> str:
    """A sheet's title: at most 31 characters, none that a title may not have.

    >>> sheet_title("Bars [12/16]: S275")
    'Bars  12 16   S275'
    """
    cleaned = _NOT_IN_TITLE.sub(" ", safe_text(text)).strip().strip("'")
    return cleaned[:31].strip() or "Sheet"


def safe_file_name(text: str, ending: str = ".xlsx") -> str:
    """A file's name from any text: no folders, no odd characters, at most 80 characters.

    >>> safe_file_name("../Quote: J-0001/2")
    'Quote J-0001 2.xlsx'
    """
    cleaned = " ".join(_NOT_IN_FILE_NAME.sub(" ", safe_text(text)).split()).lstrip(". ")
    return (cleaned[:80].strip() or "file") + ending


def put(sheet: Worksheet, row: int, column: int, value: Value, look: Look = PLAIN) -> Cell:
    """Write a value; text stays text. Money and numbers keep their digits."""
    cell = _cell(sheet, row, column)
    _dress(sheet, cell, look)
    if isinstance(value, str):
        text = safe_text(value)
        cell.value = text
        if text.startswith(_WAKES_A_SHEET):
            _make_text(cell, text)
    else:
        cell.value = value
    return cell


def put_formula(sheet: Worksheet, row: int, column: int, formula: str, look: Look = PLAIN) -> Cell:
    """Write a formula of ours; it begins with = and holds no text of a person's."""
    cell = _cell(sheet, row, column)
    _dress(sheet, cell, look)
    cell.value = formula
    book = sheet.parent
    if isinstance(book, Book):
        book.own(cell)
    return cell


def put_row(
    sheet: Worksheet,
    row: int,
    values: Sequence[Value],
    looks: Look | Sequence[Look] = PLAIN,
    *,
    start: int = 1,
) -> None:
    """Write values side by side, with one look or one each."""
    for index, value in enumerate(values):
        put(sheet, row, start + index, value, looks if isinstance(looks, Look) else looks[index])


def put_across(
    sheet: Worksheet, row: int, first: int, last: int, value: Value, look: Look = WRAPPED, *, fit: bool = True
) -> Cell:
    """Write over merged columns; with `fit` the row grows so that wrapped text shows whole."""
    for column in range(first, last + 1):
        _dress(sheet, _cell(sheet, row, column), look)
    cell = put(sheet, row, first, value, look)
    if last > first:
        sheet.merge_cells(start_row=row, start_column=first, end_row=row, end_column=last)
    if fit and isinstance(value, str) and look.wrap:
        width = sum(_width(sheet, column) for column in range(first, last + 1))
        fit_row(sheet, row, value, width, look.size)
    return cell


def fit_row(sheet: Worksheet, row: int, text: str, width: float, size: float = 10) -> None:
    """Make a row tall enough for a text wrapped in `width` character widths."""
    # A column's width counts digits; running text is narrower.
    per_line = max(1.0, width * 1.12 * 10.5 / size)
    lines = sum(max(1, -(-len(part) // int(per_line))) for part in text.split("\n"))
    height = max(1, lines) * size * 1.32 + 2
    held = sheet.row_dimensions[row].height
    sheet.row_dimensions[row].height = max(height, held or 0)


def set_widths(sheet: Worksheet, widths: Iterable[float]) -> None:
    """Column widths from the first column on, in characters."""
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
    """Paper, margins, print area, one page wide, page numbers at the foot.

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


def money_look(currency: str, look: Look = MONEY) -> Look:
    """A look that shows a currency's own digits; the currency itself stands in the heading.

    >>> money_look("JPY").number
    '#,##0'
    """
    digits = currency_digits(currency)
    return look.but(number="#,##0" + ("." + "0" * digits if digits else ""))


def save_book(book: Book, path: Path) -> Path:
    """Write a workbook beside its place and rename it: the file is whole or not there.

    Raises:
        InputError: the folder cannot be made or written.
    """
    _quieten(book)
    beside: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=path.parent, prefix=".", suffix=".part", delete=False) as part:
            beside = Path(part.name)
        book.save(beside)
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as error:
        raise _not_written(path, error) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)
    return path


@contextmanager
def set_aside(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder` for files that belong together; gone at the end.

    Write them there, commit what they tell of, then `bring_in`: a run that is killed
    while it writes leaves no paper of a thing that is not on file.

    Raises:
        InputError: the folder cannot be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = TemporaryDirectory(dir=folder, prefix=".making", ignore_cleanup_errors=True)
    except OSError as error:
        raise _not_written(folder, error) from error
    with aside as place:
        yield Path(place)


def bring_in(files: Sequence[Path], folder: Path) -> list[Path]:
    """Move finished files to their folder, in the place of older ones.

    Raises:
        InputError: one of them cannot be replaced.
    """
    brought = []
    for file in files:
        try:
            brought.append(file.replace(folder / file.name))
        except OSError as error:
            raise _not_written(folder / file.name, error) from error
    return brought


def _not_written(path: Path, error: OSError) -> InputError:
    return InputError(
        f"Cannot write {path}: {error.strerror or error}.",
        hint="Close the file if it is open elsewhere, or choose another folder with --out.",
    )


def pdf_of(path: Path, locale: str = "", seconds: float = 120) -> Path:
    """Print a workbook as PDF beside itself, by LibreOffice.

    Args:
        path: the workbook.
        locale: whose separators its numbers have, such as "de_DE"; empty for LibreOffice's own.
        seconds: how long it may take.

    Raises:
        CannotMakeError: LibreOffice is not installed or did not print it.
    """
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        raise CannotMakeError(
            "A PDF needs LibreOffice, which is not installed.",
            hint="Install it, or print the workbook as PDF from your own spreadsheet program.",
        )
    pdf = path.with_suffix(".pdf")
    # A profile and a folder of its own: it may run beside an open one, and the file comes whole.
    with TemporaryDirectory(dir=path.parent, prefix=".pdf") as folder:
        if locale:
            _set_locale(Path(folder) / "profile", locale)
        command = [office, f"-env:UserInstallation={Path(folder).absolute().as_uri()}/profile", "--headless",
                   "--convert-to", "pdf", "--outdir", folder, str(path)]  # fmt: skip
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=seconds)
            (Path(folder) / pdf.name).replace(pdf)
        except (OSError, subprocess.SubprocessError) as error:
            raise CannotMakeError(f"LibreOffice did not print {path.name}: {error}.") from error
    return pdf


def _set_locale(profile: Path, locale: str) -> None:
    """Make a profile of LibreOffice's whose locale is the shop's, whatever the computer's is."""
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    word = escape(locale.replace("_", "-"))
    settings.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<oor:items xmlns:oor="http://openoffice.org/2001/registry">'
        '<item oor:path="/org.openoffice.Setup/L10N">'
        f'<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{word}</value>'
        "</prop></item></oor:items>",
        encoding="utf-8",
    )


def _quieten(book: Book) -> None:
    """Turn every formula that is not ours back into text, and money into its exact digits."""
    for sheet in book.worksheets:
        for cell in list(sheet._cells.values()):
            if not isinstance(cell, Cell):
                continue
            if cell.data_type == "f" and not book.is_own(cell):
                _make_text(cell, str(cell.value))
            elif isinstance(cell.value, Decimal):
                # The library would write 16 digits of a float: 700.4400000000001 for 700.44.
                cell._value = f"{cell.value:f}"  # type: ignore[attr-defined]


def _make_text(cell: Cell, text: str) -> None:
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = True


def _cell(sheet: Worksheet, row: int, column: int) -> Cell:
    cell = sheet.cell(row, column)
    if not isinstance(cell, Cell):
        raise ValueError(f"{sheet.title} row {row} column {column} lies under a merged cell")
    return cell


def _dress(sheet: Worksheet, cell: Cell, look: Look) -> None:
    book = sheet.parent
    if isinstance(book, Book):
        book.dress(cell, look)
    else:
        _work_out(cell, look)


def _work_out(cell: Cell, look: Look) -> None:
    cell.font = Font(name="Arial", size=look.size, bold=look.bold, italic=look.italic, color=look.colour)
    cell.alignment = Alignment(
        horizontal=look.across, vertical=look.down, wrap_text=look.wrap, indent=look.indent
    )
    if look.fill is not None:
        cell.fill = PatternFill("solid", fgColor=look.fill)
    if look.rule:
        line, none = Side(style="thin", color="B8AE9E"), Side()
        left, right, top, bottom = (line if letter in look.rule else none for letter in "lrtb")
        cell.border = Border(left=left, right=right, top=top, bottom=bottom)
    cell.number_format = look.number


def _width(sheet: Worksheet, column: int) -> float:
    dimension = sheet.column_dimensions.get(get_column_letter(column))
    return dimension.width if dimension is not None and dimension.width else 8.43
