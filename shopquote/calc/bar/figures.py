"""Figures without a unit in the words of shapes and ends: angles and turns, with a fraction if need be.

A point is a decimal mark here in every shop. Begin at `figure`.
"""

import re
from decimal import Decimal

from shopquote.calc.numbers import read_number
from shopquote.calc.units import mixed_number

_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)")


def figure(text: str) -> Decimal:
    """Read a signed number.

    Raises:
        Misread: no number, or one that may mean two.

    >>> figure("-2.5"), figure("22½"), figure("67,5"), figure("1-1/2")
    (Decimal('-2.5'), Decimal('22.5'), Decimal('67.5'), Decimal('1.5'))
    """
    plain = text.replace("−", "-").replace("–", "-").strip()
    if (mixed := mixed_number(plain)) is not None:
        return Decimal(mixed.numerator) / mixed.denominator
    if len(plain) <= 40 and plain.isascii() and _PLAIN.fullmatch(plain):
        return Decimal(plain)
    return read_number(plain)


def degrees(text: str) -> Decimal:
    """The same, with ° or deg behind it or not.

    >>> degrees("22-1/2°"), degrees("45 deg")
    (Decimal('22.5'), Decimal('45'))
    """
    return figure(re.sub(r"\s*(?:°|deg(?:rees?)?\.?)$", "", text.strip(), flags=re.IGNORECASE))
