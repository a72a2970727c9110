"""A supplier choice in whole numbers: what each count of an offer costs, and the cheapest way of one want.

Money is in ten-thousandths. Prices may be changed by multipliers (`Multipliers`), which is how the search
hears what a delivery is worth; any multipliers give a true least cost, because the arithmetic is exact.
Begin at `cheapest_choice`.
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
# At most so much is a unit of goods worth besides, where a delivery must become free.
MOST_GOODS = 8
# Up to so many counts of an offer are tried one after another, more of them as one table.
FEW_COUNTS = 8
# A table of this many places is made in one go; a longer list of counts is tried one after another.
MOST_TABLE = 1_000_000
# Places of tables that are kept between rounds: 64 megabytes of them.
MOST_KEPT = 8_000_000


@dataclass(frozen=True, slots=True)
class Item:
    """One offer: `counts[i]` bars cost `costs[i]`; both rise. `supplier` is an index."""

    offer: Offer
    supplier: int
    counts: IntArray
    costs: IntArray


@dataclass(frozen=True, slots=True)
class Block:
    """One want: the items that cover each of its kinds, and for each way how many of which kinds.

    `items` are indices into the market's items, kind by kind; `ways` map kind to count.
    """

    items: tuple[tuple[int, ...], ...]
    ways: tuple[tuple[tuple[int, int], ...], ...]


@dataclass(frozen=True, slots=True)
class DeliveryTerms:
    """`charge` for an order, of it only `kept` from `free_from` of goods on (None: never)."""

    name: str
    charge: int
    free_from: int | None
    kept: int = 0

    @property
    def spared(self) -> int:
        """What a free delivery spares."""
        return self.charge - self.kept

    def asked(self, goods: int) -> int:
        """What an order of so much goods is charged besides them."""
        return self.kept if self.free_from is not None and goods >= self.free_from else self.charge


@dataclass(frozen=True, slots=True)
class Market:
    """All that a choice is made from. `grid` divides every cost, so that bounds round up to it."""

    suppliers: tuple[DeliveryTerms, ...]
    items: tuple[Item, ...]
    blocks: tuple[Block, ...]
    grid: int

    def deliveries(self, counts: Mapping[int, int]) -> int:
        """What the suppliers that get an order charge besides the goods."""
        goods: dict[int, int] = {}
        for j, count in counts.items():
            item = self.items[j]
            goods[item.supplier] = goods.get(item.supplier, 0) + self.cost_of(j, count)
        return sum(self.suppliers[s].asked(amount) for s, amount in goods.items())

    def cost_of(self, j: int, count: int) -> int:
        """What so many bars of an item cost."""
        item = self.items[j]
        return int(item.costs[int(np.searchsorted(item.counts, count))])

    def price(self, counts: Mapping[int, int]) -> int:
        """The whole cost of what is bought, deliveries included."""
        return sum(self.cost_of(j, count) for j, count in counts.items()) + self.deliveries(counts)


@dataclass(frozen=True)
class Limits:
    """What a part of the search may still choose; nothing said means everything.

    `counts`: least and most bars of an item. `ways`: ways of a block. `used`, `free`: whether a
    supplier gets an order, and whether its delivery is free.
    """

    counts: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    ways: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    used: Mapping[int, bool] = field(default_factory=dict)
    free: Mapping[int, bool] = field(default_factory=dict)


@dataclass
class Multipliers:
    """Whole multiples of 1 / `scale`: `goods[s]` is what a unit of goods at a supplier is worth besides.

    `fees[m, slot, s]` is charged where the slot-th kind of block m's way is bought from supplier s.
    """

    scale: int
    goods: list[int]
    fees: dict[tuple[int, int, int], int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BlockChoice:
    """One way of a block with what is bought for it: (item, bars), and `links` (slot, supplier)."""

    way: int
    counts: tuple[tuple[int, int], ...]
    links: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Open:
    """An item as it may be bought now: `costs` are in 1 / scale."""

    j: int
    counts: IntArray
    costs: IntArray
    may_skip: bool
    key: tuple[object, ...] = ()
    pays: bool = False  # to buy some, though none is needed


# Cost, (item, bars), and the work done.
_Covered = tuple[int, list[tuple[int, int]], int]
# Of the items of one supplier: the curve of each, those before each, the best of all, and the work done.
_Supplied = tuple[list[IntArray], list[IntArray], IntArray, int]


class Before:
    """What was worked out in earlier rounds: from one to the next few multipliers and limits change."""

    def __init__(self) -> None:
        self.opened: dict[tuple[object, ...], _Open | None] = {}
        self.supplied: dict[tuple[object, ...], _Supplied] = {}
        self.covered: dict[tuple[object, ...], _Covered] = {}
        self._places = 0

    def room_for(self, places: int) -> None:
        """Count places of tables that will be kept; forget all where they are too many."""
        self._places += places
        if self._places > MOST_KEPT:
            self.opened.clear()
            self.supplied.clear()
            self.covered.clear()
            self._places = places


def cheapest_choice(
    market: Market, m: int, multipliers: Multipliers, limits: Limits, before: Before
) -> tuple[int, BlockChoice | None, int]:
    """The least cost of one want at these multipliers, in 1 / scale, the choice, and the work done.

    None where the limits leave no way. The work is told as if nothing had been worked out `before`.
    """
    block = market.blocks[m]
    best, choice, work = INFINITE, None, 0
    # Ways of one want mostly need the same few kinds of bar in the same few numbers: each is covered once.
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
                groups = _open_groups(market, items, multipliers, limits, before, needed=slot is not None)
                groups_of[k, slot is not None] = groups
            if slot is None and not groups:
                continue
            fees = {} if slot is None else {s: multipliers.fees.get((m, slot, s), 0) for s in groups}
            key = (k, -1 if slot is None else needed[k], tuple(fees.values()))
            if key not in covers:
                covers[key] = _cover(needed.get(k, 0), groups, fees, before)
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
    before: Before,
    *,
    needed: bool,
) -> dict[int, list[_Open]]:
    """Items of a kind of bar by supplier; of a kind not needed only those forced, or worth buying."""
    groups: dict[int, list[_Open]] = {}
    for j in items:
        s = market.items[j].supplier
        rate = multipliers.scale - multipliers.goods[s]
        key = (j, rate, limits.counts.get(j), limits.used.get(s, True))
        if key not in before.opened:
            before.room_for(len(market.items[j].counts))
            before.opened[key] = _open(market, j, rate, limits, key)
        item = before.opened[key]
        if item is not None and (needed or not item.may_skip or item.pays):
            groups.setdefault(s, []).append(item)
    return groups


def _open(market: Market, j: int, rate: int, limits: Limits, key: tuple[object, ...]) -> _Open | None:
    """The item with its costs at a rate, within the limits; None where it may not be bought."""
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
    need: int, groups: Mapping[int, Sequence[_Open]], fees: Mapping[int, int], before: Before
) -> _Covered:
    """At least `need` bars at least cost, a supplier's `fee` charged once: cost, (item, bars), and work."""
    keys = {s: tuple(item.key for item in items) for s, items in groups.items()}
    whole = (need, tuple(keys.values()), tuple(fees.get(s, 0) for s in groups))
    if whole not in before.covered:
        supplied = {s: _supply(need, items, keys[s], before) for s, items in groups.items()}
        before.covered[whole] = _cover_from(need, groups, fees, supplied)
    return before.covered[whole]


