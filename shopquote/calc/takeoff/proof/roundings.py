"""Cuts of mixed-integer rounding over the counts of listed patterns, in whole numbers."""

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import Ints, Pattern
from shopquote.calc.takeoff.proof.pattern_list import PatternList

# Multipliers of rows are whole parts of SHARES, coefficients of cuts whole parts of PARTS.
SHARES = 1 << 20
PARTS = 1 << 14
LARGEST = 1 << 61


@dataclass(frozen=True, slots=True)
class RoundingCut:
    """A rounded sum of rows: multipliers, in 1/SHARES, of the base rows and of the cuts before it.

    A base row between two ends gets a whole slack, from its least end where the row is
    among `low`, else from its most. With the sum a*x <= b, f the fraction of b and whole x >= 0:
    sum(F(a) x) <= floor(b), where F(a) = floor(a) + max(0, fraction(a) - f) / (1 - f). The slack of a
    cut need not be whole: it counts min(0, a) / (1 - f).
    Counts that are `moved` are reckoned from their least upwards, or from their most downwards.
    """

    rows: tuple[int, ...]
    cuts: tuple[int, ...]
    low: tuple[int, ...]
    moved: tuple["Moved", ...] = ()


@dataclass(frozen=True, slots=True)
class Moved:
    """The count of a pattern, at `place` among those alive when its cut was made, reckoned from `start`."""

    kind: int
    pattern: Pattern
    place: int
    start: int
    down: bool


class Rows:
    """The rows of the listed problem over its live patterns, in whole numbers."""

    def __init__(self, patterns: PatternList, box: Box) -> None:
        problem = patterns.problem
        stock = np.array(problem.stock_of, np.int64)[patterns.kinds]
        kinds, stocks = range(len(problem.kinds)), range(len(problem.stock_limits))
        columns = [patterns.rows.astype(np.int64)]
        columns += [(patterns.kinds == k).astype(np.int64)[:, None] for k in kinds]
        columns += [(stock == s).astype(np.int64)[:, None] for s in stocks]
        columns.append(np.ones((len(patterns), 1), np.int64))
        self.base: Ints = np.concatenate(columns, axis=1)
        ends = [(*box.low, *box.stock_low, box.total_low), (*box.high, *box.stock_high, box.total_high)]
        self.least: Ints = np.array([*problem.demands, *ends[0]], np.int64)
        self.most: Ints = np.array([*problem.demands, *ends[1]], np.int64)
        self.cuts: Ints = np.zeros((len(patterns), 0), np.int64)
        self.cut_ends: Ints = np.zeros(0, np.int64)

    def keep(self, live: npt.NDArray[np.bool_]) -> None:
        """Drop patterns that are never cut."""
        self.base, self.cuts = self.base[live], self.cuts[live]

    def rounded(self, cut: RoundingCut) -> tuple[Ints, int] | None:
        """Coefficients and end of a cut in 1/PARTS; None where its sum has hardly a fraction."""
        rows, cuts = np.array(cut.rows, np.int64), np.array(cut.cuts, np.int64)
        known = self.cuts[:, : len(cuts)]
        scale = SHARES * PARTS
        ends = self.most.copy()
        ends[list(cut.low)] = self.least[list(cut.low)]
        sums = self.base @ rows * PARTS + known @ cuts
        place = [moved.place for moved in cut.moved]
        start = np.array([moved.start for moved in cut.moved], np.int64)
        turn = np.ones(len(sums), np.int64)
        turn[[moved.place for moved in cut.moved if moved.down]] = -1
        end = int(ends @ rows) * PARTS + int(self.cut_ends[: len(cuts)] @ cuts) - int(sums[place] @ start)
        whole_end, rest = divmod(end, scale)
        if not scale // 100 < rest < scale - scale // 100:
            return None

        def rounded(sums: Ints) -> Ints:
            whole, part = np.divmod(sums, scale)
            return np.asarray(whole * (scale - rest) + np.maximum(0, part - rest), np.int64)

        away = np.ones(len(rows), np.int64)
        away[list(cut.low)] = -1
        slack = np.where(self.least < self.most, rounded(rows * away * PARTS) * away, 0)
        below = np.minimum(cuts, 0)
        coefficients = rounded(sums * turn) * turn
        bound = whole_end * (scale - rest) + int(coefficients[place] @ start)
        coefficients = coefficients - self.base @ slack - known @ below
        bound -= int(ends @ slack) + int(self.cut_ends[: len(cuts)] @ below)
        if int(np.abs(coefficients).max(initial=0)) >= LARGEST // PARTS:
            return None
        return coefficients * PARTS // (scale - rest), -(-bound * PARTS // (scale - rest))

    def add(self, coefficients: Ints, end: int) -> None:
        """Keep a cut."""
        self.cuts = np.column_stack([self.cuts, coefficients])
        self.cut_ends = np.append(self.cut_ends, end)
