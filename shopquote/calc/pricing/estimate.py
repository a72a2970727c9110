"""Minutes and cost of a job from its parts and its cut plan. Begin at `estimate_job`.

Every figure of an estimate follows from the figures beside it by basic arithmetic and one rounding, so that
the formulas of the estimate workbook give the same.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from math import ceil, sqrt
from statistics import NormalDist

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import OPERATIONS, JobSpec
from shopquote.calc.money import round_money, round_rate
from shopquote.calc.pricing.around import not_charged, outside_lines, site_lines
from shopquote.calc.pricing.inwards import inward_costs, together_lines
from shopquote.calc.pricing.learning import mean_factor
from shopquote.calc.pricing.material_costs import PricesPerMetre, exactly, material_lines, used_up_lines
from shopquote.calc.pricing.priced_quote import (
    Confidence,
    CostLine,
    Estimate,
    InwardCharge,
    MaterialCost,
    MinutesLine,
    OperationCost,
    PartMinutes,
    PricingPolicy,
)
from shopquote.calc.pricing.runs import with_aids
from shopquote.calc.pricing.standards import StandardsBook, by_hand, is_measured
from shopquote.calc.pricing.starting_rows import COMMON_SPREAD
from shopquote.calc.pricing.work import CLAMP_AND_CUT, bars_at_once, job_work
from shopquote.calc.pricing.work_items import JobWork, WorkItem
from shopquote.calc.takeoff.cut_plan import BarCut, Material
from shopquote.calc.takeoff.whole_sheets import is_of_stem, stem_of
from shopquote.errors import InputError

# Minutes are rounded before they are multiplied, so that a printed line can be checked by hand.
MINUTE = Decimal("0.01")
# Spread of minutes given by hand, one standard deviation in per cent.
BY_HAND_SPREAD = Decimal(25)
_EIGHT_IN_TEN = NormalDist().inv_cdf(0.9)


def estimate_job(
    job: JobSpec,
    parts: Mapping[str, PartAnswer],
    materials: Sequence[Material],
    book: StandardsBook,
    policy: PricingPolicy,
    sets: int,
    *,
    prices_per_metre: PricesPerMetre | None = None,
    offcut_credit_pct: Decimal = Decimal(0),
    work: JobWork | None = None,
    charges: Sequence[InwardCharge] = (),
    saving: Decimal = Decimal(0),
) -> Estimate:
    """Minutes and cost of `sets` sets.

    Args:
        job: what is asked for; its own `sets` is not used.
        parts: the calculated part by mark.
        materials: the cut plan for this many sets.
        book: the shop's standards on the day.
        policy: how the shop charges.
        sets: complete sets made.
        prices_per_metre: by (section key, grade name), for rack pieces and net charging where
            the plan buys nothing; else by mass from the standard of the grade's family.
        offcut_credit_pct: share of a kept offcut's price that is credited, where the policy credits.
        work: the job's counted work, to save counting again for each quantity.
        charges: what suppliers charge besides the bars.
        saving: money saved on bars and deliveries bought together with other jobs.

    Raises:
        InputError: sets below 1, or a rate that something is divided by is zero.
        NotFoundError: a standard that the job needs is not on file.
    """
    if sets < 1:
        raise InputError(f"Quantity is {sets} sets; it must be at least 1.")
    work = work or job_work(job, parts, book)
    run, aids = with_aids(work.items, job, book, sets)
    items = [*_in_bundles(run, materials, book), *_bar_items(materials, book)]
    learnt = _Learnt(job, book, policy, sets)
    minutes = _minutes_lines(items, book, learnt)
    operations = _operation_costs(minutes, book, policy.currency)
    bar_lines, material_costs, notes = material_lines(
        materials, book, policy, prices_per_metre or {}, offcut_credit_pct, job.units
    )
    inward_lines, inward_notes = inward_costs(materials, charges, policy)
    costs = [
        *bar_lines,
        *inward_lines,
        *together_lines(saving),
        *used_up_lines(work, book, policy.currency, sets),
        *_jig_lines(job, policy.currency),
        *_bought_lines(job, book, policy.currency, sets),
        *outside_lines(job.outside, work.mass_kg, work.area_m2, book, policy.currency, sets, job.assemblies),
        *site_lines(job, book, policy.currency),
    ]
    # Last, since scrap, overhead and contingency are percentages of the costs before them.
    costs += _percentage_lines(costs, operations, policy)
    contingency = sum((line.amount for line in costs if line.base == "all"), Decimal(0))
    labour = sum((operation.amount for operation in operations), Decimal(0))
    cost = sum((line.amount for line in costs), labour)
    return Estimate(
        sets=sets,
        currency=policy.currency,
        minutes=minutes,
        operations=operations,
        costs=tuple(costs),
        materials=material_costs,
        parts=_part_minutes(job, parts, items, book, learnt, policy.currency, material_costs),
        confidence=_confidence(minutes, operations, costs, book, policy, cost - contingency),
        contingency=contingency,
        notes=(*work.notes, *aids, *notes, *inward_notes, *not_charged(job, book)),
    )


def _in_bundles(
    items: Iterable[WorkItem], materials: Iterable[Material], book: StandardsBook
) -> list[WorkItem]:
    """The items with one clamping for all bars cut by the same stroke, and without pieces that come sawn."""
    pieces: dict[str, int] = defaultdict(int)
    sawn: dict[str, int] = defaultdict(int)
    strokes: dict[str, int] = defaultdict(int)
    for material in materials:
        for bar in material.plan.bars:
            for mark, _, count, _ in bar.pieces:
                pieces[mark] += bar.count * count
                sawn[mark] += bar.count * count if bar.sawn else 0
                strokes[mark] += 0 if bar.sawn else _loads(material, bar, book) * count
    shared = []
    for item in items:
        done = pieces.get(item.mark, 0)
        # A bundle is clamped once; the area to saw through, another item, is not reduced.
        if item.standard == CLAMP_AND_CUT and done != strokes[item.mark]:
            item = replace(item, per_set=item.per_set * strokes[item.mark] / done)
        elif item.operation == "sawing" and sawn.get(item.mark):
            item = replace(item, per_set=item.per_set * (done - sawn[item.mark]) / done)
        shared.append(item)
    return shared


def _loads(material: Material, bar: BarCut, book: StandardsBook) -> int:
    """How often the saw is loaded for bars with the same cuts; the last bundle may be smaller."""
    return ceil(bar.count / bars_at_once(material.section, book))


def _bar_items(materials: Iterable[Material], book: StandardsBook) -> list[WorkItem]:
    """Loading and trimming of the plan's bars, per job, since the plan is for all sets together."""
    bars = [
        (material, bar) for material in materials for bar in material.plan.bars if bar.pieces and not bar.sawn
    ]
    if not bars:
        return []
    loads = sum(_loads(material, bar, book) for material, bar in bars)
    trims = sum(_loads(material, bar, book) for material, bar in bars if bar.trim)
    items = [WorkItem("sawing", "load a bar", "saw.bar-handling", "run", per_job=loads)]
    if trims:
        items.append(WorkItem("sawing", "clamp and cut", CLAMP_AND_CUT, "run", per_job=trims))
    for material, bar in bars:
        if bar.trim:
            rate = book.of_family("saw.area-rate", material.grade.family)
            area = bar.count * material.section.area_mm2 / 100
            what = f"saw through {material.grade.family}"
            items.append(WorkItem("sawing", what, rate, "run", per_job=area, how="over"))
    return items


