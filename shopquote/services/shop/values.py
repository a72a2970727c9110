"""What rows of the shop's lists say, as values; loads no table, for what prices without a database."""

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.address import Address
from shopquote.calc.bar.sections import Section, parse_section

if TYPE_CHECKING:
    from shopquote.records.people import Customer, Supplier
    from shopquote.records.shop import Shop


def section_of(key: str, text: str = "") -> Section:
    """A section from its exact key, with the words that it was typed in."""
    return replace(parse_section(key, "mm"), text=text or key)


def without_idle_zeros(value: Decimal) -> Decimal:
    """The same number, written as short as it can be.

    >>> without_idle_zeros(Decimal("250.000000"))
    Decimal('250')
    """
    # Columns give back all their places; a quote worked out anew must not differ from its stored text by
    # them.
    whole = value.to_integral_value()
    return whole.quantize(Decimal(1)) if value == whole else value.normalize()


def shop_address(shop: "Shop") -> Address:
    """The shop as papers name it."""
    return Address(shop.name, shop.address, shop.email, shop.phone, shop.tax_number)


def address_of(person: "Customer | Supplier") -> Address:
    """A customer or supplier as papers name it."""
    return Address(person.name, person.address, person.email, person.phone)
