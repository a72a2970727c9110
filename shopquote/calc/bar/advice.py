"""Better ways of making a part, told as matters to decide."""

from collections.abc import Sequence

from shopquote.calc.bar.answers import Problem
from shopquote.calc.bar.curves import Curve
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.springback import spring_of


def scroll_formers(curves: Sequence[Curve], grade: Grade, say: Say) -> list[Problem]:
    """A former for each scroll: the inside radii to hold at its ends so that the scroll is left."""
    found = []
    for number, curve in enumerate(curves, start=1):
        if curve.run.kind != "scroll" or curve.small is None:
            continue
        ends = [
            spring_of(curve.bar, grade.at("usual"), radius).held_mm - curve.bar.centroid_mm
            for radius in (curve.run.centre_mm, curve.run.centre_end_mm)
        ]
        found.append(
            Problem(
                "scroll-former",
                f"Scroll {number}: {len(curve.small.angles)} small bends show as facets. A scroll former "
                f"winds it smooth in one pull: make one whose bar side runs from r {say(ends[0])} to r "
                f"{say(ends[1])}, springback taken off.",
            )
        )
    return found
