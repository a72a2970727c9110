"""The customer's quote as a workbook to print and sign.

It is laid out from the stored document alone and holds values, no formulas. Nothing
internal goes in: no cost, rate, margin, minute, hidden sheet or document property.
Begin at `write_quote_book`.
"""

import base64
from decimal import Decimal
from io import BytesIO
from pathlib import Path

from openpyxl.drawing.image import Image
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.address import Address
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.priced_quote import BreakPrice, QuoteLine
from shopquote.outputs.books.book import (
    Bands,
    Book,
    new_book,
    put_line,
    safe_file_name,
    set_page,
    set_widths,
)
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.quote_parts import (
    add_picture,
    lay_out_parts,
    part_words,
    place_picture,
    quote_file_name,
)
from shopquote.outputs.books.sheet_table import Theme, draw
from shopquote.outputs.books.style import ACCENT, CAUTION, HEADING, LABEL, NOTE, PLAIN, SHADE, TITLE, WRAPPED
from shopquote.outputs.looks import COUNT, MONEY, Setting
from shopquote.outputs.quote_words import Voice, voice_of
from shopquote.outputs.table import Column, Table

# A grid of twelve equal columns; every block of the paper spans some of them.
COLUMNS = 12
COLUMN_WIDTH = 7.9
# More pictures than this go on a sheet of their own.
PICTURES_ON_FRONT = 6
# Sums go below the amounts, with their names to the left.
AMOUNT_SPAN = 2
_LETTERHEAD = Bands(words=8, gap=1, logo=3)
_PARTIES = Bands(customer=6, gap=1, name=2, value=3)
_SUMS = Bands(rest=6, name=4, amount=AMOUNT_SPAN)
_NO_TAX = Bands(rest=6, words=6)
_PICTURES = Bands(left=4, middle=4, right=4)
_TERMS = Bands(name=2, text=10)
_TO_FILL_IN = Bands(left=2, left_line=4, right=2, right_line=4)
# Height in points that fits on one page at a scale of at least four fifths.
_ONE_PAGE_POINTS = {"A4": 930.0, "Letter": 870.0}
_BIG = WRAPPED.but(bold=True, size=11)
_STRONG = PLAIN.but(bold=True)
_LINED = Theme(WRAPPED.but(rule="b", down="center"), head_height=20, row_height=17)

Numbered = tuple[int, QuoteLine]


def write_quote_book(document: QuoteDocument, folder: Path) -> Path:
    """Write the quote of a document into a folder; returns the file.

    Raises:
        InputError: the folder cannot be written.
    """
    path = folder / safe_file_name(quote_file_name(document))
    return save_book(quote_book(document), path)


def quote_book(document: QuoteDocument) -> Book:
    """The customer's workbook, in memory."""
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
        drawn = lay_out_parts(parts, document, voice)
        set_page(parts, paper=paper, head_rows=f"1:{drawn.head}", footer=footer)
    return book


