"""Cost of a job's bars by the house rule: bought, taken from the rack, net lengths; and of consumables."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from shopquote.calc.money import round_money, round_rate
from shopquote.calc.pricing.inwards import SIXTH, kept_value
from shopquote.calc.pricing.priced_quote import CostLine, MaterialCost, PricingPolicy
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import JobWork
from shopquote.calc.takeoff.cut_plan import BarCut, Material
from shopquote.calc.units import KG_PER_LB, Length, Unit, show_length

PricesPerMetre = Mapping[tuple[str, str], Decimal]


def material_lines(
    materials: Iterable[Material],
    book: StandardsBook,
    policy: PricingPolicy,
    prices: PricesPerMetre,
    credit_pct: Decimal,
    unit: Unit,
) -> tuple[list[CostLine], tuple[MaterialCost, ...], list[str]]:
    """Cost lines, costs by section and grade, and notes, for all bars of a job.

    Args:
        materials: the cut plan.
        book: the shop's standards.
        policy: how bars are charged.
        prices: per metre by (section key, grade name).
        credit_pct: share of a kept offcut's price that is credited.
        unit: of lengths in the texts.
    """
    lines: list[CostLine] = []
    charged: list[MaterialCost] = []
    notes: list[str] = []
    for material in materials:
        of_material, note = _lines_of_material(material, book, policy, prices, credit_pct, unit)
        lines += of_material
        notes += [note] if note else []
        charged.append(material_cost(material, of_material, policy))
    return lines, tuple(charged), notes


def _lines_of_material(
    material: Material,
    book: StandardsBook,
    policy: PricingPolicy,
    prices: PricesPerMetre,
    credit_pct: Decimal,
    unit: Unit,
) -> tuple[list[CostLine], str]:
    """Cost lines of one section and grade, and a note, "" unless no price was on file."""
    name = f"{material.section.words} {material.grade.name}"
    factor = book.value("price.material")
    per_metre, note = _price_per_metre(material, book, prices, unit)

    def line(text: str, quantity: Decimal, per: str, unit_cost: Decimal) -> CostLine:
        # `price.material` is 1: its spread is that of material prices, and a what-if may change it.
        cost = round_rate(unit_cost * factor)
        amount = round_money(quantity * cost, policy.currency)
        return CostLine("material", f"{name}: {text}", quantity, per, cost, amount, "price.material")

    if policy.material_basis == "net":
        share = 1 + policy.net_share_pct / 100
        metres = exactly(material.net.mm_float / 1000)
        return [line(f"net length and {policy.net_share_pct:g} %", metres, "m", per_metre * share)], note
    lines: list[CostLine] = []
    for (length, price, _, sawn), count in _bars_bought(material, per_metre).items():
        shown = show_length(length, unit, exact=True)
        text, per = (f"pieces sawn to {shown}", "each") if sawn else (f"bars of {shown}", "bar")
        lines.append(line(text, Decimal(count), per, price))
    lines += _rack_lines(material, per_metre, policy, line)
    if policy.inwards == "share":
        kept = round_rate(kept_value(material))
        return lines + (
            [line("kept for the rack, not charged", Decimal(-1), "lot", kept)] if kept else []
        ), note
    kept_m = exactly(
        sum(b.count * b.offcut.mm_float for b in material.plan.bars if b.kept and not b.rack_piece) / 1000
    )
    if policy.credit_offcuts and kept_m and credit_pct:
        lines.append(line("offcuts kept, credited", -kept_m, "m", per_metre * credit_pct / 100))
    return lines, note


def _rack_lines(
    material: Material, per_metre: Decimal, policy: PricingPolicy, line: Callable[..., CostLine]
) -> list[CostLine]:
    """Lines of rack pieces used up: at cost by the house rule where it is known, else at today's price."""
    bars = [bar for bar in material.plan.bars if bar.rack_piece]
    # On file 0 means an unknown cost: such a piece is charged at today's price.
    at_cost = [bar for bar in bars if policy.rack_basis == "cost" and bar.value]
    today = exactly(sum(bar.count * _used_mm(bar) for bar in bars if bar not in at_cost) / 1000)
    share = policy.rack_charge_pct / 100
    lines = []
    if at_cost and share:
        cost = sum((bar.value or Decimal(0)) * exactly(_used_mm(bar) / bar.stock.mm_float) for bar in at_cost)
        lines.append(line("from the rack, at cost", Decimal(1), "lot", cost * share))
    if today and share:
        lines.append(line("from the rack", today, "m", per_metre * share))
    return lines


