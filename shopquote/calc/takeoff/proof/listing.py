"""List every pattern that a cheaper plan may use, by prices chosen to rule out as many as they can.

The prices that prove a bound are seldom those that rule out most patterns. To find better ones, ask what the
pieces would be worth if one bar were already cut like the mean of the patterns that are still in: such
prices rule out the mean, and so most of them. Prices of several such rounds together leave a short list.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.problem import CutProblem, Ints
from shopquote.calc.takeoff.proof.enumerate import (
    MOST_CELLS,
    SPREAD,
    Filter,
    FoundPatterns,
    Rows,
    patterns_within,
)
from shopquote.calc.takeoff.work import Work

Floats = npt.NDArray[np.float64]

# Prices tried at most; idle rounds end the work long before.
ROUNDS = 30
# Patterns looked at in a round.
SAMPLE = 20_000
# Rounds that rule out less than a fiftieth of what is left are idle; this many end the work.
IDLE = 3
# Prices that patterns are listed by; more are tried on the finished list only.
MOST_TABLES = 8

# The filter of whole prices, or None where they prove that no plan is cheaper.
FilterOf = Callable[[Sequence[int]], Filter | None]
# Prices of the pieces when so many (fractional) are asked for; None when out of work.
PricesFor = Callable[[Floats], Sequence[int] | None]


@dataclass(slots=True)
class Listing:
    """Rows of each kind of bar, and the filters that all rows pass; not `complete` where too many."""

    rows: list[Rows]
    filters: list[Filter]
    complete: bool = True

    def __len__(self) -> int:
        return sum(map(len, self.rows))


class Lister:
    """Lists for one box of one problem."""

    def __init__(
        self,
        problem: CutProblem,
        kinds: Sequence[int],
        credits: Sequence[Ints | None],
        filter_of: FilterOf,
        prices_for: PricesFor,
        work: Work,
        most: int,
    ) -> None:
        self.problem, self.kinds, self.credits = problem, kinds, credits
        self.filter_of, self.prices_for, self.work = filter_of, prices_for, work
        self.most = most
        cells = max(1, len(problem.sizes) * problem.largest)
        self.tables = max(1, min(MOST_TABLES, MOST_CELLS // cells))

    def run(self, first: Sequence[int]) -> Listing | None:
        """The list, from prices that prove the bound; None where they prove that no plan is cheaper."""
        one = self.filter_of(first)
        if one is None:
            return None
        filters = [one]
        found = self._found(filters)
        idle = 0
        for attempt in range(ROUNDS):
            count = sum(len(part.rows) for part in found.values())
            complete = all(part.complete for part in found.values())
            if (
                self.work.over()
                or not count
                or idle == IDLE
                or (complete and count <= len(self.problem.sizes))
            ):
                break
            fresh = self._directed(found, attempt if complete else 0)
            if fresh is None:
                break
            left = self._passing(found, fresh)
            ruled_out = count - sum(len(part.rows) for part in left.values())
            if ruled_out * 50 < count:
                idle += 1
                continue
            idle = 0
            filters.append(fresh)
            if complete:
                found = left
                continue
            found = self._found(filters[-self.tables :])
        return self._finished(filters, found)

    def _finished(self, filters: list[Filter], found: dict[int, FoundPatterns]) -> Listing:
        """The complete lists of all kinds; none where one of them is too long."""
        listing = Listing([], filters)
        nothing = np.zeros((0, len(self.problem.sizes)), np.int16)
        for k in range(len(self.problem.kinds)):
            part: FoundPatterns | None = found.get(k, FoundPatterns(nothing, True))
            if part is not None and not part.complete:
                part = patterns_within(
                    self.problem, k, self.credits[k], filters[-self.tables :], self.most, self.work
                )
            if part is None:
                return Listing([], filters, complete=False)
            listing.rows.append(part.rows)
        for one in filters:
            listing.rows = [self._left(k, rows, one) for k, rows in enumerate(listing.rows)]
        return listing

    def _found(self, filters: Sequence[Filter]) -> dict[int, FoundPatterns]:
        """Patterns that pass, some of them where there are many."""
        nothing = np.zeros((0, len(self.problem.sizes)), np.int16)
        out: dict[int, FoundPatterns] = {}
        for k in self.kinds:
            found = patterns_within(self.problem, k, self.credits[k], filters, SAMPLE, self.work, part=True)
            out[k] = FoundPatterns(nothing, False) if found is None else found
        return out

    def _directed(self, found: dict[int, FoundPatterns], attempt: int) -> Filter | None:
        """The filter of prices chosen to exclude the mean pattern of the list, or of a part of it."""
        rows = np.concatenate([part.rows for part in found.values()])
        if attempt % 2 and len(rows) > 10:
            rows = rows[np.arange(len(rows)) * (SPREAD + 2 * attempt) & 0xFFFF < 0x3000]
        if not len(rows):
            return None
        left = np.maximum(np.array(self.problem.demands, np.float64) - rows.mean(axis=0), 0.0)
        prices = self.prices_for(left)
        return None if prices is None else self.filter_of(prices)

    def _passing(self, found: dict[int, FoundPatterns], one: Filter) -> dict[int, FoundPatterns]:
        return {k: FoundPatterns(self._left(k, part.rows, one), part.complete) for k, part in found.items()}

    def _left(self, k: int, rows: Rows, one: Filter) -> Rows:
        left: Rows = rows[self._worth(k, rows, one) >= one.least[k]]
        return left

    def _worth(self, k: int, rows: Rows, one: Filter) -> Ints:
        """Worth of each row at prices, its credit included."""
        worth: Ints = rows.astype(np.int64) @ np.array(one.prices, np.int64)
        credit = self.credits[k]
        if credit is None or not len(rows):
            return worth
        used: Ints = rows.astype(np.int64) @ np.array(self.problem.sizes, np.int64)
        whole: Ints = worth + credit[used + self.problem.opened(rows)]
        return whole
