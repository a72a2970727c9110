"""Kinds of length: a bare `Length`, a `Measure` that keeps its text, signed ones, several in one cell."""

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache
from math import isfinite, sqrt

from shopquote.calc.units import (
    EXPECTED_LENGTH,
    FRACTION_SIGNS,
    ZERO,
    Length,
    Measure,
    Unit,
    has_fraction,
    parse_length,
    show_bar,
    show_length,
)
from shopquote.errors import Misread, TwoReadings
from shopquote.reading.cells import Cell, NumberText
from shopquote.reading.kinds.kind import Kind, Notation, Typed, found_text, misread

# A stock list repeats the same lengths, and reading one takes long.
CACHED_TEXTS = 4096

EXPECTED_LENGTHS = "lengths parted by ;, such as 1450; 620"
_BETWEEN = re.compile(r";|\n|,(?=\s|$)")
# A comma directly between digits: 6100,6150 may be one number with decimals or two lengths.
_TIGHT_COMMA = re.compile(r"\d,\d")
# In a shop with a decimal comma one or two digits behind it are decimals, as in 5985,5.
_LIKE_TWO_LENGTHS = re.compile(r"\d,\d{3}")


def _limited(least: Length, above: bool) -> str:
    return f"a length {'above' if above else 'of at least'} {show_length(least, 'mm')}"


def sure_of(measure: Measure, unit: Unit) -> Measure:
    """The same length, refused where it is a fraction whose unit was forgotten: 5/8 in read as 5/8 mm.

    Raises:
        TwoReadings: it would be another length in inches.
    """
    if unit == "mm" and has_fraction(measure.text) and parse_length(measure.text, "in") != measure.length:
        millimetres = show_length(measure.length, "mm", exact=True)
        raise TwoReadings(found_text(measure.text), f"{measure.text} in", millimetres)
    return measure


def measure_of(value: object, notation: Notation, expected: str = EXPECTED_LENGTH) -> Measure:
    """A length of 0 or more with its text; a bare number is in the notation's unit.

    Raises:
        Misread: not a length, a day that a spreadsheet made of one, or one that may mean two.
    """
    return sure_of(_measure_of(value, notation, expected), notation.unit)


def _measure_of(value: object, notation: Notation, expected: str) -> Measure:
    if isinstance(value, date):
        # Spreadsheets turn 5/8 into the 8th of May unless the cell is formatted as text.
        raise Misread(f"the date {found_text(value)}", f"{expected}, in a cell formatted as text")
    if isinstance(value, NumberText):
        return Measure.parse(Decimal(value), notation.unit)
    if isinstance(value, str):
        try:
            return Measure.parse(value, notation.unit, notation.marks)
        except TwoReadings:
            raise
        except Misread as error:
            raise misread(value, expected) from error
    if isinstance(value, int | Decimal | float) and not isinstance(value, bool):
        try:
            return Measure.parse(value, notation.unit)
        except Misread as error:
            raise misread(value, expected) from error
    raise misread(value, expected)


def measure(*, least: Length = ZERO, above: bool = False) -> Kind[Measure]:
    """The kind of a length that keeps its text, of at least `least` (`above`: longer than it)."""
    expected = _limited(least, above)

    def read(value: object, notation: Notation) -> Measure:
        found = measure_of(value, notation)
        if found.length <= least if above else found.length < least:
            raise misread(value, expected)
        return found

    def show(value: Measure, notation: Notation) -> Cell:
        return _show_typed(value.text, value.length, notation)

    return Kind(EXPECTED_LENGTH, read, show, key=lambda value: value.length.nm)


def length(*, least: Length = ZERO, above: bool = False) -> Kind[Length]:
    """The kind of a bare `Length`, shown with its unit so that it reads back whatever the shop's unit is."""
    kind = measure(least=least, above=above)

    def read(value: object, notation: Notation) -> Length:
        return kind.read(value, notation).length

    def show(value: Length, notation: Notation) -> Cell:
        return show_length(value, notation.unit, exact=True)

    return Kind(_limited(least, above), read, show, key=lambda value: value.nm)


MEASURE: Kind[Measure] = measure(above=True)

_NAMED_SIZE = re.compile(rf"([az])\s*=?\s*(?=[0-9.{FRACTION_SIGNS}])(.*)", re.DOTALL | re.IGNORECASE)
EXPECTED_WELD_SIZE = "a length above zero, a throat such as a4 or a leg such as z6"


def _read_weld_size(value: object, notation: Notation) -> Measure:
    named = _NAMED_SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
    if named is None:
        return MEASURE.read(value, notation)
    letter = named[1].lower()
    try:
        typed = MEASURE.read(named[2], notation)
    except TwoReadings:
        raise
    except Misread as error:
        raise misread(value, EXPECTED_WELD_SIZE) from error
    leg = typed.length.nm * (sqrt(2) if letter == "a" else 1)
    return Measure(letter + typed.text, Length(round(leg)))


# A weld's leg, "6" or "z6", or its throat, "a4", in the notation of ISO 2553. The value is the leg: the
# throat is the height of the triangle of two equal legs, so z = a x sqrt 2.
WELD_SIZE: Kind[Measure] = Kind(EXPECTED_WELD_SIZE, _read_weld_size, lambda value, _: value.text)


