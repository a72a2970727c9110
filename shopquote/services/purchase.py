"""What to buy for jobs: need, less what they have, less the rack, over the suppliers that cost least.

For each section and grade several ways are worked out: cut plans over all
lengths that can be bought, over each length alone, over each supplier's
lengths alone, and pieces sawn by the supplier. The supplier choice then takes
one way for each, all orders with their deliveries together, and proves that no
other choice among them is cheaper. Begin at `plan_purchase`.
"""

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.buying.answers import BarKind, BuyingPlan, Need, Offer, Purchase, Want, Way
from shopquote.calc.buying.choose import choose_suppliers, cut_offer
from shopquote.calc.money import round_money
from shopquote.calc.takeoff.answers import BarCut, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.share import share_cost
from shopquote.calc.units import ZERO, Length, Unit
from shopquote.errors import CannotMakeError
from shopquote.records.people import Supplier
from shopquote.services.offers import ListedBar, listed_bars, supplier_terms

MOST_SECONDS_A_PLAN = 2.0
LEAST_SECONDS_A_PLAN = 0.05
# Free rack pieces that a plan looks at: the shortest first, up to this many times the length that
# is needed, but at least and at most so many. More of them only slow the planner down.
RACK_TIMES_NEED = 2
LEAST_RACK_PIECES, MOST_RACK_PIECES = 60, 400
LONGEST_RACK_PIECES = 10


@dataclass(frozen=True, slots=True)
class Wanted:
    """Pieces of one section and grade, and the bars that there are already.

    `own` are bars that the jobs have (promised, on order, cut); `free` lie on the rack for anybody.
    """

    section: Section
    grade: Grade
    pieces: tuple[Piece, ...]
    own: tuple[RackBar, ...] = ()
    free: tuple[RackBar, ...] = ()

    @property
    def name(self) -> str:
        """What the supplier choice calls it."""
        return f"{self.section.key} {self.grade.name}"

    def of(self, owners: Iterable[str]) -> "Wanted":
        """Only the pieces of some jobs."""
        names = set(owners)
        return replace(self, pieces=tuple(piece for piece in self.pieces if piece.owner in names))


@dataclass(frozen=True, slots=True)
class PlannedWay:
    """One way to make a wanted material: bars cut here, and pieces that the supplier saws.

    `gap` is how much cheaper another cut plan over the same bars could be at most.
    """

    name: str
    bars: tuple[BarCut, ...]
    sawn: tuple[Piece, ...] = ()
    proven: bool = True
    gap: Decimal = Decimal(0)

    @property
    def rack_codes(self) -> tuple[str, ...]:
        """Names of the bars that it takes from what is there."""
        return tuple(bar.rack_piece for bar in self.bars if bar.rack_piece is not None)

    def needs(self, wanted: Wanted) -> tuple[Need, ...]:
        """Bars to buy, by length."""
        counts: dict[Length, int] = {}
        for bar in self.bars:
            if bar.rack_piece is None:
                counts[bar.stock] = counts.get(bar.stock, 0) + bar.count
        for piece in self.sawn:
            counts[piece.length] = counts.get(piece.length, 0) + piece.count
        key, grade = wanted.section.key, wanted.grade.name
        return tuple(Need(BarKind(key, grade, length), n) for length, n in sorted(counts.items()))

    def signature(self) -> tuple[object, ...]:
        """Equal for ways that buy the same; then the one that takes least from the rack stays."""
        bought = sorted((bar.stock.nm, bar.count) for bar in self.bars if bar.rack_piece is None)
        merged: dict[int, int] = {}
        for nm, count in bought:
            merged[nm] = merged.get(nm, 0) + count
        sawn = tuple(sorted((piece.length.nm, piece.count) for piece in self.sawn))
        return (tuple(sorted(merged.items())), sawn)


# What is cut from one bar: (owner, mark, length, count).
Load = tuple[tuple[str, str, Length, int], ...]


