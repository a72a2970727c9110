"""Plan the cutting of bars: `plan_cuts` is where to begin.

Translates pieces and bars into whole planning units, searches, and translates the
answer back into exact lengths and money. A bar holds its pieces when the sum of
lengths + (pieces - 1) kerfs fits in stock - trim - grip. Each piece takes the kerf of
its own mitre; the kerf that is spared at the end is the narrowest in the bar, so a bar
counts as one kind for each kerf, open to the pieces that need at least that much.
Where the sizes share no unit that is coarse enough, plans are sought with pieces rounded
up and bars down, and the bound with pieces rounded down and bars up: both hold.
What is left over, stock - trim - lengths - (pieces - 1) kerfs, is measured before the
cut that frees it; it is kept from the shop's least length on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from itertools import islice, product
from math import cos, floor, gcd, radians, tan
from time import monotonic
from typing import Any, Literal

from shopquote.calc.takeoff.answers import BarCut, CutPlan, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.certificate import certificate_of
from shopquote.calc.takeoff.certificate_check import faults_of_certificate
from shopquote.calc.takeoff.fill import greedy_plan
from shopquote.calc.takeoff.problem import CREDIT_STEP, Kind, Pattern, Problem, Solution, held
from shopquote.calc.takeoff.search import Outcome, Search
from shopquote.calc.takeoff.ties import with_fewer_bars
from shopquote.calc.units import NM_PER_INCH, NM_PER_MM, Length, Unit, show_length
from shopquote.errors import CannotMakeError, InputError

MOST_PIECES = 1_000_000
MOST_LENGTHS = 2_000
MOST_UNITS = 200_000
MOST_CELLS = 100_000_000
# Where leftovers are credited a finer unit pays, while the table stays small.
MOST_FINE_UNITS = 1_000_000
MOST_FINE_CELLS = 20_000_000
MOST_HEAT_CHOICES = 64
# A greedy plan of the sizes as they are costs little up to so many lengths.
MOST_LENGTHS_FILLED = 200
# Part of the time for plans where the bound needs a search of its own.
PLANS_PART = 0.6
# Time kept for writing down the answer: for each different length, and the most of all.
ANSWER_SECONDS = 1.5e-4
ANSWER_PART = 0.15
# Part of the time, and the most of it, kept for checking the certificate of a credited plan.
CHECK_PART = 0.05
CHECK_SECONDS = 0.3
# Time at most to look for a plan of the same cost with fewer bars.
TIES_SECONDS = 1.0
PLANNING_UNIT_NM = {"mm": NM_PER_MM // 10, "in": NM_PER_INCH // 64}
MONEY_PARTS = 1_000_000
# Kerf of a mitre rounds up, what nested mitres share down, to this; 1 nm is left for float noise.
MITRE_STEP_NM = 10_000

Progress = Callable[[Decimal, Decimal], None]
# The source that each one-heat group is cut from.
_Heats = dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class _Size:
    """What makes pieces alike to the planner: nm along the bar, its kerf, nesting block, heat group."""

    room: int
    kerf: int
    block: tuple[int, float] | None
    opening: int
    group: str | None

    @property
    def alone(self) -> int:
        """Nanometres that one piece takes of a bar by itself."""
        return self.room - self.kerf + self.opening


@dataclass(frozen=True, slots=True)
class _Bar:
    """One kind of bar and the stock entry or rack pieces behind it."""

    stock: StockBar | None
    rack: tuple[RackBar, ...]
    length: Length
    source: tuple[str, ...]


@dataclass(frozen=True)
class _Sheet:
    """A problem and what its numbers stand for; `exact` where no size was rounded."""

    problem: Problem
    step: int
    exact: bool
    sizes: tuple[_Size, ...]
    bars: tuple[_Bar, ...]
    priced: bool
    cost_unit: int
    heats: _Heats


_Found = tuple[_Sheet, Solution]
# Plans: pieces up and bars down; bounds: pieces down and bars up; fill: nothing is rounded.
Rounding = Literal["plan", "bound", "fill"]


@dataclass(frozen=True)
class _Job:
    """Pieces by size, longest first, and the bars for them."""

    order: tuple[_Size, ...]
    demands: dict[_Size, int]
    bars: tuple[_Bar, ...]
    saw: SawSettings
    unit: Unit
    priced: bool


def plan_cuts(
    pieces: Sequence[Piece],
    stocks: Sequence[StockBar],
    rack: Sequence[RackBar],
    saw: SawSettings,
    *,
    unit: Unit = "mm",
    seconds: float = 2.0,
    progress: Progress | None = None,
) -> CutPlan:
    """The cheapest way found to cut the pieces, with a bound that holds.

    Args:
        pieces: what to cut; counts of 0 are left out.
        stocks: lengths that can be bought; either all have a price or none has.
        rack: bars on the rack, each used at most once and at no cost.
        saw: kerf, trim, grip, and what is kept of leftovers. Leftovers of rack
            bars and of bars without a price are credited nothing.
        unit: which planning unit to round to where the lengths have no common one.
        seconds: time to search; the best plan so far is returned then.
        progress: called with (cost, bound) as they improve.

    Raises:
        InputError: nothing to cut, a length or count out of range, prices for
            some stock lengths only.
        CannotMakeError: a piece is longer than any bar, or the bars do not suffice.
    """
    start = monotonic()
    wanted = _checked(pieces, stocks, rack, saw)
    job = _job(wanted, stocks, rack, saw, unit)
    choices, all_heats = _heat_choices(job)
    sheets = [_sheet(job, heats, "plan") for heats in choices]
    exact = all(sheet.exact for sheet in sheets)
    end = start + seconds - min(ANSWER_SECONDS * len(job.order), ANSWER_PART * seconds)
    if _credits(job):
        end -= min(CHECK_PART * seconds, CHECK_SECONDS)
    plans_end = end if exact else start + PLANS_PART * (end - start)
    floor = _least_by_length(job)
    outcomes, best = _searched(sheets, plans_end, progress, floor, exact=exact)
    if not exact and (best is None or len(job.order) <= MOST_LENGTHS_FILLED):
        best = _finer([best, *(_filled(_sheet(job, heats, "fill")) for heats in choices)])
    if best is None:
        raise CannotMakeError(
            "The bars with a limit do not suffice for all the pieces.",
            hint="Allow more bars of a length, or add a stock length without a limit.",
        )
    sheet, solution = best
    if not exact:
        sheets = [_sheet(job, heats, "bound") for heats in choices]
        outcomes, _ = _searched(sheets, end, None, floor, exact=False, known=solution.cost)
        # A piece that rounds down to nothing is planned as one unit: no bound then.
        all_heats = all_heats and min(size.room for size in job.order) >= sheets[0].step
    certificate = None
    proven = all(o.bound > solution.cost - s.problem.step for o, s in zip(outcomes, sheets, strict=True))
    if proven and exact and not _credits(job):
        solution = with_fewer_bars(sheet.problem, solution, min(end, monotonic() + TIES_SECONDS))
    if all_heats and proven and (exact or not _credits(job)):
        certificate = _certified(sheets, outcomes, choices.index(sheet.heats), solution, sheet.cost_unit)
    bound = min(outcome.bound for outcome in outcomes) * sheet.cost_unit if all_heats else 0
    bars = _bars_cut(sheet, solution, wanted, saw)
    proven = certificate is not None
    plan = _answer(bars, max(bound, floor), proven, job.priced, monotonic() - start)
    return replace(plan, certificate=certificate)


def _searched(
    sheets: Sequence[_Sheet],
    end: float,
    progress: Progress | None,
    floor: int,
    *,
    exact: bool,
    known: int | None = None,
) -> tuple[list[Outcome], _Found | None]:
    """Search each problem for its share of the time; `known` is the cost of a plan found before."""
    best: _Found | None = None
    outcomes: list[Outcome] = []
    for number, sheet in enumerate(sheets):
        left = max(0.0, end - monotonic()) / (len(sheets) - number)
        costs = [cost for cost in (known, best[1].cost if best else None) if cost is not None]
        search = Search(
            sheet.problem,
            monotonic() + left,
            _shown(progress, sheet, floor, exact),
            known=min(costs, default=None),
        )
        outcomes.append(search.run())
        best = _finer([best, (sheet, outcomes[-1].solution)])
    return outcomes, best


def _finer(found: Sequence["_Found | tuple[_Sheet, Solution | None] | None"]) -> _Found | None:
    """The plan that ranks first."""
    plans = [(entry[0], entry[1]) for entry in found if entry is not None and entry[1] is not None]
    return min(plans, key=lambda entry: entry[1].rank, default=None)


def _filled(sheet: _Sheet) -> tuple[_Sheet, Solution | None]:
    """The greedy plan, for which no size needs rounding."""
    return sheet, greedy_plan(sheet.problem)


def _certified(
    sheets: Sequence[_Sheet], outcomes: Sequence[Outcome], chosen: int, solution: Solution, cost_unit: int
) -> dict[str, Any] | None:
    """The certificate of a plan, if it passes."""
    certificate = certificate_of([s.problem for s in sheets], outcomes, chosen, solution, cost_unit)
    return None if faults_of_certificate(certificate) else certificate


def _shown(
    progress: Progress | None, sheet: _Sheet, floor: int, exact: bool
) -> Callable[[int, int], None] | None:
    """Progress in money; a bound of rounded sizes is none, so that by length stands for it."""
    if progress is None:
        return None
    unit, priced = sheet.cost_unit, sheet.priced

    def show(cost: int, bound: int) -> None:
        low = max(floor, bound * unit if exact else 0)
        progress(_shown_cost(cost * unit, priced), _shown_cost(min(low, cost * unit), priced))

    return show


def _least_by_length(job: _Job) -> int:
    """What any plan costs at least: the pieces' length that is not on the rack, at the cheapest price for it.

    In millionths of money, or nanometres without prices. Kerfs are left out; a credited rest is
    taken off as if each bar were full, which costs least for the length that it holds.
    """
    rates: list[Fraction] = []
    need = sum((size.room - size.kerf) * count for size, count in job.demands.items())
    for bar in job.bars:
        room = _room(bar, job.saw)
        if bar.stock is None:
            need -= room * len(bar.rack)
        elif room > 0:
            cost = Fraction(bar.stock.price or 0) * MONEY_PARTS if job.priced else Fraction(bar.length.nm)
            if _credits(job):
                cost *= 1 - Fraction(job.saw.keep_percent) / 100 * (bar.length.nm - room) / bar.length.nm
            rates.append(cost / room)
    return int(max(0, need) * min(rates, default=Fraction(0)))


def _shown_cost(cost: int, priced: bool) -> Decimal:
    return Decimal(cost) / (MONEY_PARTS if priced else NM_PER_MM)


def _answer(bars: tuple[BarCut, ...], bound: int, proven: bool, priced: bool, seconds: float) -> CutPlan:
    if priced:
        cost = sum((((bar.price or Decimal(0)) - bar.credit) * bar.count for bar in bars), start=Decimal(0))
    else:
        cost = sum((bar.stock.mm * bar.count for bar in bars if bar.rack_piece is None), start=Decimal(0))
    low = cost if proven else max(Decimal(0), min(cost, _shown_cost(bound, priced)))
    return CutPlan(bars, cost, low, proven, seconds, priced)


# ---- what was asked -----------------------------------------------------------------------


def _checked(
    pieces: Sequence[Piece], stocks: Sequence[StockBar], rack: Sequence[RackBar], saw: SawSettings
) -> list[Piece]:
    for piece in pieces:
        if piece.length.nm <= 0:
            raise InputError(f"Piece {piece.mark!r} has length 0; every length must be above 0.")
        if piece.count < 0:
            raise InputError(f"Piece {piece.mark!r} has count {piece.count}; it must be 1 or more.")
    wanted = [piece for piece in pieces if piece.count]
    if not wanted:
        raise InputError("There is nothing to cut: the list has no pieces.")
    total = sum(piece.count for piece in wanted)
    if total > MOST_PIECES:
        raise InputError(f"{total} pieces are asked for; one plan takes at most {MOST_PIECES}.")
    if len({piece.length for piece in wanted}) > MOST_LENGTHS:
        raise InputError(f"More than {MOST_LENGTHS} different lengths in one plan; split the list.")
    if not stocks and not rack:
        raise CannotMakeError("There is no stock length and no rack bar to cut from.")
    for number, length in enumerate([*(bar.length for bar in stocks), *(bar.length for bar in rack)]):
        if length.nm <= 0:
            raise InputError(f"Bar {number + 1} has length 0; every bar must be longer than 0.")
    for stock in stocks:
        if stock.limit is not None and stock.limit < 0:
            raise InputError(f"The limit of {show_length(stock.length, 'mm')} bars is {stock.limit}.")
        if stock.price is not None and not Decimal(0) <= stock.price <= Decimal(10**7):
            raise InputError(f"The price of a bar is {stock.price}; expected 0 to 10 000 000.")
    if len({stock.price is None for stock in stocks}) > 1:
        raise InputError(
            "Some stock lengths have a price and some have none.", hint="Give a price for each, or for none."
        )
    if min(saw.kerf.nm, saw.trim.nm, saw.grip.nm) < 0:
        raise InputError("Kerf, trim and grip must be 0 or more.")
    if not 0 <= saw.keep_percent <= 100:
        raise InputError(f"Credit for leftovers is {saw.keep_percent} %; expected 0 to 100.")
    return wanted


def _size(piece: Piece, saw: SawSettings) -> _Size:
    """Room along the bar: the length and the kerf to its neighbour; nested mitres share some."""
    first, second = piece.mitres
    steep = max(abs(first), abs(second))
    kerf = saw.kerf.nm
    if not 0 <= steep < 80:
        raise InputError(f"Piece {piece.mark!r} has a mitre of {steep} degrees; expected below 80.")
    if not steep:
        return _Size(piece.length.nm + kerf, kerf, None, 0, piece.heat_group)
    kerf = _mitre_kerf(saw, steep)
    shared = int(piece.depth.nm * tan(radians(steep)) + 1) // MITRE_STEP_NM * MITRE_STEP_NM
    if not saw.nest_mitres or abs(first) != abs(second) or not shared or piece.length.nm <= 2 * shared:
        return _Size(piece.length.nm + kerf, kerf, None, 0, piece.heat_group)
    return _Size(piece.length.nm + kerf - shared, kerf, (piece.depth.nm, steep), shared, piece.heat_group)


def _mitre_kerf(saw: SawSettings, mitre: float) -> int:
    """Kerf along the bar, k / cos m, rounded up to 0.01 mm."""
    if not mitre:
        return saw.kerf.nm
    return -int(-(saw.kerf.nm / cos(radians(mitre)) - 1) // MITRE_STEP_NM) * MITRE_STEP_NM


def _bars(stocks: Sequence[StockBar], rack: Sequence[RackBar], priced: bool, by_heat: bool) -> list[_Bar]:
    """Kinds of bars: rack pieces of equal length together, stock that another beats left out."""
    found = [
        _Bar(stock, (), stock.length, ("bought", stock.supplier, str(stock.length.nm)))
        for stock in stocks
        if stock.limit != 0 and (by_heat or not _beaten(stock, stocks, priced))
    ]
    together: dict[tuple[int, str], list[RackBar]] = {}
    for bar in rack:
        heat = (bar.heat or f"\0{bar.piece}") if by_heat else ""
        together.setdefault((bar.length.nm, heat), []).append(bar)
    found.extend(
        _Bar(None, tuple(bars), Length(length), ("rack", heat)) for (length, heat), bars in together.items()
    )
    return found


def _beaten(stock: StockBar, stocks: Sequence[StockBar], priced: bool) -> bool:
    """Whether another length, without a limit, is as long and as cheap."""
    if not priced:
        return any(
            o is not stock and o.length == stock.length and o.limit is None and _before(o, stock, stocks)
            for o in stocks
        )
    return any(
        other is not stock
        and other.limit is None
        and other.length >= stock.length
        and (other.price or 0) <= (stock.price or 0)
        and (
            (other.length, -(other.price or 0)) != (stock.length, -(stock.price or 0))
            or _before(other, stock, stocks)
        )
        for other in stocks
    )


def _before(other: StockBar, stock: StockBar, stocks: Sequence[StockBar]) -> bool:
    """Of two equal entries, the one without a limit and then the first stays."""
    if stock.limit is not None:
        return True
    return next(i for i, s in enumerate(stocks) if s is other) < next(
        i for i, s in enumerate(stocks) if s is stock
    )


def _job(
    pieces: Sequence[Piece], stocks: Sequence[StockBar], rack: Sequence[RackBar], saw: SawSettings, unit: Unit
) -> _Job:
    demands: dict[_Size, int] = {}
    for piece in pieces:
        size = _size(piece, saw)
        demands[size] = demands.get(size, 0) + piece.count
    order = sorted(demands, key=lambda size: (-size.room, size.kerf, str(size.block), size.group or ""))
    priced = any(stock.price is not None for stock in stocks)
    bars = _bars(stocks, rack, priced, any(size.group for size in order))
    _longest_fits(pieces, bars, saw, unit)
    return _Job(tuple(order), demands, tuple(bars), saw, unit, priced)


def _heat_choices(job: _Job) -> tuple[list[_Heats], bool]:
    """Ways to give the one-heat groups their heats, and whether that is all the ways."""
    groups = sorted({size.group for size in job.order if size.group})
    sources = list(dict.fromkeys(bar.source for bar in job.bars))
    choices = (dict(zip(groups, choice, strict=True)) for choice in product(sources, repeat=len(groups)))
    holding = (heats for heats in choices if _heats_hold(job.order, job.demands, job.bars, job.saw, heats))
    tried = list(islice(holding, MOST_HEAT_CHOICES))
    if not tried:
        raise CannotMakeError("No single heat on the rack or from one order line holds a one-heat group.")
    return tried, not groups or len(tried) < MOST_HEAT_CHOICES


def _heats_hold(
    order: Sequence[_Size],
    demands: dict[_Size, int],
    bars: Sequence[_Bar],
    saw: SawSettings,
    heats: dict[str, tuple[str, ...]],
) -> bool:
    """Whether each group's longest piece and its total can lie in its heat's bars."""
    for group, source in heats.items():
        mine = [bar for bar in bars if bar.source == source]
        wanted = [size for size in order if size.group == group]
        if max(size.alone for size in wanted) > max(_room(bar, saw) for bar in mine):
            return False
        widest = max(size.kerf for size in wanted)
        limits = [_limit(bar) for bar in mine]
        if None not in limits:
            total = sum((n or 0) * (_room(bar, saw) + widest) for n, bar in zip(limits, mine, strict=True))
            if sum(size.room * demands[size] for size in wanted) > total:
                return False
    return True


def _limit(bar: _Bar) -> int | None:
    return len(bar.rack) if bar.stock is None else bar.stock.limit


def _room(bar: _Bar, saw: SawSettings) -> int:
    """Nanometres of a bar for pieces and the kerfs between them."""
    return bar.length.nm - saw.trim.nm - saw.grip.nm


def _longest_fits(pieces: Sequence[Piece], bars: Sequence[_Bar], saw: SawSettings, unit: Unit) -> None:
    longest = max(bar.length for bar in bars) if bars else Length(0)
    usable = Length(longest.nm - saw.trim.nm - saw.grip.nm)
    for piece in sorted(pieces, key=lambda p: -p.length.nm):
        if piece.length > usable:
            long, bar = (show_length(length, unit, exact=True) for length in (piece.length, longest))
            off = "" if usable == longest else f", {show_length(usable, unit, exact=True)} of it usable"
            raise CannotMakeError(
                f"Piece {piece.mark!r} is {long} long; the longest bar is {bar}{off}.",
                hint="Add a longer stock length, or join the piece from two.",
            )
        break


def _sheet(job: _Job, heats: _Heats, rounding: Rounding) -> _Sheet:
    """The problem in whole units."""
    order, saw = job.order, job.saw
    finest, unit = _units(job)
    exact = unit == finest
    step = finest if rounding == "fill" else unit

    def needed(nm: int) -> int:
        return nm // step if rounding == "bound" else -(-nm // step)

    def given(nm: int) -> int:
        return -(-nm // step) if rounding == "bound" else nm // step

    blocks = sorted({size.block for size in order if size.block is not None})
    openings = [0] * len(blocks)
    for size in order:
        if size.block is not None:
            openings[blocks.index(size.block)] = needed(size.opening)
    kinds: list[Kind] = []
    lengths: list[_Bar] = []
    stock = 0
    for bar in job.bars:
        made = []
        for kerf, allowed in _by_kerf(order, bar, heats):
            if any(may and size.alone <= _room(bar, saw) for may, size in zip(allowed, order, strict=True)):
                room = _room(bar, saw) + kerf
                mask = None if all(allowed) else allowed
                made += _kinds(job, bar, room, given(room), step, stock, mask)
        stock += bool(made)
        kinds.extend(made)
        lengths.extend([bar] * len(made))
    # Without credits every cost is a multiple of one: reckon in it.
    cost_unit = 1 if _credits(job) else max(1, gcd(*(kind.cost for kind in kinds)))
    problem = Problem(
        tuple(max(1, needed(size.room)) for size in order),
        tuple(job.demands[size] for size in order),
        tuple(replace(kind, cost=kind.cost // cost_unit) for kind in kinds),
        tuple(-1 if size.block is None else blocks.index(size.block) for size in order),
        tuple(openings),
    )
    return _Sheet(problem, step, exact, order, tuple(lengths), job.priced, cost_unit, heats)


def _credits(job: _Job) -> bool:
    return job.priced and job.saw.keep_min is not None and job.saw.keep_percent > 0


def _units(job: _Job) -> tuple[int, int]:
    """The common unit of all sizes, and the one to plan in: the same where the tables allow it."""
    order, saw = job.order, job.saw
    finest = gcd(*(size.room for size in order), *(size.opening for size in order))
    kerfs = {size.kerf for size in order}
    widest = max(_room(bar, saw) for bar in job.bars) + max(kerfs)
    # The planner's table has a row for each doubling of each piece's count, and a column for each unit.
    rows = sum(max(1, min(job.demands[size], widest // size.room)).bit_length() for size in order)
    rows *= len(kerfs)
    most = min(MOST_UNITS, MOST_CELLS // rows)
    if _credits(job):
        most = max(most, min(MOST_FINE_UNITS, MOST_FINE_CELLS // rows))
    if widest // finest <= most:
        return finest, finest
    step = PLANNING_UNIT_NM[job.unit]
    while widest // step > most:
        step *= 2
    return finest, step


def _by_kerf(order: Sequence[_Size], bar: _Bar, heats: _Heats) -> list[tuple[int, tuple[bool, ...]]]:
    """For each kerf: which pieces may lie in a bar in which it is the narrowest."""
    mine = [size.group is None or heats[size.group] == bar.source for size in order]
    return [
        (kerf, tuple(may and size.kerf >= kerf for may, size in zip(mine, order, strict=True)))
        for kerf in sorted({size.kerf for size in order})
    ]


def _kinds(
    job: _Job,
    bar: _Bar,
    room: int,
    capacity: int,
    step: int,
    stock: int,
    allowed: tuple[bool, ...] | None,
) -> list[Kind]:
    """A length as it is cut up, and once more for leaving a credited rest."""
    saw = job.saw
    total = sum(job.demands.values())
    limit = _limit(bar)
    limit = total if limit is None else min(limit, total)
    cost = 0
    if bar.stock is not None:
        price = (bar.stock.price or Decimal(0)) * MONEY_PARTS
        cost = int(price.to_integral_value(ROUND_HALF_UP)) if job.priced else bar.length.nm
    plain = Kind(capacity, cost, limit, stock, allowed=allowed)
    if not _credits(job) or saw.keep_min is None or not cost:
        return [plain]
    # leftover in nm = slack * step + spare; credit = cost * percent / 100 * leftover / length, in whole cents
    spare = saw.grip.nm + room - capacity * step
    keep = max(0, -((spare - saw.keep_min.nm) // step))
    if keep >= capacity:
        return [plain]
    spare += keep * step
    rate = Fraction(cost) * Fraction(saw.keep_percent) / 100 / bar.length.nm
    slope, base = rate * step, rate * spare
    over = slope.denominator * base.denominator // gcd(slope.denominator, base.denominator)
    kept = Kind(
        capacity - keep, cost, limit, stock, int(slope * over), int(base * over), over * CREDIT_STEP, allowed
    )
    return [kept] if keep == 0 else [plain, kept]


# ---- what was answered --------------------------------------------------------------------


def _bars_cut(
    sheet: _Sheet, solution: Solution, pieces: Sequence[Piece], saw: SawSettings
) -> tuple[BarCut, ...]:
    """Bars with marks: pieces alike are handed out in the order of the list."""
    waiting: dict[_Size, list[list[object]]] = {}
    for piece in pieces:
        waiting.setdefault(_size(piece, saw), []).append([piece, piece.count])
    racks = {(*bar.source, bar.length.nm): list(bar.rack) for bar in sheet.bars}
    # Bought bars first, by kind; of one kind those with most of the longest piece first.
    ordered = sorted(solution.bars, key=lambda bar: bar[1], reverse=True)
    ordered.sort(key=lambda bar: (sheet.bars[bar[0]].stock is None, bar[0]))
    found: list[BarCut] = []
    for kind, pattern, count in ordered:
        while count:
            marks, times = _hand_out(sheet, pattern, count, waiting)
            bar = sheet.bars[kind]
            if bar.stock is None:
                found.extend(
                    _bar_cut(bar, marks, 1, saw, racks[(*bar.source, bar.length.nm)].pop(0))
                    for _ in range(times)
                )
            else:
                found.append(_bar_cut(bar, marks, times, saw, None))
            count -= times
    return tuple(found)


def _hand_out(
    sheet: _Sheet, pattern: Pattern, count: int, waiting: dict[_Size, list[list[object]]]
) -> tuple[list[tuple[Piece, int]], int]:
    """Pieces for one bar, and how many bars in a row get the very same."""
    taken: list[tuple[_Size, Piece, int]] = []
    times = count
    for i, wanted in held(pattern):
        for piece, left in waiting[sheet.sizes[i]]:
            assert isinstance(piece, Piece) and isinstance(left, int)
            part = min(wanted, left)
            taken.append((sheet.sizes[i], piece, part))
            times = min(times, left // part)
            wanted -= part
            if not wanted:
                break
    # Equal bars only while every mark lasts.
    for size, piece, part in taken:
        for entry in waiting[size]:
            if entry[0] is piece:
                assert isinstance(entry[1], int)
                entry[1] -= part * times
        waiting[size] = [entry for entry in waiting[size] if entry[1]]
    return [(piece, part) for _, piece, part in taken], times


def _bar_cut(
    bar: _Bar, marks: list[tuple[Piece, int]], count: int, saw: SawSettings, rack: RackBar | None
) -> BarCut:
    net = sum(piece.length.nm * n for piece, n in marks)
    rooms = [(_size(piece, saw), n) for piece, n in marks]
    number = sum(n for _, n in marks)
    steep = sorted((max(abs(m) for m in piece.mitres) for piece, n in marks for _ in range(n)), reverse=True)
    kerf = sum(_mitre_kerf(saw, mitre) for mitre in steep[: number - 1])
    overlap = 0
    for block in {size.block for size, _ in rooms if size.block is not None}:
        mates = [(size, n) for size, n in rooms if size.block == block]
        overlap += mates[0][0].opening * (sum(n for _, n in mates) - 1)
    offcut = bar.length.nm - saw.trim.nm - net - kerf + overlap
    kept = saw.keep_min is not None and offcut >= saw.keep_min.nm and offcut > 0
    price = bar.stock.price if bar.stock else None
    credit = Decimal(0)
    if kept and price:
        worth = Fraction(price) * Fraction(saw.keep_percent) / 100 * offcut / bar.length.nm
        credit = Decimal(floor(worth * MONEY_PARTS / CREDIT_STEP) * CREDIT_STEP) / MONEY_PARTS
    return BarCut(
        bar.length,
        count,
        tuple((piece.mark, piece.length, n, piece.owner) for piece, n in marks),
        Length(kerf),
        saw.trim,
        Length(offcut),
        kept,
        rack.piece if rack else None,
        bar.stock.supplier if bar.stock else "",
        price,
        credit,
        Length(overlap),
    )
