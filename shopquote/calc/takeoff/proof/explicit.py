"""Search over a complete list of patterns: the last step from a small gap to a proof.

`patterns_within` lists what a cheaper plan may use; here the list is searched by best
first branching on pairs of pieces in one bar, with a bound in whole numbers for each
node. Every demand is met exactly, so prices may have either sign.
"""

import heapq
from collections.abc import Sequence
from dataclasses import replace
from math import floor

import numpy as np

from shopquote.calc.takeoff.master import EMPTY, FAR_PRICE, fractional
from shopquote.calc.takeoff.problem import Ints, tidy
from shopquote.calc.takeoff.proof.list_dive import A_COUNT, A_ROUND, ListDives
from shopquote.calc.takeoff.proof.pattern_list import FAR, Floats, ListNode, Rule

# Pairs tried out before one is branched on.
PROBED = 6
# Children made between two dives.
DIVE_EVERY = 8


class ListSearch(ListDives):
    """Best-first search over complete pattern lists within a box."""

    def _evaluate(self, node: ListNode) -> Floats | None:
        """Solve a node over all patterns; raises its bound. None: no answer in time, or no plan at all."""
        if node.box.least([0] * len(self.problem.kinds), self.problem.stock_of) >= EMPTY:
            node.bound = EMPTY
            # Of bars alone: no numbers of them lie between all these ends.
            node.bars = node.box.prices([0] * len(self.problem.kinds), self.problem.stock_of)
            node.prices, node.rule_prices = (0,) * self._pieces, (0,) * len(node.rules)
            return None
        self._set(node)
        while True:
            answer = self._run()
            if answer is None:
                return None
            self.work.spend(A_ROUND + A_COUNT * len(self.patterns.counts))
            values, duals = answer
            reduced, mine = self._reduced(node.rules, node.allowed, duals), node.allowed
            self._raise(node, duals)
            if self.bounds.beaten(node.bound) or not self._fresh(reduced, mine, 100):
                return values

    def _raise(self, node: ListNode, duals: Floats) -> None:
        """Bound from prices rounded to whole numbers, exact."""
        unit = self.scale * self.fine
        prices = np.rint(duals[: self._pieces] * unit).astype(np.int64)
        rules = [self._whole_rule(rule, round(self._rule_price(rule, duals) * unit)) for rule in node.rules]
        value, bars, costs = self._bound(node, prices, rules)
        if value > node.value:
            node.value, node.bound = value, max(node.bound, self.bounds.lift(value))
            node.prices, node.bars, node.rule_prices = tuple(map(int, prices)), bars, tuple(rules)
            node.excess = costs[node.allowed]
            self._bar(node, int(costs.min(initial=0)))

    def _bar(self, node: ListNode, least: int) -> None:
        """Raise the prices of plain rules so far that what they bar costs too much; the bound stays.

        `least`: the least reduced cost of any pattern, barred or not.
        """
        far = 1 + max(0, self.bounds.target() * self.fine - node.value) - min(0, least)
        prices, rules = list(node.prices), list(node.rule_prices)
        for at, rule in enumerate(node.rules):
            if rule.high == 0:
                rules[at] -= far
            for one, _ in rule.joins(self.problem.demands):
                # As many bars must hold both as hold the one at all: so each bar with it holds one, and both.
                rules[at] += far
                prices[one] -= far
        node.prices, node.rule_prices = tuple(prices), tuple(rules)

    @staticmethod
    def _whole_rule(rule: Rule, price: int) -> int:
        return 0 if price < 0 and rule.high >= FAR else price

    def _bound(self, node: ListNode, prices: Ints, rules: Sequence[int]) -> tuple[int, tuple[int, ...], Ints]:
        """Least cost in a node in fine units, prices of the bars, and the reduced costs of all patterns."""
        costs = self._exact_costs - self.patterns.worth(prices)
        total = sum(int(p) * d for p, d in zip(prices, self.problem.demands, strict=True))
        for rule, price in zip(node.rules, rules, strict=True):
            total += price * (rule.low if price >= 0 else rule.high)
            if price:
                costs = costs - np.where(self.patterns.covered(rule), price, 0)
        reduced, kinds = costs[node.allowed], self.patterns.kinds[node.allowed]
        number = len(self.problem.kinds)
        cut = [bool((kinds == k).any()) for k in range(number)]
        least = [int(reduced[kinds == k].min()) if cut[k] else 0 for k in range(number)]
        high = tuple(most if has else 0 for most, has in zip(node.box.high, cut, strict=True))
        bars = list(replace(node.box, high=high).prices(least, self.problem.stock_of))
        for k, has in enumerate(cut):
            if not has:  # no pattern is left: no bar of this kind is cut
                bars[k] = FAR_PRICE if node.box.low[k] else 0
        a_bar = [sum(bars[row] for row in self.problem.bar_rows(k)) for k in range(number)]
        return (
            total + node.box.worth(bars),
            tuple(bars),
            costs - np.array(a_bar, np.int64)[self.patterns.kinds],
        )

    def run(self, before: int, most: int = 1 << 40) -> int:
        """Search at most so many more nodes; the least bound of what is open, or `before` when nothing is.

        Called again, it goes on where it stopped.
        """
        queue = self.queue
        while queue:
            bound, order, node = heapq.heappop(queue)
            if self.bounds.beaten(node.bound):
                continue
            if self.work.over() or not most:
                heapq.heappush(queue, (bound, order, node))
                break
            most -= 1
            children = self._visit(node, dive=self.serial % DIVE_EVERY == 0)
            if self.bounds.beaten(node.bound):
                continue
            if not children:
                heapq.heappush(queue, (node.bound, order, node))
                break
            for child in children:
                self.serial += 1
                heapq.heappush(queue, (child.bound, -self.serial, child))  # of equals the newest: depth first
        return min((node.bound for _, _, node in queue), default=before)

    def _visit(self, node: ListNode, *, dive: bool) -> list[ListNode]:
        """Bound a node, look for plans there, and divide it; none when it is closed, or out of work."""
        values = self._evaluate(node)
        if values is None or self.bounds.beaten(node.bound):
            return []
        if dive and not self.hopeless:
            self._dive(values)
        if node is self.root and not self.bounds.beaten(node.bound):
            self._propose()
        return [] if self.bounds.beaten(node.bound) else self._split(node, values)

    def _split(self, node: ListNode, values: Floats) -> list[ListNode]:
        weights = self._weights(values)
        live = [int(at) for at in np.nonzero(weights > 1e-9)[0]]
        whole = all(abs(weights[at] - round(weights[at])) < 1e-6 for at in live)
        if whole and values[self._spares].sum() < 1e-6:
            numbers = [(self._numbers[at], round(weights[at])) for at in live]
            bars = [(int(self.patterns.kinds[at]), self._pattern(at), count) for at, count in numbers]
            self.bounds.offer(tidy(self.problem, bars))
            if self.bounds.beaten(node.bound):
                return []
        counts = [0.0] * len(self.problem.kinds)
        for at in live:
            counts[int(self.patterns.kinds[self._numbers[at]])] += float(weights[at])
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
        return self._split_pair(node, live, weights)

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
        return self.bounds.beaten(child.bound)

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
        gap = self.bounds.target() * self.fine - node.value
        return node.allowed[node.excess <= gap]