class _Front:
    """Draws the front page from the top down; `row` is the next free row."""

    def __init__(self, sheet: Worksheet, document: QuoteDocument, voice: Voice) -> None:
        self.sheet, self.document, self.voice = sheet, document, voice
        self.setting = Setting(document.priced.currency)
        self.money = PLAIN.but(across="right", number=MONEY.number(self.setting))
        self.row = 1
        set_widths(sheet, [COLUMN_WIDTH] * COLUMNS)

    def lay_out(self, *, with_pictures: bool) -> int:
        """Draw everything; returns the last row used."""
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
        _LETTERHEAD.put(self.sheet, self.row, "words", shop.name, TITLE)
        self.sheet.row_dimensions[self.row].height = 26
        lines = [*shop.address.splitlines(), " · ".join(filter(None, (shop.email, shop.phone)))]
        if shop.tax_number:
            lines.append(f"{self.voice['tax_number']} {shop.tax_number}")
        self.row += 1
        for line in filter(None, lines):
            _LETTERHEAD.put(self.sheet, self.row, "words", line, LABEL)
            self.row += 1
        if self.document.wording.logo:
            _add_logo(self.sheet, self.document.wording.logo)
            self.row = max(self.row, 5)
        put_line(self.sheet, self.row, COLUMNS, None, PLAIN.but(fill=ACCENT))
        self.sheet.row_dimensions[self.row].height = 3
        self.row += 1
        if self.document.wording.invented:
            put_line(self.sheet, self.row, COLUMNS, self.voice["invented"], LABEL.but(italic=True))
            self.row += 1

    def _addresses(self) -> None:
        self._gap(6)
        document, voice, top = self.document, self.voice, self.row
        _PARTIES.put(self.sheet, self.row, "customer", voice["for"], LABEL)
        self.row += 1
        for number, line in enumerate(_address_lines(document.customer)):
            _PARTIES.put(self.sheet, self.row, "customer", line, _BIG if number == 0 else WRAPPED)
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
        facts += [(voice["drawing"], document.drawing)] if document.drawing else []
        facts += [(voice["enquiry"], document.enquiry)] if document.enquiry else []
        for offset, (name, value) in enumerate(facts):
            _PARTIES.put(self.sheet, top + offset, "name", name, LABEL)
            _PARTIES.put(self.sheet, top + offset, "value", value, _STRONG if offset == 0 else PLAIN)
        self.row = max(self.row, top + len(facts))
        self._gap(8)
        put_line(self.sheet, self.row, COLUMNS, document.title, HEADING.but(wrap=True))
        self.row += 1
        for text in document.description.splitlines():
            put_line(self.sheet, self.row, COLUMNS, text, WRAPPED)
            self.row += 1

    def _lines(self) -> None:
        """Draw the numbered lines of the quote."""
        rows = list(enumerate(self.document.priced.lines, start=1))
        drawn = draw(
            self.sheet, Table(self._line_columns(), rows, setting=self.setting), self.row, theme=_LINED
        )
        self.row = drawn.below

    def _line_columns(self) -> tuple[Column[Numbered], ...]:
        voice = self.voice
        return (
            Column(voice["number"], lambda row: row[0], COUNT),
            Column(voice["what"], lambda row: voice.line(self.document, row[1]), span=5),
            Column(voice["quantity"], lambda row: row[1].quantity, COUNT, span=2),
            Column(f"{voice['unit_price']}, {{currency}}", lambda row: row[1].unit_price, MONEY, span=2),
            Column(f"{voice['amount']}, {{currency}}", lambda row: row[1].amount, MONEY, span=AMOUNT_SPAN),
        )

    def _totals(self) -> None:
        priced, voice = self.document.priced, self.voice
        rows: list[tuple[str, Decimal]] = [(voice["net"], priced.net)]
        rows += [(f"{tax.name} {voice.percent(tax.percent)} %", tax.amount) for tax in priced.taxes]
        for text, amount in rows:
            _SUMS.put(self.sheet, self.row, "name", text, PLAIN.but(across="right", down="center"))
            _SUMS.put(self.sheet, self.row, "amount", amount, self.money.but(down="center"))
            self._at_least(16)
        if not priced.taxes:
            word = voice["exempt"] if self.document.tax_exempt else voice["no_tax"]
            _NO_TAX.put(self.sheet, self.row, "words", word, LABEL.but(across="right"))
            self.row += 1
        total = PLAIN.but(bold=True, size=12, fill=SHADE, rule="t", down="center", across="right")
        text = f"{voice['total']}, {priced.currency}"
        _SUMS.put(self.sheet, self.row, "name", text, total)
        number = total.but(number=self.money.number)
        _SUMS.put(self.sheet, self.row, "amount", priced.total, number)
        self._at_least(22)

    def _pictures(self) -> None:
        """Draw three pictures side by side, each with its words below."""
        self._gap(8)
        parts = self.document.parts
        side_by_side = ("left", "middle", "right")
        below = NOTE.but(across="center", size=8)
        for start in range(0, len(parts), len(side_by_side)):
            shown = list(zip(side_by_side, parts[start : start + len(side_by_side)], strict=False))
            self.sheet.row_dimensions[self.row].height = 84
            for band, part in shown:
                if len(part.line_mm) >= 2:
                    add_picture(self.sheet, part, self.row, _PICTURES.first(band), 200, 108)
            self.row += 1
            for band, part in shown:
                _PICTURES.put(self.sheet, self.row, band, part_words(part, self.voice), below)
            self.row += 1

    def _breaks(self) -> None:
        priced, voice = self.document.priced, self.voice
        if not priced.breaks:
            return
        self._gap(8)
        put_line(self.sheet, self.row, COLUMNS, voice["breaks"], HEADING)
        self.row += 1
        columns: tuple[Column[BreakPrice], ...] = (
            Column(voice["sets"], lambda step: step.sets, COUNT, span=2),
            Column(f"{voice['price_of_set']}, {{currency}}", lambda step: step.unit_price, MONEY, span=3),
            Column(f"{voice['total_net']}, {{currency}}", lambda step: step.total, MONEY, span=3),
            Column(voice["note"], voice.better, span=4),
        )
        drawn = draw(self.sheet, Table(columns, priced.breaks, setting=self.setting), self.row, theme=_LINED)
        self.row = drawn.below

    def _terms(self) -> None:
        self._gap(8)
        for name, text in self.voice.terms(self.document):
            _TERMS.put(self.sheet, self.row, "name", self.voice[name], LABEL)
            _TERMS.put(self.sheet, self.row, "text", text, WRAPPED.but(size=9))
            self.row += 1

    def _cautions(self) -> None:
        if not self.document.cautions:
            return
        self._gap(6)
        for number, caution in enumerate(self.document.cautions):
            _TERMS.put(self.sheet, self.row, "name", None if number else self.voice["cautions"], CAUTION)
            _TERMS.put(self.sheet, self.row, "text", self.voice.caution(caution), CAUTION)
            self.row += 1

    def _acceptance(self) -> None:
        self._gap(10)
        voice = self.voice
        put_line(self.sheet, self.row, COLUMNS, voice["accept"], HEADING.but(rule="t", down="bottom"))
        self._at_least(22)
        put_line(self.sheet, self.row, COLUMNS, voice["accept_words"], WRAPPED.but(size=9))
        self.row += 1
        blanks = [(voice["name"], voice["order_number"]), (voice["signature"], voice["date"])]
        if self.document.priced.breaks:
            blanks.append((voice["chosen"], ""))
        if self.document.priced.several_jobs:
            blanks.append((voice["only_jobs"], ""))
        for left, right in blanks:
            self.sheet.row_dimensions[self.row].height = 24
            low = LABEL.but(down="bottom")
            _TO_FILL_IN.put(self.sheet, self.row, "left", left, low)
            _TO_FILL_IN.put(self.sheet, self.row, "left_line", None, low.but(rule="b"))
            if right:
                _TO_FILL_IN.put(self.sheet, self.row, "right", right, low)
                _TO_FILL_IN.put(self.sheet, self.row, "right_line", None, low.but(rule="b"))
            self.row += 1

    def _at_least(self, points: float) -> None:
        """Make the row at least this tall and go to the next one."""
        held = self.sheet.row_dimensions[self.row].height
        self.sheet.row_dimensions[self.row].height = max(points, held or 0)
        self.row += 1

    def _gap(self, points: float) -> None:
        self.sheet.row_dimensions[self.row].height = points
        self.row += 1


def _address_lines(address: Address) -> list[str]:
    return [address.name, *address.address.splitlines(), *filter(None, (address.email, address.phone))]


def _height(sheet: Worksheet, last: int) -> float:
    """Height of the rows in points; a row without a height of its own has 13."""
    return sum(float(sheet.row_dimensions[row].height or 13) for row in range(1, last + 1))


def _add_logo(sheet: Worksheet, logo: str) -> None:
    """The shop's logo at the top right, at most 190 by 64 pixels."""
    picture = Image(BytesIO(base64.b64decode(logo)))
    scale = min(190 / picture.width, 64 / picture.height)
    place_picture(
        sheet,
        picture,
        1,
        _LETTERHEAD.first("logo"),
        int(picture.width * scale),
        int(picture.height * scale),
        0,
    )
