"""The price of one bar from a price per bar, kilogram, pound, hundredweight, metre or foot (`BASES`).

Begin at `bar_price`. Money is Decimal, lengths are `Length`, masses are Decimal kilograms.
"""

from decimal import Decimal
from typing import Literal, get_args

from shopquote.calc.money import round_rate
from shopquote.calc.units import KG_PER_LB, NM_PER_INCH, NM_PER_MM, Length
from shopquote.errors import InputError, nearest_word

Basis = Literal["bar", "kg", "lb", "cwt", "m", "ft"]
BASES: tuple[Basis, ...] = get_args(Basis)

# The short hundredweight of US price lists is 100 lb.
KG_PER_CWT = 100 * KG_PER_LB


def read_basis(text: str) -> Basis:
    """The basis that a word of a price list means; case does not matter.

    Raises:
        InputError: the word is none of `BASES`.

    >>> read_basis("KG")
    'kg'
    """
    word = BASIS_WORDS.get(text.strip().lower().rstrip("."))
    if word is None:
        near = nearest_word(text, BASIS_WORDS)
        hint = f"Did you mean {near!r}?" if near else None
        raise InputError(f"Price basis is {text!r}; expected one of {', '.join(BASES)}.", hint=hint)
    return word


# Words for a basis in the languages of papers. "each" and "piece" in a list of bars mean a whole bar.
BASIS_WORDS: dict[str, Basis] = {
    "bar": "bar", "each": "bar", "ea": "bar", "pc": "bar", "pcs": "bar", "piece": "bar", "length": "bar",
    "stab": "bar", "stück": "bar", "stk": "bar", "barre": "bar", "pièce": "bar", "barra": "bar",
    "pieza": "bar", "mètre": "m", "metro": "m",
    "kg": "kg", "kilo": "kg", "kilogram": "kg",
    "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb",
    "cwt": "cwt", "100 lb": "cwt", "hundredweight": "cwt",
    "m": "m", "metre": "m", "meter": "m",
    "ft": "ft", "foot": "ft", "feet": "ft",
}  # fmt: skip


def bar_price(price: Decimal, basis: Basis, length: Length, mass_kg: Decimal) -> Decimal:
    """The price of one bar, rounded half up to four decimals.

    Args:
        price: in one currency, for one unit of `basis`.
        basis: bar, kg, lb, cwt (100 lb), m or ft.
        length: the bar's length.
        mass_kg: the bar's mass; used by kg, lb and cwt only.

    >>> bar_price(Decimal("1.20"), "kg", Length.from_mm(6000), Decimal("5.328"))
    Decimal('6.3936')
    """
    return round_rate(price * units_in_bar(basis, length, mass_kg))


def price_for_basis(bar_cost: Decimal, basis: Basis, length: Length, mass_kg: Decimal) -> Decimal:
    """The price per `basis` at which one bar costs `bar_cost`; the inverse of `bar_price`.

    >>> price_for_basis(Decimal("6.3936"), "kg", Length.from_mm(6000), Decimal("5.328"))
    Decimal('1.2000')
    """
    return round_rate(bar_cost / units_in_bar(basis, length, mass_kg))


def units_in_bar(basis: Basis, length: Length, mass_kg: Decimal) -> Decimal:
    """How many units of `basis` one bar holds, unrounded."""
    if basis == "bar":
        return Decimal(1)
    if basis == "kg":
        return mass_kg
    if basis == "lb":
        return mass_kg / KG_PER_LB
    if basis == "cwt":
        return mass_kg / KG_PER_CWT
    if basis == "m":
        return Decimal(length.nm) / Decimal(1000 * NM_PER_MM)
    return Decimal(length.nm) / Decimal(12 * NM_PER_INCH)
