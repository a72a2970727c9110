"""Find the cheapest plan and prove it: column generation, dives, branching on numbers of bars.

The linear program advises; bounds are worked out in whole numbers (`bounds`), so that each can be
checked without a solver. Where a gap is left, `proof.gap` lists patterns and searches over the lists.
"""

import heapq
from functools import cached_property
from math import floor
from typing import TYPE_CHECKING

from shopquote.calc.takeoff.best import Progress
from shopquote.calc.takeoff.dive import TAIL_WORK, Dives
from shopquote.calc.takeoff.greedy import greedy_plan
from shopquote.calc.takeoff.master import Box, fractional
from shopquote.calc.takeoff.nodes import Node, Outcome
from shopquote.calc.takeoff.problem import CutProblem, Solution
from shopquote.calc.takeoff.work import OutOfWork, Work

if TYPE_CHECKING:
    from shopquote.calc.takeoff.proof.gap import Gap
    from shopquote.calc.takeoff.proof.totals import Purchases

# Of more stocks (each rack bar is one) purchases are looked at once, not for every plan. By 50 and 200 six
# jobs with 70 or 140 rack bars came out the same, for 1 % more and 11 % less work.
MOST_STOCKS = 100
# Of more lengths than this no plan is filled anew where the cost of one is known. Without any limit two lists
# of 800 lengths and 14 jobs came out the same; filling none anew took 2 % more work of six plain jobs.
MOST_FILLED_AGAIN = 400


