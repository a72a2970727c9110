"""A cut list in whole planning units, as the planner's problem: begin at `sheet_of`.

The last piece of a bar needs no kerf. The narrowest kerf in the bar is credited, so each stock length
appears once per kerf, open to the pieces that need at least that much. An offcut is freed by one more
cut: it is stock - trim - pieces - one kerf each, kept from the shop's least length on.
Where the sizes share no unit that is coarse enough, pieces round down for a bound and up for
a plan. Bars round down for both: whole sizes that fit in a bar fit in its whole units.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice, product
from math import gcd
from typing import Literal

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_job import PLANNING_UNIT_NM, Bar, CutJob, CutSize
from shopquote.calc.takeoff.problem import CREDIT_STEP, CutProblem, StockKind
from shopquote.errors import CannotMakeError

# Steps of a bar at most: the knapsack's table has a column for each, a row for each doubling of a count. The
# cells are bounded for memory. Half and twice these, and those for credits, left 14 jobs the same.
MOST_UNITS = 200_000
MOST_CELLS = 100_000_000
# Where offcuts are credited a finer unit pays, while the table stays small.
MOST_FINE_UNITS = 1_000_000
MOST_FINE_CELLS = 20_000_000

# The source that each one-heat group is cut from.
Heats = dict[str, tuple[str, ...]]
# Number of a bar, narrowest kerf in nm, 1 where a rest is kept.
Way = tuple[int, int, int]
# Pieces up for a plan, down for a bound; fill: in the finest unit, where nothing is rounded.
Rounding = Literal["plan", "bound", "fill"]


@dataclass(frozen=True)
class Sheet:
    """A problem and what its numbers stand for.

    `exact` where no size was rounded, `sound` where its bound holds: no size was rounded to nothing.
    `ways` says of each kind of bar which of the job's bars it is, the narrowest kerf in it, and whether a
    rest is kept. Bars and ways that others make needless are left out.
    """

    problem: CutProblem
    step: int
    exact: bool
    sound: bool
    sizes: tuple[CutSize, ...]
    bars: tuple[Bar, ...]
    cost_unit: int
    heats: Heats
    ways: tuple[Way, ...]


def sheet_of(job: CutJob, heats: Heats, rounding: Rounding) -> Sheet:
    """The problem in whole units."""
    order = job.order
    finest, unit = units_of(job)
    step = finest if rounding == "fill" else unit

    def needed(nm: int) -> int:
        return nm // step if rounding == "bound" else -(-nm // step)

    blocks, openings = _blocks(order)
    masks = _Masks(job, heats, step)
    rows = [_kinds(job, bar, masks, step) for bar in job.bars]
    # To compare credits in the finest unit would take gigabytes and minutes.
    every = bool(heats) or rounding == "fill"
    kinds, ways = _needed_kinds(job.bars, rows, every)
    # Of all bars, also of those left out: a proof compares what they cost.
    cost_unit = _cost_unit([kind for row in rows for kind, _ in row])
    problem = CutProblem(
        tuple(max(1, needed(size.room)) for size in order),
        tuple(job.demands[size] for size in order),
        tuple(
            replace(kind, cost=kind.cost // cost_unit, credit_step=CREDIT_STEP // cost_unit) for kind in kinds
        ),
        tuple(-1 if size.block is None else blocks.index(size.block) for size in order),
        tuple(needed(opening) for opening in openings),
    )
    sound = min(needed(size.room) for size in order) > 0
    bars = tuple(job.bars[number] for number, _, _ in ways)
    return Sheet(problem, step, step == finest, sound, order, bars, cost_unit, heats, tuple(ways))


def _needed_kinds(
    bars: Sequence[Bar], rows: Sequence[Sequence[tuple[StockKind, int]]], every: bool
) -> tuple[list[StockKind], list[Way]]:
    """Kinds of `every` bar, or of all that no other dominates; those of one bar share a stock number.

    With heats to keep no bar replaces another: a group may need the steel of just that one.
    """
    kinds: list[StockKind] = []
    ways: list[Way] = []
    stock = 0
    for number, row in enumerate(rows):
        if row and (every or not _beaten(number, bars, rows)):
            kinds.extend(replace(kind, stock=stock) for kind, _ in row)
            ways.extend((number, kerf, int(kind.credit > 0)) for kind, kerf in row)
            stock += 1
    return kinds, ways


def _blocks(order: Sequence[CutSize]) -> tuple[list[tuple[int, float]], list[int]]:
    """Blocks of nesting pieces, and nanometres that each takes once in a bar."""
    opening_of = {size.block: size.opening for size in order if size.block is not None}
    blocks = sorted(opening_of)
    return blocks, [opening_of[block] for block in blocks]


def _cost_unit(kinds: Sequence[StockKind]) -> int:
    """The common divisor of all costs and, with credits, of a cent."""
    return max(1, gcd(*(kind.cost for kind in kinds), *(CREDIT_STEP for kind in kinds if kind.credit)))


def units_of(job: CutJob) -> tuple[int, int]:
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


def _kinds(job: CutJob, bar: Bar, masks: "_Masks", step: int) -> list[tuple[StockKind, int]]:
    """The ways to cut a length, with the narrowest kerf in each: cut up, or leaving a credited rest."""
    saw, total = job.saw, sum(job.demands.values())
    limit = total if bar.limit is None else min(bar.limit, total)
    cost, room = bar.cost(job.priced), bar.room(saw)
    found: list[tuple[StockKind, int]] = []
    rests: set[int] = set()
    for kerf in masks.kerfs:
        mask, least = masks.of(bar, kerf)
        plain = StockKind((room + kerf) // step, cost, limit, allowed=mask, value=bar.value)
        if least is None or plain.capacity < least:
            continue
        kept = _kept(job, bar, plain, room + kerf, step) if job.credits and cost else None
        if kept is not None and kept.capacity < least:
            kept = None
        # An offcut does not depend on the kerf that is spared: the widest mask has it already.
        fresh = kept is not None and kept.capacity not in rests
        if kept is None or kept.capacity < plain.capacity:
            found.append((plain, kerf))
        if kept is not None and fresh:
            rests.add(kept.capacity)
            found.append((kept, kerf))
    return found


class _Masks:
    """Which sizes may be cut from a bar, worked out once for all bars of a heat."""

    def __init__(self, job: CutJob, heats: Heats, step: int) -> None:
        self.job, self.heats, self.step = job, heats, step
        self.kerfs = sorted({size.kerf for size in job.order})
        self._known: dict[object, tuple[tuple[bool, ...] | None, int | None]] = {}

    def of(self, bar: Bar, kerf: int) -> tuple[tuple[bool, ...] | None, int | None]:
        """The sizes that take no less than a kerf, None for all of them; the least units that one takes."""
        key = (kerf, bar.source if self.heats else None)
        if key not in self._known:
            allowed = tuple(_may_be_cut(size, bar, self.heats, kerf) for size in self.job.order)
            mine = [size for may, size in zip(allowed, self.job.order, strict=True) if may]
            units = (size.room // self.step + size.opening // self.step for size in mine)
            self._known[key] = (None if all(allowed) else allowed, min(units, default=None))
        return self._known[key]


def _may_be_cut(size: CutSize, bar: Bar, heats: Heats, kerf: int) -> bool:
    """Whether a size comes from this bar's heat, and takes no less than this kerf."""
    return size.kerf >= kerf and (size.group is None or heats[size.group] == bar.source)


