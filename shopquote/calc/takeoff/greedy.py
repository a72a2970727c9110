"""Greedy filling: a plan at once, and what is left to fall back on.

Each step fills every kind of bar longest piece first, takes the fill that costs
least for the length it uses, and repeats it as often as the demands allow.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence

from shopquote.calc.takeoff.problem import Pattern, Problem, Solution, tidy

# Pieces of one bar: (number of the piece, count), for those that it holds.
Load = list[tuple[int, int]]
# A bar filled: what it costs for the length it uses, units used (below 0), kind and pieces. Least is best.
Fill = tuple[float, int, int, Load]


def longest_first(problem: Problem, kind: int, left: Sequence[int], order: Sequence[int]) -> tuple[Load, int]:
    """Fill one bar with the longest pieces that still fit; the units it uses."""
    bar = problem.kinds[kind]
    room = bar.capacity
    load: Load = []
    opened: set[int] = set()
    at = 0
    while True:
        # Sizes fall along the order: skip to the first that can still fit.
        at = bisect_left(order, -room, lo=at, key=lambda i: -problem.sizes[i])
        if at == len(order):
            return load, bar.capacity - room
        i = order[at]
        at += 1
        if not left[i] or not bar.holds(i):
            continue
        block = problem.blocks[i]
        opening = problem.openings[block] if block >= 0 and block not in opened else 0
        fit = min(left[i], max(0, room - opening) // problem.sizes[i])
        if fit:
            load.append((i, fit))
            room -= fit * problem.sizes[i] + opening
            if block >= 0:
                opened.add(block)


def greedy_plan(problem: Problem) -> Solution | None:
    """A plan by greedy filling, or None when the limited bars run out under it."""
    bars = greedy_bars(problem, problem.demands, problem.stock_limits)
    return None if bars is None else tidy(problem, bars)


def greedy_bars(
    problem: Problem, demands: Sequence[int], limits: Sequence[int]
) -> list[tuple[int, Pattern, int]] | None:
    """Bars that meet `demands` within `limits` (by stock), or None."""
    left, free = list(demands), list(limits)
    order = sorted((i for i in range(len(left)) if left[i]), key=lambda i: -problem.sizes[i])
    fills: dict[int, Fill] = {}
    _fill_again(problem, range(len(problem.kinds)), left, order, fills)
    bars: list[tuple[int, Pattern, int]] = []
    while order:
        usable = [fill for fill in fills.values() if free[problem.kinds[fill[2]].stock] > 0]
        if not usable:
            return None
        _, _, kind, load = min(usable)
        bars.append(_taken(problem, kind, load, left, free))
        if not all(left[i] for i, _ in load):
            order = [i for i in order if left[i]]
        # A fill stays what it is while all of its pieces are left: thousands of rack bars need none anew.
        spent = [k for k, (_, _, _, held) in fills.items() if any(left[i] < a for i, a in held)]
        _fill_again(problem, spent, left, order, fills)
    return bars


def _taken(
    problem: Problem, kind: int, load: Load, left: list[int], free: list[int]
) -> tuple[int, Pattern, int]:
    """As many bars of one fill as its pieces and bars last for, taken off what is left of both."""
    times = min(free[problem.kinds[kind].stock], *(left[i] // a for i, a in load))
    counts = [0] * len(left)
    for i, a in load:
        counts[i] = a
        left[i] -= a * times
    free[problem.kinds[kind].stock] -= times
    return kind, tuple(counts), times


def _fill_again(
    problem: Problem, kinds: Iterable[int], left: Sequence[int], order: Sequence[int], fills: dict[int, Fill]
) -> None:
    """The fill of each of these kinds; a kind that holds nothing more is dropped."""
    for kind in kinds:
        bar = problem.kinds[kind]
        load, used = longest_first(problem, kind, left, order)
        if not load:
            fills.pop(kind, None)
            continue
        score = problem.cost_used(kind, used) / used
        if bar.cost == 0:  # free bars: fullest first, and never a nearly empty one before a full one
            score = -used / bar.capacity
        fills[kind] = (score, -used, kind, load)
