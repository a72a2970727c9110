"""Let the solver look for a whole plan over a list of patterns: it proposes, and proves nothing."""

from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.solver import quiet_solver
from shopquote.calc.takeoff.lp import A_COLUMN, A_ROW, A_RUN, A_STEP
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import CutProblem, Ints, Pattern
from shopquote.calc.takeoff.work import Work

# Branching nodes of the solver: work is counted, so that the same input gives the same plan.
MOST_NODES = 150


def proposed(
    problem: CutProblem,
    rows: npt.NDArray[np.int16],
    kinds: Ints,
    costs: npt.NDArray[np.float64],
    box: Box,
    most: float,
    work: Work,
) -> list[tuple[int, Pattern, int]] | None:
    """Bars (kind, pattern, count) that cut every piece exactly and cost at most `most`.

    None when none were found in time; no bars at all when the solver believes that there are none.

    Args:
        rows, kinds, costs: the patterns, and the kind of bar and cost of each.
        box: numbers of bars allowed.
        most: the dearest plan wanted, in the unit of `costs`.
        work: what is left to do; the search counts its steps there.
    """
    if work.over() or not len(rows):
        return None
    demands = np.array(problem.demands, np.float64)
    solver = quiet_solver()
    for name, setting in (("threads", 1), ("parallel", "off"), ("mip_max_nodes", MOST_NODES)):
        solver.setOptionValue(name, setting)
    _add_rows(solver, demands, box, most)
    _add_columns(solver, problem, rows, kinds, costs)
    a_step = A_STEP + A_ROW * len(demands) + A_COLUMN * len(rows)
    if work.seconds_left is not None:
        solver.setOptionValue("time_limit", work.seconds_left)
    solver.run()
    work.spend(A_RUN + a_step * max(0, int(solver.getInfo().simplex_iteration_count)))
    if solver.getModelStatus().name == "kInfeasible":
        return []
    if solver.getInfo().primal_solution_status != 2:
        return None
    counts = [round(value) for value in solver.getSolution().col_value]
    return [(int(kinds[at]), tuple(int(a) for a in rows[at]), n) for at, n in enumerate(counts) if n]


def _add_columns(
    solver: Any, problem: CutProblem, rows: npt.NDArray[np.int16], kinds: Ints, costs: npt.NDArray[np.float64]
) -> None:
    """An integer count for each pattern, at most as often as its pieces are asked for.

    It stands in the rows of its pieces, of the numbers of bars that it counts in, and, last, of the cost.
    """
    number, last = (
        len(problem.demands),
        len(problem.demands) + len(problem.kinds) + len(problem.stock_limits) + 1,
    )
    index, value = [], []
    for row, kind, cost in zip(rows, kinds, costs, strict=True):
        pieces = np.nonzero(row)[0]
        bars = np.array(problem.bar_rows(int(kind)), np.int64) + number
        index.append(np.concatenate([pieces, bars, [last]]))
        value.append(np.concatenate([row[pieces], np.ones(len(bars)), [cost]]))
    starts = np.cumsum([0, *map(len, index)])
    ends = (np.array(problem.demands)[None, :] // np.maximum(rows, 1)).astype(np.float64)
    ends[rows == 0] = float(problem.pieces)
    count = len(rows)
    solver.addCols(
        count,
        np.zeros(count),
        np.zeros(count),
        ends.min(axis=1),
        int(starts[-1]),
        starts[:-1].astype(np.int32),
        np.concatenate(index).astype(np.int32),
        np.concatenate(value).astype(np.float64),
    )
    solver.changeColsIntegrality(count, np.arange(count, dtype=np.int32), np.ones(count, np.uint8))


def _add_rows(solver: Any, demands: npt.NDArray[np.float64], box: Box, most: float) -> None:
    """Rows: every piece exactly, numbers of bars within the box, and the cost at most `most`."""
    lows, highs = box.ends()
    none = np.array([], np.int32)
    for low, high in [
        *zip(demands, demands, strict=True),
        *zip(lows, highs, strict=True),
        (0.0, most + 1e-6 * abs(most)),
    ]:
        solver.addRow(float(low), float(high), 0, none, np.array([]))
