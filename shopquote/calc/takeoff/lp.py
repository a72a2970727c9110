"""The linear programming solver as the planner uses it: one thread, no clock of its own, work counted."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.solver import quiet_solver
from shopquote.calc.takeoff.work import Work

# What a run and a step of the simplex cost in units of work: a start of its own with a look at every entry,
# then a step's pass over rows and columns. Fitted to 2,401 runs of six credited jobs with up to 1.2 million
# entries: without these, short runs were counted at a fifth of what they take.
A_RUN = 300_000
AN_ENTRY = 20
A_STEP = 10_000
A_ROW = 100
A_COLUMN = 15
FAR_STEPS = 1 << 30

# No end of a row or column.
INFINITE = float("inf")
Floats = npt.NDArray[np.float64]


def new_lp() -> Any:
    """A linear program for the simplex method, kept warm between runs."""
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


def add_rows(lp: Any, least: Sequence[float] | Floats, most: Sequence[float] | Floats) -> None:
    """Rows from their least to their most, with nothing in them yet."""
    nothing = np.zeros(0, np.int32)
    ends = np.array(least, np.float64), np.array(most, np.float64)
    lp.addRows(len(least), *ends, 0, nothing, nothing, np.zeros(0))


def add_columns(lp: Any, matrix: npt.NDArray[Any], costs: Floats, most: Floats) -> None:
    """A column, from 0 to its most, for each row of `matrix`: its parts in the rows of the program."""
    place, row = np.nonzero(matrix)
    count = len(matrix)
    starts = np.searchsorted(place, np.arange(count)).astype(np.int32)
    parts = matrix[place, row].astype(np.float64)
    lp.addCols(count, costs, np.zeros(count), most, len(row), starts, row.astype(np.int32), parts)


def run_lp(lp: Any, work: Work, steps: int | None = None) -> bool:
    """Solve from the basis of the last run; whether an optimum was found.

    At most so many simplex `steps`, or as many as the work that is left is worth.
    """
    a_step = A_STEP + A_ROW * lp.getNumRow() + A_COLUMN * lp.getNumCol()
    most = min(FAR_STEPS, 100 + work.left // a_step) if steps is None else steps
    lp.setOptionValue("simplex_iteration_limit", most)
    seconds = work.seconds_left
    if seconds is not None:
        lp.setOptionValue("time_limit", lp.getRunTime() + seconds)
    lp.run()
    work.spend(A_RUN + AN_ENTRY * lp.getNumNz() + a_step * max(0, int(lp.getInfo().simplex_iteration_count)))
    return bool(lp.getModelStatus().name == "kOptimal")
