"""Nodes of the search's tree, and what came of a search."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import Solution

if TYPE_CHECKING:
    from shopquote.calc.takeoff.proof.columns import ColumnSearch
    from shopquote.calc.takeoff.proof.pattern_list import ListNode


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

    `where` it was split, into `children`; or the kinds that were `listed` by all of
    `list_prices`, and the search over that list: from `list_root`, or by `columns`.
    """

    box: Box
    bound: int
    prices: tuple[int, ...]
    counts: tuple[float, ...] = ()
    fine: int = 0
    stuck: bool = False
    listed: tuple[int, ...] = ()
    list_prices: tuple[tuple[int, ...], ...] = ()
    list_root: "ListNode | None" = None
    columns: "ColumnSearch | None" = None
    cuts: tuple[tuple[int, ...], ...] = ()
    boxes: list["Node"] = field(default_factory=list)
    where: tuple[str, int, int] | None = None
    children: list["Node"] = field(default_factory=list)
