"""The supplier choice in integers, and its pricing problem: the cheapest way of one want.

Money is in ten-thousandths. Lagrange multipliers (`Multipliers`) put a price on using a supplier and on
reaching its free delivery, so that each want can be chosen by itself. The arithmetic is exact, so any
multipliers give a valid bound. Begin at `cheapest_choice`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np
import numpy.typing as npt

from shopquote.calc.buying.buying_plan import Offer
from shopquote.calc.frozen import dataclass

IntArray = npt.NDArray[np.int64]

# More than any sum of costs, and small enough that two of them still fit in 64 bits.
INFINITE = 1 << 60
# Upper limit of the multiplier of goods at a supplier whose delivery should become free.
MOST_GOODS = 8
# Up to so many counts of an offer are joined in a loop; more of them as one two-dimensional table.
FEW_COUNTS = 8
# Cells of that table at most; beyond it the loop is used whatever the number of counts.
MOST_TABLE = 1_000_000
# Cells cached between rounds: 64 megabytes.
MOST_KEPT = 8_000_000


@dataclass(frozen=True, slots=True)
class Item:
    """One offer: `counts[i]` bars cost `costs[i]`, both increasing; `supplier` is an index."""

    offer: Offer
    supplier: int
    counts: IntArray
    costs: IntArray


@dataclass(frozen=True, slots=True)
class Block:
    """One want. `items[k]` are indices of the items of its k-th kind of bar; a way is pairs (kind, count)."""

    items: tuple[tuple[int, ...], ...]
    ways: tuple[tuple[tuple[int, int], ...], ...]


@dataclass(frozen=True, slots=True)
class DeliveryTerms:
    """The `charge` for an order; only `kept` of it for goods worth `free_from` or more (None: never)."""

    name: str
    charge: int
    free_from: int | None
    kept: int = 0

    @property
    def spared(self) -> int:
        """The part of the charge that free delivery saves."""
        return self.charge - self.kept

    def asked(self, goods: int) -> int:
        """The charge for an order of so much goods."""
        return self.kept if self.free_from is not None and goods >= self.free_from else self.charge


@dataclass(frozen=True, slots=True)
class Market:
    """The whole problem. `grid` divides every cost, so that bounds may be rounded up to its multiples."""

    suppliers: tuple[DeliveryTerms, ...]
    items: tuple[Item, ...]
    blocks: tuple[Block, ...]
    grid: int

    def deliveries(self, counts: Mapping[int, int]) -> int:
        """The delivery charges of all suppliers that get an order; `counts` are bars by item."""
        goods: dict[int, int] = {}
        for j, count in counts.items():
            item = self.items[j]
            goods[item.supplier] = goods.get(item.supplier, 0) + self.cost_of(j, count)
        return sum(self.suppliers[s].asked(amount) for s, amount in goods.items())

    def cost_of(self, j: int, count: int) -> int:
        """Cost of `count` bars of item `j`, which must be one of its counts."""
        item = self.items[j]
        return int(item.costs[int(np.searchsorted(item.counts, count))])

    def price(self, counts: Mapping[int, int]) -> int:
        """The whole cost of a choice, deliveries included; `counts` are bars by item."""
        return sum(self.cost_of(j, count) for j, count in counts.items()) + self.deliveries(counts)


@dataclass(frozen=True)
class Limits:
    """The branching decisions of a node; what is not mentioned is unrestricted.

    `counts`: least and greatest number of bars by item. `ways`: allowed ways by block. `used`, `free`: by
    supplier whether it gets an order, and whether its delivery is free.
    """

    counts: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    ways: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    used: Mapping[int, bool] = field(default_factory=dict)
    free: Mapping[int, bool] = field(default_factory=dict)


@dataclass
class Multipliers:
    """Lagrange multipliers in units of 1 / `scale`, as integers.

    `goods[s]` is credited for each unit of goods bought from supplier s. `fees[m, slot, s]` is charged where
    anything of the slot-th kind in block m's way is bought from supplier s.
    """

    scale: int
    goods: list[int]
    fees: dict[tuple[int, int, int], int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BlockChoice:
    """One way of a block with its purchases (item, bars), and the pairs (slot, supplier) that they use."""

    way: int
    counts: tuple[tuple[int, int], ...]
    links: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Open:
    """An item within a node's limits: `costs` with multipliers in units of 1 / scale, `key` for the cache."""

    j: int
    counts: IntArray
    costs: IntArray
    may_skip: bool
    key: tuple[object, ...] = ()
    pays: bool = False  # some count has a negative cost, so that it pays even if not needed


