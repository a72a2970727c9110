"""A cut list and its bars as a problem in whole planning units: begin at `job_of`, then `sheet_of`.

A bar holds its pieces when the sum of lengths + (pieces - 1) kerfs fits in stock - trim -
grip - tolerance. Each piece takes the kerf of its own mitre; the kerf that is spared at the end
is the narrowest in the bar, so a bar counts as one kind for each kerf, open to the pieces that
need at least that much. A leftover is freed by one more cut: it is stock - trim - pieces -
one kerf each, kept from the shop's least length on.
Where the sizes share no unit that is coarse enough, pieces round down for a bound and up for
a plan. Bars round down for both: whole sizes that fit in a bar fit in its whole units.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import cos, gcd, radians, tan
from typing import Literal

import numpy as np

from shopquote.calc.takeoff.answers import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.problem import CREDIT_STEP, Ints, Kind, Problem
from shopquote.calc.units import NM_PER_INCH, NM_PER_MM, Length, Unit, show_length
from shopquote.errors import CannotMakeError, InputError

# Steps of a bar at most: the knapsack's table has a column for each, a row for each doubling of a count.
MOST_UNITS = 200_000
MOST_CELLS = 100_000_000
# Where leftovers are credited a finer unit pays, while the table stays small.
MOST_FINE_UNITS = 1_000_000
MOST_FINE_CELLS = 20_000_000
PLANNING_UNIT_NM = {"mm": NM_PER_MM // 10, "in": NM_PER_INCH // 64}
MONEY_PARTS = 1_000_000
# A mitre steeper than this is not sawn on a saw for bars; its kerf along the bar would grow without end.
STEEPEST = 80

# The source that each one-heat group is cut from.
Heats = dict[str, tuple[str, ...]]
# Number of a bar, narrowest kerf in nm, 1 where a rest is kept.
Way = tuple[int, int, int]
# Pieces up for a plan, down for a bound; fill: in the finest unit, where nothing is rounded.
Rounding = Literal["plan", "bound", "fill"]


@dataclass(frozen=True, slots=True)
class Size:
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
class Bar:
    """One length of bar and the stock entry or rack pieces behind it; `value` of one rack piece."""

    stock: StockBar | None
    rack: tuple[RackBar, ...]
    length: Length
    source: tuple[str, ...]
    value: int = 0

    @property
    def limit(self) -> int | None:
        """How many there are; None: as many as wanted."""
        return len(self.rack) if self.stock is None else self.stock.limit

    def whole(self, saw: SawSettings) -> int:
        """Nanometres for pieces, kerfs and leftover."""
        return self.length.nm - saw.trim.nm

    def room(self, saw: SawSettings) -> int:
        """Nanometres for pieces and the kerfs between them."""
        return self.whole(saw) - saw.grip.nm - (self.stock.tolerance.nm if self.stock else 0)

    def cost(self, priced: bool) -> int:
        """Millionths of money, or nanometres without prices; a rack piece costs nothing."""
        if self.stock is None:
            return 0
        price = (self.stock.price or Decimal(0)) * MONEY_PARTS
        return int(price.to_integral_value(ROUND_HALF_UP)) if priced else self.length.nm


@dataclass(frozen=True)
class Job:
    """Pieces by size, longest first, and the bars for them."""

    order: tuple[Size, ...]
    demands: dict[Size, int]
    bars: tuple[Bar, ...]
    saw: SawSettings
    unit: Unit
    priced: bool

    @property
    def credits(self) -> bool:
        """Whether leftovers earn a credit."""
        return self.priced and self.saw.keep_min is not None and self.saw.keep_percent > 0


@dataclass(frozen=True)
class Sheet:
    """A problem and what its numbers stand for.

    `exact` where no size was rounded, `sound` where its bound holds: no size was rounded to nothing.
    `ways` says of each kind of bar which of the job's bars it is, the narrowest kerf in it, and whether a
    rest is kept. Bars and ways that others make needless are left out.
    """

    problem: Problem
    step: int
    exact: bool
    sound: bool
    sizes: tuple[Size, ...]
    bars: tuple[Bar, ...]
    cost_unit: int
    heats: Heats
    ways: tuple[Way, ...]


def job_of(
    pieces: Sequence[Piece], stocks: Sequence[StockBar], rack: Sequence[RackBar], saw: SawSettings, unit: Unit
) -> Job:
    """Pieces gathered by size, bars by length.

    Raises:
        InputError: a mitre is too steep.
        CannotMakeError: a piece is longer than any bar.
    """
    demands: dict[Size, int] = {}
    for piece in pieces:
        size = size_of(piece, saw, unit)
        demands[size] = demands.get(size, 0) + piece.count
    order = sorted(demands, key=lambda size: (-size.room, size.kerf, str(size.block), size.group or ""))
    priced = any(stock.price is not None for stock in stocks)
    bars = _bars(stocks, rack, any(size.group for size in order), saw.rack_worth_percent)
    _longest_fits(pieces, bars, saw, unit)
    return Job(tuple(order), demands, tuple(bars), saw, unit, priced)


def size_of(piece: Piece, saw: SawSettings, unit: Unit) -> Size:
    """Room along the bar: the length and the kerf to its neighbour; nested mitres share some."""
    first, second = piece.mitres
    steep = max(abs(first), abs(second))
    kerf = mitre_kerf(saw, steep, unit)
    if steep >= STEEPEST:
        raise InputError(f"Piece {piece.mark!r} has a mitre of {steep} degrees; expected below {STEEPEST}.")
    step = PLANNING_UNIT_NM[unit]
    shared = int(piece.depth.nm * tan(radians(steep)) + 1) // step * step
    if not saw.nest_mitres or abs(first) != abs(second) or not shared or piece.length.nm <= 2 * shared:
        return Size(piece.length.nm + kerf, kerf, None, 0, piece.heat_group)
    return Size(piece.length.nm + kerf - shared, kerf, (piece.depth.nm, steep), shared, piece.heat_group)


def mitre_kerf(saw: SawSettings, mitre: float, unit: Unit) -> int:
    """Kerf along the bar, k / cos m, rounded up to the planning unit so that sizes share it.

    1 nm is left for float noise.
    """
    if not mitre or mitre >= STEEPEST:
        return saw.kerf.nm
    step = PLANNING_UNIT_NM[unit]
    return -int(-(saw.kerf.nm / cos(radians(mitre)) - 1) // step) * step


def _bars(
    stocks: Sequence[StockBar], rack: Sequence[RackBar], by_heat: bool, worth_percent: Decimal
) -> list[Bar]:
    """Bars that can be had: rack pieces of equal length and value together."""
    found = [
        Bar(stock, (), stock.length, ("bought", stock.supplier, str(stock.length.nm)))
        for stock in stocks
        if stock.limit != 0
    ]
    values = rack_values(stocks, rack, worth_percent)
    together: dict[tuple[int, str, int], list[RackBar]] = {}
    for bar, value in zip(rack, values, strict=True):
        heat = (bar.heat or f"\0{bar.piece}") if by_heat else ""
        together.setdefault((bar.length.nm, heat, value), []).append(bar)
    found.extend(
        Bar(None, tuple(bars), Length(length), ("rack", heat), value)
        for (length, heat, value), bars in together.items()
    )
    return found


def rack_values(
    stocks: Sequence[StockBar], rack: Sequence[RackBar], percent: Decimal = Decimal(100)
) -> list[int]:
    """What each rack piece counts for among plans of equal cost: in cents, or 0.1 mm without any price.

    Its value on file; where there is none, its length at so many per cent of the rate of the cheapest new
    bar, else at the rate of the cheapest rack piece with a value. What the jobs have already counts as
    nothing.
    """
    new = [Fraction(stock.price) / stock.length.nm for stock in stocks if stock.price is not None]
    known = [Fraction(bar.value) / bar.length.nm for bar in rack if bar.value is not None]
    rate = min(new) * Fraction(percent) / 100 if new else min(known, default=None)
    if rate is None:
        return [0 if bar.own else bar.length.nm // (NM_PER_MM // 10) for bar in rack]
    worths = [rate * bar.length.nm if bar.value is None else Fraction(bar.value) for bar in rack]
    return [0 if bar.own else round(worth * 100) for bar, worth in zip(rack, worths, strict=True)]


def _longest_fits(pieces: Sequence[Piece], bars: Sequence[Bar], saw: SawSettings, unit: Unit) -> None:
    if not bars:
        raise CannotMakeError("There is no bar to cut from: every stock length has a limit of 0.")

    def show(nm: int) -> str:
        return show_length(Length(nm), unit, exact=True)

    longest = max(bars, key=lambda bar: bar.room(saw))
    usable, whole = longest.room(saw), longest.length.nm
    if usable <= 0:
        lost = " and ".join(
            f"{word} {show(length.nm)}"
            for word, length in (
                ("trim", saw.trim),
                ("grip", saw.grip),
                ("tolerance", longest.stock.tolerance if longest.stock else Length(0)),
            )
            if length
        )
        raise CannotMakeError(
            f"With {lost} nothing is left of the longest bar, which is {show(whole)}.",
            hint="Look whether trim and grip are in the right unit.",
        )
    piece = max(pieces, key=lambda p: p.length.nm)
    if piece.length.nm > usable:
        off = "" if usable == whole else f", {show(usable)} of it usable"
        raise CannotMakeError(
            f"Piece {piece.mark!r} is {show(piece.length.nm)} long; the longest bar is {show(whole)}{off}.",
            hint="Add a longer stock length, or join the piece from two: splice = true in a job file.",
        )


# ---- the problem --------------------------------------------------------------------------


def sheet_of(job: Job, heats: Heats, rounding: Rounding) -> Sheet:
    """The problem in whole units."""
    order = job.order
    finest, unit = units_of(job)
    step = finest if rounding == "fill" else unit

    def needed(nm: int) -> int:
        return nm // step if rounding == "bound" else -(-nm // step)

    blocks, openings = _blocks(order)
    kinds: list[Kind] = []
    lengths: list[Bar] = []
    ways: list[Way] = []
    rows = [_kinds(job, bar, heats, step) for bar in job.bars]
    stock = 0
    for number, (bar, row) in enumerate(zip(job.bars, rows, strict=True)):
        if not heats and _beaten(number, job.bars, rows):
            continue
        stock += bool(row) and bool(kinds)
        kinds.extend(replace(kind, stock=stock) for kind, _ in row)
        ways.extend((number, kerf, int(kind.credit > 0)) for kind, kerf in row)
        lengths.extend([bar] * len(row))
    # Of all bars, also of those left out: a proof compares what they cost.
    cost_unit = _cost_unit([kind for row in rows for kind, _ in row])
    problem = Problem(
        tuple(max(1, needed(size.room)) for size in order),
        tuple(job.demands[size] for size in order),
        tuple(
            replace(kind, cost=kind.cost // cost_unit, credit_step=CREDIT_STEP // cost_unit) for kind in kinds
        ),
        tuple(-1 if size.block is None else blocks.index(size.block) for size in order),
        tuple(needed(opening) for opening in openings),
    )
    sound = min(needed(size.room) for size in order) > 0
    return Sheet(problem, step, step == finest, sound, order, tuple(lengths), cost_unit, heats, tuple(ways))


def _blocks(order: Sequence[Size]) -> tuple[list[tuple[int, float]], list[int]]:
    """Blocks of nesting pieces, and nanometres that each takes once in a bar."""
    opening_of = {size.block: size.opening for size in order if size.block is not None}
    blocks = sorted(opening_of)
    return blocks, [opening_of[block] for block in blocks]


def _cost_unit(kinds: Sequence[Kind]) -> int:
    """The common divisor of all costs and, with credits, of a cent."""
    return max(1, gcd(*(kind.cost for kind in kinds), *(CREDIT_STEP for kind in kinds if kind.credit)))


def units_of(job: Job) -> tuple[int, int]:
    """The common unit of all sizes, and the one to plan in: the same where the tables allow it."""
    order, saw = job.order, job.saw
    finest = gcd(*(size.room for size in order), *(size.opening for size in order))
    kerfs = {size.kerf for size in order}
    widest = max(bar.room(saw) for bar in job.bars) + max(kerfs)
    # The planner's table has a row for each doubling of each piece's count, and a column for each unit.
    rows = sum(max(1, min(job.demands[size], widest // size.room)).bit_length() for size in order)
    rows *= len(kerfs)
    most = min(MOST_UNITS, MOST_CELLS // rows)
    if job.credits:
        most = max(most, min(MOST_FINE_UNITS, MOST_FINE_CELLS // rows))
    if widest // finest <= most:
        return finest, finest
    step = PLANNING_UNIT_NM[job.unit]
    while widest // step > most:
        step *= 2
    return finest, step


def _kinds(job: Job, bar: Bar, heats: Heats, step: int) -> list[tuple[Kind, int]]:
    """The ways to cut a length, with the narrowest kerf in each: cut up, or leaving a credited rest."""
    saw, total = job.saw, sum(job.demands.values())
    limit = total if bar.limit is None else min(bar.limit, total)
    cost, room = bar.cost(job.priced), bar.room(saw)
    found: list[tuple[Kind, int]] = []
    rests: set[int] = set()
    for kerf in sorted({size.kerf for size in job.order}):
        allowed = tuple(_may_be_cut(size, bar, heats, kerf) for size in job.order)
        if not any(may and size.alone <= room for may, size in zip(allowed, job.order, strict=True)):
            continue
        mask = None if all(allowed) else allowed
        plain = Kind((room + kerf) // step, cost, limit, allowed=mask, value=bar.value)
        kept = _kept(job, bar, plain, room + kerf, step) if job.credits and cost else None
        # A leftover does not depend on the kerf that is spared: the widest mask has it already.
        fresh = kept is not None and kept.capacity not in rests
        if kept is None or kept.capacity < plain.capacity:
            found.append((plain, kerf))
        if kept is not None and fresh:
            rests.add(kept.capacity)
            found.append((kept, kerf))
    return found


def _may_be_cut(size: Size, bar: Bar, heats: Heats, kerf: int) -> bool:
    """Whether a size comes from this bar's heat, and takes no less than this kerf."""
    return size.kerf >= kerf and (size.group is None or heats[size.group] == bar.source)