class _Learnt:
    """The learning factors of items over a run of so many sets."""

    def __init__(self, job: JobSpec, book: StandardsBook, policy: PricingPolicy, sets: int) -> None:
        self.sets = sets
        self._per_set = {part.mark: part.per_set for part in job.parts}
        self._others = job.repeats
        self._model = policy.learning
        self._rate = 1.0 if policy.learning == "none" else book.divisor("learning.rate") / 100

    def factor(self, item: WorkItem) -> float:
        """Mean time of the run over the time of its first piece.

        The run is all pieces of the job, whether they are in many sets or in one.
        """
        # Only manual run work is learned: not machine time ("over"), nor set-ups. Minutes by hand are left as
        # given.
        if self._model == "none" or not item.standard or item.kind != "run" or item.how != "times":
            return 1.0
        return mean_factor(self._model, self._rate, self.sets * self._per_set.get(item.mark, self._others))


def _minutes_lines(
    items: Iterable[WorkItem], book: StandardsBook, learnt: _Learnt
) -> tuple[MinutesLine, ...]:
    """One line for each operation, standard and kind, sorted by operation."""
    quantities: dict[tuple[str, str, str], float] = defaultdict(float)
    worked: dict[tuple[str, str, str], float] = defaultdict(float)
    first: dict[tuple[str, str, str], WorkItem] = {}
    for item in items:
        key = (item.operation, item.standard, item.kind)
        units = item.per_set * learnt.sets + item.per_job
        quantities[key] += units
        worked[key] += units * learnt.factor(item)
        first.setdefault(key, item)
    lines = [
        _minutes_line(first[key], units, book, exactly(worked[key] / units) if units else Decimal(1))
        for key, units in quantities.items()
    ]
    order = {operation: place for place, operation in enumerate(OPERATIONS)}
    kinds = {"set-up": 0, "run": 1}
    lines.sort(key=lambda line: (order.get(line.operation, len(order)), kinds[line.kind]))
    # Lines that round to 0 minutes are not printed.
    return tuple(line for line in lines if line.minutes)