class Search(Dives):
    """One run over one problem."""

    def __init__(
        self,
        problem: CutProblem,
        work: Work,
        progress: Progress | None = None,
        *,
        known: int | None = None,
        whole: bool = True,
        most_nodes: int = 1 << 40,
    ) -> None:
        super().__init__(problem, work, progress, known)
        self.whole = whole
        self.most_nodes = most_nodes
        self.closed: list[Node] = []
        # Nodes that were queued; tells those of equal bounds apart.
        self._serial = 0
        # The node of which purchases are looked at for each cheaper plan: the root, in most searches.
        self._counted: Node | None = None
        # The cost of the best plan and the prices when purchases were last looked at.
        self._looked: tuple[int, tuple[int, ...]] | None = None

    @cached_property
    def gap(self) -> "Gap":
        """What closes the gap that is left; loaded only then."""
        from shopquote.calc.takeoff.proof.gap import Gap

        return Gap(self, self.whole)

    @cached_property
    def purchases(self) -> "Purchases":
        """What bars are bought, and the cuts that strike purchases out; loaded only then."""
        from shopquote.calc.takeoff.proof.totals import Purchases

        return Purchases(self)

    def solve_part(self, part: CutProblem, known: int) -> Solution | None:
        """Search a part as a problem of its own, for a short while."""
        return Search(part, self.work.part(TAIL_WORK), known=known, whole=False).run().solution

    def run(self) -> Outcome:
        """Search until proven or out of time."""
        problem = self.problem
        if self.known is None or len(problem.demands) <= MOST_FILLED_AGAIN:
            self.offer(greedy_plan(problem, self.work))
        costs = tuple(kind.cost * self.fine for kind in problem.kinds)
        root = Node(Box.whole(problem), 0, (0,) * len(problem.demands), costs)
        queue: list[tuple[int, int, Node]] = [(0, 0, root)]
        # One stock is bound by its number of bars, and credit pays for what is left: there purchases are
        # struck out only where the best plan of the linear program leaves a gap.
        if self.whole and 1 < len(problem.stock_limits) <= MOST_STOCKS and not self.credited:
            self._counted = root
        try:
            if self.by_length(root) or self.is_closed(root):
                return Outcome(self.best, self.cost_to_beat(), root, self.fine)
            self.bound = root.bound
            self.report()
            self.start()
            self.branch(queue)
            if self.whole:
                self.dive_and_try_again(queue)
        except OutOfWork:
            pass
        # Closed nodes too: one that ran out of work is closed with what was proven of it.
        open_bounds = [node.bound for node in self.closed] + [node.bound for _, _, node in queue]
        bound = min(open_bounds, default=self.bound)
        if self.beaten(bound):
            bound = self.cost_to_beat()
        return Outcome(self.best, bound, root, self.fine)

    def branch(self, queue: list[tuple[int, int, Node]]) -> None:
        """Best first over the queue; what is still open stays in it."""
        visited = 0
        while queue and visited < self.most_nodes:
            self.work.check()
            bound, _, node = queue[0]
            self.bound = max(self.bound, min(bound, self._least_stuck()))
            # A node that was open when it came in may be beaten by a plan found since.
            children = [] if self.beaten(node.bound) else self._visit(node, visited)
            visited += 1
            heapq.heappop(queue)
            if not children:
                self.closed.append(node)
            for child in children:
                # Deeper nodes have better plans near.
                self._queued(queue, child)

    def _queued(self, queue: list[tuple[int, int, Node]], node: Node) -> None:
        """Put a node into the queue; of equal bounds the newest comes first."""
        self._serial += 1
        heapq.heappush(queue, (node.bound, -self._serial, node))

    def _visit(self, node: Node, visited: int) -> list[Node]:
        """Bound a node, dive from it, and divide it; no children when it is closed or searched to its end.

        A node that lists have proven more of is not divided any more, since its parts would not show that.
        """
        if node.listed is not None:
            self.gap.by_lists(node)
            return self._in_its_turn(node)
        answer = self.generate(node)
        self.report()
        if self.beaten(node.bound):
            return []
        if answer is None:
            raise OutOfWork
        if not visited and self.is_closed(node):
            return []
        where = self._split(node)
        # From every fifth node too, seven jobs came out the same.
        if where is None or not visited:
            self.dive(node, answer)
            if self.beaten(node.bound):
                return []
        # Only at the root: where few purchases could be cheaper, each is its own small problem.
        if where is not None and not visited and self.by_totals(node):
            return [] if self.work.over() else node.boxes
        return self._divided(node, where)

    def _in_its_turn(self, node: Node) -> list[Node]:
        """A node whose lists were searched: itself, to be searched on, unless nothing is left of it."""
        return [] if node.stuck or self.beaten(node.bound) else [node]

    def _divided(self, node: Node, where: tuple[str, int, int] | None) -> list[Node]:
        """A node in parts: by its kept bars, else searched by lists, else at `where`."""
        kept = self._split_kept(node)
        # Kept bars first: where the list was tried before, 6 of 50 jobs lost their proof and 2 won one,
        # and the largest gap grew from 0.009 to 0.071 %.
        if kept is None and self.gap.by_lists(node):
            return self._in_its_turn(node)
        where = kept or where
        return self._listed_out(node) if where is None else node.divide(where)

    def _listed_out(self, node: Node) -> list[Node]:
        """What is left to visit of a node without counts to divide it by, once its list was searched."""
        most = self._most_bars()
        if most >= node.box.total_high:
            self.gap.list_out(node)
            return []
        # More bars cost too much; with no more than these, lists are far shorter.
        fewer, more = node.divide(("total", 0, most))
        self.gap.list_out(fewer)
        self.closed.append(fewer)
        return [more]

    def is_closed(self, node: Node) -> bool:
        """Whether nothing cheaper is left in a node, by its bound or since each purchase is struck out."""
        looked = self.cost_to_beat(), node.prices
        if self.beaten(node.bound) or node is not self._counted or looked == self._looked:
            return self.beaten(node.bound)
        from shopquote.calc.takeoff.proof.totals import all_struck_out

        self._looked = looked
        return all_struck_out(self.purchases, node)

    def by_totals(self, node: Node) -> bool:
        """Go through all purchases that could be cheaper; see `proof.totals`."""
        from shopquote.calc.takeoff.proof.totals import by_totals

        return by_totals(self.purchases, node)

    def _least_stuck(self) -> int:
        return min((node.bound for node in self.closed if node.stuck), default=1 << 200)

    def _split(self, node: Node) -> tuple[str, int, int] | None:
        return fractional(self.problem, node.box, node.counts) if node.counts else None

    def _split_kept(self, node: Node) -> tuple[str, int, int] | None:
        """A kind of kept bars of which a node's linear program takes a part: no plan keeps part of a rest."""
        if not self.whole or not node.counts:
            return None
        kept = [k for k, kind in enumerate(self.problem.kinds) if kind.credit]
        parts = {k: abs(node.counts[k] - round(node.counts[k])) for k in kept}
        at = max(kept, key=lambda k: parts[k], default=None)
        return None if at is None or parts[at] <= 1e-6 else ("kind", at, floor(node.counts[at]))

    def _most_bars(self) -> int:
        """How many bars a cheaper plan has at most: told by their cost where all cost the same."""
        costs = {kind.cost for kind in self.problem.kinds}
        known = len(costs) == 1 and min(costs) > 0 and not self.credited
        return self.target() // min(costs) if known else self.problem.pieces

    def dive_and_try_again(self, queue: list[tuple[int, int, Node]]) -> None:
        """Dive by chance while there is time; go back to open nodes when it got cheaper."""
        while not self.work.over():
            stuck = [node for node in self.closed if not self.beaten(node.bound)]
            if not stuck or self.best is None or not self.credited:
                return
            least = min(stuck, key=lambda node: node.bound)
            if not self.gap.dive_again(least):
                continue
            self.closed = [node for node in self.closed if self.beaten(node.bound)]
            for node in stuck:
                if self.beaten(node.bound):
                    self.closed.append(node)
                    continue
                node.stuck = False
                self._queued(queue, node)
            self.branch(queue)
