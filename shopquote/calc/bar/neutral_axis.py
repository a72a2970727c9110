"""The k-factor of a bend, by rule or from the shop's own bend tests.

K is the depth of the neutral axis from the inner face over T, the size in the plane of the bend. Begin at
`k_of_bend`; each rule is a function named after its source.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import log10, radians, sqrt, tan

from shopquote.calc.bar.benders import BendingShop, BendTest, KRule, NeutralAxisRule
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError, counted

_STEELS = ("mild", "high-strength", "alloy", "tool", "stainless")

# A test counts for bends on its own former, or at a radius within this share of it.
SAME_RADIUS = 0.02


@dataclass(frozen=True, slots=True)
class KAnswer:
    """The K of one bend, its rule and source; of measured ones the standard deviation and number of tests."""

    k: float
    rule: NeutralAxisRule
    source: str
    spread: float = 0.0
    tests: int = 0


def two_step_k(radius_mm: float, depth_mm: float) -> float:
    """K 0.33 below an inside radius of 2T, 0.5 from there on.

    Source: Kalpakjian and Schmid, Manufacturing Engineering and Technology, SI 6th
    ed., by eq. 16.2 and table 16.3.

    >>> two_step_k(10, 10), two_step_k(20, 10)
    (0.33, 0.5)
    """
    return 0.33 if radius_mm < 2 * depth_mm else 0.5


def din_6935_k(radius_mm: float, depth_mm: float) -> float:
    """K of flat steel by DIN 6935: half of k = 0.65 + 0.5 log10(r/s), k at most 1.

    Good for r/s from 0.1; the k of the standard multiplies s/2, not s.

    Raises:
        CannotMakeError: the radius is under a tenth of the thickness.

    Source: DIN 6935:2011, as the notes of two public programs and excelution.at/2019/08 quote it.

    >>> round(din_6935_k(4, 2), 5)
    0.40026
    """
    ratio = radius_mm / depth_mm
    if ratio < 0.1:
        raise CannotMakeError(f"Inside radius is {ratio:.3f} of the thickness; DIN 6935 serves from 0.1 on.")
    return min(1.0, 0.65 + 0.5 * log10(ratio)) / 2


def setback_mm(angle: float, radius_mm: float, beyond_mm: float) -> float:
    """Setback in mm: the part of a leg's measured length beyond its tangent point.

    The leg is measured `beyond_mm` outside the inner face: T for outside dims, 0 for inside, T/2 for centre.
    Up to 90 degrees it is measured to the corner: tan(A/2) (R + beyond); above 90 to the outermost tangent: R
    + beyond.

    Source: geometry; the change at 90 degrees is DIN 6935's: a drawing program's help on bend calculation
    tables (c_bend_calculation_tables.htm) measures to the tangent at opening angles to 90 and to the corner
    above, and hausjournal.net/flachstahl-biegen-berechnen says that the sums change there.

    >>> round(setback_mm(45, 25, 12), 3), setback_mm(180, 25, 12)
    (15.326, 37.0)
    """
    turned = abs(angle)
    factor = tan(radians(turned) / 2) if turned <= 90 else 1.0
    return factor * (radius_mm + beyond_mm)


def measured_beyond_mm(dims: Dims, depth_mm: float, centroid_mm: float) -> float | None:
    """Distance in mm outside the inner face at which a leg is measured; None if to the tangent point."""
    if dims == "tangent":
        return None
    return {"outside": depth_mm, "inside": 0.0, "centre": centroid_mm}[dims]


def measured_k(test: BendTest) -> float:
    """The K of one test piece, from its flat length and the legs after bending.

    flat = (leg 1 - setback) + (leg 2 - setback) + A (R + K T), legs measured outside.

    Raises:
        InputError: the test lacks a length, or its K is outside 0 to 1.
    """
    if test.flat_length is None or test.leg_1 is None or test.leg_2 is None:
        raise InputError(f"Bend test of {test.made_on}: a K needs the flat length and both legs.")
    depth = test.section.depth_mm(test.bend_axis)
    radius = (test.inside_radius or test.former_radius).mm_float
    setback = setback_mm(test.angle, radius, depth)
    straights = test.leg_1.mm_float + test.leg_2.mm_float - 2 * setback
    arc = test.flat_length.mm_float - straights
    k = (arc / radians(abs(test.angle)) - radius) / depth
    if not 0 <= k <= 1:
        raise InputError(
            f"Bend test of {test.made_on} on {test.section.words} gives K {k:.3f}; it must lie from 0 to 1.",
            hint="Measure both legs outside, to the corner (beyond 90 degrees to the outermost face).",
        )
    return k


def mean_and_spread(values: Sequence[float]) -> tuple[float, float]:
    """Mean and sample standard deviation (0 for one value).

    >>> mean_and_spread([0.4, 0.5])
    (0.45, 0.07071067811865474)
    """
    mean = sum(values) / len(values)
    if len(values) < 2:
        return mean, 0.0
    return mean, sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))


def tests_for(
    tests: Sequence[BendTest], section: Section, grade: Grade, axis: BendAxis, radius: Length
) -> tuple[BendTest, ...]:
    """The shop's bend tests of this bar and grade on this former, or one within `SAME_RADIUS` of it."""
    return tuple(
        test
        for test in tests
        if test.section == section
        and test.grade == grade.name
        and (test.bend_axis == axis or not section.has_axes)
        and _near(test, radius)
    )


