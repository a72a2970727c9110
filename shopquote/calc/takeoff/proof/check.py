"""Check a proof without a solver and without the planner's code: `faults_of_proof`.

Why a passed proof shows that no plan costs less than its bound, which may be the plan's own cost:
- Given: the plan cuts the list as it is from the bars as they are, and costs what is said (`given`).
- Model: each way to cut a bar is a kind of the model, or one of its kinds holds as much for no more.
- Tree: each division parts all plans in two, so that every plan belongs to an end of the tree.
- Bound: at an end, prices show that every plan there costs more than the goal (`model`, `lists`,
  `patterns`). The goal is the dearest cost, of those that plans can have, that is below the bound.
Arrays hold whole numbers of 64 bits and are refused where a sum could pass that.
"""

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from shopquote.calc.takeoff.proof.given import LARGEST, Given, Refused, need
from shopquote.calc.takeoff.proof.model import NO_LEAST, Ends, Model, within
from shopquote.calc.takeoff.proof.patterns import Patterns, listed

FORMAT = 4
NOT_A_PROOF = (
    KeyError, TypeError, ValueError, IndexError, RecursionError, AttributeError, OverflowError,
    MemoryError, ZeroDivisionError,
)  # fmt: skip

# What is left in a node: ends of the rows, and patterns once they are listed; None where no plan is.
_Left = tuple[Ends, Patterns | None] | None


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
    need(proof["format"] not in range(1, FORMAT), "it was written by an earlier version; write it again")
    need(proof["format"] == FORMAT, "unknown format")
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(
        hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"],
        "the digest is not that of the content: something was changed",
    )
    proof = json.loads(text, parse_float=_refused, parse_constant=_refused)
    given = Given(proof)
    need(proof["bound"] <= proof["cost"], "the bound is above the cost")
    given.check_plan(proof["plan"], proof["cost"])
    given.check_heats(proof["models"])
    for data in proof["models"]:
        _check_tree(Model(given, data, proof["bound"]), data["tree"])


def _refused(number: str) -> None:
    """Only whole numbers are reckoned with: mitres are texts."""
    raise Refused(f"{number} is not whole")


def _check_tree(model: Model, tree: Sequence[dict[str, Any]]) -> None:
    """No plan within the goal lies in any node: it is closed, or both of its parts are."""
    waiting: list[_Left] = [(model.ends, None)]
    for node in tree:
        need(bool(waiting), "there are more nodes than parts")
        left = waiting.pop()
        for step in node["steps"]:
            left = None if left is None else _after(model, step, *left)
        if "of" not in node:
            need(left is None, "an end of the tree is open")
            continue
        for low, high in ((node["below"] + 1, LARGEST), (NO_LEAST, node["below"])):
            waiting.append(None if left is None else _part(node["of"], low, high, *left))
    need(not waiting, "a part has no node")


def _after(model: Model, step: Any, ends: Ends, patterns: Patterns | None) -> _Left:
    """What is left after a step."""
    if isinstance(step, int):
        if patterns is None:
            return None if model.gap(step, ends) < 0 else (ends, None)
        gap, reduced = patterns.gap(step, ends)
        return None if gap < 0 else (ends, patterns.narrowed(gap, reduced))
    if "list" in step:
        need(patterns is None, "a list lies below another")
        return ends, listed(model, step["list"], ends)
    need(patterns is not None, "a row of patterns comes before these are listed")
    assert patterns is not None
    patterns, ends = patterns.with_row(step, ends)
    return ends, patterns


def _part(count: Any, low: int, high: int, ends: Ends, patterns: Patterns | None) -> _Left:
    """What is left where a row is from low to high, or a pattern is cut so often."""
    if isinstance(count, list):
        need(patterns is not None, "a pattern divides no list")
        assert patterns is not None
        kind, *pattern = count
        some = patterns.cut_within(kind, pattern, low, high)
        return None if some is None else (ends, some)
    need(0 <= count < len(ends), "a row that is not there divides a node")
    inner = within(ends[count], low, high)
    return ([*ends[:count], inner, *ends[count + 1 :]], patterns) if inner[0] <= inner[1] else None
