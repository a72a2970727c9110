"""The linear program over the counts of listed patterns, bounds from its prices, and dives."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.bounds import Bounds
from shopquote.calc.takeoff.lp import new_lp, run_lp
from shopquote.calc.takeoff.master import EMPTY, INFINITE, Box
from shopquote.calc.takeoff.problem import CutProblem, Ints, Pattern, tidy
from shopquote.calc.takeoff.proof.enumerate import Filter
from shopquote.calc.takeoff.proof.pattern_list import PatternList
from shopquote.calc.takeoff.proof.roundings import LARGEST, PARTS, RoundingCut, Rows

Floats = npt.NDArray[np.float64]

# Prices are told apart this much finer than the fine units of column generation.
FINER = 1 << 14
# A dive turns back so often; one starts from every so many nodes.
MOST_TURNED = 8
# Units of work: of a node or a cut, and of a coefficient that it looks at.
A_NODE, A_CELL = 150_000, 5
# What a piece too few or too many costs in the linear program, in dearest bars.
DEAR = 4.0


@dataclass(slots=True)
class ColumnNode:
    """Counts of the live patterns from `low` to `high`, of the rows from `least` to `most`.

    `prices` are the whole prices that bound it by `value`; `where` is what was branched on: a
    base row or a pattern (kind and pieces), and the most of it in the first child.
    """

    low: Ints
    high: Ints
    least: Ints
    most: Ints
    value: int
    prices: tuple[int, ...] = ()
    where: tuple[int | tuple[int, Pattern], int] | None = None
    depth: int = 0
    children: list["ColumnNode"] = field(default_factory=list)


class ColumnProgram:
    """The program of a search over a complete list of patterns within a box."""

    def __init__(
        self,
        patterns: PatternList,
        box: Box,
        bounds: Bounds,
        listed_by: Sequence[Filter],
        complete: int = EMPTY,
    ) -> None:
        # What the patterns passed, and the dearest plan that all of them are listed for.
        self.listed_by, self.complete = tuple(listed_by), complete
        self.problem: CutProblem = patterns.problem
        self.bounds, self.fine, self.scale, self.work = bounds, bounds.fine, bounds.scale, bounds.work
        self.rows = Rows(patterns, box)
        self.patterns = patterns.rows
        self.kinds = patterns.kinds
        self.costs: Ints = patterns.costs
        self.cuts: list[RoundingCut] = []
        # Numbers of the cuts in the linear program, and of those that had a price there last.
        self.in_lp: list[int] = []
        self.useful: set[int] = set()
        # All prices that narrowed the counts at the root, in their order.
        self.rounds: list[tuple[int, ...]] = []
        high = self._most(patterns, box)
        self.root = ColumnNode(np.zeros_like(high), high, self.rows.least, self.rows.most, -EMPTY)
        self.visited, self.most, self.serial = 0, 0, 0
        self.queue: list[tuple[int, int, ColumnNode]] = []
        self._lp: Any = None

    @staticmethod
    def _most(patterns: PatternList, box: Box) -> Ints:
        """How often each pattern can be cut at most."""
        demands = np.array(patterns.problem.demands, np.int64)
        rows = patterns.rows.astype(np.int64)
        times = np.where(rows > 0, demands // np.maximum(rows, 1), 1 << 40).min(axis=1, initial=1 << 40)
        stock = np.array(patterns.problem.stock_of, np.int64)[patterns.kinds]
        for limits in (np.array(box.high)[patterns.kinds], np.array(box.stock_high)[stock]):
            times = np.minimum(times, limits)
        return np.asarray(np.minimum(times, box.total_high), np.int64)

    @property
    def unit(self) -> int:
        """Cost units are counted so finely in prices and values."""
        return self.fine * FINER

    def dearest(self) -> int:
        """The dearest plan that is looked for: cheaper than the best, and all in the list."""
        return min(self.complete, self.bounds.target())

    def target(self) -> int:
        """The value of the dearest plan that is looked for."""
        return self.dearest() * self.unit

    def closed(self, node: ColumnNode) -> bool:
        """Whether no plan in the node is cheaper."""
        if (node.low > node.high).any() or (node.least > node.most).any():
            node.value = EMPTY
        return node.value > self.target()

    def _value(self, node: ColumnNode, prices: Ints) -> tuple[int, Ints] | None:
        """Least cost in a node at whole prices of all rows, and the reduced costs; None if too large.

        Prices of cuts, none above 0, are for each 1/PARTS.
        """
        rows = self.rows
        number = rows.base.shape[1]
        mine, others = prices[:number], prices[number:]
        cuts = rows.cuts[:, : len(others)]
        if self._too_large(node, mine, others):
            return None
        reduced = self.costs * self.unit - rows.base @ mine - cuts @ others
        total = int(np.where(mine >= 0, node.least, node.most) @ mine)
        total += int(rows.cut_ends[: len(others)] @ others)
        total += int((np.where(reduced >= 0, node.low, node.high) * reduced).sum())
        return total, reduced

    def _too_large(self, node: ColumnNode, mine: Ints, others: Ints) -> bool:
        """Whether a sum could pass 64 bits."""
        rows = self.rows
        each = self.costs * float(self.unit) + np.abs(rows.base) @ np.abs(mine.astype(np.float64))
        each += np.abs(rows.cuts[:, : len(others)]) @ np.abs(others.astype(np.float64))
        ends = float(np.abs(node.most) @ np.abs(mine.astype(np.float64)))
        ends += float(np.abs(rows.cut_ends[: len(others)]) @ np.abs(others.astype(np.float64)))
        return float(each @ node.high) + ends + float(each.max(initial=0.0)) > LARGEST

    def _tighten(self, node: ColumnNode, reduced: Ints) -> None:
        """Narrow the counts to those of cheaper plans."""
        gap = max(0, self.target() - node.value)
        room = gap // np.maximum(1, np.abs(reduced))
        low, high = node.low, node.high
        node.high = np.where(reduced > 0, np.minimum(high, low + room), high)
        node.low = np.where(reduced < 0, np.maximum(low, high - room), low)

    def _raise(self, node: ColumnNode, duals: Floats) -> None:
        """Raise a node's bound by the duals as whole prices, and narrow its counts."""
        number = self.rows.base.shape[1]
        prices = np.rint(duals[:number] * (self.scale * self.unit)).astype(np.int64)
        others = np.zeros(len(self.cuts), np.int64)
        others[self.in_lp] = np.rint(duals[number:] * (self.scale * self.unit / PARTS)).astype(np.int64)
        prices = np.concatenate([prices, np.minimum(0, others)])
        found = self._value(node, prices)
        if found is not None and found[0] > node.value:
            node.value, node.prices = found[0], tuple(int(p) for p in prices)
            if node is self.root:
                self.rounds.append(node.prices)
            if not self.closed(node):
                self._tighten(node, found[1])

    def _build(self) -> None:
        """The linear program over the live patterns and the useful cuts; dear columns keep it feasible."""
        rows = self.rows
        self.in_lp = [number for number in self.in_lp if number in self.useful]
        shares = rows.cuts[:, self.in_lp] / float(PARTS)
        matrix = np.concatenate([rows.base.astype(np.float64), shares], axis=1)
        place, row = np.nonzero(matrix)
        starts = np.searchsorted(place, np.arange(len(matrix))).astype(np.int32)
        cuts = len(self.in_lp)
        low = np.concatenate([rows.least.astype(np.float64), np.full(cuts, -INFINITE)])
        high = np.concatenate([rows.most.astype(np.float64), rows.cut_ends[self.in_lp] / float(PARTS)])
        lp = new_lp()
        lp.setOptionValue("simplex_strategy", 1)
        none = np.zeros(0, np.int32)
        lp.addRows(len(low), low, high, 0, none, none, np.zeros(0))
        lp.addCols(
            len(matrix),
            self.costs / self.scale,
            np.zeros(len(matrix)),
            np.full(len(matrix), INFINITE),
            len(row),
            starts,
            row.astype(np.int32),
            matrix[place, row],
        )
        self._lp = lp
        for r in range(rows.base.shape[1]):
            self._spare(r, 1.0)
            self._spare(r, -1.0)
        for r in range(cuts):
            self._spare(rows.base.shape[1] + r, -1.0)

    def _spare(self, row: int, sign: float) -> None:
        self._lp.addCol(DEAR, 0.0, INFINITE, 1, np.array([row], np.int32), np.array([sign]))

    def _solve(self, node: ColumnNode) -> Floats | None:
        """Values of the patterns in a node, whose bound is raised; None when out of time."""
        if self.closed(node):
            return np.zeros(0)
        lp, count = self._lp, len(node.low)
        index = np.arange(count, dtype=np.int32)
        lp.changeColsBounds(count, index, node.low.astype(np.float64), node.high.astype(np.float64))
        number = len(node.least)
        ends = node.least.astype(np.float64), node.most.astype(np.float64)
        lp.changeRowsBounds(number, np.arange(number, dtype=np.int32), *ends)
        if self.work.over() or not run_lp(lp, self.work):
            return None
        self.work.spend(A_NODE + A_CELL * self.rows.base.size)
        solution = lp.getSolution()
        duals = np.array(solution.row_dual)
        if node is self.root:
            self.useful = {c for c, dual in zip(self.in_lp, duals[number:], strict=True) if dual < -1e-9}
        self._raise(node, duals)
        return np.array(solution.col_value)[:count]

    @staticmethod
    def _child(node: ColumnNode, where: tuple[bool, int, int], upper: bool) -> ColumnNode:
        is_row, at, below = where
        ends = (node.low.copy(), node.high.copy(), node.least.copy(), node.most.copy())
        child = ColumnNode(*ends, node.value, node.prices, depth=node.depth + 1)
        least, most = (child.least, child.most) if is_row else (child.low, child.high)
        if upper:
            least[at] = below + 1
        else:
            most[at] = below
        return child

    def _offer_whole(self, values: Floats) -> bool:
        """Offer whole values as a plan; whether they were whole."""
        whole = np.rint(values)
        if float(np.abs(values - whole).max(initial=0.0)) > 1e-6:
            return False
        if (self.rows.base.T[: len(self.problem.demands)] @ whole.astype(np.int64)).tolist() != list(
            self.problem.demands
        ):
            return False
        self._offer_counts(whole.astype(np.int64))
        return True

    def _offer_counts(self, counts: Ints) -> None:
        bars = [
            (int(self.kinds[p]), self._pattern(int(p)), int(counts[p])) for p in np.nonzero(counts > 0)[0]
        ]
        self.bounds.offer(tidy(self.problem, bars))

    def _pattern(self, place: int) -> Pattern:
        return tuple(int(n) for n in self.patterns[place])

    def _dive(self, node: ColumnNode, values: Floats) -> None:
        """Round counts up one after another, largest part first; down where that is too dear."""
        here = self._child(node, (False, 0, int(node.high[0])), False)
        turned = 0
        while turned <= MOST_TURNED and not self.work.over():
            whole = np.floor(values + 1e-6).astype(np.int64)
            part = values - whole
            at = int(part.argmax())
            trial = self._child(here, (False, at, int(whole[at])), True)
            trial.low = np.maximum(trial.low, whole)
            found = self._solve(trial)
            if not self.closed(trial) and found is not None:
                here, values = trial, found
                if self._offer_whole(values):
                    return
                continue
            turned += 1
            here = self._child(here, (False, at, int(whole[at])), False)
            found = self._solve(here)
            if self.closed(here) or found is None or self._offer_whole(found):
                return
            values = found