# Cost, purchases (item, bars), and work done.
_Covered = tuple[int, list[tuple[int, int]], int]
# For one supplier: the cost curve of each item, the best curve before each, the best of all, and the work.
_Supplied = tuple[list[IntArray], list[IntArray], IntArray, int]


class RoundCache:
    """Results of earlier rounds, by their inputs: from round to round few multipliers and limits change."""

    def __init__(self) -> None:
        self.opened: dict[tuple[object, ...], _Open | None] = {}
        self.supplied: dict[tuple[object, ...], _Supplied] = {}
        self.covered: dict[tuple[object, ...], _Covered] = {}
        self._places = 0

    def room_for(self, places: int) -> None:
        """Count cells that will be cached, and empty the cache first where there would be too many."""
        self._places += places
        if self._places > MOST_KEPT:
            self.opened.clear()
            self.supplied.clear()
            self.covered.clear()
            self._places = places


def cheapest_choice(
    market: Market, m: int, multipliers: Multipliers, limits: Limits, cache: RoundCache
) -> tuple[int, BlockChoice | None, int]:
    """The least cost of block `m` at these multipliers, in units of 1 / scale, its choice, and the work done.

    The choice is None where the limits leave no way. The work is counted as if nothing were cached, so that
    the work limit ends the search at the same node whatever the cache held.
    """
    block = market.blocks[m]
    best, choice, work = INFINITE, None, 0
    # The ways of one want mostly need the same kinds of bar in the same numbers, so each cover is found once.
    groups_of: dict[tuple[int, bool], dict[int, list[_Open]]] = {}
    covers: dict[tuple[int, int, tuple[int, ...]], _Covered] = {}
    for a in limits.ways.get(m, range(len(block.ways))):
        cost, counts, links = 0, [], []
        needed = dict(block.ways[a])
        slots = {k: slot for slot, k in enumerate(needed)}
        for k, items in enumerate(block.items):
            slot = slots.get(k)
            groups = groups_of.get((k, slot is not None))
            if groups is None:
                groups = _open_groups(market, items, multipliers, limits, cache, needed=slot is not None)
                groups_of[k, slot is not None] = groups
            if slot is None and not groups:
                continue
            fees = {} if slot is None else {s: multipliers.fees.get((m, slot, s), 0) for s in groups}
            key = (k, -1 if slot is None else needed[k], tuple(fees.values()))
            if key not in covers:
                covers[key] = _cover(needed.get(k, 0), groups, fees, cache)
            part, bought, done = covers[key]
            work += done
            cost += part
            counts += bought
            links += [(slot, market.items[j].supplier) for j, _ in bought] if slot is not None else []
        if cost < best:
            best, choice = cost, BlockChoice(a, tuple(counts), tuple(dict.fromkeys(links)))
    return best, choice, work


def _open_groups(
    market: Market,
    items: Sequence[int],
    multipliers: Multipliers,
    limits: Limits,
    cache: RoundCache,
    *,
    needed: bool,
) -> dict[int, list[_Open]]:
    """The items of one kind of bar by supplier, within the limits.

    Of a kind that is not `needed`, only those that must be bought or that pay at these multipliers.
    """
    groups: dict[int, list[_Open]] = {}
    for j in items:
        s = market.items[j].supplier
        rate = multipliers.scale - multipliers.goods[s]
        key = (j, rate, limits.counts.get(j), limits.used.get(s, True))
        if key not in cache.opened:
            cache.room_for(len(market.items[j].counts))
            cache.opened[key] = _open(market, j, rate, limits, key)
        item = cache.opened[key]
        if item is not None and (needed or not item.may_skip or item.pays):
            groups.setdefault(s, []).append(item)
    return groups


