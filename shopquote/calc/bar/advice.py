"""Advice on better ways of making a part: scroll formers, mandrels for coils; given as problems to decide."""

from collections.abc import Sequence

from shopquote.calc.bar.curves import Curve
from shopquote.calc.bar.fit import Fit
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part_answer import Problem
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.springback import spring_of

# Hits of one coil above which winding on a mandrel is advised: common practice, no source.
MOST_COIL_HITS = 12


def scroll_formers(curves: Sequence[Curve], grade: Grade, say: Say) -> list[Problem]:
    """For each scroll the inside radii of a scroll former at both ends, springback allowed for."""
    found = []
    for number, curve in enumerate(curves, start=1):
        if curve.run.kind not in ("scroll", "volute") or curve.small is None:
            continue
        ends = [
            spring_of(curve.bar, grade.at("usual"), radius).held_mm - curve.bar.centroid_mm
            for radius in (curve.run.centre_mm, curve.run.centre_end_mm)
        ]
        found.append(
            Problem(
                "scroll-former",
                f"{curve.run.kind.capitalize()} {number}: {len(curve.small.angles)} small bends show as "
                "facets. A scroll former winds it smooth in one pull: make one whose bar side runs from r "
                f"{say(ends[0])} to r {say(ends[1])}, springback taken off.",
            )
        )
    return found


def coils_to_wind(curves: Sequence[Curve], fits: Sequence[Fit | None]) -> list[Problem]:
    """Advice for coils that would take more than `MOST_COIL_HITS` hits to be wound on a mandrel."""
    found = []
    for number, (curve, fit) in enumerate(zip(curves, fits, strict=True), start=1):
        if curve.run.kind == "helix" and (hits := curve.hits_of(fit)) > MOST_COIL_HITS:
            text = (
                f"Coil {number}: {hits} small bends on a bender. It is wound on a mandrel in far less: "
                "helix ... wound."
            )
            found.append(Problem("coil-to-wind", text))
    return found
