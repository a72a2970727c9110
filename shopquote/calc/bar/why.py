"""The formula and source of every figure of a part, one line each, for the option `--why`."""

from collections.abc import Sequence

from shopquote.calc.bar.curves import Curve
from shopquote.calc.bar.develop import SET_BACK, Development, Run
from shopquote.calc.bar.fit import Fit
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.limits import limit_source, limits_of
from shopquote.calc.bar.neutral_axis import setback_mm
from shopquote.calc.bar.springback import hardening_exponent, least_radius_mm
from shopquote.calc.job import Dims

KALPAKJIAN = "Kalpakjian and Schmid, SI 6th ed."


def why_of(
    development: Development, curves: Sequence[Curve], fits: Sequence[Fit | None], grade: Grade, dims: Dims
) -> tuple[str, ...]:
    """The lines in order along the bar: lengths first, then the mechanics of each curve; in mm."""
    lines = [_length_line(run) for run in development.runs]
    if any(run.kind in SET_BACK for run in development.runs) and dims != "tangent":
        lines.append(_dims_line(development, dims))
    if len(development.runs) > 1:
        parts = " + ".join(f"{run.flat_mm:.3f}" for run in development.runs[:40])
        lines.append(f"developed length = {parts} = {development.flat_mm:.3f}")
    spread = sum(
        (run.k.spread * run.bending.depth_mm * abs(run.angle) / 57.29577951308232) ** 2
        for run in development.runs
        if run.k is not None and run.bending is not None
    )
    if spread:
        lines.append(
            f"the spread of the measured K moves the length by about {spread**0.5:.2f} mm either way"
        )
    for curve, fit in zip(curves, fits, strict=True):
        lines.extend(_curve_lines(curve, fit, grade))
    density = grade.sources.get("density_kg_m3", "own value")
    lines.append(f"mass: area x length x {grade.density_kg_m3:g} kg/m3 ({density})")
    return tuple(lines)


def _length_line(run: Run) -> str:
    name = f"word {run.word}, {run.kind}" if run.word else run.kind
    if run.kind == "twist":
        return (
            f"{name}: {run.flat_mm:.3f}; textbooks add none (Googerty, Hand Forging, p. 78; Shop Practice, "
            "vol. 2, forming shoulders)"
        )
    if run.kind == "taper":
        return f"{name}: stock by constant volume, h/3 (A1 + A2 + sqrt(A1 A2)) / A1 = {run.flat_mm:.3f}"
    if run.k is None or run.bending is None:
        return f"{name}: {run.flat_mm:.3f}"
    depth, k = run.bending.depth_mm, run.k
    where = f"T {depth:g}, K {k.k:.4f} by {k.rule} ({k.source})"
    if run.kind == "helix":
        return f"{name}: n sqrt((pi D)^2 + p^2) = {run.flat_mm:.3f}; {where}"
    if run.kind == "ellipse":
        a, b = run.axes_mm
        return (
            f"{name}: perimeter of an ellipse of half diameters {a:g} and {b:g} (Gauss), and 2 pi K T "
            f"for what lies outside it (Steiner) = {run.flat_mm:.3f}; {where}"
        )
    if run.kind == "collar":
        return f"{name}: a quarter of the smiths' 2 T beside the perimeter = {run.flat_mm:.3f}; {where}"
    if run.kind == "volute":
        return f"{name}: arc of r = a e^(b t) on the neutral axis = {run.flat_mm:.3f}; {where}"
    if run.kind == "scroll":
        return f"{name}: arc of r = a + b t on the neutral axis = {run.flat_mm:.3f}; {where}"
    return (
        f"{name}: A (R + K T) = {abs(run.angle):g} deg x ({run.inside_mm:g} + {k.k * depth:.3f}) = "
        f"{run.flat_mm:.3f}; {where}"
    )


def _dims_line(development: Development, dims: Dims) -> str:
    shown = []
    for run in development.runs:
        if run.kind in SET_BACK and run.bending is not None:
            beyond = {"outside": run.bending.depth_mm, "centre": run.bending.centroid_mm}.get(dims, 0.0)
            shown.append(f"{setback_mm(run.angle, run.inside_mm, beyond):.3f}")
    return (
        f"legs are measured {dims}; setbacks tan(A/2) (R + x) up to 90 degrees, R + x beyond "
        f"(the custom of DIN 6935): {', '.join(shown)}"
    )


def _curve_lines(curve: Curve, fit: Fit | None, grade: Grade) -> list[str]:
    name, spring, bar = f"word {curve.run.word}", curve.spring, curve.bar
    usual = grade.at("usual")
    lines = [
        f"{name}: flow stress {spring.stress_mpa:.0f} MPa at the bend's strain, n "
        f"{hardening_exponent(usual):.3f} from yield {usual.yield_mpa:g} and tensile "
        f"{usual.tensile_mpa:g} (usual; Considere); {grade.sources.get('yield_mpa', 'own value')}",
        f"{name}: springback ratio 1 - R M / (E I) = {spring.ratio:.5f}, E {grade.e_gpa:g} GPa, I "
        f"{bar.inertia_mm4:.1f} mm4 (elastic-plastic bending); a former of r {curve.held_mm:.2f} would "
        f"leave r {curve.run.inside_mm:g}",
        f"{name}: over-bend {curve.over_bend_source}",
        f"{name}: pull over angle {curve.pull.usual:.4f}, between {curve.pull.least:.4f} and "
        f"{curve.pull.most:.4f}: yield from {grade.yield_mpa:g} to {grade.at('most').yield_mpa:g} MPa "
        f"({grade.sources.get('strength range', 'common practice, no source')}), and the bar beside the bend",
        f"{name}: outer strain 1 / (2R/T + 1) = {curve.outer_strain:.4f} ({KALPAKJIAN}, eq. 16.4)",
        _limit_line(name, curve, grade),
        f"{name}: moment {spring.moment_nmm / 1000:.1f} N m with Z {bar.plastic_mm3:.0f} mm3; at the most "
        f"strength {spring.moment_nmm * curve.pull.most_over_usual / 1000:.1f} N m",
    ]
    if fit is not None and fit.hand_force_n is not None:
        lines.append(
            f"{name}: hand force M / lever = {fit.hand_force_n:.0f} N at {fit.bender.lever.mm_float:g} mm, "
            f"{fit.bender.friction_pct:g} % for friction (common practice, no source)"
        )
    if fit is not None and fit.how == "small bends" and curve.small is not None:
        lines.append(
            f"{name}: {len(curve.small.angles)} small bends, each where the directions at the ends of its "
            "stretch meet"
        )
    return lines


def _limit_line(name: str, curve: Curve, grade: Grade) -> str:
    limit, least = limits_of(grade, curve.bar)
    cracks = least_radius_mm(grade, curve.bar.depth_mm)
    by_area = f"; T (50/r - 1) = {cracks:.1f} ({KALPAKJIAN}, eq. 16.5)" if cracks is not None else ""
    return (
        f"{name}: least r {least:.1f}, strain {limit:.3f}: "
        f"{least / curve.bar.depth_mm:.3g} T ({limit_source(grade, curve.bar)}){by_area}"
    )
