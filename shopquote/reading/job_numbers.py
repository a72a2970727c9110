"""Kinds of field (`FieldKind`) that are numbers: whole numbers, amounts of money, minutes, quantities."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import RATE_DIGITS
from shopquote.errors import Misread
from shopquote.reading import kinds
from shopquote.reading.job_kinds import Asked, FieldKind, given_or_none, quoted
from shopquote.reading.kinds import Kind
from shopquote.reading.kinds.numbers import MOST_MONEY
from shopquote.reading.rows import Row, short


@dataclass(frozen=True)
class Figure(FieldKind):
    """A number from `least` to `most` that `kind` reads and shows; made by `whole`, `amount` and `number`.

    `expected` says in a fault what was expected; `places` is how many decimals are allowed, 0 for a count.
    `look` formats the cells of a workbook.
    """

    kind: Kind[Any]
    expected: str
    most: int | Decimal
    least: int = 0
    places: int = 0
    look: str = "number"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The number, or the default."""
        if default is None and not row.has(key):
            return None
        # TOML's 4.0 is a measured number, not a count.
        if not self.places and isinstance(row.get(key), Decimal):
            row.fault(key, short(row.get(key)), self.expected)
            return self.least
        instead = Decimal(0) if self.places else self.least
        return row.figure(key, self.kind, self.expected, given_or_none(default), instead, asked.notation)

    def toml(self, value: Any) -> str:
        """Digits; an amount in quotes, so that no other program's TOML reader makes a float of it."""
        return quoted(self.shown(value)) if self.look == "amount" else self.shown(value)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cell unchanged."""
        return cells[0]

    def shown(self, value: Any) -> str:
        """Without trailing zeros; an amount with 2 decimals, or as many of 4 as it needs."""
        shown = None if value is None else self.kind.show(value, kinds.Notation())
        return f"{shown:f}" if isinstance(shown, Decimal) else "" if shown is None else str(shown)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A JSON number; an amount as text, so that it stays exact."""
        if self.look == "amount":
            return {key: self.shown(value)}
        return {key: float(value) if self.places else value}


def whole(least: int, most: int) -> Figure:
    """The field kind of a whole number from `least` to `most`."""
    expected = f"a whole number from {least} to {most:,}"
    return Figure(kinds.count(least=least, most=most), expected, most, least)


def amount() -> Figure:
    """The field kind of an amount of money in the shop's currency, 0 or more."""
    return _of(kinds.money(), MOST_MONEY, RATE_DIGITS, 'an amount such as "0.42",', look="amount")


def number(most: Decimal, places: int, what: str) -> Figure:
    """The field kind of a number from 0 to `most` with at most `places` decimals.

    `what` names it in faults.
    """
    return _of(kinds.number(most=most, decimals=places), most, places, what)


def minutes(most: Decimal, places: int) -> Figure:
    """The field kind of minutes from 0 to `most` with at most `places` decimals, typed 90, 1:30 or 1.5 h."""
    return _of(kinds.minutes(most=most, decimals=places), most, places, "minutes such as 90, 1:30 or 1.5 h,")


def _of(kind: Kind[Decimal], most: Decimal, places: int, what: str, look: str = "number") -> Figure:
    expected = f"{what} from 0 to {most:,} with at most {places} decimals"
    return Figure(kind, expected, most, places=places, look=look)


@dataclass(frozen=True)
class BreakCounts(FieldKind):
    """Increasing whole numbers: up to `most` quantities to price side by side, each from 1 to `high`."""

    most: int
    high: int

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[int, ...]:
        """The numbers; empty where the key is missing or after a fault."""
        value = row.get(key)
        if value is None:
            return ()
        expected = f"1 to {self.most} rising numbers of sets, each 1 to {self.high:,}, such as [1, 4, 12]"
        # TOML's 4.0 is a measured number, not a count.
        if not isinstance(value, list) or any(isinstance(item, Decimal) for item in value):
            row.fault(key, short(value), expected)
            return ()
        return row.value(key, kinds.counts(most=self.most, high=self.high), expected) or ()

    def toml(self, value: Any) -> str:
        """A TOML list."""
        return f"[{', '.join(map(str, value))}]"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """One cell with the numbers separated by commas."""
        return (self.shown(value),)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The numbers of one cell as a list.

        A text that is no number stays text, to be reported when read.
        """
        value = cells[0]
        words = value.replace(";", ",").split(",") if isinstance(value, str) else None
        return [value] if words is None else list(map(_counted, words))

    def shown(self, value: Any) -> str:
        """Separated by commas."""
        return ", ".join(map(str, value))


def _counted(word: str) -> int | str:
    """A whole number, or the text as typed, which `BreakCounts.read` will report."""
    try:
        return kinds.count().read(word, kinds.Notation())
    except Misread:
        return word.strip()


def amount_text(amount: Decimal) -> str:
    """A unit cost or rate as text, with 2 decimals or as many of 4 as it needs.

    >>> amount_text(Decimal("0.4")), amount_text(Decimal("0.0450"))
    ('0.40', '0.045')
    """
    return f"{kinds.money().show(amount, kinds.Notation()):f}"


def number_text(number: Decimal) -> str:
    """A number as text without trailing zeros and without an exponent.

    >>> number_text(Decimal("25.000")), number_text(Decimal("1E+2"))
    ('25', '100')
    """
    return f"{kinds.plain(number):f}"
