"""Search over a complete list of patterns, branching on how often one pattern is cut.

Made for jobs with several kinds of bars and credited leftovers, where the list within the
gap is short and each pattern is cut many times. The linear program over the list is
tightened by cuts of mixed-integer rounding, and each pattern's count by its
reduced cost; then branched on. Cuts and bounds are whole numbers: see `Cut` and `Ranges`.
"""

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from math import floor
from random import Random
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.lp import new_lp, run_lp
from shopquote.calc.takeoff.master import EMPTY, INFINITE, Box
from shopquote.calc.takeoff.problem import Ints, Pattern, Problem, Solution, tidy
from shopquote.calc.takeoff.proof.explicit import PatternList
from shopquote.calc.takeoff.work import Work

Floats = npt.NDArray[np.float64]

# Prices are told apart this much finer than the fine units of column generation.
FINER = 1 << 14
# Multipliers of rows are whole parts of SHARES, coefficients of cuts whole parts of PARTS.
SHARES = 1 << 20
PARTS = 1 << 14
MOST_CUTS = 200
# Coefficients of cuts in the linear program.
MOST_SHARES = 200_000
CUTS_A_ROUND = 12
# A round of cuts that closes less than this part of the gap is stale; cuts at a smaller angle are alike.
STALE = 0.01
# A row of the basis is rounded after being taken so many times; more often where patterns are few.
MULTIPLES = (1, -1, 2, -2, 3, -3)
MOST_MULTIPLIED = 1_500
MOST_STALE = 4
# Part of the gap that is left when the root is gone through again.
SHRUNK = 0.8
ALIKE = 0.95
# A dive turns back so often; one starts from every so many nodes.
MOST_TURNED = 8
# A dive by chance rounds one of so many counts.
LIKELY = 6
DIVE_EVERY = 8
# A branch is not divided deeper than this, so that its proof can be written and read.
DEEPEST = 200
# Candidates whose two sides are looked at before branching.
LOOKED_AT = 8
LOOK_STEPS = 25
LARGEST = 1 << 61
# Units of work: of a node or a cut, and of a coefficient that it looks at.
A_NODE, A_CELL = 100_000, 3
# What a piece too few or too many costs in the linear program, in dearest bars.
DEAR = 4.0


@dataclass(frozen=True, slots=True)
class Cut:
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

    def rounded(self, cut: Cut) -> tuple[Ints, int] | None:
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


