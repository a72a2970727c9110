"""Small programmes in whole numbers, solved with a bound that rounding cannot spoil.

minimise cost . x   while   low <= row . x for every row, x whole, 0 <= x <= high

A solver works in floating point, so neither its cost nor its bound is taken on
trust here: a solution counts only after a check in whole numbers, and each
bound is worked out again in whole numbers from the solver's multipliers. Any
multipliers give a true bound; good ones give a sharp one.

Begin at `solve_whole`.
"""

import heapq
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shopquote.calc.solver import quiet_solver

# Multipliers are taken as whole multiples of this part of one.
_SCALE = 1 << 40
_LOOSE = 1e-6

# The least and the most of each variable.
_Box = tuple[list[int], list[int]]


@dataclass
class WholeProgramme:
    """Rows are `low <= sum(coefficient x variable)`; all data are whole numbers."""

    cost: list[int] = field(default_factory=list)
    high: list[int] = field(default_factory=list)
    rank: list[int] = field(default_factory=list)
    rows: list[dict[int, int]] = field(default_factory=list)
    low: list[int] = field(default_factory=list)

    def add_variable(self, cost: int, high: int, rank: int = 0) -> int:
        """A new variable from 0 to `high`; a lower `rank` is decided on earlier."""
        self.cost.append(cost)
        self.high.append(high)
        self.rank.append(rank)
        return len(self.cost) - 1

    def add_row(self, terms: dict[int, int], low: int) -> None:
        """Ask that the sum of the terms is at least `low`."""
        self.rows.append({j: a for j, a in terms.items() if a})
        self.low.append(low)

    def allows(self, x: list[int]) -> bool:
        """Whether whole numbers `x` keep every row and limit, checked exactly."""
        return all(0 <= value <= high for value, high in zip(x, self.high, strict=True)) and all(
            sum(a * x[j] for j, a in row.items()) >= low for row, low in zip(self.rows, self.low, strict=True)
        )

    def price(self, x: list[int]) -> int:
        """The exact cost of `x`."""
        return sum(c * value for c, value in zip(self.cost, x, strict=True))


@dataclass(frozen=True)
class WholeAnswer:
    """`x` costs `cost`; nothing allowed costs less than `bound`. `x` is None when nothing was found."""

    x: list[int] | None
    cost: int | None
    bound: int | None
    nodes: int


def solve_whole(programme: WholeProgramme, seconds: float, *, tidy: float = 1e-4) -> WholeAnswer:
    """The cheapest whole solution, and a bound proven in whole numbers.

    The first solution comes from the solver's own search, from scratch; then a
    search of ours over halved ranges proves it, improves it, or stops at
    `seconds` with the bound reached. `tidy` scales costs for the solver only.

    Source: a bound from any multipliers is weak duality of linear programming.
    """
    deadline = time.monotonic() + seconds
    search = _Search(programme, tidy)
    search.keep(_solver_search(programme, seconds * 0.6, tidy))
    return search.run(deadline)


class _Search:
    """Best-bound-first search over boxes of the variables."""

    def __init__(self, programme: WholeProgramme, tidy: float) -> None:
        self.programme = programme
        self.relaxed = _Relaxed(programme, tidy)
        self.best: list[int] | None = None
        self.best_cost: int | None = None
        self.nodes = 0

    def keep(self, x: list[int] | None) -> None:
        """Remember a solution if it is allowed and cheaper than the best."""
        if x is None or not self.programme.allows(x):
            return
        cost = self.programme.price(x)
        if self.best_cost is None or cost < self.best_cost:
            self.best, self.best_cost = x, cost

    def run(self, deadline: float) -> WholeAnswer:
        """Halve boxes until none could hold anything cheaper, or time is up."""
        count = len(self.programme.cost)
        start = ([0] * count, list(self.programme.high))
        heap: list[tuple[int, int, _Box, Any]] = []
        self._open(heap, start, None)
        while heap:
            bound, _, box, values = heap[0]
            if self.best_cost is not None and bound >= self.best_cost:
                heap.clear()
                break
            if time.monotonic() > deadline:
                return WholeAnswer(self.best, self.best_cost, bound, self.nodes)
            heapq.heappop(heap)
            for half in self._halves(box, values):
                self._open(heap, half, bound)
        return WholeAnswer(self.best, self.best_cost, self.best_cost, self.nodes)

    def _open(self, heap: list[tuple[int, int, _Box, Any]], box: _Box, parent: int | None) -> None:
        tight = _tighten(self.programme, box)
        if tight is None:
            return
        self.nodes += 1
        lows, highs = tight
        if lows == highs:
            self.keep(list(lows))
            return
        values, multipliers = self.relaxed.solve(lows, highs)
        bound = exact_bound(self.programme, multipliers, lows, highs)
        if parent is not None:
            bound = max(parent, bound)
        if values is not None:
            self.keep([round(value) for value in values])
        if self.best_cost is None or bound < self.best_cost:
            heapq.heappush(heap, (bound, self.nodes, (lows, highs), values))

    def _halves(self, box: _Box, values: list[float] | None) -> list[_Box]:
        lows, highs = box
        j, cut = self._split_at(lows, highs, values)
        left = list(highs)
        left[j] = cut
        right = list(lows)
        right[j] = cut + 1
        return [(lows, left), (right, highs)]

    def _split_at(self, lows: list[int], highs: list[int], values: list[float] | None) -> tuple[int, int]:
        open_ones = [j for j in range(len(lows)) if lows[j] < highs[j]]
        if values is not None:
            loose = [j for j in open_ones if abs(values[j] - round(values[j])) > _LOOSE]
            if loose:
                rank = self.programme.rank
                j = min(loose, key=lambda j: (rank[j], abs(values[j] % 1 - 0.5), j))
                return j, min(max(int(np.floor(values[j])), lows[j]), highs[j] - 1)
        j = min(open_ones, key=lambda j: (self.programme.rank[j], j))
        return j, (lows[j] + highs[j]) // 2


