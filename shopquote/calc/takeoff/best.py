"""The best plan so far, and how dear a plan may be that beats it."""

from collections.abc import Callable

from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.problem import CutProblem, Solution
from shopquote.calc.takeoff.work import Work

# Dual prices are whole numbers; the dearest kind of bar costs about this many: 32 bits hold it, for which
# the tables are several times faster.
FINENESS = 1 << 29
# Prices over a list of patterns, and in a proof, are told apart so much finer still.
FINER = 1 << 14

Progress = Callable[[int, int], None]


class BestPlan:
    """The best plan of a problem so far; `known` is the cost of one that is known from elsewhere.

    A cost unit is `fine` fine units, which whole prices are in; linear programs count `scale` cost units
    as 1. `bound`: what any plan costs at least, as far as it is shown.
    """

    def __init__(
        self, problem: CutProblem, work: Work, progress: Progress | None = None, known: int | None = None
    ) -> None:
        self.problem = problem
        self.work = work
        self.progress = progress
        # Where no bar costs anything, that pieces do not go into them shall still show as more than is known.
        dearest = max(kind.cost for kind in problem.kinds) or known or 1
        self.fine = max(1, FINENESS // dearest)
        self.scale = float(dearest)
        self.best: Solution | None = None
        self.known = known
        self.bound = 0
        self.credited = problem.credited

    def lift(self, fine_bound: int) -> int:
        """Least cost of a real plan that is not below a bound in fine units."""
        return self.problem.on_grid(-(-fine_bound // self.fine))

    def beaten(self, bound: int) -> bool:
        """Whether no plan in a branch with this bound can be cheaper than the best."""
        return bound > self.target()

    def target(self) -> int:
        """The dearest cost that beats the best plan."""
        return self.cost_to_beat() - self.problem.grid

    def cost_to_beat(self) -> int:
        """Cost of the best plan here or known from elsewhere."""
        costs = [EMPTY] if self.best is None else [self.best.cost]
        return min(costs if self.known is None else [*costs, self.known])

    def offer(self, solution: Solution | None) -> None:
        """Keep a plan if it ranks before the best."""
        if solution is not None and (self.best is None or solution.rank < self.best.rank):
            self.best = solution

    def report(self) -> None:
        """Show cost and bound to whoever asked for progress."""
        if self.progress is not None and self.best is not None:
            self.progress(self.best.cost, min(self.bound, self.best.cost))
