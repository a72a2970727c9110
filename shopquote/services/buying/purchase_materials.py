"""A purchase as materials: every bar with its supplier and price; and the suppliers' other charges.

Takeoff and quote show and charge what `order` would buy. Begin at `materials_of`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from shopquote.calc.money import round_rate
from shopquote.calc.pricing.priced_quote import InwardCharge
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Material, SawSettings
from shopquote.calc.takeoff.takeoff import add_up
from shopquote.calc.units import ZERO
from shopquote.services.buying.offers import supplier_terms
from shopquote.services.buying.purchase import PurchasePlan
from shopquote.services.buying.purchase_lines import BoughtLine
from shopquote.services.buying.purchase_ways import PlannedWay
from shopquote.services.buying.wanted import Wanted


def materials_of(
    plan: PurchasePlan, wanted: Sequence[Wanted], saw: SawSettings, costs: Mapping[str, Decimal] | None = None
) -> tuple[Material, ...]:
    """The materials of a purchase, in the order of `wanted`; `costs` are the costs of rack pieces, by code.

    A material's cost is that of its bars, without deliveries. Its bound is the least cost of bars cut in the
    shop, each length at the lowest price that any supplier asks for one bar. A purchase that saves a delivery
    or buys sawn pieces may therefore cost more than the bound.
    """
    costs = costs or {}
    return tuple(_material(plan, w, plan.taken[w.name], saw, costs) for w in wanted if w.name in plan.taken)


def _material(
    plan: PurchasePlan, wanted: Wanted, way: PlannedWay, saw: SawSettings, costs: Mapping[str, Decimal]
) -> Material:
    lines = [
        line
        for line in plan.lines
        if (line.section.key, line.grade.name) == (wanted.section.key, wanted.grade.name)
    ]
    bars = [
        replace(bar, value=costs.get(bar.rack_piece) or None)
        for bar in way.bars
        if bar.rack_piece is not None
    ]
    bars += _bought_bars(lines, way, saw)
    cost = sum((bar.count * (bar.price or Decimal(0)) for bar in bars), Decimal(0))
    priced = all(bar.price is not None for bar in bars if bar.rack_piece is None)
    if not priced:
        cost = sum((bar.stock.mm * bar.count for bar in bars if bar.rack_piece is None), Decimal(0))
    # Sawn pieces may cost less than the bound of bars cut here: the bound must not exceed the cost.
    floor = plan.bounds.get(wanted.name, cost)
    bound = min(cost, floor)
    made = way.plan or CutPlan((), cost, bound, False, 0.0, priced)
    planned = replace(
        made, bars=tuple(bars), cost=cost, bound=bound, proven=floor == cost, priced=priced
    )  # fmt: skip
    return add_up(wanted.section, wanted.grade, planned)


def _bought_bars(lines: Sequence[BoughtLine], way: PlannedWay, saw: SawSettings) -> list[BarCut]:
    """Bars as bought: the planned cuts are dealt to the order lines of their length, the rest stays whole."""
    found: list[BarCut] = []
    waiting = _needed_bars(way)
    rest = [bar.count for bar in waiting]
    for line in lines:
        count = line.count
        price = _shop_price(line)
        for i, bar in enumerate(waiting):
            # Bars of one length and kind are the same: whichever supplier sells them, the plan's cuts fit.
            take = min(rest[i], count) if (bar.stock, bar.sawn) == (line.length, line.cut) else 0
            if not take:
                continue
            rest[i], count = rest[i] - take, count - take
            found.append(replace(bar, count=take, supplier=line.listed.supplier.name, price=price))
        if count:
            found.append(_whole_bar(line, count, price, saw))
    return found


def _needed_bars(way: PlannedWay) -> list[BarCut]:
    """The cuts of a way in bars to buy; each piece that the supplier saws counts as a bar of its own."""
    bars = [bar for bar in way.bars if bar.rack_piece is None]
    for piece in way.sawn:
        length = way.ordered[piece.length]
        content = ((piece.mark, piece.length, 1, piece.owner),)
        bars.append(
            BarCut(length, piece.count, content, ZERO, ZERO, length - piece.length, kept=False, sawn=True)
        )
    return bars


def _whole_bar(line: BoughtLine, count: int, price: Decimal | None, saw: SawSettings) -> BarCut:
    """Bars bought beyond the need, for a bundle or a free delivery; they go on the rack uncut."""
    kept = saw.keep_min is None or line.length >= saw.keep_min
    return BarCut(
        line.length, count, (), ZERO, ZERO, line.length, kept=kept, supplier=line.listed.supplier.name,
        price=price, sawn=line.cut,
    )  # fmt: skip


def _shop_price(line: BoughtLine) -> Decimal | None:
    """Price of one bar in the shop's currency."""
    if line.unit_price is None:
        return None
    return round_rate(line.unit_price * line.listed.supplier.exchange_rate)


def charges_of(plan: PurchasePlan) -> tuple[InwardCharge, ...]:
    """What suppliers charge besides the bars, in the shop's currency: deliveries and certificates."""
    terms = supplier_terms({line.listed.supplier for line in plan.lines})
    papers = {term.name: term.certificate_charge for term in terms}
    charges = []
    for name, amount in plan.deliveries.items():
        charges += [InwardCharge(f"delivery from {name}", amount - papers[name])]
        charges += [InwardCharge(f"certificate from {name}", papers[name])]
    return tuple(charge for charge in charges if charge.amount)
