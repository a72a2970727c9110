"""A model of a proof: what its bars hold at most at given prices, and the least that plans cost then.

Give each piece a price. A plan costs the prices of its pieces plus, for each bar, its cost less the
prices of what is cut from it. The least of that for a kind of bar comes from a table over its length,
the least over all allowed numbers of bars from simple arithmetic; so the bound holds for any prices.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd
from typing import Any

import numpy as np

from shopquote.calc.takeoff.proof.given import LARGEST, CutKind, Given, Table, need, whole

IMPOSSIBLE = 1 << 300


@dataclass(slots=True)
class Range:
    """Least and most bars: of each kind, each stock, and all."""

    kind: list[tuple[int, int]]
    stock: list[tuple[int, int]]
    total: tuple[int, int]

    def parts(self, split: Sequence[Any]) -> tuple["Range", "Range"]:
        """At most `below` of something, and more than `below`."""
        level, at, below = split
        need(isinstance(below, int) and isinstance(at, int), "a split is not whole numbers")
        need(level in ("kind", "stock", "total"), f"unknown level {level!r}")
        halves = []
        for less in (True, False):
            half = self.copy()
            old = half.total if level == "total" else getattr(half, level)[at]
            new = (old[0], min(old[1], below)) if less else (max(old[0], below + 1), old[1])
            if level == "total":
                half.total = new
            else:
                getattr(half, level)[at] = new
            halves.append(half)
        return halves[0], halves[1]

    def copy(self) -> "Range":
        """A range that can be narrowed by itself."""
        return Range(list(self.kind), list(self.stock), self.total)

    def empty(self) -> bool:
        """Whether some least is above its most."""
        return any(low > high for low, high in [*self.kind, *self.stock, self.total])


class Model:
    """Sizes, demands and kinds of bars in whole units; values are counted `fine` times the cost unit."""

    def __init__(self, given: Given, data: dict[str, Any]) -> None:
        (step,), (self.fine,) = whole([data["step"]], 1), whole([data["fine"]], 1)
        self.demands = given.demands
        # Rounded down, so that whatever fits as it is fits here.
        self.sizes = [size.room // step for size in given.sizes]
        need(min(self.sizes) > 0, "a size is rounded to nothing")
        self.blocks, self.openings = _blocks_of(given, step)
        self.kinds: list[CutKind] = given.kinds_of(data)
        self.stocks = 1 + max(kind.stock for kind in self.kinds)
        limits = {kind.stock: kind.limit for kind in self.kinds}
        self.limits = [limits[s] for s in range(self.stocks)]
        steps = [kind.credit[3] for kind in self.kinds if kind.credit[0] or kind.credit[1]]
        self.credited = bool(steps)
        self.grid = max(1, gcd(*(kind.cost for kind in self.kinds), *steps))
        need(max(kind.cost for kind in self.kinds) * self.fine < LARGEST, "costs are too large")
        self.credits = [_credits(kind, self.fine) for kind in self.kinds]

    def target(self, bound: int, unit: int) -> int:
        """The dearest cost of a plan that is below a bound in millionths of money (or nm)."""
        return -(-bound // (unit * self.grid)) * self.grid - self.grid

    def whole_range(self) -> Range:
        """All numbers of bars: no plan needs more than there are pieces."""
        most = min(sum(self.demands), sum(self.limits))
        return Range([(0, kind.limit) for kind in self.kinds], [(0, n) for n in self.limits], (0, most))

    def used(self, counts: Sequence[int]) -> int:
        """Units that a pattern takes."""
        opened = {self.blocks[i] for i, n in enumerate(counts) if n and self.blocks[i] >= 0}
        units = sum(n * w for n, w in zip(counts, self.sizes, strict=True))
        return units + sum(self.openings[b] for b in opened)

    def used_by(self, rows: Table) -> Table:
        """Units that each row takes."""
        used: Table = rows @ np.array(self.sizes, np.int64)
        for block, opening in enumerate(self.openings):
            members = [i for i, b in enumerate(self.blocks) if b == block]
            used = used + np.where(rows[:, members].any(axis=1), opening, 0)
        return used

    def closes(self, value: int, target: int) -> bool:
        """Whether a bound in fine units is above the target once it is a real cost."""
        cost = -(-value // self.fine)
        return -(-cost // self.grid) * self.grid > target

    def worth_of_all(self, prices: Sequence[int]) -> int:
        """Worth of all pieces asked for."""
        need(len(prices) == len(self.sizes), "prices differ in number")
        return sum(p * d for p, d in zip(prices, self.demands, strict=True))

    def floor(self, prices: Sequence[Any], bars: Range) -> int:
        """What any plan within the numbers of bars costs at least, by prices of the pieces."""
        known = whole(prices, 0)
        return self.worth_of_all(known) + self.least(self.reduced(known), bars)

    def least(self, reduced: Sequence[int], bars: Range) -> int:
        """Least of sum(n * reduced) with the numbers of bars in their ranges.

        One bar at a time, cheapest first: needed ones, then gainful ones, then those missing in all.
        """
        if bars.empty():
            return IMPOSSIBLE
        taken = [low for low, _ in bars.kind]
        stock = [0] * self.stocks
        for k, n in enumerate(taken):
            stock[self.kinds[k].stock] += n
        order = sorted(range(len(reduced)), key=lambda k: reduced[k])
        for needed in (True, False):
            for k in order:
                s = self.kinds[k].stock
                more = bars.kind[k][1] - taken[k]
                if needed:
                    more = min(more, bars.stock[s][0] - stock[s])
                else:
                    goal = bars.total[1] if reduced[k] < 0 else bars.total[0]
                    more = min(more, bars.stock[s][1] - stock[s], goal - sum(taken))
                taken[k] += max(0, more)
                stock[s] += max(0, more)
        inside = all(low <= n <= high for n, (low, high) in zip(stock, bars.stock, strict=True))
        if not inside or not bars.total[0] <= sum(taken) <= bars.total[1]:
            return IMPOSSIBLE
        return sum(n * r for n, r in zip(taken, reduced, strict=True))

    # ---- tables over the length of a bar ------------------------------------------------

    def reduced(self, prices: Sequence[int], only: Sequence[int] | None = None) -> list[int]:
        """Least of cost - credit - prices over all that a bar of each kind can hold."""
        out = [0] * len(self.kinds)
        wanted = range(len(self.kinds)) if only is None else only
        tables: dict[tuple[bool, ...], Table] = {}
        for k in wanted:
            kind, credit = self.kinds[k], self.credits[k]
            if kind.allowed not in tables:
                same = [self.kinds[j].capacity for j in wanted if self.kinds[j].allowed == kind.allowed]
                tables[kind.allowed] = self._fill(prices, kind.allowed, max(same))
            best = tables[kind.allowed][: kind.capacity + 1]
            gain = int(best[-1]) if credit is None else int((best + credit).max())
            out[k] = kind.cost * self.fine - gain
        return out

    def _fill(self, prices: Sequence[int], may: Sequence[bool], capacity: int) -> Table:
        """`table[u]`: the dearest pieces that fit in u units, each at most as often as asked for."""
        most = sum(
            max(0, p) * min(d, capacity // w)
            for p, d, w in zip(prices, self.demands, self.sizes, strict=True)
        )
        need(most < LARGEST, "prices are too large")
        table = np.zeros(capacity + 1, np.int64)
        for block in [-1, *range(len(self.openings))]:
            opening = self.openings[block] if block >= 0 else 0
            if opening > capacity:
                continue
            inside = table[: capacity + 1 - opening].copy()
            for i, price in enumerate(prices):
                if self.blocks[i] == block and price > 0 and may[i]:
                    self.add_piece(inside, i, price)
            np.maximum(table[opening:], inside, out=table[opening:])
        return table

    def add_piece(self, table: Table, i: int, price: int) -> None:
        """Allow up to the asked number of a piece: packets of 1, 2, 4, … and the rest."""
        left, packet = min(self.demands[i], (len(table) - 1) // self.sizes[i]), 1
        while left:
            n = min(left, packet)
            shift = n * self.sizes[i]
            if shift < len(table):
                np.maximum(table[shift:], table[: len(table) - shift] + n * price, out=table[shift:])
            left, packet = left - n, packet * 2


def _blocks_of(given: Given, step: int) -> tuple[list[int], list[int]]:
    """The block of each size, or -1, and the units that each block takes once in a bar."""
    blocks = sorted({size.block for size in given.sizes if size.block})
    of = {size.block: size.opening for size in given.sizes}
    return (
        [blocks.index(size.block) if size.block else -1 for size in given.sizes],
        [of[block] // step for block in blocks],
    )


def _credits(kind: CutKind, fine: int) -> Table | None:
    """Credit by units used, in fine units; None where a kind has none."""
    return kind.credits() * fine if kind.credit[0] or kind.credit[1] else None
