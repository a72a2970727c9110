"""The linear program over known patterns, kept warm in HiGHS between rounds.

Only its duals and its fractional values are used, as advice: every bound and every
cost is worked out again in whole numbers elsewhere.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import floor

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.lp import INFINITE, Floats, add_columns, add_rows, new_lp, run_lp
from shopquote.calc.takeoff.problem import CutProblem, Pattern, held
from shopquote.calc.takeoff.work import Work

# The cost of a box without a plan: above every real cost.
EMPTY = 1 << 200
# A price of a bar, in fine units, at which no plan is cheaper.
FAR_PRICE = 1 << 46


@dataclass(frozen=True, slots=True)
class Box:
    """How many bars a branch allows: of each kind, of each stock, and in all (both ends included)."""

    low: tuple[int, ...]
    high: tuple[int, ...]
    stock_low: tuple[int, ...]
    stock_high: tuple[int, ...]
    total_low: int
    total_high: int

    @classmethod
    def whole(cls, problem: CutProblem) -> "Box":
        """The limits of the problem; no plan needs more bars than pieces."""
        kinds = tuple(kind.limit for kind in problem.kinds)
        stocks = problem.stock_limits
        return cls((0,) * len(kinds), kinds, (0,) * len(stocks), stocks, 0, min(problem.pieces, sum(stocks)))

    def least(self, reduced: Sequence[int], stock_of: Sequence[int]) -> int:
        """Least of sum(n * reduced) over the box; above every real cost if the box is empty.

        Greedy is exact here: kinds lie in stocks and stocks in the total.
        """
        if any(low > high for low, high in zip(self.low, self.high, strict=True)):
            return EMPTY
        taken = list(self.low)
        stocks = [0] * len(self.stock_low)
        for k, n in enumerate(taken):
            stocks[stock_of[k]] += n
        order = sorted(range(len(reduced)), key=lambda k: reduced[k])
        for k in order:
            more = min(self.high[k] - taken[k], self.stock_low[stock_of[k]] - stocks[stock_of[k]])
            if more > 0:
                taken[k] += more
                stocks[stock_of[k]] += more
        count = sum(taken)
        for k in order:
            goal = self.total_high if reduced[k] < 0 else self.total_low
            more = min(
                self.high[k] - taken[k], self.stock_high[stock_of[k]] - stocks[stock_of[k]], goal - count
            )
            if more > 0:
                taken[k] += more
                stocks[stock_of[k]] += more
                count += more
        inside = all(
            low <= n <= high for low, n, high in zip(self.stock_low, stocks, self.stock_high, strict=True)
        )
        if not inside or not self.total_low <= count <= self.total_high:
            return EMPTY
        return sum(n * r for n, r in zip(taken, reduced, strict=True))

    def prices(self, reduced: Sequence[int], stock_of: Sequence[int]) -> tuple[int, ...]:
        """Prices of a bar of each kind, of each stock and of all, that show `least`.

        Taken off the reduced costs, they leave none of these below 0, and the sum of price times least
        number (below 0: most) is as large as it can be: it is the dual of `least`.
        """
        mine: list[list[int]] = [[] for _ in self.stock_low]
        for k, stock in enumerate(stock_of):
            mine[stock].append(k)

        def of_stocks(off: int) -> list[tuple[int, int]]:
            return [self._stock_price(s, [(k, reduced[k] - off) for k in own]) for s, own in enumerate(mine)]

        def least_at(price: int) -> int:
            """The least cost when all bars have this price; it rises with the price, then falls."""
            return sum(least for least, _ in of_stocks(price)) + _worth(
                price, self.total_low, self.total_high
            )

        ways = sorted({0, FAR_PRICE, -FAR_PRICE, *reduced})
        first, last = 0, len(ways) - 1
        while first < last:
            middle = (first + last) // 2
            # Of equally good ones that nearest to 0: far ones would not be summed up in 64 bits.
            if (least_at(ways[middle]), ways[middle]) < (least_at(ways[middle + 1]), 0):
                first = middle + 1
            else:
                last = middle
        total = ways[first]
        stocks = [price for _, price in of_stocks(total)]
        rest = [r - total - stocks[s] for r, s in zip(reduced, stock_of, strict=True)]
        kinds = [r if r < 0 or low else 0 for r, low in zip(rest, self.low, strict=True)]
        return (*kinds, *stocks, total)

    def _stock_price(self, stock: int, kinds: Sequence[tuple[int, int]]) -> tuple[int, int]:
        """What the bars of a stock cost at least by reduced costs of its kinds; the price that shows it."""

        def least_at(price: int) -> int:
            bars = sum(_worth(r - price, self.low[k], self.high[k]) for k, r in kinds)
            return bars + _worth(price, self.stock_low[stock], self.stock_high[stock])

        best = max(
            {0, FAR_PRICE, -FAR_PRICE, *(r for _, r in kinds)}, key=lambda p: (least_at(p), -abs(p), p)
        )
        return least_at(best), best

    def split(self, level: str, at: int, below: int) -> tuple["Box", "Box"]:
        """The box with at most `below` bars (of a kind, a stock or in all), and the rest of it."""
        if level == "total":
            return replace(self, total_high=below), replace(self, total_low=below + 1)
        low, high = (self.low, self.high) if level == "kind" else (self.stock_low, self.stock_high)
        less = (*high[:at], below, *high[at + 1 :])
        more = (*low[:at], below + 1, *low[at + 1 :])
        if level == "kind":
            return replace(self, high=less), replace(self, low=more)
        return replace(self, stock_high=less), replace(self, stock_low=more)

    def after(self, spent: Sequence[int], stock_of: Sequence[int]) -> "Box":
        """What is left of the box when some bars are fixed."""
        stocks = [0] * len(self.stock_low)
        for k, n in enumerate(spent):
            stocks[stock_of[k]] += n
        used = sum(spent)

        def less(counts: Sequence[int], fixed: Sequence[int]) -> tuple[int, ...]:
            return tuple(max(0, n - f) for n, f in zip(counts, fixed, strict=True))

        return Box(
            less(self.low, spent),
            less(self.high, spent),
            less(self.stock_low, stocks),
            less(self.stock_high, stocks),
            max(0, self.total_low - used),
            max(0, self.total_high - used),
        )

    def ends(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Least and most bars in the order of the master's rows: kinds, stocks, all."""
        return (
            (*self.low, *self.stock_low, self.total_low),
            (*self.high, *self.stock_high, self.total_high),
        )


