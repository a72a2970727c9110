"""Find the cheapest plan and prove it: column generation, diving, branching on bars.

The linear program advises; bounds are worked out in whole numbers from rounded
dual prices (`price_out`), so that each can be checked without a solver. The clock
is looked at inside every loop.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from time import monotonic

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.fill import greedy_bars, greedy_plan
from shopquote.calc.takeoff.knapsack import Knapsack
from shopquote.calc.takeoff.master import Answer, Box, Master
from shopquote.calc.takeoff.problem import Ints, Pattern, Problem, Solution, tidy

# Dual prices are whole numbers; the dearest kind of bar costs about this many.
FINENESS = 1 << 44

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Leaf:
    """A box of the tree closed by whole dual prices (in `fine` parts of a cost unit)."""

    box: Box
    prices: tuple[int, ...]


@dataclass(slots=True)
class Outcome:
    """Best plan, a bound that holds, and what proves it."""

    solution: Solution | None
    bound: int
    leaves: list[Leaf] = field(default_factory=list)
    fine: int = 1


@dataclass(slots=True)
class _Node:
    box: Box
    bound: int
    prices: tuple[int, ...]
    counts: tuple[float, ...] = ()
    stuck: bool = False


class Search:
    """One run over one problem."""

    def __init__(self, problem: Problem, deadline: float, progress: Progress | None = None) -> None:
        self.problem = problem
        self.deadline = deadline
        self.progress = progress
        dearest = max(1, max(kind.cost for kind in problem.kinds))
        self.fine = max(1, FINENESS // dearest)
        self.scale = float(dearest)
        self.best: Solution | None = None
        self.bound = 0
        self.closed: list[_Node] = []
        self.master: Master | None = None
        self._tables = self._knapsacks(problem.demands)
        self._credits = [self._credit_row(k) for k in range(len(problem.kinds))]

    # ---- bounds -------------------------------------------------------------------------

    def _knapsacks(self, bounds: Sequence[int]) -> list[tuple[Knapsack, tuple[int, ...]]]:
        kinds = self.problem.kinds
        return [
            (Knapsack(self.problem, mask, max(kinds[k].capacity for k in numbers), bounds), numbers)
            for mask, numbers in self.problem.families
        ]

    def _credit_row(self, number: int) -> Ints | None:
        """Credit, in fine units, by units used; None when the kind has none."""
        kind = self.problem.kinds[number]
        if not kind.credit:
            return None
        slack = np.arange(kind.capacity, -1, -1, dtype=np.int64)
        if kind.capacity * kind.credit_over + kind.credit_base < 1 << 62:
            whole, rest = divmod(kind.credit, kind.credit_over)
            base, base_rest = divmod(kind.credit_base, kind.credit_over)
            row = slack * whole + base + (slack * rest + base_rest) // kind.credit_over
        else:
            row = np.array([kind.credit_for(int(t)) for t in slack], np.int64)
        row[slack < kind.keep_slack] = 0
        return row * self.fine

    def price_out(
        self, prices: Sequence[int], tables: list[tuple[Knapsack, tuple[int, ...]]]
    ) -> tuple[list[int], list[tuple[Knapsack, int]]]:
        """Least reduced cost of each kind of bar at these prices, and where in its table."""
        kinds = self.problem.kinds
        reduced = [0] * len(kinds)
        places: list[tuple[Knapsack, int]] = [(tables[0][0], 0)] * len(kinds)
        for table, numbers in tables:
            best = table.solve(prices)
            for k in numbers:
                kind = kinds[k]
                row = best[: kind.capacity + 1]
                credit = self._credits[k]
                if credit is None:
                    at = kind.capacity
                    gain = int(row[at])
                else:
                    total = row + credit
                    at = int(total.argmax())
                    gain = int(total[at])
                reduced[k] = kind.cost * self.fine - gain
                places[k] = (table, at)
        return reduced, places

    def lift(self, fine_bound: int) -> int:
        """Least cost of a real plan that is not below a bound in fine units."""
        cost = -(-fine_bound // self.fine)
        if self.problem.step > 1 and not any(kind.credit for kind in self.problem.kinds):
            step = self.problem.step
            return -(-cost // step) * step
        return cost

    def beaten(self, bound: int) -> bool:
        """Whether no plan in a branch with this bound can be cheaper than the best."""
        return self.best is not None and bound > self.best.cost - self.problem.step

    def out_of_time(self) -> bool:
        """Whether the deadline has passed."""
        return monotonic() >= self.deadline

    # ---- the run ------------------------------------------------------------------------

    def run(self) -> Outcome:
        """Search until proven or out of time."""
        problem = self.problem
        self.offer(greedy_plan(problem))
        kinds = problem.kinds
        most = min(problem.pieces, sum(kind.limit for kind in kinds))
        box = Box((0,) * len(kinds), tuple(kind.limit for kind in kinds), 0, most)
        root = _Node(box, 0, (0,) * len(problem.demands))
        self.master = Master(problem, self.scale)
        for kind, pattern, _ in self.best.bars if self.best else ():
            self.master.add(kind, pattern)
        for number in range(len(kinds)):
            self._single(number)
        queue: list[tuple[int, int, _Node]] = [(0, 0, root)]
        serial = 0
        while queue:
            bound, order, node = heapq.heappop(queue)
            self.bound = max(self.bound, min(bound, self._least_stuck()))
            if self.beaten(node.bound):
                self.closed.append(node)
                continue
            if self.out_of_time():
                heapq.heappush(queue, (bound, order, node))
                break
            answer = self._generate(node)
            self._report()
            if self.beaten(node.bound):
                self.closed.append(node)
                continue
            if answer is None:
                heapq.heappush(queue, (node.bound, order, node))
                break
            self._dive(node, answer)
            if self.beaten(node.bound):
                self.closed.append(node)
                continue
            children = self._split(node, answer)
            if not children:
                node.stuck = True
                self.closed.append(node)
                continue
            for child in children:
                serial += 1
                heapq.heappush(queue, (child.bound, serial, child))
        left = [node for _, _, node in queue]
        open_bounds = [node.bound for node in left + self.closed]
        self.closed.extend(left)
        bound = min(open_bounds, default=self.bound)
        if self.best is not None and self.beaten(bound):
            bound = self.best.cost
        leaves = [Leaf(node.box, node.prices) for node in self.closed]
        return Outcome(self.best, bound, leaves, self.fine)

    def _least_stuck(self) -> int:
        return min((node.bound for node in self.closed if node.stuck), default=1 << 200)

    def _report(self) -> None:
        if self.progress is not None and self.best is not None:
            self.progress(self.best.cost, min(self.bound, self.best.cost))

    def offer(self, solution: Solution | None) -> None:
        """Keep a plan if it ranks before the best."""
        if solution is not None and (self.best is None or solution.rank < self.best.rank):
            self.best = solution

    def _single(self, number: int) -> None:
        """One column for each kind of piece, so that the first prices mean something."""
        assert self.master is not None
        kind = self.problem.kinds[number]
        for i, size in enumerate(self.problem.sizes):
            block = self.problem.blocks[i]
            opening = self.problem.openings[block] if block >= 0 else 0
            fit = min(self.problem.demands[i], (kind.capacity - opening) // size)
            if fit > 0 and kind.holds(i):
                pattern = [0] * len(self.problem.sizes)
                pattern[i] = fit
                self.master.add(number, tuple(pattern))

    # ---- column generation --------------------------------------------------------------

    def _whole(self, answer: Answer) -> list[int]:
        prices = np.maximum(answer.prices, 0.0) * (self.scale * self.fine)
        return [int(price) for price in prices]

    def _generate(self, node: _Node) -> Answer | None:
        """Column generation in a node's box; raises its bound as it goes."""
        master = self.master
        assert master is not None
        master.set_box(node.box)
        master.set_demands(self.problem.demands)
        master.allow(np.ones(len(master.columns), np.bool_))
        while not self.out_of_time():
            answer = master.solve(self.deadline)
            if answer is None:
                return None
            prices = self._whole(answer)
            reduced, places = self.price_out(prices, self._tables)
            self._raise(node, prices, reduced)
            if self.beaten(node.bound):
                return answer
            found = self._columns(answer, reduced, places)
            if not found:
                node.counts = self._counts(answer)
                return answer
            if node.box.total_low == 0 and node.bound >= self.lift(
                int(answer.objective * self.scale * self.fine * (1 - 1e-9))
            ):
                node.counts = self._counts(answer)
                return answer
        self._farley(node)
        return None

    def _raise(self, node: _Node, prices: Sequence[int], reduced: Sequence[int]) -> None:
        fine = sum(p * d for p, d in zip(prices, self.problem.demands, strict=True))
        bound = self.lift(fine + node.box.least(reduced))
        if bound > node.bound:
            node.bound, node.prices = bound, tuple(prices)

    def _farley(self, node: _Node) -> None:
        """Scale the last prices down until no bar is under-priced."""

    def _columns(self, answer: Answer, reduced: Sequence[int], places: Sequence[tuple[Knapsack, int]]) -> int:
        master = self.master
        assert master is not None
        found = 0
        unit = self.scale * self.fine
        for k in range(len(self.problem.kinds)):
            offset = (answer.kind_prices[k] + answer.kind_prices[-1]) * unit
            if reduced[k] - offset < -1e-7 * unit:
                table, at = places[k]
                found += master.add(k, table.pattern(at))
        return found

    def _counts(self, answer: Answer) -> tuple[float, ...]:
        master = self.master
        assert master is not None
        counts = [0.0] * len(self.problem.kinds)
        for (kind, _), value in zip(master.columns, answer.values, strict=False):
            counts[kind] += float(value)
        return tuple(counts)

    # ---- branching on numbers of bars ---------------------------------------------------

    def _split(self, node: _Node, answer: Answer) -> list[_Node]:
        counts, box = node.counts, node.box
        if not counts:
            return []
        total = sum(counts)
        if abs(total - round(total)) > 1e-6:
            below = int(np.floor(total))
            return [
                _Node(Box(box.low, box.high, box.total_low, below), node.bound, node.prices),
                _Node(Box(box.low, box.high, below + 1, box.total_high), node.bound, node.prices),
            ]
        fraction = [abs(count - round(count)) for count in counts]
        k = max(range(len(counts)), key=lambda j: (fraction[j], self.problem.kinds[j].cost))
        if fraction[k] <= 1e-6:
            return []
        below = int(np.floor(counts[k]))
        high = (*box.high[:k], below, *box.high[k + 1 :])
        low = (*box.low[:k], below + 1, *box.low[k + 1 :])
        return [
            _Node(Box(box.low, high, box.total_low, box.total_high), node.bound, node.prices),
            _Node(Box(low, box.high, box.total_low, box.total_high), node.bound, node.prices),
        ]

    # ---- diving -------------------------------------------------------------------------

    def _dive(self, node: _Node, answer: Answer) -> None:
        """Fix whole bars, price again for what is left, until every piece is cut."""
        master, problem = self.master, self.problem
        assert master is not None
        left = list(problem.demands)
        fixed: list[tuple[int, Pattern, int]] = []
        spent = [0] * len(problem.kinds)
        values: npt.NDArray[np.float64] = answer.values
        while any(left) and not self.out_of_time():
            picks = self._picks(values, left)
            if not picks:
                break
            for column, times in picks:
                kind, pattern = master.columns[column]
                times = min([times, *(left[i] // a for i, a in enumerate(pattern) if a)])
                times = min(times, problem.kinds[kind].limit - spent[kind])
                if times <= 0:
                    continue
                fixed.append((kind, pattern, times))
                spent[kind] += times
                for i, a in enumerate(pattern):
                    left[i] -= a * times
            limits = [kind.limit - n for kind, n in zip(problem.kinds, spent, strict=True)]
            rest = greedy_bars(problem, left, limits)
            if rest is not None:
                self.offer(tidy(problem, [*fixed, *rest]))
                if self.beaten(node.bound):
                    return
            if not any(left):
                break
            again = self._reprice(node, left, spent)
            if again is None:
                return
            values = again.values

    def _picks(self, values: npt.NDArray[np.float64], left: Sequence[int]) -> list[tuple[int, int]]:
        master = self.master
        assert master is not None
        whole = np.floor(values + 1e-6).astype(np.int64)
        picks = [(int(c), int(whole[c])) for c in np.nonzero(whole)[0] if any(master.columns[int(c)][1])]
        if picks:
            return picks
        order = np.argsort(-values, kind="stable")
        for c in order[:50]:
            if values[c] <= 1e-9:
                break
            if any(master.columns[int(c)][1]):
                return [(int(c), 1)]
        return []

    def _reprice(self, node: _Node, left: Sequence[int], spent: Sequence[int]) -> Answer | None:
        master = self.master
        assert master is not None
        box = node.box
        low = tuple(max(0, n - s) for n, s in zip(box.low, spent, strict=True))
        high = tuple(max(0, n - s) for n, s in zip(box.high, spent, strict=True))
        used = sum(spent)
        master.set_box(Box(low, high, max(0, box.total_low - used), max(0, box.total_high - used)))
        master.set_demands(left)
        tables = self._knapsacks(left)
        answer: Answer | None = None
        for _ in range(20):
            fits = (master.matrix <= np.array(left, np.int64)).all(axis=1)
            master.allow(np.asarray(fits, np.bool_))
            answer = master.solve(self.deadline)
            if answer is None or self.out_of_time():
                return answer
            reduced, places = self.price_out(self._whole(answer), tables)
            if not self._columns(answer, reduced, places):
                break
        return answer
