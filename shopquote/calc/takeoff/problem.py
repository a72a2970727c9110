"""The cutting problem in whole planning units, and what a pattern uses and costs.

A piece takes its length plus one kerf; a bar offers stock - trim - grip plus one
kerf, so that n pieces need n - 1 kerfs. Pieces that nest by their mitres form one
block in a bar: each takes less, and opening the block costs the overlap once.
Costs are whole numbers (millionths of money, or nanometres without prices).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Pattern = tuple[int, ...]

# Costs of credited plans are told apart to a tenth of a cent: thousandths of a unit of money.
CREDIT_STEP = 1000


@dataclass(frozen=True, slots=True)
class Kind:
    """One stock or rack length: `limit` bars at `cost` each, room for `capacity` units.

    A bar with at least `keep_slack` units of slack leaves a piece that is kept, worth
    `(slack * credit + credit_base) // credit_over`.
    """

    capacity: int
    cost: int
    limit: int
    keep_slack: int = 0
    credit: int = 0
    credit_base: int = 0
    credit_over: int = 1
    allowed: tuple[bool, ...] | None = None

    def credit_for(self, slack: int) -> int:
        """What is credited for a bar with this much slack."""
        if not self.credit or slack < self.keep_slack:
            return 0
        return (slack * self.credit + self.credit_base) // self.credit_over

    def holds(self, kind_of_piece: int) -> bool:
        """Whether pieces of this number may be cut from it at all (one heat)."""
        return self.allowed is None or self.allowed[kind_of_piece]


@dataclass(frozen=True)
class Problem:
    """Sizes (kerf included) and demands of m kinds of pieces, and the kinds of bars.

    `blocks[i]` is the nesting block of piece i, or -1; `openings[b]` what opening
    block b in a bar takes.
    """

    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    kinds: tuple[Kind, ...]
    blocks: tuple[int, ...]
    openings: tuple[int, ...] = ()

    @cached_property
    def step(self) -> int:
        """Costs of two plans that differ, differ by at least this much."""
        if any(kind.credit for kind in self.kinds):
            return CREDIT_STEP
        return max(1, int(np.gcd.reduce([kind.cost for kind in self.kinds])))

    @cached_property
    def pieces(self) -> int:
        """All pieces asked for."""
        return sum(self.demands)

    @cached_property
    def largest(self) -> int:
        """The most that any bar holds."""
        return max(kind.capacity for kind in self.kinds)

    @cached_property
    def families(self) -> tuple[tuple[tuple[bool, ...] | None, tuple[int, ...]], ...]:
        """Kinds of bars that may hold the same kinds of pieces, together."""
        found: dict[tuple[bool, ...] | None, list[int]] = {}
        for number, kind in enumerate(self.kinds):
            found.setdefault(kind.allowed, []).append(number)
        return tuple((mask, tuple(numbers)) for mask, numbers in found.items())

    def used(self, pattern: Sequence[int]) -> int:
        """Units of capacity that a pattern takes."""
        total = sum(size * count for size, count in zip(self.sizes, pattern, strict=True))
        if self.openings:
            opened = {self.blocks[i] for i, count in enumerate(pattern) if count and self.blocks[i] >= 0}
            total += sum(self.openings[block] for block in opened)
        return total

    def cost(self, kind: int, pattern: Sequence[int]) -> int:
        """Cost of one bar cut by a pattern, less the credit for its leftover."""
        bar = self.kinds[kind]
        if not bar.credit:
            return bar.cost
        return bar.cost - bar.credit_for(bar.capacity - self.used(pattern))

    def fits(self, kind: int, pattern: Sequence[int]) -> bool:
        """Whether a bar of this kind holds the pattern."""
        bar = self.kinds[kind]
        if self.used(pattern) > bar.capacity:
            return False
        return bar.allowed is None or all(bar.allowed[i] for i, count in enumerate(pattern) if count)


@dataclass(frozen=True, slots=True)
class Solution:
    """Bars as (kind, pattern, count); every demand is met exactly."""

    bars: tuple[tuple[int, Pattern, int], ...]
    cost: int

    @property
    def rank(self) -> tuple[int, int, int]:
        """Cheapest first, then fewest bars, then fewest different patterns."""
        return (self.cost, sum(count for _, _, count in self.bars), len(self.bars))


def tidy(problem: Problem, bars: Sequence[tuple[int, Pattern, int]]) -> Solution | None:
    """Drop surplus pieces, put each bar on its cheapest kind, gather equal bars.

    None when the bars do not meet the demands or a limit is broken.
    """
    left = list(problem.demands)
    kept: list[tuple[int, Pattern, int]] = []
    for kind, pattern, count in sorted(bars, key=lambda bar: -problem.used(bar[1])):
        kept.extend(_cap(kind, pattern, count, left))
    if any(left):
        return None
    free = [kind.limit for kind in problem.kinds]
    gathered: dict[tuple[int, Pattern], int] = {}
    for kind, _, count in kept:
        free[kind] -= count
    if min(free, default=0) < 0:
        return None
    for kind, pattern, count in sorted(kept, key=lambda bar: (-problem.used(bar[1]), bar)):
        free[kind] += count
        while count:
            best = min(
                (k for k in range(len(problem.kinds)) if free[k] > 0 and problem.fits(k, pattern)),
                key=lambda k: (problem.cost(k, pattern), problem.kinds[k].capacity, k),
            )
            if problem.cost(best, pattern) >= problem.cost(kind, pattern) and free[kind] >= count:
                best = kind
            taken = min(count, free[best])
            free[best] -= taken
            count -= taken
            gathered[best, pattern] = gathered.get((best, pattern), 0) + taken
    rows = tuple(sorted((k, p, n) for (k, p), n in gathered.items()))
    return Solution(rows, sum(problem.cost(k, p) * n for k, p, n in rows))


def _cap(kind: int, pattern: Pattern, count: int, left: list[int]) -> list[tuple[int, Pattern, int]]:
    """Bars of one pattern, without pieces beyond what is still asked for."""
    out: list[tuple[int, Pattern, int]] = []
    while count:
        cut = tuple(min(a, r) for a, r in zip(pattern, left, strict=True))
        if not any(cut):
            break
        whole = min((r // a for a, r in zip(cut, left, strict=True) if a), default=0)
        times = min(count, whole)
        for i, a in enumerate(cut):
            left[i] -= a * times
        out.append((kind, cut, times))
        count -= times
    return out