def _minutes_line(item: WorkItem, units: float, book: StandardsBook, factor: Decimal) -> MinutesLine:
    quantity = exactly(units)
    name = item.standard or by_hand(item.operation)
    # Minutes by hand have a factor only once the shop has learned how long such work really takes.
    if name not in book and not item.standard:
        return MinutesLine(
            item.operation, item.what, "", item.kind, quantity, Decimal(1), "min", _minute(quantity)
        )
    standard = book[name]
    if item.how == "over":
        book.divisor(item.standard)
        minutes = quantity / standard.value * factor
    else:
        minutes = quantity * standard.value * factor
    return MinutesLine(
        item.operation, item.what, name, item.kind, quantity, standard.value, standard.unit,
        _minute(minutes), item.how, factor,
    )  # fmt: skip


def _operation_costs(
    minutes: Iterable[MinutesLine], book: StandardsBook, currency: str
) -> tuple[OperationCost, ...]:
    sums: dict[str, dict[str, Decimal]] = {}
    for line in minutes:
        kinds = sums.setdefault(line.operation, {"set-up": Decimal(0), "run": Decimal(0)})
        kinds[line.kind] += line.minutes
    costs = []
    for operation, kinds in sums.items():
        rate = book.value(f"rate.{operation}")
        total = kinds["set-up"] + kinds["run"]
        # Rounded once for the operation, so that printed minutes times printed rate give the printed amount.
        amount = round_money(total * rate / 60, currency)
        costs.append(OperationCost(operation, kinds["set-up"], kinds["run"], rate, amount))
    return tuple(costs)


def _jig_lines(job: JobSpec, currency: str) -> list[CostLine]:
    """Material cost of jigs and templates, once for the job."""
    one = Decimal(1)
    return [
        CostLine("consumables", f"jig: {jig.name}", one, "lot", jig.cost, round_money(jig.cost, currency))
        for jig in job.templates
        if jig.cost
    ]


def _bought_lines(job: JobSpec, book: StandardsBook, currency: str, sets: int) -> list[CostLine]:
    lines = []
    for bought in job.bought:
        quantity = Decimal(bought.per_set * sets)
        price = round_rate(bought.unit_cost * book.value("price.bought"))
        amount = round_money(quantity * price, currency)
        lines.append(CostLine("bought", bought.name, quantity, "each", price, amount, "price.bought"))
    return lines


def _percentage_lines(
    costs: Sequence[CostLine], operations: Sequence[OperationCost], policy: PricingPolicy
) -> list[CostLine]:
    """Lines in per cent: scrap on material and labour, overhead on labour, contingency on everything."""
    material = sum((line.amount for line in costs if line.category == "material"), Decimal(0))
    labour = sum((operation.amount for operation in operations), Decimal(0))
    others = sum((line.amount for line in costs if line.category != "material"), Decimal(0))

    def line(category: str, text: str, base: Decimal, pct: Decimal, name: str) -> CostLine:
        amount = round_money(base * pct / 100, policy.currency)
        return CostLine(category, text, base, "%", pct, amount, "", name)  # type: ignore[arg-type]

    lines = []
    if policy.scrap_pct:
        lines.append(line("material", "spoilt pieces, material", material, policy.scrap_pct, "material"))
        lines.append(line("labour", "spoilt pieces, labour", labour, policy.scrap_pct, "labour"))
        # Labour on scrapped pieces is worked too, so it bears overhead.
        material, labour = material + lines[0].amount, labour + lines[1].amount
    if policy.overhead_pct:
        lines.append(line("overhead", "overhead on labour", labour, policy.overhead_pct, "labour and scrap"))
        others += lines[-1].amount
    if policy.contingency_pct:
        lines.append(
            line("contingency", "contingency", material + labour + others, policy.contingency_pct, "all")
        )
    return lines


