"""Labels for rack pieces, with a code to scan, as a sheet to print and cut.

The code to scan is a QR code (ISO/IEC 18004) that holds the piece's code and
nothing else, so that any scanner types what `shopquote rack use` takes.
"""

from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.outputs.books.book import Bands, Book, new_book, set_page, set_widths
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.style import HEADING, LABEL, PLAIN, Style
from shopquote.reading.kinds.documents import printed_code

ACROSS = 3
_SCAN_WIDTH, _TEXT_WIDTH = 12.0, 21.0
# In EMU, the unit of workbook drawings: 36 000 to the millimetre.
SCAN_SIDE, _OFF_THE_EDGE = 800_000, 38_000


@dataclass(frozen=True, slots=True)
class Label:
    """The text of one label; empty lines stay empty."""

    code: str
    bar: str
    length: str
    heat: str
    place: str
    job: str = ""
    page: str = ""  # where the code opens


# The lines of a label from the top down: height in points, style, words.
LINES: tuple[tuple[float, Style, Callable[[Label], str]], ...] = (
    (18.0, HEADING, lambda label: label.code),
    (14.0, PLAIN.but(bold=True), lambda label: label.bar),
    (14.0, PLAIN, lambda label: label.length),
    (14.0, PLAIN, lambda label: f"heat {label.heat}" if label.heat else "heat not known"),
    (12.0, LABEL, lambda label: " · ".join(filter(None, (label.place, label.job and f"for {label.job}")))),
)


def write_labels(labels: Sequence[Label], path: Path, *, paper: str = "A4", author: str = "") -> Path:
    """Write a sheet of labels, three across.

    Raises:
        InputError: the file cannot be written.
    """
    return save_book(label_book(labels, paper=paper, author=author), path)


def label_book(labels: Sequence[Label], *, paper: str = "A4", author: str = "") -> Book:
    """The workbook in memory, with all labels on one sheet."""
    book = new_book("Rack labels", author)
    sheet = book.add("Labels")
    set_widths(sheet, [width for _ in range(ACROSS) for width in (_SCAN_WIDTH, _TEXT_WIDTH)])
    for i, label in enumerate(labels):
        _label(sheet, 1 + i // ACROSS * len(LINES), Bands(before=2 * (i % ACROSS), scan=1, text=1), label)
    set_page(
        sheet, paper=paper, last_column=2 * ACROSS, last_row=-(-max(1, len(labels)) // ACROSS) * len(LINES)
    )
    _break_between_labels(sheet, len(labels))
    return book


def scan_picture(code: str) -> bytes:
    """The PNG of a QR code that holds a piece's code."""
    import segno

    out = BytesIO()
    segno.make(code, error="m", micro=False).save(out, kind="png", scale=6, border=2)
    return out.getvalue()


def _label(sheet: Any, row: int, columns: Bands, label: Label) -> None:
    """Draw one label: the code to scan beside its lines, framed."""
    for number, (points, style, words) in enumerate(LINES):
        edge = ("t" if number == 0 else "") + ("b" if number == len(LINES) - 1 else "")
        sheet.row_dimensions[row + number].height = points
        columns.put(sheet, row + number, "scan", "", PLAIN.but(rule="l" + edge))
        columns.put(sheet, row + number, "text", words(label), style.but(rule="r" + edge), fit=False)
    put_scan(sheet, row, columns.first("scan"), printed_code(label.code, label.page))


def put_scan(
    sheet: Any, row: int, column: int, code: str, side: int = SCAN_SIDE, *, across: int = _OFF_THE_EDGE
) -> None:
    """Place a code to scan over a cell's upper left corner, clear of its edges so that borders show.

    `side` is its size, `across` its distance from the cell's left edge, both in EMU (36 000 to the
    millimetre).
    """
    from openpyxl.drawing.image import Image
    from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
    from openpyxl.drawing.xdr import XDRPositiveSize2D

    picture = Image(BytesIO(scan_picture(code)))
    corner = AnchorMarker(col=column - 1, colOff=across, row=row - 1, rowOff=_OFF_THE_EDGE)
    picture.anchor = OneCellAnchor(_from=corner, ext=XDRPositiveSize2D(side, side))
    sheet.add_image(picture)


def _break_between_labels(sheet: Any, count: int) -> None:
    """Break pages between labels, after every ten rows of labels."""
    from openpyxl.worksheet.pagebreak import Break

    rows = -(-count // ACROSS)
    for block in range(10, rows, 10):
        sheet.row_breaks.append(Break(id=block * len(LINES)))
