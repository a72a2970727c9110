"""The linear program over the counts of listed patterns, bounds from its prices, and plans found there."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from shopquote.calc.frozen import dataclass as frozen_dataclass
from shopquote.calc.takeoff.best import FINER, BestPlan
from shopquote.calc.takeoff.lp import INFINITE, Floats, add_columns, add_rows, new_lp, run_lp
from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.problem import Ints, tidy
from shopquote.calc.takeoff.proof.pattern_list import Listing
from shopquote.calc.takeoff.proof.proposal import proposed
from shopquote.calc.takeoff.proof.roundings import LARGEST, PARTS, RoundingCut

# Times that a dive turns back, from rounding a count up to rounding it down, before it ends. By 4 and 16 six
# hard jobs came out the same.
MOST_TURNED = 8
# Units of work: of a node or a cut, and of a coefficient that it looks at. 43 nodes took 1.8 times what was
# counted, cuts 0.4 of it, both 0.5.
A_NODE, A_CELL = 150_000, 5
# What a piece too few or too many costs in the linear program, in dearest bars. By 2 and 8 the six came out
# the same.
DEAR = 4.0

# Two sizes that some bars hold together; twice the same: two pieces of it.
Pair = tuple[int, int]


@frozen_dataclass(frozen=True, slots=True)
class Division:
    """How a node is branched on: at most `below` in one part, more in the other.

    `what` is counted: a row of the problem by its number `at`, how often the pattern at the place `at` is
    cut, or the bars that hold both sizes of a `pair`.
    """

    what: Literal["row", "pattern", "pair"]
    at: int
    below: int
    pair: Pair = (0, 0)


@dataclass(slots=True)
class ListNode:
    """Plans that cut each pattern from `low` to `high` times, with rows between `least` and `most`.

    `low`, `high`: one number a live pattern. `least`, `most`: one a row of the problem, then one for each of
    the `pairs` that nodes above were divided by. Whole `prices` of the rows of the problem, of all cuts and
    of the pairs, in this order, show that plans cost at least `value` (in 1/`ListProgram.unit`); prices
    missing at the end are 0. `where` it was divided, into `children`.
    """

    low: Ints
    high: Ints
    least: Ints
    most: Ints
    value: int
    prices: tuple[int, ...] = ()
    pairs: tuple[Pair, ...] = ()
    depth: int = 0
    where: Division | None = None
    children: list["ListNode"] = field(default_factory=list)

    def part(self, division: Division, upper: bool, most_bars: int = 0) -> "ListNode":
        """The part with at most `below`, or (`upper`) with more.

        `most_bars`: the most of all bars; no more of them hold a pair.
        """
        ends = (self.low.copy(), self.high.copy(), self.least.copy(), self.most.copy())
        child = ListNode(*ends, self.value, self.prices, self.pairs, self.depth + 1)
        at = division.at
        if division.what == "pair":
            at, child.pairs = len(self.least), (*self.pairs, division.pair)
            child.least, child.most = np.append(self.least, 0), np.append(self.most, most_bars)
        by_count = division.what == "pattern"
        least, most = (child.low, child.high) if by_count else (child.least, child.most)
        if upper:
            least[at] = division.below + 1
        else:
            most[at] = division.below
        return child


class ListProgram:
    """The program of a search over a complete list of patterns.

    Args:
        listing: the patterns, and what they passed.
        best: the best plan so far; plans found here are offered to it.
    """

    def __init__(self, listing: Listing, best: BestPlan) -> None:
        self.listed, self.listing = listing.listed, listing
        self.best, self.fine, self.scale, self.work = best, best.fine, best.scale, best.work
        self.cuts: list[RoundingCut] = []
        # Numbers of the cuts in the linear program, and of those that had a price there last.
        self.in_lp: list[int] = []
        self.useful: set[int] = set()
        # All prices that narrowed the counts at the root, in their order.
        self.rounds: list[tuple[int, ...]] = []
        high = self.listed.times()
        self.root = ListNode(np.zeros_like(high), high, self.listed.least, self.listed.most, -EMPTY)
        self._lp: Any = None
        # The rows of pairs in the linear program; they come last.
        self._pair_rows: dict[Pair, int] = {}
        # The solver believes that no plan is cheaper: dives are left out.
        self.hopeless = False

    @property
    def unit(self) -> int:
        """Cost units are counted so finely in prices and values."""
        return self.fine * FINER

    def dearest(self) -> int:
        """The dearest plan that is looked for: cheaper than the best, and all in the list."""
        return min(self.listing.dearest, self.best.target())

    def target(self) -> int:
        """The value of the dearest plan that is looked for."""
        return self.dearest() * self.unit

    def closed(self, node: ListNode) -> bool:
        """Whether no plan in the node is cheaper."""
        if (node.low > node.high).any() or (node.least > node.most).any():
            node.value = EMPTY
        return node.value > self.target()

    def _value(self, node: ListNode, prices: Ints) -> tuple[int, Ints] | None:
        """Least cost in a node at whole prices of all rows, and the reduced costs; None if too large.

        Prices are those of a `ListNode`; of cuts, none above 0, they are for each 1/PARTS.
        """
        listed, pairs = self.listed, self._holding(node.pairs)
        number, cuts = len(listed.least), len(self.cuts)
        mine, others = np.delete(prices, np.s_[number : number + cuts]), prices[number : number + cuts]
        if self._too_large(node, mine, others):
            return None
        reduced = listed.costs * self.unit - listed.base @ mine[:number] - pairs @ mine[number:]
        reduced -= listed.cuts @ others
        total = int(np.where(mine >= 0, node.least, node.most) @ mine)
        total += int(listed.cut_ends @ others)
        total += int((np.where(reduced >= 0, node.low, node.high) * reduced).sum())
        return total, reduced

    def _too_large(self, node: ListNode, mine: Ints, others: Ints) -> bool:
        """Whether a sum could pass 64 bits, at prices of rows and of cuts."""
        listed, number = self.listed, len(self.listed.least)
        mine_far, others_far = np.abs(mine.astype(np.float64)), np.abs(others.astype(np.float64))
        each = listed.costs * float(self.unit) + listed.base @ mine_far[:number] + mine_far[number:].sum()
        each += np.abs(listed.cuts) @ others_far
        ends = float(np.abs(node.most) @ mine_far) + float(np.abs(listed.cut_ends) @ others_far)
        return float(each @ node.high) + ends + float(each.max(initial=0.0)) > LARGEST

    def _holding(self, pairs: Sequence[Pair]) -> Ints:
        """Which patterns hold each of these pairs: 1 or 0, a column for each."""
        held = np.zeros((len(self.listed), len(pairs)), np.int64)
        for at, (one, other) in enumerate(pairs):
            first, second = self.listed.patterns[:, one], self.listed.patterns[:, other]
            held[:, at] = first >= 2 if one == other else (first > 0) & (second > 0)
        return held

    def _tighten(self, node: ListNode, reduced: Ints) -> None:
        """Narrow the counts to those of cheaper plans."""
        gap = max(0, self.target() - node.value)
        room = gap // np.maximum(1, np.abs(reduced))
        low, high = node.low, node.high
        node.high = np.where(reduced > 0, np.minimum(high, low + room), high)
        node.low = np.where(reduced < 0, np.maximum(low, high - room), low)

    def _raise(self, node: ListNode, duals: Floats) -> None:
        """Raise a node's bound by the duals as whole prices, and narrow its counts."""
        number, unit = len(self.listed.least), self.scale * self.unit
        cuts, pairs = np.zeros(len(self.cuts)), duals[[self._pair_rows[pair] for pair in node.pairs]]
        cuts[self.in_lp] = duals[number : number + len(self.in_lp)] / PARTS
        whole = np.rint(np.concatenate([duals[:number], np.minimum(0.0, cuts), pairs]) * unit)
        prices = whole.astype(np.int64)
        found = self._value(node, prices)
        if found is not None and found[0] > node.value:
            node.value, node.prices = found[0], tuple(int(p) for p in prices)
            if node is self.root:
                self.rounds.append(node.prices)
            if not self.closed(node):
                self._tighten(node, found[1])

    def _build(self) -> None:
        """The linear program over the live patterns and the useful cuts; dear columns keep it feasible."""
        listed = self.listed
        self.in_lp = [number for number in self.in_lp if number in self.useful]
        cuts = len(self.in_lp)
        matrix = np.concatenate([listed.base, listed.cuts[:, self.in_lp] / PARTS], axis=1)
        cut_ends = listed.cut_ends[self.in_lp] / PARTS
        self._lp, self._pair_rows = new_lp(), {}
        self._lp.setOptionValue("simplex_strategy", 1)
        add_rows(self._lp, [*listed.least, *[-INFINITE] * cuts], [*listed.most, *cut_ends])
        add_columns(self._lp, matrix, listed.costs / self.scale, np.full(len(listed), INFINITE))
        for r in range(len(listed.least)):
            self._spare(r, 1.0)
            self._spare(r, -1.0)
        for r in range(cuts):
            self._spare(len(listed.least) + r, -1.0)

    def _spare(self, row: int, sign: float) -> None:
        """A dear column that keeps the program feasible."""
        self._lp.addCol(DEAR, 0.0, INFINITE, 1, np.array([row], np.int32), np.array([sign]))

    def _set_rows(self, node: ListNode) -> None:
        """The ends of a node's rows; pairs of other nodes are free."""
        number = len(self.listed.least)
        for pair in node.pairs:
            if pair not in self._pair_rows:
                row = self._pair_rows[pair] = self._lp.getNumRow()
                index = np.nonzero(self._holding([pair]))[0].astype(np.int32)
                self._lp.addRow(-INFINITE, INFINITE, len(index), index, np.ones(len(index)))
                self._spare(row, 1.0)
                self._spare(row, -1.0)
        mine = [*range(number), *(self._pair_rows[pair] for pair in node.pairs)]
        others = [row for pair, row in self._pair_rows.items() if pair not in node.pairs]
        index = np.array([*mine, *others], np.int32)
        far = np.full(len(others), INFINITE)
        self._lp.changeRowsBounds(
            len(index), index, np.concatenate([node.least, -far]), np.concatenate([node.most, far])
        )

    def _solve(self, node: ListNode) -> Floats | None:
        """Values of the patterns in a node, whose bound is raised; None when out of time."""
        if self.closed(node):
            return np.zeros(0)
        lp, count = self._lp, len(node.low)
        index = np.arange(count, dtype=np.int32)
        lp.changeColsBounds(count, index, node.low.astype(np.float64), node.high.astype(np.float64))
        self._set_rows(node)
        if self.work.over() or not run_lp(lp, self.work):
            return None
        self.work.spend(A_NODE + A_CELL * self.listed.base.size)
        solution = lp.getSolution()
        duals = np.array(solution.row_dual)
        if node is self.root:
            of_cuts = duals[len(node.least) :]
            self.useful = {c for c, dual in zip(self.in_lp, of_cuts, strict=True) if dual < -1e-9}
        self._raise(node, duals)
        return np.array(solution.col_value)[:count]

    def _offer_whole(self, values: Floats) -> bool:
        """Offer whole values as a plan; whether they were whole."""
        whole = np.rint(values)
        if float(np.abs(values - whole).max(initial=0.0)) > 1e-6:
            return False
        counts, demands = whole.astype(np.int64), self.listed.problem.demands
        if (self.listed.base.T[: len(demands)] @ counts).tolist() != list(demands):
            return False
        self.best.offer(tidy(self.listed.problem, self.listed.bars(counts)))
        return True

    def propose(self) -> None:
        """Offer the plan that the solver finds over the list, if any."""
        counts = proposed(self.listed, self.scale, self.target() / (self.unit * self.scale), self.work)
        self.hopeless = counts is not None and not counts.any()
        if counts is not None:
            self.best.offer(tidy(self.listed.problem, self.listed.bars(counts)))

    def _dive(self, node: ListNode, values: Floats) -> None:
        """Round counts up one after another, largest part first; down where that is too dear."""
        here, turned = replace(node, where=None, children=[]), 0
        while turned <= MOST_TURNED and not self.work.over():
            whole = np.floor(values + 1e-6).astype(np.int64)
            part = values - whole
            at = int(part.argmax())
            rounded = Division("pattern", at, int(whole[at]))
            trial = here.part(rounded, upper=True)
            trial.low = np.maximum(trial.low, whole)
            found = self._solve(trial)
            if not self.closed(trial) and found is not None:
                here, values = trial, found
                if self._offer_whole(values):
                    return
                continue
            turned += 1
            here = here.part(rounded, upper=False)
            found = self._solve(here)
            if self.closed(here) or found is None or self._offer_whole(found):
                return
            values = found
