"""Lists of all patterns that plans up to a cost may use, for one node of a search: `Lister`.

Whole prices of the pieces rule out every pattern that costs more beyond them than the gap from the bound to
that cost (`enumerate`). The prices that prove a bound are seldom those that rule out most patterns. To find
better ones, ask what the pieces would be worth if one bar were already cut like the mean of the patterns that
are still in: such prices rule out the mean, and so most of them. Prices of several such rounds together leave
a short list.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from itertools import count

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.generate import Generation
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import Ints
from shopquote.calc.takeoff.proof.enumerate import MOST_CELLS, SPREAD, Filter, Rows, patterns_within
from shopquote.calc.takeoff.proof.pattern_list import Listing, PatternList

# Patterns looked at in a round. Four lists took three quarters more work by half or twice as many.
SAMPLE = 20_000
# Rounds that rule out less than a fiftieth of what is left are idle; this many end the work. By 1 and by 6
# these four took a sixth and a fifth more.
IDLE = 3
# Patterns on the way to a list, for each that may be in it. By 4 and 16 six hard jobs came out the same.
ON_THE_WAY = 8


class Lister:
    """Lists for one node of a search."""

    def __init__(self, search: Generation, node: Node) -> None:
        self.search, self.node, self.problem, self.work = search, node, search.problem, search.work
        self.prices = node.prices
        ways = enumerate(self.problem.stock_of)
        self.kinds = [k for k, stock in ways if min(node.box.high[k], node.box.stock_high[stock]) > 0]
        cells = max(1, len(self.problem.sizes) * self.problem.largest)
        # Prices that patterns are listed by, as memory allows; the others are tried on the finished list.
        self.tables = max(1, MOST_CELLS // cells)

    def by_bound(self, above: int, most: int) -> Listing | None:
        """The list for plans so many steps of cost above the node's bound, by the prices of that bound.

        None where it is longer than `most`.
        """
        dearest = min(self.node.bound + above * self.problem.grid, self.search.target())
        one = self._filter(self.prices, self._reduced, dearest)
        return None if one is None else self._listing([one], dearest, most)

    @cached_property
    def _reduced(self) -> list[int]:
        """Least reduced costs at the prices of the node's bound; the node may have lower ones."""
        return self.search.price_out(self.prices, self.search.tables)[0]

    def by_directed_prices(self, most: int) -> Listing | None:
        """The list for plans that are cheaper than the best one, by prices chosen to make it short.

        None where it is longer than `most`, and where prices beat the node: they raise its bound.
        """
        target = self.search.target()
        first = self._prices_for(np.array(self.problem.demands, np.float64))
        one = self._filter_at(self.prices if first is None else first, target)
        if one is None:
            return None
        filters, idle = [one], 0
        found, complete = self._sample(filters)
        for attempt in count():
            number = sum(map(len, found))
            short = complete and number <= len(self.problem.sizes)
            if self.work.over() or not number or idle == IDLE or short:
                break
            prices = self._prices_against(found, attempt if complete else 0)
            fresh = None if prices is None else self._filter_at(prices, target)
            if fresh is None:
                break
            left = self._passing(found, fresh)
            if (number - sum(map(len, left))) * 50 < number:
                idle += 1
                continue
            idle = 0
            filters.append(fresh)
            found, complete = (left, True) if complete else self._sample(filters)
        return None if self.search.beaten(self.node.bound) else self._listing(filters, target, most)

    def _filter_at(self, prices: Sequence[int], dearest: int) -> Filter | None:
        """The filter of prices, which may raise the node's bound too."""
        reduced, _ = self.search.price_out(prices, self.search.tables)
        self.search.bound_by(self.node, prices, reduced)
        return self._filter(prices, reduced, dearest)

    def _filter(self, prices: Sequence[int], reduced: Sequence[int], dearest: int) -> Filter | None:
        """What prices tell of patterns in plans up to a cost; None where they prove that there are none."""
        search, problem, box = self.search, self.problem, self.node.box
        least = sum(p * d for p, d in zip(prices, problem.demands, strict=True))
        gap = dearest * search.fine - least - box.least(reduced, problem.stock_of)
        if gap < 0:
            return None
        bars = box.prices(reduced, problem.stock_of)
        worths = [
            kind.cost * search.fine - sum(bars[row] for row in problem.bar_rows(k)) - gap
            for k, kind in enumerate(problem.kinds)
        ]
        return Filter(tuple(prices), tuple(worths), bars)

    def _listing(self, filters: Sequence[Filter], dearest: int, most: int) -> Listing | None:
        """The complete list by these filters; None where more than `most` patterns pass them."""
        rows, _ = self._rows(filters, ON_THE_WAY * most)
        for one in filters:
            rows = None if rows is None else self._passing(rows, one)
        if rows is None or sum(map(len, rows)) > most:
            return None
        fine = self.search.fine
        credits = [None if row is None else row // fine for row in self.search.credits]
        listed = PatternList(self.problem, rows, credits, self.node.box)
        return Listing(listed, tuple(filters), dearest)

    def _sample(self, filters: Sequence[Filter]) -> tuple[list[Rows], bool]:
        """Patterns that pass, some of them where there are many; whether these are all."""
        rows, complete = self._rows(filters, SAMPLE, part=True)
        return ([], False) if rows is None else (rows, complete)

    def _rows(
        self, filters: Sequence[Filter], most: int, *, part: bool = False
    ) -> tuple[list[Rows] | None, bool]:
        """Patterns of each kind that pass the last filters; whether these are all. See `patterns_within`."""
        rows, complete = [np.zeros((0, len(self.problem.sizes)), np.int16) for _ in self.problem.kinds], True
        for k in self.kinds:
            credit = self.search.credits[k]
            found = patterns_within(
                self.problem, k, credit, filters[-self.tables :], most, self.work, part=part
            )
            if found is None:
                return None, False
            rows[k], complete = found.rows, complete and found.complete
        return rows, complete

    def _prices_against(self, found: Sequence[Rows], attempt: int) -> list[int] | None:
        """Prices chosen to exclude the mean pattern of the list, or of a part of it."""
        rows = np.concatenate(found)
        if attempt % 2 and len(rows) > 10:
            rows = rows[np.arange(len(rows)) * (SPREAD + 2 * attempt) & 0xFFFF < 0x3000]
        if not len(rows):
            return None
        return self._prices_for(np.maximum(np.array(self.problem.demands) - rows.mean(axis=0), 0.0))

    def _prices_for(self, demands: npt.NDArray[np.float64]) -> list[int] | None:
        """Prices of the linear program when so many pieces are asked for; None when out of work.

        Bars that a box demands are not demanded here: their cost would be given, and nothing have a price.
        """
        box = self.node.box
        box = replace(box, low=(0,) * len(box.low), stock_low=(0,) * len(box.stock_low), total_low=0)
        answer = self.search.reprice(box, demands.tolist(), self.problem.demands)
        return None if answer is None else self.search.whole_prices(answer)

    def _passing(self, found: Sequence[Rows], one: Filter) -> list[Rows]:
        """The patterns of each kind that a filter lets pass."""
        return [rows[self._worth(k, rows, one) >= one.least[k]] for k, rows in enumerate(found)]

    def _worth(self, k: int, rows: Rows, one: Filter) -> Ints:
        """Worth of each row at prices, its credit included."""
        whole = rows.astype(np.int64)
        worth: Ints = whole @ np.array(one.prices, np.int64)
        credit = self.search.credits[k]
        if credit is not None and len(rows):
            worth += credit[whole @ np.array(self.problem.sizes, np.int64) + self.problem.opened(rows)]
        return worth
