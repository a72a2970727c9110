"""Plans from a list of patterns: what the solver proposes, and dives."""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.takeoff.greedy import greedy_bars
from shopquote.calc.takeoff.master import INFINITE
from shopquote.calc.takeoff.problem import Ints, Pattern, tidy
from shopquote.calc.takeoff.proof.list_program import ListProgram, _Column
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
        if self.open_kinds or len(patterns) > MOST_PROPOSED:
            return
        bars = proposed(
            self.problem,
            patterns.rows,
            patterns.kinds,
            patterns.costs / self.scale,
            self.root.box,
            (self.best() - self.problem.grid) / self.scale,
            self.work,
        )
        if bars:
            self.offer(tidy(self.problem, bars))
        self._hopeless = bars == []

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
            for column, times in picks:
                fixed.append((column.kind, column.pattern, times))
                spent[column.kind] += times
                left = left - np.array(column.pattern, np.int64) * times
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
            self.offer(tidy(self.problem, fixed))
        elif fixed:
            limits = list(self.problem.stock_limits)
            for k, n in enumerate(spent):
                limits[self.problem.stock_of[k]] -= n
            rest = greedy_bars(self.problem, [int(n) for n in left], limits)
            if rest is not None:
                self.offer(tidy(self.problem, [*fixed, *rest]))

    def _refill(self, left: Ints, spent: Sequence[int]) -> Floats | None:
        """Column generation for what a dive has left."""
        low, high = self.root.box.after(spent, self.problem.stock_of).rows()
        index = np.arange(self._pieces, self._pieces + self._bar_rows, dtype=np.int32)
        self._lp.changeRowsBounds(self._bar_rows, index, np.zeros(len(low)), np.array(high))
        fits = (self.patterns.rows <= left).all(axis=1)
        mine = np.nonzero(fits)[0]
        bounds = [int(n) for n in left]
        unit = self.scale * self.fine
        for _ in range(30):
            self._open(self._fitting(left))
            answer = self._run()
            if answer is None:
                return None
            self.work.spend(A_ROUND + A_COUNT * len(self.patterns.counts))
            values, duals = answer
            fresh = self._fresh(self._reduced((), mine, duals), mine, 30)
            if self.open_kinds:
                prices = np.rint(duals[: self._pieces] * unit).astype(np.int64)
                reduced, makers = self._price_open(prices, bounds)
                bars = self._bar_prices(duals) * unit
                for k in self.open_kinds:
                    if reduced[k] - bars[k] < -1e-7 * unit:
                        fresh += self._add_open(k, makers[k]())
            if not fresh:
                return values
        return values

    def _fitting(self, left: Ints) -> Bools:
        """Which columns hold no more of any piece than is still to be cut."""
        numbers = np.array(self._numbers, np.int64)
        fits = np.ones(len(numbers), np.bool_)
        listed = numbers >= 0
        fits[listed] = (self.patterns.rows[numbers[listed]] <= left).all(axis=1)
        for at in np.nonzero(~listed)[0]:
            fits[at] = bool((np.array(self._columns[at].pattern, np.int64) <= left).all())
        return fits

    def _picks(self, weights: Floats, left: Ints, spent: Sequence[int]) -> list[tuple[_Column, int]]:
        picks: list[tuple[_Column, int]] = []
        room = left.copy()
        limits = list(self.problem.stock_limits)
        for k, n in enumerate(spent):
            limits[self.problem.stock_of[k]] -= n
        for at in np.argsort(-weights, kind="stable"):
            whole = int(weights[at] + 1e-6)
            if weights[at] < 1e-9 or (picks and not whole):
                break
            column = self._columns[int(at)]
            row = np.array(column.pattern, np.int64)
            if not row.any():
                continue
            stock = self.problem.stock_of[column.kind]
            most = min(int((room[row > 0] // row[row > 0]).min()), limits[stock])
            times = min(max(1, whole), most)
            if times > 0:
                picks.append((column, times))
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
