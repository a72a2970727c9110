"""Check that every number of bars of each stock is struck out, or left to a box.

A plan with n bars costs at least the worth of its pieces plus the sum of n * (least reduced cost of a
bar), at any prices. Struck out is what then costs more than the goal. Ranges of numbers are halved until
each is struck out as a whole, or lies in a box.
"""

from typing import Any

import numpy as np

from shopquote.calc.takeoff.proof.given import LARGEST, Table, need, whole
from shopquote.calc.takeoff.proof.model import Ends, Model, within

# Ranges that are looked at: more would take minutes.
MOST_RANGES = 20_000_000
# Prices are taken by so much less finely, rounded down, so that sums stay within 64 bits.
COARSE = 1 << 14

_Cut = tuple[int, Table]


def open_boxes(model: Model, node: dict[str, Any], ends: Ends) -> list[tuple[Any, Ends]]:
    """The boxes that are left, each with its tree; refused where a cheaper purchase is not struck out."""
    stocks = ends[model.stocks]
    boxes = [
        [(low, high) for low, high in (whole(stock, 0) for stock in box["stocks"])] for box in node["boxes"]
    ]
    need(all(len(box) == len(stocks) for box in boxes), "a box has another number of stocks")
    _strike(model, [_cut(model, prices) for prices in node["purchases"]], boxes, stocks)
    left = []
    for box, part in zip(node["boxes"], boxes, strict=True):
        inner = [within(end, *new) for end, new in zip(stocks, part, strict=True)]
        left.append((box["tree"], [*ends[: model.stocks.start], *inner, *ends[model.stocks.stop :]]))
    return left


def _cut(model: Model, prices: Any) -> _Cut:
    """What all purchases cost at least: the worth of all pieces, and a part for each bar of a stock."""
    known = whole(prices, 0)
    least: dict[int, int] = {}
    for stock, reduced in zip(model.stock_of, model.reduced(known), strict=True):
        least[stock] = min(reduced, least.get(stock, reduced))
    worth = sum(p * d for p, d in zip(known, model.demands, strict=True))
    parts = [least[stock] // COARSE for stock in range(len(least))]
    need(max(map(abs, [worth // COARSE, *parts])) < LARGEST, "prices are too large")
    return worth // COARSE, np.array(parts, np.int64)


def _strike(model: Model, cuts: list[_Cut], boxes: list[Ends], stocks: Ends) -> None:
    """Refuse the proof where a purchase is left that costs no more than the goal and is in no box."""
    most = sum(high for _, high in stocks)
    need(
        all(abs(base) + most * int(np.abs(least).max()) < LARGEST for base, least in cuts),
        "prices are too large",
    )
    costs: dict[int, int] = {}
    for stock, kind in zip(model.stock_of, model.kinds, strict=True):
        costs[stock] = min(kind.cost, costs.get(stock, kind.cost))
    weights = np.array([costs[stock] for stock in range(len(costs))], np.float64)
    low, high = (np.array([ends], np.int64) for ends in zip(*stocks, strict=True))
    goal, seen = model.goal // COARSE, 0
    while len(low):
        alive = np.ones(len(low), np.bool_)
        for base, least in cuts:
            alive &= base + np.where(least >= 0, low, high) @ least <= goal
        for box in boxes:
            first, last = (np.array(ends, np.int64) for ends in zip(*box, strict=True))
            alive &= ~((low >= first) & (high <= last)).all(axis=1)
        low, high = low[alive], high[alive]
        seen += len(low)
        need(seen <= MOST_RANGES, "too many purchases to check")
        width = (high - low) * weights
        at = width.argmax(axis=1)[:, None]
        need(bool((width > 0).any(axis=1).all()), "a cheaper purchase is not struck out")
        middle = (np.take_along_axis(low, at, 1) + np.take_along_axis(high, at, 1)) // 2
        less, more = high.copy(), low.copy()
        np.put_along_axis(less, at, middle, 1)
        np.put_along_axis(more, at, middle + 1, 1)
        low, high = np.concatenate([low, more]), np.concatenate([less, high])
