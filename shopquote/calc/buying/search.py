"""Branch and price for the cheapest choice among suppliers, with an exact lower bound.

Wants affect one another only through deliveries. So a master problem combines ready choices of the wants
(columns) under the deliveries, its dual values price the deliveries, and for these prices `market` finds each
want's cheapest choice exactly. That gives new columns and, by weak duality, a bound in integers, which is
valid for any multipliers. Branching is on whether a supplier is used, whether its delivery is free, the way
of a want, and the count of an item, in this order.

Sources: Dantzig & Wolfe, Operations Research 8 (1960), as a public survey of column generation tells it;
Barnhart et al., Branch-and-price, Operations Research 46 (1998), public abstract.

Begin at `search_choice`. All limits count work, so that the answer does not depend on the machine's load.
"""

import heapq
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from shopquote.calc.buying.market import (
    INFINITE,
    BlockChoice,
    Limits,
    Market,
    Multipliers,
    RoundCache,
    cheapest_choice,
    counts_of,
    first_choices,
    scale_of,
)
from shopquote.calc.buying.master import LOOSE, Mixture, WantMaster
from shopquote.calc.frozen import dataclass

# Pricing rounds at a node before branching; by measurement later rounds hardly raise the bound.
MOST_ROUNDS = 80
# Node limit of the solver's search for an integral solution over the columns. By 200 and 800 a market came
# out the same; without any search eight that were stopped early cost 42.52 more of 72,913.
PLAN_NODES = 400
# After `NODES_WHEN_NEAR` nodes a cost within 1 / `NEAR` of the bound is accepted: there are countless ways to
# reach a free delivery with extra bars, and minutes were spent to save 0.01 of 500.
NODES_WHEN_NEAR, NEAR = 200, 2_000


@dataclass(frozen=True, slots=True)
class CheapestCounts:
    """The result: bars by item, their `cost` and lower `bound` in ten-thousandths; None where nothing fits.

    `cut_short`: a time limit ended the search.
    """

    counts: dict[int, int] | None
    cost: int | None
    bound: int | None
    nodes: int
    cut_short: bool


@dataclass
class _Node:
    limits: Limits
    bound: int
    branch: "tuple[Limits, ...] | None" = None


def search_choice(market: Market, most_work: int, out_of_time: Callable[[], bool]) -> CheapestCounts:
    """The cheapest choice of one way of every want, with a lower bound.

    Args:
        market: the problem in integers.
        most_work: limit in table cells and solver work; the node at hand is finished.
        out_of_time: asked between nodes whether a time limit that a person set is over.
    """
    search = _MarketSearch(market, most_work, out_of_time)
    return search.run()


