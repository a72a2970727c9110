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
from shopquote.calc.takeoff.problem import CutProblem
from shopquote.calc.takeoff.sheet import Sheet

if TYPE_CHECKING:  # these are loaded only where a gap is left
    from shopquote.calc.takeoff.proof.column_program import ColumnNode
    from shopquote.calc.takeoff.proof.columns import ColumnSearch
    from shopquote.calc.takeoff.proof.pattern_list import ListNode

FORMAT = 2
# Prices are told apart so much finer than the fine units of column generation.
FINER = 1 << 14


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
        "fine": outcome.fine * FINER,
        "tree": _tree(outcome.root, sheet.problem),
    }


def _finer(*prices: Sequence[int]) -> list[int]:
    """Prices of rows, counted as finely as those of counts of patterns are."""
    return [price * FINER for row in prices for price in row]


def _tree(node: Node, problem: CutProblem) -> dict[str, Any]:
    if node.purchases:
        boxes = [
            {
                "stocks": [list(ends) for ends in zip(box.box.stock_low, box.box.stock_high, strict=True)],
                "tree": _tree(box, problem),
            }
            for box in node.boxes
        ]
        return {"purchases": [_finer(prices) for prices in node.purchases], "boxes": boxes}
    if node.where is not None and node.children:
        level, at, below = node.where
        return {"row": _row(problem, level, at)} | _parts(
            below, [_tree(child, problem) for child in node.children]
        )
    if node.columns is not None:
        return _columns(node.columns)
    if node.list_root is not None:
        listed = [_finer(one.prices, one.bars) for one in node.filters]
        return {"list": listed} | _list_tree(node.list_root, problem)
    return {"prices": _finer(node.prices, node.box.prices(node.reduced, problem.stock_of))}


def _row(problem: CutProblem, level: str, at: int) -> int:
    """The row of a kind, a stock or all bars; those of the sizes come first."""
    before = {"kind": 0, "stock": len(problem.kinds), "total": len(problem.kinds) + len(problem.stock_limits)}
    return len(problem.sizes) + before[level] + at


def _parts(below: int, parts: Sequence[dict[str, Any]]) -> dict[str, Any]:
    return {"below": below, "less": parts[0], "more": parts[1]}


def _columns(search: "ColumnSearch") -> dict[str, Any]:
    rows, known = search.rows.base.shape[1], 0
    rounds: list[dict[str, Any]] = []
    # Shares of all rows that there are when a cut is made: none of those made with it.
    made = [
        {
            "shares": [*cut.shares.tolist(), *[0] * (rows + at - len(cut.shares))],
            "bounds": [[one.share, one.start, one.kind, *one.pattern] for one in cut.bounds if one.share],
        }
        for at, cut in enumerate(search.cuts)
    ]
    for prices in search.rounds:
        # As many prices as there were rows and cuts then.
        cuts = made[known : len(prices) - rows]
        known += len(cuts)
        rounds.append({"cuts": cuts, "prices": list(prices)})
    listed = [_finer(one.prices, one.bars) for one in search.listed_by]
    tree = _column_tree(search.root, rows + len(made))
    return {"list": listed, "rounds": rounds, "cuts": made[known:]} | tree


def _column_tree(node: "ColumnNode", rows: int) -> dict[str, Any]:
    here: dict[str, Any] = {"prices": [*node.prices, *[0] * (rows - len(node.prices))]}
    if not node.children or node.where is None:
        return here
    what, below = node.where
    where = {"row": what} if isinstance(what, int) else {"pattern": [what[0], *what[1]]}
    return here | where | _parts(below, [_column_tree(child, rows) for child in node.children])


def _list_tree(node: "ListNode", problem: CutProblem) -> dict[str, Any]:
    here: dict[str, Any] = {"prices": _finer(node.prices, node.bars, node.rule_prices)}
    if not node.children or node.where is None:
        return here
    parts = [_list_tree(child, problem) for child in node.children]
    if isinstance(node.where, tuple):
        level, at, below = node.where
        return here | {"row": _row(problem, level, at)} | _parts(below, parts)
    return here | {"pair": [node.where.first, node.where.second]} | _parts(node.where.low, parts)
