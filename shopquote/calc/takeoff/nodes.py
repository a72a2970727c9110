"""Nodes of the search's tree, and what came of a search."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import Solution
from shopquote.calc.takeoff.proof.cut_plane import CutPlane

if TYPE_CHECKING:  # loaded only where a gap is left
    from shopquote.calc.takeoff.proof.list_search import ListSearch


@dataclass(slots=True)
class Outcome:
    """Best plan, a bound that holds, and the tree that shows it."""

    solution: Solution | None
    bound: int
    root: "Node"
    fine: int


@dataclass(slots=True)
class Node:
    """A box of the tree: its bound in cost and in fine units (`fine`), by whole `prices`.

    `reduced`: the least reduced cost of each kind of bar at them. `where` it was split, into `children`; or
    the search over its list of patterns (`listed`); or the cuts that struck out `purchases`, and the
    `boxes` of those that were not.
    """

    box: Box
    bound: int
    prices: tuple[int, ...]
    reduced: tuple[int, ...] = ()
    counts: tuple[float, ...] = ()
    fine: int = 0
    stuck: bool = False
    listed: "ListSearch | None" = None
    purchases: tuple[CutPlane, ...] = ()
    boxes: list["Node"] = field(default_factory=list)
    where: tuple[str, int, int] | None = None
    children: list["Node"] = field(default_factory=list)

    def part(self, box: Box) -> "Node":
        """A node for a part of the box, with what is proven of the whole."""
        return Node(box, self.bound, self.prices, self.reduced, fine=self.fine)

    def divide(self, where: tuple[str, int, int]) -> list["Node"]:
        """The two parts that a number of bars divides it into: see `Box.split`."""
        self.where = where
        self.children = [self.part(box) for box in self.box.split(*where)]
        return self.children