def _part_minutes(
    job: JobSpec,
    parts: Mapping[str, PartAnswer],
    items: Iterable[WorkItem],
    book: StandardsBook,
    learnt: _Learnt,
    currency: str,
    materials: Iterable[MaterialCost],
) -> tuple[PartMinutes, ...]:
    """Run minutes and direct cost of each mark."""
    minutes: dict[str, float] = defaultdict(float)
    labour: dict[str, float] = defaultdict(float)
    for item in items:
        if item.mark and item.standard:
            value = float(book.value(item.standard))
            units = item.per_set * learnt.sets * learnt.factor(item)
            spent = units / value if item.how == "over" else units * value
            minutes[item.mark] += spent
            labour[item.mark] += spent * float(book.value(f"rate.{item.operation}")) / 60
    # A material's cost is shared by mass, offcuts and saw cuts with it, since these belong to no one part.
    per_kg = {(m.section_key, m.grade): float(m.amount / m.mass_kg) for m in materials if m.mass_kg}
    answered = []
    for part in job.parts:
        answer = parts[part.mark]
        pieces = part.per_set * learnt.sets
        metal = pieces * answer.mass_kg * _price_per_kg(answer, per_kg)
        cost = round_money(Decimal(repr(metal + labour[part.mark])), currency)
        spent_minutes = _minute(exactly(minutes[part.mark]))
        answered.append(PartMinutes(part.mark, part.name, pieces, spent_minutes, cost))
    return tuple(answered)


def _price_per_kg(answer: PartAnswer, per_kg: Mapping[tuple[str, str], float]) -> float:
    """Price per kg of a part's metal: of its own section, or of the wider sheet that it is cut from."""
    own = per_kg.get((answer.section.key, answer.grade.name))
    if own is not None or not answer.section.form.by_width:
        return own or 0.0
    stem, grade = stem_of(answer.section), answer.grade.name
    wider = (price for (key, of), price in per_kg.items() if of == grade and is_of_stem(key, stem))
    return next(wider, 0.0)


def _confidence(
    minutes: Iterable[MinutesLine],
    operations: Iterable[OperationCost],
    costs: Iterable[CostLine],
    book: StandardsBook,
    policy: PricingPolicy,
    expected: Decimal,
) -> Confidence:
    """Standard deviation of the cost from the spreads of its standards, taken as independent.

    First order: deviation^2 = sum over standards of (cost that it drives x its spread)^2. All hours of a job
    may also deviate together (a bad drawing, a new hand); `COMMON_SPREAD` adds that.
    """
    rates = {operation.operation: operation.rate for operation in operations}
    on_labour = float(1 + policy.overhead_pct / 100)
    driven: dict[str, float] = defaultdict(float)
    measured = 0.0
    for line in minutes:
        cost = float(line.minutes * rates[line.operation]) / 60 * on_labour
        driven[line.standard or f"{line.operation} by hand"] += cost
        driven[f"rate.{line.operation}"] += cost
        driven[COMMON_SPREAD] += cost
        measured += cost if is_measured(line.standard, book) else 0.0
    for charge in costs:
        if charge.standard:
            driven[charge.standard] += float(charge.amount)
    variances = {name: (cost * float(_spread(name, book)) / 100) ** 2 for name, cost in driven.items()}
    variance = sum(variances.values())
    deviation = sqrt(variance)
    largest = sorted(variances, key=lambda name: variances[name], reverse=True)[:5]
    drivers = tuple(
        (name, _minute(exactly(variances[name] / variance * 100))) for name in largest if variance
    )
    reach = Decimal(repr(deviation * _EIGHT_IN_TEN))
    return Confidence(
        round_money(Decimal(repr(deviation)), policy.currency),
        round_money(max(Decimal(0), expected - reach), policy.currency),
        round_money(expected + reach, policy.currency),
        drivers,
        known=2 * measured >= driven[COMMON_SPREAD],
    )


def _spread(name: str, book: StandardsBook) -> Decimal:
    if name == COMMON_SPREAD:
        return book.value(COMMON_SPREAD)
    return book[name].spread_pct if name in book else BY_HAND_SPREAD


def _minute(value: Decimal) -> Decimal:
    return value.quantize(MINUTE, ROUND_HALF_UP)
