"""Let the solver look for a whole plan over a list of patterns: it proposes, and proves nothing."""

import numpy as np

from shopquote.calc.solver import quiet_solver
from shopquote.calc.takeoff.lp import A_COLUMN, A_ROW, A_RUN, A_STEP, add_columns, add_rows
from shopquote.calc.takeoff.problem import Ints
from shopquote.calc.takeoff.proof.pattern_list import PatternList
from shopquote.calc.takeoff.work import Work

# Branching nodes of the solver: work is counted, so that the same input gives the same plan. By 75 and 300
# six hard jobs came out the same.
MOST_NODES = 150


def proposed(listed: PatternList, scale: float, most: float, work: Work) -> Ints | None:
    """How often each pattern is cut in a plan that cuts every piece exactly and costs at most `most`.

    None when none was found in time; all 0 when the solver believes that there is none.

    Args:
        listed: the patterns, and the numbers of bars allowed.
        scale: cost units that the solver counts as 1.
        most: the dearest plan wanted, in these.
        work: what is left to do; the search counts its steps there.
    """
    count = len(listed)
    if work.over() or not count:
        return None
    # An integer count for each pattern. What a plan costs is a row: any within the most will do.
    matrix = np.column_stack([listed.base, listed.costs / scale])
    solver = quiet_solver()
    for name, setting in (("parallel", "off"), ("mip_max_nodes", MOST_NODES)):
        solver.setOptionValue(name, setting)
    add_rows(solver, [*listed.least, 0.0], [*listed.most, most + 1e-6 * abs(most)])
    add_columns(solver, matrix, np.zeros(count), listed.times().astype(np.float64))
    solver.changeColsIntegrality(count, np.arange(count, dtype=np.int32), np.ones(count, np.uint8))
    a_step = A_STEP + A_ROW * len(listed.problem.demands) + A_COLUMN * count
    if work.seconds_left is not None:
        solver.setOptionValue("time_limit", work.seconds_left)
    solver.run()
    work.spend(A_RUN + a_step * max(0, int(solver.getInfo().simplex_iteration_count)))
    if solver.getModelStatus().name == "kInfeasible":
        return np.zeros(count, np.int64)
    if solver.getInfo().primal_solution_status != 2:
        return None
    return np.array([round(value) for value in solver.getSolution().col_value], np.int64)
