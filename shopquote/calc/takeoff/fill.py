"""Greedy filling: a plan at once, and what is left to fall back on.

Each step fills every kind of bar longest piece first, takes the fill that costs
least for the length it uses, and repeats it as often as the demands allow.
"""

from bisect import bisect_left
from collections.abc import Sequence

from shopquote.calc.takeoff.problem import Pattern, Problem, Solution, tidy


def longest_first(problem: Problem, kind: int, left: Sequence[int], order: Sequence[int]) -> Pattern:
    """Fill one bar with the longest pieces that still fit."""
    bar = problem.kinds[kind]
    room = bar.capacity
    counts = [0] * len(problem.sizes)
    opened: set[int] = set()
    at = 0
    while True:
        # Sizes fall along the order: skip to the first that can still fit.
        at = bisect_left(order, -room, lo=at, key=lambda i: -problem.sizes[i])
        if at == len(order):
            return tuple(counts)
        i = order[at]
        at += 1
        if not left[i] or not bar.holds(i):
            continue
        block = problem.blocks[i]
        opening = problem.openings[block] if block >= 0 and block not in opened else 0
        fit = min(left[i], max(0, room - opening) // problem.sizes[i])
        if fit:
            counts[i] = fit
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
    order = sorted(range(len(left)), key=lambda i: -problem.sizes[i])
    bars: list[tuple[int, Pattern, int]] = []
    while any(left):
        order = [i for i in order if left[i]]
        best: tuple[float, int, int, Pattern] | None = None
        for kind, bar in enumerate(problem.kinds):
            if free[bar.stock] <= 0:
                continue
            pattern = longest_first(problem, kind, left, order)
            used = problem.used(pattern)
            if not any(pattern):
                continue
            score = (problem.cost_used(kind, used) / used, -used, kind, pattern)
            if bar.cost == 0:  # free bars: fullest first, and never a nearly empty one before a full one
                score = (-used / bar.capacity, -used, kind, pattern)
            if best is None or score[:3] < best[:3]:
                best = score
        if best is None:
            return None
        _, _, kind, pattern = best
        times = min(free[problem.kinds[kind].stock], min(left[i] // a for i, a in enumerate(pattern) if a))
        for i, a in enumerate(pattern):
            left[i] -= a * times
        free[problem.kinds[kind].stock] -= times
        bars.append((kind, pattern, times))
    return bars
