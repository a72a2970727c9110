"""Numbers, amounts of money, per cent, minutes and counts."""

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime, time, timedelta
from decimal import ROUND_UP, Decimal
from functools import lru_cache
from itertools import pairwise
from typing import TypeGuard
from unicodedata import category

from shopquote.calc.money import RATE_DIGITS
from shopquote.calc.numbers import is_plain, read_number
from shopquote.calc.units import KG_PER_LB, N_M_PER_LB_FT
from shopquote.errors import InputError, Misread, OtherCurrency, TwoReadings
from shopquote.reading.cells import Cell, NumberText, digits_of
from shopquote.reading.kinds.kind import Kind, Notation, found_text, misread

# Stored as millionths it still fits the 64 bits of a database's column.
MOST = Decimal(10) ** 12
# Times a count of a thousand, in ten-thousandths, it still fits the 64 bits of a database's column.
MOST_MONEY = Decimal(10) ** 9
# About forty weeks of one person: more in one entry is a slip.
MOST_MINUTES = Decimal(100_000)
# Beyond this the digits are a slip, and Python would take long over them.
LONGEST_EXPONENT = 30

_BETWEEN = re.compile(r"\s*[,;\n]\s*")
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)(?::([0-5]\d))?", re.ASCII)
_WITH_UNIT = re.compile(
    r"(.*?\d)\s*(minutes|minute|mins|min|m|hours|hour|hrs|hr|h)\.?", re.IGNORECASE | re.DOTALL
)
# Signs on a keyboard. $ belongs to several currencies: a shop means its own by it.
_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$", "JPY": "¥", "INR": "₹", "CAD": "$", "AUD": "$", "NZD": "$"}

# English as written between countries (CLDR): there USD is US$.
_ABROAD = "en_001"
# All that an amount holds besides a currency's sign: digits, marks, blanks of all widths, minus signs.
_NUMBER_CHARACTERS = "0123456789.,'+- \t\n\u00a0\u202f\u2009\u2019\u02bc\u2212"


def number_of(value: object, notation: Notation, expected: str = "a number") -> Decimal:
    """A finite number from a typed text or a cell; `expected` says in the fault what it should be.

    Raises:
        Misread: not a number, too long, or one that may mean two.
    """
    if isinstance(value, NumberText):
        return Decimal(value)
    if isinstance(value, str):
        text = value.strip()
        if is_plain(text):
            return _useful(Decimal(text), value, expected)
        try:
            return _useful(read_number(text, notation.marks), value, expected)
        except TwoReadings:
            raise
        except Misread as error:
            raise misread(value, expected) from error
    if isinstance(value, int | Decimal | float) and not isinstance(value, bool):
        # By its digits: Decimal(0.1) has the 55 digits of the float's binary value.
        exact = Decimal(digits_of(value)) if isinstance(value, float) else Decimal(value)
        if exact.is_finite():
            return _useful(exact, value, expected)
    raise misread(value, expected)


def number(
    *, least: int | Decimal = 0, most: int | Decimal = MOST, decimals: int = 6, above: bool = False
) -> Kind[Decimal]:
    """The kind of a Decimal from `least` (`above`.

    Greater than it) to `most`, of at most `decimals` places.
    """
    limit = "" if most == MOST else f" to {most}"
    start = f" above {least}" if above else "" if least == -MOST else f" from {least}"
    expected = f"a number{start}{limit} with at most {decimals} decimals"

    def read(value: object, notation: Notation) -> Decimal:
        found = number_of(value, notation, expected)
        if not (least < found if above else least <= found) or found > most or places(found) > decimals:
            raise misread(value, expected)
        return found

    return Kind(expected, read, lambda value, _: plain(value), number=True)


def kg_of(mass: Decimal, unit: str) -> Decimal:
    """A mass in kg from `kg` or `lb`; pounds round up to the gram, so that no price step comes too early.

    >>> kg_of(Decimal(500), "lb"), kg_of(Decimal(250), "kg")
    (Decimal('226.797'), Decimal('250'))
    """
    return (mass * KG_PER_LB).quantize(Decimal("0.001"), ROUND_UP) if unit == "lb" else mass


