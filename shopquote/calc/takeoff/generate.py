"""Column generation: patterns that are worth more than their bar at the prices of the last linear program."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from shopquote.calc.takeoff.best import Progress
from shopquote.calc.takeoff.bounds import Bounds, Place
from shopquote.calc.takeoff.master import EMPTY, Answer, Box, Master
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import CutProblem
from shopquote.calc.takeoff.work import Work


class Generation(Bounds):
    """Bounds with a linear program over the patterns found so far."""

    def __init__(
        self, problem: CutProblem, work: Work, progress: Progress | None = None, known: int | None = None
    ) -> None:
        super().__init__(problem, work, progress, known)
        self.master: Master | None = None

    @cached_property
    def _alone(self) -> list[int]:
        """Units that a piece of each size takes by itself: with the opening of its block."""
        problem = self.problem
        openings = [problem.openings[block] if block >= 0 else 0 for block in problem.blocks]
        return [size + opening for size, opening in zip(problem.sizes, openings, strict=True)]

    def start(self) -> None:
        """The linear program with the first columns."""
        self.master = Master(self.problem, self.scale)
        for kind, pattern, _ in self.best.bars if self.best else ():
            self.work.check()
            self.master.add(kind, pattern)
        for number in range(len(self.problem.kinds)):
            self.work.check()
            self._single(number)

    def _single(self, number: int) -> None:
        """One column for each kind of piece, so that the first prices mean something."""
        assert self.master is not None
        kind = self.problem.kinds[number]
        for i, size in enumerate(self.problem.sizes):
            fit = min(self.problem.demands[i], (kind.capacity - self._alone[i] + size) // size)
            if fit > 0 and kind.holds(i):
                self.work.check()
                pattern = [0] * len(self.problem.sizes)
                pattern[i] = fit
                self.master.add(number, tuple(pattern))

    def whole_prices(self, answer: Answer) -> list[int]:
        """Prices of the linear program as whole numbers of fine units, none below 0."""
        prices = np.maximum(answer.prices, 0.0) * (self.scale * self.fine)
        return [int(price) for price in prices]

    def generate(self, node: Node, *, whole: bool = False) -> Answer | None:
        """Column generation in a node's box; raises its bound as it goes."""
        master = self.master
        assert master is not None
        if node.box.least([0] * len(self.problem.kinds), self.problem.stock_of) >= EMPTY:
            node.bound = EMPTY
            return None
        master.set_box(node.box)
        master.set_demands(self.problem.demands)
        master.allow(np.ones(len(master.columns), np.bool_))
        while not self.work.over():
            answer = master.solve(self.work)
            if answer is None:
                return None
            prices = self.whole_prices(answer)
            reduced, places = self.price_out(prices, self.tables)
            self.raise_bound(node, prices, reduced)
            if self.beaten(node.bound):
                return answer
            found = self.add_columns(prices, answer, reduced, places, self.problem.demands)
            if not found:
                node.counts = self.counts_of(answer)
                return answer
            if (
                not whole
                and node.box.total_low == 0
                and node.bound >= self.lift(int(answer.objective * self.scale * self.fine * (1 - 1e-9)))
            ):
                node.counts = self.counts_of(answer)
                return answer
        return None

    def reprice(
        self, box: Box, demands: Sequence[float], most: Sequence[int], rounds: int | None = None
    ) -> Answer | None:
        """Rounds of column generation; None when out of work.

        Args:
            box: numbers of bars allowed.
            demands: pieces of each size that are asked for, in fractions too.
            most: pieces of each size that a pattern holds at most.
            rounds: rounds at most; None: until no pattern is worth more.
        """
        master = self.master
        assert master is not None
        master.set_box(box)
        master.set_demands(demands)
        tables = self.tables if tuple(most) == self.problem.demands else self.knapsacks(most)
        done = 0
        while True:
            master.allow(np.asarray((master.matrix <= np.array(most, np.int64)).all(axis=1), np.bool_))
            answer = master.solve(self.work)
            if answer is None or self.work.over():
                return answer
            prices = self.whole_prices(answer)
            reduced, places = self.price_out(prices, tables)
            done += 1
            if not self.add_columns(prices, answer, reduced, places, most) or done == rounds:
                return answer

    def add_columns(
        self,
        prices: Sequence[int],
        answer: Answer,
        reduced: Sequence[int],
        places: Sequence[Place],
        demands: Sequence[int],
    ) -> int:
        """Add the best pattern of each kind, and the best ones that hold a certain piece."""
        master = self.master
        assert master is not None
        found = 0
        unit = self.scale * self.fine
        for k in range(len(self.problem.kinds)):
            offset = answer.kind_prices[k] * unit
            if reduced[k] - offset >= -1e-7 * unit:
                continue
            table, mask, at = places[k]
            found += master.add(k, table.pattern(mask, at))
            if self.credits[k] is None and self.problem.kinds[k].limit > 1:
                found += self._more_columns(k, prices, offset, places[k], demands)
        return found

    def _more_columns(
        self, k: int, prices: Sequence[int], offset: float, place: Place, demands: Sequence[int]
    ) -> int:
        """For each piece the best pattern that holds it, dearest pieces first."""
        assert self.master is not None
        kind = self.problem.kinds[k]
        table, mask, _ = place
        gains = [
            (prices[i] + table.most(mask, kind.capacity - size), i)
            for i, size in enumerate(self._alone)
            if demands[i] and size <= kind.capacity and kind.holds(i)
        ]
        least = kind.cost * self.fine - offset + 1e-7 * self.scale * self.fine
        found = 0
        for gain, i in sorted(gains, reverse=True)[: max(2, len(gains) // 4)]:
            if gain <= least:
                break
            self.work.check()
            pattern = list(table.pattern(mask, kind.capacity - self._alone[i]))
            pattern[i] += 1
            if pattern[i] <= demands[i]:
                found += self.master.add(k, tuple(pattern))
        return found

    def counts_of(self, answer: Answer) -> tuple[float, ...]:
        """Numbers of bars of each kind, as the linear program has them: fractions."""
        master = self.master
        assert master is not None
        counts = [0.0] * len(self.problem.kinds)
        for (kind, _), value in zip(master.columns, answer.values, strict=False):
            counts[kind] += float(value)
        return tuple(counts)
