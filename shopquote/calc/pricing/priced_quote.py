"""What the pricing room answers with: minutes, costs, prices, taxes and breaks.

Money is Decimal in the quote's one currency. Minutes are kept to 0.01, quantities
to 6 decimals, and every amount is rounded half up to the currency's digits once,
so that a workbook with the same formulas comes to the same cent.
"""

from dataclasses import field
from decimal import ROUND_HALF_UP, Decimal
from math import erfc, log, sqrt
from typing import Literal, get_args

from shopquote.calc.frozen import dataclass

CostCategory = Literal["material", "labour", "consumables", "bought", "outside", "overhead", "contingency"]
CATEGORIES: tuple[CostCategory, ...] = get_args(CostCategory)
# Of these nothing is logged: overhead follows the minutes, contingency is spent in the other categories.
NEVER_LOGGED = ("overhead", "contingency")
# What lacks an entry of these is no gap in a log: gas, wire and blades are measured on no job.
NEVER_MISSED = (*NEVER_LOGGED, "consumables")

MinutesKind = Literal["set-up", "run"]
# Minutes are a quantity times the standard, or over it.
How = Literal["times", "over"]
HOWS: tuple[How, ...] = get_args(How)
Learning = Literal["none", "unit", "average"]
LEARNING_MODELS: tuple[Learning, ...] = get_args(Learning)
MaterialBasis = Literal["bought", "net"]
MATERIAL_BASES: tuple[MaterialBasis, ...] = get_args(MaterialBasis)
LineStyle = Literal["set", "part"]
LINE_STYLES: tuple[LineStyle, ...] = get_args(LineStyle)
# Who bears what is paid besides the bars that a job uses up: the delivery, and the rest of a bar.
InwardsRule = Literal["whole", "share", "usual"]
INWARDS_RULES: tuple[InwardsRule, ...] = get_args(InwardsRule)
RackBasis = Literal["today", "cost"]
RACK_BASES: tuple[RackBasis, ...] = get_args(RackBasis)


@dataclass(frozen=True, slots=True)
class MinutesLine:
    """Minutes of one operation that one standard drives.

    minutes = quantity x value x factor, or quantity / value x factor where `how`
    is "over" (speeds and rates). `standard` is empty for minutes given by hand.
    `factor` is the mean effect of learning over the run; 1 without learning.
    """

    operation: str
    what: str
    standard: str
    kind: MinutesKind
    quantity: Decimal
    value: Decimal
    unit: str
    minutes: Decimal
    how: How = "times"
    factor: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class OperationCost:
    """One operation of a job: set-up and run minutes, rate per hour, labour cost."""

    operation: str
    set_up: Decimal
    run: Decimal
    rate: Decimal
    amount: Decimal

    @property
    def minutes(self) -> Decimal:
        """Set-up and run together."""
        return self.set_up + self.run


@dataclass(frozen=True, slots=True)
class CostLine:
    """One cost of a job: amount = quantity x unit_cost, rounded once, at least `minimum`.

    A percentage has unit "%": `quantity` is the amount it is taken of, named by `base`
    ("material", "labour", "labour and scrap", "all"), and `unit_cost` the per cent.
    `standard` is the standard whose spread the cost carries, or empty.
    """

    category: CostCategory
    text: str
    quantity: Decimal
    unit: str
    unit_cost: Decimal
    amount: Decimal
    standard: str = ""
    base: str = ""
    minimum: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class InwardCharge:
    """What a supplier charges besides the bars, such as a delivery, in the quote's currency."""

    text: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """Material of one section and grade as it is charged."""

    section_key: str
    section: str
    grade: str
    pieces: int
    bars: int
    net_m: Decimal
    bought_m: Decimal
    mass_kg: Decimal
    amount: Decimal
    how: str


@dataclass(frozen=True, slots=True)
class PartMinutes:
    """Run minutes and direct cost of one part mark, all its pieces together."""

    mark: str
    name: str
    pieces: int
    minutes: Decimal
    cost: Decimal


CHANCE_NOT_KNOWN = "not known: starting times, no job of the shop's own measured"


@dataclass(frozen=True, slots=True)
class Confidence:
    """How far the cost may lie from the estimate, from the spread of its standards.

    `low` and `high` hold the real cost in 8 jobs of 10. Chances are in per cent.
    `drivers` names the standards that make most of the spread: (standard, share in per cent). `known`: at
    least half of the labour is by standards that the shop measured; else no chance can be told.
    """

    deviation: Decimal
    low: Decimal
    high: Decimal
    drivers: tuple[tuple[str, Decimal], ...]
    known: bool = True