def _near(test: BendTest, radius: Length) -> bool:
    allowed = SAME_RADIUS * radius.nm
    made = test.inside_radius or test.former_radius
    return abs(test.former_radius.nm - radius.nm) <= allowed or abs(made.nm - radius.nm) <= allowed


def usual_rule(section: Section, grade: Grade, axis: BendAxis) -> NeutralAxisRule:
    """The rule used where the shop has chosen none.

    Round, square, hex and hollow bar and anything on edge: centreline; flat steel the easy way: DIN 6935;
    other flats the easy way: two-step K. Common practice, no source.
    """
    if not section.form.sheet_like or axis == "hard":
        return "centreline"
    return "DIN 6935" if grade.family in _STEELS else "two-step K"


def k_of_bend(section: Section, grade: Grade, axis: BendAxis, radius: Length, shop: BendingShop) -> KAnswer:
    """K of one bend: by the shop's chosen rule, else its own tests, else the usual rule.

    Of several chosen rules the one that names most of grade, family, section and former counts.
    """
    rule = _chosen_rule(section, grade, radius, shop.k_rules)
    if rule is None or rule.rule == "measured K":
        tests = [
            test
            for test in tests_for(shop.bend_tests, section, grade, axis, radius)
            if test.flat_length is not None and test.leg_1 is not None and test.leg_2 is not None
        ]
        if tests:
            mean, spread = mean_and_spread([measured_k(test) for test in tests])
            newest = max(test.made_on for test in tests)
            count = counted(len(tests), "test piece")
            return KAnswer(
                mean, "measured K", f"the shop's own: {count}, newest {newest}", spread, len(tests)
            )
        rule = None
    if rule is None:
        return _by_rule(usual_rule(section, grade, axis), 0.5, "", section, axis, radius)
    return _by_rule(rule.rule, rule.k, rule.source, section, axis, radius)


def _chosen_rule(section: Section, grade: Grade, radius: Length, rules: Sequence[KRule]) -> KRule | None:
    fitting = [
        rule
        for rule in rules
        if rule.grade in ("", grade.name)
        and rule.family in ("", grade.family)
        and rule.section_kind in ("", section.kind)
        and (rule.former_radius is None or abs(rule.former_radius.nm - radius.nm) <= SAME_RADIUS * radius.nm)
    ]
    return max(fitting, key=_how_much_named, default=None)


def _how_much_named(rule: KRule) -> int:
    # Powers of two: a former that is named outweighs all the other fields together, and so on down.
    named = 8 * bool(rule.former_radius) + 4 * bool(rule.grade) + 2 * bool(rule.section_kind)
    return named + bool(rule.family)


@lru_cache(maxsize=4096)
def _by_rule(
    rule: NeutralAxisRule, k: float, source: str, section: Section, axis: BendAxis, radius: Length
) -> KAnswer:
    depth = section.depth_mm(axis)
    if rule == "fixed K":
        return KAnswer(k, rule, source or "chosen by the shop")
    # DIN 6935 does not serve below a tenth of the thickness; two-step K has a value at any radius.
    if rule == "two-step K" or (rule == "DIN 6935" and radius.mm_float < 0.1 * depth):
        source = "Kalpakjian and Schmid, SI 6th ed., ch. 16"
        return KAnswer(two_step_k(radius.mm_float, depth), "two-step K", source)
    if rule == "DIN 6935":
        return KAnswer(din_6935_k(radius.mm_float, depth), rule, "DIN 6935:2011, as public programs quote it")
    return KAnswer(
        section.centroid_mm(axis) / depth, "centreline", "BS 8666:2005 measures bar along its centre line"
    )