@dataclass(frozen=True, slots=True)
class BoughtLine:
    """Bars of one item for one supplier, in its own currency; prices None when they are asked for.

    `loads` says what is cut from each bar; bars beyond that were bought for the bundle or the price.
    `one_heat`: pieces in it must come from one heat, so all its bars should.
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
        """For each job how many of the bars are mostly its own, and what length of its pieces they hold."""
        jobs: dict[str, tuple[int, Length]] = {}
        for load in self.loads:
            main = main_job(load)
            for owner, length in lengths_of(load).items():
                count, total = jobs.get(owner, (0, ZERO))
                jobs[owner] = (count + (owner == main), total + length)
        return dict(sorted(jobs.items()))


@dataclass(frozen=True, slots=True)
class RackPick:
    """A bar that is there already, and what is cut from it for these jobs."""

    name: str
    section_key: str
    length: Length
    load: Load

    @property
    def job(self) -> str:
        """The job that has most in it."""
        return main_job(self.load)


@dataclass(frozen=True)
class PurchasePlan:
    """What to buy and what to take from the rack, with its proof.

    Money is in the shop's currency. `apart` is what each group of jobs that share
    no bar yet would cost if ordered by itself, one after another; `shares` is what
    each job bears of the whole. Lines without a price count nothing in `cost`.
    `bound` is over the ways weighed; `cuts_gap` is what better cut plans could still save at most.
    """

    jobs: tuple[str, ...]
    lines: tuple[BoughtLine, ...]
    picks: tuple[RackPick, ...]
    deliveries: Mapping[str, Decimal]
    ways: Mapping[str, str]
    cost: Decimal
    bound: Decimal
    proven: bool
    cuts_proven: bool
    cuts_gap: Decimal
    apart: Mapping[str, Decimal]
    shares: Mapping[str, Decimal]
    seconds: float

    @property
    def saving(self) -> Decimal:
        """What ordering together saves."""
        return max(Decimal(0), sum(self.apart.values(), Decimal(0)) - self.cost) if self.apart else Decimal(0)


@dataclass
class _Clock:
    """Seconds left, dealt out over the plans still to be made."""

    deadline: float
    plans: int

    def next(self) -> float:
        left = max(0.0, self.deadline - time.monotonic())
        share = left / max(1, self.plans)
        self.plans -= 1
        return min(MOST_SECONDS_A_PLAN, max(LEAST_SECONDS_A_PLAN, share))


@dataclass
class _Market:
    """What can be bought of one section and grade."""

    listed: tuple[ListedBar, ...]
    offers: dict[str, tuple[Offer, ListedBar]] = field(default_factory=dict)

    @property
    def priced(self) -> bool:
        return bool(self.offers)

    def stock(self, *, length: Length | None = None, supplier: str | None = None) -> tuple[StockBar, ...]:
        """Lengths to buy with the lowest first price of each, and their limits together."""
        found: dict[Length, StockBar] = {}
        for bar in self.listed:
            if length not in (None, bar.length) or supplier not in (None, bar.supplier.name):
                continue
            offer = self.offers.get(str(bar.item.id))
            if self.priced and offer is None:
                continue
            price = offer[0].steps[0].price if offer is not None else None
            limit = bar.item.limit
            before = found.get(bar.length)
            if before is not None:
                price = price if price is None or before.price is None else min(price, before.price)
                limit = None if limit is None or before.limit is None else limit + before.limit
            found[bar.length] = StockBar(bar.length, price, limit)
        return tuple(found.values())

    def sawing(self) -> tuple[tuple[Offer, ListedBar, Decimal], ...]:
        """Offers of suppliers that saw to length, with the charge for a cut in the shop's currency."""
        return tuple(
            (offer, bar, (bar.supplier.cut_charge * bar.supplier.exchange_rate).quantize(Decimal("0.0001")))
            for offer, bar in self.offers.values()
            if bar.supplier.cut_charge is not None
        )


