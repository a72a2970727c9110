"""Values made from rows of the shop; loads no table, for pricing without a database."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.address import Address
from shopquote.calc.bar.sections import Section, parse_section

if TYPE_CHECKING:
    from shopquote.records.materials import StockPrice
    from shopquote.records.people import Customer, Supplier
    from shopquote.records.shop import Shop


def section_of(key: str, text: str = "") -> Section:
    """A section from its stored key, with the text that it was typed as."""
    return replace(parse_section(key, "mm"), text=text or key)


def without_idle_zeros(value: Decimal) -> Decimal:
    """The same number without trailing zeros.

    >>> without_idle_zeros(Decimal("250.000000"))
    Decimal('250')
    """
    # Columns return all their decimal places; by these alone a quote worked out again would differ from its
    # stored text.
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()


def prices_in_force(prices: "Iterable[StockPrice]", on: date) -> "list[StockPrice]":
    """The steps of an item's newest price list not after a day, by rising mass; older lists are history.

    A price list is the steps of one day: a step that the newest list does not name applies no longer.
    """
    held = [price for price in prices if price.valid_from <= on]
    newest = max((price.valid_from for price in held), default=None)
    return sorted((price for price in held if price.valid_from == newest), key=lambda price: price.break_kg)


def shop_address(shop: "Shop") -> Address:
    """The shop's name and address as printed on papers."""
    return Address(shop.name, shop.address, shop.email, shop.phone, shop.tax_number)


def address_of(person: "Customer | Supplier") -> Address:
    """A customer's or supplier's name and address as printed on papers."""
    return Address(person.name, person.address, person.email, person.phone)
