"""Column types that keep lengths, money and numbers exact on every database.

Numeric on SQLite is a float underneath: Numeric(20,4) returned 12345678901234.5684 for .5678 and stored
1.00005 as 1.0001. These types keep a scaled integer instead, the same on SQLite and PostgreSQL, refuse a
value with more digits than they hold, and so let SQL add up without rounding.
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
    """Gives SQL expressions their type.

    A length times or divided by an integer is a length, as is a sum of two.

    The same holds for money and other scaled numbers.
    """

    def _adapt_expression(self, op: Any, other_comparator: Any) -> tuple[Any, TypeEngine[Any]]:
        other = other_comparator.type
        # These column types are stored as integers too, but a length times a length is not a length.
        plain = isinstance(other, Integer) and not isinstance(other, TypeDecorator)
        if (op in _SCALING and plain) or (op in _ADDING and type(other) is type(self.type)):
            return op, self.type
        result: tuple[Any, TypeEngine[Any]] = super()._adapt_expression(op, other_comparator)
        return result


class NotStorable(InputError, DontWrapMixin):
    """A value that a column could only store rounded or clipped, or whose meaning it would have to guess.

    `DontWrapMixin` lets SQLAlchemy raise it as it is, so that a person sees the message.
    """


class LengthColumn(TypeDecorator[Length]):
    """A `Length` in whole nanometres.

    In queries `column * 3` and `column / 3` take plain integers; comparisons and sums take a `Length`.
    """

    impl = BigInteger
    cache_ok = True
    comparator_factory = _KeepsItsUnit

    def process_bind_param(self, value: Length | None, dialect: Dialect) -> int | None:
        """Nanometres to store.

        Raises:
            NotStorable: not a `Length`, or one beyond 64 bits.
        """
        if value is None:
            return None
        if not isinstance(value, Length):
            raise NotStorable(f"A length column was given {value!r}; it takes a Length.")
        if abs(value.nm) > LARGEST_INTEGER:
            raise NotStorable(f"Length {value.mm} mm is too long to store.")
        return value.nm

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Length | None:
        """A `Length`. The `int` is for PostgreSQL, which returns sums of bigint as Decimal."""
        return None if value is None else Length(int(value))

    def coerce_compared_value(self, op: Any, value: Any) -> TypeEngine[Any]:
        """The type of an operand: an integer that multiplies or divides is plain, all else is a length."""
        return Integer() if op in _SCALING and isinstance(value, int) else self


class _ScaledColumn(TypeDecorator[Decimal]):
    """A Decimal stored as a whole number of units of its last place, 10 ** -`digits`."""

    impl = BigInteger
    cache_ok = True
    comparator_factory = _KeepsItsUnit
    digits = 0

    def process_bind_param(self, value: Decimal | int | None, dialect: Dialect) -> int | None:
        """The scaled integer to store."""
        return None if value is None else scaled_integer(value, self.digits)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        """A Decimal with all the column's digits; an average from SQL may have more."""
        return None if value is None else Decimal(value).scaleb(-self.digits)

    def coerce_compared_value(self, op: Any, value: Any) -> TypeEngine[Any]:
        """The type of an operand: an integer that multiplies or divides is plain, all else is an amount."""
        return Integer() if op in _SCALING and isinstance(value, int) else self


class MoneyColumn(_ScaledColumn):
    """Money or a rate: 4 decimals, up to 9.2e14."""

    cache_ok = True
    digits = 4


class NumberColumn(_ScaledColumn):
    """Any other decimal number (per cent, minutes, degrees, kilograms): 6 decimals, up to 9.2e12."""

    cache_ok = True
    digits = 6


class TimeColumn(TypeDecorator[datetime]):
    """A moment as UTC text such as 2026-11-25T09:13:00.000000Z, of fixed width so that it sorts by time."""

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
    # A float's binary digits are not those that were typed; True is an int to Python.
    if isinstance(value, bool) or not isinstance(value, Decimal | int):
        raise NotStorable(f"{value!r} is not an exact number; it cannot be stored.")
    exact = Decimal(value)
    if not exact.is_finite():
        raise NotStorable(f"{value} is not a number; it cannot be stored.")
    if abs(exact) > LARGEST_INTEGER:
        raise NotStorable(f"{value} is too large to store.")
    # In integers: Decimal arithmetic would silently round a long value to the context's 28 digits.
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
