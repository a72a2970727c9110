"""Search over a complete list of patterns: the last step from a small gap to a proof.

`patterns_within` lists what a cheaper plan may use; here the list is searched by best
first branching on pairs of pieces in one bar, with a bound in whole numbers for each
node. Every demand is met exactly, so prices may have either sign.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import floor

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.fill import greedy_bars
from shopquote.calc.takeoff.lp import new_lp, run_lp
from shopquote.calc.takeoff.master import EMPTY, INFINITE, Box, fractional
from shopquote.calc.takeoff.problem import Ints, Pattern, Problem, Solution, tidy
from shopquote.calc.takeoff.proof.halves import Halves, halved, most_halved, violated
from shopquote.calc.takeoff.proof.proposal import proposed
from shopquote.calc.takeoff.work import Work

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
FAR = 1 << 40
# Units of work: of a round of prices, and of a count in a pattern that it looks at.
A_ROUND, A_COUNT = 200_000, 6
# More than any cost in fine units.
FAR_FINE = 1 << 61
CUT_ROUNDS = 5
CUTS_AT_ONCE = 40
# Pairs tried out before one is branched on.
PROBED = 6
# Children made between two dives.
DIVE_EVERY = 8
# Lists of at most so many patterns are given to the solver.
MOST_PROPOSED = 6000


@dataclass(frozen=True, slots=True, order=True)
class Rule:
    """Of all bars, those that hold piece `first` and piece `second` number `low` to `high`.

    With `first == second` the rule is about bars that hold at least two of it. A rule is `plain` when it only
    bars patterns: those that hold both, or one without the other where every bar with it must hold both.
    """

    first: int
    second: int
    low: int
    high: int

    def joins(self, demands: Sequence[int]) -> list[tuple[int, int]]:
        """Pieces that no bar may hold without a certain other."""
        if self.first == self.second:
            return []
        ways = ((self.first, self.second), (self.second, self.first))
        # No more bars than asked for hold the one piece at all, and so many must hold both.
        return [(one, other) for one, other in ways if self.low >= demands[one]]

    def plain(self, demands: Sequence[int]) -> bool:
        """Whether barring patterns is all that the rule says."""
        return self.high == 0 or (self.high >= FAR and bool(self.joins(demands)))


@dataclass(slots=True)
class ListNode:
    """A node of the search over the list: its box, rules, and the whole prices that bound it.

    `cut_prices` are those of cuts that halve; `value` is the bound in fine units; `where` how it was split,
    into `children`.
    """

    box: Box
    rules: tuple[Rule, ...]
    bound: int
    allowed: Ints
    prices: tuple[int, ...] = ()
    rule_prices: tuple[int, ...] = ()
    cut_prices: tuple[tuple[Halves, int], ...] = ()
    value: int = -EMPTY
    excess: Ints | None = None
    where: tuple[str, int, int] | Rule | None = None
    children: list["ListNode"] = field(default_factory=list)


class PatternList:
    """Patterns of all kinds of bars, stored sparse, with whole costs."""

    def __init__(
        self, problem: Problem, rows: Sequence[npt.NDArray[np.int16]], credits: Sequence[Ints | None]
    ) -> None:
        self.problem = problem
        self.kinds: Ints = np.concatenate([np.full(len(r), k, np.int64) for k, r in enumerate(rows)])
        self.rows = np.concatenate(rows).reshape(-1, len(problem.sizes))
        place, piece = np.nonzero(self.rows)
        self.pieces = piece
        self.counts: Ints = self.rows[place, piece].astype(np.int64)
        self.starts: Ints = np.searchsorted(place, np.arange(len(self.rows)))
        used = self._sum(np.array(problem.sizes, np.int64))
        for block, opening in enumerate(problem.openings):
            members = [i for i, b in enumerate(problem.blocks) if b == block]
            used += np.where(self.rows[:, members].any(axis=1), opening, 0)
        self.costs: Ints = np.zeros(len(self.rows), np.int64)
        for k, kind in enumerate(problem.kinds):
            mine = np.nonzero(self.kinds == k)[0]
            credit = credits[k]
            self.costs[mine] = kind.cost if credit is None else kind.cost - credit[used[mine]]

    def __len__(self) -> int:
        return len(self.rows)

    def _sum(self, prices: Ints) -> Ints:
        if not len(self.rows):
            return np.zeros(0, np.int64)
        return np.add.reduceat(prices[self.pieces] * self.counts, self.starts)

    def worth(self, prices: Ints) -> Ints:
        """Worth of each pattern at whole prices."""
        return self._sum(prices)

    def worth_float(self, prices: Floats) -> Floats:
        """Worth of each pattern at float prices."""
        if not len(self.rows):
            return np.zeros(0)
        return np.add.reduceat(prices[self.pieces] * self.counts, self.starts)

    def barred(self, rule: Rule, numbers: Ints) -> Bools:
        """Which of these patterns a rule does not allow at all."""
        rows = self.rows[numbers]
        out = np.zeros(len(rows), np.bool_)
        if rule.high == 0:
            out |= self.covered(rule)[numbers]
        for one, other in rule.joins(self.problem.demands):
            out |= (rows[:, one] > 0) & (rows[:, other] == 0)
        return out

    def covered(self, rule: Rule) -> Bools:
        """Which patterns a rule counts."""
        if rule.first == rule.second:
            return np.asarray(self.rows[:, rule.first] >= 2, np.bool_)
        return np.asarray((self.rows[:, rule.first] > 0) & (self.rows[:, rule.second] > 0), np.bool_)


Priced = Callable[[Sequence[int], Sequence[int] | None], tuple[list[int], list[Callable[[], Pattern]]]]


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of the linear program: a listed pattern by number, or one of an open kind (-1)."""

    kind: int
    pattern: Pattern
    number: int


