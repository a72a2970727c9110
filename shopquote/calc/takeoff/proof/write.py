"""Write down why no plan is cheaper, so that somebody else can check it: `proof_of`.

The proof is plain JSON values: the list, the bars and the saw as given, the plan, and for each way
to give one-heat groups their heat a tree that divides all plans; each end of the tree has whole
prices of the pieces from which its bound follows. DEVELOPERS.md describes the format; `check` reads it.
"""

import hashlib
import json
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from shopquote.calc.takeoff.bars import Load
from shopquote.calc.takeoff.cut_job import PLANNING_UNIT_NM, CutJob, size_of
from shopquote.calc.takeoff.cut_plan import Piece
from shopquote.calc.takeoff.nodes import Node, Outcome
from shopquote.calc.takeoff.sheet import Sheet

if TYPE_CHECKING:  # these are loaded only where a gap is left
    from shopquote.calc.takeoff.proof.column_program import ColumnNode
    from shopquote.calc.takeoff.proof.columns import ColumnSearch
    from shopquote.calc.takeoff.proof.pattern_list import ListNode

FORMAT = 1


def proof_of(
    job: CutJob,
    wanted: Sequence[Piece],
    sheets: Sequence[Sheet],
    outcomes: Sequence[Outcome],
    plan: Sequence[Load],
    cost: int,
    bound: int,
) -> dict[str, Any]:
    """A proof that no plan costs less than the bound; both in millionths of money, or nm without prices."""
    number_of = {size: i for i, size in enumerate(job.order)}
    place_of = {id(piece): i for i, piece in enumerate(wanted)}
    bar_of = {id(bar): b for b, bar in enumerate(job.bars)}
    content = {
        "format": FORMAT,
        "units": {"length": "nm", "cost": "millionths of money" if job.priced else "nm of bar"},
        "saw": _saw(job),
        "pieces": [_piece(piece, number_of[size_of(piece, job.saw, job.unit)]) for piece in wanted],
        "bars": [
            {
                "length": bar.length.nm,
                "price": bar.cost(job.priced),
                "limit": bar.limit,
                "tolerance": bar.stock.tolerance.nm if bar.stock else 0,
                "source": list(bar.source),
                "rack": [piece.piece for piece in bar.rack],
            }
            for bar in job.bars
        ],
        "plan": [
            {"bar": bar_of[id(bar)], "count": count, "pieces": [[place_of[id(p)], n] for p, n in load]}
            for bar, count, load in plan
        ],
        "cost": cost,
        "bound": bound,
        "models": [_model(sheet, outcome) for sheet, outcome in zip(sheets, outcomes, strict=True)],
    }
    return sealed(content)


def sealed(content: dict[str, Any]) -> dict[str, Any]:
    """The content with its digest."""
    content = {key: value for key, value in content.items() if key != "digest"}
    return content | {"digest": digest_of(content)}


def digest_of(content: dict[str, Any]) -> str:
    """SHA-256 of the content, so that a changed digit shows even where it does no harm."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _saw(job: CutJob) -> dict[str, Any]:
    saw, percent = job.saw, Fraction(job.saw.keep_percent)
    return {
        "kerf": saw.kerf.nm,
        "trim": saw.trim.nm,
        "grip": saw.grip.nm,
        "keep": saw.keep_min.nm if job.credits and saw.keep_min is not None else None,
        "percent": [percent.numerator, percent.denominator],
        "nests": saw.nest_mitres,
        "mitre_step": PLANNING_UNIT_NM[job.unit],
    }


def _piece(piece: Piece, size: int) -> dict[str, Any]:
    return {
        "mark": piece.mark,
        "owner": piece.owner,
        "length": piece.length.nm,
        "count": piece.count,
        "mitres": list(piece.mitres),
        "depth": piece.depth.nm,
        "heat": piece.heat_group,
        "size": size,
    }


def _model(sheet: Sheet, outcome: Outcome) -> dict[str, Any]:
    return {
        "heats": {group: list(source) for group, source in sheet.heats.items()},
        "step": sheet.step,
        "cost_unit": sheet.cost_unit,
        "kinds": [list(way) for way in sheet.ways],
        "fine": outcome.fine,
        "tree": _tree(outcome.root),
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


def _columns(node: Node, search: "ColumnSearch") -> dict[str, Any]:
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


def _column_tree(node: "ColumnNode") -> dict[str, Any]:
    here: dict[str, Any] = {"prices": list(node.prices)}
    if not node.children or node.where is None:
        return here
    what, below = node.where
    where = {"row": what} if isinstance(what, int) else {"bar": what[0], "pieces": list(what[1])}
    less, more = (_column_tree(child) for child in node.children)
    return here | where | {"below": below, "less": less, "more": more}


def _list_tree(node: "ListNode") -> dict[str, Any]:
    here: dict[str, Any] = {"prices": list(node.prices), "rules": list(node.rule_prices)}
    if not node.children:
        return here
    here |= {"less": _list_tree(node.children[0]), "more": _list_tree(node.children[1])}
    assert node.where is not None
    if isinstance(node.where, tuple):
        return here | {"split": list(node.where)}
    return here | {"pair": [node.where.first, node.where.second, node.where.low]}
