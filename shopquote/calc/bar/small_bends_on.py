"""Small bends on formers: which former makes each, how far it is pulled and what it leaves.

Float mm, N mm, MPa, degrees. Begin at `made_on`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.benders import Former
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.bar.small_bends import SmallBends
from shopquote.calc.bar.springback import flow_stress, outer_strain, spring_of, springback_ratio
from shopquote.calc.frozen import dataclass


@dataclass(frozen=True, slots=True)
class MadeSmall:
    """Small bends as a bender makes them, one value each.

    pulls: signed angles to pull to; left_mm: centre-line radius that each is left with; stress_mpa: flow
    stress at each former's strain; `moment_nmm` is the largest.
    """

    formers: tuple[Former, ...]
    pulls: tuple[float, ...]
    left_mm: tuple[float, ...]
    stress_mpa: tuple[float, ...]
    moment_nmm: float


def made_on(bar: BendSection, grade: Grade, bends: SmallBends, formers: Sequence[Former]) -> MadeSmall:
    """The small bends on these formers, one each; `grade` at the strength to reckon with."""
    by_former = {former: _on(bar, grade, former) for former in set(formers)}
    found = [by_former[former] for former in formers]
    return MadeSmall(
        tuple(formers),
        tuple(
            angle / ratio if ratio > 0 else float("inf")
            for angle, (_, ratio, _, _) in zip(bends.angles, found, strict=True)
        ),
        tuple(held / ratio if ratio > 0 else float("inf") for held, ratio, _, _ in found),
        tuple(stress for _, _, stress, _ in found),
        max(moment for _, _, _, moment in found),
    )


def _on(bar: BendSection, grade: Grade, former: Former) -> tuple[float, float, float, float]:
    """Centre-line radius held, springback ratio, flow stress and moment on one former."""
    held = former.radius.mm_float + bar.centroid_mm
    # Each small bend is strained as its own former bends it, not as the curve.
    stress = flow_stress(grade, outer_strain(held, bar.outer_mm))
    ratio = springback_ratio(bar, stress, grade.e_mpa, held)
    return held, ratio, stress, bar.moment_nmm(stress, grade.e_mpa, held)


def largest_along(
    bar: BendSection, grade: Grade, bends: SmallBends, formers: Sequence[Former], tightest: Former
) -> tuple[Former, ...]:
    """For each small bend the largest former that is no wider than the curve there; else the tightest."""
    chosen = []
    for radius in bends.radii_mm:
        held = spring_of(bar, grade, radius).held_mm - bar.centroid_mm
        fitting = [former for former in formers if former.radius.mm_float <= held + 1e-9]
        chosen.append(max([tightest, *fitting], key=lambda former: former.radius.nm))
    return tuple(chosen)
