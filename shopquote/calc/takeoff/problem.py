"""The cutting problem in whole planning units, and what a pattern uses and costs.

A piece takes its length plus one kerf; a bar offers stock - trim - grip plus one
kerf, so that n pieces need n - 1 kerfs. Pieces that nest by their mitres form one
block in a bar: each takes less, and opening the block costs the overlap once.
Costs are whole numbers (millionths of money, or nanometres without prices).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import compress
from math import gcd

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass

Ints = npt.NDArray[np.int64]
Pattern = tuple[int, ...]
# The pieces that kinds of bars hold (None: all), and the numbers of the kinds.
Family = tuple[tuple[bool, ...] | None, tuple[int, ...]]

# Offcuts are credited in whole cents: ten thousand millionths of money.
CREDIT_STEP = 10_000


def held(pattern: Sequence[int]) -> list[tuple[int, int]]:
    """Pieces that a pattern holds, as (number of the piece, count)."""
    return [(i, pattern[i]) for i in compress(range(len(pattern)), pattern)]


@dataclass(frozen=True, slots=True)
class StockKind:
    """One way to use a stock or rack length: `limit` bars at `cost` each, room for `capacity` units.

    A bar with `slack` units left of its capacity is credited
    `(slack * credit + credit_base) // credit_over` steps of `credit_step`. A length whose offcuts earn a
    credit is two kinds: cut up without credit, and cut so that the rest is kept.
    `stock` numbers the length; kinds of one stock share its limit. `value` is what a rack bar is
    worth, for the choice among plans of equal cost.
    """

    capacity: int
    cost: int
    limit: int
    stock: int = 0
    credit: int = 0
    credit_base: int = 0
    credit_over: int = 1
    allowed: tuple[bool, ...] | None = None
    value: int = 0
    credit_step: int = CREDIT_STEP

    def credit_for(self, slack: int) -> int:
        """What is credited for a bar with this much slack, never more than the bar costs."""
        if not self.credit:
            return 0
        steps = (slack * self.credit + self.credit_base) // self.credit_over
        return min(self.cost, steps * self.credit_step)

    def credits(self) -> Ints:
        """What is credited, by the units used of the capacity."""
        slack: Ints = np.arange(self.capacity, -1, -1, dtype=np.int64)
        if not self.credit:
            return 0 * slack
        if self.capacity * self.credit_over + self.credit_base >= 1 << 62:
            return np.array([self.credit_for(int(units)) for units in slack], np.int64)
        whole, rest = divmod(self.credit, self.credit_over)
        base, base_rest = divmod(self.credit_base, self.credit_over)
        steps = slack * whole + base + (slack * rest + base_rest) // self.credit_over
        return np.asarray(np.minimum(steps * self.credit_step, self.cost), np.int64)

    def holds(self, kind_of_piece: int) -> bool:
        """Whether pieces of this number may be cut from it at all (one heat)."""
        return self.allowed is None or self.allowed[kind_of_piece]


@dataclass(frozen=True)
class CutProblem:
    """Sizes (kerf included) and demands of m kinds of pieces, and the kinds of bars.

    `blocks[i]` is the nesting block of piece i, or -1; `openings[b]` what opening
    block b in a bar takes.
    """

    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    kinds: tuple[StockKind, ...]
    blocks: tuple[int, ...]
    openings: tuple[int, ...] = ()

    @cached_property
    def credited(self) -> bool:
        """Whether offcuts of any kind earn a credit."""
        return any(kind.credit for kind in self.kinds)

    @cached_property
    def grid(self) -> int:
        """Every plan's cost is a multiple of this."""
        credits = [kind.credit_step for kind in self.kinds if kind.credit]
        return max(1, gcd(*(kind.cost for kind in self.kinds), *credits))

    def on_grid(self, cost: int) -> int:
        """The least multiple of the grid that is not below this cost."""
        return -(-cost // self.grid) * self.grid

    @cached_property
    def cheapest_first(self) -> list[tuple[int, StockKind]]:
        """Bar kinds and their numbers, sorted by cost before credit, then value, then capacity."""
        return sorted(enumerate(self.kinds), key=lambda way: (way[1].cost, way[1].value, way[1].capacity))

    @cached_property
    def stock_of(self) -> tuple[int, ...]:
        """The stock of each kind of bar."""
        return tuple(kind.stock for kind in self.kinds)

    @cached_property
    def stock_limits(self) -> tuple[int, ...]:
        """Bars of each stock; stocks are numbered from 0."""
        limits = {kind.stock: kind.limit for kind in self.kinds}
        return tuple(limits[stock] for stock in range(len(limits)))

    def bar_rows(self, kind: int) -> list[int]:
        """Where a bar of this kind counts: its kind, its stock, all bars."""
        return [kind, len(self.kinds) + self.kinds[kind].stock, len(self.kinds) + len(self.stock_limits)]

    @cached_property
    def pieces(self) -> int:
        """All pieces asked for."""
        return sum(self.demands)

    @cached_property
    def largest(self) -> int:
        """The most that any bar holds."""
        return max(kind.capacity for kind in self.kinds)

    @cached_property
    def families(self) -> tuple[Family, ...]:
        """Kinds of bars that may hold the same kinds of pieces, together."""
        found: dict[tuple[bool, ...] | None, list[int]] = {}
        for number, kind in enumerate(self.kinds):
            found.setdefault(kind.allowed, []).append(number)
        return tuple((mask, tuple(numbers)) for mask, numbers in found.items())

    @cached_property
    def chains(self) -> tuple[tuple[Family, ...], ...]:
        """Families in rows, each holding no piece that the next does not: one table prices a row."""
        every = range(len(self.sizes))
        chains: list[list[tuple[Family, set[int]]]] = []
        sets = [(family, {i for i in every if family[0] is None or family[0][i]}) for family in self.families]
        for family, mine in sorted(sets, key=lambda entry: -len(entry[1])):
            chain = next((chain for chain in chains if self._within(mine, chain[0][1])), None)
            if chain is None:
                chains.append([(family, mine)])
            else:
                chain.insert(0, (family, mine))
        return tuple(tuple(family for family, _ in chain) for chain in chains)

    def _within(self, some: set[int], others: set[int]) -> bool:
        """Whether pieces are among others that hold no rest of their blocks."""
        blocks = {self.blocks[i] for i in some if self.blocks[i] >= 0}
        return some <= others and not any(self.blocks[i] in blocks for i in others - some)

    def part(
        self, demands: Sequence[int], limits: Sequence[int]
    ) -> tuple["CutProblem", Callable[[Pattern], Pattern]]:
        """Subproblem of these pieces and so many bars, and the map from its patterns to this problem's."""
        mine = [i for i, demand in enumerate(demands) if demand]
        kinds = tuple(
            replace(
                kind,
                limit=limits[kind.stock],
                allowed=None if kind.allowed is None else tuple(kind.allowed[i] for i in mine),
            )
            for kind in self.kinds
        )
        rest = CutProblem(
            tuple(self.sizes[i] for i in mine),
            tuple(demands[i] for i in mine),
            kinds,
            tuple(self.blocks[i] for i in mine),
            self.openings,
        )

        def back(pattern: Pattern) -> Pattern:
            counts = [0] * len(self.sizes)
            for i, count in zip(mine, pattern, strict=True):
                counts[i] = count
            return tuple(counts)

        return rest, back

    def used(self, pattern: Sequence[int]) -> int:
        """Units of capacity that a pattern takes."""
        key = tuple(pattern)
        if key not in self._used_by:
            self._used_by[key] = self._sum_used(key)
        return self._used_by[key]

    @cached_property
    def _used_by(self) -> dict[Pattern, int]:
        return {}

    def _sum_used(self, pattern: Pattern) -> int:
        total = sum(self.sizes[i] * count for i, count in held(pattern))
        if self.openings:
            opened = {self.blocks[i] for i, _ in held(pattern) if self.blocks[i] >= 0}
            total += sum(self.openings[block] for block in opened)
        return total

    def opened(self, rows: npt.NDArray[np.int16] | Ints) -> Ints:
        """Units that opening blocks takes in each pattern; patterns are the rows of a table."""
        units: Ints = np.zeros(len(rows), np.int64)
        for block, opening in enumerate(self.openings):
            members = [i for i, b in enumerate(self.blocks) if b == block]
            units += np.where(rows[:, members].any(axis=1), opening, 0)
        return units

    def cost(self, kind: int, pattern: Sequence[int]) -> int:
        """Cost of one bar cut by a pattern, less the credit for its offcut."""
        return self.cost_used(kind, self.used(pattern) if self.kinds[kind].credit else 0)

    def cost_used(self, kind: int, used: int) -> int:
        """Cost of one bar with so many units used."""
        bar = self.kinds[kind]
        return bar.cost - bar.credit_for(bar.capacity - used) if bar.credit else bar.cost

    def fits(self, kind: int, pattern: Sequence[int]) -> bool:
        """Whether a bar of this kind holds the pattern."""
        return self.used(pattern) <= self.kinds[kind].capacity and _may_hold(self.kinds[kind], pattern)


@dataclass(frozen=True, slots=True)
class Solution:
    """Bars as (kind, pattern, count); every demand is met exactly. `value`: of the rack bars in it."""

    bars: tuple[tuple[int, Pattern, int], ...]
    cost: int
    value: int = 0

    @property
    def rank(self) -> tuple[int, int, int, int]:
        """Cheapest first, then least value from the rack, then fewest bars, then fewest patterns."""
        return (self.cost, self.value, sum(count for _, _, count in self.bars), len(self.bars))


def tidy(problem: CutProblem, bars: Sequence[tuple[int, Pattern, int]]) -> Solution | None:
    """Drop surplus pieces, put each bar on its cheapest kind, gather equal bars.

    None when the bars do not meet the demands or a limit is broken.
    """
    left = list(problem.demands)
    kept: list[tuple[int, Pattern, int]] = []
    for kind, pattern, count in sorted(bars, key=lambda bar: -problem.used(bar[1])):
        kept.extend(_cap(kind, pattern, count, left))
    if any(left):
        return None
    free = list(problem.stock_limits)
    gathered: dict[tuple[int, Pattern], int] = {}
    for kind, _, count in kept:
        free[problem.kinds[kind].stock] -= count
    if min(free, default=0) < 0:
        return None
    for kind, pattern, count in sorted(kept, key=lambda bar: (-problem.used(bar[1]), bar)):
        free[problem.kinds[kind].stock] += count
        while count:
            best = _cheapest_kind(problem, kind, pattern, free)
            taken = min(count, free[problem.kinds[best].stock])
            free[problem.kinds[best].stock] -= taken
            count -= taken
            gathered[best, pattern] = gathered.get((best, pattern), 0) + taken
    rows = tuple(sorted((k, p, n) for (k, p), n in gathered.items()))
    value = sum(problem.kinds[k].value * n for k, _, n in rows)
    return Solution(rows, sum(problem.cost(k, p) * n for k, p, n in rows), value)


def _cheapest_kind(problem: CutProblem, kind: int, pattern: Pattern, free: Sequence[int]) -> int:
    """The kind with bars free that a pattern is cheapest on; its own where no other is cheaper."""
    used = problem.used(pattern)
    ways: list[tuple[int, int, int, int]] = []
    settled = False
    for k, other in problem.cheapest_first:
        # Those without credit come in the order of what they cost: the first one that holds it is cheapest.
        if settled and not other.credit:
            continue
        if free[other.stock] > 0 and used <= other.capacity and _may_hold(other, pattern):
            ways.append((problem.cost_used(k, used), other.value, other.capacity, k))
            settled = settled or not other.credit
            if settled and not problem.credited:
                break
    cost, value, _, best = min(ways)
    stays = (cost, value) >= (problem.cost_used(kind, used), problem.kinds[kind].value)
    return kind if stays else best


def _may_hold(bar: StockKind, pattern: Sequence[int]) -> bool:
    return bar.allowed is None or all(bar.allowed[i] for i, _ in held(pattern))


def _cap(kind: int, pattern: Pattern, count: int, left: list[int]) -> list[tuple[int, Pattern, int]]:
    """Bars of one pattern, without pieces beyond what is still asked for."""
    out: list[tuple[int, Pattern, int]] = []
    load = held(pattern)
    while count and load:
        times = min(count, min(left[i] // a for i, a in load))
        if times:
            for i, a in load:
                left[i] -= a * times
            out.append((kind, pattern, times))
            count -= times
            continue
        load = [(i, min(a, left[i])) for i, a in load if left[i]]
        counts = [0] * len(pattern)
        for i, a in load:
            counts[i] = a
        pattern = tuple(counts)
    return out
