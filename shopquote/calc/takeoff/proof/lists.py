"""Check a tree over a complete list of the patterns that a cheaper plan may use.

Where a pattern's cost less its prices exceeds the least of its kind by more than the gap, no cheaper
plan uses it; all others are listed here anew. A tree then divides plans by the number of bars (of a
kind, of a stock, of all), or by the number of bars that hold a pair of pieces.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.proof.counts import Counts, CountsCheck
from shopquote.calc.takeoff.proof.given import LARGEST, Table, need, whole
from shopquote.calc.takeoff.proof.model import Model, Range

# Patterns and cells of tables that fit in memory.
MOST_LISTED = 1_000_000
MOST_CELLS = 20_000_000

# Of all bars, those that hold piece `first` and piece `second` (two of it where they are the same) number
# `low` to `high`; None: no end.
_Pair = tuple[int, int, int, int | None]
_Test = tuple[list[int], int]


@dataclass(slots=True)
class Listed:
    """Patterns of the listed kinds: rows of counts, kind and cost (in fine units) of each."""

    rows: Table
    kinds: Table
    costs: Table

    def names(self) -> list[tuple[int, ...]]:
        """Each pattern as its kind and its counts."""
        return [(int(k), *(int(n) for n in row)) for k, row in zip(self.kinds, self.rows, strict=True)]


def check_counts(model: Model, node: dict[str, Any], bars: Range, target: int) -> None:
    """Refuse the proof unless no choice of counts of the listed patterns is a cheaper plan."""
    listed = whole(node["listed"], 0)
    need(
        all(
            k in listed or not bars.kind[k][1] or not bars.stock[kind.stock][1]
            for k, kind in enumerate(model.kinds)
        ),
        "a kind of bar is not listed",
    )
    table = _list(model, node, bars, target)
    own = len(table.kinds)
    table = _with_moved(model, node, table)
    number = len(table.kinds)
    stocks = np.array([kind.stock for kind in model.kinds], np.int64)[table.kinds]
    columns = [table.rows]
    columns += [(table.kinds == k).astype(np.int64)[:, None] for k in range(len(model.kinds))]
    columns += [(stocks == s).astype(np.int64)[:, None] for s in range(model.stocks)]
    base = np.concatenate([*columns, np.ones((number, 1), np.int64)], axis=1)
    ranges = [*bars.kind, *bars.stock, bars.total]
    least = np.array([*model.demands, *(low for low, _ in ranges)], np.int64)
    most = np.array([*model.demands, *(high for _, high in ranges)], np.int64)
    far = max(1, int(most.max()))
    high = np.where(base > 0, most // np.maximum(base, 1), far).min(axis=1, initial=far)
    high[own:] = 0  # not among those that a cheaper plan may cut
    check = CountsCheck(base, table.costs, table.names(), len(model.sizes))
    check.check(node, Counts(np.zeros(number, np.int64), high, least, most), target * model.fine)


def _with_moved(model: Model, node: dict[str, Any], table: Listed) -> Listed:
    """The list, then the patterns outside it that the cuts refer to."""
    known = set(table.names())
    rows, kinds, costs = [table.rows], list(table.kinds), list(table.costs)
    for cut in node["roundings"]:
        for _, _, *name in cut["moved"]:
            k, *counts = whole(name, 0)
            if (k, *counts) in known:
                continue
            known.add((k, *counts))
            need(len(counts) == len(model.sizes), "a cut speaks of a pattern with other pieces")
            kind = model.kinds[k]
            slack = kind.capacity - model.used(counts)
            need(slack >= 0, "a cut speaks of a pattern that does not fit")
            rows.append(np.array([counts], np.int64))
            kinds.append(k)
            costs.append((kind.cost - kind.credit_of(slack)) * model.fine)
    return Listed(np.concatenate(rows), np.array(kinds, np.int64), np.array(costs, np.int64))


def check_list(model: Model, node: dict[str, Any], bars: Range, target: int) -> None:
    """Every end of a tree over the listed patterns is closed."""
    listed = whole(node["listed"], 0)
    table = _list(model, node, bars, target)
    waiting: list[Any] = [(node["tree"], bars, [], np.arange(len(table.kinds)))]
    while waiting:
        here, inside, pairs, open_rows = waiting.pop()
        value, excess = _Floor(model, here, pairs, table, open_rows).value(listed, inside)
        if model.closes(value, target):
            continue
        need("less" in here, "an end of a list's tree is open")
        open_rows = open_rows[excess <= target * model.fine - value]
        if "pair" in here:
            first, second, below = whole(here["pair"], 0)
            waiting.append((here["less"], inside, [*pairs, (first, second, 0, below)], open_rows))
            waiting.append((here["more"], inside, [*pairs, (first, second, below + 1, None)], open_rows))
        else:
            less, more = inside.parts(here["split"])
            waiting += [(here["less"], less, pairs, open_rows), (here["more"], more, pairs, open_rows)]


class _Floor:
    """The bound of a node of a list's tree, from prices of pieces and of pairs."""

    def __init__(
        self,
        model: Model,
        here: dict[str, Any],
        pairs: Sequence[_Pair],
        table: Listed,
        open_rows: npt.NDArray[np.intp],
    ) -> None:
        self.model = model
        self.prices, weights = whole(here["prices"], -LARGEST), whole(here["rules"], -LARGEST)
        need(len(weights) == len(pairs), "prices differ in number")
        # Proofs of earlier versions may rest on them; without them their bound would look wrong.
        need(not here.get("halves"), "it has cuts that are no longer used: write it again")
        most = max((abs(p) for p in [*self.prices, *weights]), default=0)
        longest = max(kind.capacity for kind in model.kinds) // min(model.sizes) + len(pairs)
        need(most * (longest + 1) < LARGEST, "prices are too large")
        self.rows, self.kinds = table.rows[open_rows], table.kinds[open_rows]
        self.total = model.worth_of_all(self.prices)
        self.reduced: Table = table.costs[open_rows] - self.rows @ np.array(self.prices, np.int64)
        self.barred = np.zeros(len(self.rows), np.bool_)
        for pair, weight in zip(pairs, weights, strict=True):
            self._pair(pair, weight)

    def _pair(self, pair: _Pair, weight: int) -> None:
        rows, (first, second, low, high) = self.rows, pair
        need(weight >= 0 or high is not None, "a rule without an upper end has a negative price")
        self.total += weight * (low if weight >= 0 else (high or 0))
        both = rows[:, first] >= 2 if first == second else (rows[:, first] > 0) & (rows[:, second] > 0)
        self.reduced = self.reduced - np.where(both, weight, 0)
        if high == 0:
            self.barred |= both
        for one, other in ((first, second), (second, first)):
            if first != second and low >= self.model.demands[one]:
                # No more bars than that hold the one piece at all, so none holds it without the other.
                self.barred |= (rows[:, one] > 0) & (rows[:, other] == 0)

    def value(self, listed: Sequence[int], bars: Range) -> tuple[int, Table]:
        """The bound, and by how much each open row exceeds the least of its kind."""
        model, kinds = self.model, self.kinds
        reduced = np.where(self.barred, LARGEST, self.reduced)
        least = model.reduced(self.prices, [k for k in range(len(model.kinds)) if k not in listed])
        inside = bars.copy()
        for k in listed:
            mine = reduced[(kinds == k) & (reduced < LARGEST)]
            least[k] = int(mine.min()) if len(mine) else 0
            if not len(mine):
                inside.kind[k] = (inside.kind[k][0], 0)
        value = model.least(least, inside)
        excess = np.where(reduced >= LARGEST, LARGEST, reduced - np.array(least, np.int64)[kinds])
        for k in np.unique(kinds).tolist():
            # A plan with such a row has at least one bar of its kind.
            with_one = inside.copy()
            with_one.kind[k] = (max(1, inside.kind[k][0]), inside.kind[k][1])
            more = min(LARGEST, model.least(least, with_one) - value)
            excess[kinds == k] = np.minimum(LARGEST, excess[kinds == k]) + more
        return self.total + value, excess


