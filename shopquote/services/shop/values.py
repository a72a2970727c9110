"""Values made from rows of the shop; loads no table, for pricing without a database."""

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.address import Address
from shopquote.calc.bar.sections import Section, parse_section

if TYPE_CHECKING:
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


def shop_address(shop: "Shop") -> Address:
    """The shop's name and address as printed on papers."""
    return Address(shop.name, shop.address, shop.email, shop.phone, shop.tax_number)


def address_of(person: "Customer | Supplier") -> Address:
    """A customer's or supplier's name and address as printed on papers."""
    return Address(person.name, person.address, person.email, person.phone)
