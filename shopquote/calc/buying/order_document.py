"""An order as it is kept: all that printing it needs, once and for ever.

`OrderDocument` holds copies of the shop's and the supplier's details, the lines and prices of the
day. Nothing in it is worked out again when it is printed.
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
    """A line as printed. `mass_kg` is of all its bars; prices are None where they are asked for.

    `price` is on the `basis` of the list (bar, kg, m ...), `unit_price` of one bar or sawn piece.
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
    """What is another in a line than in the revision before, by the position that it had there.

    A `count` of 0 took it out. Prices, each on its basis, are None where they are the same or were not named.
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
    """What a job bears of an order's total."""

    job: str
    share: Decimal


@dataclass(frozen=True, slots=True)
class OrderDocument:
    """One revision of an order, or of a request for prices (`kind` "ask"), as it goes to the supplier.

    `invented` says that the shop or the supplier is made up. `certificate` is a type of EN 10204, or empty.
    `locale` is the supplier's own, else the shop's. A later revision says what it replaces and what changed.
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
        """Whether it asks for prices and orders nothing."""
        return self.kind == "ask"


def _of_own_form(held: Mapping[str, Any]) -> dict[str, Any]:
    """An order kept before the common form: the shop's paper and units stood with its address."""
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