def _open(market: Market, j: int, rate: int, limits: Limits, key: tuple[object, ...]) -> _Open | None:
    """Item `j` within the limits, its costs multiplied by `rate`; None where it may not be bought."""
    item = market.items[j]
    low, high = limits.counts.get(j, (0, -1))
    counts, costs = item.counts, item.costs
    if j in limits.counts:
        inside = (counts >= low) & (counts <= high)
        counts, costs = counts[inside], costs[inside]
    if not len(counts) or not limits.used.get(item.supplier, True):
        return None if low <= 0 else _Open(j, counts[:0], costs[:0], False, key)
    worth = costs * rate
    return _Open(j, counts, worth, low <= 0, key, bool(worth.min() < 0))


def _cover(
    need: int, groups: Mapping[int, Sequence[_Open]], fees: Mapping[int, int], cache: RoundCache
) -> _Covered:
    """The cheapest way to buy at least `need` bars, where each supplier used is charged its fee once."""
    keys = {s: tuple(item.key for item in items) for s, items in groups.items()}
    whole = (need, tuple(keys.values()), tuple(fees.get(s, 0) for s in groups))
    if whole not in cache.covered:
        supplied = {s: _supply(need, items, keys[s], cache) for s, items in groups.items()}
        cache.covered[whole] = _cover_from(need, groups, fees, supplied)
    return cache.covered[whole]


def _supply(need: int, items: Sequence[_Open], keys: tuple[object, ...], cache: RoundCache) -> _Supplied:
    """The least cost of each number of bars up to `need` from one supplier's items."""
    if (need, keys) not in cache.supplied:
        cache.room_for((need + 1) * 2 * len(items))
        curves = [_weights(item, need) for item in items]
        cache.supplied[need, keys] = (curves, *_stages(need, curves))
    return cache.supplied[need, keys]


def _cover_from(
    need: int,
    groups: Mapping[int, Sequence[_Open]],
    fees: Mapping[int, int],
    supplied: Mapping[int, _Supplied],
) -> _Covered:
    work = sum(done for _, _, _, done in supplied.values())
    weights = {s: _with_fee(supplied[s][2], groups[s], fees.get(s, 0)) for s in groups}
    befores, best, done = _stages(need, list(weights.values()))
    if best[need] >= INFINITE:
        return INFINITE, [], work + done
    bought: list[tuple[int, int]] = []
    for (s, items), take in zip(groups.items(), _takes(need, list(weights.values()), befores), strict=True):
        if take == 0 and weights[s][0] == 0 and all(item.may_skip for item in items):
            continue
        for item, part in zip(items, _takes(take, *supplied[s][:2]), strict=True):
            count = _count_of(item, part, need)
            bought += [(item.j, count)] if count else []
    return int(best[need]), bought, work + done


def _with_fee(curve: IntArray, items: Sequence[_Open], fee: int) -> IntArray:
    """A supplier's cost curve with its fee, which is charged unless nothing is bought."""
    if not fee:
        return curve
    dear = np.minimum(curve + fee, INFINITE)
    if all(item.may_skip for item in items):
        dear[0] = min(0, int(dear[0]))
    return dear


def _stages(need: int, weights: Sequence[IntArray]) -> tuple[list[IntArray], IntArray, int]:
    """Min-plus products of curves: least cost of r bars or more before each and after all; the work."""
    best = np.full(need + 1, INFINITE, dtype=np.int64)
    best[0] = 0
    befores, work = [], 0
    for curve in weights:
        befores.append(best)
        if len(befores) == 1:
            best, done = np.minimum.accumulate(curve[::-1])[::-1], need + 50
        else:
            best, done = _join(best, curve)
        work += done
    return befores, best, work


