"""Of plans that cost the same, one that uses least value from the rack, then fewest bars.

In 60 priced jobs less value was worth 49.66 of rack bars and 12 bars, another purchase nothing; in 40 without
prices, where a bar costs its length, another purchase saved 82 of 2,273 bars.
"""

from collections.abc import Sequence
from dataclasses import replace

from shopquote.calc.takeoff.problem import CutProblem, Pattern, Solution, tidy
from shopquote.calc.takeoff.search import Search
from shopquote.calc.takeoff.work import Work

# Nodes of the search: more seldom finds anything that the first ones did not.
MOST_NODES = 20


def better_among_equals(problem: CutProblem, best: Solution, work: Work) -> Solution:
    """A plan of the same cost that ranks before the best, if short searches find one."""
    if work.over():
        return best
    if best.value or _rack_bars(problem, best) > 1:
        best = _less_value(problem, best, work.part(work.left // 2))
    if not problem.credited and _fewer_may_do(problem, best):
        best = _other_purchase(problem, best, work)
    return best


def _rack_bars(problem: CutProblem, best: Solution) -> int:
    """Bars that cost nothing: of those without value too, fewer may do."""
    return sum(count for k, _, count in best.bars if not problem.kinds[k].cost)


def _less_value(problem: CutProblem, best: Solution, work: Work) -> Solution:
    """A plan that buys the same bars and takes less value from the rack, then fewer bars.

    With credits these bars stay as they are cut, so that the cost stays too.
    """
    bought = [(k, p, n) for k, p, n in best.bars if problem.kinds[k].cost]
    fixed = bought if problem.credited else []
    left = list(problem.demands)
    for _, pattern, n in fixed:
        left = [have - a * n for have, a in zip(left, pattern, strict=True)]
    limits = _limits_with(problem, [] if fixed else bought)
    most = sum(left) + 1
    rest, back = problem.part(left, limits)
    kinds = tuple(
        replace(kind, cost=kind.value * most + 1, value=0, credit=0, credit_base=0) for kind in rest.kinds
    )
    known = best.value * most + sum(n for _, _, n in best.bars) - sum(n for _, _, n in fixed)
    search = Search(replace(rest, kinds=kinds), work, known=known, whole=False, most_nodes=MOST_NODES)
    found = search.run().solution
    plan = None if found is None else tidy(problem, [*fixed, *((k, back(p), n) for k, p, n in found.bars)])
    return best if plan is None or plan.rank >= best.rank else plan


def _limits_with(problem: CutProblem, bought: Sequence[tuple[int, Pattern, int]]) -> list[int]:
    """Limits by stock that allow these purchases alone, and every free bar."""
    limits = [0] * len(problem.stock_limits)
    for k, _, n in bought:
        limits[problem.kinds[k].stock] += n
    for kind in problem.kinds:
        if not kind.cost:
            limits[kind.stock] = kind.limit
    return limits


def _other_purchase(problem: CutProblem, best: Solution, work: Work) -> Solution:
    """Fewer bars at the same cost: a surcharge a bar, in total below the least step of cost, breaks ties."""
    bars = sum(count for _, _, count in best.bars)
    most = problem.pieces + 1
    scale = (best.value + 1) * most
    kinds = tuple(
        replace(kind, cost=kind.cost * scale + kind.value * most + 1, value=0) for kind in problem.kinds
    )
    known = best.cost * scale + best.value * most + bars
    search = Search(replace(problem, kinds=kinds), work, known=known, whole=False, most_nodes=MOST_NODES)
    found = search.run().solution
    plan = None if found is None else tidy(problem, found.bars)
    return best if plan is None or plan.rank >= best.rank else plan


def _fewer_may_do(problem: CutProblem, best: Solution) -> bool:
    """Whether fewer bought bars can come to the same cost."""
    bought = sum(count for k, _, count in best.bars if problem.kinds[k].cost)
    prices = sorted({kind.cost for kind in problem.kinds if kind.cost}, reverse=True)
    return _fewest(prices, best.cost, bought) < bought


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