def _worth(price: int, low: int, high: int) -> int:
    """The least that a number between two ends is worth at a price."""
    return price * (low if price >= 0 else high)


def fractional(problem: CutProblem, box: Box, counts: Sequence[float]) -> tuple[str, int, int] | None:
    """The count to branch on: all bars first, then those of a stock, then kept ones of a kind.

    None where all of these are whole. Kinds of a stock that differ by their narrowest kerf cost the same.
    """
    total, costs = sum(counts), [kind.cost for kind in problem.kinds]
    if abs(total - round(total)) > 1e-6:
        return ("total", 0, floor(total))
    stocks = [0.0] * len(box.stock_low)
    worth = [0] * len(box.stock_low)
    for k, count in enumerate(counts):
        stocks[problem.stock_of[k]] += count
        worth[problem.stock_of[k]] = costs[k]
    kept = [count if kind.credit else 0.0 for kind, count in zip(problem.kinds, counts, strict=True)]
    for level, numbers, weights in (("stock", stocks, worth), ("kind", kept, costs)):
        away = [abs(n - round(n)) for n in numbers]
        at = max(range(len(numbers)), key=lambda j: (away[j] > 1e-6, weights[j], away[j]))
        if away[at] > 1e-6:
            return (level, at, floor(numbers[at]))
    return None


@dataclass(frozen=True, slots=True)
class Answer:
    """Fractional bars by column, dual prices of the pieces, and of a bar of each kind."""

    objective: float
    values: Floats
    prices: Floats
    kind_prices: Floats


