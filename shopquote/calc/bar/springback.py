"""Springback: the angle to pull to, and the radius to hold, for the bend asked for.

A bar held at centre-line curvature k springs back by M/(EI). Its neutral length does not change, so angle and
radius change together. Float mm, MPa, degrees. Begin at `spring_of`.

Source: elastic-plastic bending (Gardiner 1957 for the sheet); the rectangle gives
Ri/Rf = 4X^3 - 3X + 1 with X = Ri Y / (E T).
"""

from functools import lru_cache
from math import exp, log

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.frozen import dataclass

YIELD_OFFSET = 0.002  # strain at which yield is stated, 0.2 %


@dataclass(frozen=True, slots=True)
class Spring:
    """One bend under load and after release.

    held_mm: centre-line radius under load that leaves the one asked for; ratio: of the angle left to the
    angle pulled to; stress_mpa: flow stress at the bend's strain; moment_nmm: moment under load.
    """

    held_mm: float
    ratio: float
    stress_mpa: float
    moment_nmm: float


def hardening_exponent(grade: Grade) -> float:
    """n of stress = C strain^n through yield and tensile strength; 0 without hardening.

    By Considere's criterion necking starts at strain n, so C = Fu (e/n)^n; n then follows
    from the yield. Source: textbook plasticity, derived.
    """
    return _exponent(grade.yield_mpa, grade.tensile_mpa, grade.e_mpa)


@lru_cache(maxsize=256)
def _exponent(yield_mpa: float, tensile_mpa: float, e_mpa: float) -> float:
    at_yield = YIELD_OFFSET + yield_mpa / e_mpa
    wanted = log(yield_mpa / tensile_mpa)
    if wanted >= 0:
        return 0.0
    low, high = at_yield, 5.0
    for _ in range(80):
        middle = (low + high) / 2
        if middle * (1 + log(at_yield / middle)) > wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def flow_stress(grade: Grade, outer_strain: float) -> float:
    """Stress in MPa of a perfectly plastic bar with the same bending moment as the hardening one.

    The power law at the outer fibre's strain times 2/(2 + n), exact for a rectangle; limited to the range
    from yield to tensile strength.
    """
    n = hardening_exponent(grade)
    if n == 0 or outer_strain <= 0:
        return grade.yield_mpa
    stress = grade.tensile_mpa * exp(n * (1 + log(outer_strain / n))) * 2 / (2 + n)
    return min(grade.tensile_mpa, max(grade.yield_mpa, stress))


def outer_strain(centre_mm: float, outer_mm: float) -> float:
    """Strain of the outer fibre of a bend; 1 / (2R/T + 1) with the axis at mid-depth.

    Source: Kalpakjian and Schmid, SI 6th ed., eq. 16.4.

    >>> outer_strain(2.5, 0.5)
    0.2
    """
    return outer_mm / centre_mm


def springback_ratio(bar: BendSection, stress_mpa: float, e_mpa: float, held_mm: float) -> float:
    """Ratio of the curvature left to the curvature held: 1 - R M(R) / (E I); 0 while the bar is elastic."""
    moment = bar.moment_nmm(stress_mpa, e_mpa, held_mm)
    return max(0.0, 1 - held_mm * moment / (e_mpa * bar.inertia_mm4))


def held_radius_mm(bar: BendSection, stress_mpa: float, e_mpa: float, left_mm: float) -> float:
    """Centre-line radius in mm to hold so that `left_mm` is left after release.

    Solves 1/held - M(held)/(E I) = 1/left, which always has one solution, below the largest radius that bends
    the bar permanently.
    """
    stiffness = e_mpa * bar.inertia_mm4
    wanted = 1 / left_mm
    # Bounds of the curvature: M is at most the plastic moment, and at the elastic limit nothing is left.
    high = wanted + stress_mpa * bar.plastic_mm3 / stiffness
    low = max(wanted, stress_mpa / (e_mpa * max(bar.centroid_mm, bar.outer_mm)))
    for _ in range(200):
        # The moment grows ever more slowly with curvature, so the curvature left is convex: the secant's zero
        # below lies under the solution, and the middle is tried too, to bring the upper bound down.
        left = high - bar.moment_nmm(stress_mpa, e_mpa, 1 / high) / stiffness
        excess = left - wanted
        if excess <= 1e-13 * high or high - low <= 1e-13 * high:
            break
        base = low - bar.moment_nmm(stress_mpa, e_mpa, 1 / low) / stiffness - wanted
        if base >= 0:
            return 1 / low
        middle = low - base * (high - low) / (excess - base)
        if not low < middle < high:
            # Converged to the last digit: return the end with the smaller error.
            return 1 / (low if -base <= excess else high)
        value = middle - bar.moment_nmm(stress_mpa, e_mpa, 1 / middle) / stiffness - wanted
        if value > 0:
            high = middle
        else:
            low = middle
            centre = (low + high) / 2
            if centre - bar.moment_nmm(stress_mpa, e_mpa, 1 / centre) / stiffness > wanted:
                high = centre
            else:
                low = centre
    return 1 / high


def spring_of(bar: BendSection, grade: Grade, left_mm: float) -> Spring:
    """Springback of one bend by theory; `left_mm` is the centre-line radius asked for."""
    stress = flow_stress(grade, outer_strain(left_mm, bar.outer_mm))
    held = held_radius_mm(bar, stress, grade.e_mpa, left_mm)
    moment = bar.moment_nmm(stress, grade.e_mpa, held)
    return Spring(held, held / left_mm, stress, moment)


def left_radius_mm(bar: BendSection, grade: Grade, held_mm: float) -> float:
    """Centre-line radius in mm after release of a bend held at a radius: the inverse of `spring_of`.

    Infinite where it springs back straight.
    """
    low, high = 0.0, 1 / held_mm
    for _ in range(60):
        middle = (low + high) / 2
        # At the strain of the radius left, as in `spring_of`, so that the two are exact inverses.
        stress = flow_stress(grade, outer_strain(1 / middle, bar.outer_mm))
        if springback_ratio(bar, stress, grade.e_mpa, held_mm) > held_mm * middle:
            low = middle
        else:
            high = middle
    return 1 / low if low else float("inf")


def largest_set_radius_mm(bar: BendSection, grade: Grade) -> float:
    """Largest inside radius in mm at which the bar stays bent: T E / (2 Fy), less half the bar.

    Source: Machinery's Handbook 29th ed., p. 1347, as quoted on a public page.
    """
    return bar.outer_mm * grade.e_mpa / grade.yield_mpa - bar.centroid_mm


def least_radius_mm(grade: Grade, depth_mm: float) -> float | None:
    """Inside radius in mm below which the outer face cracks: T (50 / r - 1), r % reduction of area.

    None where the grade has no reduction of area on file.
    Source: Kalpakjian and Schmid, SI 6th ed., eq. 16.5.
    """
    reduction = grade.reduction_of_area_pct
    if reduction is None:
        return None
    return max(0.0, depth_mm * (50 / reduction - 1))