class ListSearch:
    """Best-first search over complete pattern lists within a box.

    Kinds of bars with too many patterns to list stay open: their best pattern is found
    by the knapsack table, and no rule counts them.
    """

    def __init__(
        self,
        patterns: PatternList,
        open_kinds: Sequence[int],
        price: Priced,
        box: Box,
        bound: int,
        fine: int,
        scale: float,
        work: Work,
        best: Callable[[], int],
        offer: Callable[[Solution | None], None],
        start: Sequence[tuple[int, Pattern]],
    ) -> None:
        self.patterns, self.problem = patterns, patterns.problem
        self.open_kinds, self.price = tuple(open_kinds), price
        self.fine, self.scale, self.work = fine, scale, work
        self.best, self.offer = best, offer
        self.root = ListNode(box, (), bound, np.arange(len(patterns)))
        self._exact_costs = patterns.costs * fine
        self._lp = new_lp()
        self._pieces = len(self.problem.demands)
        self._bar_rows = len(self.problem.kinds) + len(self.problem.stock_limits) + 1
        self._columns: list[_Column] = []
        self._numbers: list[int] = []
        self._places: list[int] = []
        self._spares: list[int] = []
        self._known: set[tuple[int, Pattern]] = set()
        self._has = np.zeros(len(patterns), np.bool_)
        self._rule_rows: dict[tuple[int, int], int] = {}
        self._hopeless = False
        self._cuts: list[Halves] = []
        self._halved: list[Ints] = []
        self._build(start)

    # ---- linear program -----------------------------------------------------------------

    def _build(self, start: Sequence[tuple[int, Pattern]]) -> None:
        lp, problem = self._lp, self.problem
        none = np.array([], np.int32)
        for demand in problem.demands:
            lp.addRow(float(demand), float(demand), 0, none, np.array([]))
        for _ in range(self._bar_rows):
            lp.addRow(0.0, INFINITE, 0, none, np.array([]))
        big = 50.0 * max(1.0, max(kind.cost for kind in problem.kinds) / self.scale)
        self._big = big
        for i in range(self._pieces):
            self._add_spare(i, 1.0)
            self._add_spare(i, -1.0)
        for row in range(self._bar_rows):
            self._add_spare(self._pieces + row, 1.0)
        wanted = {(kind, np.array(pattern, np.int16).tobytes()) for kind, pattern in start}
        for number, listed in enumerate(self.patterns.rows):
            if (int(self.patterns.kinds[number]), listed.tobytes()) in wanted:
                self._add_listed(number)
        for kind, pattern in start:
            if kind in self.open_kinds and any(pattern):
                self._add_open(kind, pattern)

    def _add_spare(self, row: int, sign: float) -> None:
        """A dear column that keeps the program feasible."""
        self._spares.append(self._lp.getNumCol())
        self._lp.addCol(self._big, 0.0, INFINITE, 1, np.array([row], np.int32), np.array([sign]))

    def _add_listed(self, number: int) -> bool:
        if self._has[number]:
            return False
        self._has[number] = True
        row = self.patterns.rows[number]
        rules = [
            place
            for (first, second), place in self._rule_rows.items()
            if (row[first] >= 2 if first == second else row[first] and row[second])
        ]
        kind = int(self.patterns.kinds[number])
        cuts = [(self._cut_row(at), int(counted[number])) for at, counted in enumerate(self._halved)]
        self._add(_Column(kind, self._pattern(number), number), int(self.patterns.costs[number]), rules, cuts)
        return True

    def _add_open(self, kind: int, pattern: Pattern) -> bool:
        if (kind, pattern) in self._known:
            return False
        self._known.add((kind, pattern))
        self._add(_Column(kind, pattern, -1), self.problem.cost(kind, pattern), [])
        return True

    def _add(
        self, column: _Column, cost: int, rules: Sequence[int], cuts: Sequence[tuple[int, int]] = ()
    ) -> None:
        self._columns.append(column)
        self._numbers.append(column.number)
        self._places.append(self._lp.getNumCol())
        pieces = [i for i, a in enumerate(column.pattern) if a]
        bars = [self._pieces + row for row in self.problem.bar_rows(column.kind)]
        cuts = [(row, count) for row, count in cuts if count]
        index = np.array([*pieces, *bars, *rules, *(row for row, _ in cuts)], np.int32)
        ones = [1.0] * (len(bars) + len(rules))
        value = np.array(
            [*(float(column.pattern[i]) for i in pieces), *ones, *(float(count) for _, count in cuts)]
        )
        self._lp.addCol(cost / self.scale, 0.0, INFINITE, len(index), index, value)

    def _rule_row(self, rule: Rule) -> int:
        key = (rule.first, rule.second)
        if key not in self._rule_rows:
            covered = self.patterns.covered(rule)
            index = np.array(
                [
                    self._places[at]
                    for at, number in enumerate(self._numbers)
                    if number >= 0 and covered[number]
                ],
                np.int32,
            )
            row = self._pieces + self._bar_rows + len(self._cuts) + len(self._rule_rows)
            self._lp.addRow(-INFINITE, INFINITE, len(index), index, np.ones(len(index)))
            self._rule_rows[key] = row
            self._add_spare(row, 1.0)
        return self._rule_rows[key]

    def _set(self, node: ListNode) -> None:
        rules = [rule for rule in node.rules if not rule.plain(self.problem.demands)]
        places = [self._rule_row(rule) for rule in rules]
        count = self._bar_rows + len(self._cuts) + len(self._rule_rows)
        low = np.full(count, -INFINITE)
        high = np.full(count, INFINITE)
        low[: self._bar_rows], high[: self._bar_rows] = node.box.rows()
        high[self._bar_rows : self._bar_rows + len(self._cuts)] = self._cut_ends()
        for rule, place in zip(rules, places, strict=True):
            at = place - self._pieces
            low[at] = max(low[at], rule.low)
            if rule.high < FAR:
                high[at] = min(high[at], rule.high)
        index = np.arange(self._pieces, self._pieces + count, dtype=np.int32)
        self._lp.changeRowsBounds(count, index, low, high)
        allowed = np.zeros(len(self.patterns) + 1, np.bool_)
        allowed[node.allowed] = True
        allowed[-1] = True  # number -1: an open kind
        self._open(allowed[np.array(self._numbers, np.int64)])

    def _open(self, allowed: Bools) -> None:
        count = len(self._columns)
        if count:
            index = np.array(self._places, np.int32)
            high = np.where(allowed, INFINITE, 0.0)
            self._lp.changeColsBounds(count, index, np.zeros(count), high)

    def _run(self) -> tuple[Floats, Floats] | None:
        if self.work.over() or not run_lp(self._lp, self.work):
            return None
        solution = self._lp.getSolution()
        return np.array(solution.col_value), np.array(solution.row_dual)

    # ---- nodes --------------------------------------------------------------------------

    def _beaten(self, bound: int) -> bool:
        return bound > self.best() - self.problem.grid

    def _lift(self, fine_bound: int) -> int:
        return self.problem.on_grid(-(-fine_bound // self.fine))

    def _bar_prices(self, duals: Floats) -> Floats:
        rows = duals[self._pieces :]
        return np.array([rows[self.problem.bar_rows(k)].sum() for k in range(len(self.problem.kinds))])

    def _rule_price(self, rule: Rule, duals: Floats) -> float:
        """Price of a rule; those that only bar patterns have no row and no price."""
        return 0.0 if rule.plain(self.problem.demands) else float(duals[self._rule_row(rule)])

    def _evaluate(self, node: ListNode) -> Floats | None:
        """Solve a node over all patterns; raises its bound. None: no answer in time, or no plan at all."""
        if node.box.least([0] * len(self.problem.kinds), self.problem.stock_of) >= EMPTY:
            node.bound = EMPTY
            return None
        self._set(node)
        unit = self.scale * self.fine
        while True:
            answer = self._run()
            if answer is None:
                return None
            self.work.spend(A_ROUND + A_COUNT * len(self.patterns.counts))
            values, duals = answer
            reduced, mine = self._reduced(node.rules, node.allowed, duals), node.allowed
            prices = np.rint(duals[: self._pieces] * unit).astype(np.int64)
            open_reduced, makers = self._price_open(prices, None)
            self._raise(node, duals, prices, open_reduced)
            if self._beaten(node.bound):
                return values
            fresh = self._fresh(reduced, mine, 100)
            bars = self._bar_prices(duals) * unit
            for k in self.open_kinds:
                if open_reduced[k] - bars[k] < -1e-7 * unit:
                    fresh += self._add_open(k, makers[k]())
            if not fresh:
                return values

    def _price_open(
        self, prices: Ints, bounds: Sequence[int] | None
    ) -> tuple[list[int], list[Callable[[], Pattern]]]:
        if not self.open_kinds:
            return [], []
        return self.price([int(p) for p in prices], bounds)

    def _fresh(self, reduced: Floats, mine: Ints, most: int) -> int:
        order = np.argsort(reduced, kind="stable")[:most]
        return sum(self._add_listed(int(mine[at])) for at in order if reduced[at] < -1e-7)

    def _reduced(self, rules: Sequence[Rule], mine: Ints, duals: Floats) -> Floats:
        patterns = self.patterns
        if not len(patterns):
            return np.zeros(0)
        out: Floats = patterns.costs / self.scale - patterns.worth_float(duals[: self._pieces])
        out -= self._bar_prices(duals)[patterns.kinds]
        for rule in rules:
            price = self._rule_price(rule, duals)
            if price:
                out -= np.where(patterns.covered(rule), price, 0.0)
        for at, counted in enumerate(self._halved):
            if duals[self._cut_row(at)]:
                out -= counted * duals[self._cut_row(at)]
        return out[mine]

    def _raise(self, node: ListNode, duals: Floats, prices: Ints, open_reduced: Sequence[int]) -> None:
        """Bound from prices rounded to whole numbers, exact."""
        unit = self.scale * self.fine
        rules = [self._whole_rule(rule, round(self._rule_price(rule, duals) * unit)) for rule in node.rules]
        cuts = [(at, min(0, round(duals[self._cut_row(at)] * unit))) for at in range(len(self._cuts))]
        cuts = [(at, price) for at, price in cuts if price]
        value, excess = self._bound(node, prices, rules, cuts, open_reduced)
        if value > node.value:
            node.value, node.bound = value, max(node.bound, self._lift(value))
            node.prices, node.rule_prices = tuple(int(p) for p in prices), tuple(rules)
            node.cut_prices = tuple((self._cuts[at], price) for at, price in cuts)
            node.excess = excess

    @staticmethod
    def _whole_rule(rule: Rule, price: int) -> int:
        return 0 if price < 0 and rule.high >= FAR else price

    def _bound(
        self,
        node: ListNode,
        prices: Ints,
        rules: Sequence[int],
        cuts: Sequence[tuple[int, int]],
        open_reduced: Sequence[int],
    ) -> tuple[int, Ints]:
        """Least cost in a node in fine units, and the excess of each listed pattern over its kind's least."""
        reduced = (self._exact_costs - self.patterns.worth(prices))[node.allowed]
        total = sum(int(p) * d for p, d in zip(prices, self.problem.demands, strict=True))
        for rule, price in zip(node.rules, rules, strict=True):
            total += price * (rule.low if price >= 0 else rule.high)
            if price:
                reduced = reduced - np.where(self.patterns.covered(rule)[node.allowed], price, 0)
        for at, price in cuts:
            total += price * most_halved(self.problem.demands, self._cuts[at])
            reduced = reduced - price * self._halved[at][node.allowed]
        kinds = self.patterns.kinds[node.allowed]
        least = [0] * len(self.problem.kinds)
        high = list(node.box.high)
        for k in range(len(least)):
            if k in self.open_kinds:
                least[k] = open_reduced[k]
                continue
            mine = reduced[kinds == k]
            if len(mine):
                least[k] = int(mine.min())
            else:
                high[k] = 0  # no pattern is left: no bar of this kind is cut
        box = replace(node.box, high=tuple(high))
        value = box.least(least, self.problem.stock_of)
        excess = reduced - np.array(least, np.int64)[kinds]
        for k in np.unique(kinds):
            # A plan with such a pattern has at least one bar of its kind.
            low = (*box.low[:k], max(1, box.low[k]), *box.low[k + 1 :])
            more = replace(box, low=low).least(least, self.problem.stock_of) - value
            excess[kinds == k] += min(FAR_FINE, more)
        return total + value, excess

    def run(self, before: int) -> int:
        """Search; returns the least bound of what is left open, or `before` when nothing is."""
        queue: list[tuple[int, int, ListNode]] = [(self.root.bound, 0, self.root)]
        serial = 0
        while queue:
            bound, order, node = heapq.heappop(queue)
            if self._beaten(node.bound):
                continue
            if self.work.over():
                heapq.heappush(queue, (bound, order, node))
                break
            values = self._evaluate(node)
            if self._beaten(node.bound):
                continue
            if values is None:
                heapq.heappush(queue, (node.bound, order, node))
                break
            if node is self.root:
                values = self._cut_off(node, values)
                if self._beaten(node.bound):
                    continue
                if values is None:
                    heapq.heappush(queue, (node.bound, order, node))
                    break
            if serial % DIVE_EVERY == 0 and not self._hopeless:
                self._dive(values)
                if self._beaten(node.bound):
                    continue
            if node is self.root:
                self._propose()
                if self._beaten(node.bound):
                    continue
            children = self._split(node, values)
            if not children and not self._beaten(node.bound):
                heapq.heappush(queue, (node.bound, order, node))
                break
            for child in children:
                serial += 1
                heapq.heappush(queue, (child.bound, -serial, child))  # of equals the newest: depth first
        return min((node.bound for _, _, node in queue), default=before)

    # ---- cuts ---------------------------------------------------------------------------

    def _cut_row(self, at: int) -> int:
        return self._pieces + self._bar_rows + at

    def _cut_ends(self) -> Floats:
        return np.array([most_halved(self.problem.demands, cut) for cut in self._cuts], np.float64)

    def _cut_off(self, node: ListNode, values: Floats) -> Floats | None:
        """Cut fractional plans off at the root; only cuts that bind are kept."""
        for _ in range(CUT_ROUNDS):
            weights = self._weights(values)
            live = [int(at) for at in np.nonzero(weights > 1e-7)[0] if self._numbers[at] >= 0]
            if not live or self.work.over():
                return values
            rows = self.patterns.rows[[self._numbers[at] for at in live]]
            known = set(self._cuts)
            fresh = [
                cut
                for cut in violated(rows, weights[live], self.problem.demands, CUTS_AT_ONCE)
                if cut not in known
            ]
            if not fresh:
                return values
            for cut in fresh:
                self._add_cut(cut)
            answer = self._evaluate(node)
            if answer is None or self._beaten(node.bound):
                return answer
            self._drop_cuts()
            values = answer
        return values

    def _add_cut(self, cut: Halves) -> None:
        counted = halved(self.patterns.rows, cut)
        mine = [
            (self._places[at], int(counted[number]))
            for at, number in enumerate(self._numbers)
            if number >= 0 and counted[number]
        ]
        index = np.array([place for place, _ in mine], np.int32)
        value = np.array([float(count) for _, count in mine])
        self._cuts.append(cut)
        self._halved.append(counted)
        self._lp.addRow(-INFINITE, float(most_halved(self.problem.demands, cut)), len(mine), index, value)

    def _drop_cuts(self) -> None:
        """Drop cuts that do not bind: there are no rows of rules yet."""
        first = self._pieces + self._bar_rows
        held = np.array(self._lp.getSolution().row_value)[first:]
        binds = held > self._cut_ends() - 1e-6
        loose = np.nonzero(~binds)[0]
        if len(loose):
            self._lp.deleteRows(len(loose), (loose + first).astype(np.int32))
            self._cuts = [cut for at, cut in enumerate(self._cuts) if binds[at]]
            self._halved = [counted for at, counted in enumerate(self._halved) if binds[at]]

    # ---- branching ----------------------------------------------------------------------

    def _split(self, node: ListNode, values: Floats) -> list[ListNode]:
        weights = self._weights(values)
        live = [int(at) for at in np.nonzero(weights > 1e-9)[0]]
        whole = all(abs(weights[at] - round(weights[at])) < 1e-6 for at in live)
        if whole and values[self._spares].sum() < 1e-6:
            bars = [(self._columns[at].kind, self._columns[at].pattern, round(weights[at])) for at in live]
            self.offer(tidy(self.problem, bars))
            if self._beaten(node.bound):
                return []
        counts = [0.0] * len(self.problem.kinds)
        for at in live:
            counts[self._columns[at].kind] += float(weights[at])
        costs = [kind.cost for kind in self.problem.kinds]
        where = fractional(node.box, counts, self.problem.stock_of, costs)
        if where is not None:
            allowed = self._within(node)
            node.where = where
            node.children = [
                replace(node, box=box, allowed=allowed, excess=None, where=None, children=[])
                for box in node.box.split(*where)
            ]
            return node.children
        return self._split_pair(node, [at for at in live if self._numbers[at] >= 0], weights)

    def _split_pair(self, node: ListNode, live: Sequence[int], weights: Floats) -> list[ListNode]:
        if not live:
            return []
        rows = self.patterns.rows[[self._numbers[at] for at in live]]
        share = weights[list(live)][:, None]
        has = (rows > 0).astype(np.float64)
        together = (has * share).T @ has
        np.fill_diagonal(together, ((rows > 1) * share).sum(axis=0))
        away = np.abs(together - np.rint(together))
        fraction = together - np.floor(together)
        score = np.where(away > 1e-6, -np.abs(fraction - 0.55), -9.0)
        score = np.triu(score) + np.tril(np.full_like(score, -9.0), -1)
        order = np.argsort(-score, axis=None, kind="stable")[:PROBED]
        pairs = [divmod(int(at), self._pieces) for at in order if score.flat[at] > -9.0]
        best: tuple[float, Rule, list[ListNode]] | None = None
        for first, second in pairs:
            below = floor(together[first, second])
            children = self._pair_children(node, first, second, below)
            sizes = sorted(len(child.allowed) for child in children)
            rank = sizes[0] + 0.2 * sizes[1]
            if best is None or rank < best[0]:
                best = (rank, Rule(first, second, below, below + 1), children)
            if not all(child.rules[-1].plain(self.problem.demands) for child in children):
                break
            if any(self._probed(child) for child in reversed(children)):
                best = (rank, Rule(first, second, below, below + 1), children)
                break
        if best is None:
            return []
        node.where, node.children = best[1], best[2]
        return node.children

    def _probed(self, child: ListNode) -> bool:
        """Whether a child is closed at once: then the pair is as good as decided."""
        if self.work.over():
            return False
        self._evaluate(child)
        return self._beaten(child.bound)

    def _pair_children(self, node: ListNode, first: int, second: int, below: int) -> list[ListNode]:
        within = self._within(node)
        children = []
        for rule in (Rule(first, second, 0, below), Rule(first, second, below + 1, FAR)):
            children.append(
                replace(
                    node,
                    rules=(*node.rules, rule),
                    allowed=within[~self.patterns.barred(rule, within)],
                    rule_prices=(*node.rule_prices, 0),
                    excess=None,
                    where=None,
                    children=[],
                )
            )
        return children

    def _within(self, node: ListNode) -> Ints:
        """Patterns that a plan cheaper than the best may still use in this node."""
        if node.excess is None:
            return node.allowed
        gap = (self.best() - self.problem.grid) * self.fine - node.value
        return node.allowed[node.excess <= gap]

    def _weights(self, values: Floats) -> Floats:
        """Values of the pattern columns; 0 for columns that came after the values."""
        places = np.array(self._places, np.int64)
        weights = np.zeros(len(places))
        known = places < len(values)
        weights[known] = values[places[known]]
        return weights

    # ---- plans --------------------------------------------------------------------------

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

    def _pattern(self, number: int) -> Pattern:
        return tuple(int(a) for a in self.patterns.rows[number])

    def _dive(self, values: Floats) -> None:
        """Fix bars one after another; price again for what is left."""
        left = np.array(self.problem.demands, np.int64)
        fixed: list[tuple[int, Pattern, int]] = []
        spent = [0] * len(self.problem.kinds)
        lp = self._lp
        rows = np.arange(self._pieces, dtype=np.int32)
        rules = (
            np.arange(self._bar_rows, self._bar_rows + len(self._cuts) + len(self._rule_rows), dtype=np.int32)
            + self._pieces
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
        """Which columns hold no more than is left."""
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
