"""The customer's quote as a workbook to print and sign.

It is laid out from the stored document alone and holds values, no formulas. Nothing
of the shop's own goes in: no cost, rate, margin, minute, hidden sheet or property.
Begin at `write_quote_book`.
"""

import base64
import re
from decimal import Decimal
from io import BytesIO
from pathlib import Path

from openpyxl.drawing.image import Image
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
from openpyxl.drawing.xdr import XDRPositiveSize2D
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.pricing.answers import BreakPrice
from shopquote.calc.pricing.document import Address, PartPicture, QuoteDocument
from shopquote.calc.pricing.price import DISCOUNT_LINE, MINIMUM_LINE, RUSH_LINE, SET_LINE
from shopquote.outputs.books.book import Book, new_book, put, put_across, safe_file_name, set_page, set_widths
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.quote_words import Voice, voice_of
from shopquote.outputs.books.style import (
    ACCENT,
    CAUTION,
    HEAD,
    HEAD_RIGHT,
    HEADING,
    LABEL,
    NOTE,
    PLAIN,
    SHADE,
    TITLE,
    WHOLE,
    WRAPPED,
    Style,
    money_style,
)
from shopquote.outputs.drawings.part_pictures import part_picture

# Twelve equal columns: every block of the paper is some of them side by side.
COLUMNS = 12
COLUMN_WIDTH = 7.9
# So many pictures stay on the front page; more get a sheet of their own.
PICTURES_ON_FRONT = 6
# Beyond so many parts the list of parts goes without pictures, which would make the file too heavy to send.
MOST_PICTURES = 300
# Height in points that one page takes when shrunk to no less than four fifths.
_ONE_PAGE_POINTS = {"A4": 930.0, "Letter": 870.0}
_BIG = WRAPPED.but(bold=True, size=11)
_STRONG = PLAIN.but(bold=True)


def write_quote_book(document: QuoteDocument, folder: Path) -> Path:
    """Write the quote of a document into a folder; returns the file.

    Raises:
        InputError: the folder cannot be written.
    """
    path = folder / safe_file_name(f"Quote {document.number} r{document.revision} {document.title[:40]}")
    return save_book(quote_book(document), path)


def quote_book(document: QuoteDocument) -> Book:
    """The customer's workbook, not yet written."""
    voice = voice_of(document.wording.locale, document.priced.currency)
    book = new_book(f"{voice['quote']} {document.number}", document.shop.name)
    sheet = book.add(voice["quote"])
    on_front = 0 < len(document.parts) <= PICTURES_ON_FRONT
    last = _Front(sheet, document, voice).lay_out(with_pictures=on_front)
    footer = f"{document.shop.name} · {document.number} · {voice['revision']} {document.revision}"
    paper = document.wording.paper
    one_page = _height(sheet, last) <= _ONE_PAGE_POINTS[paper]
    set_page(sheet, paper=paper, last_row=last, last_column=COLUMNS, one_page=one_page, footer=footer)
    if document.parts and not on_front:
        parts = book.add(voice["parts"])
        rows = _lay_out_parts(parts, document, voice)
        set_page(parts, paper=paper, last_row=rows, last_column=7, head_rows="1:3", footer=footer)
    return book


