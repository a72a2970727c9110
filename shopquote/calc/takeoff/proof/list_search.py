"""Branch and bound over a complete list of patterns: begin at `ListSearch.run`.

At the root the linear program over the list is tightened by cuts of mixed-integer rounding (`roundings`), and
the number of times that each pattern may be cut by its reduced cost. Then nodes are branched on, least bound
first: on rows (numbers of bars) and on how often a pattern is cut, or, for one bar length, on pairs of sizes.
Every bound is worked out in whole numbers (`list_program`).
"""

import heapq
from dataclasses import replace
from math import floor
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.best import BestPlan
from shopquote.calc.takeoff.lp import INFINITE, Floats, run_lp
from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.problem import Ints
from shopquote.calc.takeoff.proof.list_program import A_CELL, A_NODE, Division, ListNode, ListProgram
from shopquote.calc.takeoff.proof.pattern_list import Listing
from shopquote.calc.takeoff.proof.roundings import PARTS, SHARES, Bound, RoundingCut, rounded

# Cuts in all, coefficients in them, and cuts a round: they bound what a proof takes to read and a round to
# solve. Without any 3 of 50 jobs lost their proof; 20 jobs took 77 at most in 2 s.
MOST_CUTS = 200
MOST_SHARES = 200_000
# By 12 a round, ended after four that closed hardly anything, 820 nodes did not close a list that these close
# without any; of 110 jobs, with counts at an end reckoned from there, 2 lost their proof so and 2 won one.
CUTS_A_ROUND = 40
# Cutting planes with a cosine above this are near-parallel: the deeper one is kept. By 0.9 and 0.999 six hard
# jobs came out the same.
ALIKE = 0.95
# A row of the basis is rounded after being taken so many times; by 1 and -1 alone where patterns are many,
# since each takes a look at all of them. By 1 and -1 alone, and by up to 6, the six came out the same.
MULTIPLES = (1, -1, 2, -2, 3, -3)
MOST_MULTIPLIED = 1_500
# A branch is not divided deeper than this, so that its proof can be written and read.
DEEPEST = 200
# Rows and patterns whose two sides are looked at before branching, and steps of the solver for each look.
# By 12 steps five credited jobs came out the same; by 50 nine did, but for one that was proven besides.
LOOKED_AT = 8
LOOK_STEPS = 25