class Master:
    """Demands as >=, a row for each kind of bar and one for all bars; costs over `scale`."""

    def __init__(self, problem: CutProblem, scale: float) -> None:
        self.problem = problem
        self.scale = scale
        self.pieces = len(problem.demands)
        self.columns: list[tuple[int, Pattern]] = []
        self.known: set[tuple[int, Pattern]] = set()
        self.costs: list[int] = []
        self._matrix: npt.NDArray[np.int64] = np.zeros((256, self.pieces), np.int64)
        self._lp = new_lp()
        self._fresh = False
        big = 50.0 * max(1.0, max(kind.cost for kind in problem.kinds) / scale)
        most = Box.whole(problem).ends()[1]
        add_rows(
            self._lp,
            [*problem.demands, *[0] * len(most)],
            [*[INFINITE] * self.pieces, *most],
        )
        # Dear columns, one for each size, keep it feasible.
        spares = np.eye(self.pieces, self.pieces + len(most))
        add_columns(self._lp, spares, np.full(self.pieces, big), np.full(self.pieces, INFINITE))
        for number in range(len(problem.kinds)):
            self.add(number, (0,) * self.pieces)

    def add(self, kind: int, pattern: Pattern) -> bool:
        """Add a column; False when it is there already."""
        if (kind, pattern) in self.known:
            return False
        self.known.add((kind, pattern))
        self.columns.append((kind, pattern))
        cost = self.problem.cost(kind, pattern)
        self.costs.append(cost)
        if len(self.columns) > len(self._matrix):
            self._matrix = np.concatenate([self._matrix, np.zeros_like(self._matrix)])
        self._matrix[len(self.columns) - 1] = pattern
        load = held(pattern)
        bars = [self.pieces + row for row in self.problem.bar_rows(kind)]
        index = np.array([*(i for i, _ in load), *bars], np.int32)
        value = np.array([*(float(a) for _, a in load), *[1.0] * len(bars)])
        self._fresh = True
        self._lp.addCol(cost / self.scale, 0.0, INFINITE, len(index), index, value)
        return True

    @property
    def matrix(self) -> npt.NDArray[np.int64]:
        """The listed patterns, one a row: how many of each size it cuts."""
        return self._matrix[: len(self.columns)]

    def set_box(self, box: Box) -> None:
        """Bounds on the number of bars of each kind, each stock and of all."""
        low, high = (np.array(ends, np.float64) for ends in box.ends())
        rows = np.arange(self.pieces, self.pieces + len(low), dtype=np.int32)
        self._lp.changeRowsBounds(len(low), rows, low, high)

    def set_demands(self, demands: Sequence[float]) -> None:
        """Pieces still to be cut; fractions serve to find other prices."""
        rows = np.arange(self.pieces, dtype=np.int32)
        low = np.array(demands, np.float64)
        self._lp.changeRowsBounds(self.pieces, rows, low, np.full(self.pieces, INFINITE))

    def allow(self, open_columns: npt.NDArray[np.bool_]) -> None:
        """Close the columns that are not open."""
        count = len(self.columns)
        index = np.arange(self.pieces, self.pieces + count, dtype=np.int32)
        high = np.where(open_columns, INFINITE, 0.0)
        self._lp.changeColsBounds(count, index, np.zeros(count), high)

    def solve(self, work: Work) -> Answer | None:
        """Solve from the basis of the last round; None when out of work or without answer."""
        if work.over():
            return None
        # New columns keep the basis feasible for the primal simplex, new limits for the dual.
        self._lp.setOptionValue("simplex_strategy", 4 if self._fresh else 1)
        self._fresh = False
        if not run_lp(self._lp, work):
            return None
        solution = self._lp.getSolution()
        values = np.array(solution.col_value)
        duals = np.array(solution.row_dual)
        rows = duals[self.pieces :]
        bars = np.array([rows[self.problem.bar_rows(k)].sum() for k in range(len(self.problem.kinds))])
        return Answer(
            float(self._lp.getInfo().objective_function_value),
            values[self.pieces :],
            duals[: self.pieces],
            bars,
        )