class _Front:
    """Lays the front page out from the top down; `row` is the next free row."""

    def __init__(self, sheet: Worksheet, document: QuoteDocument, voice: Voice) -> None:
        self.sheet, self.document, self.voice = sheet, document, voice
        self.money = money_style(document.priced.currency)
        self.row = 1
        set_widths(sheet, [COLUMN_WIDTH] * COLUMNS)

    def lay_out(self, *, with_pictures: bool) -> int:
        """Everything; returns the last row used."""
        self._letterhead()
        self._addresses()
        self._lines()
        self._totals()
        if with_pictures:
            self._pictures()
        self._breaks()
        self._terms()
        self._cautions()
        self._acceptance()
        return self.row - 1

    def _letterhead(self) -> None:
        shop = self.document.shop
        put_across(self.sheet, self.row, 1, 8, shop.name, TITLE)
        self.sheet.row_dimensions[self.row].height = 26
        lines = [*shop.address.splitlines(), " · ".join(filter(None, (shop.email, shop.phone)))]
        if shop.tax_number:
            lines.append(f"{self.voice['tax_number']} {shop.tax_number}")
        self.row += 1
        for line in filter(None, lines):
            put_across(self.sheet, self.row, 1, 8, line, LABEL)
            self.row += 1
        if self.document.wording.logo:
            _add_logo(self.sheet, self.document.wording.logo)
            self.row = max(self.row, 5)
        for column in range(1, COLUMNS + 1):
            put(self.sheet, self.row, column, None, PLAIN.but(fill=ACCENT))
        self.sheet.row_dimensions[self.row].height = 3
        self.row += 1
        if self.document.wording.invented:
            put_across(self.sheet, self.row, 1, COLUMNS, self.voice["invented"], LABEL.but(italic=True))
            self.row += 1

    def _addresses(self) -> None:
        self._gap(6)
        document, voice, top = self.document, self.voice, self.row
        put_across(self.sheet, self.row, 1, 6, voice["for"], LABEL)
        self.row += 1
        for number, line in enumerate(_address_lines(document.customer)):
            put_across(self.sheet, self.row, 1, 6, line, _BIG if number == 0 else WRAPPED)
            self.row += 1
        facts = [
            (voice["quote"], f"{document.number}, {voice['revision']} {document.revision}"),
            (voice["date"], voice.day(document.issued_on)),
            (voice["valid_until"], voice.day(document.valid_until)),
            (voice["job"], document.job),
        ]
        if document.revision > 1:
            facts.append((voice["replaces"], f"{voice['revision']} {document.revision - 1}"))
        if document.due is not None:
            facts.append((voice["due"], voice.day(document.due)))
        for offset, (name, value) in enumerate(facts):
            put_across(self.sheet, top + offset, 8, 9, name, LABEL)
            put_across(self.sheet, top + offset, 10, COLUMNS, value, _STRONG if offset == 0 else PLAIN)
        self.row = max(self.row, top + len(facts))
        self._gap(8)
        put_across(self.sheet, self.row, 1, COLUMNS, document.title, HEADING.but(wrap=True))
        self.row += 1

    def _lines(self) -> None:
        voice, currency = self.voice, self.document.priced.currency
        heads = (
            (1, 1, voice["number"], HEAD), (2, 6, voice["what"], HEAD), (7, 8, voice["quantity"], HEAD_RIGHT),
            (9, 10, f"{voice['unit_price']}, {currency}", HEAD_RIGHT),
            (11, COLUMNS, f"{voice['amount']}, {currency}", HEAD_RIGHT),
        )  # fmt: skip
        for first, last, text, look in heads:
            put_across(self.sheet, self.row, first, last, text, look)
        self.sheet.row_dimensions[self.row].height = 20
        self.row += 1
        for number, line in enumerate(self.document.priced.lines, start=1):
            put(self.sheet, self.row, 1, number, WHOLE.but(across="left", rule="b"))
            put_across(
                self.sheet, self.row, 2, 6, self._line_text(line.key, line.text), WRAPPED.but(rule="b")
            )
            put_across(self.sheet, self.row, 7, 8, line.quantity, WHOLE.but(rule="b"))
            put_across(self.sheet, self.row, 9, 10, line.unit_price, self.money.but(rule="b"))
            put_across(self.sheet, self.row, 11, COLUMNS, line.amount, self.money.but(rule="b"))
            self.row += 1

    def _line_text(self, key: str, text: str) -> str:
        if key in (RUSH_LINE, DISCOUNT_LINE, MINIMUM_LINE):
            return self.voice[key]
        if key != SET_LINE:
            return text
        if text == self.document.title:
            return f"{text}, {self.voice['set_line']}"
        return f"{self.document.title}: {self.voice['joining']}"

    def _totals(self) -> None:
        priced, voice = self.document.priced, self.voice
        rows: list[tuple[str, Decimal]] = [(voice["net"], priced.net)]
        rows += [(f"{tax.name} {voice.percent(tax.percent)} %", tax.amount) for tax in priced.taxes]
        for text, amount in rows:
            put_across(self.sheet, self.row, 7, 10, text, PLAIN.but(across="right", down="center"))
            put_across(self.sheet, self.row, 11, COLUMNS, amount, self.money.but(down="center"))
            self._at_least(16)
        if not priced.taxes:
            word = voice["exempt"] if self.document.tax_exempt else voice["no_tax"]
            put_across(self.sheet, self.row, 7, COLUMNS, word, LABEL.but(across="right"))
            self.row += 1
        total = PLAIN.but(bold=True, size=12, fill=SHADE, rule="t", down="center")
        text = f"{voice['total']}, {priced.currency}"
        put_across(self.sheet, self.row, 7, 10, text, total.but(across="right"))
        put_across(
            self.sheet,
            self.row,
            11,
            COLUMNS,
            priced.total,
            total.but(across="right", number=self.money.number),
        )
        self.sheet.row_dimensions[self.row].height = 22
        self.row += 1

    def _pictures(self) -> None:
        """Three pictures side by side, the words of each below it."""
        self._gap(8)
        parts = self.document.parts
        for start in range(0, len(parts), 3):
            shown = parts[start : start + 3]
            self.sheet.row_dimensions[self.row].height = 84
            for place, part in enumerate(shown):
                if len(part.line_mm) >= 2:
                    _add_picture(self.sheet, part, self.row, 1 + 4 * place, 200, 108)
            self.row += 1
            words = [_part_words(part, self.voice) for part in shown]
            for place, text in enumerate(words):
                put_across(
                    self.sheet,
                    self.row,
                    1 + 4 * place,
                    4 + 4 * place,
                    text,
                    NOTE.but(across="center", size=8),
                )
            self.row += 1

    def _breaks(self) -> None:
        priced, voice = self.document.priced, self.voice
        if not priced.breaks:
            return
        self._gap(8)
        put_across(self.sheet, self.row, 1, COLUMNS, voice["breaks"], HEADING)
        self.row += 1
        heads = (
            (1, 2, voice["sets"], HEAD_RIGHT),
            (3, 5, f"{voice['price_of_set']}, {priced.currency}", HEAD_RIGHT),
            (6, 8, f"{voice['total_net']}, {priced.currency}", HEAD_RIGHT),
            (9, COLUMNS, voice["note"], HEAD.but(across="left", indent=1)),
        )  # fmt: skip
        for first, last, text, look in heads:
            put_across(self.sheet, self.row, first, last, text, look)
        self._at_least(18)
        for step in priced.breaks:
            put_across(self.sheet, self.row, 1, 2, step.sets, _in_table(WHOLE))
            put_across(self.sheet, self.row, 3, 5, step.unit_price, _in_table(self.money))
            put_across(self.sheet, self.row, 6, 8, step.total, _in_table(self.money))
            better = self._better(step)
            put_across(self.sheet, self.row, 9, COLUMNS, better, _in_table(NOTE.but(across="left", indent=1)))
            self._at_least(17)

    def _better(self, step: BreakPrice) -> str:
        """Words where a larger quantity costs hardly more."""
        if step.better is None:
            return ""
        larger, more = step.better
        if more <= 0:
            return self.voice["better_none"].format(sets=larger)
        return self.voice["better_some"].format(sets=larger, more=self.voice.money(more))

    def _terms(self) -> None:
        self._gap(8)
        words, voice, total = self.document.wording, self.voice, self.document.priced.total
        deposit = ""
        if words.deposit_pct:
            amount = _share(total, words.deposit_pct, self.document.priced.currency)
            deposit = voice["deposit_words"].format(
                pct=voice.percent(words.deposit_pct), amount=voice.money(amount)
            )
        content = voice.content(self.document.content)
        for name, text in (
            ("included", words.included), ("in_set", content), ("excluded", words.excluded),
            ("lead_time", words.lead_time), ("delivery", words.delivery_term), ("deposit", deposit),
            ("terms", words.terms),
        ):  # fmt: skip
            if text:
                put_across(self.sheet, self.row, 1, 2, voice[name], LABEL)
                put_across(self.sheet, self.row, 3, COLUMNS, voice.term(text), WRAPPED.but(size=9))
                self.row += 1

    def _cautions(self) -> None:
        if not self.document.cautions:
            return
        self._gap(6)
        for number, caution in enumerate(self.document.cautions):
            put_across(self.sheet, self.row, 1, 2, self.voice["cautions"] if number == 0 else None, CAUTION)
            put_across(self.sheet, self.row, 3, COLUMNS, self.voice.caution(caution), CAUTION)
            self.row += 1

    def _acceptance(self) -> None:
        self._gap(10)
        voice = self.voice
        put_across(self.sheet, self.row, 1, COLUMNS, voice["accept"], HEADING.but(rule="t", down="bottom"))
        self._at_least(22)
        put_across(self.sheet, self.row, 1, COLUMNS, voice["accept_words"], WRAPPED.but(size=9))
        self.row += 1
        blanks = [(voice["name"], voice["order_number"]), (voice["signature"], voice["date"])]
        if self.document.priced.breaks:
            blanks.append((voice["chosen"], ""))
        for left, right in blanks:
            self.sheet.row_dimensions[self.row].height = 24
            low = LABEL.but(down="bottom")
            put_across(self.sheet, self.row, 1, 2, left, low)
            put_across(self.sheet, self.row, 3, 6, None, low.but(rule="b"))
            if right:
                put_across(self.sheet, self.row, 7, 8, right, low)
                put_across(self.sheet, self.row, 9, COLUMNS, None, low.but(rule="b"))
            self.row += 1

    def _at_least(self, points: float) -> None:
        """Make the row at least this tall and go to the next one."""
        held = self.sheet.row_dimensions[self.row].height
        self.sheet.row_dimensions[self.row].height = max(points, held or 0)
        self.row += 1

    def _gap(self, points: float) -> None:
        self.sheet.row_dimensions[self.row].height = points
        self.row += 1


