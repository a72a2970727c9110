"""Write down why no plan is cheaper, so that somebody else can check it.

The certificate is plain JSON values: the problem in whole units, the plan, and a tree
that divides all plans by their numbers of bars; each end of the tree has whole prices
of the pieces from which its bound follows. `certificate_check` reads it.
"""

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from shopquote.calc.takeoff.columns import ColumnNode, ColumnSearch
from shopquote.calc.takeoff.explicit import ListNode, Rule
from shopquote.calc.takeoff.problem import Problem, Solution
from shopquote.calc.takeoff.search import Node, Outcome

FORMAT = 1


def certificate_of(
    problems: Sequence[Problem], outcomes: Sequence[Outcome], chosen: int, plan: Solution, cost_unit: int
) -> dict[str, Any]:
    """A certificate for `plan` of problem number `chosen`; the other problems are the other heats.

    Costs are in `cost_unit` millionths of money, or nanometres without prices.
    """
    content = {
        "format": FORMAT,
        "cost": plan.cost,
        "cost_unit": cost_unit,
        "chosen": chosen,
        "plan": [[kind, list(pattern), count] for kind, pattern, count in plan.bars],
        "problems": [
            _problem(problem) | {"fine": outcome.fine, "tree": _tree(outcome.root)}
            for problem, outcome in zip(problems, outcomes, strict=True)
        ],
    }
    return content | {"digest": digest_of(content)}


def digest_of(content: dict[str, Any]) -> str:
    """SHA-256 of the content, so that a changed digit shows even where it does no harm."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _problem(problem: Problem) -> dict[str, Any]:
    return {
        "sizes": list(problem.sizes),
        "demands": list(problem.demands),
        "blocks": list(problem.blocks),
        "openings": list(problem.openings),
        "kinds": [
            {
                "capacity": kind.capacity,
                "cost": kind.cost,
                "limit": kind.limit,
                "stock": kind.stock,
                "credit": [kind.credit, kind.credit_base, kind.credit_over, kind.credit_step],
                "allowed": None if kind.allowed is None else [int(may) for may in kind.allowed],
            }
            for kind in problem.kinds
        ],
    }


def _tree(node: Node) -> dict[str, Any]:
    if node.cuts:
        boxes = [
            {"stocks": [list(box.box.stock_low), list(box.box.stock_high)], "tree": _tree(box)}
            for box in node.boxes
        ]
        return {"cuts": [list(prices) for prices in node.cuts], "boxes": boxes}
    if node.where is not None and node.children:
        return {"split": list(node.where), "less": _tree(node.children[0]), "more": _tree(node.children[1])}
    if node.columns is not None:
        return _columns(node, node.columns)
    if node.list_root is not None:
        return {
            "listed": list(node.listed),
            "prices": list(node.list_prices[0]),
            "filters": [list(prices) for prices in node.list_prices[1:]],
            "tree": _list_tree(node.list_root),
        }
    return {"prices": list(node.prices)}


def _columns(node: Node, search: ColumnSearch) -> dict[str, Any]:
    cuts = [
        {
            "rows": list(cut.rows),
            "cuts": list(cut.cuts),
            "low": list(cut.low),
            "moved": [[moved.start, int(moved.down), moved.kind, *moved.pattern] for moved in cut.moved],
        }
        for cut in search.cuts
    ]
    return {
        "listed": list(node.listed),
        "prices": list(node.list_prices[0]),
        "filters": [list(prices) for prices in node.list_prices[1:]],
        "roundings": cuts,
        "rounds": [list(prices) for prices in search.rounds],
        "counts": _column_tree(search.root),
    }


def _column_tree(node: ColumnNode) -> dict[str, Any]:
    here: dict[str, Any] = {"prices": list(node.prices)}
    if not node.children or node.where is None:
        return here
    what, below = node.where
    where = {"row": what} if isinstance(what, int) else {"bar": what[0], "pieces": list(what[1])}
    less, more = (_column_tree(child) for child in node.children)
    return here | where | {"below": below, "less": less, "more": more}


def _list_tree(node: ListNode) -> dict[str, Any]:
    here: dict[str, Any] = {
        "prices": list(node.prices),
        "rules": list(node.rule_prices),
        "halves": [[price, list(cut)] for cut, price in node.cut_prices],
    }
    if not node.children:
        return here
    here |= {"less": _list_tree(node.children[0]), "more": _list_tree(node.children[1])}
    if isinstance(node.where, Rule):
        return here | {"pair": [node.where.first, node.where.second, node.where.low]}
    assert node.where is not None
    return here | {"split": list(node.where)}
