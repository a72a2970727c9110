"""What every kind of value has, and the notation of the shop that it is read by."""

from collections.abc import Callable, Hashable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any, Generic, TypeVar

from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import NumberMarks, quoted
from shopquote.calc.units import Unit
from shopquote.errors import Fault, InputError, Misread
from shopquote.reading.cells import Cell, cell_text

Value = TypeVar("Value")

# Shown in full, 1e999999 would be a megabyte of noughts.
MOST_DIGITS = 30
LARGEST_SHOWN = 10**MOST_DIGITS


@dataclass(frozen=True, slots=True)
class Notation:
    """How the shop writes values: unit of bare lengths, locale, currency; empty where no shop is known.

    `portable`: of a file that goes from shop to shop, as a job file. Its numbers mean the same under every
    locale, so that one which the locale would have to decide is refused.
    """

    unit: Unit = "mm"
    locale: str = ""
    currency: str = ""
    portable: bool = False

    @property
    def marks(self) -> NumberMarks | None:
        """Decimal and thousands marks of the locale; None where none is known or may decide."""
        return marks_of(self.locale) if self.locale and not self.portable else None

    def within(self, unit: Unit) -> "Notation":
        """This notation, for a job or list whose bare lengths are in another unit."""
        return self if unit == self.unit else replace(self, unit=unit)


@dataclass(frozen=True)
class Kind(Generic[Value]):
    """One kind of value.

    `expected` is the words for a fault; `read` takes a text or a cell's value and raises
    `Misread`; `show` gives a cell that reads back; `key` is what makes two values one entry;
    `number`: shown flush right; `brief`: shorter words for the terminal, not read back.
    """

    expected: str
    read: Callable[[object, Notation], Value]
    show: Callable[[Value, Notation], Cell]
    number: bool = False
    brief: Callable[[Value, Notation], Cell] | None = None
    key: Callable[[Value], Hashable] = lambda value: value

    def text(self, value: Value, notation: Notation) -> str:
        """The value as text that reads back to it."""
        return cell_text(self.show(value, notation))

    @property
    def or_nothing(self) -> "Kind[Value | None]":
        """This kind where nothing may stand, which is None."""

        def read(value: object, notation: Notation) -> Value | None:
            return None if is_nothing(value) else self.read(value, notation)

        def show(value: Value | None, notation: Notation) -> Cell:
            return None if value is None else self.show(value, notation)

        def key(value: Value | None) -> Hashable:
            return None if value is None else self.key(value)

        return Kind(f"{self.expected}, or nothing", read, show, self.number, None, key)


@dataclass(frozen=True)
class Typed:
    """A value with the words that it was typed in."""

    value: Any
    text: str


def is_nothing(value: object) -> bool:
    """Whether a cell is empty."""
    return value is None or (isinstance(value, str) and not value.strip())


def found_text(value: object) -> str:
    """What was found, as a fault shows it: one line, short, in quotes where it is text.

    >>> found_text(" 1,250\\n"), found_text(None), found_text(Decimal("7.50"))
    ("'1,250'", 'nothing', '7.50')
    """
    if is_nothing(value):
        return "nothing"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if _is_endless(value):
        return "a number too large to be used"  # writing its digits out could take for ever
    text = cell_text(value) if isinstance(value, int | float | Decimal | date) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _is_endless(value: object) -> bool:
    if isinstance(value, Decimal):
        return not value.is_finite() or abs(value.adjusted()) > MOST_DIGITS
    return isinstance(value, int) and not -LARGEST_SHOWN < value < LARGEST_SHOWN


def misread(value: object, expected: str, nearest: str | None = None) -> Misread:
    """The fault of a value that is none of a kind."""
    return Misread(found_text(value), expected, nearest)


def fault_of(error: Misread, file: str, table: str, mark: str, key: str) -> Fault:
    """A misread value as a mistake of a file, with its place."""
    return Fault(file, table, mark, key, error.found, error.expected, error.nearest)


def read_typed(what: str, kind: Kind[Value], value: object, notation: Notation) -> Value:
    """A value of a command's option or the like; a mistake names `what` it is.

    Raises:
        InputError: it cannot be used.
    """
    try:
        return kind.read(value, notation)
    except Misread as error:
        said = error.message
        hint = f"Did you mean {error.nearest!r}?" if error.nearest and "Did you mean" not in said else None
        named = said.casefold().startswith(f"{what} ".casefold())
        raise InputError(said if named else f"{what}: {said}", hint=hint) from error


@lru_cache(maxsize=64)
def marks_of(locale: str) -> NumberMarks | None:
    """Marks of a locale's numbers in Latin digits; None for one that Babel does not know."""
    from babel import Locale, UnknownLocaleError

    try:
        known = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        return None
    symbols = known.number_symbols.get("latn", {})
    # Bulgarian and some others part thousands by a blank, some by marks of their own: a blank does for these.
    group = symbols.get("group", "")
    group = {"\u2019": "'"}.get(group, group)
    group = group if group in (",", ".", "'") else " "
    pattern = known.decimal_formats.get(None)
    lakhs = pattern is not None and tuple(pattern.grouping) == (3, 2)
    return NumberMarks("," if symbols.get("decimal") == "," else ".", group, lakhs)
