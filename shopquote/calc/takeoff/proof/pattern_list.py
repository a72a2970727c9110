"""A complete list of patterns, and the rows that a plan of them adds up to, in whole numbers."""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import CutProblem, Ints, Pattern
from shopquote.calc.takeoff.proof.enumerate import Bools, Filter, Rows


class PatternList:
    """Patterns as rows of `patterns`: of which kind of bar each is, its cost, and its part in every row.

    Rows of the problem (columns of `base`) are the pieces of each size, the bars of each kind and of each
    stock, and all bars; a plan's sum lies between `least` and `most`. Rounding cuts (columns of `cuts`) come
    after these: a plan's sum is at most the cut's end.

    Args:
        problem: what the patterns cut.
        rows: patterns of each kind of bar, as rows of counts.
        credits: credit of each kind by units used, in cost units; None where a kind has none.
        box: numbers of bars allowed.
    """

    def __init__(
        self,
        problem: CutProblem,
        rows: Sequence[Rows],
        credits: Sequence[Ints | None],
        box: Box,
    ) -> None:
        self.problem = problem
        self.patterns = np.concatenate(rows).reshape(-1, len(problem.sizes))
        self.kinds: Ints = np.concatenate([np.full(len(r), k, np.int64) for k, r in enumerate(rows)])
        whole = self.patterns.astype(np.int64)
        used = whole @ np.array(problem.sizes, np.int64) + problem.opened(whole)
        self.costs: Ints = np.array([kind.cost for kind in problem.kinds], np.int64)[self.kinds]
        for k, credit in enumerate(credits):
            if credit is not None:
                mine = self.kinds == k
                self.costs[mine] -= credit[used[mine]]
        bars = np.zeros((len(whole), len(box.ends()[0])), np.int64)
        for k in range(len(problem.kinds)):
            bars[np.ix_(self.kinds == k, problem.bar_rows(k))] = 1
        self.base: Ints = np.concatenate([whole, bars], axis=1)
        ends = box.ends()
        self.least: Ints = np.array([*problem.demands, *ends[0]], np.int64)
        self.most: Ints = np.array([*problem.demands, *ends[1]], np.int64)
        self.cuts: Ints = np.zeros((len(whole), 0), np.int64)
        self.cut_ends: Ints = np.zeros(0, np.int64)

    def __len__(self) -> int:
        return len(self.patterns)

    def times(self) -> Ints:
        """How often each pattern can be cut at most: no row goes above its most."""
        limits = np.where(self.base > 0, self.most // np.maximum(self.base, 1), 1 << 40)
        return np.asarray(limits.min(axis=1, initial=1 << 40), np.int64)

    def keep(self, live: Bools) -> None:
        """Drop patterns that are never cut."""
        self.patterns, self.kinds, self.costs = self.patterns[live], self.kinds[live], self.costs[live]
        self.base, self.cuts = self.base[live], self.cuts[live]

    def add_cut(self, coefficients: Ints, end: int) -> None:
        """Keep a cut: the part of each pattern in it, and its end."""
        self.cuts = np.column_stack([self.cuts, coefficients])
        self.cut_ends = np.append(self.cut_ends, end)

    def pattern(self, place: int) -> Pattern:
        """The pieces of one pattern."""
        return tuple(int(n) for n in self.patterns[place])

    def bars(self, counts: Ints) -> list[tuple[int, Pattern, int]]:
        """Bars (kind, pattern, count) where each pattern is cut so often."""
        return [
            (int(self.kinds[p]), self.pattern(p), int(counts[p])) for p in np.nonzero(counts > 0)[0].tolist()
        ]


@dataclass(frozen=True, slots=True)
class Listing:
    """The patterns that plans up to the `dearest` cost may use, and the filters that all of them pass."""

    listed: PatternList
    filters: tuple[Filter, ...]
    dearest: int
