"""The patterns that plans within the goal of a proof may cut, listed anew, and how often.

Where a pattern costs more at prices of the rows than the gap from the bound to the goal, no such plan cuts
it. All others are listed, piece by piece, with tables of what the pieces still to come can add.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.proof.given import Table, need
from shopquote.calc.takeoff.proof.model import Ends, Model

# Patterns and cells of tables that fit in memory.
MOST_LISTED = 1_000_000
MOST_CELLS = 20_000_000

# Prices of the sizes, and the least that a pattern must be worth at them.
_Test = tuple[list[int], int]


def patterns_within(model: Model, filters: Sequence[int], ends: Ends) -> list[Table]:
    """Of each kind of bar, the patterns that pass each set of prices, as rows of counts."""
    sets = [model.padded(number, len(ends)) for number in filters]
    gaps = [model.gap(number, ends) for number in filters]
    rows = []
    for k, kind in enumerate(model.kinds):
        tests = [
            (prices[: len(model.sizes)], kind.cost * model.fine - model.of_bar(k, prices) - gap)
            for prices, gap in zip(sets, gaps, strict=True)
        ]
        cut = all(ends[row][1] > 0 for row in model.bar_rows[k])
        rows.append(_patterns(model, k, tests) if cut else np.zeros((0, len(model.sizes)), np.int64))
    return rows


def _patterns(model: Model, k: int, tests: Sequence[_Test]) -> Table:
    """Every pattern of a kind that passes each test, as rows: it is worth `least` at the prices."""
    kind = model.kinds[k]
    pieces = _in_turn(model, k)
    # As many tests as memory allows weed while patterns grow, the last ones first: each was made to rule out
    # what those before let pass. All of them do at the end.
    most_weeds = max(1, MOST_CELLS // ((kind.capacity + 1) * max(1, len(pieces))))
    weeds = [(prices, least, _rest(model, k, pieces, prices)) for prices, least in tests[-most_weeds:]]
    used, opened, last = np.zeros(1, np.int64), np.zeros(1, np.bool_), -1
    worths = [np.zeros(1, np.int64) for _ in weeds]
    grown: list[tuple[int, npt.NDArray[np.intp], Table]] = []
    for place, i in enumerate(pieces):
        most, block = min(model.demands[i], kind.capacity // model.sizes[i]), model.blocks[i]
        if block != last:
            opened, last = np.zeros(len(used), np.bool_), block
        opening = np.where(opened, 0, model.openings[block] if block >= 0 else 0)
        parents, counts = [], []
        for n in range(most + 1):
            more = used + n * model.sizes[i] + (opening if n else 0)
            keep = np.nonzero(more <= kind.capacity)[0]
            if n and not len(keep):
                break
            for (prices, least, rest), worth in zip(weeds, worths, strict=True):
                inside, outside = (table[more[keep]] for table in rest[place])
                to_come = np.where(opened[keep] | (n > 0), inside, outside)
                keep = keep[worth[keep] + n * prices[i] + to_come >= least]
            parents.append(keep)
            counts.append(np.full(len(keep), n, np.int64))
            need(sum(map(len, parents)) <= MOST_LISTED, "too many patterns to check")
        parent, times = np.concatenate(parents), np.concatenate(counts)
        used = used[parent] + times * model.sizes[i] + np.where(times > 0, opening[parent], 0)
        worths = [w[parent] + times * prices[i] for (prices, _, _), w in zip(weeds, worths, strict=True)]
        opened = opened[parent] | (times > 0)
        grown.append((i, parent, times))
    rows = _rows(grown, len(used), len(model.sizes))
    return _passing(model, k, rows, tests)


def _in_turn(model: Model, k: int) -> list[int]:
    """Pieces that a kind may hold, block by block; of long ones few copies fit, so the list stays short."""
    allowed = model.kinds[k].allowed
    mine = (i for i in range(len(model.sizes)) if allowed[i])
    return sorted(mine, key=lambda i: (model.blocks[i], -model.sizes[i]))


def _passing(model: Model, k: int, rows: Table, tests: Sequence[_Test]) -> Table:
    """The patterns that pass every test, with their credit."""
    credit = model.credits[k]
    for prices, least in tests:
        worth = rows @ np.array(prices, np.int64)
        rows = rows[(worth if credit is None else worth + credit[model.used_by(rows)]) >= least]
    return rows


def _rows(grown: Sequence[tuple[int, npt.NDArray[np.intp], Table]], number: int, width: int) -> Table:
    """The patterns as rows of counts, from the steps that grew them; the empty one is left out."""
    rows = np.zeros((number, width), np.int64)
    at = np.arange(number)
    for i, parent, times in reversed(grown):
        rows[:, i] = times[at]
        at = parent[at]
    return np.asarray(rows[rows.any(axis=1)], np.int64)


def _rest(model: Model, k: int, pieces: Sequence[int], prices: Sequence[int]) -> list[tuple[Table, Table]]:
    """The most that the pieces after place p and the credit add to u units already used.

    `rest[p][0][u]` where the bar holds pieces of the block of the one at place p, `rest[p][1][u]` where the
    block's opening is still to be taken.
    """
    credit = model.credits[k]
    beyond = np.zeros(model.kinds[k].capacity + 1, np.int64) if credit is None else credit
    inside, rest = beyond, [(beyond, beyond)]
    for place in range(len(pieces) - 1, 0, -1):
        i, block = pieces[place], model.blocks[pieces[place]]
        table = inside[::-1].copy()
        if prices[i] > 0:
            model.add_piece(table, i, prices[i])
        inside = outside = table[::-1].copy()
        if block >= 0:
            opened = inside[model.openings[block] :]
            outside = beyond.copy()
            outside[: len(opened)] = np.maximum(outside[: len(opened)], opened)
        if model.blocks[pieces[place - 1]] != block:
            inside = beyond = outside
        rest.append((inside, outside))
    return rest[::-1]