def _kept(job: CutJob, bar: Bar, plain: StockKind, most: int, step: int) -> StockKind | None:
    """A length cut so that the rest, freed by its cut, is kept and credited; None where none is left so.

    Offcut in nm = slack * step + spare; credit = cost * percent / 100 * offcut / length, in whole cents.
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


def _beaten(number: int, bars: Sequence[Bar], rows: Sequence[Sequence[tuple[StockKind, int]]]) -> bool:
    """Whether an unlimited bar dominates this one: holds all that it does and never costs more."""
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


def _all_beaten(ones: Sequence[tuple[StockKind, int]], others: Sequence[tuple[StockKind, int]]) -> bool:
    return all(any(_beats(one, other) for one, _ in ones) for other, _ in others)


def _beats(one: StockKind, other: StockKind) -> bool:
    """Whether the one holds all that the other does and never costs more."""
    if one.capacity < other.capacity or one.allowed != other.allowed or one.cost > other.cost:
        return False
    if not other.credit:
        return True
    mine, theirs = one.cost - one.credits(), other.cost - other.credits()
    # Where the one has more room, as many units used leave more slack.
    return bool((mine[: other.capacity + 1] <= theirs).all())


# More ways than this are not all tried; then there is no bound. Each is a search of its own: three groups of
# four heats are 64. A limit for time, not measured.
MOST_HEAT_CHOICES = 64


def heat_choices(job: CutJob) -> tuple[list[Heats], bool]:
    """Ways to give the one-heat groups their heats, and whether that is all the ways.

    Raises:
        CannotMakeError: no heat has room for a group.
    """
    groups = sorted({size.group for size in job.order if size.group})
    sources = list(dict.fromkeys(bar.source for bar in job.bars))
    choices = (dict(zip(groups, choice, strict=True)) for choice in product(sources, repeat=len(groups)))
    holding = (heats for heats in choices if _heats_hold(job, heats))
    tried = list(islice(holding, MOST_HEAT_CHOICES))
    if not tried:
        raise CannotMakeError("No single heat on the rack or from one order line holds a one-heat group.")
    return tried, not groups or len(tried) < MOST_HEAT_CHOICES


def _heats_hold(job: CutJob, heats: Heats) -> bool:
    """Whether each group's longest piece and its total can lie in its heat's bars."""
    return all(_holds(job, group, source) for group, source in heats.items())


def _holds(job: CutJob, group: str, source: tuple[str, ...]) -> bool:
    mine = [bar for bar in job.bars if bar.source == source]
    wanted = [size for size in job.order if size.group == group]
    if max(size.alone for size in wanted) > max(bar.room(job.saw) for bar in mine):
        return False
    if any(bar.limit is None for bar in mine):
        return True
    widest = max(size.kerf for size in wanted)
    # A bar shorter than trim and grip holds nothing, and takes no room from the others.
    total = sum((bar.limit or 0) * max(0, bar.room(job.saw) + widest) for bar in mine)
    return sum(size.room * job.demands[size] for size in wanted) <= total
