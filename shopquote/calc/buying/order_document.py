"""A supplier order as stored: a snapshot of all that is printed on it.

`OrderDocument` has copies of the shop's and the supplier's details and of the lines and prices of the day.
Nothing is calculated again when it is printed.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from shopquote.calc.address import Address
from shopquote.calc.frozen import dataclass
from shopquote.calc.snapshot import Snapshot
from shopquote.calc.units import Length, Unit


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """A line as printed. `mass_kg` is that of all its bars; prices are None in a request for prices.

    `price` is per `basis` of the price list (bar, kg, m ...), `unit_price` per bar or sawn piece.
    """

    position: int
    bar: str
    section_key: str
    grade: str
    standard: str
    condition: str
    length: Length
    length_text: str
    tolerance: str
    cut: bool
    count: int
    mass_kg: Decimal | None
    price: Decimal | None
    basis: str | None
    unit_price: Decimal | None
    amount: Decimal | None


@dataclass(frozen=True, slots=True)
class LineChange:
    """A change of a line against the previous revision, in which it had `position`.

    A `count` of 0: the line was removed. Prices, each per its basis, are None where unchanged or not given.
    """

    position: int
    bar: str
    length_text: str
    old_count: int
    count: int
    old_price: Decimal | None = None
    old_basis: str = ""
    price: Decimal | None = None
    basis: str = ""


@dataclass(frozen=True, slots=True)
class JobShare:
    """A job's share of an order's total."""

    job: str
    share: Decimal


@dataclass(frozen=True, slots=True)
class OrderDocument:
    """One revision of an order, or of a request for prices (`kind` "ask"), as sent to the supplier.

    `invented`: the shop or the supplier is made up. `certificate` is a type of EN 10204, or "". `locale` is
    the supplier's, else the shop's. A later revision has the day of the one it replaces, and the changes.
    """

    number: str
    revision: int
    kind: Literal["order", "ask"]
    shop: Address
    supplier: Address
    placed_on: date
    due_on: date | None
    place: str
    reference: str
    certificate: str
    marking: str
    note: str
    currency: str
    lines: tuple[OrderedLine, ...]
    goods: Decimal
    delivery: Decimal
    total: Decimal
    jobs: tuple[JobShare, ...]
    units: Unit = "mm"
    locale: str = "en_GB"
    paper: str = "A4"
    invented: bool = False
    certificate_charge: Decimal = Decimal(0)  # of `delivery`
    replaces_of: date | None = None  # the day of the revision before
    changes: tuple[LineChange, ...] = ()

    @property
    def is_ask(self) -> bool:
        """Whether it is a request for prices."""
        return self.kind == "ask"


def _of_own_form(held: Mapping[str, Any]) -> dict[str, Any]:
    """The content of an order stored before snapshots had a common form, translated to today's fields.

    There the shop's paper size and units were part of its address.
    """
    shop = held["shop"]
    kept = {key: shop[key] for key in ("units", "locale", "paper") if key in shop}
    lines = [{**line, "length": line["length_nm"]} for line in held["lines"]]
    invented = bool(shop.get("invented") or held["supplier"].get("invented"))
    return {**held, **kept, "lines": lines, "invented": invented}


_ORDER = Snapshot("order", OrderDocument, older=_of_own_form)


def order_document_text(document: OrderDocument) -> str:
    """The document as JSON text."""
    return _ORDER.text(document)


def order_document_from_text(text: str) -> OrderDocument:
    """The document back from its JSON text, to the cent.

    Raises:
        InputError: the text is not an order of a format that is known.
    """
    return _ORDER.read(text)
