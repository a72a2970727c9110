"""All ways to buy so many bars of each stock that could still be cheaper, struck out by cuts.

With given prices of the pieces, a plan with n bars costs at least the worth of all
pieces plus the sum over stocks of n * (least reduced cost of a bar). Each set of prices
so strikes out a half of the possible purchases; few sets strike out nearly all. At higher prices
still, bars that hold less than the pieces cost too much. Begin at `by_totals`; where few
cuts strike out all, `all_struck_out` needs no search.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cached_property
from heapq import heappop, heappush

from shopquote.calc.takeoff.best import FINENESS
from shopquote.calc.takeoff.dive import Dives
from shopquote.calc.takeoff.master import EMPTY
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.proof.cut_plane import FULL_BAR, CutPlane, Numbers, halved, widest
from shopquote.calc.takeoff.work import OutOfWork

# Ranges of purchases that are looked at, and where no purchase is searched: of 17 jobs the longest looked at
# 504, and at 358 with no search.
MOST_RANGES, FEW_RANGES = 20_000, 500
# Units of work: of a range, and of a cut that looks at it. 3,843 looks of seven jobs took 0.6 of what was
# counted.
A_RANGE, A_LOOK = 10_000, 2_000


class Purchases:
    """The cuts of one search, and what they say of ranges of purchases."""

    def __init__(self, search: Dives) -> None:
        self.search, self.problem = search, search.problem
        stocks = range(len(self.problem.stock_limits))
        self.costs = [search.fine * min(k.cost for k in self.problem.kinds if k.stock == s) for s in stocks]
        self.used: set[CutPlane] = set()

    @cached_property
    def cuts(self) -> list[CutPlane]:
        """By length alone at first: what is bought costs too much, or holds less than the pieces."""
        return [self._cut(self._by_length()), self._full_bars()]

    def _by_length(self) -> list[int]:
        """Prices in proportion to length at which every bar still costs something."""
        slopes = [Fraction(k.credit * k.credit_step, k.credit_over) for k in self.problem.kinds if k.credit]
        rate = min(slopes) * self.search.fine if slopes else 0
        return [int(size * rate) for size in self.problem.sizes]

    def _full_bars(self) -> CutPlane:
        """The cut of prices in proportion to length at which a full bar is worth far more than it costs."""
        problem = self.problem
        if self.search.credited:
            return self._cut([size * (FULL_BAR // problem.largest) for size in problem.sizes])
        # What bars hold is worth as many times more as the prices: told from a table of narrow numbers.
        cut = self._cut([size * max(1, FINENESS // problem.largest) for size in problem.sizes])
        return cut.at(self.costs, FULL_BAR // FINENESS)

    def _cut(self, prices: Sequence[int]) -> CutPlane:
        if any(prices) or self.search.credited:
            return self._plane(prices, self.search.price_out(prices, self.search.tables)[0])
        # Pieces without a price take nothing off what bars cost: no table is needed.
        return self._plane(prices, [self.search.fine * kind.cost for kind in self.problem.kinds])

    def _plane(self, prices: Sequence[int], reduced: Sequence[int]) -> CutPlane:
        """The cut of prices at which bars of each kind have these least reduced costs."""
        problem = self.problem
        least = [
            min(r for r, s in zip(reduced, problem.stock_of, strict=True) if s == at)
            for at in range(len(self.costs))
        ]
        worth = sum(p * d for p, d in zip(prices, problem.demands, strict=True))
        return CutPlane(tuple(prices), worth, tuple(least))

    def add_cut(self, node: Node, numbers: Numbers) -> None:
        """Add the cut of a node's prices, and raised ones where these show what bars hold."""
        if node.prices in {cut.prices for cut in self.cuts}:
            return
        self.cuts.append(self._plane(node.prices, node.reduced))
        if not self.search.credited or self.holds_too_little(node, numbers):
            goal = self.search.target() * self.search.fine
            self.cuts.append(self.cuts[-1].raised(self.costs, [low for low, _ in numbers], goal))

    def least(self, numbers: Numbers) -> int:
        """What a plan with so many bars costs at least, by all cuts."""
        self.search.work.spend(A_RANGE + A_LOOK * len(self.cuts))
        return max(cut.least(numbers) for cut in self.cuts)

    def strikes(self, numbers: Numbers) -> bool:
        """Whether no cheaper plan buys so many bars; by which cut is kept."""
        best = max(self.cuts, key=lambda cut: cut.least(numbers))
        struck = best.least(numbers) > self.search.target() * self.search.fine
        if struck:
            self.used.add(best)
        return struck

    def hold(self, numbers: Numbers) -> None:
        """Keep the cut that says most of a range that is not struck out."""
        self.used.add(max(self.cuts, key=lambda cut: cut.least(numbers)))

    def struck_by(self) -> tuple[CutPlane, ...]:
        """All cuts that struck something out, in their order; one at least."""
        return tuple(cut for cut in self.cuts if cut in self.used) or (self.cuts[0],)

    def cost(self, numbers: Numbers) -> int:
        """What the least bars of a range cost, in fine units."""
        return sum(cost * low for cost, (low, _) in zip(self.costs, numbers, strict=True))

    def holds_too_little(self, node: Node, numbers: Numbers) -> bool:
        """Whether a bound is above what these bars cost before credit, so that they hold too little."""
        return node.fine > self.cost(numbers)

    def parts(self, numbers: Numbers, least: int) -> list[Numbers]:
        """A range whole where cuts now say more of it than `least`, else halved."""
        return [numbers] if self.least(numbers) > least else self.halves(numbers)

    def halves(self, numbers: Numbers) -> list[Numbers]:
        """A range in two; none where it is one purchase."""
        at = widest(self.costs, numbers)
        return [] if at is None else halved(numbers, at)


