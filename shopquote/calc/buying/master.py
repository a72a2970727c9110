"""The master problem of the column generation: a linear programme over ready choices of the wants.

Its dual values price the deliveries that wants share, and `search` finds new columns by them. It is kept in
the solver and re-solved from its last basis. Begin at `WantMaster.solve`.
"""

from collections.abc import Sequence
from dataclasses import field
from typing import Any

import numpy as np

from shopquote.calc.buying.market import MOST_GOODS, BlockChoice, Limits, Market, Multipliers, counts_of
from shopquote.calc.frozen import dataclass
from shopquote.calc.solver import quiet_solver

# The programme is in money rather than ten-thousandths: the solver's tolerances suit numbers of that size.
TIDY = 1e-4
# Shares within this of 0 or 1 count as integral.
LOOSE = 1e-6


@dataclass(frozen=True, slots=True)
class WantColumn:
    """A choice of one want as a column.

    `cost` of its goods in ten-thousandths, `goods` as (supplier, amount).
    """

    block: int
    choice: BlockChoice
    cost: int
    goods: tuple[tuple[int, int], ...]


@dataclass
class Mixture:
    """The solution of the linear programme.

    `value` in money; `shares` by column, `used` and `free` by supplier, each 0 to 1; the multipliers.
    """

    value: float
    shares: dict[int, float]
    used: dict[int, float]
    free: dict[int, float]
    multipliers: Multipliers = field(repr=False)

    @property
    def is_whole(self) -> bool:
        """Whether all shares and all deliveries are 0 or 1."""
        values = (*self.shares.values(), *self.used.values(), *self.free.values())
        return all(min(abs(value), abs(1 - value)) <= LOOSE for value in values)