class _MarketSearch:
    def __init__(self, market: Market, most_work: int, out_of_time: Callable[[], bool]) -> None:
        self.market, self.most_work, self.out_of_time = market, most_work, out_of_time
        self.scale = scale_of(market)
        self.master = WantMaster(market, self.scale)
        self.cache = RoundCache()
        self.best: dict[int, int] | None = None
        self.best_cost: int | None = None
        self.work = self.nodes = 0
        self.stopped = self.cut_short = False

    def run(self) -> CheapestCounts:
        """Best-first branch and bound, until no open node can save enough or the work limit is reached."""
        heap: list[tuple[int, int, _Node]] = []
        self._open(heap, Limits(), 0)
        while heap:
            bound, _, node = heap[0]
            if self._is_closed(bound):
                break
            if self.stopped or node.branch is None or self._is_near(bound):
                return CheapestCounts(self.best, self.best_cost, bound, self.nodes, self.cut_short)
            heapq.heappop(heap)
            for limits in node.branch:
                self._open(heap, limits, bound)
        # No open node could be cheaper: the cost is its own bound.
        return CheapestCounts(self.best, self.best_cost, self.best_cost, self.nodes, False)

    def _is_closed(self, bound: int) -> bool:
        return bound >= INFINITE or (self.best_cost is not None and bound >= self.best_cost)

    def _is_near(self, bound: int) -> bool:
        """Whether the gap is small enough to stop, after `NODES_WHEN_NEAR` nodes."""
        cost = self.best_cost
        return cost is not None and self.nodes > NODES_WHEN_NEAR and (cost - bound) * NEAR <= cost

    def _open(self, heap: list[tuple[int, int, _Node]], limits: Limits, parent: int) -> None:
        node = self._work_out(limits, parent) if not self.stopped else _Node(limits, parent)
        self.nodes += 1
        if not self._is_closed(node.bound):
            heapq.heappush(heap, (node.bound, self.nodes, node))
        if self.work > self.most_work:
            self.stopped = True
        elif self.out_of_time():
            self.stopped = self.cut_short = True

    def _keep(self, counts: Mapping[int, int] | None) -> None:
        if counts is None:
            return
        cost = self.market.price(counts)
        if self.best_cost is None or cost < self.best_cost:
            self.best, self.best_cost = dict(counts), cost

    def _work_out(self, limits: Limits, parent: int) -> _Node:
        """Column generation at one node; gives the node with its bound and its branches."""
        node = _Node(limits, parent)
        # Columns to begin with, which also show whether the limits leave every want a choice.
        first = first_choices(self.market, limits, self.scale, self.cache)
        self.work += sum(done for _, _, done in first)
        if any(choice is None for _, choice, _ in first) or self._cannot_be_free(limits):
            return replace(node, bound=INFINITE)
        self.master.add([choice for _, choice, _ in first])
        self._keep(counts_of([choice for _, choice, _ in first]))
        self.master.limit(limits)
        mixture = None
        for _ in range(MOST_ROUNDS):
            mixture = self.master.solve()
            self.work += self.master.spent()
            bound, added = self._price(mixture.multipliers, limits)
            node.bound = max(node.bound, bound)
            if self._is_closed(node.bound) or not added or self.work > self.most_work:
                break
        if self._is_closed(node.bound) or mixture is None:
            return node
        self._round(mixture, limits)
        if self.work <= self.most_work:
            node.branch = self._branch(mixture, limits)
            # No branch left: the node has one choice, which was kept, or which misses a free delivery it must
            # have.
            node.bound = node.bound if node.branch else INFINITE
        return node

    def _cannot_be_free(self, limits: Limits) -> bool:
        """Whether a delivery that must be free cannot be: the limits allow too little of its supplier."""
        goods = {s: 0 for s, is_free in limits.free.items() if is_free}
        for j, item in enumerate(self.market.items):
            if item.supplier in goods:
                _, high = limits.counts.get(j, (0, int(item.counts[-1])))
                within = item.costs[item.counts <= high]
                goods[item.supplier] += int(within.max()) if len(within) else 0
        return any(amount < (self.market.suppliers[s].free_from or 0) for s, amount in goods.items())

    def _price(self, multipliers: Multipliers, limits: Limits) -> tuple[int, int]:
        """The bound at these multipliers, and how many new columns were added."""
        bound, choices, done = exact_bound(self.market, multipliers, limits, self.cache)
        self.work += done
        self._keep(counts_of(choices))
        return bound, self.master.add(choices)

    # --- plans ---

    def _round(self, mixture: Mixture, limits: Limits) -> None:
        """Look for integral solutions near a fractional one: the largest shares, and the solver's own."""
        shares: dict[int, tuple[float, BlockChoice]] = {}
        for c, share in mixture.shares.items():
            column = self.master.columns[c]
            if share > shares.get(column.block, (0.0, column.choice))[0]:
                shares[column.block] = (share, column.choice)
        largest = counts_of([choice for _, choice in shares.values()])
        if len(shares) == len(self.market.blocks):
            self._keep(largest)
        # The solver's own search is dear, so it is tried at every eighth node only.
        if self.nodes == 0 or self.nodes % 8 == 0:
            # An integral mixture needs no second search by the solver.
            plan = largest if mixture.is_whole else self.master.whole(PLAN_NODES)
            self.work += self.master.spent()
            if plan is not None:
                self._keep(plan)
                self._keep_with(plan, limits)

    def _keep_with(self, plan: Mapping[int, int], limits: Limits) -> None:
        """Try the cheapest choice of each want from only those suppliers that a plan uses anyway."""
        used = {self.market.items[j].supplier for j in plan}
        closed = {s: s in used for s in range(len(self.market.suppliers))}
        narrower = replace(limits, used={**limits.used, **closed})
        choices = first_choices(self.market, narrower, self.scale, self.cache)
        self.work += sum(done for _, _, done in choices)
        self.master.add([choice for _, choice, _ in choices])
        self._keep(counts_of([choice for _, choice, _ in choices]))

    # --- branching ---

    def _branch(self, mixture: Mixture, limits: Limits) -> tuple[Limits, ...] | None:
        """Two branches that exclude the fractional solution; None where nothing is left to branch on.

        Suppliers come first, of them the one whose value is nearest to 1/2.
        """
        by_name: tuple[tuple[str, dict[int, float]], ...] = (("used", mixture.used), ("free", mixture.free))
        for name, values in by_name:
            loose = [s for s, value in values.items() if LOOSE < value < 1 - LOOSE]
            if loose:
                s = min(loose, key=lambda s: (abs(values[s] - 0.5), s))
                held = getattr(limits, name)
                return tuple(replace(limits, **{name: {**held, s: value}}) for value in (True, False))
        by_block: dict[int, list[tuple[float, BlockChoice]]] = {}
        for c, share in mixture.shares.items():
            column = self.master.columns[c]
            by_block.setdefault(column.block, []).append((share, column.choice))
        # The want split over most columns first; by index among equals, so that runs repeat.
        for m, mixed in sorted(by_block.items(), key=lambda entry: (-len(entry[1]), entry[0])):
            parted = self._part_block(m, mixed, limits) if len(mixed) > 1 else None
            if parted:
                return parted
        return self._part_any(limits)

    def _part_block(
        self, m: int, mixed: Sequence[tuple[float, BlockChoice]], limits: Limits
    ) -> tuple[Limits, ...] | None:
        ways = sorted({choice.way for _, choice in mixed})
        if len(ways) > 1:
            return self._part_ways(m, ways[0], limits)
        items = sorted({j for _, choice in mixed for j, _ in choice.counts})
        for j in items:
            held = [(share, dict(choice.counts).get(j, 0)) for share, choice in mixed]
            if len({count for _, count in held}) > 1:
                mean = sum(share * count for share, count in held) / sum(share for share, _ in held)
                least, most = min(c for _, c in held), max(c for _, c in held)
                return self._part_counts(j, min(max(int(mean), least), most - 1), limits)
        return None

    def _part_ways(self, m: int, way: int, limits: Limits) -> tuple[Limits, ...]:
        allowed = limits.ways.get(m, tuple(range(len(self.market.blocks[m].ways))))
        rest = tuple(a for a in allowed if a != way)
        return tuple(replace(limits, ways={**limits.ways, m: part}) for part in ((way,), rest))

    def _part_counts(self, j: int, at: int, limits: Limits) -> tuple[Limits, ...]:
        low, high = limits.counts.get(j, (0, int(self.market.items[j].counts[-1])))
        spans = ((low, at), (at + 1, high))
        return tuple(replace(limits, counts={**limits.counts, j: span}) for span in spans)

    def _part_any(self, limits: Limits) -> tuple[Limits, ...] | None:
        """Branch on anything undecided, for an integral solution that costs more than the bound."""
        for name, suppliers in (("used", self.master.charging), ("free", self.master.freeing)):
            held = getattr(limits, name)
            for s in suppliers:
                if s not in held:
                    return tuple(replace(limits, **{name: {**held, s: value}}) for value in (True, False))
        for m, block in enumerate(self.market.blocks):
            allowed = limits.ways.get(m, tuple(range(len(block.ways))))
            if len(allowed) > 1:
                return self._part_ways(m, allowed[0], limits)
        for j, item in enumerate(self.market.items):
            low, high = limits.counts.get(j, (0, int(item.counts[-1])))
            if low < high:
                return self._part_counts(j, (low + high) // 2, limits)
        return None


def exact_bound(
    market: Market, multipliers: Multipliers, limits: Limits, cache: RoundCache
) -> tuple[int, list[BlockChoice | None], int]:
    """The Lagrangian bound within the limits, in ten-thousandths; each want's cheapest choice; the work done.

    Valid for any multipliers: what they charge in fees they credit to the suppliers' part, and the reverse
    for goods.
    """
    total = sum(_supplier_part(market, s, multipliers, limits) for s in range(len(market.suppliers)))
    choices: list[BlockChoice | None] = []
    work = 0
    for m in range(len(market.blocks)):
        cost, choice, done = cheapest_choice(market, m, multipliers, limits, cache)
        work += done
        total += cost
        choices.append(choice)
    if None in choices:
        return INFINITE, choices, work
    # Rounded up, which is valid since every choice costs a multiple of the grid.
    grid = multipliers.scale * market.grid
    return -(-total // grid) * market.grid, choices, work


def _supplier_part(market: Market, s: int, multipliers: Multipliers, limits: Limits) -> int:
    """The least cost of a supplier's delivery decisions at these multipliers, in units of 1 / scale."""
    supplier = market.suppliers[s]
    if not supplier.charge:
        return 0
    scale = multipliers.scale
    fees = sum(fee for (_, _, of), fee in multipliers.fees.items() if of == s)
    used = supplier.charge * scale - fees
    states = [(False, False, 0), (True, False, used)]
    if supplier.free_from is not None:
        free = multipliers.goods[s] * supplier.free_from - supplier.spared * scale
        states.append((True, True, used + free))
    return min(
        (
            cost
            for is_used, is_free, cost in states
            if limits.used.get(s, is_used) == is_used and limits.free.get(s, is_free) == is_free
        ),
        default=INFINITE * scale,
    )