def _read_typed(value: object, notation: Notation) -> Typed:
    found = MEASURE.read(value, notation)
    return Typed(found.length, found.text)


def _show_typed_length(value: Typed, notation: Notation) -> Cell:
    return _show_typed(value.text, value.value, notation)


@lru_cache(maxsize=CACHED_TEXTS)
def _show_typed(text: str, value: Length, notation: Notation) -> str:
    # As typed, unless it would now be read differently, in another unit or by another locale.
    try:
        if text and parse_length(text, "mm") == value == parse_length(text, "in", notation.marks):
            return text
    except Misread:
        pass
    return show_length(value, notation.unit, exact=True)


def bar_as_typed(text: str, length: Length, unit: Unit) -> str:
    """A bar's length as typed if the text says its unit, else in `unit` as bars are shown.

    >>> [bar_as_typed(text, Length.from_inches(240), "in") for text in ("20'", "240", "")]
    ["20'", '20 ft', '20 ft']
    """
    shown = _show_typed(text, length, Notation(unit=unit)) if text else ""
    return text if shown == text and text else show_bar(length, unit)


TYPED_LENGTH: Kind[Typed] = Kind(
    "a length such as 6 m or 20 ft", _read_typed, _show_typed_length, key=lambda value: value.value.nm
)


def signed_on_file(text: str, unit: Unit) -> Measure:
    """A stored length, negative where it begins with -, without the checks made of a newly typed one."""
    found = Measure.parse(text.removeprefix("-"), unit)
    return Measure(text, Length(-found.length.nm)) if text.startswith("-") else found


def _read_signed(value: object, notation: Notation) -> Measure:
    text = value.strip() if isinstance(value, str) else value
    if isinstance(text, str) and text[:1] in ("+", "-"):
        found = measure_of(text[1:], notation)
        return Measure(f"-{found.text}", Length(-found.length.nm)) if text[0] == "-" else found
    if isinstance(text, int | float | Decimal) and not isinstance(text, bool):
        if not isfinite(text):
            raise misread(value, EXPECTED_LENGTH)
        if text < 0:
            found = measure_of(-text, notation)
            return Measure(f"-{found.text}", Length(-found.length.nm))
    return measure_of(text, notation)


def _show_signed(value: Measure, notation: Notation) -> Cell:
    sign = "-" if value.length.nm < 0 else ""
    return sign + _show_typed(value.text.removeprefix("-"), Length(abs(value.length.nm)), notation)


# A length of either sign that keeps its text.
SIGNED_MEASURE: Kind[Measure] = Kind(
    f"{EXPECTED_LENGTH}, with - to the other side", _read_signed, _show_signed,
    key=lambda value: value.length.nm,
)  # fmt: skip


def _read_offset(value: object, notation: Notation) -> Length:
    return _read_signed(value, notation).length


def _show_offset(value: Length, notation: Notation) -> Cell:
    sign = "-" if value.nm < 0 else ""
    return sign + show_length(Length(abs(value.nm)), notation.unit, exact=True)


OFFSET: Kind[Length] = Kind(
    "a length, with - towards the near end", _read_offset, _show_offset, key=lambda value: value.nm
)


def measures(value: object, notation: Notation) -> tuple[Measure, ...]:
    """Lengths in one cell, separated by ; or by a comma and a space.

    Raises:
        Misread: one of them is no length, or a comma may be a decimal mark.
    """
    return tuple(MEASURE.read(part, notation) for part in parted(value, notation))


def parted(value: object, notation: Notation) -> list[object]:
    """The texts of the single lengths in a cell; a number cell is a list of one.

    Raises:
        TwoReadings: a comma directly between digits may separate two lengths or be a decimal mark.

    >>> parted("6100; 6150 x 3, 6.2 m", Notation())
    ['6100', '6150 x 3', '6.2 m']
    >>> parted("5985,5, 6,0 m", Notation(locale="de_DE"))
    ['5985,5', '6,0 m']
    """
    if not isinstance(value, str) or isinstance(value, NumberText):
        return [] if value is None else [value]
    decimal_comma = notation.marks is not None and notation.marks.decimal == ","
    if (_LIKE_TWO_LENGTHS if decimal_comma else _TIGHT_COMMA).search(value):
        one, other = value.strip().replace(",", "; "), value.strip().replace(",", ".")
        raise TwoReadings(found_text(value), one, other)
    return [part.strip() for part in _BETWEEN.split(value) if part.strip()]


def _read_lengths(value: object, notation: Notation) -> tuple[Length, ...]:
    return tuple(measure_of(part, notation).length for part in parted(value, notation))


def _show_lengths(value: Sequence[Length], notation: Notation) -> Cell:
    return "; ".join(show_length(one, notation.unit, exact=True) for one in value)


LENGTHS: Kind[tuple[Length, ...]] = Kind(
    EXPECTED_LENGTHS, _read_lengths, _show_lengths, key=lambda value: tuple(one.nm for one in value)
)