# ---- the list -----------------------------------------------------------------------------


def _list(model: Model, node: dict[str, Any], bars: Range, target: int) -> Listed:
    """All patterns of the listed kinds that a plan within the target may cut, by all prices."""
    tests = []
    for prices in [node["prices"], *node["filters"]]:
        known = whole(prices, 0)
        reduced = model.reduced(known)
        gap = target * model.fine - model.worth_of_all(known) - model.least(reduced, bars)
        tests.append(
            (known, [k.cost * model.fine - r - gap for k, r in zip(model.kinds, reduced, strict=True)])
        )
    none = np.zeros(0, np.int64)
    rows, kinds, costs = [np.zeros((0, len(model.sizes)), np.int64)], [none], [none]
    for k in whole(node["listed"], 0):
        found = _patterns(model, k, [(prices, least[k]) for prices, least in tests])
        rows.append(found)
        credit = model.credits[k]
        cost = np.full(len(found), model.kinds[k].cost * model.fine, np.int64)
        costs.append(cost if credit is None else cost - credit[model.used_by(found)])
        kinds.append(np.full(len(found), k, np.int64))
    return Listed(np.concatenate(rows), np.concatenate(kinds), np.concatenate(costs))


def _patterns(model: Model, k: int, tests: Sequence[_Test]) -> Table:
    """Every pattern of a kind that passes each test, as rows: it is worth `least` at the prices."""
    kind = model.kinds[k]
    pieces = _longest_first(model, k)
    # As many tests as memory allows weed while patterns grow, the last ones first: each was made to rule out
    # what those before let pass. All of them do at the end.
    most_weeds = max(1, MOST_CELLS // ((kind.capacity + 1) * max(1, len(pieces))))
    weeds = [(prices, least, _rest(model, k, pieces, prices)) for prices, least in tests[-most_weeds:]]
    used = np.zeros(1, np.int64)
    worths = [np.zeros(1, np.int64) for _ in weeds]
    opened = {block: np.zeros(1, np.bool_) for block in range(len(model.openings))}
    grown: list[tuple[int, npt.NDArray[np.intp], Table]] = []
    for place, i in enumerate(pieces):
        most, block = min(model.demands[i], kind.capacity // model.sizes[i]), model.blocks[i]
        opening = 0 if block < 0 else np.where(opened[block], 0, model.openings[block])
        parents, counts = [], []
        for n in range(most + 1):
            more = used + n * model.sizes[i] + (opening if n else 0)
            keep = np.nonzero(more <= kind.capacity)[0]
            if n and not len(keep):
                break
            for (prices, least, rest), worth in zip(weeds, worths, strict=True):
                keep = keep[worth[keep] + n * prices[i] + rest[place][more[keep]] >= least]
            parents.append(keep)
            counts.append(np.full(len(keep), n, np.int64))
            need(sum(map(len, parents)) <= MOST_LISTED, "too many patterns to check")
        parent, times = np.concatenate(parents), np.concatenate(counts)
        used = used[parent] + times * model.sizes[i]
        if block >= 0:
            used = used + np.where(~opened[block][parent] & (times > 0), model.openings[block], 0)
        worths = [w[parent] + times * prices[i] for (prices, _, _), w in zip(weeds, worths, strict=True)]
        opened = {b: o[parent] | ((times > 0) & (block == b)) for b, o in opened.items()}
        grown.append((i, parent, times))
    rows = _rows(grown, len(used), len(model.sizes))
    return _passing(model, k, rows, tests)


def _longest_first(model: Model, k: int) -> list[int]:
    """Pieces that a kind may hold; of long ones few copies fit, so the list stays short as it grows."""
    allowed = model.kinds[k].allowed
    return sorted((i for i in range(len(model.sizes)) if allowed[i]), key=lambda i: -model.sizes[i])


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


def _rest(model: Model, k: int, pieces: Sequence[int], prices: Sequence[int]) -> list[Table]:
    """`rest[p][u]`: the most that the pieces after place p and the credit add to u units already used."""
    credit = model.credits[k]
    rest = [np.zeros(model.kinds[k].capacity + 1, np.int64) if credit is None else credit]
    for i in pieces[:0:-1]:
        table = rest[-1][::-1].copy()
        if prices[i] > 0:
            model.add_piece(table, i, prices[i])
        rest.append(table[::-1].copy())
    return rest[::-1]
