"""Write a search's tree as nodes and sets of prices, each named by its number: `WrittenTree`."""

from collections.abc import Callable, Sequence
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

from shopquote.calc.takeoff.best import FINER
from shopquote.calc.takeoff.nodes import Node, Outcome
from shopquote.calc.takeoff.problem import CutProblem
from shopquote.calc.takeoff.proof.cut_plane import Numbers, halved, widest

if TYPE_CHECKING:  # these are loaded only where a gap is left
    from shopquote.calc.takeoff.proof.list_program import ListNode
    from shopquote.calc.takeoff.proof.list_search import ListSearch
    from shopquote.calc.takeoff.proof.roundings import RoundingCut

# A node as it is written, and the two parts of it that are still to be.
_Written = tuple[dict[str, Any], Sequence[Callable[[], Any]]]


class WrittenTree:
    """`nodes` from the root on, each before its parts, and the `prices` that they name."""

    def __init__(self, problem: CutProblem, outcome: Outcome, bound: int) -> None:
        # Costs of plans lie on the grid: one as dear as the bound is not to be ruled out.
        self.problem, self.goal = problem, (problem.on_grid(bound) - problem.grid) * outcome.fine
        self.prices: list[list[int]] = []
        self.nodes: list[dict[str, Any]] = []
        self._numbers: dict[tuple[int, ...], int] = {}
        # No recursion: branches may be deep.
        waiting: list[Callable[[], _Written]] = [partial(self._node, outcome.root)]
        while waiting:
            node, parts = waiting.pop()()
            self.nodes.append(node)
            waiting += reversed(parts)

    def _number(self, prices: Sequence[int]) -> int:
        """The number of a set of prices; those of the last rows that are 0 go without saying."""
        last = len(prices)
        while last and not prices[last - 1]:
            last -= 1
        key = tuple(prices[:last])
        if key not in self._numbers:
            self._numbers[key] = len(self.prices)
            self.prices.append(list(key))
        return self._numbers[key]

    def _finer(self, *rows: Sequence[int]) -> int:
        """Prices counted as finely as those of counts of patterns are."""
        return self._number([price * FINER for row in rows for price in row])

    def _row(self, level: str, at: int) -> int:
        """The row of a kind, a stock or all bars; those of the sizes come first."""
        problem = self.problem
        before = {
            "kind": 0,
            "stock": len(problem.kinds),
            "total": len(problem.kinds) + len(problem.stock_limits),
        }
        return len(problem.sizes) + before[level] + at

    def _node(self, node: Node) -> _Written:
        if node.purchases:
            every = tuple(zip(node.box.stock_low, node.box.stock_high, strict=True))
            return self._range(node, every)
        if node.where is not None and node.children:
            level, at, below = node.where
            parts = [partial(self._node, child) for child in node.children]
            return {"steps": [], "of": self._row(level, at), "below": below}, parts
        if node.listed is not None:
            return self._listed(node.listed)
        bars = node.box.prices(node.reduced, self.problem.stock_of)
        return {"steps": [self._finer(node.prices, bars)]}, []

    def _range(self, node: Node, numbers: Numbers) -> _Written:
        """Ranges of purchases: halved until each is struck out as a whole, or searched as a box."""
        struck = next((cut for cut in node.purchases if cut.least(numbers) > self.goal), None)
        if struck is not None:
            kinds = [0] * len(self.problem.kinds)
            return {"steps": [self._finer(struck.prices, kinds, struck.bars)]}, []
        for box in node.boxes:
            ends = zip(box.box.stock_low, box.box.stock_high, strict=True)
            if all(a <= low and high <= b for (a, b), (low, high) in zip(ends, numbers, strict=True)):
                return self._node(box)
        at = widest(self._stock_costs, numbers)
        if at is None:
            return {"steps": []}, []
        parts = halved(numbers, at)
        where = {"steps": [], "of": self._row("stock", at), "below": parts[0][at][1]}
        return where, [partial(self._range, node, part) for part in parts]

    @cached_property
    def _stock_costs(self) -> list[int]:
        kinds = self.problem.kinds
        return [min(k.cost for k in kinds if k.stock == s) for s in range(len(self.problem.stock_limits))]

    def _listed(self, search: "ListSearch") -> _Written:
        rows = WrittenRows(len(search.listed.least), self.problem.pieces)
        steps: list[Any] = [{"list": [self._finer(one.prices, one.bars) for one in search.listing.filters]}]
        for prices in search.rounds:
            # As many prices as there were rows and cuts then.
            for cut in search.cuts[len(rows.cuts) : len(prices) - rows.base]:
                steps += rows.add(cut)
            steps.append(self._number(rows.spread(prices)))
        for cut in search.cuts[len(rows.cuts) :]:
            steps += rows.add(cut)
        return self._list_node(search, rows, steps, search.root)

    def _list_node(
        self, search: "ListSearch", rows: "WrittenRows", steps: list[Any], node: "ListNode"
    ) -> _Written:
        of_pairs = node.prices[rows.base + len(rows.cuts) :]
        here: dict[str, Any] = {"steps": [*steps, self._number([*rows.spread(node.prices), *of_pairs])]}
        where, listed = node.where, search.listed
        if not node.children or where is None:
            return here, []
        parts = [partial(self._list_node, search, rows, [], child) for child in node.children]
        if where.what == "pair":
            here["steps"].append({"pair": list(where.pair)})
            of: Any = rows.number + len(node.pairs)
        elif where.what == "row":
            of = where.at
        else:
            of = [int(listed.kinds[where.at]), *listed.pattern(where.at)]
        return here | {"of": of, "below": where.below}, parts


class WrittenRows:
    """The rows of a list: those of before, then cuts, and each count that a cut takes before the first."""

    def __init__(self, base: int, pieces: int) -> None:
        self.base, self.pieces, self.number = base, pieces, base
        # Numbers of the rows of cuts, and of counts by pattern and ends.
        self.cuts: list[int] = []
        self.counts: dict[tuple[Any, ...], int] = {}

    def spread(self, values: Sequence[int]) -> list[int]:
        """Values of rows and cuts, by the number of the row."""
        found = [*values[: self.base], *[0] * (self.number - self.base)]
        for at, value in zip(self.cuts, values[self.base :], strict=False):
            found[at] = value
        return found

    def add(self, cut: "RoundingCut") -> list[dict[str, Any]]:
        """The rows of the counts that a cut takes, and its own."""
        steps: list[dict[str, Any]] = []
        taken: dict[int, int] = {}
        for one in cut.bounds:
            ends = (0, one.start) if one.down else (one.start, max(self.pieces, one.start + 1))
            key = (one.kind, *one.pattern, ends)
            if one.share and key not in self.counts:
                self.counts[key] = self.number
                steps.append({"pattern": [one.kind, *one.pattern], "ends": list(ends)})
                self.number += 1
            if one.share:
                taken[self.counts[key]] = one.share
        shares = self.spread(cut.shares.tolist())
        for at, share in taken.items():
            shares[at] = share
        self.cuts.append(self.number)
        self.number += 1
        return [*steps, {"shares": shares}]
