"""Read the rows of a supplier's price list by its column map. Begin at `read_line`."""

import re
from collections.abc import Mapping
from dataclasses import field
from datetime import date
from decimal import Decimal
from typing import Any

from shopquote.calc.bar.grades import Grade, find_grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.buying.prices import BASES, Basis, read_basis
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.calc.units import Length, Measure
from shopquote.errors import Fault, InputError, Misread, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.forms import Form, FormColumn, said_again
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import FileTable, TableRow

# A taught word is an entry of the supplier's column map, as "means rnd": "round".
MEANS = "means "
SAYS_NOTHING = "-"
STEP = re.compile(r"price from (\d+(?:\.\d+)?)(?: (kg|lb))?")
_QUALITY = re.compile(r"(S\d{3}) ?((?:JR|J0|J2|K2)(?: ?\+ ?[A-Z]{1,2})?)", re.IGNORECASE)
# Columns that lists often fill once for several rows: an empty cell repeats the one above.
_NAMED_ONCE = ("bar", "grade", "basis")
# Rules out a price or an article number in a column of counts.
_COUNT_MOST = 1_000_000
# A price list's columns, with headings common in the trade. Besides these it may have any number of columns
# "price from 500", the price from 500 kg of the item on, or "price from 2000 lb", the same in pounds.
PRICE_FORM = Form(
    (
        FormColumn(
            "bar", kinds.SECTION, needed=True,
            aliases=(
                "section", "size", "description", "item", "product", "profile", "dimension", "dimensions",
                "shape", "bezeichnung", "artikel", "abmessung", "profil", "désignation", "produit",
                "descripción", "artículo", "perfil",
            ),
        ),
        FormColumn("grade", kinds.GRADE, needed=True, aliases=(
            "quality", "material", "alloy", "steel", "werkstoff", "güte", "nuance", "qualité", "acier",
            "calidad",
        )),
        FormColumn("length", kinds.MEASURE, needed=True, aliases=(
            "bar length", "stock length", "len", "länge", "stablänge", "longueur", "longitud",
        )),
        FormColumn(
            "price", kinds.money(above=True), needed=True,
            aliases=(
                "unit price", "list price", "net price", "rate", "cost", "preis", "nettopreis", "prix",
                "precio",
            ),
        ),
        FormColumn(
            "basis", kinds.TEXT, needed=True,
            aliases=(
                "per", "price unit", "price per", "unit of price", "uom", "einheit", "preiseinheit",
                "unité", "unidad",
            ),
        ),
        FormColumn(
            "bundle", kinds.count(least=1, most=_COUNT_MOST).or_nothing,
            aliases=("pack", "bundle size", "pack size", "bars per bundle"),
        ),
        FormColumn(
            "limit", kinds.count(most=_COUNT_MOST).or_nothing, aliases=("available", "in stock", "stock")
        ),
        FormColumn("tolerance", kinds.length().or_nothing),
        FormColumn("standard", kinds.TEXT, aliases=("norm", "en")),
        FormColumn("condition", kinds.TEXT, aliases=("finish", "surface", "supply condition")),
        FormColumn("note", kinds.TEXT, aliases=("remark", "remarks")),
        FormColumn("valid from", kinds.DAY, aliases=("from date", "date", "effective", "valid")),
        FormColumn("unit", kinds.TEXT),
        FormColumn("from kg", kinds.number(), aliases=("from mass", "minimum kg", "break")),
    )
)  # fmt: skip
# A heading that states the unit of its lengths: "Length m", "Länge (mm)".
_WITH_UNIT = re.compile(r"(.+?)\s*[\s(\[](mm|m|ft|in)[)\]]?\.?", re.IGNORECASE)
# No bar on sale is shorter: metres were read as millimetres.
SHORTEST_BAR = Length.from_mm(50)
# Texts in place of a price that must be asked for, letters only, so that "P.O.A." is "poa".
_ON_REQUEST = frozenset(
    ("poa", "por", "onrequest", "onapplication", "priceonrequest", "priceonapplication", "call", "ask",
     "aufanfrage", "surdemande", "tba", "tbc")
)  # fmt: skip
# Before a unit of price, as "per kg" or "je m".
_PER = re.compile(r"^(?:per|je|pro|par|por) ")
# Units of price that are multiples of a basis. Tonnes are metric; a "ton" may be short, long or metric and is
# refused.
_MANY: Mapping[str, tuple[Basis, Decimal]] = {
    **dict.fromkeys(("t", "tonne", "tonnes", "te", "1000 kg", "1000kg"), ("kg", Decimal(1000))),
    **dict.fromkeys(("100 kg", "100kg"), ("kg", Decimal(100))),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One bar of a price list as read; `steps` are (from kg, price), rising."""

    row: int
    section: Section
    bar: str
    grade: str
    length: Measure
    basis: Basis
    steps: tuple[tuple[Decimal, Decimal], ...]
    bundle: int | None
    limit: int | None
    tolerance: Length | None
    standard: str
    condition: str
    note: str
    valid_from: date


@dataclass
class ListReading:
    """A price list while it is read: its column map, the faults found, and cells repeated from above.

    `strange_words` is set by a bar or grade that cannot be read, which teaching a word may cure.
    """

    table: FileTable
    columns: Mapping[str, str]
    notation: Notation
    on: date = date.min
    taught: Mapping[str, str] = field(default_factory=dict)
    strange_words: bool = False
    faults: list[Fault] = field(default_factory=list)
    _again: dict[str, dict[int, str]] = field(default_factory=dict)

    def text(self, row: TableRow, word: str) -> str:
        """The text of a row's column: a fixed text (=kg), one cell, or several joined (Shape + Size).

        An empty cell of bar, grade or basis repeats the one above, and "ditto" does in any column. In bar and
        grade the supplier's taught words are replaced by ours.
        """
        text = self._said(row, word)
        return in_our_words(text, self.taught) if self.taught and word in ("bar", "grade") else text

    def _said(self, row: TableRow, word: str) -> str:
        if word not in self._again:
            cells = ((one.number, self._own(one, word)) for one in self.table.rows)
            self._again[word] = said_again(cells, blank=word in _NAMED_ONCE)
        return self._again[word].get(row.number) or self._own(row, word)

    def _own(self, row: TableRow, word: str) -> str:
        place = self.columns.get(word, "")
        if place.startswith("="):
            return place[1:].strip()
        if place in row.cells:
            return row.cells[place].strip()
        return " ".join(row.cells.get(part.strip(), "").strip() for part in place.split(" + ")).strip()

    def is_heading(self, row: TableRow) -> bool:
        """Whether a row is empty in all columns but those of the bar, as a heading of a group is."""
        of_bar = {part.strip() for part in self.columns.get("bar", "").split(" + ")}
        told = {
            part.strip()
            for word, place in self.columns.items()
            if word != "bar" and not word.startswith(MEANS) and not place.startswith("=")
            for part in ([place] if place in row.cells else place.split(" + "))
        } - of_bar
        return bool(told) and not any(row.cells.get(heading, "").strip() for heading in told)

    def fault(self, row: TableRow, word: str, expected: str, near: str | None = None) -> None:
        """Add a fault of a row's cell."""
        found = repr(self.text(row, word)[:60])
        self.faults.append(
            Fault(
                self.table.path.name,
                "",
                f"row {row.number}",
                self.columns.get(word, word),
                found,
                expected,
                near,
            )
        )


def read_line(reading: ListReading, row: TableRow, grades: Mapping[str, Grade]) -> PriceLine | None:
    """A row as a line of the list; None, with its faults noted, if it cannot be used."""
    before = len(reading.faults)
    section, bar = _section(reading, row)
    grade = _grade(reading, row, grades)
    length = _length(reading, row)
    priced = _basis(reading, row)
    basis, many = priced or (None, Decimal(1))
    steps = tuple((mass, round_rate(price / many)) for mass, price in _steps(reading, row))
    bundle: int | None = _value(reading, row, "bundle")
    limit: int | None = _value(reading, row, "limit")
    tolerance = _tolerance(reading, row, length)
    valid_from: date = _value(reading, row, "valid from") or reading.on
    if len(reading.faults) > before or section is None or length is None or basis is None:
        return None
    texts = (reading.text(row, word)[:200] for word in ("standard", "condition", "note"))
    standard, condition, note = texts
    quality = _without_quality(reading.text(row, "grade"))[1] if grade != reading.text(row, "grade") else ""
    condition = ", ".join(part for part in (quality, condition) if part)[:200]
    return PriceLine(
        row.number,
        section,
        bar,
        grade,
        length,
        basis,
        steps,
        bundle,
        limit,
        tolerance,
        standard,
        condition,
        note,
        valid_from,
    )


def _section(reading: ListReading, row: TableRow) -> tuple[Section | None, str]:
    text = reading.text(row, "bar")
    try:
        return kinds.SECTION.read(text, reading.notation), text
    except Misread as error:
        reading.strange_words = True
        # Only the expected part of the sentence: the fault itself quotes what was found.
        expected = error.message.partition("expected ")[2].partition(". Did you mean")[0]
        if isinstance(error, TwoReadings):
            expected = error.expected
        reading.fault(row, "bar", (expected or error.message).rstrip("."), error.nearest)
        return None, text


def _grade(reading: ListReading, row: TableRow, grades: Mapping[str, Grade]) -> str:
    text = reading.text(row, "grade")
    for name in (text, _without_quality(text)[0]):
        try:
            # The full text first: a quality such as JR may be part of a grade's name on file.
            return find_grade(name, grades).name
        except InputError:
            continue
    reading.strange_words = True
    reading.fault(row, "grade", "a grade on file", nearest_word(text, grades))
    return text


def _without_quality(text: str) -> tuple[str, str]:
    """A structural steel's grade, and its quality and delivery condition.

    EN 10025-2 names steels so, by a plate seller's page and a public table: S355J2+N is S355 of quality J2,
    normalised.

    >>> _without_quality("S355J2+N"), _without_quality("A36")
    (('S355', 'J2+N'), ('A36', ''))
    """
    match = _QUALITY.fullmatch(text.strip())
    return (match[1], match[2].strip()) if match else (text, "")


def headed_unit(heading: str) -> tuple[str, str]:
    """A heading without its unit of lengths, and that unit, empty if it states none.

    >>> headed_unit("Length m"), headed_unit("Länge (mm)"), headed_unit("Length")
    (('Length', 'm'), ('Länge', 'mm'), ('Length', ''))
    """
    match = _WITH_UNIT.fullmatch(heading.strip())
    return (match[1], match[2].lower()) if match else (heading, "")


def _length(reading: ListReading, row: TableRow) -> Measure | None:
    text = reading.text(row, "length")
    # A bare number under "Length m" is metres, whatever the list's unit.
    unit = headed_unit(reading.columns.get("length", ""))[1]
    measure: Measure | None = _value(
        reading, row, "length", text=f"{text} {unit}" if unit and text[-1:].isdigit() else text
    )
    too_short = measure is not None and measure.length < SHORTEST_BAR
    if (measure is None and not text) or too_short:
        reading.fault(row, "length", "the length of a bar, such as 6000, 6 m or 20 ft")
    return measure


def _tolerance(reading: ListReading, row: TableRow, length: Measure | None) -> Length | None:
    """How much shorter than its length the bar may be; None if the list does not say."""
    short: Length | None = _value(reading, row, "tolerance")
    if short is not None and length is not None and short >= length.length:
        reading.fault(row, "tolerance", "how much shorter the bar may come: less than its length")
    return short


def is_on_request(reading: ListReading, row: TableRow) -> bool:
    """Whether a row has, in place of its price, words that it must be asked for."""
    texts = [reading.text(row, word) for word in reading.columns if word == "price" or STEP.fullmatch(word)]
    said = [text for text in texts if text]
    return bool(said) and all(_letters(text) in _ON_REQUEST for text in said)


def in_our_words(text: str, taught: Mapping[str, str]) -> str:
    """A text with the supplier's taught words replaced: whole words in any case, longer phrases first.

    Words taught as "-" are left out.

    >>> in_our_words("RND 12", {"rnd": "round"}), in_our_words("SQ TUBE 2 x 2", {"sq": "x", "sq tube": "box"})
    ('round 12', 'box 2 x 2')
    >>> in_our_words("Round 8 mm bright drawn", {"bright drawn": "-"})
    'Round 8 mm'
    """
    phrases = sorted(taught, key=len, reverse=True)
    if not phrases:
        return text
    either = "|".join(_whole_word(phrase) for phrase in phrases)

    def ours(match: re.Match[str]) -> str:
        said = taught[" ".join(match[0].casefold().split())]
        return "" if said == SAYS_NOTHING else said

    return re.sub(either, ours, text, flags=re.IGNORECASE).strip()


def _whole_word(phrase: str) -> str:
    """A pattern for a phrase that is not part of a longer word or number."""
    before = r"(?<!\d)" if phrase[0].isdigit() else r"(?<![^\W\d_])" if phrase[0].isalpha() else ""
    behind = r"(?!\d)" if phrase[-1].isdigit() else r"(?![^\W\d_])" if phrase[-1].isalpha() else ""
    return before + r"\s+".join(re.escape(part) for part in phrase.split()) + behind


def _letters(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalpha())


def many_of(text: str) -> tuple[Basis, Decimal] | None:
    """The basis that a unit of price stands for, and how many of it; None for an unknown word.

    >>> many_of("tonne"), many_of("LB"), many_of("each"), many_of("ton")
    (('kg', Decimal('1000')), ('lb', Decimal('1')), ('bar', Decimal('1')), None)
    """
    folded = _PER.sub("", " ".join(text.casefold().split()).rstrip("."))
    if folded in _MANY:
        return _MANY[folded]
    try:
        return read_basis(folded), Decimal(1)
    except InputError:
        return None


def _basis(reading: ListReading, row: TableRow) -> tuple[Basis, Decimal] | None:
    currency, _, unit = reading.text(row, "basis").rpartition("/")  # of €/m
    found = many_of(unit)
    if found is None or re.search(r"\d", currency):
        reading.fault(row, "basis", f"one of {', '.join(BASES)}, tonne", nearest_word(unit, BASES))
        return None
    return None if _value(reading, row, "basis", "price", f"1 {currency}".strip()) is None else found


def _steps(reading: ListReading, row: TableRow) -> tuple[tuple[Decimal, Decimal], ...]:
    steps: dict[Decimal, Decimal] = {}
    for word in reading.columns:
        match = STEP.fullmatch(word)
        if word != "price" and match is None:
            continue
        text = reading.text(row, word)
        if not text and word != "price":
            continue
        if not text:
            reading.fault(row, word, PRICE_FORM.column("price").kind.expected)
            continue
        price: Decimal | None = _value(reading, row, word, like="price")
        if price is None:
            continue
        from_kg = _step_kg(match) if match is not None else _value(reading, row, "from kg") or Decimal(0)
        steps[from_kg] = price
    if not steps and "price" not in reading.columns:
        reading.fault(
            row, next(w for w in reading.columns if STEP.fullmatch(w)), "a price in one of the columns"
        )
    return tuple(sorted(steps.items()))


def _step_kg(match: re.Match[str]) -> Decimal:
    """The mass of a price break in kg."""
    return kinds.kg_of(kinds.number_of(match[1], kinds.Notation()), match[2])


def _value(reading: ListReading, row: TableRow, word: str, like: str = "", text: str | None = None) -> Any:
    """A cell's value by the kind of its column, or of column `like`; `text` in place of the cell's own.

    None if it is empty, or if it cannot be used, with a fault noted.
    """
    text = reading.text(row, word) if text is None else text
    kind = PRICE_FORM.column(like or word).kind
    try:
        return kind.read(text, reading.notation) if text else None
    except Misread as error:
        reading.fault(row, word, error.expected, error.nearest)
        return None
