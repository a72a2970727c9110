"""Write down why no plan is cheaper, so that somebody else can check it: `proof_of`.

The proof is plain JSON values: the list, the bars and the saw as given, the plan, and for each way
to give one-heat groups their heat a tree that divides all plans (`write_tree`); each end of the tree has
whole prices of the pieces from which its bound follows. DEVELOPERS.md describes the format; `check` reads it.
"""

import hashlib
import json
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from shopquote.calc.takeoff.bars import Load
from shopquote.calc.takeoff.best import FINER
from shopquote.calc.takeoff.cut_job import PLANNING_UNIT_NM, CutJob, size_of
from shopquote.calc.takeoff.cut_plan import Piece
from shopquote.calc.takeoff.nodes import Outcome
from shopquote.calc.takeoff.proof.write_tree import WrittenTree
from shopquote.calc.takeoff.sheet import Sheet

FORMAT = 4


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
    # Sizes are numbered as they come first.
    pieces = sorted(wanted, key=lambda piece: number_of[size_of(piece, job.saw, job.unit)])
    place_of = {id(piece): i for i, piece in enumerate(pieces)}
    bar_of = {id(bar): b for b, bar in enumerate(job.bars)}
    content = {
        "format": FORMAT,
        "units": {"length": "nm", "cost": "millionths of money" if job.priced else "nm of bar"},
        "saw": _saw(job),
        "pieces": [_piece(piece) for piece in pieces],
        "bars": [
            {
                "length": bar.length.nm,
                "price": bar.cost(job.priced),
                "limit": bar.limit,
                "tolerance": bar.stock.tolerance.nm if bar.stock else 0,
                "source": " ".join(bar.source),
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
        "models": [_model(sheet, outcome, bound) for sheet, outcome in zip(sheets, outcomes, strict=True)],
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


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "mark": piece.mark,
        "owner": piece.owner,
        "length": piece.length.nm,
        "count": piece.count,
        "mitres": [str(mitre) for mitre in piece.mitres],
        "depth": piece.depth.nm,
        "heat": piece.heat_group,
    }


def _model(sheet: Sheet, outcome: Outcome, bound: int) -> dict[str, Any]:
    written = WrittenTree(sheet.problem, outcome, -(-bound // sheet.cost_unit))
    return {
        "heats": {group: " ".join(source) for group, source in sheet.heats.items()},
        "step": sheet.step,
        "cost_unit": sheet.cost_unit,
        "kinds": [list(way) for way in sheet.ways],
        "fine": outcome.fine * FINER,
        "prices": written.prices,
        "tree": written.nodes,
    }
