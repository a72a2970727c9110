"""Kinds of value in a job that are numbers: whole ones, amounts of money, minutes and the like, quantities.

Like the others in `job_kinds`.
"""

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
    """A figure that one of `kinds` reads and shows, from `least` to `most`; see `whole`, `amount`, `number`.

    `expected` are a job file's words for it, and `places` its decimals: a figure of none is a count.
    """

    kind: Kind[Any]
    expected: str
    most: int | Decimal
    least: int = 0
    places: int = 0
    look: str = "number"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The figure, or the default."""
        if default is None and not row.has(key):
            return None
        # TOML's 4.0 is a measured number, not a count.
        if not self.places and isinstance(row.get(key), Decimal):
            row.fault(key, short(row.get(key)), self.expected)
            return self.least
        instead = Decimal(0) if self.places else self.least
        return row.figure(key, self.kind, self.expected, given_or_none(default), instead, asked.notation)

    def toml(self, value: Any) -> str:
        """Digits; an amount as a text, so that no reader makes a float of it."""
        return quoted(self.shown(value)) if self.look == "amount" else self.shown(value)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cell as it is."""
        return cells[0]

    def shown(self, value: Any) -> str:
        """Without idle zeros; an amount with 2 decimals, or as many of 4 as it needs."""
        shown = None if value is None else self.kind.show(value, kinds.Notation())
        return f"{shown:f}" if isinstance(shown, Decimal) else "" if shown is None else str(shown)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A JSON number; an amount as a text."""
        if self.look == "amount":
            return {key: self.shown(value)}
        return {key: float(value) if self.places else value}


def whole(least: int, most: int) -> Figure:
    """A whole number."""
    expected = f"a whole number from {least} to {most:,}"
    return Figure(kinds.count(least=least, most=most), expected, most, least)


def amount() -> Figure:
    """Money in the shop's currency."""
    return _of(kinds.money(), MOST_MONEY, RATE_DIGITS, 'an amount such as "0.42",', look="amount")


def number(most: Decimal, places: int, what: str) -> Figure:
    """A number of zero or more, such as minutes."""
    return _of(kinds.number(most=most, decimals=places), most, places, what)


def _of(kind: Kind[Decimal], most: Decimal, places: int, what: str, look: str = "number") -> Figure:
    expected = f"{what} from 0 to {most:,} with at most {places} decimals"
    return Figure(kind, expected, most, places=places, look=look)


@dataclass(frozen=True)
class BreakCounts(FieldKind):
    """Rising whole numbers, such as quantities to price side by side."""

    most: int
    high: int

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[int, ...]:
        """The numbers, or none."""
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
        """A list."""
        return f"[{', '.join(map(str, value))}]"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """Numbers with commas in one cell."""
        return (self.shown(value),)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The numbers of one cell, as typed."""
        value = cells[0]
        words = value.replace(";", ",").split(",") if isinstance(value, str) else None
        return [value] if words is None else list(map(_counted, words))

    def shown(self, value: Any) -> str:
        """With commas."""
        return ", ".join(map(str, value))


def _counted(word: str) -> int | str:
    """A whole number, or the word as it was typed, which is told when it is read."""
    try:
        return kinds.count().read(word, kinds.Notation())
    except Misread:
        return word.strip()


def amount_text(amount: Decimal) -> str:
    """A unit cost or rate with 2 decimals, or as many of 4 as it needs.

    >>> amount_text(Decimal("0.4")), amount_text(Decimal("0.0450"))
    ('0.40', '0.045')
    """
    return f"{kinds.money().show(amount, kinds.Notation()):f}"


def number_text(number: Decimal) -> str:
    """A number without idle zeros and without an exponent.

    >>> number_text(Decimal("25.000")), number_text(Decimal("1E+2"))
    ('25', '100')
    """
    return f"{kinds.plain(number):f}"