_EXPECTED_MASS = "a mass such as 250 kg or 500 lb"
_MASS = re.compile(r"(.*\d)\s*(kg|lbs?)\.?", re.IGNORECASE | re.DOTALL)


def _read_mass(value: object, notation: Notation) -> Decimal:
    found = _MASS.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is not None:
        return kg_of(number().read(found[1], notation), found[2][:2].lower())
    mass = number().read(value, notation)
    if mass and notation.unit == "in":
        raise TwoReadings(found_text(value), f"{plain(mass)} lb", f"{plain(mass)} kg")
    return mass


def _show_mass(value: Decimal, notation: Notation) -> Cell:
    if not value:
        return plain(value)
    pounds = (value / KG_PER_LB).quantize(Decimal("0.1"))
    if notation.unit == "in" and kg_of(pounds, "lb") == value:
        return f"{pounds.normalize():f} lb"
    return f"{value.normalize():f} kg"


# A mass in kg that prices begin at, shown with its unit. In an inch shop a bare number is refused.
MASS: Kind[Decimal] = Kind(_EXPECTED_MASS, _read_mass, _show_mass, number=True)


_EXPECTED_MOMENT = "a moment above 0 in N m, or such as 190 lb-ft"
# Between the units a space, a hyphen or the half-high dot of the SI brochure, 5.2; from memory.
_MOMENT = re.compile(
    r"(.*\d)\s*(n[\s·⋅]?m|(?:lbs?|lbf)[\s·⋅-]?ft|ft[\s·⋅-]?(?:lbs?|lbf))\.?", re.IGNORECASE | re.DOTALL
)


def _read_moment(value: object, notation: Notation) -> Decimal:
    found = _MOMENT.fullmatch(value.strip()) if isinstance(value, str) else None
    moment = number_of(value if found is None else found[1], notation, _EXPECTED_MOMENT)
    if found is not None and found[2][0].lower() != "n":
        moment = (moment * N_M_PER_LB_FT).quantize(Decimal("0.01"))
    if not 0 < moment <= MOST or places(moment) > 6:
        raise misread(value, _EXPECTED_MOMENT)
    return moment


# A bending moment in N m; pound-feet may be typed with their unit.
MOMENT: Kind[Decimal] = Kind(_EXPECTED_MOMENT, _read_moment, lambda value, _: plain(value), number=True)


def percent(most: int = 1000) -> Kind[Decimal]:
    """The kind of a percentage from 0 to `most`, typed with or without %."""
    return _behind(number(most=most), lambda text, _: text.removesuffix("%").strip())


def standard(unit: str = "", *, least: Decimal = Decimal(0)) -> Kind[Decimal]:
    """The kind of a standard's number, whose unit its name says: an amount, per cent, minutes or a size.

    Typed with or without the sign of the shop's currency or a per cent sign; only one that fits `unit`, such
    as money/h, % or min/bend, if that is told.
    """

    def bare(text: str, notation: Notation) -> str:
        amount = without_sign(text, notation) if unit.startswith("money") or not unit else text
        return amount.removesuffix("%").strip() if unit.startswith("%") or not unit else amount

    return _behind(number(least=least), bare)


def money(*, above: bool = False) -> Kind[Decimal]:
    """The kind of an amount in the shop's currency, typed with or without the currency's sign or code.

    From 0 (`above`: greater than 0), with at most 4 decimals; shown with 2 or as many of the 4 as it needs.
    """
    plain_kind = number(above=above, most=MOST_MONEY, decimals=RATE_DIGITS)
    expected = f"an amount {'above' if above else 'from'} 0 with at most {RATE_DIGITS} decimals"

    def read(value: object, notation: Notation) -> Decimal:
        try:
            return plain_kind.read(value, notation)
        except TwoReadings:
            raise
        except Misread as error:
            money = f" in {notation.currency}" if notation.currency else ""
            raise misread(value, expected + money) from error

    return _behind(Kind(expected, read, lambda value, _: _with_cents(value), number=True), without_sign)


