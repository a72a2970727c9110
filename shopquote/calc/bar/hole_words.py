"""Holes as papers tell them: each kind with its letter, its marks on the straight bar, its end.

Marks count from the shop's datum, as those of the bends do. Begin at `told_holes`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.bend_answers import from_datum, on_piece
from shopquote.calc.bar.part_answer import HoleMark, PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import HoleSpec, PartSpec
from shopquote.calc.units import Length, Unit, show_mark


@dataclass(frozen=True, slots=True)
class ToldHole:
    """One kind of hole of a part: its letter ('' without places), its row, its marks in words."""

    letter: str
    hole: HoleSpec
    marks: tuple[HoleMark, ...]
    words: str


def told_holes(part: PartSpec, answer: PartAnswer, unit: Unit) -> tuple[ToldHole, ...]:
    """Every kind of hole of a part, in the order of its rows."""
    told = []
    for kind, hole in enumerate(part.holes, start=1):
        marks = tuple(mark for mark in answer.hole_marks if mark.kind == kind)
        words = _end_words(hole, len(answer.runs)) if hole.along else _places(hole, marks, answer, unit)
        told.append(ToldHole(marks[0].letter if marks else "", hole, marks, words))
    return tuple(told)


def mark_text(mark: HoleMark, answer: PartAnswer, unit: Unit) -> str:
    """Where a hole is marked, such as "30", or "30 / 15 across", in the unit that the heading names."""
    at = _bare(on_piece(from_datum(mark.at, answer.datum, answer.cut), answer.datum, answer.cut, unit), unit)
    return f"{at} / {_bare(Length(round(mark.across_mm * 1e6)), unit)} across" if mark.across_mm else at


def _places(hole: HoleSpec, marks: Sequence[HoleMark], answer: PartAnswer, unit: Unit) -> str:
    """Marks on the straight bar; of those to drill after bending, places on the finished leg."""
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
    """In which end a hole along the bar is: the leg that it names says it, two go into both."""
    start, finish = drilled_ends(hole, runs)
    return "in both ends" if start and finish else "in the start end" if start else "in the finish end"


def drilled_ends(hole: HoleSpec, runs: int) -> tuple[bool, bool]:
    """Whether a hole along the bar goes into its start end, and into its finish end."""
    both, last = hole.count > 1, hole.leg > 1 and runs > 1
    return both or not last, both or last


def _bare(length: Length, unit: Unit) -> str:
    return show_mark(length, unit).removesuffix(f" {unit}")
