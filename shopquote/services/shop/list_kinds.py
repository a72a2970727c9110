"""Kinds of cells in the shop's lists: how typed text becomes a value, and a value text again.

Every kind holds to one law: reading what was shown gives the same value.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import LONGEST_NM, ZERO, Length, Unit, parse_length, show_length
from shopquote.errors import InputError, nearest_word
from shopquote.records.columns import exact_decimal
from shopquote.services.shop.on_file import without_idle_zeros

LONGEST_NAME = 200
LONGEST_NOTE = 4000
MOST = Decimal(10) ** 12
# Bars and lengths stand in a stock list again and again, and take long to read.
CACHED_TEXTS = 4096

Cell = str | int | Decimal | date | bool | None


@dataclass(frozen=True)
class Kind:
    """One kind of cell. `expected` is the words for a fault; `read` raises InputError."""

    expected: str
    read: Callable[[str, Unit], Any]
    show: Callable[[Any, Unit], Cell]
    number: bool = False
    # Shorter words for the terminal, where they differ; not read back.
    brief: Callable[[Any, Unit], Cell] | None = None


def _same(value: Any, _unit: Unit) -> Cell:
    cell: Cell = value
    return cell


def _clean(text: str, longest: int) -> str:
    text = text.replace("\r\n", "\n").replace("\r", "\n").strip()
    if len(text) > longest:
        raise InputError(f"text of {len(text)} characters")
    if any(ord(letter) < 32 and letter not in "\n\t" for letter in text):
        raise InputError("a control character")
    return text


def _read_name(text: str, _unit: Unit) -> str:
    name = _clean(text, LONGEST_NAME)
    if not name or "\n" in name:
        raise InputError("more than one line" if name else "nothing")
    return name


NAME = Kind(f"a name of 1 to {LONGEST_NAME} characters", _read_name, _same)
TEXT = Kind(
    f"text of at most {LONGEST_NOTE} characters", lambda text, _unit: _clean(text, LONGEST_NOTE), _same
)


def number(
    *,
    least: int | Decimal = 0,
    most: int | Decimal = MOST,
    decimals: int = 6,
    above: bool = False,
    optional: bool = False,
) -> Kind:
    """A Decimal from `least` (or just above it) to `most`, with at most `decimals` places."""
    limit = "" if most == MOST else f" to {most}"
    start = f"above {least}" if above else f"from {least}"
    expected = f"a number {start}{limit} with at most {decimals} decimals"

    def read(text: str, _unit: Unit) -> Decimal | None:
        if optional and not text.strip():
            return None
        value = exact_decimal(_with_point(text))
        exponent = value.normalize().as_tuple().exponent
        if not (least < value if above else least <= value) or value > most:
            raise InputError(f"{text.strip()}")
        if isinstance(exponent, int) and -exponent > decimals:
            raise InputError(f"{text.strip()}")
        return value

    def show(value: Decimal | None, _unit: Unit) -> Cell:
        return None if value is None else without_idle_zeros(value)

    return Kind(f"{expected}, or nothing" if optional else expected, read, show, number=True)


def money(*, optional: bool = False) -> Kind:
    """An amount of at least 0 with at most 4 decimals, shown with at least 2."""
    plain = number(decimals=4, optional=optional)

    def show(value: Decimal | None, _unit: Unit) -> Cell:
        if value is None:
            return None
        short = without_idle_zeros(value)
        exponent = short.as_tuple().exponent
        return short.quantize(Decimal("0.01")) if isinstance(exponent, int) and exponent > -2 else short

    return Kind(plain.expected, plain.read, show, number=True)


def percent(most: int = 1000) -> Kind:
    """Per cent from 0."""
    return number(most=most)


def _with_point(text: str) -> str:
    """`1,25` is 1.25; `1,250` could be either and is refused by whoever reads it."""
    text = text.strip().replace("\u00a0", "").rstrip("%").strip()
    head, comma, tail = text.rpartition(",")
    if comma and "." not in text and "," not in head and len(tail) != 3 and tail.isdigit():
        return f"{head}.{tail}"
    return text


def whole(*, least: int = 0, most: int = 1_000_000_000, optional: bool = False) -> Kind:
    """A whole number."""

    def read(text: str, _unit: Unit) -> int | None:
        if optional and not text.strip():
            return None
        value = exact_decimal(text)
        if value != value.to_integral_value() or not least <= value <= most:
            raise InputError(text.strip())
        return int(value)

    expected = f"a whole number of at least {least}"
    return Kind(f"{expected}, or nothing" if optional else expected, read, _same, number=True)


_YES = {"yes", "y", "true", "1", "x"}
_NO = {"no", "n", "false", "0", ""}


def _read_yes_no(text: str, _unit: Unit) -> bool:
    word = text.strip().casefold()
    if word not in _YES | _NO:
        raise InputError(text.strip())
    return word in _YES


YES_NO = Kind("yes or no", _read_yes_no, _same)


def _read_day(text: str, _unit: Unit) -> date:
    try:
        return date.fromisoformat(text.strip()[:10])
    except ValueError as error:
        raise InputError(text.strip()) from error


DAY = Kind("a date such as 2026-03-01", _read_day, _same)


def optional_day() -> Kind:
    """A date or nothing."""
    return Kind(
        "a date such as 2026-03-01, or nothing",
        lambda text, unit: _read_day(text, unit) if text.strip() else None,
        _same,
    )


def word(words: Sequence[str], *, optional: bool = False) -> Kind:
    """One of some fixed words; case does not matter."""
    folded = {known.casefold(): known for known in words}

    def read(text: str, _unit: Unit) -> str | None:
        if optional and not text.strip():
            return None
        found = folded.get(text.strip().casefold())
        if found is None:
            raise Misspelt(text.strip(), nearest_word(text, words))
        return found

    return Kind("one of " + ", ".join(words), read, _same)


class Misspelt(InputError):
    """A word that is none of the known ones."""

    def __init__(self, message: str, nearest: str | None) -> None:
        super().__init__(message)
        self.nearest = nearest


def length(*, least: Length = ZERO, above: bool = False, optional: bool = False) -> Kind:
    """A `Length`, shown with its unit so that it reads back whatever the shop's unit is."""

    def read(text: str, unit: Unit) -> Length | None:
        if optional and not text.strip():
            return None
        value = parse_length(text, unit)
        if value.nm > LONGEST_NM or (value <= least if above else value < least):
            raise InputError(text.strip())
        return value

    def show(value: Length | None, unit: Unit) -> Cell:
        return None if value is None else show_length(value, unit, exact=True)

    expected = f"a length {'above' if above else 'of at least'} {show_length(least, 'mm')}"
    return Kind(f"{expected}, or nothing" if optional else expected, read, show)


