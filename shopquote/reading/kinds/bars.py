"""Bars, grades, threads, shapes and ends as people type them."""

from dataclasses import fields, replace
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from shopquote.calc.bar.grades import grade_key
from shopquote.calc.bar.pipes import by_its_sizes, wall_unsaid
from shopquote.calc.bar.sections import EXPECTED_SECTION, SECTION_KINDS, Section, kind_meant, parse_section
from shopquote.calc.bar.threads import EXPECTED_THREAD, find_thread
from shopquote.calc.units import Measure, Unit, has_fraction
from shopquote.errors import InputError, Misread, TwoReadings, nearest_word
from shopquote.reading.cells import Cell
from shopquote.reading.kinds.kind import Kind, Notation, Typed, found_text, misread
from shopquote.reading.kinds.lengths import sure_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shopquote.calc.bar.end_words import End
    from shopquote.calc.bar.shape_words import Word

# A stock list repeats the same bars, and reading one takes long.
CACHED_TEXTS = 4096

EXPECTED_BAR = "a bar such as round 12 mm or flat 2 x 1/4 in"
EXPECTED_SHAPE = "a shape such as leg 300; bend 90 r 24; leg 600"


def _read_section(value: object, notation: Notation) -> Section:
    if not isinstance(value, str) or not value.strip():
        raise misread(value, EXPECTED_BAR)
    return _section_of(value.strip(), notation.unit)


def _read_bar(value: object, notation: Notation) -> Typed:
    section = _read_section(value, notation)
    return Typed(section.key, section.text)


@lru_cache(maxsize=CACHED_TEXTS)
def _section_of(text: str, unit: Unit) -> Section:
    # Read without the shop's marks: the text is stored, and read again where no shop is known.
    try:
        section = replace(parse_section(text, unit), text=text)
        if pipes := wall_unsaid(text):
            # A nominal pipe size does not say its wall, and the heavy series has a quarter more metal.
            raise TwoReadings(repr(text[:60]), *pipes)
        if unit == "mm" and has_fraction(text) and _key_in(text, "in") not in ("", section.key):
            # A bar of 1/2 mm is not sold: "in" was forgotten, and the price would be that of a wire.
            raise TwoReadings(repr(text[:60]), f"{text[:60]} in", section.name("mm"))
        return section
    except Misread:
        raise
    except InputError as error:
        first = text.split()[0]
        near = None
        if first not in SECTION_KINDS:
            near = by_its_sizes(text) or kind_meant(first) or nearest_word(first, SECTION_KINDS)
        raise Misread(repr(text[:60]), EXPECTED_SECTION, near, message=error.message) from error


@lru_cache(maxsize=CACHED_TEXTS)
def _show_bar(value: Typed, notation: Notation) -> Cell:
    """As typed where it means the same in mm and inches, else with its unit: 5/8 in, not 15.875 mm."""
    units: tuple[Unit, ...] = ("mm", "in")
    meant = [unit for unit in units if _key_in(value.text, unit) == value.value]
    if len(meant) == len(units):
        return value.text
    return parse_section(value.value, "mm").name(meant[0] if meant else notation.unit)


def _key_in(text: str, unit: Unit) -> str:
    try:
        return parse_section(text, unit).key
    except InputError:
        return ""


BAR: Kind[Typed] = Kind(EXPECTED_BAR, _read_bar, _show_bar, key=lambda value: value.value)
# Like BAR, but the value is the whole Section; its `text` is as typed.
SECTION: Kind[Section] = Kind(
    EXPECTED_BAR, _read_section, lambda value, notation: _show_bar(Typed(value.key, value.text), notation),
    key=lambda value: value.key,
)  # fmt: skip


def _read_grade(value: object, _notation: Notation) -> str:
    text = value.strip() if isinstance(value, str) else str(value) if isinstance(value, int | Decimal) else ""
    if not grade_key(text) or len(text) > 60 or "\n" in text:
        raise misread(value, "a grade such as S275")
    return text


GRADE: Kind[str] = Kind("a grade such as S275", _read_grade, lambda value, _: value, key=grade_key)


def _read_thread(value: object, notation: Notation) -> Typed:
    typed = value.strip() if isinstance(value, str) else ""
    try:
        return Typed(find_thread(typed).name, typed)
    except InputError as error:
        raise Misread(found_text(value), EXPECTED_THREAD, message=error.message) from error


# A standard thread, as typed.
THREAD: Kind[Typed] = Kind(
    EXPECTED_THREAD, _read_thread, lambda value, _: value.text, key=lambda value: value.value
)


def _read_shape(value: object, notation: Notation) -> Typed:
    from shopquote.calc.bar.shape_short import spelled_out
    from shopquote.calc.bar.shapes import parse_shape

    shape = spelled_out(value.strip()) if isinstance(value, str) else ""
    try:
        words = parse_shape(shape, notation.unit)
    except InputError as error:
        raise Misread(found_text(value), EXPECTED_SHAPE, message=error.message) from error
    unsure = list(_unsure_sizes(words, notation.unit))
    if unsure:
        raise Misread(found_text(value), EXPECTED_SHAPE, message="\n".join(unsure))
    return Typed(words, shape)


def _unsure_sizes(words: "Sequence[Word]", unit: Unit) -> "Iterator[str]":
    """A message for each size of a shape that is a fraction without a unit, with the number of its word."""
    for number, word in enumerate(words, start=1):
        for field in fields(word):
            size = getattr(word, field.name)
            try:
                if isinstance(size, Measure):
                    sure_of(size, unit)
            except TwoReadings as error:
                yield f"Shape, word {number}: {error.message}"


# The value is the tuple of shape words; its text has short forms spelled out and lengths as typed.
SHAPE: Kind[Typed] = Kind(EXPECTED_SHAPE, _read_shape, lambda value, _: value.text)


def _read_end(value: object, notation: Notation) -> "End":
    from shopquote.calc.bar.end_words import EXPECTED_END, nearest_end, parse_end

    expected = f"an end such as {EXPECTED_END}"
    if not isinstance(value, str):
        raise misread(value, expected)
    try:
        end = parse_end(value, notation.unit)
        for size in (size for form in end.forms for size in form.sizes):
            sure_of(size, notation.unit)
    except InputError as error:
        raise Misread(found_text(value), expected, nearest_end(value), message=error.message) from error
    return end


# One end of a piece and what is done to it.
END: Kind["End"] = Kind("an end such as square or mitre 45", _read_end, lambda value, _: str(value))
