"""Order lines of a purchase and picks from the rack, each with what is cut from every bar.

Begin at `bought_lines` and `rack_picks`.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.buying.buying_plan import BarKind, BuyingPlan, Need, Purchase
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.calc.takeoff.cut_plan import BarCut
from shopquote.calc.takeoff.takeoff import share_cost
from shopquote.calc.units import ZERO, Length, Unit
from shopquote.services.buying.offers import ListedBar
from shopquote.services.buying.purchase_ways import PlannedWay, SectionMarket
from shopquote.services.buying.wanted import Wanted

# Pieces cut from one bar: (job number, mark, length, count).
Load = tuple[tuple[str, str, Length, int], ...]


@dataclass(frozen=True, slots=True)
class BoughtLine:
    """Bars of one item from one supplier, money in its currency; prices are None if they must be asked for.

    `loads` are the pieces cut from each bar; bars beyond those were bought for a bundle or a better price.
    `one_heat`: pieces in it must come from one heat, so the bars should too.
    """

    listed: ListedBar
    section: Section
    grade: Grade
    length: Length
    length_text: str
    count: int
    cut: bool
    mass_kg: Decimal
    price: Decimal | None
    basis: str | None
    unit_price: Decimal | None
    loads: tuple[Load, ...]
    one_heat: bool = False

    @property
    def jobs(self) -> dict[str, tuple[int, Length]]:
        """By job number: how many of the bars are mostly its own, and the length of its pieces in them."""
        jobs: dict[str, tuple[int, Length]] = {}
        for load in self.loads:
            main = main_job(load)
            for owner, length in lengths_of(load).items():
                count, total = jobs.get(owner, (0, ZERO))
                jobs[owner] = (count + (owner == main), total + length)
        return dict(sorted(jobs.items()))


@dataclass(frozen=True, slots=True)
class RackPick:
    """A bar that the shop or the jobs have already, and what is cut from it for these jobs."""

    name: str
    section: Section
    length: Length
    load: Load

    @property
    def job(self) -> str:
        """The job with the greatest length in it."""
        return main_job(self.load)


def bought_lines(
    wanted: Sequence[Wanted],
    markets: Mapping[str, SectionMarket],
    chosen: Mapping[str, PlannedWay],
    buying: BuyingPlan | None,
) -> tuple[BoughtLine, ...]:
    """The order lines of a purchase by supplier and size, with what is cut from every bar."""
    by_kind: dict[BarKind, list[Purchase]] = {}
    for purchase in buying.purchases if buying is not None else ():
        by_kind.setdefault(purchase.offer.kind, []).append(purchase)
    lines: list[BoughtLine] = []
    for w in wanted:
        market, way = markets[w.name], chosen[w.name]
        needs = way.needs(w)
        mine_too = [kind for kind in by_kind if (kind.section, kind.grade) == (w.section.key, w.grade.name)]
        needed = {need.kind for need in needs}
        # Bars of other lengths, bought because they make a delivery free.
        beyond = [Need(kind, 0) for kind in mine_too if kind not in needed]
        for need in (*needs, *beyond):
            loads = _loads(way, need.kind.length)
            if not market.priced:
                lines.append(_asked_line(w, market, need, loads))
                continue
            for purchase in by_kind.pop(need.kind, ()):
                mine, loads = loads[: purchase.count], loads[purchase.count :]
                lines.append(_bought_line(w, market, purchase, mine))
    return tuple(
        sorted(
            lines,
            key=lambda line: (line.listed.supplier.name, line.section.key, line.grade.name, line.length),
        )
    )


def _loads(way: PlannedWay, length: Length) -> list[Load]:
    """What is cut from each bought bar of a length, bar by bar."""
    loads = [
        _load(bar)
        for bar in way.bars
        if bar.rack_piece is None and bar.stock == length
        for _ in range(bar.count)
    ]
    for piece in way.sawn:
        if way.ordered[piece.length] == length:
            loads += [((piece.owner, piece.mark, piece.length, 1),)] * piece.count
    return loads


def _load(bar: BarCut) -> Load:
    return tuple((owner, mark, length, count) for mark, length, count, owner in bar.pieces)


def lengths_of(load: Load) -> dict[str, Length]:
    """Length of each job's pieces in a bar, by job number."""
    lengths: dict[str, Length] = {}
    for owner, _, length, count in load:
        lengths[owner] = lengths.get(owner, ZERO) + length * count
    return lengths


def main_job(load: Load) -> str:
    """The job with the greatest length of pieces in a bar; of equals the first by number."""
    lengths = lengths_of(load)
    return max(sorted(lengths), key=lambda owner: lengths[owner])


