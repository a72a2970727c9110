"""Find the cheapest plan and prove it: column generation, diving, branching on bars.

The linear program advises; bounds are worked out in whole numbers from rounded
dual prices (`price_out`), so that each can be checked without a solver. The clock
is looked at inside every loop.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from random import Random

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.columns import ColumnSearch
from shopquote.calc.takeoff.corrected import cells_of, corrected_plans
from shopquote.calc.takeoff.counts import Cut, Purchases
from shopquote.calc.takeoff.enumerate import Filter, Found, patterns_within
from shopquote.calc.takeoff.explicit import MOST_PROPOSED, ListNode, ListSearch, PatternList
from shopquote.calc.takeoff.fill import greedy_bars, greedy_plan
from shopquote.calc.takeoff.knapsack import Knapsack
from shopquote.calc.takeoff.listing import Lister
from shopquote.calc.takeoff.master import EMPTY, Answer, Box, Master, fractional
from shopquote.calc.takeoff.mend import Apart, Lists, bars_to_mend, packed
from shopquote.calc.takeoff.problem import Ints, Pattern, Problem, Solution, tidy
from shopquote.calc.takeoff.work import OutOfWork, Work

# Dual prices are whole numbers; the dearest kind of bar costs about this many: a narrow number.
FINENESS = 1 << 29
MOST_LISTED = 200_000
# Lists of at most so many patterns are searched by the counts of each.
MOST_COLUMNS = 20_000
# Where there are more, plans are sought first among those within a 64th of the gap, then a 32nd and so on.
SHORTEST_PART = 6
MOST_SHORT = 5_000
MOST_SHORT_NODES = 30
LOOKS = 6
MOST_BRANCHED = 1_500
FIRST_NODES = 20
# So often in a row nothing is found before a node is divided.
MOST_IDLE = 2
# Work for plans that learn from those before: at first, and before patterns are listed.
QUICK_CELLS = 100_000_000
LONG_CELLS = 6_000_000_000
MOST_CORRECTED = 5
DIVE_ROUNDS = 4
# Rounds of column generation for prices to list by.
PRICE_ROUNDS = 30
# Prices are cut to whole parts of this many.
SHARES = 1 << 20
DIVE_EVERY = 5
RESTARTS = 200
FEW_RESTARTS = 8
# Of more lengths than this no plan is filled anew where the cost of one is known.
MOST_FILLED_AGAIN = 400
TAIL_WORK = 1_000_000_000
# A plan is mended so often at a time.
TRIES = 8

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Outcome:
    """Best plan, a bound that holds, and the tree that shows it."""

    solution: Solution | None
    bound: int
    root: "Node"
    fine: int


@dataclass(slots=True)
class Node:
    """A box of the tree: its bound in cost and in fine units (`fine`), by whole `prices`.

    `where` it was split, into `children`; or the kinds that were `listed` by all of
    `list_prices`, and the search over that list: from `list_root`, or by `columns`.
    """

    box: Box
    bound: int
    prices: tuple[int, ...]
    counts: tuple[float, ...] = ()
    fine: int = 0
    stuck: bool = False
    listed: tuple[int, ...] = ()
    list_prices: tuple[tuple[int, ...], ...] = ()
    list_root: ListNode | None = None
    columns: ColumnSearch | None = None
    cuts: tuple[tuple[int, ...], ...] = ()
    boxes: list["Node"] = field(default_factory=list)
    where: tuple[str, int, int] | None = None
    children: list["Node"] = field(default_factory=list)


class Search:
    """One run over one problem."""

    def __init__(
        self,
        problem: Problem,
        work: Work,
        progress: Progress | None = None,
        *,
        known: int | None = None,
        whole: bool = True,
        most_nodes: int = 1 << 40,
    ) -> None:
        self.problem = problem
        self.work = work
        self.progress = progress
        dearest = max(1, max(kind.cost for kind in problem.kinds))
        self.fine = max(1, FINENESS // dearest)
        self.scale = float(dearest)
        self.best: Solution | None = None
        self.known = known
        self.whole = whole
        self.most_nodes = most_nodes
        self.bound = 0
        self.closed: list[Node] = []
        self.mended = 0
        self.credited = problem.credited
        self.master: Master | None = None
        self._tables = self._knapsacks(problem.demands)
        self._credits = [self._credit_row(k) for k in range(len(problem.kinds))]
        self._most_credits = [0 if row is None else int(row.max()) for row in self._credits]

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
        slack: Ints = np.arange(kind.capacity, -1, -1, dtype=np.int64)
        row: Ints
        if kind.capacity * kind.credit_over + kind.credit_base < 1 << 62:
            whole, rest = divmod(kind.credit, kind.credit_over)
            base, base_rest = divmod(kind.credit_base, kind.credit_over)
            steps = slack * whole + base + (slack * rest + base_rest) // kind.credit_over
            row = steps * kind.credit_step
        else:
            row = np.array([kind.credit_for(int(t)) for t in slack], np.int64)
        row = np.minimum(row, kind.cost) * self.fine
        return row

    def price_out(
        self, prices: Sequence[int], tables: list[tuple[Knapsack, tuple[int, ...]]]
    ) -> tuple[list[int], list[tuple[Knapsack, int]]]:
        """Least reduced cost of each kind of bar at these prices, and where in its table."""
        kinds = self.problem.kinds
        reduced = [0] * len(kinds)
        places: list[tuple[Knapsack, int]] = [(tables[0][0], 0)] * len(kinds)
        for table, numbers in tables:
            best = table.solve(prices, self.work)
            for k in numbers:
                kind, credit = kinds[k], self._credits[k]
                at = kind.capacity
                if credit is None:
                    gain = int(best[at])
                else:
                    total = best[: kind.capacity + 1] + credit
                    at = int(total.argmax())
                    gain = int(total[at])
                reduced[k] = kind.cost * self.fine - gain
                places[k] = (table, at)
        return reduced, places

    def lift(self, fine_bound: int) -> int:
        """Least cost of a real plan that is not below a bound in fine units."""
        return self.problem.on_grid(-(-fine_bound // self.fine))

    def beaten(self, bound: int) -> bool:
        """Whether no plan in a branch with this bound can be cheaper than the best."""
        return bound > self.cost_to_beat() - self.problem.grid

    def cost_to_beat(self) -> int:
        """Cost of the best plan here or known from elsewhere."""
        costs = [EMPTY] if self.best is None else [self.best.cost]
        return min(costs if self.known is None else [*costs, self.known])

    # ---- the run ------------------------------------------------------------------------

    def run(self) -> Outcome:
        """Search until proven or out of time."""
        problem = self.problem
        if self.known is None or len(problem.demands) <= MOST_FILLED_AGAIN:
            self.offer(greedy_plan(problem))
        root = Node(Box.whole(problem), 0, (0,) * len(problem.demands))
        queue: list[tuple[int, int, Node]] = [(0, 0, root)]
        try:
            if self._by_length(root) or self._corrected(root, QUICK_CELLS):
                return Outcome(self.best, self.cost_to_beat(), root, self.fine)
            self.bound = root.bound
            self._report()
            self._start()
            self._branch(queue)
            if self.whole:
                self._mend_and_try_again(queue)
        except OutOfWork:
            pass
        open_bounds = [node.bound for node in self.closed] + [node.bound for _, _, node in queue]
        bound = min(open_bounds, default=self.bound)
        if self.beaten(bound):
            bound = self.cost_to_beat()
        return Outcome(self.best, bound, root, self.fine)

    def _start(self) -> None:
        """The linear program with the first columns."""
        self.master = Master(self.problem, self.scale)
        for kind, pattern, _ in self.best.bars if self.best else ():
            self.work.check()
            self.master.add(kind, pattern)
        for number in range(len(self.problem.kinds)):
            self.work.check()
            self._single(number)

    def _branch(self, queue: list[tuple[int, int, Node]]) -> None:
        """Best first over the queue; what is still open stays in it."""
        serial = 0
        visited = 0
        while queue and visited < self.most_nodes:
            self.work.check()
            bound, _, node = queue[0]
            self.bound = max(self.bound, min(bound, self._least_stuck()))
            children = [] if self.beaten(node.bound) else self._work(node, visited)
            visited += 1
            heapq.heappop(queue)
            if not children:
                self.closed.append(node)
            for child in children:
                serial += 1
                heapq.heappush(queue, (child.bound, -serial, child))

    def _work(self, node: Node, visited: int) -> list[Node]:
        """Bound a node, dive from it, and divide it; no children when it is closed or searched to its end."""
        answer = self._generate(node)
        self._report()
        if self.beaten(node.bound):
            return []
        if answer is None:
            raise OutOfWork
        where = self._split(node)
        if where is None or visited % DIVE_EVERY == 0:
            self._dive(node, answer)
            if self.beaten(node.bound):
                return []
            if where is not None and not visited and self._by_counts(node):
                return node.boxes
        if self._by_columns(node):
            return []
        if where is None:
            self._list_out(node)
            return []
        node.where = where
        node.children = [Node(box, node.bound, node.prices, fine=node.fine) for box in node.box.split(*where)]
        return node.children

    def _by_length(self, root: Node) -> bool:
        """Whether prices in proportion to length already prove the greedy plan; no solver is needed then."""
        priced = [kind for kind in self.problem.kinds if kind.cost]
        if not priced or self.cost_to_beat() >= EMPTY:
            return False
        cheapest = min(priced, key=lambda kind: Fraction(kind.cost, kind.capacity))
        rate = Fraction(cheapest.cost * self.fine, cheapest.capacity)
        prices = [int(size * rate) for size in self.problem.sizes]
        # What fits in a bar is worth no more than its capacity at this rate: a bound without any table.
        least = [
            kind.cost * self.fine - self._most_by_length(k, rate) for k, kind in enumerate(self.problem.kinds)
        ]
        self._bound_by(root, prices, least)
        reduced, _ = self.price_out(prices, self._tables)
        self._raise(root, prices, reduced)
        return self.beaten(root.bound)

    def _corrected(self, node: Node, cells: int) -> bool:
        """Whether one of the plans that learn from one another is as cheap as the bound; one length only."""
        problem = self.problem
        if len(problem.kinds) > 1 or problem.kinds[0].credit:
            return False
        rounds = min(MOST_CORRECTED, cells // cells_of(problem))
        for bars in corrected_plans(problem, rounds, self.work):
            self.offer(tidy(problem, bars))
            if self.beaten(node.bound):
                return True
        return False

    def _most_by_length(self, number: int, rate: Fraction) -> int:
        """The most that a bar of a kind can bring at a price for each unit, its credit included."""
        capacity, credit = self.problem.kinds[number].capacity, self._credits[number]
        if credit is None or rate.numerator * capacity >= 1 << 62:
            return int(capacity * rate) + 1 + self._most_credits[number]
        worth = np.arange(capacity + 1, dtype=np.int64) * rate.numerator // rate.denominator
        return int((worth + credit).max()) + 1

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
                self.work.check()
                pattern = [0] * len(self.problem.sizes)
                pattern[i] = fit
                self.master.add(number, tuple(pattern))

    # ---- column generation --------------------------------------------------------------

    def _whole(self, answer: Answer) -> list[int]:
        prices = np.maximum(answer.prices, 0.0) * (self.scale * self.fine)
        return [int(price) for price in prices]

    def _generate(self, node: Node, *, whole: bool = False) -> Answer | None:
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
            prices = self._whole(answer)
            reduced, places = self.price_out(prices, self._tables)
            self._raise(node, prices, reduced)
            if self.beaten(node.bound):
                return answer
            found = self._columns(prices, answer, reduced, places, self.problem.demands)
            if not found:
                node.counts = self._counts(answer)
                return answer
            if (
                not whole
                and node.box.total_low == 0
                and node.bound >= self.lift(int(answer.objective * self.scale * self.fine * (1 - 1e-9)))
            ):
                node.counts = self._counts(answer)
                return answer
        return None

    def _raise(self, node: Node, prices: Sequence[int], reduced: Sequence[int]) -> None:
        """Bound from these prices; where they are too high for some bar, also from lower ones."""
        self._bound_by(node, prices, reduced)
        part = self._fitting_part(reduced)
        if part < SHARES:
            lower = [price * part // SHARES for price in prices]
            self._bound_by(node, lower, self._reduced_at(part, reduced))

    def _bound_by(self, node: Node, prices: Sequence[int], reduced: Sequence[int]) -> None:
        fine = sum(p * d for p, d in zip(prices, self.problem.demands, strict=True))
        fine += node.box.least(reduced, self.problem.stock_of)
        if fine > node.fine:
            node.bound, node.prices, node.fine = max(node.bound, self.lift(fine)), tuple(prices), fine

    def _fitting_part(self, reduced: Sequence[int]) -> int:
        """The largest part (of SHARES) of the prices at which no bar that costs money is worth more."""
        part = SHARES
        for k, kind in enumerate(self.problem.kinds):
            cost, most = kind.cost * self.fine, self._most_credits[k]
            gain = cost - reduced[k]
            if kind.cost and reduced[k] < 0 and gain > most:
                part = min(part, max(0, (cost - most) * SHARES // (gain - most)))
        return part

    def _reduced_at(self, part: int, reduced: Sequence[int]) -> list[int]:
        """Reduced costs, from below, when prices are cut to a part: from the gains now."""
        out = []
        for k, kind in enumerate(self.problem.kinds):
            cost, most = kind.cost * self.fine, self._most_credits[k]
            gain = cost - reduced[k]
            out.append(cost + (-gain * part - most * (SHARES - part)) // SHARES)
        return out

    def _columns(
        self,
        prices: Sequence[int],
        answer: Answer,
        reduced: Sequence[int],
        places: Sequence[tuple[Knapsack, int]],
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
            table, at = places[k]
            found += master.add(k, table.pattern(at))
            if self._credits[k] is None and self.problem.kinds[k].limit > 1:
                found += self._more_columns(k, prices, offset, table, demands)
        return found

    def _more_columns(
        self, k: int, prices: Sequence[int], offset: float, table: Knapsack, demands: Sequence[int]
    ) -> int:
        """For each piece the best pattern that holds it, dearest pieces first."""
        assert self.master is not None
        kind = self.problem.kinds[k]
        best = table.best
        gains = [
            (prices[i] + int(best[kind.capacity - size]), i)
            for i, size in enumerate(self.problem.sizes)
            if demands[i] and size <= kind.capacity and self.problem.blocks[i] < 0 and kind.holds(i)
        ]
        least = kind.cost * self.fine - offset + 1e-7 * self.scale * self.fine
        found = 0
        for gain, i in sorted(gains, reverse=True)[: max(2, len(gains) // 4)]:
            if gain <= least:
                break
            self.work.check()
            pattern = list(table.pattern(kind.capacity - self.problem.sizes[i]))
            pattern[i] += 1
            if pattern[i] <= demands[i]:
                found += self.master.add(k, tuple(pattern))
        return found

    def _counts(self, answer: Answer) -> tuple[float, ...]:
        master = self.master
        assert master is not None
        counts = [0.0] * len(self.problem.kinds)
        for (kind, _), value in zip(master.columns, answer.values, strict=False):
            counts[kind] += float(value)
        return tuple(counts)

    # ---- branching on numbers of bars ---------------------------------------------------

    def _split(self, node: Node) -> tuple[str, int, int] | None:
        if not node.counts:
            return None
        costs = [kind.cost for kind in self.problem.kinds]
        return fractional(node.box, node.counts, self.problem.stock_of, costs)

    # ---- purchases -------------------------------------------------------------------------

    def _by_counts(self, node: Node) -> bool:
        """Go through all purchases that could be cheaper, cheapest first.

        Each is struck out by a cut, or kept as a box to search. True when none is
        left unlooked at; then the node's `boxes` are all that is open in it.
        """
        problem = self.problem
        if self.cost_to_beat() >= EMPTY:
            return False
        purchases = Purchases(problem, self.fine)
        by_length = self._cut(purchases, self._length_prices(purchases))
        cuts = [by_length, self._cut(purchases, node.prices)]
        if not purchases.fill(by_length, self.cost_to_beat() - problem.grid):
            return False
        purchases.strike(cuts[1], self.cost_to_beat() - problem.grid)
        boxes: list[Node] = []
        backed = node.bound
        while not self.work.over():
            found = purchases.cheapest()
            opened = [box.bound for box in boxes if not self.beaten(box.bound)]
            if found is None:
                node.cuts, node.boxes = tuple(cut.prices for cut in cuts), boxes
                node.bound = max(node.bound, min([*opened, self.cost_to_beat()]))
                return True
            node.bound = max(node.bound, min([*opened, self.lift(found[0])]))
            self.bound = max(self.bound, node.bound)
            self._report()
            box = replace(node.box, stock_low=found[1], stock_high=found[2])
            trial = Node(box, backed, node.prices, fine=node.fine)
            answer = self._generate(trial)
            impossible = not purchases.credited and trial.fine > found[0]
            if answer is not None and not impossible and not self.beaten(trial.bound):
                self._dive(trial, answer)
            cut = self._cut(purchases, trial.prices)
            rows = len(purchases.rows)
            purchases.strike(cut, self.cost_to_beat() - problem.grid)
            if len(purchases.rows) < rows:
                cuts.append(cut)
            if purchases.strike_box(found[1], found[2]):
                if answer is None:
                    return False
                boxes.append(trial)
        return False

    def _length_prices(self, purchases: Purchases) -> list[int]:
        """Prices in proportion to length at which every bar still costs something."""
        slopes = [Fraction(k.credit * k.credit_step, k.credit_over) for k in self.problem.kinds if k.credit]
        if not purchases.credited:
            return [0] * len(self.problem.sizes)
        rate = min(slopes) * self.fine
        return [int(size * rate) for size in self.problem.sizes]

    def _cut(self, purchases: Purchases, prices: Sequence[int]) -> Cut:
        reduced, _ = self.price_out(prices, self._tables)
        return purchases.cut(prices, reduced)

    # ---- the complete list of patterns --------------------------------------------------

    def _by_columns(self, node: Node) -> bool:
        """Search a node by the counts of its listed patterns; False when the list is too long.

        Not for plain problems of one length, where patterns are cut once or twice.
        """
        if self.best is None or (len(self.problem.kinds) == 1 and not self.problem.kinds[0].credit):
            return False
        self._generate(node, whole=True)
        if self.beaten(node.bound):
            return True
        search: ColumnSearch | None = None
        looked_at = 0
        nodes = FIRST_NODES
        idle = 0
        while not self.work.over():
            if search is None:
                rows = self._rows_for_columns(node, 1, MOST_COLUMNS)
                search = None if rows is None else self._column_search(node, rows)
            if search is not None:
                node.listed = tuple(k for k in range(len(self.problem.kinds)) if self._may_cut(node.box, k))
                node.list_prices, node.columns = (node.prices,), search
                bound = search.run(nodes)
                node.bound = max(node.bound, min(bound, self.cost_to_beat()))
                self._report()
            if self.beaten(node.bound) or not self.whole:
                break
            before = self.cost_to_beat()
            self._mend(node, TRIES)
            if search is None and self.cost_to_beat() != looked_at:
                looked_at = self.cost_to_beat()
                self._by_short_lists(node)
            if search is None and self.cost_to_beat() == before:
                idle += 1
                if idle == MOST_IDLE or not self.credited:
                    return False
            nodes *= 2
        node.stuck = not self.beaten(node.bound)
        return search is not None

    def _by_short_lists(self, node: Node) -> bool:
        """Look for a cheaper plan among the patterns within a part of the gap; a larger part each time."""
        before = self.cost_to_beat()
        for power in range(SHORTEST_PART, 0, -1):
            rows = self._rows_for_columns(node, 1 << power, MOST_SHORT)
            if rows is None or self.work.over():
                return False
            if sum(map(len, rows)) > len(self.problem.sizes):
                self._column_search(node, rows).look(LOOKS)
                if self.cost_to_beat() == before and sum(map(len, rows)) <= MOST_BRANCHED:
                    self._column_search(node, rows).run(MOST_SHORT_NODES)
            if self.cost_to_beat() < before:
                return True
        return False

    def _column_search(self, node: Node, rows: list[npt.NDArray[np.int16]]) -> ColumnSearch:
        return ColumnSearch(
            self._pattern_list(rows),
            node.box,
            self.fine,
            self.scale,
            self.work,
            self.cost_to_beat,
            self.offer,
        )

    def _pattern_list(self, rows: Sequence[npt.NDArray[np.int16]]) -> PatternList:
        credits = [None if row is None else row // self.fine for row in self._credits]
        return PatternList(self.problem, rows, credits)

    def _may_cut(self, box: Box, kind: int) -> bool:
        return box.high[kind] > 0 and box.stock_high[self.problem.kinds[kind].stock] > 0

    def _rows_for_columns(self, node: Node, parts: int, most: int) -> list[npt.NDArray[np.int16]] | None:
        """Patterns within one of so many parts of the gap of a node; None when there are too many."""
        reduced, _ = self.price_out(node.prices, self._tables)
        rows: list[npt.NDArray[np.int16]] = []
        one = [self._filter_within(node.prices, reduced, self._gap(node, node.prices, reduced) // parts)]
        for k in range(len(self.problem.kinds)):
            found: Found | None = Found(np.zeros((0, len(self.problem.sizes)), np.int16), True)
            if self._may_cut(node.box, k):
                found = patterns_within(self.problem, k, self._credits[k], one, 8 * most, self.work)
            if found is None or len(found.rows) + sum(map(len, rows)) > most:
                return None
            rows.append(found.rows)
        return rows

    def _list_out(self, node: Node) -> None:
        """Close a node by listing every pattern that a cheaper plan may use, and searching the list."""
        node.stuck = True
        if self.best is None:
            return
        self._generate(node, whole=True)
        if self.beaten(node.bound) or not node.prices or self._corrected(node, LONG_CELLS):
            node.stuck = not self.beaten(node.bound)
            return
        most = self._most_bars()
        if most is None or most >= node.box.total_high:
            self._search_list(node)
            return
        # A plan with more bars than that is no cheaper.
        node.where = ("total", 0, most)
        node.children = [
            Node(box, node.bound, node.prices, fine=node.fine, stuck=True)
            for box in node.box.split(*node.where)
        ]
        less, more = node.children
        self._bound_by(more, [0] * len(self.problem.sizes), [k.cost * self.fine for k in self.problem.kinds])
        if less.box.total_low <= most:
            self._search_list(less)
        else:
            less.bound, less.stuck = EMPTY, False
        node.bound = max(node.bound, min(less.bound, more.bound))
        node.stuck = not self.beaten(node.bound)

    def _most_bars(self) -> int | None:
        """How many bars a cheaper plan can have, where all bars cost the same."""
        costs = {kind.cost for kind in self.problem.kinds}
        if len(costs) > 1 or not min(costs) or self.credited:
            return None
        return (self.cost_to_beat() - self.problem.grid) // min(costs)

    def _search_list(self, node: Node) -> None:
        lister = Lister(
            self.problem,
            [k for k in range(len(self.problem.kinds)) if self._may_cut(node.box, k)],
            self._credits,
            partial(self._filter, node),
            partial(self._prices_for, node),
            self.work,
            MOST_LISTED,
        )
        first = self._prices_for(node, np.array(self.problem.demands, np.float64))
        listing = lister.run(node.prices if first is None else first)
        if listing is None or self.beaten(node.bound):
            node.stuck = not self.beaten(node.bound)
            return
        if self.work.over() or len(listing.open_kinds) == len(self.problem.kinds):
            if self.whole:
                self._restart(node, RESTARTS)
                node.stuck = not self.beaten(node.bound)
            return
        if self.whole and len(listing) > MOST_PROPOSED and len(self.problem.kinds) == 1:
            # The solver does not look over so long a list: look for a plan by dives first.
            self._restart(node, FEW_RESTARTS)
            if self.beaten(node.bound):
                node.stuck = False
                return
        assert self.master is not None
        search = ListSearch(
            self._pattern_list(listing.rows),
            listing.open_kinds,
            self._price_for_list,
            node.box,
            node.bound,
            self.fine,
            self.scale,
            self.work,
            self.cost_to_beat,
            self.offer,
            self.master.columns,
        )
        node.listed = tuple(k for k in range(len(self.problem.kinds)) if k not in listing.open_kinds)
        node.list_prices = tuple(one.prices for one in listing.filters)
        bound = search.run(EMPTY)
        node.bound = max(node.bound, min(bound, self.cost_to_beat()))
        node.list_root = search.root
        node.stuck = not self.beaten(node.bound)

    def _filter(self, node: Node, prices: Sequence[int]) -> Filter | None:
        """What patterns of a cheaper plan must be worth at these prices; None: there is no such plan."""
        reduced, _ = self.price_out(prices, self._tables)
        self._bound_by(node, prices, reduced)
        gap = self._gap(node, prices, reduced)
        return None if gap < 0 else self._filter_within(prices, reduced, gap)

    def _gap(self, node: Node, prices: Sequence[int], reduced: Sequence[int]) -> int:
        """From the floor of a node at these prices to the dearest of all cheaper plans, in fine units."""
        floor_cost = sum(p * d for p, d in zip(prices, self.problem.demands, strict=True))
        floor_cost += node.box.least(reduced, self.problem.stock_of)
        return (self.cost_to_beat() - self.problem.grid) * self.fine - floor_cost

    def _filter_within(self, prices: Sequence[int], reduced: Sequence[int], gap: int) -> Filter:
        """What a pattern must be worth at these prices to cost at most the gap more than its kind does."""
        kinds = zip(self.problem.kinds, reduced, strict=True)
        return Filter(tuple(prices), tuple(kind.cost * self.fine - least - gap for kind, least in kinds))

    def _prices_for(self, node: Node, demands: npt.NDArray[np.float64]) -> list[int] | None:
        """Prices of the linear program when so many pieces are asked for; None when out of time.

        Bars that a box demands are not demanded here: their cost would be given, and nothing have a price.
        """
        master = self.master
        assert master is not None
        box = node.box
        master.set_box(
            replace(box, low=(0,) * len(box.low), stock_low=(0,) * len(box.stock_low), total_low=0)
        )
        master.set_demands(demands.tolist())
        master.allow(np.ones(len(master.columns), np.bool_))
        prices: list[int] | None = None
        for _ in range(PRICE_ROUNDS):
            answer = None if self.work.over() else master.solve(self.work)
            if answer is None:
                return None
            prices = self._whole(answer)
            reduced, places = self.price_out(prices, self._tables)
            if not self._columns(prices, answer, reduced, places, self.problem.demands):
                break
        return prices

    def _price_for_list(
        self, prices: Sequence[int], bounds: Sequence[int] | None
    ) -> tuple[list[int], list[Callable[[], Pattern]]]:
        tables = self._tables if bounds is None else self._knapsacks(bounds)
        reduced, places = self.price_out(prices, tables)
        return reduced, [partial(table.pattern, at) for table, at in places]

    # ---- mending ------------------------------------------------------------------------

    def _mend_and_try_again(self, queue: list[tuple[int, int, Node]]) -> None:
        """Better the best plan bar by bar while there is time; go back to open nodes when it got cheaper."""
        while not self.work.over():
            stuck = [node for node in self.closed if not self.beaten(node.bound)]
            if not stuck or self.best is None or not self.credited:
                return
            least = min(stuck, key=lambda node: node.bound)
            if not self._mend(least, TRIES):
                continue
            self.closed = [node for node in self.closed if self.beaten(node.bound)]
            for node in stuck:
                if self.beaten(node.bound):
                    self.closed.append(node)
                    continue
                node.stuck, node.columns, node.list_root = False, None, None
                heapq.heappush(queue, (node.bound, 0, node))
            self._branch(queue)

    def _mend(self, node: Node, tries: int) -> bool:
        """Plan a few bars of the best plan anew, again and again; whether that made it cheaper."""
        if not self.whole or self.best is None or not node.prices or not self.credited:
            return False
        before = self.best.cost
        for _ in range(tries):
            if self.work.over() or self.beaten(node.bound):
                break
            self.mended += 1
            chance = Random(self.mended)
            chosen = bars_to_mend(self.problem, self.best.bars, node.prices, self.fine, self.mended, chance)
            self.offer(self._planned_anew(node.prices, chosen, chance))
            self._report()
        return self.best.cost < before

    def _planned_anew(self, prices: Sequence[int], chosen: dict[int, int], chance: Random) -> Solution | None:
        """A plan with the chosen bars cut anew from the same stocks, if that is cheaper."""
        assert self.best is not None
        apart = Apart.of(self.problem, self.best.bars, chosen)
        if apart is None:
            return None
        search = Search(apart.rest, self.work, whole=False)
        mine = [price for price, n in zip(prices, apart.left, strict=True) if n]
        reduced, _ = search.price_out(mine, search._tables)
        lists = Lists(apart.rest, mine, reduced, search._credits, self.fine, self.scale, self.work)
        found = packed(apart, lists, chance)
        if found is None:
            return None
        bars = [(k, apart.back(p), 1) for k, p in found if any(p)]
        return tidy(self.problem, [*apart.kept, *bars])

    # ---- diving -------------------------------------------------------------------------

    def _dive(self, node: Node, answer: Answer, chance: Random | None = None, tail: int = 0) -> None:
        """Fix whole bars, price again for what is left, until every piece is cut.

        With `chance`, bars are picked at random by their share; once at most `tail`
        pieces are left, these are searched as a problem of their own.
        """
        master, problem = self.master, self.problem
        assert master is not None
        left = list(problem.demands)
        fixed: list[tuple[int, Pattern, int]] = []
        spent = [0] * len(problem.kinds)
        limits = list(problem.stock_limits)
        values: npt.NDArray[np.float64] = answer.values
        while any(left) and not self.work.over():
            picks = self._picks(values, chance)
            if not picks:
                break
            for column, times in picks:
                kind, pattern = master.columns[column]
                times = min([times, *(left[i] // a for i, a in enumerate(pattern) if a)])
                times = min(times, limits[problem.kinds[kind].stock])
                if times <= 0:
                    continue
                fixed.append((kind, pattern, times))
                spent[kind] += times
                limits[problem.kinds[kind].stock] -= times
                for i, a in enumerate(pattern):
                    left[i] -= a * times
            if self._finish(fixed, left, limits) and self.beaten(node.bound):
                return
            if not any(left):
                break
            if sum(left) <= tail:
                self._search_tail(fixed, left, limits)
                return
            again = self._reprice(node, left, spent)
            if again is None:
                return
            values = again.values

    def _finish(
        self, fixed: Sequence[tuple[int, Pattern, int]], left: Sequence[int], limits: Sequence[int]
    ) -> bool:
        """Fill up a dive greedily and offer it, unless it is clearly too dear."""
        problem = self.problem
        if 3 * sum(left) > 2 * problem.pieces:
            return False
        rest = greedy_bars(problem, left, limits)
        if rest is None:
            return False
        bars = [*fixed, *rest]
        cost = sum(problem.cost(kind, pattern) * count for kind, pattern, count in bars)
        if self.best is not None and 100 * cost > 102 * self.best.cost:
            return False
        self.offer(tidy(problem, bars))
        return True

    def _search_tail(
        self, fixed: list[tuple[int, Pattern, int]], left: Sequence[int], limits: Sequence[int]
    ) -> None:
        """Search what a dive has left as a problem of its own, for a short while."""
        problem = self.problem
        rest, back = problem.part(left, limits)
        spent = sum(problem.cost(kind, pattern) * count for kind, pattern, count in fixed)
        known = self.cost_to_beat() - spent
        search = Search(rest, self.work.part(TAIL_WORK), known=known, whole=False)
        found = search.run().solution
        if found is not None and found.cost < known:
            bars = [(kind, back(pattern), count) for kind, pattern, count in found.bars]
            self.offer(tidy(problem, [*fixed, *bars]))

    def _restart(self, node: Node, times: int) -> None:
        """Dive again and again, at random, while there is time; a given number of times."""
        for attempt in range(times):
            answer = self._generate(node)
            if answer is None or self.beaten(node.bound) or self.work.over():
                return
            self._dive(node, answer, Random(attempt), self.problem.pieces * (2 + attempt % 4) // 8)
            self._report()

    def _picks(self, values: npt.NDArray[np.float64], chance: Random | None) -> list[tuple[int, int]]:
        master = self.master
        assert master is not None
        whole = np.floor(values + 1e-6).astype(np.int64)
        picks = [(int(c), int(whole[c])) for c in np.nonzero(whole)[0] if any(master.columns[int(c)][1])]
        if picks:
            return picks
        order = np.argsort(-values, kind="stable")
        if chance is not None:
            live = [int(c) for c in order[:20] if values[c] > 1e-9 and any(master.columns[int(c)][1])]
            return [(chance.choices(live, [float(values[c]) for c in live])[0], 1)] if live else []
        for c in order[:50]:
            if values[c] <= 1e-9:
                break
            if any(master.columns[int(c)][1]):
                return [(int(c), 1)]
        return []

    def _reprice(self, node: Node, left: Sequence[int], spent: Sequence[int]) -> Answer | None:
        master = self.master
        assert master is not None
        master.set_box(node.box.after(spent, self.problem.stock_of))
        master.set_demands(left)
        tables = self._knapsacks(left)
        answer: Answer | None = None
        for _ in range(DIVE_ROUNDS):
            fits = (master.matrix <= np.array(left, np.int64)).all(axis=1)
            master.allow(np.asarray(fits, np.bool_))
            answer = master.solve(self.work)
            if answer is None or self.work.over():
                return answer
            prices = self._whole(answer)
            reduced, places = self.price_out(prices, tables)
            if not self._columns(prices, answer, reduced, places, left):
                break
        return answer
