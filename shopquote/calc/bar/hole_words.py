"""Holes in words for papers: each kind with its letter and its marks on the straight bar.

Marks are measured from the shop's datum, as those of bends are. Begin at `told_holes`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.bend_answers import from_datum, on_piece
from shopquote.calc.bar.part_answer import HoleMark, PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import HoleSpec, PartSpec
from shopquote.calc.units import Length, Unit, show_mark


@dataclass(frozen=True, slots=True)
class ToldHole:
    """One kind of hole of a part: its letter ("" without places), its spec, its marks, these in words."""

    letter: str
    hole: HoleSpec
    marks: tuple[HoleMark, ...]
    words: str


def told_holes(part: PartSpec, answer: PartAnswer, unit: Unit) -> tuple[ToldHole, ...]:
    """The kinds of hole of a part, in the order of the job file."""
    told = []
    for kind, hole in enumerate(part.holes, start=1):
        marks = tuple(mark for mark in answer.hole_marks if mark.kind == kind)
        words = _end_words(hole, len(answer.runs)) if hole.along else _places(hole, marks, answer, unit)
        told.append(ToldHole(marks[0].letter if marks else "", hole, marks, words))
    return tuple(told)


def mark_text(mark: HoleMark, answer: PartAnswer, unit: Unit) -> str:
    """Position of a hole's mark, such as "30" or "30 / 15 across", in `unit`, which is not repeated."""
    at = _bare(on_piece(from_datum(mark.at, answer.datum, answer.cut), answer.datum, answer.cut, unit), unit)
    return f"{at} / {_bare(Length(round(mark.across_mm * 1e6)), unit)} across" if mark.across_mm else at


def _places(hole: HoleSpec, marks: Sequence[HoleMark], answer: PartAnswer, unit: Unit) -> str:
    """Marks on the straight bar; for holes to be drilled after bending, positions on the finished leg."""
    before, after = [], []
    for mark, (at, across) in zip(marks, hole.places, strict=True):
        if mark.after_bending:
            after.append(f"{at.text} / {across.text} across" if mark.across_mm and across else at.text)
        else:
            before.append(mark_text(mark, answer, unit))
    words = [f"at {', '.join(before)} {unit} from {answer.datum}"] if before else []
    if after:
        words.append(f"after bending: leg {hole.leg}, {', '.join(after)} from its start")
    return "; ".join(words)


def _end_words(hole: HoleSpec, runs: int) -> str:
    """Which end a hole along the bar is in: that of the leg it names; of two holes one in each end."""
    start, finish = drilled_ends(hole, runs)
    return "in both ends" if start and finish else "in the start end" if start else "in the finish end"


def drilled_ends(hole: HoleSpec, runs: int) -> tuple[bool, bool]:
    """Whether a hole along the bar is in the start end, and whether in the finish end."""
    both, last = hole.count > 1, hole.leg > 1 and runs > 1
    return both or not last, both or last


def _bare(length: Length, unit: Unit) -> str:
    return show_mark(length, unit).removesuffix(f" {unit}")
