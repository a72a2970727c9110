"""`Kind`, which reads and shows one kind of value, and `Notation`, the shop's settings that it reads by."""

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

# A fault shows numbers in full up to here: 1e999999 would be a megabyte of zeros.
MOST_DIGITS = 30
LARGEST_SHOWN = 10**MOST_DIGITS


@dataclass(frozen=True, slots=True)
class Notation:
    """How the shop writes values: unit of bare lengths, locale, currency ("" where unknown).

    `portable` is for files that go from shop to shop, such as job files: their numbers mean the same under
    every locale, so a number that the locale would have to decide is refused.
    """

    unit: Unit = "mm"
    locale: str = ""
    currency: str = ""
    portable: bool = False

    @property
    def marks(self) -> NumberMarks | None:
        """Decimal and thousands marks of the locale; None without a locale and in a portable file."""
        return marks_of(self.locale) if self.locale and not self.portable else None

    def within(self, unit: Unit) -> "Notation":
        """This notation with another unit of bare lengths, for a job or list that has its own."""
        return self if unit == self.unit else replace(self, unit=unit)


@dataclass(frozen=True)
class Kind(Generic[Value]):
    """One kind of value.

    `expected` says in a fault what was expected. `read` takes a text or a cell's value and raises `Misread`.
    `show` gives a cell that reads back to the value. `key`: two values with equal keys are one entry of a
    list. `number`: shown flush right. `brief` gives shorter text for the terminal, which need not read back.
    """

    expected: str
    read: Callable[[object, Notation], Value]
    show: Callable[[Value, Notation], Cell]
    number: bool = False
    brief: Callable[[Value, Notation], Cell] | None = None
    key: Callable[[Value], Hashable] = lambda value: value

    def text(self, value: Value, notation: Notation) -> str:
        """The value as text that reads back to the same value."""
        return cell_text(self.show(value, notation))

    @property
    def or_nothing(self) -> "Kind[Value | None]":
        """This kind for a cell that may be empty; an empty one is None."""

        def read(value: object, notation: Notation) -> Value | None:
            return None if is_nothing(value) else self.read(value, notation)

        def show(value: Value | None, notation: Notation) -> Cell:
            return None if value is None else self.show(value, notation)

        def key(value: Value | None) -> Hashable:
            return None if value is None else self.key(value)

        return Kind(f"{self.expected}, or nothing", read, show, self.number, None, key)


@dataclass(frozen=True)
class Typed:
    """A value with the text that it was typed as."""

    value: Any
    text: str


def is_nothing(value: object) -> bool:
    """Whether a cell is empty: None, or a text of white space."""
    return value is None or (isinstance(value, str) and not value.strip())


def found_text(value: object) -> str:
    """A value as a fault shows it: one line, at most 60 characters, in quotes where it is text.

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
        return "a number too large to be used"  # writing out 10**999999 would take minutes
    text = cell_text(value) if isinstance(value, int | float | Decimal | date) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _is_endless(value: object) -> bool:
    if isinstance(value, Decimal):
        return not value.is_finite() or abs(value.adjusted()) > MOST_DIGITS
    return isinstance(value, int) and not -LARGEST_SHOWN < value < LARGEST_SHOWN


def misread(value: object, expected: str, nearest: str | None = None) -> Misread:
    """A `Misread` for a value that is not of the kind expected."""
    return Misread(found_text(value), expected, nearest)


def fault_of(error: Misread, file: str, table: str, mark: str, key: str) -> Fault:
    """The `Fault` of a misread value, at its place in a file: table, mark or row, key."""
    return Fault(file, table, mark, key, error.found, error.expected, error.nearest)


def read_typed(what: str, kind: Kind[Value], value: object, notation: Notation) -> Value:
    """Read the value of one option or field; the error's message begins with `what`, its name.

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
    """Decimal and thousands marks of a locale's numbers; None for a locale that Babel does not know."""
    from babel import Locale, UnknownLocaleError

    try:
        known = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        return None
    symbols = known.number_symbols.get("latn", {})
    # Separators that people cannot type, or that are rare, are taken as a space, which reads in every locale.
    group = symbols.get("group", "")
    group = {"\u2019": "'"}.get(group, group)
    group = group if group in (",", ".", "'") else " "
    pattern = known.decimal_formats.get(None)
    lakhs = pattern is not None and tuple(pattern.grouping) == (3, 2)
    return NumberMarks("," if symbols.get("decimal") == "," else ".", group, lakhs)