def plan_purchase(
    session: Session,
    wanted: Sequence[Wanted],
    saw: SawSettings,
    *,
    on: date,
    unit: Unit = "mm",
    groups: Sequence[tuple[str, ...]] = (),
    supplier: str | None = None,
    seconds: float = 8.0,
) -> PurchasePlan:
    """The cheapest purchase found for all wanted materials, and its proof.

    Args:
        session: an open session; nothing is written.
        wanted: materials with their pieces, each once.
        saw: kerf, trim and grip; leftovers are credited nothing here, since no supplier pays for them.
        on: day whose prices hold.
        unit: planning unit.
        groups: jobs that share no bar yet; with two or more, what each would cost apart is worked out.
        supplier: buy from this one only.
        seconds: for all plans and the proof.

    Raises:
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    began = time.monotonic()
    saw = replace(saw, keep_percent=Decimal(0))
    markets = {w.name: _market(session, w, on, supplier) for w in wanted}
    lacking = [w for w in wanted if not _suffices(w, saw, unit)]
    plans = sum(_plans_for(markets[w.name], len(groups)) for w in lacking)
    clock = _Clock(began + seconds * 0.75, plans)
    apart, alone = _plan_apart(lacking, markets, groups, saw, unit, clock)
    ways = {w.name: _ways(w, markets[w.name], saw, unit, clock) for w in lacking}
    for w in lacking:
        if w.name in alone:
            ways[w.name] = _different([*ways[w.name], alone[w.name]])
    chosen, buying = _choose(lacking, markets, ways, max(0.5, began + seconds - time.monotonic()))
    taken = {w.name: _own_way(w, saw, unit) for w in wanted if w not in lacking} | chosen
    lines = _lines(lacking, markets, chosen, buying)
    picks = tuple(pick for w in wanted for pick in _picks(w, taken[w.name]))
    cost = buying.cost if buying is not None else Decimal(0)
    return PurchasePlan(
        jobs=tuple(sorted({piece.owner for w in wanted for piece in w.pieces})),
        lines=lines,
        picks=picks,
        deliveries=buying.deliveries if buying is not None else {},
        ways={name: way.name for name, way in taken.items()},
        cost=cost,
        bound=buying.bound if buying is not None else Decimal(0),
        proven=buying.proven if buying is not None else True,
        cuts_proven=all(way.proven for way in chosen.values()),
        cuts_gap=sum((way.gap for way in chosen.values()), Decimal(0)),
        apart=apart,
        shares=_shares(cost, lines, apart, groups),
        seconds=time.monotonic() - began,
    )


# --- ways ---------------------------------------------------------------------------------------


def _market(session: Session, wanted: Wanted, on: date, supplier: str | None) -> _Market:
    market = _Market(listed_bars(session, wanted.section, wanted.grade, on, supplier=supplier))
    for bar in market.listed:
        offer = bar.offer()
        if offer is not None:
            market.offers[offer.code] = (offer, bar)
    return market


def _suffices(wanted: Wanted, saw: SawSettings, unit: Unit) -> bool:
    """Whether the bars that the jobs have hold all the pieces already."""
    return bool(wanted.own) and _own_way(wanted, saw, unit).name == "own bars"


def _own_way(wanted: Wanted, saw: SawSettings, unit: Unit) -> PlannedWay:
    if not wanted.pieces:
        return PlannedWay("own bars", ())
    try:
        plan = plan_cuts(wanted.pieces, (), wanted.own, saw, unit=unit, seconds=MOST_SECONDS_A_PLAN)
    except CannotMakeError:
        return PlannedWay("not enough", ())
    return PlannedWay("own bars", plan.bars)


def _plans_for(market: _Market, groups: int) -> int:
    lengths = len({bar.length for bar in market.listed})
    suppliers = len({bar.supplier.name for bar in market.listed})
    return 1 + (lengths if lengths > 1 else 0) + (suppliers if suppliers > 1 else 0) + groups


def _ways(wanted: Wanted, market: _Market, saw: SawSettings, unit: Unit, clock: _Clock) -> list[PlannedWay]:
    """All ways that differ in what they buy; the first is over all lengths."""
    first = _plan(wanted, market.stock(), saw, unit, clock, "all lengths")
    ways = [first]
    if not first.needs(wanted):
        return ways  # all of it is there; nothing is cheaper
    lengths = sorted({bar.length for bar in market.listed}, reverse=True)
    suppliers = sorted({bar.supplier.name for bar in market.listed})
    tries: list[tuple[str, tuple[StockBar, ...]]] = []
    if len(lengths) > 1:
        tries += [(f"{length.mm.normalize():f} mm bars", market.stock(length=length)) for length in lengths]
    if len(suppliers) > 1:
        tries += [(f"bars of {name}", market.stock(supplier=name)) for name in suppliers]
    for name, stock in tries:
        if not stock:
            continue
        try:
            ways.append(_plan(wanted, stock, saw, unit, clock, name))
        except CannotMakeError:
            continue  # these bars are too short, or too few
    sawn = _sawn_way(wanted, market, first)
    if sawn is not None:
        ways.append(sawn)
    return _different(ways)


def _plan(
    wanted: Wanted, stock: Sequence[StockBar], saw: SawSettings, unit: Unit, clock: _Clock, name: str
) -> PlannedWay:
    rack = (*wanted.own, *_thinned(wanted))
    if not stock and not rack:
        raise CannotMakeError(
            f"No supplier on file lists {wanted.section.key} in {wanted.grade.name}, "
            "and none is on the rack.",
            hint="Add it to a supplier's list: shopquote stock",
        )
    plan = plan_cuts(wanted.pieces, stock, rack, saw, unit=unit, seconds=clock.next())
    return PlannedWay(name, plan.bars, proven=plan.proven, gap=plan.gap if plan.priced else Decimal(0))


def _thinned(wanted: Wanted) -> tuple[RackBar, ...]:
    """The free pieces worth looking at: the shortest, which are used up first, and the longest few."""
    free = wanted.free
    if len(free) <= LEAST_RACK_PIECES:
        return free
    enough = RACK_TIMES_NEED * sum(piece.length.nm * piece.count for piece in wanted.pieces)
    count = total = 0
    while count < min(len(free), MOST_RACK_PIECES) and (count < LEAST_RACK_PIECES or total < enough):
        total += free[count].length.nm
        count += 1
    return (*free[:count], *free[max(count, len(free) - LONGEST_RACK_PIECES) :])


def _sawn_way(wanted: Wanted, market: _Market, first: PlannedWay) -> PlannedWay | None:
    """What the first way would cut from bought bars, sawn by the supplier instead."""
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
    return PlannedWay("sawn by the supplier", kept, pieces, first.proven, first.gap)


def _different(ways: Sequence[PlannedWay]) -> list[PlannedWay]:
    """One way for each thing bought; of equal ones the one that takes least from the rack."""
    best: dict[tuple[object, ...], PlannedWay] = {}
    for way in ways:
        key = way.signature()
        if key not in best or len(way.rack_codes) < len(best[key].rack_codes):
            best[key] = way
    return list(best.values())


# --- jobs apart ---------------------------------------------------------------------------------


def _plan_apart(
    wanted: Sequence[Wanted],
    markets: Mapping[str, _Market],
    groups: Sequence[tuple[str, ...]],
    saw: SawSettings,
    unit: Unit,
    clock: _Clock,
) -> tuple[dict[str, Decimal], dict[str, PlannedWay]]:
    """What each group costs when ordered by itself, in turn, and all their bars as one more way."""
    if len(groups) < 2:
        return {}, {}
    apart: dict[str, Decimal] = {}
    bars: dict[str, list[PlannedWay]] = {w.name: [] for w in wanted}
    taken: set[str] = set()
    for group in groups:
        chosen, cost = _plan_group(wanted, markets, group, saw, unit, clock, taken)
        apart[", ".join(group)] = cost
        for name, way in chosen.items():
            bars[name].append(way)
            taken.update(way.rack_codes)
    together = {
        name: PlannedWay(
            "job by job",
            tuple(bar for way in ways for bar in way.bars),
            tuple(piece for way in ways for piece in way.sawn),
            all(way.proven for way in ways),
            sum((way.gap for way in ways), Decimal(0)),
        )
        for name, ways in bars.items()
        if ways
    }
    return apart, together


def _plan_group(
    wanted: Sequence[Wanted],
    markets: Mapping[str, _Market],
    group: tuple[str, ...],
    saw: SawSettings,
    unit: Unit,
    clock: _Clock,
    taken: set[str],
) -> tuple[dict[str, PlannedWay], Decimal]:
    mine = []
    ways: dict[str, list[PlannedWay]] = {}
    for w in wanted:
        part = w.of(group)
        if not part.pieces:
            continue
        part = replace(
            part,
            own=tuple(bar for bar in w.own if bar.piece not in taken),
            free=tuple(bar for bar in w.free if bar.piece not in taken),
        )
        first = _plan(part, markets[w.name].stock(), saw, unit, clock, "all lengths")
        sawn = _sawn_way(part, markets[w.name], first)
        ways[w.name] = [first] if sawn is None else [first, sawn]
        mine.append(part)
    chosen, buying = _choose(mine, markets, ways, 1.0)
    return chosen, buying.cost if buying is not None else Decimal(0)


# --- choice -------------------------------------------------------------------------------------


def _choose(
    wanted: Sequence[Wanted],
    markets: Mapping[str, _Market],
    ways: Mapping[str, Sequence[PlannedWay]],
    seconds: float,
) -> tuple[dict[str, PlannedWay], BuyingPlan | None]:
    """The way taken for each material; those without any price on file take their first."""
    chosen = {w.name: ways[w.name][0] for w in wanted if not markets[w.name].priced}
    priced = [w for w in wanted if markets[w.name].priced]
    if not priced:
        return chosen, None
    wants, offers = [], []
    suppliers: dict[str, Supplier] = {}
    for w in priced:
        named = {f"{i} {way.name}": way for i, way in enumerate(ways[w.name])}
        wants.append(Want(w.name, tuple(Way(name, way.needs(w)) for name, way in named.items())))
        for offer, bar in _offers(markets[w.name], ways[w.name]):
            offers.append(offer)
            suppliers[bar.supplier.name] = bar.supplier
    buying = choose_suppliers(wants, offers, supplier_terms(suppliers.values()), seconds=seconds)
    for w in priced:
        chosen[w.name] = ways[w.name][int(buying.ways[w.name].split(" ", 1)[0])]
    return chosen, buying


def _offers(market: _Market, ways: Sequence[PlannedWay]) -> list[tuple[Offer, ListedBar]]:
    offers = list(market.offers.values())
    lengths = sorted({piece.length for way in ways for piece in way.sawn})
    for offer, bar, charge in market.sawing():
        offers += [
            (cut_offer(offer, length, charge), bar) for length in lengths if length <= offer.kind.length
        ]
    return offers


# --- lines and picks ------------------------------------------------------------------------------


def _lines(
    wanted: Sequence[Wanted],
    markets: Mapping[str, _Market],
    chosen: Mapping[str, PlannedWay],
    buying: BuyingPlan | None,
) -> tuple[BoughtLine, ...]:
    by_kind: dict[BarKind, list[Purchase]] = {}
    for purchase in buying.purchases if buying is not None else ():
        by_kind.setdefault(purchase.offer.kind, []).append(purchase)
    lines: list[BoughtLine] = []
    for w in wanted:
        market, way = markets[w.name], chosen[w.name]
        for need in way.needs(w):
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
    """What is cut from every bought bar of a length."""
    loads = [
        _load(bar)
        for bar in way.bars
        if bar.rack_piece is None and bar.stock == length
        for _ in range(bar.count)
    ]
    for piece in way.sawn:
        if piece.length == length:
            loads += [((piece.owner, piece.mark, piece.length, 1),)] * piece.count
    return loads


def _load(bar: BarCut) -> Load:
    return tuple((owner, mark, length, count) for mark, length, count, owner in bar.pieces)


def lengths_of(load: Load) -> dict[str, Length]:
    """Length of each job's pieces in a bar."""
    lengths: dict[str, Length] = {}
    for owner, _, length, count in load:
        lengths[owner] = lengths.get(owner, ZERO) + length * count
    return lengths