def _takes(need: int, weights: Sequence[IntArray], befores: Sequence[IntArray]) -> list[int]:
    """How many of `need` bars each curve supplies in the cheapest solution, traced back through `befores`."""
    takes, left = [], need
    for curve, before in zip(reversed(weights), reversed(befores), strict=True):
        take = int(np.argmin(curve + before[np.maximum(0, left - np.arange(len(curve)))]))
        takes.append(take)
        left = max(0, left - take)
    return takes[::-1]


def _weights(item: _Open, need: int) -> IntArray:
    """An item's cost curve.

    Least cost of exactly v bars for v < `need`, and of `need` bars or more at `need`.
    """
    weights = np.full(need + 1, INFINITE, dtype=np.int64)
    if item.may_skip:
        weights[0] = 0
    under = int(np.searchsorted(item.counts, need))
    weights[item.counts[:under]] = item.costs[:under]
    if under < len(item.counts):
        weights[need] = min(int(weights[need]), int(item.costs[under:].min()))
    return weights


def _join(best: IntArray, weights: IntArray) -> tuple[IntArray, int]:
    """The least cost of r bars or more, for each r, after one more curve; and the work done."""
    need = len(best) - 1
    finite = np.flatnonzero(weights < INFINITE)
    if len(finite) <= FEW_COUNTS or (need + 1) ** 2 > MOST_TABLE:
        joined = np.full(need + 1, INFINITE, dtype=np.int64)
        for v in finite:
            weight = weights[v]
            np.minimum(joined[v:], best[: need + 1 - v] + weight, out=joined[v:])
            # For fewer than v bars this count alone suffices.
            np.minimum(joined[:v], best[0] + weight, out=joined[:v])
        return np.minimum(joined, INFINITE), len(finite) * (need + 50)
    padded = np.concatenate((np.full(need, best[0], dtype=np.int64), best))
    # Row r of the window is padded[r : r + need + 1]. Built by strides, for numpy's sliding_window_view is
    # slower.
    window: IntArray = np.ndarray((need + 1, need + 1), np.int64, padded, strides=(8, 8))
    return np.minimum((window + weights[::-1]).min(axis=1), INFINITE), (need + 1) ** 2 + 50


def _count_of(item: _Open, take: int, need: int) -> int:
    """How many bars of an item are bought where it supplies `take`.

    At `need` the cheapest count from there.
    """
    if take < need:
        return take
    under = int(np.searchsorted(item.counts, need))
    if under == len(item.counts):
        return take  # only where need = take = 0
    at = under + int(np.argmin(item.costs[under:]))
    if take == 0 and item.may_skip and item.costs[at] >= 0:
        return 0
    return int(item.counts[at])


def first_choices(
    market: Market, limits: Limits, scale: int, cache: RoundCache
) -> list[tuple[int, BlockChoice | None, int]]:
    """The cheapest choice of every want at multipliers of 0, as if deliveries cost nothing."""
    plain = Multipliers(scale, [0] * len(market.suppliers))
    return [cheapest_choice(market, m, plain, limits, cache) for m in range(len(market.blocks))]


def counts_of(choices: Sequence[BlockChoice | None]) -> dict[int, int] | None:
    """Bars by item of the choices of all wants; None where a want has no choice."""
    bought: dict[int, int] = {}
    for choice in choices:
        if choice is None:
            return None
        bought.update(choice.counts)
    return bought


def scale_of(market: Market) -> int:
    """The largest scale of multipliers at which costs fit in 64 bits, with goods at `MOST_GOODS`."""
    most = sum(supplier.charge for supplier in market.suppliers)
    for block in market.blocks:
        dearest = sum(int(market.items[j].costs.max()) for items in block.items for j in items)
        most = max(most, dearest)
    return 1 << max(4, 57 - int((MOST_GOODS + 1) * most + 1).bit_length())
