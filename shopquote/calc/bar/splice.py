"""Parts longer than a bar: into how many pieces they are parted, and where they are welded together.

Begin at `spliced`. A part that may be spliced is parted into equal pieces, so that no weld lies near an end.
"""

from math import ceil

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.part_answer import PartAnswer, Problem
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.units import Length

# The usual stock, a bar of 6 m and a sheet of 2.5 m, less 10 mm of trim and 50 that is held: common practice.
BAR, SHEET = ("6 m bar", 5940.0), ("2.5 m sheet", 2440.0)


def usual_stock(section: Section) -> tuple[str, float]:
    """What a section is sold as, and the length that it gives, mm."""
    return SHEET if section.form.by_width else BAR


def pieces_of(cut: Length, section: Section, may_splice: bool) -> tuple[Length, ...]:
    """Lengths to saw for one part, the first from its start; they add up to its own to the tenth of a mm.

    >>> from shopquote.calc.bar.sections import parse_section
    >>> [piece.mm_float for piece in pieces_of(Length.from_mm(9170), parse_section("round 12", "mm"), True)]
    [4585.0, 4585.0]
    """
    whole = usual_stock(section)[1]
    if not may_splice or cut.mm_float <= whole:
        return (cut,)
    count = ceil(cut.mm_float / whole)
    step = Length.from_mm("0.1").nm
    each = Length(ceil(cut.nm / count / step) * step)
    return (each,) * (count - 1) + (cut - Length(each.nm * (count - 1)),)


def splices(answer: PartAnswer, may_splice: bool) -> int:
    """Welds that join the pieces of one part."""
    return len(pieces_of(answer.cut, answer.section, may_splice)) - 1


def splice_problems(
    cut: Length, section: Section, may_splice: bool, runs: tuple[Run, ...], say: Say
) -> list[Problem]:
    """What a person must know of a part longer than a usual bar or sheet."""
    stock, whole = usual_stock(section)
    if cut.mm_float <= whole:
        if may_splice:
            return [Problem("splice-unused", f"it fits a {stock}, so it is cut in one piece.")]
        return []
    if not may_splice:
        return [
            Problem(
                "longer-than-bars",
                f"{say(cut.mm_float)} is more than a {stock} gives: keep longer ones, or write splice = true "
                "where a weld is allowed.",
            )
        ]
    pieces, at, found = pieces_of(cut, section, True), 0.0, []
    for piece in pieces[:-1]:
        at += piece.mm_float
        where = "in a bend; choose other legs, or weld and dress it after bending" if _bent(runs, at) else ""
        found.append(where or f"{say(at)} from the start")
    text = (
        f"sawn as {len(pieces)} pieces of {say(pieces[0].mm_float)}, welded {', '.join(found)}, then "
        "worked as one. Whether a weld is allowed there is for whoever answers for the part."
    )
    return [Problem("spliced", text)]


def _bent(runs: tuple[Run, ...], at_mm: float) -> bool:
    begins = 0.0
    for run in runs:
        if run.is_curve and begins < at_mm < begins + run.flat_mm:
            return True
        begins += run.flat_mm
    return False
