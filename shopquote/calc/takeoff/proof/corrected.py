"""A plan of bars of one length, each of which learns from those before it: what led to waste counts for more.

Bar after bar takes the pieces worth most together. A piece is worth a little more than its length, and more
again after it was cut from a bar with much left over, so that the rest of it is seen to earlier.
Source, from memory: sequential value correction, E. A. Mukhacheva; G. Belov and G. Scheithauer (2007).
"""

from random import Random

from shopquote.calc.takeoff.knapsack import Knapsack
from shopquote.calc.takeoff.problem import CutProblem, Pattern
from shopquote.calc.takeoff.work import Work

# Long pieces come first: worth is the length to this power. By 1.01 and 1.04 four hard lists came out the
# same.
POWER = 1.02
# What a full bar is worth, in whole numbers that tables reckon narrow.
FULL = 1 << 26


def corrected_plan(problem: CutProblem, work: Work) -> list[tuple[int, Pattern, int]]:
    """Bars (kind, pattern, count) of the one kind, up to a piece that none holds; limits are not kept."""
    kind, draw = problem.kinds[0], Random(1)
    base = [float(size) ** POWER for size in problem.sizes]
    unit = FULL / float(kind.capacity) ** POWER
    worth, left = base.copy(), list(problem.demands)
    bars: list[tuple[int, Pattern, int]] = []
    while any(left):
        work.check()
        table = Knapsack(problem, [kind.allowed], kind.capacity, left)
        table.solve([int(value * unit) for value in worth], work)
        pattern = table.pattern(0, kind.capacity)
        if not any(pattern):
            break
        times = min(n // a for n, a in zip(left, pattern, strict=True) if a)
        used = problem.used(pattern)
        for i, a in enumerate(pattern):
            if a:
                inertia = draw.uniform(1, 1.5) * (problem.demands[i] + left[i]) / (a * times)
                worth[i] = (inertia * worth[i] + base[i] * kind.capacity / used) / (inertia + 1)
                left[i] -= a * times
        bars.append((0, pattern, times))
    return bars