def _tighten(programme: WholeProgramme, box: _Box) -> _Box | None:
    """The part of a box that the rows leave, or None when they leave nothing; exact."""
    lows, highs = list(box[0]), list(box[1])
    for _ in range(3):
        changed = False
        for row, low in zip(programme.rows, programme.low, strict=True):
            most = sum(a * (highs[j] if a > 0 else lows[j]) for j, a in row.items())
            if most < low:
                return None
            slack = most - low
            for j, a in row.items():
                if abs(a) * (highs[j] - lows[j]) <= slack:
                    continue
                steps = slack // abs(a)
                if a > 0:
                    lows[j] = highs[j] - steps
                else:
                    highs[j] = lows[j] + steps
                changed = True
        if not changed:
            break
    return lows, highs


def exact_bound(
    programme: WholeProgramme, multipliers: Sequence[float] | None, lows: Sequence[int], highs: Sequence[int]
) -> int:
    """What everything in a box costs at least, from any multipliers, in whole numbers.

    `multipliers` are in cost per unit of a row; negative ones, or None, count as zero.
    """
    reduced = [c * _SCALE for c in programme.cost]
    total = 0
    for row, low, multiplier in zip(
        programme.rows, programme.low, multipliers or [0.0] * len(programme.rows), strict=True
    ):
        whole = int(multiplier * _SCALE) if multiplier > 0 else 0
        if not whole:
            continue
        total += whole * low
        for j, a in row.items():
            reduced[j] -= whole * a
    for j, r in enumerate(reduced):
        total += r * (lows[j] if r >= 0 else highs[j])
    return -((-total) // _SCALE)


class _Relaxed:
    """The programme without whole numbers, kept warm in the solver from box to box."""

    def __init__(self, programme: WholeProgramme, tidy: float) -> None:
        self.tidy = tidy
        self.count = len(programme.cost)
        self.solver = _model(programme, tidy, whole=False)
        self.columns = np.arange(self.count, dtype=np.int32)

    def solve(self, lows: list[int], highs: list[int]) -> tuple[list[float] | None, list[float] | None]:
        """Values and multipliers; None and None when the solver has neither."""
        import highspy

        self.solver.changeColsBounds(
            self.count, self.columns, np.array(lows, dtype=np.float64), np.array(highs, dtype=np.float64)
        )
        self.solver.run()
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None, None
        solution = self.solver.getSolution()
        multipliers = [float(dual) / self.tidy for dual in solution.row_dual]
        return list(solution.col_value), multipliers


def _solver_search(programme: WholeProgramme, seconds: float, tidy: float) -> list[int] | None:
    """The solver's own whole solution from scratch, rounded; None if it has none."""
    solver = _model(programme, tidy, whole=True)
    solver.setOptionValue("time_limit", max(0.1, seconds))
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5 * tidy)
    solver.run()
    values = list(solver.getSolution().col_value)
    return [round(value) for value in values] if len(values) == len(programme.cost) else None


def _model(programme: WholeProgramme, tidy: float, *, whole: bool) -> Any:
    import highspy

    solver = quiet_solver()
    solver.setOptionValue("primal_feasibility_tolerance", 1e-9)
    solver.setOptionValue("dual_feasibility_tolerance", 1e-10)
    count = len(programme.cost)
    model = highspy.HighsLp()
    model.num_col_ = count
    model.num_row_ = len(programme.rows)
    model.col_cost_ = np.array(programme.cost, dtype=np.float64) * tidy
    model.col_lower_ = np.zeros(count)
    model.col_upper_ = np.array(programme.high, dtype=np.float64)
    model.row_lower_ = np.array(programme.low, dtype=np.float64)
    model.row_upper_ = np.full(len(programme.rows), highspy.kHighsInf)
    starts: list[int] = [0]
    index: list[int] = []
    value: list[float] = []
    for row in programme.rows:
        index.extend(row.keys())
        value.extend(float(a) for a in row.values())
        starts.append(len(index))
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.array(starts, dtype=np.int32)
    model.a_matrix_.index_ = np.array(index, dtype=np.int32)
    model.a_matrix_.value_ = np.array(value, dtype=np.float64)
    if whole:
        model.integrality_ = [highspy.HighsVarType.kInteger] * count
    solver.passModel(model)
    return solver