def _supply(need: int, items: Sequence[_Open], keys: tuple[object, ...], before: Before) -> _Supplied:
    """What each number of bars up to `need` costs at least from one supplier."""
    if (need, keys) not in before.supplied:
        before.room_for((need + 1) * 2 * len(items))
        curves = [_weights(item, need) for item in items]
        before.supplied[need, keys] = (curves, *_stages(need, curves))
    return before.supplied[need, keys]


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
    """The least cost from one supplier with its fee, which is due where anything is bought."""
    if not fee:
        return curve
    dear = np.minimum(curve + fee, INFINITE)
    if all(item.may_skip for item in items):
        dear[0] = min(0, int(dear[0]))
    return dear


def _stages(need: int, weights: Sequence[IntArray]) -> tuple[list[IntArray], IntArray, int]:
    """Min-plus products: before each item and after all, the least cost of r bars or more; and the work."""
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
    """How many of `need` bars each item covers in the cheapest cover."""
    takes, left = [], need
    for curve, before in zip(reversed(weights), reversed(befores), strict=True):
        take = int(np.argmin(curve + before[np.maximum(0, left - np.arange(len(curve)))]))
        takes.append(take)
        left = max(0, left - take)
    return takes[::-1]


def _weights(item: _Open, need: int) -> IntArray:
    """Least cost of covering exactly v bars, and at `need` that many or more, from one item."""
    weights = np.full(need + 1, INFINITE, dtype=np.int64)
    if item.may_skip:
        weights[0] = 0
    under = int(np.searchsorted(item.counts, need))
    weights[item.counts[:under]] = item.costs[:under]
    if under < len(item.counts):
        weights[need] = min(int(weights[need]), int(item.costs[under:].min()))
    return weights