def _read_offset(text: str, unit: Unit) -> Length:
    text = text.strip()
    if text.startswith("-"):
        return Length(-parse_length(text[1:], unit).nm)
    return parse_length(text.removeprefix("+"), unit)


def _show_offset(value: Length, unit: Unit) -> Cell:
    sign = "-" if value.nm < 0 else ""
    return sign + show_length(Length(abs(value.nm)), unit, exact=True)


OFFSET = Kind("a length, with - towards the near end", _read_offset, _show_offset)


@dataclass(frozen=True)
class Typed:
    """A value with the words that it was typed in."""

    value: Any
    text: str


@lru_cache(maxsize=CACHED_TEXTS)
def _read_typed_length(text: str, unit: Unit) -> Typed:
    value = parse_length(text, unit)
    if value.nm <= 0:
        raise InputError(text.strip())
    return Typed(value, text.strip())


@lru_cache(maxsize=CACHED_TEXTS)
def _show_typed_length(value: Typed, unit: Unit) -> Cell:
    # As typed, unless another unit of the shop's would now read it differently.
    try:
        if value.text and parse_length(value.text, "mm") == parse_length(value.text, "in") == value.value:
            return value.text
    except InputError:
        pass
    return show_length(value.value, unit, exact=True)


TYPED_LENGTH = Kind("a length such as 6 m or 20 ft", _read_typed_length, _show_typed_length)


@lru_cache(maxsize=CACHED_TEXTS)
def _read_bar(text: str, unit: Unit) -> Typed:
    section = parse_section(text, unit)
    return Typed(section.key, text.strip())


@lru_cache(maxsize=CACHED_TEXTS)
def _show_bar(value: Typed, unit: Unit) -> Cell:
    try:
        if parse_section(value.text, "mm").key == parse_section(value.text, "in").key == value.value:
            return value.text
    except InputError:
        pass
    return parse_section(value.value, "mm").name(unit)


BAR = Kind("a bar such as round 12 mm or flat 2 x 1/4 in", _read_bar, _show_bar)


def _read_pairs(text: str, _unit: Unit) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for line in _clean(text, LONGEST_NOTE).split("\n"):
        if not line.strip():
            continue
        name, colon, value = line.partition(": ")
        if not colon or not name.strip() or name.strip() in pairs:
            raise InputError(line.strip())
        pairs[name.strip()] = value.strip()
    return pairs


def _show_pairs(value: Mapping[str, str], _unit: Unit) -> Cell:
    return "\n".join(f"{name}: {text}" for name, text in value.items())


PAIRS = Kind("lines of NAME: TEXT", _read_pairs, _show_pairs)


def _read_facts(text: str, _unit: Unit) -> dict[str, Any]:
    if not text.strip():
        return {}
    try:
        facts = json.loads(text)
    except ValueError as error:
        raise InputError(text.strip()) from error
    if not isinstance(facts, dict):
        raise InputError(text.strip())
    return facts


def _show_facts(value: Mapping[str, Any] | None, _unit: Unit) -> Cell:
    return json.dumps(value, ensure_ascii=False, sort_keys=True) if value else None


FACTS = Kind('facts as JSON, such as {"a": "b"}, or nothing', _read_facts, _show_facts)


def _read_lengths(text: str, unit: Unit) -> tuple[Length, ...]:
    return tuple(parse_length(part, unit) for part in text.split(";") if part.strip())


def _show_lengths(value: Sequence[Length], unit: Unit) -> Cell:
    return "; ".join(show_length(one, unit, exact=True) for one in value)


LENGTHS = Kind("lengths parted by ;", _read_lengths, _show_lengths)


def _read_currency(text: str, _unit: Unit) -> str:
    code = text.strip().upper()
    if len(code) != 3 or not code.isascii() or not code.isalpha():
        raise InputError(text.strip())
    return code


CURRENCY = Kind("three letters such as EUR", _read_currency, _same)


def _read_locale(text: str, _unit: Unit) -> str:
    from babel import Locale, UnknownLocaleError

    try:
        Locale.parse(text.strip().replace("-", "_"))
    except (UnknownLocaleError, ValueError) as error:
        raise InputError(text.strip()) from error
    return text.strip()


LOCALE = Kind("a language and country such as en_GB, en_US, de_DE, fr_FR, es_ES", _read_locale, _same)