def _lay_out_parts(sheet: Worksheet, document: QuoteDocument, voice: Voice) -> int:
    """A sheet with a picture and the words of each part; returns the last row."""
    set_widths(sheet, [31, 8, 20, 18, 10, 8, 24])
    put_across(sheet, 1, 1, 7, f"{voice['parts']}: {document.title}", HEADING.but(wrap=True))
    put_across(sheet, 2, 1, 7, voice["page_note"], LABEL)
    heads = ("", voice["mark"], voice["part"], voice["bar"], voice["grade"], voice["per_set"], voice["size"])
    for column, text in enumerate(heads, start=1):
        put(sheet, 3, column, text, HEAD)
    pictured = len(document.parts) <= MOST_PICTURES
    for row, part in enumerate(document.parts, start=4):
        size = _size_words(part, voice)
        sheet.row_dimensions[row].height = max(92 if pictured else 28, 14 * len(size.splitlines()))
        if pictured and len(part.line_mm) >= 2:
            _add_picture(sheet, part, row, 1)
        looks = WRAPPED.but(rule="b", down="center")
        for column, value in enumerate(
            (None, part.mark, part.name, voice.bar(part.bar), part.grade, part.per_set, size), start=1
        ):
            put(sheet, row, column, value, looks.but(across="center") if column == 6 else looks)
    return 3 + len(document.parts)


