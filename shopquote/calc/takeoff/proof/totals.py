"""All ways to buy so many bars of each stock that could still be cheaper, struck out by cuts.

With given prices of the pieces, a plan with n bars costs at least the worth of all
pieces plus the sum over stocks of n * (least reduced cost of a bar). Each set of prices
so strikes out a half of the possible purchases; few sets strike out nearly all.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import CutProblem, Ints

if TYPE_CHECKING:
    from shopquote.calc.takeoff.search import Search

# As many as the checker goes through one by one; rows that fit in memory.
MOST_STOCKS = 4
MOST_ROWS = 2_000_000


@dataclass(frozen=True, slots=True)
class CutPlane:
    """Whole prices; the worth of all pieces less what free bars gain; the least of each stock's bar.

    All in fine units: a plan with n bars costs at least base + sum(n * bars).
    """

    prices: tuple[int, ...]
    base: int
    bars: tuple[int, ...]


class Purchases:
    """Numbers of bars of the stocks that cost money; free ones are all there."""

    def __init__(self, problem: CutProblem, fine: int) -> None:
        self.problem, self.fine = problem, fine
        stocks = range(len(problem.stock_limits))
        costs = [min(k.cost for k in problem.kinds if k.stock == s) for s in stocks]
        self.credited = problem.credited
        self.paid = [s for s in stocks if costs[s]]
        self.free = [s for s in stocks if not costs[s]]
        self.prices = [costs[s] * fine for s in self.paid]
        self.room = [max(k.capacity for k in problem.kinds if k.stock == s) for s in stocks]
        self.rows: Ints = np.zeros((0, len(self.paid)), np.int64)
        # What a purchase costs at least, in fine units.
        self.bounds: Ints = np.zeros(0, np.int64)

    def cut(self, prices: Sequence[int], reduced: Sequence[int]) -> CutPlane:
        """The cut of these prices, from the least reduced cost of each kind of bar."""
        problem = self.problem
        least = {
            s: min(r for r, k in zip(reduced, problem.kinds, strict=True) if k.stock == s) for s in self.paid
        }
        base = sum(p * d for p, d in zip(prices, problem.demands, strict=True))
        for s in self.free:
            mine = [r for r, k in zip(reduced, problem.kinds, strict=True) if k.stock == s]
            base += min(0, *mine) * problem.stock_limits[s]
        return CutPlane(tuple(prices), base, tuple(least[s] for s in self.paid))

    def fill(self, by_length: CutPlane, most: int) -> bool:
        """List all purchases of at most this cost that hold the length; False when too many or unbounded.

        `by_length` must leave every bar with a cost, so that it bounds their numbers.
        """
        problem, paid = self.problem, self.paid
        if not paid or len(paid) > MOST_STOCKS or min(by_length.bars) <= 0:
            return False
        order = sorted(range(len(paid)), key=lambda j: -self.prices[j])
        rows: Ints = np.zeros((1, 0), np.int64)
        left: Ints = np.full(1, most * self.fine - by_length.base, np.int64)
        length = sum(w * d for w, d in zip(problem.sizes, problem.demands, strict=True))
        length -= sum(self.room[s] * problem.stock_limits[s] for s in self.free)
        need: Ints = np.full(1, length, np.int64)
        for place, j in enumerate(order):
            room, least = self.room[paid[j]], by_length.bars[j]
            if not self.credited:
                least = self.prices[j]
            high = np.minimum(left // least, problem.stock_limits[paid[j]])
            low = np.zeros(len(rows), np.int64)
            if place == len(order) - 1:
                low = np.maximum(0, -(-need // room))
            count = np.maximum(0, high - low + 1)
            if int(count.sum()) > MOST_ROWS:
                return False
            at = np.repeat(np.arange(len(rows)), count)
            n = np.arange(len(at)) - np.repeat(np.cumsum(count) - count, count) + low[at]
            rows = np.column_stack([rows[at], n])
            left, need = left[at] - n * least, need[at] - n * room
        self.rows = rows[:, [order.index(j) for j in range(len(paid))]]
        self.bounds = np.zeros(len(self.rows), np.int64)
        if not self.credited:
            self.bounds = self.rows @ np.array(self.prices, np.int64)
        return True

    def strike(self, cut: CutPlane, most: int) -> None:
        """Raise the lower bounds of purchases by a cut; strike out those above the target or too small."""
        least = self.rows @ np.array(cut.bars, np.int64) + cut.base
        if self.credited:
            self.bounds = np.maximum(self.bounds, least)
            self._keep(self.bounds <= most * self.fine)
        else:
            # A purchase costs its bars and nothing else: if it costs more than that, it does not exist.
            self._keep((least <= self.bounds) & (self.bounds <= most * self.fine))

    def strike_box(self, low: Sequence[int], high: Sequence[int]) -> bool:
        """Strike out the purchases within a box of numbers of each stock; whether there were any."""
        lows = np.array([low[s] for s in self.paid], np.int64)
        highs = np.array([high[s] for s in self.paid], np.int64)
        outside = (self.rows > highs).any(axis=1) | (self.rows < lows).any(axis=1)
        self._keep(np.asarray(outside, np.bool_))
        return not bool(outside.all())

    def _keep(self, alive: npt.NDArray[np.bool_]) -> None:
        self.rows, self.bounds = self.rows[alive], self.bounds[alive]

    def cheapest(self) -> tuple[int, tuple[int, ...], tuple[int, ...]] | None:
        """The cheapest purchase left: its bound in fine units, and its box of numbers of each stock."""
        if not len(self.rows):
            return None
        least = int(self.bounds.min())
        mine = self.rows[self.bounds == least]
        room = mine @ np.array([self.room[s] for s in self.paid], np.int64)
        best = mine[int(room.argmax())]
        low = [0] * len(self.problem.stock_limits)
        high = list(self.problem.stock_limits)
        for s, n in zip(self.paid, best, strict=True):
            low[s] = high[s] = int(n)
        return least, tuple(low), tuple(high)


def by_totals(search: "Search", node: Node) -> bool:
    """Go through all purchases that could be cheaper, cheapest first.

    Each is struck out by a cut, or kept as a box to search. True when none is
    left unlooked at; then the node's `boxes` are all that is open in it.
    """
    problem = search.problem
    if search.cost_to_beat() >= EMPTY:
        return False
    purchases = Purchases(problem, search.fine)
    by_length = _cut(search, purchases, _length_prices(search, purchases))
    cuts = [by_length, _cut(search, purchases, node.prices)]
    if not purchases.fill(by_length, search.target()):
        return False
    purchases.strike(cuts[1], search.target())
    boxes: list[Node] = []
    backed = node.bound
    while not search.work.over():
        found = purchases.cheapest()
        opened = [box.bound for box in boxes if not search.beaten(box.bound)]
        if found is None:
            node.cuts, node.boxes = tuple(cut.prices for cut in cuts), boxes
            node.bound = max(node.bound, min([*opened, search.cost_to_beat()]))
            return True
        node.bound = max(node.bound, min([*opened, search.lift(found[0])]))
        search.bound = max(search.bound, node.bound)
        search.report()
        box = replace(node.box, stock_low=found[1], stock_high=found[2])
        trial = Node(box, backed, node.prices, fine=node.fine)
        answer = search.generate(trial)
        impossible = not purchases.credited and trial.fine > found[0]
        if answer is not None and not impossible and not search.beaten(trial.bound):
            search.dive(trial, answer)
        cut = _cut(search, purchases, trial.prices)
        rows = len(purchases.rows)
        purchases.strike(cut, search.target())
        if len(purchases.rows) < rows:
            cuts.append(cut)
        if purchases.strike_box(found[1], found[2]):
            if answer is None:
                return False
            boxes.append(trial)
    return False


def _length_prices(search: "Search", purchases: Purchases) -> list[int]:
    """Prices in proportion to length at which every bar still costs something."""
    slopes = [Fraction(k.credit * k.credit_step, k.credit_over) for k in search.problem.kinds if k.credit]
    if not purchases.credited:
        return [0] * len(search.problem.sizes)
    rate = min(slopes) * search.fine
    return [int(size * rate) for size in search.problem.sizes]


def _cut(search: "Search", purchases: Purchases, prices: Sequence[int]) -> CutPlane:
    reduced, _ = search.price_out(prices, search.tables)
    return purchases.cut(prices, reduced)
