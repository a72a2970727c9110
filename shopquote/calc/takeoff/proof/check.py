"""Check a proof without a solver and without the planner's code: `faults_of_proof`.

Why a passed proof shows that no plan costs less than its bound, which may be the plan's own cost:
- Given: the plan cuts the list as it is from the bars as they are, and costs what is said (`given`).
- Model: each way to cut a bar is a kind of the model, or one of its kinds holds as much for no more.
- Tree: each split divides all plans in two, so that every plan belongs to an end of the tree.
- Bound: at an end, prices show that every plan there costs more than the target (`model`,
  `purchases`, `lists`, `patterns`). The target is the dearest cost, of those that plans can have, that
  is below the bound.
Arrays hold whole numbers of 64 bits and are refused where a sum could pass that.
"""

import hashlib
import json
from typing import Any

from shopquote.calc.takeoff.proof.given import LARGEST, Given, Refused, need, whole
from shopquote.calc.takeoff.proof.model import NO_LEAST, Ends, Model, within
from shopquote.calc.takeoff.proof.patterns import Patterns, listed
from shopquote.calc.takeoff.proof.purchases import open_boxes

FORMAT = 2
NOT_A_PROOF = (
    KeyError, TypeError, ValueError, IndexError, RecursionError, AttributeError, OverflowError,
    MemoryError, ZeroDivisionError,
)  # fmt: skip


def faults_of_proof(proof: dict[str, Any]) -> list[str]:
    """What is wrong with a proof; an empty list when it shows that no plan costs less than its bound."""
    try:
        _check(proof)
    except Refused as refused:
        return [str(refused)]
    except NOT_A_PROOF as error:
        return [f"the proof is not complete: {error!r}"]
    return []


def _check(proof: dict[str, Any]) -> None:
    need(proof["format"] != 1, "it was written by an earlier version; write it again")
    need(proof["format"] == FORMAT, "unknown format")
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(
        hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"],
        "the digest is not that of the content: something was changed",
    )
    given = Given(proof)
    cost, bound = whole([proof["cost"], proof["bound"]], 0)
    need(bound <= cost, "the bound is above the cost")
    given.check_plan(proof["plan"], cost)
    given.check_heats(proof["models"])
    for data in proof["models"]:
        _check_tree(Model(given, data, bound), data["tree"])


def _check_tree(model: Model, tree: dict[str, Any]) -> None:
    """Every end of the tree is closed: no plan within the goal lies there."""
    waiting: list[tuple[dict[str, Any], Ends, Patterns | None]] = [(tree, model.ends, None)]
    while waiting:
        node, ends, patterns = waiting.pop()
        if any(low > high for low, high in ends) or (patterns is not None and patterns.empty()):
            continue
        need(patterns is None or not {"purchases", "list"} & {*node}, "a list lies below another")
        if "purchases" in node:
            waiting += [(part, inner, None) for part, inner in open_boxes(model, node, ends)]
            continue
        if "list" in node:
            patterns = listed(model, node["list"], ends)
        if patterns is None:
            if "prices" in node and model.gap(node["prices"], ends) < 0:
                continue
        else:
            left = _left(node, ends, patterns)
            if left is None:
                continue
            ends, patterns = left
        need("less" in node, "an end of the tree is open")
        waiting += _parts(node, ends, patterns)


def _left(node: dict[str, Any], ends: Ends, patterns: Patterns) -> tuple[Ends, Patterns] | None:
    """Rows with the cuts of a node, and the patterns that its prices leave; None where no plan is left."""
    for step in (*node.get("rounds", ()), node):
        for cut in step.get("cuts", ()):
            patterns, ends = patterns.rounded(cut, ends)
        gap, reduced = patterns.gap(step["prices"], ends)
        if gap < 0:
            return None
        patterns = patterns.narrowed(gap, reduced)
    return ends, patterns


def _parts(
    node: dict[str, Any], ends: Ends, patterns: Patterns | None
) -> list[tuple[dict[str, Any], Ends, Patterns | None]]:
    """The two parts of a node: at most so many in a row or of a pattern, and more."""
    (below,) = whole([node["below"]], 0)
    at = len(ends)
    if "row" in node:
        (at,) = whole([node["row"]], 0)
    elif "pair" in node:
        need(patterns is not None, "a pair divides no list")
        assert patterns is not None
        one, other = whole(node["pair"], 0)
        # No more bars hold both than there are, and none need to.
        most = ends[len(patterns.model.ends) - 1][1]
        patterns, ends = patterns.with_pair(one, other), [*ends, (0, most)]
    parts: list[tuple[dict[str, Any], Ends, Patterns | None]] = []
    for side, low, high in (("less", NO_LEAST, below), ("more", below + 1, LARGEST)):
        if "pattern" not in node:
            parts.append((node[side], [*ends[:at], within(ends[at], low, high), *ends[at + 1 :]], patterns))
            continue
        need(patterns is not None, "a pattern divides no list")
        assert patterns is not None
        kind, *pattern = whole(node["pattern"], 0)
        some = patterns.cut_within(kind, pattern, low, high)
        if some is not None:
            parts.append((node[side], ends, some))
    return parts
