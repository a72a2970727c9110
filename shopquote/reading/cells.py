"""Values of a table's cells, and their text in a file that is read back.

A number cell of a workbook becomes a `NumberText`, so that its point is a decimal point under every locale.
"""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from math import isfinite

from shopquote.calc.numbers import unmistakable

Cell = str | int | Decimal | date | bool | None


class NumberText(str):
    """The digits of a number cell, as opposed to text that a person typed."""

    __slots__ = ()

    def strip(self, chars: str | None = None, /) -> "NumberText":
        """The same object: there is nothing to strip, and `str.strip` would return a plain `str`."""
        return self


def cell_text(value: object) -> str:
    """A cell's value as text that a person could have typed and that reads the same under every locale.

    >>> cell_text(Decimal("1.50")), cell_text(1.1 * 1.1), cell_text(True), cell_text(None)
    ('1.50', '1.21', 'yes', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | Decimal | float):
        return unmistakable(digits_of(value))
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time.min else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")
    return str(value)


def cell_of(value: object) -> str:
    """A cell's value as text for a reader: a number as `NumberText`, all else as `cell_text` gives it."""
    if isinstance(value, int | Decimal | float) and not isinstance(value, bool):
        return NumberText(digits_of(value))
    return cell_text(value)


def digits_of(value: int | Decimal | float) -> str:
    """A number in full with a point, never with an exponent.

    >>> digits_of(1e21), digits_of(0.1 + 0.2), digits_of(Decimal("1.50"))
    ('1000000000000000000000', '0.3', '1.50')
    """
    if isinstance(value, float) and not isfinite(value):
        return str(value)
    if isinstance(value, float):
        # Spreadsheets keep 15 significant digits; further ones of the float were never typed.
        exact = Decimal(f"{value:.15g}")
        # Not by quantize, which is limited to 28 digits: a cell may hold 1e300.
        return str(int(exact)) if exact == exact.to_integral_value() else f"{exact:f}"
    return f"{value:f}" if isinstance(value, Decimal) else str(value)
