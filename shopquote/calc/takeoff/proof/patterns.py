"""The listed patterns of a proof, and how often a plan within the goal may cut each.

Why it proves what it says. Let x be the counts of the patterns of a plan.
- Bound: with a whole price for each row, a plan costs at least the sum of price * end of the row (least for
  a price above 0, else most) plus, for each pattern, its reduced cost times its least or most count.
- Narrowing: where a reduced cost r > 0, a count above its least by more than gap / r costs more than the
  goal; likewise below its most where r < 0.
- Cuts: rows, each with a share, add up to sum(a x) <= e, when those with a share above 0 are taken at their
  most and those below 0 at their least. With f the fraction of e and whole x >= 0,
  sum(F(a) x) <= floor(e), where F(a) = floor(a) + max(0, fraction(a) - f) / (1 - f): this is mixed-integer
  rounding. What is missing at an end is an x too, whose a is the share without its sign. Coefficients round
  down and ends up, to 1/PARTS.
No floats; sums that could pass 64 bits are refused or taken in Python's whole numbers.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.proof.given import LARGEST, Table, need
from shopquote.calc.takeoff.proof.lists import patterns_within
from shopquote.calc.takeoff.proof.model import NO_LEAST, Ends, Model, worth_of

# Shares of rows are whole parts of WHOLE, coefficients of cuts whole parts of PARTS.
WHOLE = 1 << 34
PARTS = 1 << 14


@dataclass(frozen=True, slots=True)
class Patterns:
    """Patterns as `rows` of pieces, with the kind and cost of each, cut from `low` to `high` times.

    `extra`: the part of each pattern in the rows after those of the model: cuts, counts of a pattern, pairs.
    """

    model: Model
    rows: Table
    kinds: Table
    costs: Table
    low: Table
    high: Table
    extra: tuple[Table, ...] = ()

    def _sums(self, weights: Sequence[int]) -> Table:
        """The sum of weight times part in the row, of each pattern; rows without a weight have none."""
        model, first = self.model, len(self.model.sizes)
        weights = [*weights, *[0] * (len(model.ends) - len(weights))]
        bars = [model.of_bar(k, weights) for k in range(len(model.kinds))]
        extra = [(w, part) for w, part in zip(weights[len(model.ends) :], self.extra, strict=False) if w]
        longest = max((kind.capacity for kind in model.kinds), default=0) // min(model.sizes)
        size = max(map(abs, weights[:first])) * longest + max(map(abs, bars), default=0)
        size += sum(abs(w) * int(np.abs(part).max(initial=0)) for w, part in extra)
        need(size + int(self.costs.max(initial=0)) < LARGEST, "prices are too large")
        sums: Table = self.rows @ np.array(weights[:first], np.int64)
        sums = sums + np.array(bars, np.int64)[self.kinds]
        for weight, part in extra:
            sums = sums + weight * part
        return sums

    def gap(self, number: int, ends: Ends) -> tuple[int, Table]:
        """From the least cost of plans at a set of prices to the goal, and the reduced costs."""
        prices = self.model.padded(number, len(ends))
        reduced = self.costs - self._sums(prices)
        gap = self.model.goal - sum(map(worth_of, prices, ends))
        times = np.where(reduced >= 0, self.low, self.high)
        used = np.nonzero(times)[0]
        gap -= sum(int(n) * int(r) for n, r in zip(times[used], reduced[used], strict=True))
        return gap, reduced

    def narrowed(self, gap: int, reduced: Table) -> "Patterns":
        """The patterns that can be cut at all, as often as that costs no more than the gap."""
        # A gap that passes 64 bits narrows nothing here.
        room = gap // np.maximum(1, np.abs(reduced)) if gap < LARGEST else np.full_like(reduced, LARGEST)
        high = np.where(reduced > 0, np.minimum(self.high, self.low + room), self.high)
        low = np.where(reduced < 0, np.maximum(self.low, self.high - room), self.low)
        live = high > 0
        extra = tuple(part[live] for part in self.extra)
        return Patterns(
            self.model,
            self.rows[live],
            self.kinds[live],
            self.costs[live],
            low[live],
            high[live],
            extra,
        )

    def _places(self, kind: int, pattern: Sequence[int]) -> Table:
        """Where a pattern is: one place, or none."""
        need(len(pattern) == len(self.model.sizes), "a pattern has another number of sizes")
        same = (self.kinds == kind) & (self.rows == np.array(pattern, np.int64)).all(axis=1)
        return np.asarray(np.nonzero(same)[0], np.int64)

    def with_row(self, step: dict[str, Any], ends: Ends) -> tuple["Patterns", Ends]:
        """With one row more: rounded shares of rows, the count of a pattern, or bars that hold a pair."""
        if "shares" in step:
            part, end = self._rounded(step["shares"], ends)
        elif "pattern" in step:
            part, end = self._count(step["pattern"], step["ends"])
        else:
            part, end = self._pair(step["pair"], ends)
        return replace(self, extra=(*self.extra, part)), [*ends, end]

    def _rounded(self, shares: Sequence[int], ends: Ends) -> tuple[Table, tuple[int, int]]:
        need(len(shares) <= len(ends), "there are more shares than rows")
        whole, rest = divmod(_most(shares, ends), WHOLE)
        need(abs(whole) < LARGEST, "a cut has no end")
        floors, parts = np.divmod(self._sums(shares), WHOLE)
        part = floors * (WHOLE - rest) + np.maximum(0, parts - rest)
        # What is missing at an end is whole too, and counts by the share without its sign.
        missing = [
            _missing(u, rest) if low < high else 0 for u, (low, high) in zip(shares, ends, strict=False)
        ]
        part, end = part - self._sums(missing), whole * (WHOLE - rest) - _most(missing, ends)
        need(int(np.abs(part).max(initial=0)) < LARGEST // PARTS, "a cut is too large")
        part, end = part * PARTS // (WHOLE - rest), -(-end * PARTS // (WHOLE - rest))
        need(abs(end) < LARGEST, "a cut has no end")
        return part, (NO_LEAST, end)

    def _count(self, pattern: Sequence[int], ends: Sequence[int]) -> tuple[Table, tuple[int, int]]:
        (low, high), at = ends, self._places(pattern[0], pattern[1:])
        here = (int(self.low[at[0]]), int(self.high[at[0]])) if len(at) else (0, 0)
        need(low <= here[0] and here[1] <= high, "a pattern is not cut as often as a row says")
        part = np.zeros(len(self.rows), np.int64)
        part[at] = 1
        return part, (low, high)

    def _pair(self, sizes: Sequence[int], ends: Ends) -> tuple[Table, tuple[int, int]]:
        one, other = sizes
        both = self.rows[:, one] >= 2 if one == other else (self.rows[:, one] > 0) & (self.rows[:, other] > 0)
        # No more bars hold both than there are, and none need to.
        return both.astype(np.int64), (0, ends[len(self.model.ends) - 1][1])

    def cut_within(self, kind: int, pattern: Sequence[int], low: int, high: int) -> "Patterns | None":
        """One of the patterns cut so many times; None where it cannot be: not listed, it is not cut."""
        at = self._places(kind, pattern)
        if not len(at):
            return None if low > 0 else self
        lows, highs = self.low.copy(), self.high.copy()
        lows[at], highs[at] = np.maximum(lows[at], max(0, low)), np.minimum(highs[at], high)
        return None if lows[at] > highs[at] else replace(self, low=lows, high=highs)


def listed(model: Model, filters: Sequence[int], ends: Ends) -> Patterns:
    """All patterns that plans within the goal may cut, as often as the rows allow."""
    found = patterns_within(model, filters, ends)
    rows = np.concatenate([np.zeros((0, len(model.sizes)), np.int64), *found])
    kinds = np.repeat(np.arange(len(found)), [len(part) for part in found])
    demands = np.array(model.demands, np.int64)
    most = [min(ends[row][1] for row in rows) for rows in model.bar_rows]
    high = np.where(rows > 0, demands // np.maximum(rows, 1), LARGEST).min(axis=1, initial=LARGEST)
    high = np.minimum(high, np.array(most, np.int64)[kinds])
    none = np.zeros(0, np.int64)
    costs = np.concatenate([none, *(model.costs_of(k, part) for k, part in enumerate(found))])
    return Patterns(model, rows, kinds, costs, np.zeros_like(high), high)


def _most(shares: Sequence[int], ends: Ends) -> int:
    """The most that shares of rows add up to between their ends."""
    return -sum(worth_of(-share, end) for share, end in zip(shares, ends, strict=False))


def _missing(share: int, rest: int) -> int:
    """F of the share without its sign, times 1 - f, in parts of WHOLE; with its sign."""
    floor, part = divmod(abs(share), WHOLE)
    rounded = floor * (WHOLE - rest) + max(0, part - rest)
    return rounded if share > 0 else -rounded
