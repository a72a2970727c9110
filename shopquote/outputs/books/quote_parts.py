"""The parts on a customer's paper: pictures, sizes, holes and ends; for many parts, a list."""

import re
from io import BytesIO

from openpyxl.drawing.image import Image
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
from openpyxl.drawing.xdr import XDRPositiveSize2D
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.pricing.document import PartPicture, QuoteDocument
from shopquote.outputs.books.book import put_line
from shopquote.outputs.books.sheet_table import Drawn, Theme, draw, widen
from shopquote.outputs.books.style import HEADING, LABEL, WRAPPED
from shopquote.outputs.drawings.part_pictures import part_picture
from shopquote.outputs.looks import COUNT
from shopquote.outputs.quote_words import Voice, voice_of
from shopquote.outputs.table import Column, Table

# With more parts the list has no pictures, which would make the file too large to send.
MOST_PICTURES = 300
_HEAD_ROW = 3
_PICTURED, _PLAIN = 92.0, 28.0


def part_columns(voice: Voice) -> tuple[Column[PartPicture], ...]:
    """The columns of the list of parts, in the language of the paper."""
    return (
        Column("", lambda part: None, width=31),
        Column(voice["mark"], lambda part: part.mark, width=8),
        Column(voice["part"], lambda part: part.name, width=20),
        Column(voice["bar"], lambda part: voice.bar(part.bar), width=18),
        Column(voice["grade"], lambda part: part.grade, width=10),
        Column(voice["per_set"], lambda part: part.per_set, COUNT, 8),
        Column(voice["size"], lambda part: size_words(part, voice), width=24),
    )


def lay_out_parts(sheet: Worksheet, document: QuoteDocument, voice: Voice) -> Drawn[PartPicture]:
    """A sheet with a picture and the words of each part."""
    columns = part_columns(voice)
    picture, *_ = columns
    widen(sheet, columns)
    last = len(columns)
    put_line(sheet, 1, last, f"{voice['parts']}: {document.title}", HEADING.but(wrap=True))
    put_line(sheet, 2, last, voice["page_note"], LABEL)
    pictured = len(document.parts) <= MOST_PICTURES
    cell = WRAPPED.but(rule="b", down="center")
    theme = Theme(cell, figures="center", row_height=_PICTURED if pictured else _PLAIN)
    drawn = draw(sheet, Table(columns, document.parts), _HEAD_ROW, theme=theme)
    for row, part in enumerate(document.parts, start=drawn.first):
        lines = 14.0 * len(size_words(part, voice).splitlines())
        sheet.row_dimensions[row].height = max(sheet.row_dimensions[row].height or 0, lines)
        if pictured and len(part.line_mm) >= 2:
            add_picture(sheet, part, row, drawn.place(picture))
    return drawn


def quote_file_name(document: QuoteDocument) -> str:
    """The name of the customer's files in the customer's language, without an ending."""
    voice = voice_of(document.wording.locale, document.priced.currency)
    return f"{voice['quote']} {document.number} r{document.revision} {document.title[:40]}"


def part_words(part: PartPicture, voice: Voice) -> str:
    """The words below a picture on the front page."""
    words = [
        f"{part.mark}  {part.name}, {part.per_set} x",
        f"{voice.bar(part.bar)} {part.grade}",
        part.size,
    ]
    words += [_hole_words(part, voice)] if part.holes else []
    return "\n".join([*words, *_spiral_words(part, voice), *_end_words(part, voice)])


def size_words(part: PartPicture, voice: Voice) -> str:
    """Lines for overall size, holes and worked ends."""
    holes = [f"{voice['holes']}: {_hole_words(part, voice)}"] if part.holes else []
    return "\n".join([part.size, *holes, *_spiral_words(part, voice), *_end_words(part, voice)])


def _spiral_words(part: PartPicture, voice: Voice) -> list[str]:
    """A line for each scroll, with what its radii are measured to."""
    return [f"{voice[word]} {radii} {voice[f'to_{of}']}" for word, radii, of in part.spirals]


def _end_words(part: PartPicture, voice: Voice) -> list[str]:
    """Lines for the ends of a piece that are turned and threaded."""
    ends = (("turned", part.turned), ("threaded", part.threaded))
    return [f"{voice[work]}: {count}" for work, count in ends if count]


_HOLE_WORDS = re.compile(
    r"\b(dia|tapped|countersunk|counterbored|reamed|drifted|slotted|blind|in the end|one wall)\b"
)


def _hole_words(part: PartPicture, voice: Voice) -> str:
    """A stored text of holes, such as "2 x dia 8 tapped", in the language of the paper."""
    return _HOLE_WORDS.sub(lambda word: voice[word[0]], part.holes)


def add_picture(
    sheet: Worksheet, part: PartPicture, row: int, column: int, width: int = 205, height: int = 112
) -> None:
    """Place a part's picture over a cell, in a box of so many pixels."""
    picture = Image(BytesIO(part_picture(part.line_mm, part.depth_mm, width, height, part.twists)))
    place_picture(sheet, picture, row, column, width, height, 6)


def _emu(pixels: int) -> int:
    """Pixels (96 to the inch) in EMU (914 400 to the inch)."""
    return pixels * 9525


def place_picture(
    sheet: Worksheet, picture: Image, row: int, column: int, width: int, height: int, inset: int
) -> None:
    """Place a picture over a cell, `inset` pixels from its left edge; all sizes in pixels."""
    mark = AnchorMarker(col=column - 1, colOff=_emu(inset), row=row - 1, rowOff=_emu(4))
    size = XDRPositiveSize2D(_emu(width), _emu(height))
    picture.anchor = OneCellAnchor(_from=mark, ext=size)
    sheet.add_image(picture)