class ColumnSearch:
    """Best-first search over a complete list of patterns within a box."""

    def __init__(
        self,
        patterns: PatternList,
        box: Box,
        fine: int,
        scale: float,
        work: Work,
        best: Callable[[], int],
        offer: Callable[[Solution | None], None],
    ) -> None:
        self.problem: Problem = patterns.problem
        self.work = work
        self.best, self.offer = best, offer
        self.fine, self.scale = fine, scale
        self.rows = Rows(patterns, box)
        self.patterns = patterns.rows
        self.kinds = patterns.kinds
        self.costs: Ints = patterns.costs
        self.cuts: list[Cut] = []
        # Numbers of the cuts in the linear program, and of those that had a price there last.
        self.in_lp: list[int] = []
        self.useful: set[int] = set()
        # All prices that narrowed the counts at the root, in their order.
        self.rounds: list[tuple[int, ...]] = []
        high = self._most(patterns, box)
        self.root = ColumnNode(np.zeros_like(high), high, self.rows.least, self.rows.most, -EMPTY)
        self.visited, self.most, self.serial, self.before = 0, 0, 0, 0
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

    # ---- bounds -------------------------------------------------------------------------

    @property
    def unit(self) -> int:
        """Cost units are counted so finely in prices and values."""
        return self.fine * FINER

    def target(self) -> int:
        """A plan of at most this value would be cheaper than the best."""
        return (self.best() - self.problem.grid) * self.unit

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

    # ---- linear program -----------------------------------------------------------------

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

    # ---- the root -----------------------------------------------------------------------

    def run(self, most: int = 1 << 40) -> int:
        """Search at most so many more nodes; the least bound in cost units of what is open, else EMPTY.

        Called again, it goes on where it stopped.
        """
        self.most = self.visited + most
        if self._lp is None:
            self._build()
        if self.queue and self._shrunk():
            self.queue = []
        while True:
            if not self.queue:
                values = self._root()
                if self.closed(self.root):
                    return EMPTY
                if values is None:
                    return self._cost_of(self.root.value)
                self.before = self._gap()
                self._dive(self.root, values)
                if self._shrunk():
                    continue
                self.root.children = []
                self.queue = [(self.root.value, 0, self.root)]
            if self._branch():
                return min((self._cost_of(value) for value, _, _ in self.queue), default=EMPTY)
            self.queue = []

    def look(self, tries: int) -> None:
        """Look for one cheaper plan by dives alone, at random after the first."""
        self._build()
        best = self.best()
        values = self._solve(self.root)
        for attempt in range(tries):
            if values is None or self.closed(self.root) or self.best() < best or self.work.over():
                return
            if attempt == 0 and self._offer_whole(values):
                return
            self._dive(self.root, values, Random(attempt) if attempt else None)

    def _gap(self) -> int:
        return self.target() - self.root.value

    def _shrunk(self) -> bool:
        """Whether cheaper plans have made the gap so much smaller that the root is worth narrowing again."""
        if self._gap() > SHRUNK * self.before:
            return False
        found = self._value(self.root, np.array(self.root.prices, np.int64))
        if found is not None and not self.closed(self.root):
            self.rounds.append(self.root.prices)
            self._tighten(self.root, found[1])
        return True

    def _root(self) -> Floats | None:
        """Narrow and cut the root until that hardly helps; its values, None when closed or out of time."""
        stale = 0
        while True:
            before = self.root.value
            values = self._solve(self.root)
            if values is None or self.closed(self.root):
                return None
            if self._offer_whole(values) and self.closed(self.root):
                return None
            if self._drop():
                continue
            stale = stale + 1 if self.root.value - before < STALE * self._gap() else 0
            if stale <= MOST_STALE and self._cut(values):
                continue
            if len(self.useful) == len(self.in_lp):
                return values
            self._build()
            stale = MOST_STALE + 1

    def _cost_of(self, value: int) -> int:
        return -(-value // self.unit)

    def _drop(self) -> bool:
        """Drop the patterns that no cheaper plan uses."""
        live = self.root.high > 0
        if live.all():
            return False
        self.rows.keep(live)
        self.patterns, self.kinds, self.costs = self.patterns[live], self.kinds[live], self.costs[live]
        self.root.low, self.root.high = self.root.low[live], self.root.high[live]
        self._build()
        return True

    def _cut(self, values: Floats) -> bool:
        """Add cuts that the values break; False when there are none or enough."""
        if len(self.cuts) >= MOST_CUTS or len(self.in_lp) * len(self.costs) > MOST_SHARES:
            return False
        chosen: list[Floats] = []
        for cut, coefficients, end in self._broken(values):
            slope = coefficients / float(np.linalg.norm(coefficients))
            if any(float(slope @ other) > ALIKE for other in chosen):
                continue
            chosen.append(slope)
            self.in_lp.append(len(self.cuts))
            self.useful.add(len(self.cuts))
            self.cuts.append(cut)
            self.rows.add(coefficients, end)
            index = np.nonzero(coefficients)[0].astype(np.int32)
            shares = coefficients[index] / float(PARTS)
            self._lp.addRow(-INFINITE, end / float(PARTS), len(index), index, shares)
            self._spare(self._lp.getNumRow() - 1, -1.0)
            if len(chosen) == CUTS_A_ROUND:
                break
        return bool(chosen)

    def _broken(self, values: Floats) -> list[tuple[Cut, Ints, int]]:
        """Cuts from the rows of the basis that these values break, by how far they do."""
        basic = self._lp.getBasicVariables()[1]
        number = len(self.rows.least)
        sums = self.rows.base.T @ values
        low = tuple(int(r) for r in np.nonzero(sums - self.rows.least < self.rows.most - sums)[0])
        moved = self._moved(values, basic)
        found: list[tuple[float, int, Cut, Ints, int]] = []
        for place, column in enumerate(basic):
            if not 0 <= column < len(values) or abs(values[column] - round(values[column])) < 0.01:
                continue
            row = np.array(self._lp.getBasisInverseRow(place)[1])
            if float(np.abs(row).max()) > 1000:
                continue
            for times in MULTIPLES if len(values) <= MOST_MULTIPLIED else MULTIPLES[:2]:
                shares = np.rint(row * (times * SHARES)).astype(np.int64)
                # Whole multiples of a row change nothing.
                shares[:number] = (shares[:number] + SHARES // 2) % SHARES - SHARES // 2
                others = np.zeros(len(self.cuts), np.int64)
                others[self.in_lp] = shares[number:]
                cut = Cut(tuple(shares[:number].tolist()), tuple(others.tolist()), low, moved)
                self.work.spend(A_NODE + 4 * A_CELL * self.rows.base.size)
                made = self.rows.rounded(cut)
                if made is None or not made[0].any():
                    continue
                coefficients, end = made
                norm = float(np.linalg.norm(coefficients))
                depth = (float(coefficients @ values) - end) / norm
                if depth > 1e-4:
                    found.append((depth, len(found), cut, coefficients, end))
        found.sort(key=lambda entry: (-entry[0], entry[1]))
        return [(cut, coefficients, end) for _, _, cut, coefficients, end in found]

    def _moved(self, values: Floats, basic: npt.NDArray[np.int32]) -> tuple[Moved, ...]:
        """Counts at an end that is not 0."""
        ended = values > 1e-6
        ended[basic[(basic >= 0) & (basic < len(values))]] = False
        found = []
        for at in np.nonzero(ended)[0].tolist():
            down = abs(values[at] - self.root.high[at]) < 1e-6
            start = int(self.root.high[at] if down else self.root.low[at])
            if start:
                found.append(Moved(int(self.kinds[at]), self._pattern(at), at, start, bool(down)))
        return tuple(found)

    # ---- plans --------------------------------------------------------------------------

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
        self.offer(tidy(self.problem, bars))

    def _pattern(self, place: int) -> Pattern:
        return tuple(int(n) for n in self.patterns[place])

    def _dive(self, node: ColumnNode, values: Floats, chance: Random | None = None) -> None:
        """Round counts up one after another, largest part first; down where that is too dear."""
        here = self._child(node, (False, 0, int(node.high[0])), False)
        turned = 0
        while turned <= MOST_TURNED and not self.work.over():
            whole = np.floor(values + 1e-6).astype(np.int64)
            part = values - whole
            at = int(part.argmax())
            if chance is not None:
                likely = np.argsort(-part, kind="stable")[:LIKELY]
                at = int(chance.choices(likely.tolist(), (part[likely] ** 2 + 1e-9).tolist())[0])
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

    # ---- branching ----------------------------------------------------------------------

    def _branch(self) -> bool:
        """Best first over the tree; False when it is better to begin at the root again."""
        queue = self.queue
        while queue:
            value, order, node = heapq.heappop(queue)
            if self.closed(node):
                continue
            values = None if self.work.over() or self.visited >= self.most else self._solve(node)
            if self.closed(node):
                continue
            if values is None:
                heapq.heappush(queue, (value, order, node))
                break
            self.visited += 1
            if not self._offer_whole(values) and self.visited % DIVE_EVERY == 1:
                self._dive(node, values)
            if self._shrunk():
                return False
            if self.closed(node):
                continue
            where = self._choose(node, values) if node.depth < DEEPEST else None
            if where is None:
                heapq.heappush(queue, (value, order, node))
                break
            self._split(node, where)
            for child in node.children:
                self.serial += 1
                heapq.heappush(queue, (child.value, -self.serial, child))
        return True

    def _split(self, node: ColumnNode, where: tuple[bool, int, int]) -> None:
        is_row, at, below = where
        node.where = (at if is_row else (int(self.kinds[at]), self._pattern(at)), below)
        node.children = [self._child(node, where, upper) for upper in (False, True)]

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

    def _choose(self, node: ColumnNode, values: Floats) -> tuple[bool, int, int] | None:
        """The row or pattern whose two sides raise the bound most, among the likeliest."""
        sums = self.rows.base.T @ values
        candidates: list[tuple[float, bool, int, float]] = []
        for is_row, numbers in ((True, sums), (False, values)):
            away = np.abs(numbers - np.rint(numbers))
            if is_row:
                away[: len(self.problem.demands)] = 0.0
            for at in np.nonzero(away > 1e-6)[0].tolist():
                candidates.append((float(away[at]) + is_row, is_row, at, float(numbers[at])))
        candidates.sort(key=lambda c: (-c[0], not c[1], c[2]))
        best: tuple[float, tuple[bool, int, int]] | None = None
        basis, start = self._lp.getBasis(), self._lp.getInfo().objective_function_value
        for _, is_row, at, number in candidates[:LOOKED_AT]:
            where = (is_row, at, floor(number))
            gains = [self._gain(node, where, upper, basis) - start for upper in (False, True)]
            score = min(gains) + 0.1 * max(gains)
            if best is None or score > best[0]:
                best = (score, where)
        return None if best is None else best[1]

    def _gain(self, node: ColumnNode, where: tuple[bool, int, int], upper: bool, basis: Any) -> float:
        """What one side would cost after a few steps of the solver, no more than the target: advice only."""
        is_row, at, below = where
        least, most = (node.least, node.most) if is_row else (node.low, node.high)
        change = self._lp.changeRowBounds if is_row else self._lp.changeColBounds
        low, high = int(least[at]), int(most[at])
        change(at, float(below + 1 if upper else low), float(high if upper else below))
        run_lp(self._lp, self.work, LOOK_STEPS)
        cost = float(self._lp.getInfo().objective_function_value)
        change(at, float(low), float(high))
        self._lp.setBasis(basis)
        return min(cost, self.target() / (self.unit * self.scale))
