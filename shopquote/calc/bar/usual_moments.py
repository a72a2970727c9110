"""Bending moments of common bars, to find a bender's largest moment from the bars that it bends."""

from collections.abc import Mapping

from shopquote.calc.bar.grades import Grade, at_thickness
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.springback import spring_of
from shopquote.calc.units import Unit

# Bars that are commonly bent on a bench.
USUAL_BARS: dict[Unit, tuple[str, ...]] = {
    "mm": ("round 8", "round 10", "round 12", "round 16", "square 12", "flat 40 x 6", "flat 50 x 10"),
    "in": ("round 3/8", "round 1/2", "round 5/8", "square 1/2", "flat 1-1/2 x 1/4", "flat 2 x 3/8"),
}
# The plain steel that most bars are of.
USUAL_GRADE: dict[Unit, str] = {"mm": "S275", "in": "A36"}
USUAL_RADIUS = 2  # inside radius over the depth of the bar
USUAL_FRICTION_PCT = 15


def usual_moments(grades: Mapping[str, Grade], unit: Unit) -> tuple[tuple[str, float], ...]:
    """Bending moments in N m of common bars, each with its name in `unit`.

    Bent the easy way to an inside radius of twice the depth, at the greatest strength of `USUAL_GRADE` and
    with usual friction. Empty where the shop removed that grade from its list.

    >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
    >>> dict(usual_moments(STARTING_GRADES, "mm"))["round 16"]
    440.0
    """
    grade = grades.get(USUAL_GRADE[unit])
    if grade is None:
        return ()
    found = []
    for words in USUAL_BARS[unit]:
        section = parse_section(words, unit)
        bar = bend_section(section)
        strong = at_thickness(grade.at("most"), section.thickness_mm)
        moment = spring_of(bar, strong, USUAL_RADIUS * bar.depth_mm + bar.centroid_mm).moment_nmm
        found.append((words, float(f"{moment / 1000 * (1 + USUAL_FRICTION_PCT / 100):.2g}")))
    return tuple(found)