def all_struck_out(purchases: Purchases, node: Node) -> bool:
    """Whether cuts strike out every cheaper purchase with no search; then the node is closed."""
    return by_totals(purchases, node, FEW_RANGES, tries=False)


def _every(node: Node) -> Numbers:
    return tuple(zip(node.box.stock_low, node.box.stock_high, strict=True))


def by_totals(purchases: Purchases, node: Node, most: int = MOST_RANGES, *, tries: bool = True) -> bool:
    """Go through all purchases that could be cheaper, cheapest first, range by range.

    Each is struck out by a cut or, where it `tries`, kept as a box to search. True when none is
    left unlooked at; then the node's `boxes` are all that is open in it. True too when out of
    work: then cuts show the node's bound for what is left. No more than `most` ranges are looked at.
    """
    search = purchases.search
    if not _may_strike(search):
        return False
    every = _every(node)
    purchases.used.clear()
    purchases.add_cut(node, every)
    # Shown by the node's own prices, for when this comes to no end.
    shown = node.bound
    queue = [(purchases.least(every), every)]
    boxes = _go_through(purchases, node, queue, most, tries=tries)
    if queue and not (tries and search.work.over()):
        node.bound = shown
        return False
    if not queue:
        node.bound = max(node.bound, _least_open(search, boxes, search.cost_to_beat()))
    for _, numbers in queue:
        purchases.hold(numbers)
    node.purchases, node.boxes = purchases.struck_by(), boxes
    return True


def _go_through(
    purchases: Purchases, node: Node, queue: list[tuple[int, Numbers]], most: int, *, tries: bool
) -> list[Node]:
    """Strike out or halve ranges, least bound first; the boxes kept. What stays in `queue` is open."""
    search, whole = purchases.search, node.part(node.box)
    boxes: list[Node] = []
    for _ in range(most):
        if not queue or search.work.over():
            break
        least, numbers = heappop(queue)
        node.bound = max(node.bound, _least_open(search, boxes, search.lift(least)))
        search.bound = max(search.bound, node.bound)
        if purchases.strikes(numbers):
            continue
        parts = purchases.parts(numbers, least)
        for part in parts:
            heappush(queue, (purchases.least(part), part))
        if not parts and not (tries and _is_known(purchases, whole, numbers, boxes)):
            heappush(queue, (least, numbers))
            break
    return boxes


def _may_strike(search: Dives) -> bool:
    """Whether there is a plan to be cheaper than, and bars that cost something."""
    return search.cost_to_beat() < EMPTY and any(kind.cost for kind in search.problem.kinds)


def _least_open(search: Dives, boxes: Sequence[Node], other: int) -> int:
    """The least bound of the boxes that may hold a cheaper plan, or the other one."""
    return min([other, *(box.bound for box in boxes if not search.beaten(box.bound))])


def _is_known(purchases: Purchases, whole: Node, numbers: Numbers, boxes: list[Node]) -> bool:
    """Whether a purchase is struck out once it was tried, or now one of the boxes; not when out of work."""
    lows, highs = zip(*numbers, strict=True)
    trial = whole.part(replace(whole.box, stock_low=lows, stock_high=highs))
    known = _try_out(purchases, trial, numbers)
    if purchases.strikes(numbers):
        return True
    if known:
        boxes.append(trial)
    return known


def _try_out(purchases: Purchases, trial: Node, numbers: Numbers) -> bool:
    """Bound one purchase, dive there, and add the cut of its prices; False when out of work."""
    search = purchases.search
    search.report()
    try:
        answer = search.generate(trial)
        open_still = not purchases.holds_too_little(trial, numbers) and not search.beaten(trial.bound)
        if answer is not None and open_still:
            search.dive(trial, answer)
        purchases.add_cut(trial, numbers)
    except OutOfWork:
        return False
    return answer is not None