def _kept(job: Job, bar: Bar, plain: Kind, most: int, step: int) -> Kind | None:
    """A length cut so that the rest, freed by its cut, is kept and credited; None where no piece fits then.

    Leftover in nm = slack * step + spare; credit = cost * percent / 100 * leftover / length, in whole cents.
    """
    assert job.saw.keep_min is not None
    whole = bar.whole(job.saw)
    capacity = min(whole - job.saw.keep_min.nm, most) // step
    if capacity <= 0:
        return None
    spare = whole - capacity * step
    rate = Fraction(plain.cost) * Fraction(job.saw.keep_percent) / 100 / bar.length.nm
    slope, base = rate * step, rate * spare
    over = slope.denominator * base.denominator // gcd(slope.denominator, base.denominator)
    return replace(
        plain,
        capacity=capacity,
        credit=int(slope * over),
        credit_base=int(base * over),
        credit_over=over * CREDIT_STEP,
    )


def _beaten(number: int, bars: Sequence[Bar], rows: Sequence[Sequence[tuple[Kind, int]]]) -> bool:
    """Whether a bar without a limit holds all that this one does and never costs more, however it is cut."""
    if bars[number].stock is None:
        return False
    for other, bar in enumerate(bars):
        if other == number or bar.stock is None or bar.limit is not None:
            continue
        if not _all_beaten(rows[other], rows[number]):
            continue
        # Of two that beat one another the first stays.
        if bars[number].limit is not None or other < number or not _all_beaten(rows[number], rows[other]):
            return True
    return False


def _all_beaten(ones: Sequence[tuple[Kind, int]], others: Sequence[tuple[Kind, int]]) -> bool:
    return all(any(_beats(one, other) for one, _ in ones) for other, _ in others)


def _beats(one: Kind, other: Kind) -> bool:
    """Whether the one holds all that the other does and never costs more."""
    if one.capacity < other.capacity or one.allowed != other.allowed or one.cost > other.cost:
        return False
    if not other.credit:
        return True
    return bool((net_costs(one)[: other.capacity + 1] <= net_costs(other)).all())


def net_costs(kind: Kind) -> Ints:
    """What a bar costs less its credit, by the units used of it."""
    if not kind.credit:
        return np.full(kind.capacity + 1, kind.cost, np.int64)
    if kind.capacity * kind.credit + kind.credit_base < 1 << 62:
        slack: Ints = np.arange(kind.capacity, -1, -1, dtype=np.int64)
        steps = (slack * kind.credit + kind.credit_base) // kind.credit_over
        return np.asarray(kind.cost - np.minimum(kind.cost, steps * kind.credit_step), np.int64)
    return np.array([kind.cost - kind.credit_for(kind.capacity - u) for u in range(kind.capacity + 1)])
