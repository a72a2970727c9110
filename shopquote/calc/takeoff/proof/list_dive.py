"""Plans from a list of patterns: what the solver proposes, and dives."""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.takeoff.greedy import greedy_bars
from shopquote.calc.takeoff.master import INFINITE
from shopquote.calc.takeoff.problem import Ints, Pattern, tidy
from shopquote.calc.takeoff.proof.list_program import ListProgram
from shopquote.calc.takeoff.proof.pattern_list import Bools, Floats
from shopquote.calc.takeoff.proof.proposal import proposed

# Units of work: of a round of prices, and of a count in a pattern that it looks at.
A_ROUND, A_COUNT = 400_000, 12
# Lists of at most so many patterns are given to the solver: its time grows faster than theirs.
MOST_PROPOSED = 6000


class ListDives(ListProgram):
    """Dives over the listed patterns."""

    def _propose(self) -> None:
        """Offer what the solver finds over a short list; where it finds none at all, dives are left out."""
        patterns = self.patterns
        if len(patterns) > MOST_PROPOSED:
            return
        bars = proposed(
            self.problem,
            patterns.rows,
            patterns.kinds,
            patterns.costs / self.scale,
            self.root.box,
            self.bounds.target() / self.scale,
            self.work,
        )
        if bars:
            self.bounds.offer(tidy(self.problem, bars))
        self.hopeless = bars == []

    def _dive(self, values: Floats) -> None:
        """Fix bars one after another; price again for what is left."""
        left = np.array(self.problem.demands, np.int64)
        fixed: list[tuple[int, Pattern, int]] = []
        spent = [0] * len(self.problem.kinds)
        lp = self._lp
        rows = np.arange(self._pieces, dtype=np.int32)
        rules = (
            np.arange(self._bar_rows, self._bar_rows + len(self._rule_rows), dtype=np.int32) + self._pieces
        )
        far = np.full(len(rules), INFINITE)
        lp.changeRowsBounds(len(rules), rules, -far, far)
        while left.any() and not self.work.over():
            picks = self._picks(self._weights(values), left, spent)
            for number, times in picks:
                kind = int(self.patterns.kinds[number])
                fixed.append((kind, self._pattern(number), times))
                spent[kind] += times
                left = left - self.patterns.rows[number].astype(np.int64) * times
            if not picks or not left.any():
                break
            lp.changeRowsBounds(self._pieces, rows, left.astype(float), left.astype(float))
            answer = self._refill(left, spent)
            if answer is None:
                break
            values = answer
        demands = np.array(self.problem.demands, np.float64)
        lp.changeRowsBounds(self._pieces, rows, demands, demands)
        if not left.any():
            self.bounds.offer(tidy(self.problem, fixed))
        elif fixed:
            limits = list(self.problem.stock_limits)
            for k, n in enumerate(spent):
                limits[self.problem.stock_of[k]] -= n
            rest = greedy_bars(self.problem, [int(n) for n in left], limits)
            if rest is not None:
                self.bounds.offer(tidy(self.problem, [*fixed, *rest]))

    def _refill(self, left: Ints, spent: Sequence[int]) -> Floats | None:
        """Column generation for what a dive has left."""
        low, high = self.root.box.after(spent, self.problem.stock_of).ends()
        index = np.arange(self._pieces, self._pieces + self._bar_rows, dtype=np.int32)
        self._lp.changeRowsBounds(self._bar_rows, index, np.zeros(len(low)), np.array(high, np.float64))
        fits: Bools = np.logical_and.reduce(self.patterns.rows <= left, axis=1)
        mine = np.nonzero(fits)[0]
        for _ in range(30):
            self._open(fits[np.array(self._numbers, np.int64)])
            answer = self._run()
            if answer is None:
                return None
            self.work.spend(A_ROUND + A_COUNT * len(self.patterns.counts))
            values, duals = answer
            if not self._fresh(self._reduced((), mine, duals), mine, 30):
                return values
        return values

    def _picks(self, weights: Floats, left: Ints, spent: Sequence[int]) -> list[tuple[int, int]]:
        """Listed patterns by number, and how many bars of each."""
        picks: list[tuple[int, int]] = []
        room = left.copy()
        limits = list(self.problem.stock_limits)
        for k, n in enumerate(spent):
            limits[self.problem.stock_of[k]] -= n
        for at in np.argsort(-weights, kind="stable"):
            whole = int(weights[at] + 1e-6)
            if weights[at] < 1e-9 or (picks and not whole):
                break
            number = self._numbers[int(at)]
            row = self.patterns.rows[number].astype(np.int64)
            stock = self.problem.stock_of[int(self.patterns.kinds[number])]
            most = min(int((room[row > 0] // row[row > 0]).min()), limits[stock])
            times = min(max(1, whole), most)
            if times > 0:
                picks.append((number, times))
                room -= row * times
                limits[stock] -= times
            if not whole:
                break
        return picks

    def _weights(self, values: Floats) -> Floats:
        """Values of the pattern columns; 0 for columns that came after the values."""
        places = np.array(self._places, np.int64)
        weights = np.zeros(len(places))
        known = places < len(values)
        weights[known] = values[places[known]]
        return weights