def main_job(load: Load) -> str:
    """The job that has most in a bar."""
    lengths = lengths_of(load)
    return max(sorted(lengths), key=lambda owner: lengths[owner])


def _bought_line(wanted: Wanted, market: _Market, purchase: Purchase, loads: Sequence[Load]) -> BoughtLine:
    code = purchase.offer.code.split(" ", 1)[0]
    _, bar = market.offers[code]
    length = purchase.offer.kind.length
    mass = Decimal(purchase.offer.mass_g * purchase.count) / 1000
    price, basis = bar.price_at(mass) or (None, None)
    unit_price = bar.unit_price(mass)
    if purchase.offer.cut and unit_price is not None:
        # A cut length costs its part of the bar and the cut; it is priced by the piece.
        share = Decimal(length.nm) / Decimal(bar.length.nm)
        unit_price = (unit_price * share + (bar.supplier.cut_charge or 0)).quantize(Decimal("0.0001"))
        price, basis = unit_price, "bar"
    return BoughtLine(
        bar, wanted.section, wanted.grade, length, "" if purchase.offer.cut else bar.item.length_text,
        purchase.count, purchase.offer.cut, mass, price, basis, unit_price, tuple(loads),
        _is_one_heat(wanted, loads),
    )  # fmt: skip


def _is_one_heat(wanted: Wanted, loads: Sequence[Load]) -> bool:
    grouped = {(piece.owner, piece.mark) for piece in wanted.pieces if piece.heat_group is not None}
    return any((owner, mark) in grouped for load in loads for owner, mark, _, _ in load)


