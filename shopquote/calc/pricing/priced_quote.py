"""Values of an estimate and a priced quote: minutes, costs, prices, taxes and breaks.

Money is Decimal in the quote's one currency. Minutes have 2 decimals, quantities 6, and every amount is
rounded half up once to the currency's digits, so that a workbook with the same formulas gives the same cent.
"""

from dataclasses import field
from decimal import ROUND_HALF_UP, Decimal
from math import erfc, log, sqrt
from typing import Literal, get_args

from shopquote.calc.frozen import dataclass

CostCategory = Literal["material", "labour", "consumables", "bought", "outside", "overhead", "contingency"]
CATEGORIES: tuple[CostCategory, ...] = get_args(CostCategory)
# Categories to which nothing is logged: overhead follows the minutes, contingency is spent in the others.
NEVER_LOGGED = ("overhead", "contingency")
# Categories without entries that are no gap in a log: gas, wire and blades are not measured job by job.
NEVER_MISSED = (*NEVER_LOGGED, "consumables")

MinutesKind = Literal["set-up", "run"]
# Minutes are a quantity times the standard, or divided by it ("over"), as for speeds.
How = Literal["times", "over"]
HOWS: tuple[How, ...] = get_args(How)
Learning = Literal["none", "unit", "average"]
LEARNING_MODELS: tuple[Learning, ...] = get_args(Learning)
MaterialBasis = Literal["bought", "net"]
MATERIAL_BASES: tuple[MaterialBasis, ...] = get_args(MaterialBasis)
LineStyle = Literal["set", "part"]
LINE_STYLES: tuple[LineStyle, ...] = get_args(LineStyle)
# How a job is charged for delivery and the unused rest of bars; see `PricingPolicy`.
InwardsRule = Literal["whole", "share", "usual"]
INWARDS_RULES: tuple[InwardsRule, ...] = get_args(InwardsRule)
RackBasis = Literal["today", "cost"]
RACK_BASES: tuple[RackBasis, ...] = get_args(RackBasis)


@dataclass(frozen=True, slots=True)
class MinutesLine:
    """Minutes of one operation by one standard.

    minutes = quantity x value x factor, or quantity / value x factor where `how` is "over" (speeds and
    rates). `standard` is "" for minutes given by hand. `factor` is the mean effect of learning over the run;
    1 for none.
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
        """Set-up and run minutes together."""
        return self.set_up + self.run


@dataclass(frozen=True, slots=True)
class CostLine:
    """One cost of a job: amount = quantity x unit_cost, rounded once, at least `minimum`.

    A percentage has the unit "%": `quantity` is the amount that it is of, named by `base` ("material",
    "labour", "labour and scrap", "all"), and `unit_cost` the per cent. `standard` names the standard whose
    spread applies to the cost, "" for none.
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
    """A supplier's charge besides the bars, such as a delivery, in the quote's currency."""

    text: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """The material cost of one section and grade; `how` says by which rule it is charged."""

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
    """Run minutes and direct cost of all pieces of one part."""

    mark: str
    name: str
    pieces: int
    minutes: Decimal
    cost: Decimal


CHANCE_NOT_KNOWN = "not known until jobs of your own are logged"


@dataclass(frozen=True, slots=True)
class Confidence:
    """Uncertainty of the cost, from the spread of its standards.

    `deviation` is the standard deviation in money; `low` to `high` is the 80 % interval. `drivers` are the
    standards that contribute most: (standard, share in per cent). `known`: at least half of the labour is by
    standards that the shop measured; otherwise no probability is stated.
    """

    deviation: Decimal
    low: Decimal
    high: Decimal
    drivers: tuple[tuple[str, Decimal], ...]
    known: bool = True


def chance_over(limit: float, sure: float, uneven: float, deviation: float) -> float:
    """Probability that a certain cost plus an uncertain one exceeds a limit; all arguments are money.

    The uncertain cost is lognormal with the mean `uneven` and the standard deviation `deviation`, for errors
    of time multiply: a job may take twice as long, but never less than nothing. J. Aitchison and J. A. C.
    Brown, The Lognormal Distribution (1957); a test holds the tail against scipy's.

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
    """Cost and minutes of a number of sets."""

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
        """Probability in per cent, to 0.1, that the real cost exceeds a limit.

        Its mean is the estimate without contingency. Labour and overhead are uncertain, the rest is not.
        """
        expected = self.cost - self.contingency
        labour = self.by_category["labour"] + self.by_category["overhead"]
        # Without labour the whole cost is taken as uncertain.
        uneven = labour if 0 < labour <= expected else expected
        chance = chance_over(
            float(limit), float(expected - uneven), float(uneven), float(self.confidence.deviation)
        )
        return Decimal(repr(chance * 100)).quantize(Decimal("0.1"), ROUND_HALF_UP)

    @property
    def by_category(self) -> dict[str, Decimal]:
        """Cost by category; the values add up to `cost`."""
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
        """Minutes by operation, for the operations in the job."""
        return {operation.operation: operation.minutes for operation in self.operations}


@dataclass(frozen=True, slots=True)
class TaxRate:
    """A tax: `percent` of the rounded subtotal."""

    name: str
    percent: Decimal


@dataclass(frozen=True, slots=True)
class PriceOverride:
    """A unit price set by hand for the line with key `line`, with its reason."""

    line: str
    unit_price: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class PricingPolicy:
    """How the shop turns cost into price. Exactly one of margin and markup is given.

    `material_basis`: "bought" charges the bars that the plan buys, "net" the net length plus `net_share_pct`.
    With `credit_offcuts` the value of kept offcuts is deducted. Rack pieces are charged at `rack_charge_pct`
    of today's price or, with `rack_basis` "cost", of their cost. `inwards` says how deliveries are charged:
    "whole" in full; "share" in proportion to the value of bars that the job uses up; "usual" as
    `usual_inwards` in place of what suppliers charge. Bought items and subcontract work have their own markup
    where one is given, else the job's margin.
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
    """One printed line: amount = quantity x unit price. `key` identifies it for an override.

    `calculated` is the unit price before an override. `of` is the line's job in a joint quote.
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
    """The price of another quantity, with its own cut plan; before tax.

    `better` is a larger quantity whose total is hardly higher: (sets, difference). `calculated` is the unit
    price before `in_order` adjusted it. `margin_pct` is for the owner alone. `of` is the job in a joint
    quote.
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
        """Whether it is a joint quote, with lines of several jobs."""
        return any(line.of for line in self.lines)

    @property
    def tax(self) -> Decimal:
        """All taxes together."""
        return sum((line.amount for line in self.taxes), Decimal(0))

    @property
    def total(self) -> Decimal:
        """What the customer pays: net and taxes."""
        return self.net + self.tax

    @property
    def margin_pct(self) -> Decimal:
        """Margin in per cent of the price before tax, to 0.01."""
        if self.net <= 0:
            return Decimal(0)
        return ((self.net - self.cost) / self.net * 100).quantize(Decimal("0.01"), ROUND_HALF_UP)
