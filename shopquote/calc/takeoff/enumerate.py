"""Every pattern that a plan cheaper than the best can still use, listed explicitly.

A plan that cuts a bar by a pattern costs at least the bound plus what the pattern's
reduced cost exceeds the least of its kind; patterns over the gap are in no cheaper
plan. The list is grown piece by piece on arrays, with a table of the best completions.
"""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.problem import Ints, Problem

# Tables larger than this are not made.
MOST_CELLS = 20_000_000

Bools = npt.NDArray[np.bool_]


def patterns_within(
    problem: Problem,
    kind: int,
    credit: Ints | None,
    prices: Sequence[int],
    least: int,
    most: int,
    out_of_time: Callable[[], bool],
) -> npt.NDArray[np.int16] | None:
    """Patterns of a kind of bar worth at least `least`, as rows; None when over `most` or out of time.

    The worth of a pattern is its pieces at `prices` plus its credit, both in fine units.
    """
    bar = problem.kinds[kind]
    order = sorted(
        (i for i in range(len(problem.sizes)) if problem.demands[i] and bar.holds(i)),
        key=lambda i: (problem.blocks[i], -problem.sizes[i], i),
    )
    if len(order) * bar.capacity > MOST_CELLS:
        return None
    rest = completions(problem, kind, credit, prices, order, out_of_time)
    if rest is None:
        return None
    used: Ints = np.zeros(1, np.int64)
    worth: Ints = np.zeros(1, np.int64)
    opened: Bools = np.zeros(1, np.bool_)
    steps: list[tuple[int, Ints, Ints]] = []
    block = -1
    for place, i in enumerate(order):
        if out_of_time():
            return None
        size, price = problem.sizes[i], prices[i]
        if problem.blocks[i] != block:
            block = problem.blocks[i]
            opened = np.zeros(len(used), np.bool_)
        opening = problem.openings[block] if block >= 0 else 0
        parents, counts, uses, worths = (
            [np.arange(len(used))],
            [np.zeros(len(used), np.int64)],
            [used],
            [worth],
        )
        for times in range(1, min(problem.demands[i], bar.capacity // size) + 1):
            more = used + times * size + np.where(opened, 0, opening)
            gain = worth + times * price
            fits = np.nonzero(more <= bar.capacity)[0]
            if not len(fits):
                break
            parents.append(fits)
            counts.append(np.full(len(fits), times, np.int64))
            uses.append(more[fits])
            worths.append(gain[fits])
        parent, count = np.concatenate(parents), np.concatenate(counts)
        used, worth = np.concatenate(uses), np.concatenate(worths)
        opened = opened[parent] | (count > 0)
        bound = worth + rest[place][used]
        keep = np.nonzero(bound >= least)[0]
        parent, count, used, worth, opened = parent[keep], count[keep], used[keep], worth[keep], opened[keep]
        steps.append((i, parent, count))
        if len(used) > most:
            return None
    rows = np.zeros((len(used), len(problem.sizes)), np.int16)
    at = np.arange(len(used))
    for i, parent, count in reversed(steps):
        rows[:, i] = count[at]
        at = parent[at]
    return rows[rows.any(axis=1)]


def completions(
    problem: Problem,
    kind: int,
    credit: Ints | None,
    prices: Sequence[int],
    order: Sequence[int],
    out_of_time: Callable[[], bool],
) -> list[Ints] | None:
    """`answer[p][u]`: the most that pieces after place p and the credit can add to a bar with u units used.

    Openings of blocks are left out, so that it is a bound from above for nested pieces.
    """
    bar = problem.kinds[kind]
    table = np.zeros(bar.capacity + 1, np.int64) if credit is None else credit.copy()
    answer = [table]
    for i in reversed(order[1:]):
        if out_of_time():
            return None
        table = table.copy()
        size, price = problem.sizes[i], prices[i]
        rest, packet = min(problem.demands[i], bar.capacity // size), 1
        while rest > 0 and price > 0:
            times = min(packet, rest)
            room = len(table) - times * size
            if room > 0:
                np.maximum(table[:room], table[times * size :] + times * price, out=table[:room])
            rest -= times
            packet *= 2
        answer.append(table)
    return answer[::-1]