class WantMaster:
    """The linear programme over the columns found so far, in the solver."""

    def __init__(self, market: Market, scale: int) -> None:
        import highspy

        self.market, self.scale = market, scale
        self.columns: list[WantColumn] = []
        self.places: list[int] = []
        self._seen: set[tuple[int, BlockChoice]] = set()
        self._links: dict[tuple[int, int, int], int] = {}
        self._limits = Limits()
        self.charging = [s for s, supplier in enumerate(market.suppliers) if supplier.charge]
        self.freeing = [s for s in self.charging if market.suppliers[s].free_from is not None]
        self._infinite = highspy.kHighsInf
        self.solver = quiet_solver()
        self._spent = 0
        # A row for each want: at least one of its choices in all.
        for _ in market.blocks:
            self.solver.addRow(1.0, self._infinite, 0, _ints([]), _floats([]))
        # Rows for each supplier: used >= free, and goods + lack >= free_from x free.
        self.used_at = {s: self._variable(market.suppliers[s].charge * TIDY, 1.0) for s in self.charging}
        self.free_at = {s: self._variable(-market.suppliers[s].spared * TIDY, 1.0) for s in self.freeing}
        self.goods_row: dict[int, int] = {}
        for s in self.freeing:
            self._row([(self.used_at[s], 1.0), (self.free_at[s], -1.0)])
            # A slack at a price: the programme is feasible before columns with enough goods exist, and the
            # multiplier of goods cannot exceed that price.
            lack = self._variable(float(MOST_GOODS), self._infinite)
            free_from = market.suppliers[s].free_from or 0
            self.goods_row[s] = self._row([(lack, 1.0), (self.free_at[s], -free_from * TIDY)])

    def _variable(self, cost: float, high: float) -> int:
        self.solver.addCol(cost, 0.0, high, 0, _ints([]), _floats([]))
        return int(self.solver.getNumCol()) - 1

    def _row(self, terms: Sequence[tuple[int, float]]) -> int:
        places, values = _ints([j for j, _ in terms]), _floats([a for _, a in terms])
        self.solver.addRow(0.0, self._infinite, len(terms), places, values)
        return int(self.solver.getNumRow()) - 1

    def add(self, choices: Sequence[BlockChoice | None]) -> int:
        """Add the choices of the wants, in their order, as columns; return how many were new."""
        new = 0
        for m, choice in enumerate(choices):
            if choice is None or (m, choice) in self._seen:
                continue
            self._seen.add((m, choice))
            goods: dict[int, int] = {}
            for j, count in choice.counts:
                s = self.market.items[j].supplier
                goods[s] = goods.get(s, 0) + self.market.cost_of(j, count)
            column = WantColumn(m, choice, sum(goods.values()), tuple(goods.items()))
            self._take(column)
            new += 1
        return new

    def _take(self, column: WantColumn) -> None:
        terms = [(column.block, 1.0)]
        terms += [(self.goods_row[s], amount * TIDY) for s, amount in column.goods if s in self.goods_row]
        for slot, s in column.choice.links:
            if s in self.used_at:
                key = (column.block, slot, s)
                # used >= the shares that buy anything there: whoever does pays for the delivery.
                if key not in self._links:
                    self._links[key] = self._row([(self.used_at[s], 1.0)])
                terms.append((self._links[key], -1.0))
        rows, values = _ints([i for i, _ in terms]), _floats([a for _, a in terms])
        high = 1.0 if self._allows(column) else 0.0
        self.solver.addCol(column.cost * TIDY, 0.0, high, len(terms), rows, values)
        self.columns.append(column)
        self.places.append(int(self.solver.getNumCol()) - 1)

    def limit(self, limits: Limits) -> None:
        """Set the bounds of variables to what a node's limits allow."""
        self._limits = limits
        for column, place in zip(self.columns, self.places, strict=True):
            self.solver.changeColBounds(place, 0.0, 1.0 if self._allows(column) else 0.0)
        for places, held in ((self.used_at, limits.used), (self.free_at, limits.free)):
            for s, place in places.items():
                low, high = (0.0, 1.0) if s not in held else (float(held[s]), float(held[s]))
                self.solver.changeColBounds(place, low, high)

    def _allows(self, column: WantColumn) -> bool:
        limits = self._limits
        if column.choice.way not in limits.ways.get(column.block, (column.choice.way,)):
            return False
        counts = dict(column.choice.counts)
        if not all(limits.used.get(self.market.items[j].supplier, True) for j in counts):
            return False
        if not limits.counts:
            return True
        # Limits of other wants' items say nothing of this column.
        mine = {j for items in self.market.blocks[column.block].items for j in items}
        return all(low <= counts.get(j, 0) <= high for j, (low, high) in limits.counts.items() if j in mine)

    def solve(self) -> Mixture:
        """Solve the programme. Multipliers are clipped to sensible ranges; any values give a valid bound."""
        self.solver.run()
        pivots = self.solver.getInfo().simplex_iteration_count
        self._spent += max(0, pivots) * self.solver.getNumRow()
        solution = self.solver.getSolution()
        values, duals = solution.col_value, solution.row_dual
        multipliers = Multipliers(self.scale, [0] * len(self.market.suppliers))
        # Within the limit that `scale_of` allows for; a dual below zero is the solver's rounding.
        for s, row in self.goods_row.items():
            multipliers.goods[s] = round(min(max(0.0, duals[row]), float(MOST_GOODS)) * self.scale)
        for key, row in self._links.items():
            most = self.market.suppliers[key[2]].charge * self.scale
            fee = min(round(max(0.0, duals[row]) / TIDY * self.scale), most)
            if fee:
                multipliers.fees[key] = fee
        return Mixture(
            self.solver.getInfo().objective_function_value,
            {c: values[place] for c, place in enumerate(self.places) if values[place] > LOOSE},
            {s: values[place] for s, place in self.used_at.items()},
            {s: values[place] for s, place in self.free_at.items()},
            multipliers,
        )

    def whole(self, nodes: int) -> dict[int, int] | None:
        """The solver's best integral solution over the columns, as bars by item; None if it finds none.

        `nodes` limits the solver's branch and bound.
        """
        import highspy

        # A copy: the master itself must stay linear and keep its basis.
        solver = quiet_solver()
        model = self.solver.getLp()
        model.integrality_ = [highspy.HighsVarType.kContinuous] * model.num_col_
        kinds = list(model.integrality_)
        for place in (*self.places, *self.used_at.values(), *self.free_at.values()):
            kinds[place] = highspy.HighsVarType.kInteger
        model.integrality_ = kinds
        solver.passModel(model)
        solver.setOptionValue("mip_max_nodes", nodes)
        solver.run()
        info = solver.getInfo()
        self._spent += max(0, info.simplex_iteration_count) * model.num_row_
        values = list(solver.getSolution().col_value)
        if len(values) != model.num_col_:
            return None
        chosen: dict[int, BlockChoice] = {}
        for column, place in zip(self.columns, self.places, strict=True):
            # Whole numbers up to the solver's tolerance.
            if values[place] > 0.5:
                chosen[column.block] = column.choice
        return counts_of([chosen.get(m) for m in range(len(self.market.blocks))])

    def spent(self) -> int:
        """Work since the last call: simplex iterations times rows."""
        spent, self._spent = self._spent, 0
        return int(spent)


def _ints(values: Sequence[int]) -> Any:
    return np.array(values, dtype=np.int32)


def _floats(values: Sequence[float]) -> Any:
    return np.array(values, dtype=np.float64)