def _in_table(look: Style) -> Style:
    return look.but(rule="b", down="center")


def _part_words(part: PartPicture, voice: Voice) -> str:
    words = [
        f"{part.mark}  {part.name}, {part.per_set} x",
        f"{voice.bar(part.bar)} {part.grade}, {part.size}",
    ]
    words += [_hole_words(part, voice)] if part.holes else []
    return "\n".join([*words, *_end_words(part, voice)])


def _size_words(part: PartPicture, voice: Voice) -> str:
    """Size over all, holes and worked ends, a line each."""
    holes = [f"{voice['holes']}: {_hole_words(part, voice)}"] if part.holes else []
    return "\n".join([part.size, *holes, *_end_words(part, voice)])


def _end_words(part: PartPicture, voice: Voice) -> list[str]:
    """Ends of a piece that are turned and threaded, a line each."""
    ends = (("turned", part.turned), ("threaded", part.threaded))
    return [f"{voice[work]}: {count}" for work, count in ends if count]


def _hole_words(part: PartPicture, voice: Voice) -> str:
    """The holes as they are kept, such as "2 x dia 8 tapped", in the language of the paper."""
    return re.sub(r"\b(dia|tapped|countersunk)\b", lambda word: voice[word[0]], part.holes)


def _address_lines(address: Address) -> list[str]:
    return [address.name, *address.address.splitlines(), *filter(None, (address.email, address.phone))]


def _share(total: Decimal, percent: Decimal, currency: str) -> Decimal:
    from shopquote.calc.money import round_money

    return round_money(total * percent / 100, currency)


def _height(sheet: Worksheet, last: int) -> float:
    """Height of the rows in points; a row without a height of its own has 13."""
    return sum(float(sheet.row_dimensions[row].height or 13) for row in range(1, last + 1))


def _add_picture(
    sheet: Worksheet, part: PartPicture, row: int, column: int, width: int = 205, height: int = 112
) -> None:
    picture = Image(BytesIO(part_picture(part.line_mm, part.depth_mm, width, height, part.twists)))
    _place(sheet, picture, row, column, width, height, 6)


def _add_logo(sheet: Worksheet, logo: str) -> None:
    """The shop's logo at the top right, at most 190 by 64 pixels."""
    picture = Image(BytesIO(base64.b64decode(logo)))
    scale = min(190 / picture.width, 64 / picture.height)
    _place(sheet, picture, 1, 10, int(picture.width * scale), int(picture.height * scale), 0)


def _emu(pixels: int) -> int:
    """Pixels at 96 an inch in the drawing's own unit, 914 400 an inch."""
    return pixels * 9525


def _place(
    sheet: Worksheet, picture: Image, row: int, column: int, width: int, height: int, inset: int
) -> None:
    mark = AnchorMarker(col=column - 1, colOff=_emu(inset), row=row - 1, rowOff=_emu(4))
    size = XDRPositiveSize2D(_emu(width), _emu(height))
    picture.anchor = OneCellAnchor(_from=mark, ext=size)
    sheet.add_image(picture)