def _bought_line(
    wanted: Wanted, market: SectionMarket, purchase: Purchase, loads: Sequence[Load]
) -> BoughtLine:
    code = purchase.offer.code.split(" ", 1)[0]
    _, bar = market.offers[code]
    length = purchase.offer.kind.length
    mass = Decimal(purchase.offer.mass_g * purchase.count) / 1000
    price, basis = bar.price_at(mass) or (None, None)
    unit_price = bar.unit_price(mass)
    if purchase.offer.cut and unit_price is not None:
        # A sawn piece costs its share of the bar's length plus the charge per cut.
        share = Decimal(length.nm) / Decimal(bar.length.nm)
        unit_price = round_rate(unit_price * share + (bar.supplier.cut_charge or 0))
        price, basis = unit_price, "bar"
    return BoughtLine(
        bar, wanted.section, wanted.grade, length, "" if purchase.offer.cut else bar.item.length_text,
        purchase.count, purchase.offer.cut, mass, price, basis, unit_price, tuple(loads),
        _is_one_heat(wanted, loads),
    )  # fmt: skip


def _is_one_heat(wanted: Wanted, loads: Sequence[Load]) -> bool:
    grouped = {(piece.owner, piece.mark) for piece in wanted.pieces if piece.heat_group is not None}
    return any((owner, mark) in grouped for load in loads for owner, mark, _, _ in load)


def _asked_line(wanted: Wanted, market: SectionMarket, need: Need, loads: Sequence[Load]) -> BoughtLine:
    bar = next(bar for bar in market.listed if bar.length == need.kind.length)
    return BoughtLine(
        bar, wanted.section, wanted.grade, bar.length, bar.item.length_text, need.count, False,
        bar.mass_kg * need.count, None, None, None, tuple(loads), _is_one_heat(wanted, loads),
    )  # fmt: skip


def rack_picks(wanted: Wanted, way: PlannedWay) -> list[RackPick]:
    """The bars of a way that are there already, with what is cut from them."""
    lengths = {bar.piece: bar.length for bar in (*wanted.own, *wanted.free)}
    picks = []
    for bar in way.bars:
        if bar.rack_piece is not None:
            picks.append(RackPick(bar.rack_piece, wanted.section, lengths[bar.rack_piece], _load(bar)))
    return picks


def values_by_job(lines: Sequence[BoughtLine]) -> dict[str, Decimal]:
    """Value of the bought bars that each job bears, in the shop's currency, by length of its pieces in each
    line.
    """
    values: dict[str, Decimal] = {}
    for line in lines:
        value = (line.unit_price or Decimal(0)) * line.count * line.listed.supplier.exchange_rate
        whole = sum(length.nm for _, length in line.jobs.values())
        for job, (_, length) in line.jobs.items():
            values[job] = values.get(job, Decimal(0)) + value * length.nm / whole
    return values


def guess_of(wanted: Wanted, market: SectionMarket, unit: Unit) -> tuple[str, str] | None:
    """A material that no supplier lists and the size whose price stands for it, in words; None if it is
    listed.
    """
    if not market.guessed_from:
        return None
    like = parse_section(market.guessed_from, "mm").name(unit)
    if market.listed[0].guessed_grade:
        like = f"{like} {market.listed[0].item.grade}"
    return wanted.name_in(unit), like


def guess_words(guessed: Mapping[str, str]) -> tuple[str, ...]:
    """A note for each material with a guessed price."""
    return tuple(
        f"{name} is on nobody's list: price guessed, by mass as {like}." for name, like in guessed.items()
    )


def shares_of(
    cost: Decimal,
    lines: Sequence[BoughtLine],
    apart: Mapping[str, Decimal],
    groups: Sequence[tuple[str, ...]],
    currency: str,
) -> dict[str, Decimal]:
    """What each job bears of the cost, to the last digit of the currency; adds up to it.

    Groups share by what each would cost apart; jobs of a group by the value of the bars bought for them.
    """
    values = values_by_job(lines)
    total_apart = sum(apart.values(), Decimal(0))
    weights: dict[str, Decimal] = {}
    for group in groups if total_apart else [tuple(values)]:
        whole = apart[", ".join(group)] / total_apart if total_apart else Decimal(1)
        value = sum((values.get(job, Decimal(0)) for job in group), Decimal(0))
        for job in group:
            weights[job] = whole * (values.get(job, Decimal(0)) / value if value else Decimal(1) / len(group))
    return {share.owner: share.bears for share in share_cost(weights, cost, currency)}
