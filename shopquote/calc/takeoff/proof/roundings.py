"""The rows of a list of patterns, and cuts of mixed-integer rounding over them, in whole numbers."""

import dataclasses

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import Ints, Pattern
from shopquote.calc.takeoff.proof.pattern_list import PatternList

# Shares of rows in a cut are whole parts of WHOLE, so that SHARES of them make a row itself; coefficients of
# cuts are whole parts of PARTS.
SHARES = 1 << 20
PARTS = 1 << 14
WHOLE = SHARES * PARTS
LARGEST = 1 << 61


@dataclasses.dataclass(slots=True)
class Bound:
    """The most (`down`) or least of a pattern's count, at `place` among those alive when its cut was made.

    `share` of it makes the pattern's share in the cut whole.
    """

    kind: int
    pattern: Pattern
    place: int
    start: int
    down: bool
    share: int = 0


@dataclass(frozen=True, slots=True)
class RoundingCut:
    """A rounded sum of rows, and of bounds of counts, by `shares` in 1/WHOLE.

    A row with a share above 0 is at most its most, one with a share below 0 at least its least, and so are
    the counts: so the sum a*x is at most e. With f the fraction of e, sum(F(a) x) <= floor(e) for whole
    x >= 0, where F(a) = floor(a) + max(0, fraction(a) - f) / (1 - f). What is missing at such an end is whole
    too: it counts as an x whose a is the share without its sign.
    """

    shares: Ints
    bounds: tuple[Bound, ...] = ()


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
        ends = box.ends()
        self.least: Ints = np.array([*problem.demands, *ends[0]], np.int64)
        self.most: Ints = np.array([*problem.demands, *ends[1]], np.int64)
        self.cuts: Ints = np.zeros((len(patterns), 0), np.int64)
        self.cut_ends: Ints = np.zeros(0, np.int64)

    def keep(self, live: npt.NDArray[np.bool_]) -> None:
        """Drop patterns that are never cut."""
        self.base, self.cuts = self.base[live], self.cuts[live]

    def rounded(self, cut: RoundingCut) -> tuple[Ints, int] | None:
        """Coefficients and end of a cut; None where its sum has hardly a fraction."""
        number = len(self.least)
        mine, others = cut.shares[:number], cut.shares[number:]
        sums = self.base @ mine + self.cuts[:, : len(others)] @ others
        end = int(np.where(mine > 0, self.most, self.least) @ mine)
        end += int(self.cut_ends[: len(others)] @ others)
        for bound in cut.bounds:
            # As much of the bound as makes the share whole.
            bound.share = int(-sums[bound.place] % WHOLE if bound.down else -(sums[bound.place] % WHOLE))
            sums[bound.place] += bound.share
            end += bound.share * bound.start
        whole, rest = divmod(end, WHOLE)
        if not WHOLE // 100 < rest < WHOLE - WHOLE // 100:
            return None
        floors, parts = np.divmod(sums, WHOLE)
        coefficients = floors * (WHOLE - rest) + np.maximum(0, parts - rest)
        end = whole * (WHOLE - rest)
        slack = np.where(self.least < self.most, slack_of(mine, rest), 0)
        loose = slack_of(others, rest)
        coefficients -= self.base @ slack + self.cuts[:, : len(others)] @ loose
        end -= int(np.where(mine > 0, self.most, self.least) @ slack) + int(
            self.cut_ends[: len(others)] @ loose
        )
        for bound in cut.bounds:
            part = int(slack_of(np.array(bound.share), rest))
            coefficients[bound.place] -= part
            end -= part * bound.start
        if int(np.abs(coefficients).max(initial=0)) >= LARGEST // PARTS:
            return None
        return coefficients * PARTS // (WHOLE - rest), -(-end * PARTS // (WHOLE - rest))

    def add(self, coefficients: Ints, end: int) -> None:
        """Keep a cut."""
        self.cuts = np.column_stack([self.cuts, coefficients])
        self.cut_ends = np.append(self.cut_ends, end)


def slack_of(shares: Ints, rest: int) -> Ints:
    """What is missing at the end of a row, by its share: F of that, with the share's sign."""
    floors, parts = np.divmod(np.abs(shares), WHOLE)
    return np.asarray(np.sign(shares) * (floors * (WHOLE - rest) + np.maximum(0, parts - rest)), np.int64)
