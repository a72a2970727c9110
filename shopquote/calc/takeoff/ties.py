"""Of plans that cost the same, one with fewer bars on the floor."""

from dataclasses import replace

from shopquote.calc.takeoff.problem import Problem, Solution, tidy
from shopquote.calc.takeoff.search import Search

MOST_NODES = 3


def with_fewer_bars(problem: Problem, best: Solution, deadline: float) -> Solution:
    """A plan of the same cost that ranks before the best, if a short search finds one.

    Each bar costs a little more here: so little that all of them cost less than the least step
    between two plans. Only for problems without credits, where plans of equal cost are common.
    """
    bars = sum(count for _, _, count in best.bars)
    length = sum(size * demand for size, demand in zip(problem.sizes, problem.demands, strict=True))
    if not problem.openings and bars <= -(-length // problem.largest):
        return best
    scale = bars + 1
    kinds = tuple(replace(kind, cost=kind.cost * scale + 1) for kind in problem.kinds)
    known = best.cost * scale + bars
    search = Search(replace(problem, kinds=kinds), deadline, known=known, whole=False, most_nodes=MOST_NODES)
    found = search.run().solution
    plan = None if found is None else tidy(problem, found.bars)
    if plan is None or plan.rank >= best.rank or _from_free(problem, plan) < _from_free(problem, best):
        return best
    return plan


def _from_free(problem: Problem, plan: Solution) -> int:
    """Units cut from free bars: what is on the rack is used first where that costs nothing."""
    return sum(problem.used(p) * count for k, p, count in plan.bars if not problem.kinds[k].cost)