def count(*, least: int = 0, most: int = 1_000_000_000) -> Kind[int]:
    """The kind of a whole number from `least` to `most`."""
    limit = f"from {least} to {most}" if most < 1_000_000_000 else f"of at least {least}"
    expected = f"a whole number {limit}"

    def read(value: object, notation: Notation) -> int:
        found = number_of(value, notation, expected)
        if found != found.to_integral_value() or not least <= found <= most:
            raise misread(value, expected)
        return int(found)

    return Kind(expected, read, lambda value, _: value, number=True)


def counts(*, most: int, high: int) -> Kind[tuple[int, ...]]:
    """The kind of 1 to `most` increasing whole numbers from 1 to `high`: a list, or one text with , or ;.

    A comma separates two numbers here whatever the locale: 100,200 are quantities priced side by side.
    """
    one = count(least=1, most=high)
    expected = f"1 to {most} rising numbers, each 1 to {high:,}, such as 1, 4, 12"

    def read(value: object, notation: Notation) -> tuple[int, ...]:
        items = value if isinstance(value, list) else _BETWEEN.split(value) if _is_typed(value) else [value]
        try:
            found = tuple(one.read(item, notation) for item in items)
        except TwoReadings:
            raise
        except Misread as error:
            raise misread(value, expected) from error
        if not 1 <= len(found) <= most or any(first >= second for first, second in pairwise(found)):
            raise misread(value, expected)
        return found

    return Kind(expected, read, lambda value, _: ", ".join(map(str, value)))


# One day; a longer search limit is a typing slip.
MOST_SECONDS = 86_400


def _read_seconds(value: object, notation: Notation) -> float:
    return float(_SECONDS.read(value, notation))


_SECONDS = number(above=True, most=MOST_SECONDS, decimals=3)
# A float, since it is compared with a clock; no plan, price or record is calculated from it.
SECONDS: Kind[float] = Kind(
    f"seconds above 0, at most {MOST_SECONDS}",
    _read_seconds,
    lambda value, _: Decimal(str(value)),
    number=True,
)

EXPECTED_MINUTES = "minutes such as 90, 7.5, 1:30 or 1.5 h"


def minutes_of(value: object, notation: Notation) -> Decimal:
    """Minutes as people type them: 90, 7.5, 1:30 (hours and minutes), 1.5 h.

    >>> minutes_of("1:30", Notation()), minutes_of("1.5 h", Notation())
    (Decimal('90'), Decimal('90.0'))
    """
    # Spreadsheets turn a typed 1:30 into a time of day, and 30:00 into a timedelta.
    if isinstance(value, datetime):
        raise misread(value, EXPECTED_MINUTES)
    if isinstance(value, time):
        return _of_seconds(value.hour * 3600 + value.minute * 60 + value.second + value.microsecond / 1e6)
    if isinstance(value, timedelta):
        return _of_seconds(value.total_seconds())
    if isinstance(value, str) and not isinstance(value, NumberText):
        text = value.strip()
        if match := _CLOCK.fullmatch(text):
            return _of_seconds(int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3] or 0))
        if match := _WITH_UNIT.fullmatch(text):
            found = number_of(match[1], notation, EXPECTED_MINUTES)
            return found * 60 if match[2].lower().startswith("h") else found
    return number_of(value, notation, EXPECTED_MINUTES)


def _of_seconds(seconds: float) -> Decimal:
    # A spreadsheet's time is a float of a day, so that 1:30 may be a hair off.
    return plain(round(Decimal(round(seconds)) / 60, 2))


def minutes(*, most: Decimal = MOST_MINUTES, decimals: int | None = None) -> Kind[Decimal]:
    """The kind of minutes from 0 to `most`, typed as `minutes_of` reads them."""

    def read(value: object, notation: Notation) -> Decimal:
        found = minutes_of(value, notation)
        if not 0 <= found <= most or (decimals is not None and places(found) > decimals):
            raise misread(value, EXPECTED_MINUTES)
        return found

    return Kind(EXPECTED_MINUTES, read, lambda value, _: plain(value), number=True)


MINUTES = minutes()


