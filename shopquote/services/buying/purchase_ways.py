"""Ways to cover a material: cut plans over bars on sale, or pieces sawn by the supplier.

Which of them get a cut plan is decided in `ways_weighed`. Begin at `tries_of`.
"""

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache

from shopquote.calc.buying.buying_plan import BarKind, Need, Offer
from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.own_bars import own_first
from shopquote.calc.takeoff.plan import Progress, plan_cuts
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import NM_PER_INCH, NM_PER_MM, ZERO, Length, Unit
from shopquote.errors import CannotMakeError
from shopquote.services.buying.offers import ListedBar
from shopquote.services.buying.wanted import Wanted
from shopquote.services.shop.books import Books

# Work for all cut plans of a purchase, and for one of them; see `Work`.
WORK = 6 * A_SECOND
MOST_WORK_A_PLAN, LEAST_WORK_A_PLAN = 2 * A_SECOND, A_SECOND // 20
# Even when the time is up each material needs some plan, or nothing could be bought.
LEAST_SECONDS_A_PLAN = 0.05
# Free rack pieces given to the planner: the shortest first, up to this many times the length needed, within
# the two limits, and the longest few besides. More only slow it down.
RACK_TIMES_NEED = 2
LEAST_RACK_PIECES, MOST_RACK_PIECES = 60, 400
LONGEST_RACK_PIECES = 10
# Sawn lengths are ordered in whole mm or 1/16 in: common practice, no source.
SAWN_STEP_NM = {"mm": NM_PER_MM, "in": NM_PER_INCH // 16}


@dataclass(frozen=True, slots=True)
class PlannedWay:
    """One way to make a material: bars cut in the shop, and pieces that the supplier saws.

    `ordered` maps each length of `sawn` to the length ordered, see `sawn_length`. `gap` is the most that
    another cut plan over the same bars could save, in the shop's currency. `plan` is the cut plan that the
    bars come from, at list prices, with its proof; None if they come from several plans.
    """

    name: str
    bars: tuple[BarCut, ...]
    sawn: tuple[Piece, ...] = ()
    proven: bool = True
    gap: Decimal = Decimal(0)
    ordered: Mapping[Length, Length] = field(default_factory=dict)
    plan: CutPlan | None = None

    @property
    def rack_codes(self) -> tuple[str, ...]:
        """Names of the bars it uses that are there already."""
        return tuple(bar.rack_piece for bar in self.bars if bar.rack_piece is not None)

    def needs(self, wanted: Wanted) -> tuple[Need, ...]:
        """Bars to buy, by length."""
        counts: dict[Length, int] = {}
        for bar in self.bars:
            if bar.rack_piece is None:
                counts[bar.stock] = counts.get(bar.stock, 0) + bar.count
        for piece in self.sawn:
            length = self.ordered[piece.length]
            counts[length] = counts.get(length, 0) + piece.count
        key, grade = wanted.section.key, wanted.grade.name
        return tuple(Need(BarKind(key, grade, length), n) for length, n in sorted(counts.items()))

    def signature(self) -> tuple[object, ...]:
        """Equal for ways that buy the same bars and sawn pieces."""
        bought = sorted((bar.stock.nm, bar.count) for bar in self.bars if bar.rack_piece is None)
        merged: dict[int, int] = {}
        for nm, count in bought:
            merged[nm] = merged.get(nm, 0) + count
        sawn = tuple(sorted((self.ordered[piece.length].nm, piece.count) for piece in self.sawn))
        return (tuple(sorted(merged.items())), sawn)


@dataclass(frozen=True, slots=True)
class Units:
    """`planning`: unit that cuts are planned and shown in. `ordering`: unit of orders, the shop's own."""

    planning: Unit = "mm"
    ordering: Unit = "mm"

    @classmethod
    def of(cls, jobs: Collection[Unit], shop: Unit) -> "Units":
        """Cuts in the jobs' unit if they share one, else in the shop's; orders in the shop's."""
        (first, *others) = set(jobs) or {shop}
        return cls(shop if others else first, shop)


@dataclass
class Effort:
    """The work left for cut plans, dealt out over those still to be made; a clock only if a person set one.

    `purchases` are still to be planned, the current one included; `plans` is the number of cut plans in all
    of these, as far as known. `deadline` is in seconds of the monotonic clock.
    """

    purchases: int
    work: int = WORK
    deadline: float | None = None
    progress: Progress | None = None
    prove: bool = False
    cut_short: bool = False
    plans: int = 1

    def deal(self, plans: int) -> None:
        """State how many plans the current purchase still takes; later purchases are taken to need as many.

        Called again as it becomes known which plans are worth making.
        """
        self.plans = plans * max(1, self.purchases)

    def left(self) -> float | None:
        """Seconds left; None without a clock."""
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())

    def cut(
        self,
        pieces: Sequence[Piece],
        stock: Sequence[StockBar],
        rack: Sequence[RackBar],
        saw: SawSettings,
        unit: Unit,
    ) -> CutPlan:
        """Make the next cut plan within its share of the work left.

        Raises:
            CannotMakeError: a piece is longer than any bar, or there is too little bar.
        """
        # An equal share of what is left: hard first plans never use all, and what easy ones save goes to
        # later ones.
        work = min(MOST_WORK_A_PLAN, max(LEAST_WORK_A_PLAN, self.work // max(1, self.plans)))
        left = self.left()
        seconds = None if left is None else max(LEAST_SECONDS_A_PLAN, left / max(1, self.plans))
        self.plans -= 1
        asked = (tuple(pieces), tuple(stock), tuple(rack), saw, unit, work, self.prove)
        if seconds is None and self.progress is None:
            plan = _plan_made_before(*asked)
        else:
            plan = plan_cuts(
                pieces, stock, rack, saw, unit=unit, work=work,
                seconds=seconds, progress=self.progress, prove=self.prove,
            )  # fmt: skip
        self.work = max(0, self.work - plan.work)
        self.cut_short = self.cut_short or plan.cut_short
        return plan


# Cached: one supplier's bars are often all suppliers' bars, and of a job being typed only one part changes.
@lru_cache(maxsize=512)
def _plan_made_before(
    pieces: tuple[Piece, ...],
    stock: tuple[StockBar, ...],
    rack: tuple[RackBar, ...],
    saw: SawSettings,
    unit: Unit,
    work: int,
    prove: bool,
) -> CutPlan:
    return plan_cuts(pieces, stock, rack, saw, unit=unit, work=work, prove=prove)


@dataclass
class SectionMarket:
    """What suppliers list of one section and grade; `offers` are those with a price, by code."""

    listed: tuple[ListedBar, ...]
    offers: dict[str, tuple[Offer, ListedBar]] = field(default_factory=dict)

    @property
    def guessed_from(self) -> str:
        """Section key of the size whose price stands for one that nobody lists; empty if it is listed."""
        return next((bar.item.section_key for bar in self.listed if bar.guessed_for), "")

    @property
    def priced(self) -> bool:
        """Whether any supplier has a price."""
        return bool(self.offers)

    def stock(self, *, length: Length | None = None, supplier: str | None = None) -> tuple[StockBar, ...]:
        """The lengths on sale, each with its lowest price of one bar and the sum of the suppliers' limits.

        Tolerance is the largest of any supplier of the length: who sells it is decided after the cut plan.
        """
        found: dict[Length, StockBar] = {}
        for bar in self.listed:
            if length not in (None, bar.length) or supplier not in (None, bar.supplier.name):
                continue
            offer = self.offers.get(bar.code)
            if self.priced and offer is None:
                continue
            price = offer[0].steps[0].price if offer is not None else None
            limit, short = bar.item.limit, self.tolerance(bar.length)
            before = found.get(bar.length)
            if before is not None:
                # The plan needs one price a length: the lowest, so that its bound stays a lower bound.
                price = price if price is None or before.price is None else min(price, before.price)
                # Two suppliers of one length sell its sum; one without a limit sells any number.
                limit = None if limit is None or before.limit is None else limit + before.limit
            found[bar.length] = StockBar(bar.length, price, limit, tolerance=short)
        return tuple(found.values())

    def tolerance(self, length: Length) -> Length:
        """How much shorter than its length a bar may be, whoever sells it."""
        return max((bar.item.tolerance for bar in self.listed if bar.length == length), default=ZERO)

    def sawing(self) -> tuple[tuple[Offer, ListedBar, Decimal], ...]:
        """Offers of suppliers that saw to length, each with the charge per cut in the shop's currency."""
        return tuple(
            (offer, bar, (bar.supplier.cut_charge * bar.supplier.exchange_rate).quantize(Decimal("0.0001")))
            for offer, bar in self.offers.values()
            if bar.supplier.cut_charge is not None
        )


def market_for(
    books: Books, wanted: Wanted, on: date, supplier: str | None, *, guess: bool = False
) -> SectionMarket:
    """What suppliers, or the one named, list on a day; with `guess`, the nearest size where nobody has a
    price.
    """
    listed = books.listed(wanted.section, wanted.grade, on, supplier)
    if guess and not any(bar.prices for bar in listed):
        listed = books.guessed(wanted.section, wanted.grade, on) or listed
    market = SectionMarket(listed)
    for bar in market.listed:
        offer = bar.offer()
        if offer is not None:
            market.offers[offer.code] = (offer, bar)
    return market


def suffices(wanted: Wanted, saw: SawSettings, unit: Unit) -> bool:
    """Whether the bars that the jobs have already hold all the pieces."""
    return bool(wanted.own) and own_way(wanted, saw, unit).name == "own bars"


def own_way(wanted: Wanted, saw: SawSettings, unit: Unit) -> PlannedWay:
    """Plan that uses only bars the jobs already have; named "not enough" if they do not suffice."""
    if not wanted.pieces:
        return PlannedWay("own bars", ())
    try:
        # No bar on sale is offered: this is asked often, and such a plan is small.
        plan = plan_cuts(wanted.pieces, (), wanted.own, saw, unit=unit)
    except CannotMakeError:
        return PlannedWay("not enough", ())
    return PlannedWay("own bars", plan.bars, plan=plan)


def tries_of(market: SectionMarket) -> list[tuple[str, tuple[StockBar, ...]]]:
    """Sets of bars to plan a material over, with a name each: all lengths first, then single lengths and
    suppliers.

    Bars of one length or supplier alone may cost more and the purchase less: fewer deliveries, larger steps.
    """
    lengths = sorted({bar.length for bar in market.listed}, reverse=True)
    suppliers = sorted({bar.supplier.name for bar in market.listed})
    tries = [("all lengths", market.stock())]
    if len(lengths) > 1:
        tries += [(f"{length.mm.normalize():f} mm bars", market.stock(length=length)) for length in lengths]
    if len(suppliers) > 1:
        tries += [(f"bars of {name}", market.stock(supplier=name)) for name in suppliers]
    found: list[tuple[str, tuple[StockBar, ...]]] = []
    for name, stock in tries:
        if not found or (stock and not any(_same_cuts(stock, other) for _, other in found)):
            found.append((name, stock))
    return found


def _same_cuts(some: Sequence[StockBar], others: Sequence[StockBar]) -> bool:
    """Whether plans over these bars are the same; with a single length the price does not matter."""
    if len(some) == 1 and len(others) == 1:
        return replace(some[0], price=None) == replace(others[0], price=None)
    return tuple(some) == tuple(others)


def plan_way(
    wanted: Wanted, stock: Sequence[StockBar], saw: SawSettings, unit: Unit, effort: Effort, name: str
) -> PlannedWay:
    """A cut plan over these lengths, the jobs' bars and the free rack.

    Raises:
        CannotMakeError: nothing to cut from, or a piece is longer than any bar.
    """
    rack = (*wanted.own, *_thinned(wanted))
    if not stock and not rack:
        raise CannotMakeError(
            f"No supplier on file lists {wanted.section.name(unit)} in {wanted.grade.name}, "
            "and none is on the rack.",
            hint="Add it to a supplier's list: shopquote stock",
        )
    try:
        plan = effort.cut(wanted.pieces, stock, rack, saw, unit)
    except CannotMakeError as error:
        bar = wanted.name_in(unit)
        raise CannotMakeError(f"{bar}: {error.message}", hint=error.hint) from error
    bars = own_first(plan.bars, rack, wanted.pieces, saw)
    gap = plan.gap if plan.priced else Decimal(0)
    return PlannedWay(name, bars, proven=plan.proven, gap=gap, plan=plan)


def _thinned(wanted: Wanted) -> tuple[RackBar, ...]:
    """Free pieces worth planning with: the shortest, which are used up first, and a few of the longest."""
    free = wanted.free
    if len(free) <= LEAST_RACK_PIECES:
        return free
    enough = RACK_TIMES_NEED * sum(piece.length.nm * piece.count for piece in wanted.pieces)
    count = total = 0
    while count < min(len(free), MOST_RACK_PIECES) and (count < LEAST_RACK_PIECES or total < enough):
        total += free[count].length.nm
        count += 1
    return (*free[:count], *free[max(count, len(free) - LONGEST_RACK_PIECES) :])


def sawn_length(length: Length, unit: Unit, longest: Length) -> Length:
    """The length at which a sawn piece is ordered: rounded up to the next whole mm or 1/16 in.

    Suppliers do not saw to a tenth of a millimetre, and up to a millimetre more is within what the shop
    trims. The length stays as it is if the rounded one is longer than the supplier's bar.

    >>> sawn_length(Length.from_mm("3095.6"), "mm", Length.from_mm(6000)).mm
    Decimal('3096.000000')
    """
    step = SAWN_STEP_NM[unit]
    up = Length(-(-length.nm // step) * step)
    return up if up <= longest else length


def sawn_way(wanted: Wanted, market: SectionMarket, first: PlannedWay, unit: Unit) -> PlannedWay | None:
    """The first way with all pieces of its bought bars sawn by the supplier; None if none saws so long."""
    longest = max((offer.kind.length for offer, _, _ in market.sawing()), default=None)
    if longest is None:
        return None
    sawn: dict[tuple[str, Length, str], int] = {}
    for bar in first.bars:
        if bar.rack_piece is None:
            for mark, length, count, owner in bar.pieces:
                sawn[mark, length, owner] = sawn.get((mark, length, owner), 0) + count * bar.count
    if not sawn or any(length > longest for _, length, _ in sawn):
        return None
    pieces = tuple(Piece(mark, length, n, owner=owner) for (mark, length, owner), n in sawn.items())
    kept = tuple(bar for bar in first.bars if bar.rack_piece is not None)
    ordered = {piece.length: sawn_length(piece.length, unit, longest) for piece in pieces}
    return PlannedWay("sawn by the supplier", kept, pieces, first.proven, first.gap, ordered)


def different_ways(ways: Sequence[PlannedWay]) -> list[PlannedWay]:
    """One way for each purchase; of ways that buy the same, the one that uses fewest bars that are there."""
    best: dict[tuple[object, ...], PlannedWay] = {}
    for way in ways:
        key = way.signature()
        if key not in best or len(way.rack_codes) < len(best[key].rack_codes):
            best[key] = way
    return list(best.values())
