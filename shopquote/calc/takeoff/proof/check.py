"""Check a proof without a solver and without the planner's code: `faults_of_proof`.

Why a passed proof shows that no plan costs less than its bound, which may be the plan's own cost:
- Given: the plan cuts the list as it is from the bars as they are, and costs what is said (`given`).
- Model: each way to cut a bar is a kind of the model, or one of its kinds holds as much for no more.
- Tree: each split divides all plans in two, so that every plan belongs to an end of the tree.
- Bound: at an end, prices show that every plan there costs more than the target (`model`,
  `purchases`, `lists`, `counts`). The target is the dearest cost, of those that plans can have, that
  is below the bound.
Arrays hold whole numbers of 64 bits and are refused where a sum could pass that.
"""

import hashlib
import json
from typing import Any

from shopquote.calc.takeoff.proof.given import Given, Refused, need, whole
from shopquote.calc.takeoff.proof.lists import check_counts, check_list
from shopquote.calc.takeoff.proof.model import Model, Range
from shopquote.calc.takeoff.proof.purchases import open_boxes

FORMAT = 1
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
        model = Model(given, data)
        _check_tree(model, data["tree"], model.target(bound, data["cost_unit"]))


def _check_tree(model: Model, tree: dict[str, Any], target: int) -> None:
    """Every end of the tree is closed."""
    waiting: list[tuple[dict[str, Any], Range]] = [(tree, model.whole_range())]
    while waiting:
        node, bars = waiting.pop()
        if "split" in node:
            less, more = bars.parts(node["split"])
            waiting += [(node["less"], less), (node["more"], more)]
        elif "cuts" in node:
            waiting += open_boxes(model, node, bars, target)
        elif "counts" in node:
            check_counts(model, node, bars, target)
        elif "listed" in node:
            check_list(model, node, bars, target)
        else:
            need(model.closes(model.floor(node["prices"], bars), target), "an end of the tree is open")