def without_sign(text: str, notation: Notation) -> str:
    """An amount's text without the sign of the shop's currency.

    Raises:
        OtherCurrency: it bears another currency's sign or code.
    """
    if is_plain(text) or not notation.currency:
        return text
    for sign in signs_of(notation.currency, notation.locale):
        if text.startswith(sign):
            return text.removeprefix(sign).strip()
        if text.startswith(f"-{sign}"):
            return "-" + text.removeprefix(f"-{sign}").strip()
        if text.endswith(sign):
            return text.removesuffix(sign).strip()
    if other := sign_beside(text):
        raise OtherCurrency(found_text(text), other, notation.currency)
    return text


def sign_beside(text: str) -> str:
    """The currency sign or ISO 4217 code that an amount bears, as typed; empty where it bears none.

    >>> sign_beside("-US$1.20"), sign_beside("1 250 SEK"), sign_beside("12 kg")
    ('US$', 'SEK', '')
    """
    beside = text.strip(_NUMBER_CHARACTERS)
    if any(category(character) == "Sc" for character in beside):  # Unicode's currency symbols
        return beside
    if len(beside) != 3 or not beside.isupper():  # mm and kg are no codes, and Babel need not be loaded
        return ""
    from babel.numbers import is_currency

    return beside if is_currency(beside) else ""


def one_currency(amounts: Iterable[str]) -> str:
    """The currency, a code or sign, that all these typed amounts share, for a command without a shop.

    Empty if none bears a sign.

    >>> one_currency(["5", "€5", "EUR 3"])
    'EUR'

    Raises:
        InputError: two of them are in different currencies.
    """
    signs = list(dict.fromkeys(filter(None, map(sign_beside, amounts))))
    if len(signs) < 2:
        return signs[0] if signs else ""
    for currency in signs:
        if set(signs) <= set(signs_of(currency, "")):
            return currency
    raise InputError(f"Amounts are in {signs[0]} and in {signs[1]}; all must be in one currency.")


@lru_cache(maxsize=64)
def signs_of(currency: str, locale: str) -> tuple[str, ...]:
    """How a currency is written beside an amount, the longest first: its code, its signs at home and abroad.

    A sign alone stands for itself, as `one_currency` gives it.
    """
    from babel.numbers import get_currency_symbol

    signs = {currency, _SIGNS.get(currency, currency), get_currency_symbol(currency, _ABROAD)}
    with suppress(ValueError):  # a locale that Babel does not know
        signs.add(get_currency_symbol(currency, locale or "en"))
    return tuple(sorted(signs, key=lambda sign: (-len(sign), sign)))


def plain(value: Decimal) -> Decimal:
    """The same number without trailing zeros and without an exponent."""
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()


def places(value: Decimal) -> int:
    """How many decimals a number has, trailing zeros left out.

    >>> places(Decimal("1.2500")), places(Decimal("1E+3"))
    (2, 0)
    """
    _, _, decimals = f"{value:f}".partition(".")
    return len(decimals.rstrip("0"))


def _behind(kind: Kind[Decimal], strip: Callable[[str, Notation], str]) -> Kind[Decimal]:
    """A kind of number whose text may have a currency or per cent sign, which `strip` removes."""

    def read(value: object, notation: Notation) -> Decimal:
        typed = isinstance(value, str) and not isinstance(value, NumberText)
        bare = strip(value.strip(), notation) if isinstance(value, str) and typed else value
        try:
            return kind.read(bare, notation)
        except TwoReadings:
            raise
        except Misread as error:
            raise misread(value, error.expected) from error

    return Kind(kind.expected, read, kind.show, number=True)


def _is_typed(value: object) -> TypeGuard[str]:
    """Whether a value is typed text rather than the digits of a number cell."""
    return isinstance(value, str) and not isinstance(value, NumberText)


def _with_cents(value: Decimal) -> Cell:
    short = plain(value)
    return short.quantize(Decimal("0.01")) if places(short) < 2 else short


def _useful(value: Decimal, typed: object, expected: str) -> Decimal:
    if value and abs(value.adjusted()) >= LONGEST_EXPONENT:
        raise misread(typed, expected)
    return value