def _join(best: IntArray, weights: IntArray) -> tuple[IntArray, int]:
    """Least cost of r bars or more, for each r, with one item more."""
    need = len(best) - 1
    finite = np.flatnonzero(weights < INFINITE)
    if len(finite) <= FEW_COUNTS or (need + 1) ** 2 > MOST_TABLE:
        joined = np.full(need + 1, INFINITE, dtype=np.int64)
        for v in finite:
            weight = weights[v]
            np.minimum(joined[v:], best[: need + 1 - v] + weight, out=joined[v:])
            np.minimum(joined[:v], best[0] + weight, out=joined[:v])
        return np.minimum(joined, INFINITE), len(finite) * (need + 50)
    padded = np.concatenate((np.full(need, best[0], dtype=np.int64), best))
    # Row r of the window holds padded[r : r + need + 1]; made by hand, since numpy's own helper takes longer.
    window: IntArray = np.ndarray((need + 1, need + 1), np.int64, padded, strides=(8, 8))
    return np.minimum((window + weights[::-1]).min(axis=1), INFINITE), (need + 1) ** 2 + 50


def _count_of(item: _Open, take: int, need: int) -> int:
    """How many bars are bought where the item covers `take`."""
    if take < need:
        return take
    under = int(np.searchsorted(item.counts, need))
    if under == len(item.counts):
        return take  # nothing needed, nothing bought
    at = under + int(np.argmin(item.costs[under:]))
    if take == 0 and item.may_skip and item.costs[at] >= 0:
        return 0
    return int(item.counts[at])


def first_choices(
    market: Market, limits: Limits, scale: int, before: Before
) -> list[tuple[int, BlockChoice | None, int]]:
    """The cheapest choice of every want as if deliveries cost nothing."""
    plain = Multipliers(scale, [0] * len(market.suppliers))
    return [cheapest_choice(market, m, plain, limits, before) for m in range(len(market.blocks))]


def counts_of(choices: Sequence[BlockChoice | None]) -> dict[int, int] | None:
    """All items bought by these choices; None where one is lacking."""
    bought: dict[int, int] = {}
    for choice in choices:
        if choice is None:
            return None
        bought.update(choice.counts)
    return bought


def scale_of(market: Market) -> int:
    """The finest whole multiples at which a want's costs still fit in 64 bits, goods at `MOST_GOODS` too."""
    most = sum(supplier.charge for supplier in market.suppliers)
    for block in market.blocks:
        dearest = sum(int(market.items[j].costs.max()) for items in block.items for j in items)
        most = max(most, dearest)
    return 1 << max(4, 57 - int((MOST_GOODS + 1) * most + 1).bit_length())
