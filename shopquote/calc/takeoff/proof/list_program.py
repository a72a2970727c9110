"""The linear program over a list of patterns, with rows for rules."""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.takeoff.bounds import Bounds
from shopquote.calc.takeoff.lp import new_lp, run_lp
from shopquote.calc.takeoff.master import INFINITE, Box
from shopquote.calc.takeoff.problem import Ints, Pattern
from shopquote.calc.takeoff.proof.pattern_list import FAR, Bools, Floats, ListNode, PatternList, Rule


class ListProgram:
    """The program of a search over complete pattern lists within a box; columns are patterns by number."""

    def __init__(
        self,
        patterns: PatternList,
        box: Box,
        bound: int,
        bounds: Bounds,
        start: Sequence[tuple[int, Pattern]],
    ) -> None:
        self.patterns, self.problem = patterns, patterns.problem
        self.bounds, self.fine, self.scale, self.work = bounds, bounds.fine, bounds.scale, bounds.work
        self.root = ListNode(box, (), bound, np.arange(len(patterns)))
        self._exact_costs = patterns.costs * self.fine
        self._lp = new_lp()
        self._pieces = len(self.problem.demands)
        self._bar_rows = len(self.problem.kinds) + len(self.problem.stock_limits) + 1
        self._numbers: list[int] = []
        self._places: list[int] = []
        self._spares: list[int] = []
        self._has = np.zeros(len(patterns), np.bool_)
        self._rule_rows: dict[tuple[int, int], int] = {}
        # The solver believes that no plan is cheaper.
        self.hopeless = False
        self.queue: list[tuple[int, int, ListNode]] = [(bound, 0, self.root)]
        self.serial = 0
        self._build(start)

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
        self._numbers.append(number)
        self._places.append(self._lp.getNumCol())
        pieces = np.nonzero(row)[0]
        bars = [self._pieces + place for place in self.problem.bar_rows(int(self.patterns.kinds[number]))]
        index = np.array([*pieces, *bars, *rules], np.int32)
        value = np.array([*row[pieces].astype(float), *[1.0] * (len(bars) + len(rules))])
        cost = float(self.patterns.costs[number]) / self.scale
        self._lp.addCol(cost, 0.0, INFINITE, len(index), index, value)
        return True

    def _rule_row(self, rule: Rule) -> int:
        key = (rule.first, rule.second)
        if key not in self._rule_rows:
            covered = self.patterns.covered(rule)
            mine = [
                place for place, number in zip(self._places, self._numbers, strict=True) if covered[number]
            ]
            index = np.array(mine, np.int32)
            row = self._pieces + self._bar_rows + len(self._rule_rows)
            self._lp.addRow(-INFINITE, INFINITE, len(index), index, np.ones(len(index)))
            self._rule_rows[key] = row
            self._add_spare(row, 1.0)
        return self._rule_rows[key]

    def _set(self, node: ListNode) -> None:
        rules = [rule for rule in node.rules if not rule.plain(self.problem.demands)]
        places = [self._rule_row(rule) for rule in rules]
        count = self._bar_rows + len(self._rule_rows)
        low = np.full(count, -INFINITE)
        high = np.full(count, INFINITE)
        low[: self._bar_rows], high[: self._bar_rows] = node.box.ends()
        for rule, place in zip(rules, places, strict=True):
            at = place - self._pieces
            low[at] = max(low[at], rule.low)
            if rule.high < FAR:
                high[at] = min(high[at], rule.high)
        index = np.arange(self._pieces, self._pieces + count, dtype=np.int32)
        self._lp.changeRowsBounds(count, index, low, high)
        allowed = np.zeros(len(self.patterns), np.bool_)
        allowed[node.allowed] = True
        self._open(allowed[np.array(self._numbers, np.int64)])

    def _open(self, allowed: Bools) -> None:
        count = len(self._numbers)
        if count:
            index = np.array(self._places, np.int32)
            # Closed by its bound rather than taken out: the basis of the last node stays usable.
            high = np.where(allowed, INFINITE, 0.0)
            self._lp.changeColsBounds(count, index, np.zeros(count), high)

    def _run(self) -> tuple[Floats, Floats] | None:
        if self.work.over() or not run_lp(self._lp, self.work):
            return None
        solution = self._lp.getSolution()
        return np.array(solution.col_value), np.array(solution.row_dual)

    def _bar_prices(self, duals: Floats) -> Floats:
        rows = duals[self._pieces :]
        return np.array([rows[self.problem.bar_rows(k)].sum() for k in range(len(self.problem.kinds))])

    def _rule_price(self, rule: Rule, duals: Floats) -> float:
        """Price of a rule; those that only bar patterns have no row and no price."""
        return 0.0 if rule.plain(self.problem.demands) else float(duals[self._rule_row(rule)])

    def _fresh(self, reduced: Floats, mine: Ints, most: int) -> int:
        # Stable, so that of equal columns the same ones come in on every machine.
        order = np.argsort(reduced, kind="stable")[:most]
        return sum(self._add_listed(int(mine[at])) for at in order if reduced[at] < -1e-7)

    def _reduced(self, rules: Sequence[Rule], mine: Ints, duals: Floats) -> Floats:
        patterns = self.patterns
        if not len(patterns):
            return np.zeros(0)
        out: Floats = patterns.costs / self.scale - patterns.worth(duals[: self._pieces])
        out -= self._bar_prices(duals)[patterns.kinds]
        for rule in rules:
            price = self._rule_price(rule, duals)
            if price:
                out -= np.where(patterns.covered(rule), price, 0.0)
        return out[mine]

    def _pattern(self, number: int) -> Pattern:
        return tuple(int(a) for a in self.patterns.rows[number])
