"""Of plans that cost the same, one with fewer bars on the floor."""

from collections.abc import Sequence
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
    if not _may_be_fewer(problem, best):
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


def _may_be_fewer(problem: Problem, best: Solution) -> bool:
    """Whether fewer free bars hold what the plan cuts from free ones, or fewer bought bars cost the same."""
    free = sum(count for k, _, count in best.bars if not problem.kinds[k].cost)
    rooms: dict[int, tuple[int, int]] = {}
    for kind in problem.kinds:
        if not kind.cost:
            rooms[kind.stock] = max(rooms.get(kind.stock, (0, 0)), (kind.capacity, kind.limit))
    need, least = _from_free(problem, best), 0
    for room, limit in sorted(rooms.values(), reverse=True):
        taken = min(limit, max(0, -(-need // room)))
        need, least = need - taken * room, least + taken
    bought = sum(count for k, _, count in best.bars if problem.kinds[k].cost)
    prices = sorted({kind.cost for kind in problem.kinds if kind.cost}, reverse=True)
    return least < free or _fewest(prices, best.cost, bought) < bought


def _fewest(prices: Sequence[int], cost: int, known: int) -> int:
    """The fewest bars of these prices, dearest first, that come to exactly this cost; at most `known`."""
    if len(prices) > 3:
        return 0
    if not prices or not cost:
        return 0 if not cost else known
    if len(prices) == 1:
        return min(known, cost // prices[0]) if cost % prices[0] == 0 else known
    for dearest in range(cost // prices[0], -1, -1):
        rest = cost - dearest * prices[0]
        if dearest - (-rest // prices[1]) >= known:
            break  # with fewer of the dearest there are only more bars
        known = min(known, dearest + _fewest(prices[1:], rest, known - dearest))
    return known


def _from_free(problem: Problem, plan: Solution) -> int:
    """Units cut from free bars: what is on the rack is used first where that costs nothing."""
    return sum(problem.used(p) * count for k, p, count in plan.bars if not problem.kinds[k].cost)
