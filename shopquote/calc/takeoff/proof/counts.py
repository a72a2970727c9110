"""Check that no choice of counts of listed patterns is cheaper.

Why it proves what it says. Let x be the whole counts of the listed patterns of a plan cheaper
than the target; rows are the demands (equal) and the numbers of bars (least to most).
- Bound: with a whole price for each row, a plan costs at least the sum of price * end of the
  row (least for a price above 0, else most) plus, for each pattern, its reduced cost times its
  least or most count.
- Narrowing: where the bound is B and a reduced cost r > 0, a count above its least by more than
  (target - B) / r costs more than the target; likewise below its most where r < 0.
- Cuts: rows times whole shares give sum(a x) <= b over x and over whole slacks >= 0 of the rows. With f
  the fraction of b, sum(F(a) x) <= floor(b), F(a) = floor(a) + max(0, fraction(a) - f) / (1 - f): this is
  mixed-integer rounding. A cut's own slack, which need not be whole, counts min(0, a) / (1 - f).
  Counts may be reckoned from a least that they have, or down from a most. Coefficients round down and
  ends up, to 1/PARTS.
- Tree: a count, or the number of bars in a row, is at most `below` or more than it.
No floats; sums that could pass 64 bits are refused or taken in Python's whole numbers.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.proof.given import LARGEST, Table, need, whole

FINER = 1 << 14
SHARES = 1 << 20
PARTS = 1 << 14


@dataclass(slots=True)
class Counts:
    """Counts of patterns from `low` to `high`, and the sums of rows from `least` to `most`."""

    low: Table
    high: Table
    least: Table
    most: Table

    def empty(self) -> bool:
        """Whether nothing is between the ends."""
        return bool((self.low > self.high).any() or (self.least > self.most).any())

    def copy(self) -> "Counts":
        """Counts that can be narrowed by themselves."""
        return Counts(self.low.copy(), self.high.copy(), self.least.copy(), self.most.copy())


@dataclass(frozen=True, slots=True)
class _Cut:
    rows: list[int]
    cuts: list[int]
    low: list[int]
    moved: list[tuple[tuple[int, ...], int, bool]]


class CountsCheck:
    """The listed patterns: rows of `base` coefficients and costs in fine units; `pieces` rows are demands."""

    def __init__(self, base: Table, costs: Table, names: Sequence[tuple[int, ...]], pieces: int) -> None:
        self.base, self.costs, self.pieces = base, costs * FINER, pieces
        self.names = list(names)
        self.moved: set[tuple[int, ...]] = set()
        self.cuts: Table = np.zeros((len(base), 0), np.int64)
        self.ends: list[int] = []

    def check(self, node: dict[str, Any], start: Counts, target: int) -> None:
        """Every end of the tree of counts is closed at a target in fine units."""
        goal = target * FINER
        made = [self._cut_of(cut) for cut in node["roundings"]]
        self.moved = {name for cut in made for name, _, _ in cut.moved}
        for prices in node["rounds"]:
            known = len(prices) - self.base.shape[1]
            need(0 <= known <= len(made), "a round has another number of prices")
            while len(self.ends) < known:
                self._round(made[len(self.ends)], start)
            value, reduced = self._value(prices, start)
            if value > goal or start.empty():
                return
            _narrow(start, goal - value, reduced)
            self._keep(start)
        while len(self.ends) < len(made):
            self._round(made[len(self.ends)], start)
        self._check_tree(node["counts"], start, goal)

    def _keep(self, start: Counts) -> None:
        live = start.high > 0
        live |= np.array([name in self.moved for name in self.names], np.bool_)
        self.base, self.cuts, self.costs = self.base[live], self.cuts[live], self.costs[live]
        self.names = [name for name, alive in zip(self.names, live, strict=True) if alive]
        start.low, start.high = start.low[live], start.high[live]

    def _check_tree(self, tree: dict[str, Any], start: Counts, goal: int) -> None:
        place = {name: at for at, name in enumerate(self.names)}
        waiting = [(tree, start)]
        while waiting:
            node, counts = waiting.pop()
            if counts.empty():
                continue
            value, reduced = self._value(node["prices"], counts)
            if value > goal:
                continue
            _narrow(counts, goal - value, reduced)
            if counts.empty():
                continue
            need("less" in node, "an end of a tree of counts is open")
            (below,) = whole([node["below"]], 0)
            less, more = counts, counts.copy()
            if "row" in node:
                (at,) = whole([node["row"]], self.pieces)
                less.most[at] = min(below, int(less.most[at]))
                more.least[at] = max(below + 1, int(more.least[at]))
            else:
                found = place.get((*whole([node["bar"]], 0), *whole(node["pieces"], 0)))
                if found is None:
                    waiting.append((node["less"], less))  # no cheaper plan cuts this pattern at all
                    continue
                less.high[found] = min(below, int(less.high[found]))
                more.low[found] = max(below + 1, int(more.low[found]))
            waiting += [(node["less"], less), (node["more"], more)]

    def _value(self, prices: Sequence[Any], counts: Counts) -> tuple[int, Table]:
        """What a plan within the counts costs at least, and the reduced costs."""
        number = self.base.shape[1]
        mine, others = whole(prices[:number], -LARGEST), whole(prices[number:], -LARGEST)
        need(len(mine) == number and len(others) <= len(self.ends), "prices differ in number")
        need(all(price <= 0 for price in others), "a cut has a price above 0")
        cuts = self.cuts[:, : len(others)]
        size = int(self.costs.max(initial=0)) + int(self.base.max(initial=0)) * sum(map(abs, mine))
        size += int(np.abs(cuts).max(initial=0)) * sum(map(abs, others))
        need(size < LARGEST, "prices are too large")
        reduced = self.costs - self.base @ np.array(mine, np.int64) - cuts @ np.array(others, np.int64)
        total = sum(
            p * int(least if p >= 0 else most)
            for p, least, most in zip(mine, counts.least, counts.most, strict=True)
        )
        total += sum(p * end for p, end in zip(others, self.ends, strict=False))
        times = np.where(reduced >= 0, counts.low, counts.high)
        used = np.nonzero(times)[0]
        total += sum(int(n) * int(r) for n, r in zip(times[used], reduced[used], strict=True))
        return total, reduced

    # ---- cuts ---------------------------------------------------------------------------

    def _cut_of(self, cut: dict[str, Any]) -> "_Cut":
        rows, cuts, low = whole(cut["rows"], -LARGEST), whole(cut["cuts"], -LARGEST), whole(cut["low"], 0)
        need(len(rows) == self.base.shape[1] and all(r < len(rows) for r in low), "a cut has other rows")
        moved = []
        for start, down, *name in cut["moved"]:
            whole([start, down], 0)
            moved.append((tuple(whole(name, 0)), start, bool(down)))
        need(len({name for name, _, _ in moved}) == len(moved), "a count is moved twice")
        return _Cut(rows, cuts, low, moved)

    def _round(self, cut: "_Cut", counts: Counts) -> None:
        """Add a cut: the rows and the cuts before it by their shares, rounded."""
        rows, others = cut.rows, cut.cuts
        need(len(others) <= len(self.ends), "a cut rests on later cuts")
        place = {name: at for at, name in enumerate(self.names)}
        turn = _turns(cut, counts, place)
        known = self.cuts[:, : len(others)]
        size = (int(self.base.max(initial=0)) + 1) * sum(map(abs, rows)) * PARTS
        size += int(np.abs(known).max(initial=0)) * sum(map(abs, others))
        scale = SHARES * PARTS
        need(4 * size + 4 * scale < LARGEST, "shares of a cut are too large")
        ends = [int(counts.least[r] if r in cut.low else counts.most[r]) for r in range(len(rows))]
        sums = self.base @ np.array(rows, np.int64) * PARTS + known @ np.array(others, np.int64)
        end = PARTS * sum(e * u for e, u in zip(ends, rows, strict=True))
        end += sum(e * u for e, u in zip(self.ends, others, strict=False))
        end -= sum(int(sums[place[name]]) * start for name, start, _ in cut.moved)
        whole_end, rest = divmod(end, scale)
        need(rest > 0, "the sum of a cut has no fraction")
        slack = _slack_shares(cut, counts, rest)
        below = [min(0, u) for u in others]
        need((int(self.base.max(initial=0)) + 1) * sum(map(abs, slack)) < LARGEST, "slacks are too large")
        floors, parts = np.divmod(sums * turn, scale)
        coefficients = (floors * (scale - rest) + np.maximum(0, parts - rest)) * turn
        bound = whole_end * (scale - rest)
        bound += sum(int(coefficients[place[name]]) * start for name, start, _ in cut.moved)
        coefficients -= self.base @ np.array(slack, np.int64) + known @ np.array(below, np.int64)
        need(int(np.abs(coefficients).max(initial=0)) < LARGEST // PARTS, "a cut is too large")
        bound -= sum(e * t for e, t in zip(ends, slack, strict=True))
        bound -= sum(e * u for e, u in zip(self.ends, below, strict=False))
        self.cuts = np.column_stack([self.cuts, coefficients * PARTS // (scale - rest)])
        self.ends.append(-(-bound * PARTS // (scale - rest)))


def _turns(cut: _Cut, counts: Counts, place: Mapping[tuple[int, ...], int]) -> Table:
    """-1 for each count that a cut reckons down from its most, 1 for all others."""
    turn = np.ones(len(place), np.int64)
    for name, start, down in cut.moved:
        at = place[name]
        need(
            int(counts.high[at]) <= start if down else int(counts.low[at]) >= start,
            "a count is reckoned from an end that it passes",
        )
        turn[at] = -1 if down else 1
    return turn


def _slack_shares(cut: _Cut, counts: Counts, rest: int) -> list[int]:
    """What the whole slack of each row counts in a cut, rounded as counts are; rows without slack nothing."""
    scale = SHARES * PARTS
    slack = [0] * len(cut.rows)
    for r, share in enumerate(cut.rows):
        if counts.least[r] < counts.most[r]:
            away = -1 if r in cut.low else 1
            times, over = divmod(share * away * PARTS, scale)
            slack[r] = away * (times * (scale - rest) + max(0, over - rest))
    return slack


def _narrow(counts: Counts, gap: int, reduced: Table) -> None:
    """Keep the counts that cost at most the gap."""
    room = min(gap, LARGEST) // np.maximum(1, np.abs(reduced))
    high = np.where(reduced > 0, np.minimum(counts.high, counts.low + room), counts.high)
    counts.low = np.where(reduced < 0, np.maximum(counts.low, counts.high - room), counts.low)
    counts.high = high
