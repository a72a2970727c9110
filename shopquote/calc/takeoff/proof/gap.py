"""Close the gap that dives leave: list the patterns of cheaper plans, and search the lists."""

from random import Random

from shopquote.calc.takeoff.dive import Dives
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import tidy
from shopquote.calc.takeoff.proof.corrected import corrected_plan
from shopquote.calc.takeoff.proof.list_search import ListSearch
from shopquote.calc.takeoff.proof.listing import Lister

# Where no counts of bars are left to branch on, longer lists are left for dives at random.
MOST_SEARCHED = 6_000
# Longer lists for plans up to the bound are not searched. Of six hard credited jobs, open after work worth 3
# s, 20,000 proved two and 80,000 none; not tried on fresh ones.
MOST_LISTED = 40_000
# Of lists for plans up to the bound, a cent above it, three and so on: the last one that is as short. By
# 1,000 and 4,000 these six came out the same.
MOST_SHORT = 2_000
# Nodes before the first dives by chance; twice as many each time. By 10, 40 and all at once four credited
# jobs came out the same.
FIRST_NODES = 20


class Gap:
    """Lists and their searches for one search of one problem; `whole`: it may dive by chance too."""

    def __init__(self, search: Dives, whole: bool) -> None:
        self.search, self.problem, self.work, self.whole = search, search.problem, search.work, whole
        self.dived = 0

    @property
    def _is_plain(self) -> bool:
        """Whether all bars have one length and nothing is credited."""
        kind, *more = self.problem.kinds
        return not (more or kind.credit)

    def by_lists(self, node: Node) -> bool:
        """Search a node list by list; False when even the shortest list is too long.

        Each list is complete for plans up to a cost: where none is found, all cost more. Then its
        bound is raised, and a node that is neither stuck nor beaten shall be searched again in its turn.
        Not for plain problems of one length, where all plans up to the bound cost the same.
        """
        if self.search.best is None or self._is_plain:
            return False
        if node.listed is None:
            # Its lists begin: reckon it anew.
            self.search.generate(node, whole=True)
            self._saw_anew(node)
        found: ListSearch | None = None
        nodes = FIRST_NODES
        while not self.work.over() and not self.search.beaten(node.bound):
            if found is None:
                found = self._longest_short_list(node)
            if found is not None:
                self._run(node, found, nodes)
                if self.search.beaten(node.bound) or node.bound > found.dearest():
                    return True
            if not self.whole:
                break
            if not self.dive_again(node) and found is None:
                # What lists have proven of a node is lost where it is divided.
                node.stuck = node.listed is not None
                return node.stuck
            nodes *= 2
        node.stuck = not self.search.beaten(node.bound)
        return not node.stuck or found is not None

    def _longest_short_list(self, node: Node) -> ListSearch | None:
        """A search over the longest short list of a node; None when even the shortest is too long."""
        lister, above = Lister(self.search, node), 1
        listing = longer = lister.by_bound(0, MOST_LISTED)
        while longer is not None and longer.dearest < self.search.target():
            longer = lister.by_bound(above, MOST_SHORT)
            listing, above = longer or listing, 2 * above + 1
        return None if listing is None else ListSearch(listing, self.search)

    def _run(self, node: Node, found: ListSearch, nodes: int) -> None:
        """Search so many nodes more of a list; the node keeps the search that proves most."""
        least = min(found.run(nodes), found.dearest() + self.problem.grid)
        if least > node.bound:
            node.bound, node.listed = least, found
        self.search.report()

    def list_out(self, node: Node) -> None:
        """Close a node by listing every pattern that a cheaper plan may use, and searching the list.

        Where the list is too long, dive at random instead.
        """
        search = self.search
        node.stuck = True
        if search.best is None:
            return
        search.generate(node, whole=True)
        listing = (
            None if search.beaten(node.bound) else Lister(search, node).by_directed_prices(MOST_SEARCHED)
        )
        if not search.beaten(node.bound) and not self.work.over():
            if listing is not None:
                node.listed = ListSearch(listing, search)
                # The solver is quicker than dives where the list holds a plan.
                node.listed.propose()
                node.bound = max(node.bound, min(node.listed.run(), search.cost_to_beat()))
            elif self.whole:
                self._learn()
                search.restart(node)
        node.stuck = not search.beaten(node.bound)

    def _learn(self) -> None:
        """Offer the plan of bars of one length that learn from one another."""
        # Five such plans proved nothing more of three lists of full bars, for a tenth more work.
        if self._is_plain:
            self.search.offer(tidy(self.problem, corrected_plan(self.problem, self.work)))

    def _saw_anew(self, node: Node) -> None:
        """Saw bars of the best plan anew."""
        search = self.search
        if self.whole and search.best is not None and search.credited and not search.beaten(node.bound):
            search.saw_anew(search.best, node)
            search.report()

    def dive_again(self, node: Node) -> bool:
        """Saw bars of the best plan anew, and dive by chance; whether that made it cheaper."""
        search = self.search
        if not self.whole or search.best is None or not search.credited:
            return False
        before = search.best.cost
        self._saw_anew(node)
        answer = None if self.work.over() or search.beaten(node.bound) else search.generate(node)
        if answer is not None:
            self.dived += 1
            search.dive(node, answer, Random(self.dived))
            search.report()
        return search.best.cost < before
