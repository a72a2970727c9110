"""Bars, grades and threads as people type them."""

import re
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

from shopquote.calc.bar.sections import EXPECTED_SECTION, SECTION_KINDS, Section, parse_section
from shopquote.calc.numbers import show_number
from shopquote.calc.units import Unit
from shopquote.errors import InputError, Misread, nearest_word
from shopquote.reading.cells import Cell
from shopquote.reading.kinds.kind import Kind, Notation, Typed, misread
from shopquote.reading.kinds.numbers import number_of

# Bars stand in a stock list again and again, and take long to read.
CACHED_TEXTS = 4096

EXPECTED_BAR = "a bar such as round 12 mm or flat 2 x 1/4 in"
EXPECTED_THREAD = "a thread such as M12, M12 x 1.25, 1/2-13 UNC or G 1/2"


def _read_section(value: object, notation: Notation) -> Section:
    if not isinstance(value, str) or not value.strip():
        raise misread(value, EXPECTED_BAR)
    return _section_of(value.strip(), notation.unit)


def _read_bar(value: object, notation: Notation) -> Typed:
    section = _read_section(value, notation)
    return Typed(section.key, section.text)


@lru_cache(maxsize=CACHED_TEXTS)
def _section_of(text: str, unit: Unit) -> Section:
    # Sizes are read without the shop's marks: the text is kept and read again, here and elsewhere.
    try:
        return replace(parse_section(text, unit), text=text)
    except Misread:
        raise
    except InputError as error:
        first = text.split()[0]
        near = None if first in SECTION_KINDS else nearest_word(first, SECTION_KINDS)
        raise Misread(repr(text[:60]), EXPECTED_SECTION, near, message=error.message) from error


@lru_cache(maxsize=CACHED_TEXTS)
def _show_bar(value: Typed, notation: Notation) -> Cell:
    try:
        if parse_section(value.text, "mm").key == parse_section(value.text, "in").key == value.value:
            return value.text
    except InputError:
        pass
    return parse_section(value.value, "mm").name(notation.unit)


BAR: Kind[Typed] = Kind(EXPECTED_BAR, _read_bar, _show_bar, key=lambda value: value.value)
# The same as a whole section, its words kept.
SECTION: Kind[Section] = Kind(
    EXPECTED_BAR, _read_section, lambda value, notation: _show_bar(Typed(value.key, value.text), notation),
    key=lambda value: value.key,
)  # fmt: skip


def grade_key(name: str) -> str:
    """What makes two grades one: case, blanks and dashes do not matter.

    >>> grade_key("S 275") == grade_key("s275")
    True
    """
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _read_grade(value: object, _notation: Notation) -> str:
    text = value.strip() if isinstance(value, str) else str(value) if isinstance(value, int | Decimal) else ""
    if not grade_key(text) or len(text) > 60 or "\n" in text:
        raise misread(value, "a grade such as S275")
    return text


GRADE: Kind[str] = Kind("a grade such as S275", _read_grade, lambda value, _: value, key=grade_key)

_METRIC = re.compile(r"M\s*(\d+(?:[.,]\d+)?)(?:\s*[x×]\s*(\d+(?:[.,]\d+)?))?", re.IGNORECASE)
_UNIFIED = re.compile(
    r"(#?\d+|\d+\s*/\s*\d+|\d+[ -]\d+\s*/\s*\d+)\s*-\s*(\d+)\s*(UNC|UNF|UNEF|UN)", re.IGNORECASE
)
_PIPE = re.compile(r"(G|R|RC|RP|NPT)\s*(\d+(?:[ -]\d+)?(?:\s*/\s*\d+)?)", re.IGNORECASE)


def _read_thread(value: object, notation: Notation) -> str:
    text = value.strip().replace('"', "") if isinstance(value, str) else ""
    if match := _METRIC.fullmatch(text):
        sizes = [show_number(number_of(size, notation)) for size in match.groups() if size]
        return "M" + " x ".join(sizes)
    if match := _UNIFIED.fullmatch(text):
        return f"{re.sub(r' ', '', match[1])}-{match[2]} {match[3].upper()}"
    if match := _PIPE.fullmatch(text):
        return f"{match[1].upper()} {match[2]}"
    raise misread(value, EXPECTED_THREAD)


# A thread's one spelling: capitals, one blank around the x, no idle zeros.
THREAD: Kind[str] = Kind(EXPECTED_THREAD, _read_thread, lambda value, _: value)
