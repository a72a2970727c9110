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

from shopquote.calc.takeoff.proof.given import LARGEST, Given, Refused, check_numbers, need
from shopquote.calc.takeoff.proof.model import NO_LEAST, Ends, Model, within
from shopquote.calc.takeoff.proof.patterns import Patterns, listed

FORMAT = 3
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
    need(proof["format"] not in (1, 2), "it was written by an earlier version; write it again")
    need(proof["format"] == FORMAT, "unknown format")
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(
        hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"],
        "the digest is not that of the content: something was changed",
    )
    check_numbers(content | {"models": []}, 0)
    check_numbers(proof["models"])
    given = Given(proof)
    need(proof["bound"] <= proof["cost"], "the bound is above the cost")
    given.check_plan(proof["plan"], proof["cost"])
    given.check_heats(proof["models"])
    for data in proof["models"]:
        _check_tree(Model(given, data, proof["bound"]), data["tree"])


def _check_tree(model: Model, tree: Sequence[dict[str, Any]]) -> None:
    """No plan within the goal lies in any node: it is closed, or both of its parts are."""
    waiting: list[tuple[int, Ends, Patterns | None]] = [(0, model.ends, None)]
    seen: set[int] = set()
    while waiting:
        at, ends, patterns = waiting.pop()
        # Else a short list of nodes could stand for more parts than can be gone through.
        need(at not in seen, "a node is a part of two")
        seen.add(at)
        if any(low > high for low, high in ends) or (patterns is not None and patterns.empty()):
            continue
        node, left = tree[at], _left(model, tree[at].get("steps", ()), ends, patterns)
        if left is None:
            continue
        ends, patterns = left
        need("of" in node, "an end of the tree is open")
        for side, low, high in (("less", NO_LEAST, node["below"]), ("more", node["below"] + 1, LARGEST)):
            need(node[side] > at, "a node comes before the one that it is a part of")
            part = _part(node["of"], low, high, ends, patterns)
            if part is not None:
                waiting.append((node[side], *part))


def _left(
    model: Model, steps: Sequence[Any], ends: Ends, patterns: Patterns | None
) -> tuple[Ends, Patterns | None] | None:
    """Ends of the rows and patterns after the steps of a node; None where no plan within the goal is left."""
    for step in steps:
        if isinstance(step, int):
            if patterns is None:
                closed = model.gap(step, ends) < 0
            else:
                gap, reduced = patterns.gap(step, ends)
                closed = gap < 0
                patterns = patterns if closed else patterns.narrowed(gap, reduced)
            if closed:
                return None
        elif "list" in step:
            need(patterns is None, "a list lies below another")
            patterns = listed(model, step["list"], ends)
        else:
            need(patterns is not None, "a row of patterns comes before these are listed")
            assert patterns is not None
            patterns, ends = patterns.with_row(step, ends)
    return ends, patterns


def _part(
    count: Any, low: int, high: int, ends: Ends, patterns: Patterns | None
) -> tuple[Ends, Patterns | None] | None:
    """Ends and patterns where a row is from low to high, or a pattern is cut so often; None: nowhere."""
    if isinstance(count, list):
        need(patterns is not None, "a pattern divides no list")
        assert patterns is not None
        kind, *pattern = count
        some = patterns.cut_within(kind, pattern, low, high)
        return None if some is None else (ends, some)
    need(0 <= count < len(ends), "a row that is not there divides a node")
    return [*ends[:count], within(ends[count], low, high), *ends[count + 1 :]], patterns