def _used_mm(bar: BarCut) -> float:
    """Length in mm of a rack piece that the job uses up; a kept offcut goes back to the rack."""
    return bar.stock.mm_float - (bar.offcut.mm_float if bar.kept else 0.0)


def _bars_bought(material: Material, per_metre: Decimal) -> dict[tuple[Length, Decimal, str, bool], int]:
    """Number of bars bought by length, price, supplier and whether they come sawn."""
    counts: dict[tuple[Length, Decimal, str, bool], int] = defaultdict(int)
    for bar in material.plan.bars:
        if bar.rack_piece is None:
            price = bar.price if bar.price is not None else round_rate(per_metre * bar.stock.mm / 1000)
            # Grouped as the lines of an order, so that quote and order can be compared line by line.
            counts[bar.stock, price, bar.supplier, bar.sawn] += bar.count
    return counts


def _price_per_metre(
    material: Material, book: StandardsBook, prices: PricesPerMetre, unit: Unit
) -> tuple[Decimal, str]:
    """Price per metre and where it is from: the plan's bars, else the lists, else the standard per kg."""
    bought = [bar for bar in material.plan.bars if bar.rack_piece is None and bar.price is not None]
    # What this job's own bars cost counts before any list: it is what the shop will pay.
    if bought:
        money = sum((bar.count * (bar.price or Decimal(0)) for bar in bought), Decimal(0))
        return round_rate(money / sum(bar.count * bar.stock.mm for bar in bought) * 1000), ""
    listed = prices.get((material.section.key, material.grade.name))
    if listed is not None:
        return round_rate(listed), ""
    standard = book.of_family("material.price", material.grade.family)
    kg_per_m = exactly(material.section.area_mm2 * material.grade.density_kg_m3 / 1e6)
    rate = book.value(standard)
    told = f"{rate} a kg"
    if unit == "in":
        told = f"{(rate * KG_PER_LB).quantize(Decimal('0.01'))} a lb, {told}"
    note = (
        f"{material.section.words} {material.grade.name}: no stock price on file; "
        f"priced at {told} ({standard})."
    )
    return round_rate(kg_per_m * book.value(standard)), note


def material_cost(material: Material, lines: Sequence[CostLine], policy: PricingPolicy) -> MaterialCost:
    """The total charged for one section and grade, with its lengths and mass."""
    bars = sum(bar.count for bar in material.plan.bars if bar.rack_piece is None)
    return MaterialCost(
        section_key=material.section.key,
        section=material.section.words,
        grade=material.grade.name,
        pieces=material.pieces,
        bars=bars,
        net_m=exactly(material.net.mm_float / 1000),
        bought_m=exactly(material.bought.mm_float / 1000),
        mass_kg=exactly(material.mass_kg),
        amount=sum((line.amount for line in lines), Decimal(0)),
        how=policy.material_basis,
    )


def used_up_lines(work: JobWork, book: StandardsBook, currency: str, sets: int) -> list[CostLine]:
    """Cost lines of consumables such as wire, gas, discs and paint."""
    lines = []
    for use in work.used_up:
        quantity = exactly(use.per_set * sets)
        price = book.value(use.standard)
        amount = round_money(quantity * price, currency)
        if quantity and price:
            lines.append(CostLine("consumables", use.text, quantity, use.unit, price, amount, use.standard))
    return lines


def exactly(value: float) -> Decimal:
    """A calculated number, in any unit, as a Decimal with 6 decimals, rounded half up."""
    return Decimal(repr(value)).quantize(SIXTH, ROUND_HALF_UP)
