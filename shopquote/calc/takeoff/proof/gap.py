"""Close the gap that dives leave: list the patterns of cheaper plans, and search the lists."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from random import Random
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.master import EMPTY, Box
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import tidy
from shopquote.calc.takeoff.proof.columns import ColumnSearch
from shopquote.calc.takeoff.proof.corrected import corrected_plans
from shopquote.calc.takeoff.proof.enumerate import Filter, FoundPatterns, patterns_within
from shopquote.calc.takeoff.proof.explicit import ListSearch
from shopquote.calc.takeoff.proof.list_dive import MOST_PROPOSED
from shopquote.calc.takeoff.proof.listing import Lister
from shopquote.calc.takeoff.proof.pattern_list import PatternList

if TYPE_CHECKING:
    from shopquote.calc.takeoff.search import Search

# Patterns that fit in memory with their tables; longer lists are left for dives at random.
MOST_LISTED = 200_000
# Lists of at most so many patterns are searched by the counts of each.
MOST_COLUMNS = 40_000
# Of lists for plans up to the bound, a cent above it, three and so on: the last one that is as short.
MOST_SHORT = 2_000
# Where even the first is too long: as many of the best patterns, from those within a 64th of the gap on.
MOST_PART, SMALLEST_PART, HALVINGS = 5_000, 6, 3
PART_NODES = 10
# Nodes before the first dives by chance; twice as many each time. Not measured alone.
FIRST_NODES = 20
# So often nothing is found before a node without a short list is divided. Once in place of twice left 12
# mitred credited jobs as they were.
MOST_IDLE = 2
# Rounds of column generation for prices to list by.
PRICE_ROUNDS = 30
# Dives at random where there is no list, and before a list that is too long for the solver. Without any, 6 of
# 50 open files lost their proof; how many are best is not measured.
RESTARTS = 200
FEW_RESTARTS = 8
# Plans that learn from one another, where there is no list: the first of them proves one of 65 open files
# that the dives leave open.
LEARNT = 5
# Work at most for rounding cuts over a list that the solver believes to hold no plan. Of 65 open files they
# close one by half of this that pairs do not close in ten times as much.
CUTS_WORK = 1_000_000_000
# Dives by chance at a time. One in place of two left 12 mitred credited jobs as they were.
TRIES = 2


class Gap:
    """Lists and their searches for one search of one problem."""

    def __init__(self, search: "Search") -> None:
        self.search, self.problem, self.work = search, search.problem, search.work
        self.dived = 0

    @property
    def _is_plain(self) -> bool:
        """Whether all bars have one length and nothing is credited."""
        kind, *more = self.problem.kinds
        return not (more or kind.credit)

    def by_columns(self, node: Node) -> bool:
        """Search a node by the counts of listed patterns; False when even the shortest list is too long.

        List by list, each complete for plans up to a cost: where none is found, all cost more. Then its
        bound is raised, and a node that is neither stuck nor beaten shall be searched again in its turn.
        Not for plain problems of one length, where patterns are cut once or twice.
        """
        if self.search.best is None or self._is_plain:
            return False
        if self._is_beaten_before_lists(node):
            return True
        search: ColumnSearch | None = None
        nodes = FIRST_NODES
        idle = 0
        while not self.work.over() and not self.search.beaten(node.bound):
            if search is None:
                search = self._search_of_columns(node)
            if search is not None:
                self._run_columns(node, search, nodes)
                if self.search.beaten(node.bound) or node.bound > search.dearest():
                    return True
            if not self.search.whole:
                break
            cheaper = self._look_for_plans(node, listed=search is not None)
            if search is None and not cheaper:
                idle += 1
                if idle == MOST_IDLE or not self.search.credited:
                    # What lists have proven of a node is lost where it is divided.
                    node.stuck = node.columns is not None
                    return node.stuck
            nodes *= 2
        node.stuck = not self.search.beaten(node.bound)
        return search is not None

    def _is_beaten_before_lists(self, node: Node) -> bool:
        """Reckon a node anew whose lists begin; whether nothing is left of it then."""
        if node.columns is not None:
            return False
        self.search.generate(node, whole=True)
        if self.search.beaten(node.bound):
            return True
        self._saw_anew(node)
        return False

    def _look_for_plans(self, node: Node, *, listed: bool) -> bool:
        """Look for a plan that costs less, where nothing is `listed` also among the best patterns."""
        before = self.search.cost_to_beat()
        if not listed and self.search.credited:
            self._by_part(node)
        self.dive_again(node)
        return self.search.cost_to_beat() != before

    def _run_columns(self, node: Node, search: ColumnSearch, nodes: int) -> None:
        """Search so many nodes more of a list; the node keeps the search that proves most."""
        least = min(search.run(nodes), search.dearest() + self.problem.grid)
        if least > node.bound:
            node.bound, node.columns = least, search
            node.filters = search.listed_by
        self.search.report()

    def _search_of_columns(self, node: Node) -> ColumnSearch | None:
        """A search by counts over the longest short list of a node; None when there is none."""
        above, found = 0, None
        reduced = self._reduced(node)
        while True:
            dearest = min(node.bound + above * self.problem.grid, self.search.target())
            gap = self._gap(node, node.prices, reduced, dearest)
            one = self._filter_within(node.box, node.prices, reduced, gap)
            rows = self._rows_within(node, one, MOST_SHORT if above else MOST_COLUMNS)
            if rows is None:
                return found
            found = ColumnSearch(self._pattern_list(rows), node.box, self.search, [one], dearest)
            if dearest >= self.search.target():
                return found
            above = 2 * above + 1

    def _by_part(self, node: Node) -> None:
        """Look for a cheaper plan among the best patterns of a node, as many as a search is quick with."""
        reduced = self._reduced(node)
        whole = self._gap(node, node.prices, reduced, node.bound)
        rows: list[npt.NDArray[np.int16]] | None = None
        within, step, halved = 0, whole >> SMALLEST_PART, 0
        while halved < HALVINGS and step:
            one = self._filter_within(node.box, node.prices, reduced, within + step)
            found = self._rows_within(node, one, MOST_PART)
            if found is None:
                step, halved = step // 2, halved + 1
            else:
                rows, within, step = found, within + step, step if halved else 2 * step
        if rows is not None and sum(map(len, rows)) > len(self.problem.sizes):
            ColumnSearch(self._pattern_list(rows), node.box, self.search, [one]).run(PART_NODES)

    def _pattern_list(self, rows: Sequence[npt.NDArray[np.int16]]) -> PatternList:
        credits = [None if row is None else row // self.search.fine for row in self.search.credits]
        return PatternList(self.problem, rows, credits)

    def _rows_within(self, node: Node, one: Filter, most: int) -> list[npt.NDArray[np.int16]] | None:
        """Patterns that a filter lets pass; None when there are too many."""
        rows: list[npt.NDArray[np.int16]] = []
        for k in range(len(self.problem.kinds)):
            found: FoundPatterns | None = FoundPatterns(
                np.zeros((0, len(self.problem.sizes)), np.int16), True
            )
            if self._may_cut(node.box, k):
                credit = self.search.credits[k]
                found = patterns_within(self.problem, k, credit, [one], 8 * most, self.work)
            if found is None or len(found.rows) + sum(map(len, rows)) > most:
                return None
            rows.append(found.rows)
        return rows

    def _reduced(self, node: Node) -> list[int]:
        return self.search.price_out(node.prices, self.search.tables)[0]

    def _kinds_in(self, box: Box) -> tuple[int, ...]:
        return tuple(k for k in range(len(self.problem.kinds)) if self._may_cut(box, k))

    def _may_cut(self, box: Box, kind: int) -> bool:
        return box.high[kind] > 0 and box.stock_high[self.problem.kinds[kind].stock] > 0

    def list_out(self, node: Node) -> None:
        """Close a node by listing every pattern that a cheaper plan may use, and searching the list."""
        node.stuck = True
        if self.search.best is None:
            return
        self.search.generate(node, whole=True)
        if self.search.beaten(node.bound) or not node.prices:
            node.stuck = not self.search.beaten(node.bound)
            return
        most = self._most_bars()
        if most is None or most >= node.box.total_high:
            self._search_list(node)
            return
        # A plan with more bars than that is no cheaper.
        node.where = ("total", 0, most)
        node.children = [replace(node.part(box), stuck=True) for box in node.box.split(*node.where)]
        less, more = node.children
        self.search.bound_by(
            more, [0] * len(self.problem.sizes), [k.cost * self.search.fine for k in self.problem.kinds]
        )
        if less.box.total_low <= most:
            self._search_list(less)
        else:
            less.bound, less.stuck = EMPTY, False
        node.bound = max(node.bound, min(less.bound, more.bound))
        node.stuck = not self.search.beaten(node.bound)

    def _most_bars(self) -> int | None:
        """How many bars a cheaper plan can have, where all bars cost the same."""
        costs = {kind.cost for kind in self.problem.kinds}
        if len(costs) > 1 or not min(costs) or self.search.credited:
            return None
        return self.search.target() // min(costs)

    def _search_list(self, node: Node) -> None:
        lister = Lister(
            self.problem,
            self._kinds_in(node.box),
            self.search.credits,
            partial(self._filter, node),
            partial(self._prices_for, node),
            self.work,
            MOST_LISTED,
        )
        first = self._prices_for(node, np.array(self.problem.demands, np.float64))
        listing = lister.run(node.prices if first is None else first)
        if listing is None or self.search.beaten(node.bound):
            node.stuck = not self.search.beaten(node.bound)
            return
        if self.work.over() or not listing.complete:
            if self.search.whole:
                self._learn(node)
                self.search.restart(node, RESTARTS)
                node.stuck = not self.search.beaten(node.bound)
            return
        if self.search.whole and len(listing) > MOST_PROPOSED and len(self.problem.kinds) == 1:
            # The solver does not look over so long a list: look for a plan by dives first.
            self.search.restart(node, FEW_RESTARTS)
            if self.search.beaten(node.bound):
                node.stuck = False
                return
        patterns = self._pattern_list(listing.rows)
        node.filters = tuple(listing.filters)
        assert self.search.master is not None
        search = ListSearch(
            patterns,
            node.box,
            node.bound,
            self.search,
            self.search.master.columns,
        )
        search.run(EMPTY, 1)
        if search.hopeless and self._is_closed_by_counts(node, patterns):
            return
        bound = search.run(EMPTY)
        node.bound = max(node.bound, min(bound, self.search.cost_to_beat()))
        node.list_root = search.root
        node.stuck = not self.search.beaten(node.bound)

    def _learn(self, node: Node) -> None:
        """Look for a plan of bars of one length among plans that learn from one another."""
        rounds = LEARNT if self._is_plain and not self.search.beaten(node.bound) else 0
        for bars in corrected_plans(self.problem, rounds, self.work):
            self.search.offer(tidy(self.problem, bars))
            if self.search.beaten(node.bound):
                return

    def _is_closed_by_counts(self, node: Node, patterns: PatternList) -> bool:
        """Whether a short search by counts, with rounding cuts, closes a node over its list."""
        search = ColumnSearch(patterns, node.box, self.search, node.filters)
        search.work = self.work.part(CUTS_WORK)
        if search.run() < EMPTY:
            return False
        node.columns, node.bound, node.stuck = search, self.search.cost_to_beat(), False
        return True

    def _filter(self, node: Node, prices: Sequence[int]) -> Filter | None:
        """The filter that these prices give; None when they prove that no plan is cheaper."""
        reduced, _ = self.search.price_out(prices, self.search.tables)
        self.search.bound_by(node, prices, reduced)
        gap = self._gap(node, prices, reduced, self.search.target())
        return None if gap < 0 else self._filter_within(node.box, prices, reduced, gap)

    def _gap(self, node: Node, prices: Sequence[int], reduced: Sequence[int], dearest: int) -> int:
        """From a node's bound at these prices to the dearest plan that is looked for, in fine units."""
        floor_cost = sum(p * d for p, d in zip(prices, self.problem.demands, strict=True))
        floor_cost += node.box.least(reduced, self.problem.stock_of)
        return dearest * self.search.fine - floor_cost

    def _filter_within(self, box: Box, prices: Sequence[int], reduced: Sequence[int], gap: int) -> Filter:
        """Least worth of a pattern at prices of the pieces and the bars that costs no more than the gap."""
        problem = self.problem
        bars = box.prices(reduced, problem.stock_of)
        least = [
            kind.cost * self.search.fine - sum(bars[row] for row in problem.bar_rows(k)) - gap
            for k, kind in enumerate(problem.kinds)
        ]
        return Filter(tuple(prices), tuple(least), bars)

    def _prices_for(self, node: Node, demands: npt.NDArray[np.float64]) -> list[int] | None:
        """Prices of the linear program when so many pieces are asked for; None when out of time.

        Bars that a box demands are not demanded here: their cost would be given, and nothing have a price.
        """
        master = self.search.master
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
            prices = self.search.whole_prices(answer)
            reduced, places = self.search.price_out(prices, self.search.tables)
            if not self.search.add_columns(prices, answer, reduced, places, self.problem.demands):
                break
        return prices

    def _saw_anew(self, node: Node) -> None:
        """Saw bars of the best plan anew."""
        search = self.search
        if search.whole and search.best is not None and search.credited and not search.beaten(node.bound):
            search.saw_anew(search.best, node)
            search.report()

    def dive_again(self, node: Node) -> bool:
        """Saw bars of the best plan anew, and dive by chance; whether that made it cheaper."""
        search = self.search
        if not search.whole or search.best is None or not search.credited:
            return False
        before = search.best.cost
        self._saw_anew(node)
        for _ in range(TRIES):
            answer = None if self.work.over() or search.beaten(node.bound) else search.generate(node)
            if answer is None:
                break
            self.dived += 1
            search.dive(node, answer, Random(self.dived))
            search.report()
        return search.best.cost < before