def chance_over(limit: float, sure: float, uneven: float, deviation: float) -> float:
    """Chance that a sum of what is sure and what lies off comes above a limit.

    What lies off is lognormal with the mean `uneven` and this standard deviation: errors in time multiply,
    so a job may take twice as long and never less than nothing. J. Aitchison and J. A. C. Brown, The
    Lognormal Distribution (1957); a test holds the tail against scipy's.

    >>> round(chance_over(10.0, 0.0, 10.0, 2.0), 3)
    0.461
    """
    if deviation <= 0 or uneven <= 0:
        return 1.0 if sure + uneven > limit else 0.0
    if limit <= sure:
        return 1.0
    variance = log(1 + (deviation / uneven) ** 2)
    return erfc((log((limit - sure) / uneven) + variance / 2) / sqrt(2 * variance)) / 2


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a number of sets costs the shop, with the minutes that it takes."""

    sets: int
    currency: str
    minutes: tuple[MinutesLine, ...]
    operations: tuple[OperationCost, ...]
    costs: tuple[CostLine, ...]
    materials: tuple[MaterialCost, ...]
    parts: tuple[PartMinutes, ...]
    confidence: Confidence
    contingency: Decimal = Decimal(0)
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def chance_above(self, limit: Decimal) -> Decimal:
        """Chance in per cent that the real cost is above a limit, to 0.1.

        The mean of the real cost is the estimate without its contingency; labour and its overhead lie off.
        """
        expected = self.cost - self.contingency
        labour = self.by_category["labour"] + self.by_category["overhead"]
        # A cost that nobody works for lies off as a whole.
        uneven = labour if 0 < labour <= expected else expected
        chance = chance_over(
            float(limit), float(expected - uneven), float(uneven), float(self.confidence.deviation)
        )
        return Decimal(repr(chance * 100)).quantize(Decimal("0.1"), ROUND_HALF_UP)

    @property
    def by_category(self) -> dict[str, Decimal]:
        """Cost of each category; they add up to `cost`."""
        totals: dict[str, Decimal] = {name: Decimal(0) for name in CATEGORIES}
        totals["labour"] += sum((operation.amount for operation in self.operations), Decimal(0))
        for line in self.costs:
            totals[line.category] += line.amount
        return totals

    @property
    def cost(self) -> Decimal:
        """The whole cost."""
        return sum(self.by_category.values(), Decimal(0))

    @property
    def by_operation(self) -> dict[str, Decimal]:
        """Minutes of each operation that is in the job."""
        return {operation.operation: operation.minutes for operation in self.operations}


@dataclass(frozen=True, slots=True)
class TaxRate:
    """A tax as the shop states it; `percent` of the rounded subtotal."""

    name: str
    percent: Decimal


@dataclass(frozen=True, slots=True)
class PriceOverride:
    """A unit price that the owner set by hand; the reason is kept beside it."""

    line: str
    unit_price: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class PricingPolicy:
    """How this shop turns cost into price. Of margin and markup exactly one is given.

    `material_basis`: "bought" charges what the plan buys, "net" the net length plus
    `net_share_pct`. With `credit_offcuts` the value of kept offcuts is taken off.
    `rack_charge_pct` is what rack pieces are charged at: of today's price or, with `rack_basis`
    "cost", of what they cost. `inwards` says who bears deliveries and the rest of a bar: "whole" the
    job; "share" the job by what of the bars it does not leave to be kept; "usual" the job
    `usual_inwards` in place of what suppliers charge. Bought items and outside work carry their own
    markup where one is given, else the job's margin.
    """

    currency: str = "EUR"
    margin_pct: Decimal | None = Decimal(30)
    markup_pct: Decimal | None = None
    overhead_pct: Decimal = Decimal(0)
    contingency_pct: Decimal = Decimal(0)
    scrap_pct: Decimal = Decimal(0)
    minimum_order: Decimal = Decimal(0)
    material_basis: MaterialBasis = "bought"
    net_share_pct: Decimal = Decimal(0)
    credit_offcuts: bool = False
    rack_charge_pct: Decimal = Decimal(100)
    rack_basis: RackBasis = "today"
    inwards: InwardsRule = "whole"
    usual_inwards: Decimal = Decimal(0)
    bought_markup_pct: Decimal | None = None
    outside_markup_pct: Decimal | None = None
    rush_pct: Decimal = Decimal(0)
    discount_pct: Decimal = Decimal(0)
    learning: Learning = "none"
    lines: LineStyle = "set"
    taxes: tuple[TaxRate, ...] = ()
    tax_exempt: bool = False
    overrides: tuple[PriceOverride, ...] = ()


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """One printed line: amount = quantity x unit price. `key` names it for an override.

    `of` is the job that it is for, where several stand on one paper.
    """

    key: str
    text: str
    quantity: int
    unit_price: Decimal
    amount: Decimal
    override_reason: str = ""
    calculated: Decimal | None = None
    of: str = ""


@dataclass(frozen=True, slots=True)
class TaxLine:
    """One tax on the rounded subtotal."""

    name: str
    percent: Decimal
    base: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class BreakPrice:
    """Price of another quantity, its material planned anew; before tax.

    `better` is a larger quantity that costs hardly more in all: (sets, how much more). `calculated`
    is the unit price before quantities were put in order; `margin_pct` is for the owner alone. `of` is as a
    line's.
    """

    sets: int
    unit_price: Decimal
    total: Decimal
    cost: Decimal
    margin_pct: Decimal
    calculated: Decimal
    better: tuple[int, Decimal] | None = None
    of: str = ""


@dataclass(frozen=True, slots=True)
class PricedQuote:
    """A job with its price: the lines add up to `net`, the taxes are on `net`."""

    sets: int
    currency: str
    lines: tuple[QuoteLine, ...]
    net: Decimal
    taxes: tuple[TaxLine, ...]
    breaks: tuple[BreakPrice, ...]
    cost: Decimal
    chance_below_target_pct: Decimal
    chance_of_loss_pct: Decimal
    notes: tuple[str, ...] = field(default=())

    @property
    def several_jobs(self) -> bool:
        """Whether the lines are those of several jobs."""
        return any(line.of for line in self.lines)

    @property
    def tax(self) -> Decimal:
        """All taxes together."""
        return sum((line.amount for line in self.taxes), Decimal(0))

    @property
    def total(self) -> Decimal:
        """What the customer pays."""
        return self.net + self.tax

    @property
    def margin_pct(self) -> Decimal:
        """What the price leaves, in per cent of the price before tax, to 0.01."""
        if self.net <= 0:
            return Decimal(0)
        return ((self.net - self.cost) / self.net * 100).quantize(Decimal("0.01"), ROUND_HALF_UP)
