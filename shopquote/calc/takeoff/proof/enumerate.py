"""Every pattern that a plan cheaper than the best can still use, listed explicitly.

At given prices, a plan that cuts a bar by a pattern costs at least the bound plus what the
pattern's reduced cost exceeds the least of its kind; patterns over the gap are in no cheaper
plan. Each set of prices tells so of other patterns: a pattern is listed that none rules out.
The list is grown piece by piece on arrays, with tables of the best completions.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.problem import CutProblem, Ints, StockKind
from shopquote.calc.takeoff.work import Work

# Tables larger than this are not made.
MOST_CELLS = 20_000_000
# Units of work: of a place, of a row grown there, and of a filter's look at the row. 185 lists of seven jobs
# took 0.6 of what was counted, tables of completions with them.
A_PLACE, A_ROW, A_TEST = 20_000, 30, 15
# Spreads numbers evenly, so that a part taken by it is like the whole.
SPREAD = 0x9E3779B1

Bools = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Filter:
    """Whole prices, and by bar type the least worth at them of a pattern that a cheaper plan can use.

    `bars`: prices of a bar of each kind, each stock and of all, that `least` reckons with.
    """

    prices: tuple[int, ...]
    least: tuple[int, ...]
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class FoundPatterns:
    """Patterns as rows; `complete` when none is left out."""

    rows: Rows
    complete: bool


def patterns_within(
    problem: CutProblem,
    kind: int,
    credit: Ints | None,
    filters: Sequence[Filter],
    most: int,
    work: Work,
    *,
    part: bool = False,
) -> FoundPatterns | None:
    """Patterns of a kind of bar that every filter lets pass; None when out of work or too large.

    The worth of a pattern is its pieces at prices plus its credit, both in fine units. Where there are more
    than `most` on the way, the answer is None; with `part`, some that are spread evenly.
    """
    bar = problem.kinds[kind]
    order = _order_of(problem, bar)
    if not order:
        return FoundPatterns(np.zeros((0, len(problem.sizes)), np.int16), True)
    if len(filters) * len(order) * bar.capacity > MOST_CELLS:
        return None
    rests = [completions(problem, kind, credit, one.prices, order, work) for one in filters]
    used: Ints = np.zeros(1, np.int64)
    worths: list[Ints] = [np.zeros(1, np.int64) for _ in filters]
    opened: Bools = np.zeros(1, np.bool_)
    steps: list[tuple[int, Ints, Ints]] = []
    block, complete = -1, True
    for place, i in enumerate(order):
        if work.over():
            return None
        if problem.blocks[i] != block:
            block = problem.blocks[i]
            opened = np.zeros(len(used), np.bool_)
        opening = problem.openings[block] if block >= 0 else 0
        parent, count, room = _grown(problem, i, bar.capacity, used, np.where(opened, 0, opening))
        alive = np.arange(len(parent))
        work.spend(A_PLACE + len(parent) * (A_ROW + A_TEST * len(filters)))
        inside = opened[parent] | (count > 0)
        for one, rest, worth in zip(filters, rests, worths, strict=True):
            if rest is None:
                return None
            at, (within, without) = room[alive], rest[place]
            more = within[at] if within is without else np.where(inside[alive], within[at], without[at])
            alive = alive[worth[parent[alive]] + count[alive] * one.prices[i] + more >= one.least[kind]]
        if len(alive) > most:
            if not part:
                return None
            key = alive * SPREAD & 0xFFFFFFFF
            alive, complete = np.sort(alive[np.argpartition(key, most)[:most]]), False
        parent, count, used = parent[alive], count[alive], room[alive]
        worths = [w[parent] + count * one.prices[i] for one, w in zip(filters, worths, strict=True)]
        opened = inside[alive]
        steps.append((i, parent, count))
    return FoundPatterns(_rows_of(steps, len(used), len(problem.sizes)), complete)


def _order_of(problem: CutProblem, bar: StockKind) -> list[int]:
    """The pieces to add in turn: block by block, since a block's opening counts once, the longest first."""
    wanted = (i for i in range(len(problem.sizes)) if problem.demands[i] and bar.holds(i))
    return sorted(wanted, key=lambda i: (problem.blocks[i], -problem.sizes[i], i))


def _rows_of(steps: Sequence[tuple[int, Ints, Ints]], number: int, width: int) -> Rows:
    """Patterns read back from the steps that grew them, last step first; the empty one is left out."""
    rows = np.zeros((number, width), np.int16)
    at = np.arange(number)
    for i, parent, count in reversed(steps):
        rows[:, i] = count[at]
        at = parent[at]
    return rows[rows.any(axis=1)]


def _grown(problem: CutProblem, i: int, capacity: int, used: Ints, opening: Ints) -> tuple[Ints, Ints, Ints]:
    """All extensions of the rows by copies of piece i: parent row, number of copies, units then used."""
    size = problem.sizes[i]
    parents, counts, uses = [np.arange(len(used))], [np.zeros(len(used), np.int64)], [used]
    for times in range(1, min(problem.demands[i], capacity // size) + 1):
        more = used + times * size + opening
        fits = np.nonzero(more <= capacity)[0]
        if not len(fits):
            break
        parents.append(fits)
        counts.append(np.full(len(fits), times, np.int64))
        uses.append(more[fits])
    return np.concatenate(parents), np.concatenate(counts), np.concatenate(uses)


def completions(
    problem: CutProblem,
    kind: int,
    credit: Ints | None,
    prices: Sequence[int],
    order: Sequence[int],
    work: Work,
) -> list[tuple[Ints, Ints]] | None:
    """The most that pieces after place p and the credit add to a bar with u units used.

    `answer[p][0][u]` where the block of the piece at place p is open in the bar, `answer[p][1][u]` where it
    is not: then the first of its pieces that are still to come takes the opening too.
    """
    bar = problem.kinds[kind]
    after = np.zeros(bar.capacity + 1, np.int64) if credit is None else credit.copy()
    table, answer = after, [(after, after)]
    for i, before in zip(reversed(order), order[-2::-1], strict=False):
        if work.over():
            return None
        table = table.copy()
        work.spend(A_PLACE + 3 * len(table))
        size, price = problem.sizes[i], prices[i]
        rest, packet = min(problem.demands[i], bar.capacity // size), 1
        while rest > 0 and price > 0:
            times = min(packet, rest)
            room = len(table) - times * size
            if room > 0:
                np.maximum(table[:room], table[times * size :] + times * price, out=table[:room])
            rest -= times
            packet *= 2
        block, shut = problem.blocks[i], table
        if block >= 0:
            shut, opening = after.copy(), problem.openings[block]
            room = max(0, len(table) - opening)
            np.maximum(shut[:room], table[opening:], out=shut[:room])
        if problem.blocks[before] != block:
            table = after = shut
        answer.append((table, shut))
    return answer[::-1]
