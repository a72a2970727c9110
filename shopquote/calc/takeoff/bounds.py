"""What plans cost at least at whole prices of the pieces: worked out in whole numbers, never by a solver.

Give each piece a price. A plan costs the prices of its pieces plus, for each bar, what the bar costs
less the prices of what is cut from it; a table over the length says the least of that.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property

import numpy as np

from shopquote.calc.takeoff.best import BestPlan, Progress
from shopquote.calc.takeoff.knapsack import Knapsack
from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import CutProblem
from shopquote.calc.takeoff.work import Work

# Prices are cut to whole parts of this many.
SHARES = 1 << 20

# A table, and the kinds of bars of each of its masks.
Table = tuple[Knapsack, tuple[tuple[int, ...], ...]]
# A table, a mask of it, and units used: a pattern.
Place = tuple[Knapsack, int, int]


class Bounds(BestPlan):
    """A problem with its best plan so far, and bounds on what any plan costs."""

    def __init__(
        self, problem: CutProblem, work: Work, progress: Progress | None = None, known: int | None = None
    ) -> None:
        super().__init__(problem, work, progress, known)
        # In fine units, by units used; None where a kind has none.
        self.credits = [kind.credits() * self.fine if kind.credit else None for kind in problem.kinds]
        self.most_credits = [0 if row is None else int(row.max()) for row in self.credits]

    @cached_property
    def tables(self) -> list[Table]:
        """The tables for all pieces that are asked for; many a plan is proven without."""
        return self.knapsacks(self.problem.demands)

    def knapsacks(self, bounds: Sequence[int]) -> list[Table]:
        """A table for each chain of families, with so many pieces of each size at most."""
        problem = self.problem
        tables: list[Table] = []
        for chain in problem.chains:
            widest = max(problem.kinds[k].capacity for _, numbers in chain for k in numbers)
            masks = [mask for mask, _ in chain]
            rows = tuple(numbers for _, numbers in chain)
            tables.append((Knapsack(problem, masks, widest, bounds), rows))
        return tables

    def price_out(self, prices: Sequence[int], tables: Sequence[Table]) -> tuple[list[int], list[Place]]:
        """Least reduced cost of each kind of bar at these prices, and where in its table."""
        kinds = self.problem.kinds
        reduced = [0] * len(kinds)
        places: list[Place] = [(tables[0][0], 0, 0)] * len(kinds)
        for table, rows in tables:
            table.solve(prices, self.work)
            for mask, numbers in enumerate(rows):
                for k in numbers:
                    at, gain = self._best_of(k, table, mask)
                    reduced[k] = kinds[k].cost * self.fine - gain
                    places[k] = (table, mask, at)
        return reduced, places

    def _best_of(self, kind: int, table: Knapsack, mask: int) -> tuple[int, int]:
        """The units used by the best pattern of a kind, and its worth with its credit."""
        capacity, credit = self.problem.kinds[kind].capacity, self.credits[kind]
        return (capacity, table.most(mask, capacity)) if credit is None else table.most_with(mask, credit)

    def by_length(self, root: Node) -> bool:
        """Whether prices in proportion to length already prove the greedy plan; no solver is needed then."""
        priced = [kind for kind in self.problem.kinds if kind.cost]
        if not priced or self.cost_to_beat() >= EMPTY:
            return False
        cheapest = min(priced, key=lambda kind: Fraction(kind.cost, kind.capacity))
        rate = Fraction(cheapest.cost * self.fine, cheapest.capacity)
        prices = [int(size * rate) for size in self.problem.sizes]
        # What fits in a bar is worth no more than its capacity at this rate: a bound without any table.
        least = [
            kind.cost * self.fine - self._most_by_length(k, rate) for k, kind in enumerate(self.problem.kinds)
        ]
        self.bound_by(root, prices, least)
        if self.beaten(root.bound):
            return True
        reduced, _ = self.price_out(prices, self.tables)
        self.raise_bound(root, prices, reduced)
        return self.beaten(root.bound)

    def _most_by_length(self, number: int, rate: Fraction) -> int:
        """The most that a bar of a kind can bring at a price for each unit, its credit included."""
        capacity, credit = self.problem.kinds[number].capacity, self.credits[number]
        if credit is None or rate.numerator * capacity >= 1 << 62:
            return int(capacity * rate) + 1 + self.most_credits[number]
        worth = np.arange(capacity + 1, dtype=np.int64) * rate.numerator // rate.denominator
        return int((worth + credit).max()) + 1

    def raise_bound(self, node: Node, prices: Sequence[int], reduced: Sequence[int]) -> None:
        """Bound from these prices; where they are too high for some bar, also from lower ones."""
        self.bound_by(node, prices, reduced)
        part = self._fitting_part(reduced)
        if part < SHARES:
            lower = [price * part // SHARES for price in prices]
            self.bound_by(node, lower, self._reduced_at(part, reduced))

    def bound_by(self, node: Node, prices: Sequence[int], reduced: Sequence[int]) -> None:
        """Raise the bound of a node where these prices do."""
        fine = sum(p * d for p, d in zip(prices, self.problem.demands, strict=True))
        fine += node.box.least(reduced, self.problem.stock_of)
        if fine > node.fine:
            node.bound, node.fine = max(node.bound, self.lift(fine)), fine
            node.prices, node.reduced = tuple(prices), tuple(reduced)

    def _fitting_part(self, reduced: Sequence[int]) -> int:
        """Largest share (in SHARES) of the prices at which no pattern is worth more than its bar costs."""
        part = SHARES
        for k, kind in enumerate(self.problem.kinds):
            cost, most = kind.cost * self.fine, self.most_credits[k]
            gain = cost - reduced[k]
            if kind.cost and reduced[k] < 0 and gain > most:
                part = min(part, max(0, (cost - most) * SHARES // (gain - most)))
        return part

    def _reduced_at(self, part: int, reduced: Sequence[int]) -> list[int]:
        """Lower bounds on reduced costs after prices are scaled down, from the present gains."""
        out = []
        for k, kind in enumerate(self.problem.kinds):
            cost, most = kind.cost * self.fine, self.most_credits[k]
            gain = cost - reduced[k]
            out.append(cost + (-gain * part - most * (SHARES - part)) // SHARES)
        return out
