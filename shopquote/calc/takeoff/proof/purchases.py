"""Check that every number of bars of each stock is struck out, or left to a box.

A plan with n bars costs at least the worth of its pieces plus the sum of n * (least reduced cost of a
bar), at any prices. Struck out is what then costs more than the target, or more than its bars do
(where nothing is credited), or is shorter in all than the pieces.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.proof.given import LARGEST, Table, need, whole
from shopquote.calc.takeoff.proof.model import Model, Range

# Purchases that are looked at one by one: more would take minutes.
MOST_PURCHASES = 40_000_000
MOST_STOCKS = 4

_Cut = tuple[int, list[int]]
_Box = tuple[list[int], list[int]]


def open_boxes(model: Model, node: dict[str, Any], bars: Range, target: int) -> list[tuple[Any, Range]]:
    """The boxes that are left, each with its tree; refused where a cheaper purchase is not struck out."""
    costs = [min(k.cost for k in model.kinds if k.stock == s) for s in range(model.stocks)]
    paid = [s for s in range(model.stocks) if costs[s]]
    free = [s for s in range(model.stocks) if not costs[s]]
    need(0 < len(paid) <= MOST_STOCKS, "too many stocks cost money")
    boxes = _boxes(model, node, free)
    cuts = [_cut(model, prices, paid, free) for prices in node["cuts"]]
    tops = _tops(model, cuts, paid, costs, target)
    if min(tops) < 0:
        return []
    need(int(np.prod([top + 1.0 for top in tops])) <= MOST_PURCHASES, "too many purchases to check")
    goal = target * model.fine
    largest = max(max(map(abs, [base, *least])) for base, least in [*cuts, (goal, [max(costs) * model.fine])])
    need(largest * (1 + sum(tops)) < LARGEST, "prices are too large")
    _strike(model, cuts, boxes, paid, free, costs, tops, goal)
    left = []
    for box, (low, high) in zip(node["boxes"], boxes, strict=True):
        stock = [(max(a, p), min(b, q)) for (a, b), p, q in zip(bars.stock, low, high, strict=True)]
        left.append((box["tree"], Range(list(bars.kind), stock, bars.total)))
    return left


def _boxes(model: Model, node: dict[str, Any], free: Sequence[int]) -> list[_Box]:
    """Least and most bars of each stock in each box; free bars are all in it."""
    boxes = [(whole(box["stocks"][0], 0), whole(box["stocks"][1], 0)) for box in node["boxes"]]
    for low, high in boxes:
        need(len(low) == len(high) == model.stocks, "a box has another number of stocks")
        need(all(low[s] == 0 and high[s] >= model.limits[s] for s in free), "a box leaves out free bars")
    return boxes


def _cut(model: Model, prices: Sequence[Any], paid: Sequence[int], free: Sequence[int]) -> _Cut:
    """What all purchases cost at least: a base and a part for each bar of a stock."""
    known = whole(prices, 0)
    reduced = model.reduced(known)

    def least(stock: int) -> int:
        return min(r for r, kind in zip(reduced, model.kinds, strict=True) if kind.stock == stock)

    base = model.worth_of_all(known) + sum(min(0, least(s)) * model.limits[s] for s in free)
    return base, [least(s) for s in paid]


def _tops(
    model: Model, cuts: Sequence[_Cut], paid: Sequence[int], costs: Sequence[int], target: int
) -> list[int]:
    """The most bars of each stock that a plan within the target can have."""
    goal = target * model.fine
    tops = [model.limits[s] for s in paid]
    for base, least in cuts:
        if min(least) >= 0:
            tops = [min(t, max(-1, (goal - base) // r)) if r else t for t, r in zip(tops, least, strict=True)]
    if not model.credited:
        tops = [min(top, target // costs[s]) for top, s in zip(tops, paid, strict=True)]
    return tops


def _strike(
    model: Model,
    cuts: Sequence[_Cut],
    boxes: Sequence[_Box],
    paid: Sequence[int],
    free: Sequence[int],
    costs: Sequence[int],
    tops: Sequence[int],
    goal: int,
) -> None:
    """Refuse the proof where a purchase is left that costs no more than the goal and is in no box."""
    room = [max(k.capacity for k in model.kinds if k.stock == s) for s in range(model.stocks)]
    length = sum(w * d for w, d in zip(model.sizes, model.demands, strict=True))
    length -= sum(room[s] * model.limits[s] for s in free)
    rest = np.meshgrid(*(np.arange(top + 1) for top in tops[1:]), indexing="ij")
    shape = rest[0].shape if rest else (1,)
    for first in range(tops[0] + 1):
        counts = [np.full(shape, first, np.int64), *rest]
        alive: Any = sum(room[s] * n for s, n in zip(paid, counts, strict=True)) >= length
        ceiling: Any = goal
        if not model.credited:
            cost = sum(costs[s] * model.fine * n for s, n in zip(paid, counts, strict=True))
            ceiling = np.minimum(goal, cost)
            alive &= cost <= goal
        for base, least in cuts:
            alive &= base + sum(r * n for r, n in zip(least, counts, strict=True)) <= ceiling
        for box in boxes:
            alive &= ~_inside(box, paid, counts)
        need(not alive.any(), "a cheaper purchase is not struck out")


def _inside(box: _Box, paid: Sequence[int], counts: Sequence[Table]) -> npt.NDArray[np.bool_]:
    """Which purchases lie in a box."""
    low, high = box
    inside = np.ones(counts[0].shape, np.bool_)
    for s, n in zip(paid, counts, strict=True):
        inside &= (n >= low[s]) & (n <= high[s])
    return inside
