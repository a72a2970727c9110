"""Kinds of value in a job that are numbers: whole ones, amounts of money, minutes and the like, quantities.

Like the others in `job_kinds`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shopquote.calc.units import Unit
from shopquote.errors import Misread
from shopquote.reading import kinds
from shopquote.reading.job_kinds import Asked, FieldKind, given_or_none, quoted
from shopquote.reading.rows import Row, short


@dataclass(frozen=True)
class Whole(FieldKind):
    """A whole number from low to high."""

    low: int
    high: int
    look = "number"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> int | None:
        """The number, or the default."""
        if default is None and not row.has(key):
            return None
        return row.whole(key, self.low, self.high, given_or_none(default))

    def toml(self, value: Any) -> str:
        """Digits."""
        return str(value)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cell as it is."""
        return cells[0]


@dataclass(frozen=True)
class Amount(FieldKind):
    """Money in the shop's currency."""

    look = "amount"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Decimal:
        """The amount, or the default."""
        return row.money(key, given_or_none(default))

    def toml(self, value: Any) -> str:
        """A text, so that no reader makes a float of it."""
        return quoted(amount_text(value))

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cell as it is."""
        return cells[0]

    def shown(self, value: Any) -> str:
        """With 2 decimals, or as many of 4 as it needs."""
        return amount_text(value)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A text."""
        return {key: amount_text(value)}


@dataclass(frozen=True)
class Number(FieldKind):
    """A number of zero or more, such as minutes."""

    most: Decimal
    digits: int
    what: str
    look = "number"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Decimal:
        """The number, or the default."""
        return row.number(key, self.most, self.digits, self.what, given_or_none(default))

    def toml(self, value: Any) -> str:
        """Digits."""
        return number_text(value)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cell as it is."""
        return cells[0]

    def shown(self, value: Any) -> str:
        """Without idle zeros."""
        return number_text(value)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A JSON number."""
        return {key: float(value)}


@dataclass(frozen=True)
class Counts(FieldKind):
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

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """A JSON list."""
        return {key: list(value)}

    def load(self, key: str, row: Any, unit: Unit) -> tuple[int, ...]:
        """Whole numbers of a JSON list."""
        return tuple(int(number) for number in getattr(row, key))

    def shown(self, value: Any) -> str:
        """With commas."""
        return ", ".join(map(str, value))

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A list."""
        return {key: list(value)}


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
