"""What is asked of the supplier choice and what it answers.

Money is Decimal in the shop's currency with at most four decimals. A choice is
exact: its cost is a sum of whole ten-thousandths, and so is its bound.
"""

from dataclasses import field
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length


@dataclass(frozen=True, slots=True, order=True)
class BarKind:
    """What a bar must be to fill a need: section key, grade and length."""

    section: str
    grade: str
    length: Length


@dataclass(frozen=True, slots=True)
class PriceStep:
    """From this mass of one item on, all of it costs `price` a bar."""

    from_g: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Offer:
    """One item of a supplier's list.

    `code` names it and is unique. `mass_g` is the mass of one bar, whole grams.
    `steps` rise by mass; an item is sold only from the first step's mass on.
    Bars come in whole bundles, at most `limit` of them. `cut`: sawn to length
    by the supplier, the charge for the cut being in the price.
    """

    code: str
    supplier: str
    kind: BarKind
    mass_g: int
    steps: tuple[PriceStep, ...]
    bundle: int = 1
    limit: int | None = None
    cut: bool = False


@dataclass(frozen=True, slots=True)
class SupplierTerms:
    """What a supplier charges for a delivery; nothing from `free_from` of goods on.

    `certificate_charge` is asked for each order whose metal comes with a certificate, delivered free or not.
    """

    name: str
    delivery_charge: Decimal = Decimal(0)
    free_from: Decimal | None = None
    certificate_charge: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Need:
    """Bars of one kind that must be bought, or more of them."""

    kind: BarKind
    count: int


@dataclass(frozen=True, slots=True)
class Way:
    """One way to cover a want: the bars of one cut plan, or pieces cut by the supplier."""

    name: str
    needs: tuple[Need, ...]


@dataclass(frozen=True, slots=True)
class Want:
    """A section and grade that is wanted; exactly one of its ways is bought.

    `besides`: kinds of bar that none of them needs, worth buying where they make a delivery free.
    """

    name: str
    ways: tuple[Way, ...]
    besides: tuple[BarKind, ...] = ()


@dataclass(frozen=True, slots=True)
class Purchase:
    """Bars bought from one offer. `amount` = count x unit price, unrounded."""

    offer: Offer
    count: int
    unit_price: Decimal

    @property
    def amount(self) -> Decimal:
        """Count x unit price, unrounded."""
        return self.unit_price * self.count


@dataclass(frozen=True, slots=True)
class Extra:
    """Bars of an offer beyond the need, and what is saved by buying them.

    `saves` is None where they cannot be left out: the item is sold in bundles (`bundle`), or only
    from a mass on. `free_delivery`, `price_step`: what the bars bring.
    """

    offer: Offer
    count: int
    saves: Decimal | None
    free_delivery: bool = False
    price_step: bool = False
    bundle: bool = False


@dataclass(frozen=True, slots=True)
class BuyingPlan:
    """Who gets which order, with its proof.

    `cost` = purchases + deliveries. No choice among the ways and offers given
    costs less than `bound`; `proven` when the two are equal. `cut_short`: a clock that a person
    set ended the search. `extras` are bars bought beyond the need.
    """

    purchases: tuple[Purchase, ...]
    ways: dict[str, str]
    deliveries: dict[str, Decimal]
    cost: Decimal
    bound: Decimal
    seconds: float
    nodes: int = field(default=0, compare=False)
    cut_short: bool = False
    extras: tuple[Extra, ...] = ()

    @property
    def proven(self) -> bool:
        """No cheaper choice exists."""
        return self.bound >= self.cost

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Suppliers that get an order, by name."""
        return tuple(sorted({purchase.offer.supplier for purchase in self.purchases}))
