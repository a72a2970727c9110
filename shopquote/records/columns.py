"""Column types that keep lengths, money and numbers exact on every database.

Numeric on SQLite is a float underneath: Numeric(20,4) returned
12345678901234.5684 for .5678 and stored 1.00005 as 1.0001. These types keep a
scaled integer instead, the same on SQLite and PostgreSQL, refuse a value with
more digits than they hold, and so let SQL add up without rounding.
"""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, Dialect, Integer, String
from sqlalchemy.exc import DontWrapMixin
from sqlalchemy.sql import operators
from sqlalchemy.types import TypeDecorator, TypeEngine

from shopquote.calc.units import Length
from shopquote.errors import InputError

# Signed 64 bits: the largest of a column of either database.
LARGEST_INTEGER = 2**63 - 1

_SCALING = {operators.mul, operators.truediv, operators.floordiv, operators.mod}
_ADDING = {operators.add, operators.sub}


class _KeepsItsUnit(TypeDecorator.Comparator[Any]):
    """A length times or over a plain whole number is a length, and so is a sum of lengths; likewise money."""

    def _adapt_expression(self, op: Any, other_comparator: Any) -> tuple[Any, TypeEngine[Any]]:
        other = other_comparator.type
        # Our own columns are integers underneath too: a length times a length is no length.
        plain = isinstance(other, Integer) and not isinstance(other, TypeDecorator)
        if (op in _SCALING and plain) or (op in _ADDING and type(other) is type(self.type)):
            return op, self.type
        result: tuple[Any, TypeEngine[Any]] = super()._adapt_expression(op, other_comparator)
        return result


class NotStorable(InputError, DontWrapMixin):
    """A value that a column would have to round, clip or guess."""


class LengthColumn(TypeDecorator[Length]):
    """A `Length` in whole nanometres.

    `column * 3` and `column / 3` take plain numbers; every comparison and sum takes a `Length`.
    """

    impl = BigInteger
    cache_ok = True
    comparator_factory = _KeepsItsUnit

    def process_bind_param(self, value: Length | None, dialect: Dialect) -> int | None:
        """Nanometres to store.

        Raises:
            NotStorable: no `Length`, or too long a one.
        """
        if value is None:
            return None
        if not isinstance(value, Length):
            raise NotStorable(f"A length column was given {value!r}; it takes a Length.")
        if abs(value.nm) > LARGEST_INTEGER:
            raise NotStorable(f"Length {value.mm} mm is too long to store.")
        return value.nm

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Length | None:
        """A `Length`; PostgreSQL hands sums back as whole Decimals."""
        return None if value is None else Length(int(value))

    def coerce_compared_value(self, op: Any, value: Any) -> TypeEngine[Any]:
        """Plain numbers scale a length; all else is a length itself."""
        return Integer() if op in _SCALING and isinstance(value, int) else self


class _ScaledColumn(TypeDecorator[Decimal]):
    """A Decimal as a whole number of units in its last place."""

    impl = BigInteger
    cache_ok = True
    comparator_factory = _KeepsItsUnit
    digits = 0

    def process_bind_param(self, value: Decimal | int | None, dialect: Dialect) -> int | None:
        """The scaled integer to store."""
        return None if value is None else scaled_integer(value, self.digits)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        """A Decimal with all the column's digits; a mean from SQL keeps its own fraction."""
        return None if value is None else Decimal(value).scaleb(-self.digits)

    def coerce_compared_value(self, op: Any, value: Any) -> TypeEngine[Any]:
        """Plain whole numbers scale an amount; all else is an amount itself."""
        return Integer() if op in _SCALING and isinstance(value, int) else self


class MoneyColumn(_ScaledColumn):
    """Money or a rate: 4 decimals, to 900 million million."""

    cache_ok = True
    digits = 4


class NumberColumn(_ScaledColumn):
    """Any other decimal number (per cent, minutes, degrees, kilograms): 6 decimals."""

    cache_ok = True
    digits = 6


class TimeColumn(TypeDecorator[datetime]):
    """A moment, kept as UTC text such as 2026-11-25T09:13:00.000000Z that sorts by time."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """UTC text of fixed width.

        Raises:
            NotStorable: a time without a zone.
        """
        if value is None:
            return None
        if value.tzinfo is None:
            raise NotStorable(f"Time {value} has no time zone; it cannot be stored.")
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """The moment, in UTC."""
        return None if value is None else datetime.fromisoformat(value)


def scaled_integer(value: Decimal | int, digits: int) -> int:
    """`value` in units of its last stored place.

    Raises:
        NotStorable: not a finite Decimal or int, more digits than are kept, or too large.

    >>> scaled_integer(Decimal("1.2500"), 4)
    12500
    """
    # A float would be stored with digits that nobody wrote; True is an int to Python.
    if isinstance(value, bool) or not isinstance(value, Decimal | int):
        raise NotStorable(f"{value!r} is not an exact number; it cannot be stored.")
    exact = Decimal(value)
    if not exact.is_finite():
        raise NotStorable(f"{value} is not a number; it cannot be stored.")
    if abs(exact) > LARGEST_INTEGER:
        raise NotStorable(f"{value} is too large to store.")
    # In whole numbers: Decimal's own context would round a long value without a word.
    numerator, denominator = exact.as_integer_ratio()
    units: int
    units, rest = divmod(numerator * 10**digits, denominator)
    if rest:
        raise NotStorable(
            f"{value} has more than {digits} decimals; it would have to be rounded to be stored."
        )
    if abs(units) > LARGEST_INTEGER:
        raise NotStorable(f"{value} is too large to store.")
    return units
