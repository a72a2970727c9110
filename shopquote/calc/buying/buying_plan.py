"""Input and result of the supplier choice.

Money is Decimal in the shop's currency with at most four decimals. Costs and bounds are exact: the choice is
made in whole ten-thousandths.
"""

from dataclasses import field, replace
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.units import Length


@dataclass(frozen=True, slots=True, order=True)
class BarKind:
    """Section key, grade and length: bars that agree in these are interchangeable."""

    section: str
    grade: str
    length: Length


@dataclass(frozen=True, slots=True)
class PriceStep:
    """A price break: where at least `from_g` grams of one item are ordered, every bar of it costs `price`."""

    from_g: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Offer:
    """One item of a supplier's list.

    `code` is unique. `mass_g` is the mass of one bar in whole grams. `steps` are in increasing order of mass;
    the item is sold only from the first step's mass on. Bars are sold in whole bundles of `bundle`, at most
    `limit` bars. `cut`: sawn to length by the supplier, with the charge for the cut in the price.
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
    """A supplier's charge for a delivery, which is free for goods worth `free_from` or more.

    `certificate_charge` is added to each order that asks for a certificate, whether delivery is free or not.
    """

    name: str
    delivery_charge: Decimal = Decimal(0)
    free_from: Decimal | None = None
    certificate_charge: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Need:
    """At least `count` bars of one kind must be bought."""

    kind: BarKind
    count: int


@dataclass(frozen=True, slots=True)
class Way:
    """One way to cover a want: the bars of one cut plan, or pieces sawn by the supplier."""

    name: str
    needs: tuple[Need, ...]


@dataclass(frozen=True, slots=True)
class Want:
    """The need of one section and grade; exactly one of its ways is bought.

    `besides` are further kinds of bar, which may be bought to reach a supplier's free delivery.
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
    """Bars bought beyond the need, and the money saved by buying them.

    `saves` is None where they cannot be left out, since the item is sold in bundles (`bundle`) or only from a
    mass on. `free_delivery`, `price_step`: which of these they reach.
    """

    offer: Offer
    count: int
    saves: Decimal | None
    free_delivery: bool = False
    price_step: bool = False
    bundle: bool = False


@dataclass(frozen=True, slots=True)
class BuyingPlan:
    """The chosen purchases with a lower bound on their cost.

    `ways` gives the chosen way by want, `deliveries` the charge by supplier, both by name. `cost` = purchases
    + deliveries. No choice among the given ways and offers costs less than `bound`. `nodes` of the search
    were worked out; `cut_short`: a time limit that a person set ended it. `extras` are bars beyond the need.
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
        """Whether the cost equals its lower bound, so that no cheaper choice exists."""
        return self.bound >= self.cost

    def as_ordered(self, currency: str) -> "BuyingPlan":
        """The same purchases at what the orders come to: each line and delivery rounded to the currency.

        The bound is that of the unrounded prices, and equal to the cost where that was proven.
        """
        amounts = [purchase.amount for purchase in self.purchases] + list(self.deliveries.values())
        cost = sum((round_money(amount, currency) for amount in amounts), Decimal(0))
        return replace(self, cost=cost, bound=cost if self.proven else min(self.bound, cost))

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Names of the suppliers that get an order, sorted."""
        return tuple(sorted({purchase.offer.supplier for purchase in self.purchases}))
