"""All ways to buy so many bars of each length that could still be cheaper, struck out by cuts.

With given prices of the pieces, bars n can only hold everything if the sum over kinds of
n * (most that one bar is worth) reaches the worth of all pieces. Each set of prices so
strikes out a half of the possible purchases; few sets strike out all.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.problem import Ints, Problem

MOST_KINDS = 4
MOST_ROWS = 2_000_000


@dataclass(frozen=True, slots=True)
class Cut:
    """Whole prices, the worth of all pieces, and of the fullest bar of each kind."""

    prices: tuple[int, ...]
    worth: int
    bars: tuple[int, ...]


class Purchases:
    """Numbers of bars of the kinds that cost money; free kinds are always all there."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.paid = [k for k, kind in enumerate(problem.kinds) if kind.cost]
        self.free = [k for k, kind in enumerate(problem.kinds) if not kind.cost]
        self.rows: Ints = np.zeros((0, len(self.paid)), np.int64)
        self.costs: Ints = np.zeros(0, np.int64)

    def fill(self, cut: Cut, most: int) -> bool:
        """List all purchases of at most this cost that a cut leaves; False when they are too many."""
        kinds = self.problem.kinds
        paid = sorted(self.paid, key=lambda k: kinds[k].cost, reverse=True)
        if not paid or len(paid) > MOST_KINDS or min(cut.bars[k] for k in paid) <= 0:
            return False
        rows: Ints = np.zeros((1, 0), np.int64)
        cost: Ints = np.zeros(1, np.int64)
        need: Ints = np.full(1, cut.worth - self._free_worth(cut), np.int64)
        for place, k in enumerate(paid):
            high = np.minimum((most - cost) // kinds[k].cost, kinds[k].limit)
            last = place == len(paid) - 1
            low = np.maximum(0, -(-need // cut.bars[k])) if last else np.zeros(len(rows), np.int64)
            count = np.maximum(0, high - low + 1)
            if int(count.sum()) > MOST_ROWS:
                return False
            at = np.repeat(np.arange(len(rows)), count)
            first = np.repeat(np.cumsum(count) - count, count)
            n = np.arange(len(at)) - first + low[at]
            rows = np.column_stack([rows[at], n])
            cost, need = cost[at] + n * kinds[k].cost, need[at] - n * cut.bars[k]
        order = [paid.index(k) for k in self.paid]
        self.rows, self.costs = rows[:, order], cost
        return True

    def _free_worth(self, cut: Cut) -> int:
        return sum(cut.bars[k] * self.problem.kinds[k].limit for k in self.free)

    def strike(self, cut: Cut) -> None:
        """Strike out what cannot hold everything at these prices."""
        bars = np.array([cut.bars[k] for k in self.paid], np.int64)
        self._keep(self.rows @ bars >= cut.worth - self._free_worth(cut))

    def strike_within(self, high: Sequence[int]) -> None:
        """Strike out all purchases of at most so many bars of each kind."""
        limits = np.array([high[k] for k in self.paid], np.int64)
        self._keep(np.asarray((self.rows > limits).any(axis=1), np.bool_))

    def strike_dearer(self, most: int) -> None:
        """Strike out what costs more."""
        self._keep(self.costs <= most)

    def _keep(self, alive: npt.NDArray[np.bool_]) -> None:
        self.rows, self.costs = self.rows[alive], self.costs[alive]

    def cheapest(self) -> tuple[int, tuple[int, ...]] | None:
        """The cheapest purchase left: its cost and bars of every kind; of equals the one with most room."""
        if not len(self.rows):
            return None
        least = int(self.costs.min())
        mine = self.rows[self.costs == least]
        room = mine @ np.array([self.problem.kinds[k].capacity for k in self.paid], np.int64)
        best = mine[int(room.argmax())]
        high = [kind.limit for kind in self.problem.kinds]
        for k, n in zip(self.paid, best, strict=True):
            high[k] = int(n)
        return least, tuple(high)
