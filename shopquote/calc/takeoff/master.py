"""The linear program over known patterns, kept warm in HiGHS between rounds.

Only its duals and its fractional values are used, as advice: every bound and every
cost is worked out again in whole numbers elsewhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any

import highspy
import numpy as np
import numpy.typing as npt

from shopquote.calc.solver import quiet_solver
from shopquote.calc.takeoff.problem import Pattern, Problem

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Box:
    """How many bars of each kind, and in all, a branch allows (both ends included)."""

    low: tuple[int, ...]
    high: tuple[int, ...]
    total_low: int
    total_high: int

    def least(self, reduced: Sequence[int]) -> int:
        """Least of sum(n * reduced) over the box; larger than any cost if the box is empty."""
        count = sum(self.low)
        value = sum(n * r for n, r in zip(self.low, reduced, strict=True))
        if count > self.total_high or sum(self.high) < self.total_low:
            return 1 << 200
        order = sorted(range(len(reduced)), key=lambda k: reduced[k])
        for k in order:
            room = self.high[k] - self.low[k]
            goal = self.total_high if reduced[k] < 0 else self.total_low
            take = min(room, goal - count)
            if take > 0:
                count += take
                value += take * reduced[k]
        return value


@dataclass(frozen=True, slots=True)
class Answer:
    """Fractional bars by column, dual prices of the pieces, and of the kinds of bars."""

    objective: float
    values: Floats
    missing: float
    prices: Floats
    kind_prices: Floats


class Master:
    """Demands as >=, a row for each kind of bar and one for all bars; costs over `scale`."""

    def __init__(self, problem: Problem, scale: float) -> None:
        self.problem = problem
        self.scale = scale
        self.pieces = len(problem.demands)
        self.columns: list[tuple[int, Pattern]] = []
        self.known: set[tuple[int, Pattern]] = set()
        self.costs: list[int] = []
        self._rows: list[npt.NDArray[np.int64]] = []
        self._matrix: npt.NDArray[np.int64] | None = None
        self._lp = _quiet()
        self._lp.addVars(self.pieces, np.zeros(self.pieces), np.full(self.pieces, highspy.kHighsInf))
        big = 50.0 * max(1.0, max(kind.cost for kind in problem.kinds) / scale)
        for i in range(self.pieces):
            self._lp.changeColCost(i, big)
        infinity = highspy.kHighsInf
        for i in range(self.pieces):
            self._lp.addRow(float(problem.demands[i]), infinity, 1, np.array([i], np.int32), np.ones(1))
        none = np.array([], np.int32)
        for kind in problem.kinds:
            self._lp.addRow(0.0, float(kind.limit), 0, none, np.array([]))
        self._lp.addRow(0.0, infinity, 0, none, np.array([]))
        for number in range(len(problem.kinds)):
            self.add(number, (0,) * self.pieces)

    def add(self, kind: int, pattern: Pattern) -> bool:
        """Add a column; False when it is there already."""
        if (kind, pattern) in self.known:
            return False
        self.known.add((kind, pattern))
        self.columns.append((kind, pattern))
        cost = self.problem.cost(kind, pattern)
        self.costs.append(cost)
        self._rows.append(np.array(pattern, np.int64))
        self._matrix = None
        used = [i for i, a in enumerate(pattern) if a]
        index = np.array([*used, self.pieces + kind, self.pieces + len(self.problem.kinds)], np.int32)
        value = np.array([*(float(pattern[i]) for i in used), 1.0, 1.0])
        self._lp.addCol(cost / self.scale, 0.0, highspy.kHighsInf, len(index), index, value)
        return True

    @property
    def matrix(self) -> npt.NDArray[np.int64]:
        """Patterns as rows."""
        if self._matrix is None:
            self._matrix = np.stack(self._rows)
        return self._matrix

    def set_box(self, box: Box) -> None:
        """Bounds on the number of bars of each kind and of all."""
        kinds = len(self.problem.kinds)
        rows = np.arange(self.pieces, self.pieces + kinds + 1, dtype=np.int32)
        low = np.array([*box.low, box.total_low], np.float64)
        high = np.array([*box.high, box.total_high], np.float64)
        self._lp.changeRowsBounds(kinds + 1, rows, low, high)

    def set_demands(self, demands: Sequence[int]) -> None:
        """Pieces still to be cut."""
        rows = np.arange(self.pieces, dtype=np.int32)
        low = np.array(demands, np.float64)
        self._lp.changeRowsBounds(self.pieces, rows, low, np.full(self.pieces, highspy.kHighsInf))

    def allow(self, open_columns: npt.NDArray[np.bool_]) -> None:
        """Close the columns that are not open."""
        count = len(self.columns)
        index = np.arange(self.pieces, self.pieces + count, dtype=np.int32)
        high = np.where(open_columns, highspy.kHighsInf, 0.0)
        self._lp.changeColsBounds(count, index, np.zeros(count), high)

    def solve(self, deadline: float) -> Answer | None:
        """Solve from the basis of the last round; None when out of time or without answer."""
        left = deadline - monotonic()
        if left <= 0:
            return None
        self._lp.setOptionValue("time_limit", self._lp.getRunTime() + max(0.01, left))
        self._lp.run()
        if self._lp.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self._lp.getSolution()
        values = np.array(solution.col_value)
        duals = np.array(solution.row_dual)
        return Answer(
            float(self._lp.getInfo().objective_function_value),
            values[self.pieces :],
            float(values[: self.pieces].sum()),
            duals[: self.pieces],
            duals[self.pieces :],
        )


def _quiet() -> Any:
    lp = quiet_solver()
    for name, value in (
        ("presolve", "off"),
        ("solver", "simplex"),
        ("parallel", "off"),
        ("primal_feasibility_tolerance", 1e-9),
        ("dual_feasibility_tolerance", 1e-9),
    ):
        lp.setOptionValue(name, value)
    return lp