def _asked_line(wanted: Wanted, market: _Market, need: Need, loads: Sequence[Load]) -> BoughtLine:
    bar = next(bar for bar in market.listed if bar.length == need.kind.length)
    return BoughtLine(
        bar, wanted.section, wanted.grade, bar.length, bar.item.length_text, need.count, False,
        bar.mass_kg * need.count, None, None, None, tuple(loads), _is_one_heat(wanted, loads),
    )  # fmt: skip


def _picks(wanted: Wanted, way: PlannedWay) -> list[RackPick]:
    """Bars of the way that are there already and still whole, each with the jobs that it holds."""
    lengths = {bar.piece: bar.length for bar in (*wanted.own, *wanted.free)}
    picks = []
    for bar in way.bars:
        if bar.rack_piece is not None:
            picks.append(RackPick(bar.rack_piece, wanted.section.key, lengths[bar.rack_piece], _load(bar)))
    return picks


def _shares(
    cost: Decimal,
    lines: Sequence[BoughtLine],
    apart: Mapping[str, Decimal],
    groups: Sequence[tuple[str, ...]],
) -> dict[str, Decimal]:
    """What each job bears, to the cent, adding up to the cost.

    Groups bear by what each would cost apart; the jobs of a group by the value of what is bought for them.
    """
    values = _values_by_job(lines)
    total_apart = sum(apart.values(), Decimal(0))
    weights: dict[str, Decimal] = {}
    for group in groups if total_apart else [tuple(values)]:
        whole = apart[", ".join(group)] / total_apart if total_apart else Decimal(1)
        value = sum((values.get(job, Decimal(0)) for job in group), Decimal(0))
        for job in group:
            weights[job] = whole * (values.get(job, Decimal(0)) / value if value else Decimal(1) / len(group))
    return {share.owner: share.bears for share in share_cost(weights, round_money(cost))}


def _values_by_job(lines: Sequence[BoughtLine]) -> dict[str, Decimal]:
    """Value of the bars of each line, by the length of each job's pieces in it."""
    values: dict[str, Decimal] = {}
    for line in lines:
        value = (line.unit_price or Decimal(0)) * line.count * line.listed.supplier.exchange_rate
        whole = sum(length.nm for _, length in line.jobs.values())
        for job, (_, length) in line.jobs.items():
            values[job] = values.get(job, Decimal(0)) + value * length.nm / whole
    return values
