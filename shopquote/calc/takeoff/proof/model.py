"""A model of a proof: rows that plans add up to, and what plans cost at least by prices of the rows.

Rows are the sizes (pieces of each), the kinds and the stocks of bars and all bars (how many there are), each
between two ends. Give each row a price. A plan costs the sum of price * row plus, for each bar, what it costs
less the prices of its pieces and of the rows that it counts in. Where no bar can cost less than that, as a
table over its length shows, a plan costs at least the first sum, each row at the end that makes it less; so
the bound holds for any prices.
"""

from collections.abc import Sequence
from math import gcd
from typing import Any

import numpy as np

from shopquote.calc.takeoff.proof.given import CENT, LARGEST, CutKind, Given, Table, need

# Least and most of each row; the least of a cut is NO_LEAST.
Ends = list[tuple[int, int]]
NO_LEAST = -(1 << 300)


class Model:
    """Sizes, demands and kinds of bars in whole units; values are counted `fine` times the cost unit.

    `goal`: the dearest cost that plans can have below the bound. The proof shows that none costs so little.
    """

    def __init__(self, given: Given, data: dict[str, Any], bound: int) -> None:
        step, unit, self.fine = data["step"], data["cost_unit"], data["fine"]
        need(step > 0 and unit > 0 and self.fine > 0, "a unit of a model is 0")
        self.demands, self.prices = given.demands, data["prices"]
        # Rounded down, so that whatever fits as it is fits here.
        self.sizes = [size.room // step for size in given.sizes]
        need(min(self.sizes) > 0, "a size is rounded to nothing")
        blocks = sorted({size.block for size in given.sizes if size.block})
        openings = {size.block: size.opening // step for size in given.sizes}
        self.blocks = [blocks.index(size.block) if size.block else -1 for size in given.sizes]
        self.openings = [openings[block] for block in blocks]
        self.kinds: list[CutKind] = given.kinds_of(data)
        need(max(kind.cost for kind in self.kinds) * self.fine < LARGEST, "costs are too large")
        self._add_rows()
        self.credits = [None if kind.credit is None else kind.credit * self.fine for kind in self.kinds]
        self.goal = self._goal(bound, unit) * self.fine
        self._fair: set[int] = set()

    def _goal(self, bound: int, unit: int) -> int:
        """The dearest cost below the bound that plans can have, in cost units."""
        cents = [CENT // unit] if any(kind.credit is not None for kind in self.kinds) else []
        # All costs of plans are multiples of it.
        grid = max(1, gcd(*(kind.cost for kind in self.kinds), *cents))
        return (-(-bound // (unit * grid)) - 1) * grid

    def _add_rows(self) -> None:
        """The ends of the rows, and those that a bar of each kind counts in."""
        limits = {kind.bar: kind.limit for kind in self.kinds}
        stocks, first = list(limits), len(self.sizes)
        most = [*(kind.limit for kind in self.kinds), *limits.values()]
        most.append(min(sum(self.demands), sum(limits.values())))
        self.ends: Ends = [*((n, n) for n in self.demands), *((0, n) for n in most)]
        self.bar_rows = [
            [first + k, first + len(self.kinds) + stocks.index(kind.bar), len(self.ends) - 1]
            for k, kind in enumerate(self.kinds)
        ]

    def padded(self, number: int, rows: int) -> list[int]:
        """A set of prices; rows at the end that it does not tell have none."""
        prices = self.prices[number]
        need(len(prices) <= rows, "there are more prices than rows")
        return [*prices, *[0] * (rows - len(prices))]

    def gap(self, number: int, ends: Ends) -> int:
        """From what any plan between the ends costs at least, by a set of prices, to the goal."""
        prices = self.padded(number, len(ends))
        if number not in self._fair:
            for k, least in enumerate(self._reduced(prices[: len(self.sizes)])):
                need(least >= self.of_bar(k, prices), "a bar is worth more than it costs")
            self._fair.add(number)
        return int(self.goal - sum(map(worth_of, prices, ends)))

    def of_bar(self, kind: int, prices: Sequence[int]) -> int:
        """Prices of the rows that a bar of a kind counts in, together."""
        kind_row, stock_row, all_row = self.bar_rows[kind]
        return int(prices[kind_row] + prices[stock_row] + prices[all_row])

    def used_by(self, rows: Table) -> Table:
        """Units that each row takes."""
        used: Table = rows @ np.array(self.sizes, np.int64)
        for block, opening in enumerate(self.openings):
            members = [i for i, b in enumerate(self.blocks) if b == block]
            used = used + np.where(rows[:, members].any(axis=1), opening, 0)
        return used

    def costs_of(self, kind: int, rows: Table) -> Table:
        """What bars of a kind cost that are cut so, less credits, in fine units."""
        cost, credit = self.kinds[kind].cost * self.fine, self.credits[kind]
        return np.full(len(rows), cost, np.int64) if credit is None else cost - credit[self.used_by(rows)]

    # ---- tables over the length of a bar ------------------------------------------------

    def _reduced(self, prices: Sequence[int]) -> list[int]:
        """Least of cost - credit - prices over all that a bar of each kind can hold."""
        out = []
        tables: dict[tuple[bool, ...], Table] = {}
        for kind, credit in zip(self.kinds, self.credits, strict=True):
            if kind.allowed not in tables:
                same = [other.capacity for other in self.kinds if other.allowed == kind.allowed]
                tables[kind.allowed] = self._fill(prices, kind.allowed, max(same))
            best = tables[kind.allowed][: kind.capacity + 1]
            gain = int(best[-1]) if credit is None else int((best + credit).max())
            out.append(kind.cost * self.fine - gain)
        return out

    def _fill(self, prices: Sequence[int], may: Sequence[bool], capacity: int) -> Table:
        """`table[u]`: the dearest pieces that fit in u units, each at most as often as asked for."""
        dear = [(max(0, price), size) for price, size in zip(prices, self.sizes, strict=True)]
        most = max(price * capacity // size + price for price, size in dear)
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


def worth_of(price: int, ends: tuple[int, int]) -> int:
    """The least that a row between its ends is worth at a price."""
    return price * ends[price < 0] if price else 0


def within(ends: tuple[int, int], low: int, high: int) -> tuple[int, int]:
    """What is left of a range between two others."""
    return max(ends[0], low), min(ends[1], high)