class ListSearch(ListProgram):
    """Best-first search over a complete list of patterns within a box."""

    def __init__(self, listing: Listing, best: BestPlan) -> None:
        super().__init__(listing, best)
        self.visited, self.most, self.serial = 0, 0, 0
        self.queue: list[tuple[int, int, ListNode]] = []

    def run(self, most: int = 1 << 40) -> int:
        """Search at most so many more nodes; the least bound in cost units of what is open, else EMPTY.

        Called again, it goes on where it stopped.
        """
        self.most = self.visited + most
        if self._lp is None:
            self._build()
        if not self.queue:
            values = self._root()
            if self.closed(self.root):
                return EMPTY
            if values is None:
                return self._cost_of(self.root.value)
            if not self.hopeless:
                self._dive(self.root, values)
            self.root.children = []
            self.queue = [(self.root.value, 0, self.root)]
        self._branch()
        return min((self._cost_of(value) for value, _, _ in self.queue), default=EMPTY)

    def _root(self) -> Floats | None:
        """Narrow and cut the root until that hardly helps; its values, None when closed or out of time."""
        # To end the cuts after rounds in a row that close hardly anything changed none of ten jobs.
        cutting = True
        while True:
            values = self._solve(self.root)
            if values is None or self.closed(self.root):
                return None
            if self._offer_whole(values) and self.closed(self.root):
                return None
            if self._drop():
                continue
            if cutting and self._cut(values):
                continue
            if len(self.useful) == len(self.in_lp):
                return values
            self._build()
            cutting = False

    def _cost_of(self, value: int) -> int:
        return -(-value // self.unit)

    def _drop(self) -> bool:
        """Drop the patterns that no cheaper plan uses."""
        live = self.root.high > 0
        if live.all():
            return False
        self.listed.keep(live)
        self.root.low, self.root.high = self.root.low[live], self.root.high[live]
        self._build()
        return True

    def _cut(self, values: Floats) -> bool:
        """Add cuts that the values break; False when there are none or enough."""
        if len(self.cuts) >= MOST_CUTS or len(self.cuts) * len(self.listed) > MOST_SHARES:
            return False
        chosen: list[Floats] = []
        for cut, coefficients, end in self._broken(values):
            slope = coefficients / _length(coefficients)
            if any(float((slope * other).sum()) > ALIKE for other in chosen):
                continue
            chosen.append(slope)
            self.in_lp.append(len(self.cuts))
            self.useful.add(len(self.cuts))
            self.cuts.append(cut)
            self.listed.add_cut(coefficients, end)
            index = np.nonzero(coefficients)[0].astype(np.int32)
            parts = coefficients[index] / float(PARTS)
            self._lp.addRow(-INFINITE, end / float(PARTS), len(index), index, parts)
            self._spare(self._lp.getNumRow() - 1, -1.0)
            if len(chosen) == CUTS_A_ROUND:
                break
        return bool(chosen)

    def _broken(self, values: Floats) -> list[tuple[RoundingCut, Ints, int]]:
        """Cuts from the rows of the basis that these values break, by how far they do."""
        basic = self._lp.getBasicVariables()[1]
        number = len(self.listed.least)
        sums = sums_of(self.listed.base, values)
        # Whole multiples of a row change nothing, so that a share can have the sign of the end that it is at.
        least, most = self.listed.least, self.listed.most
        off = np.where(least == most, SHARES // 2, np.where(sums - least < most - sums, SHARES - 1, 0))
        ended = self._ended(values, basic)
        found: list[tuple[float, int, RoundingCut, Ints, int]] = []
        for place, column in enumerate(basic):
            if not 0 <= column < len(values) or abs(values[column] - round(values[column])) < 0.01:
                continue
            row = np.array(self._lp.getBasisInverseRow(place)[1])
            if float(np.abs(row).max()) > 1000:
                continue
            for times in MULTIPLES if len(values) <= MOST_MULTIPLIED else MULTIPLES[:2]:
                part = np.rint(row * (times * SHARES)).astype(np.int64)
                shares = np.zeros(number + len(self.cuts), np.int64)
                shares[:number] = ((part[:number] + off) % SHARES - off) * PARTS
                shares[[number + cut for cut in self.in_lp]] = part[number:]
                self.work.spend(A_NODE // 2 + A_CELL * self.listed.base.size)
                cut = RoundingCut(shares, tuple(replace(bound) for bound in ended))
                made = None if (shares[number:] < 0).any() else rounded(self.listed, cut)
                if made is None or not made[0].any():
                    continue
                coefficients, end = made
                depth = (float(sums_of(coefficients[:, None], values)[0]) - end) / _length(coefficients)
                if depth > 1e-4:
                    found.append((depth, len(found), cut, coefficients, end))
        found.sort(key=lambda entry: (-entry[0], entry[1]))
        return [entry[2:] for entry in found]

    def _ended(self, values: Floats, basic: npt.NDArray[np.int32]) -> list[Bound]:
        """Bounds of the counts at an end that is not 0."""
        ended = values > 1e-6
        ended[basic[(basic >= 0) & (basic < len(values))]] = False
        found = []
        for at in np.nonzero(ended)[0].tolist():
            down = abs(values[at] - self.root.high[at]) < 1e-6
            start = int(self.root.high[at] if down else self.root.low[at])
            if start:
                found.append(
                    Bound(int(self.listed.kinds[at]), self.listed.pattern(at), at, start, bool(down))
                )
        return found

    def _branch(self) -> None:
        """Best first over the tree."""
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
            # Dives from every eighth node found nothing in 11 credited jobs, for a tenth of the work of six.
            self._offer_whole(values)
            if self.closed(node):
                continue
            where = self._choose(node, values) if node.depth < DEEPEST else None
            if where is None:
                heapq.heappush(queue, (value, order, node))
                break
            most_bars = int(self.root.most[-1])
            node.where = where
            node.children = [node.part(where, upper, most_bars) for upper in (False, True)]
            for child in node.children:
                self.serial += 1
                heapq.heappush(queue, (child.value, -self.serial, child))

    def _choose(self, node: ListNode, values: Floats) -> Division | None:
        """What to branch on; None where all numbers are whole."""
        plain = len(self.listed.problem.kinds) == 1
        return (self._pair(node, values) if plain else None) or self._row_or_pattern(node, values)

    def _pair(self, node: ListNode, values: Floats) -> Division | None:
        """The pair of sizes whose number of bars that hold both is most fractional; None if all are whole.

        For one bar length alone: there patterns are cut once or twice, and one less of thousands closes
        little, while a pair closes all patterns that hold both sizes, or only one of them. To prefer parts
        nearer to fewer or to more bars made no difference to the one of 30 lists that came to pairs.
        """
        live = np.nonzero(values > 1e-9)[0]
        rows, share = self.listed.patterns[live], values[live][:, None]
        has = (rows > 0).astype(np.float64)
        together = np.array([sums_of(has, column) for column in (has * share).T])
        np.fill_diagonal(together, ((rows > 1) * share).sum(axis=0))
        away = np.triu(np.abs(together - np.rint(together)))
        for pair in node.pairs:
            away[pair] = 0.0
        one, other = divmod(int(away.argmax()), len(away))
        if away[one, other] <= 1e-6:
            return None
        return Division("pair", 0, floor(together[one, other]), (one, other))

    def _row_or_pattern(self, node: ListNode, values: Floats) -> Division | None:
        """The row or pattern whose two sides raise the bound most, among the likeliest."""
        sums = sums_of(self.listed.base, values)
        candidates: list[tuple[float, bool, Division]] = []
        for is_row, numbers in ((True, sums), (False, values)):
            away = np.abs(numbers - np.rint(numbers))
            if is_row:
                away[: len(self.listed.problem.demands)] = 0.0
            for at in np.nonzero(away > 1e-6)[0].tolist():
                division = Division("row" if is_row else "pattern", at, floor(numbers[at]))
                candidates.append((float(away[at]) + is_row, is_row, division))
        candidates.sort(key=lambda c: (-c[0], not c[1], c[2].at))
        best: tuple[float, Division] | None = None
        basis, start = self._lp.getBasis(), self._lp.getInfo().objective_function_value
        for _, _, division in candidates[:LOOKED_AT]:
            gains = [self._gain(node, division, upper, basis) - start for upper in (False, True)]
            score = min(gains) + 0.1 * max(gains)
            if best is None or score > best[0]:
                best = (score, division)
        return None if best is None else best[1]

    def _gain(self, node: ListNode, division: Division, upper: bool, basis: Any) -> float:
        """What one side would cost after a few steps of the solver, no more than the target: advice only."""
        is_row, at, below = division.what == "row", division.at, division.below
        least, most = (node.least, node.most) if is_row else (node.low, node.high)
        change = self._lp.changeRowBounds if is_row else self._lp.changeColBounds
        low, high = int(least[at]), int(most[at])
        change(at, float(below + 1 if upper else low), float(high if upper else below))
        run_lp(self._lp, self.work, LOOK_STEPS)
        cost = float(self._lp.getInfo().objective_function_value)
        change(at, float(low), float(high))
        self._lp.setBasis(basis)
        return min(cost, self.target() / (self.unit * self.scale))


def sums_of(rows: Ints | Floats, values: Floats) -> Floats:
    """What rows add up to, each so many times, term by term.

    A product of matrices adds up in an order that depends on the processor and its cores, and so would plans.
    """
    live = np.nonzero(values)[0]
    return np.asarray((rows[live] * values[live, None]).sum(axis=0), np.float64)


def _length(coefficients: Ints) -> float:
    """The length of a cut's normal; added up like `sums_of`."""
    return float(np.sqrt(np.square(coefficients.astype(np.float64)).sum()))
