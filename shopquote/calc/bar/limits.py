"""Least bend radii of grades, by thickness, axis, direction of rolling and later galvanising, with sources.

`as_bent` puts the limits of one section into its grade; `limits_of` then gives them for a bend. Radii are at
the inner face; ratios are radius over T, the size in the plane of the bend.
"""

from dataclasses import replace
from functools import lru_cache
from math import inf, pi

from shopquote.calc.bar.grades import Family, Grade
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.springback import least_radius_mm
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass

INCH = 25.4
# Thickness in mm from which cold bends may become brittle in the zinc bath: a galvanizers' association's
# page.
BRITTLE_FROM_MM = 3.0
GALVANISED_RATIO = 3.0
GALVANISED_SOURCE = "R >= 3 T before galvanising, else stress relieve: galvanizers' design pages, ASTM A143"
_CARBON_STEELS = ("mild", "high-strength", "alloy", "tool")
# For a flat on edge: common practice, no source. Its outer strain must also stay below the elongation.
HARD_WAY_RATIO = 3.0
HARD_WAY_SOURCE = "3 widths on edge, common practice, no source; outer strain within the elongation"
# Buckling factor of a plate free at its pressed edge, the pressure falling evenly to the middle: EN 1993-1-5
# table 4.2 (open programs of steel design: 0.57 - 0.21 psi + 0.07 psi2).
EDGE_FACTOR = 0.57
POISSON = 0.3


@dataclass(frozen=True, slots=True)
class BendLimit:
    """Least ratio of a grade up to a thickness in mm; rows by increasing thickness.

    `flats`: for flats only.
    """

    grade: str
    up_to_mm: float
    ratio: float
    source: str
    galvanised: bool = False
    flats: bool = False


_EN_1992 = "EN 1992-1-1 table 8.1N: mandrel 4 d to 16 mm, 7 d above"
_A767 = "ASTM A767: bend diameter 6 d, 8 d and 10 d before galvanising, a galvanizers' page"
_COLD_TABLE = "public table of cold-bend radii of aluminium, 90 degrees"
_TITANIUM = "bend radius that is specified of its sheet, a public data page"
_TITANIUM_SHEET = "bend test of ASTM B265, both ways of the rolling, a titanium seller's table"
_STEEL_GUIDE = "public steel reference guide, radii for cold forming across the rolling direction"

LIMITS: tuple[BendLimit, ...] = (
    BendLimit("B500B", 16, 2.0, _EN_1992),
    BendLimit("B500B", inf, 3.5, _EN_1992),
    BendLimit("B500B", 0.75 * INCH, 3.0, _A767, galvanised=True),
    BendLimit("B500B", 1.41 * INCH, 4.0, _A767, galvanised=True),
    BendLimit("B500B", inf, 5.0, _A767, galvanised=True),
    BendLimit("6061-T6", INCH / 8, 2.5, _COLD_TABLE),
    BendLimit("6061-T6", 3 * INCH / 16, 3.0, _COLD_TABLE),
    BendLimit("6061-T6", INCH / 4, 3.5, _COLD_TABLE),
    BendLimit("6061-T6", 3 * INCH / 8, 4.5, _COLD_TABLE),
    BendLimit("6061-T6", INCH / 2, 5.0, _COLD_TABLE),
    BendLimit("6061-T6", inf, 6.0, "hard aluminium alloys, Kalpakjian and Schmid, SI 6th ed., table 16.3"),
    BendLimit("6061-O", 3 * INCH / 16, 1.0, _COLD_TABLE),
    BendLimit("6061-O", 3 * INCH / 8, 1.5, _COLD_TABLE),
    BendLimit("6061-O", inf, 2.0, _COLD_TABLE),
    BendLimit("Ti grade 2", 0.07 * INCH, 2.0, _TITANIUM_SHEET),
    BendLimit("Ti grade 2", inf, 2.5, _TITANIUM_SHEET),
    BendLimit("Ti-6Al-4V", 0.07 * INCH, 4.5, _TITANIUM),
    BendLimit("Ti-6Al-4V", inf, 5.0, _TITANIUM),
    BendLimit("A36", INCH / 4, 1.0, _STEEL_GUIDE, flats=True),
    BendLimit("A36", INCH / 2, 1.5, _STEEL_GUIDE, flats=True),
    BendLimit("A36", inf, 2.0, _STEEL_GUIDE, flats=True),
)


# EN 10025-2's table of least inside radii for flanging, 90 degrees, as a galvanizers' guide prints it: the
# greatest thickness in mm of each column; and by grade the radii in mm of bends across the direction of
# rolling, and of bends along it.
_FLANGED_TO = (1.5, 2.5, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20, 25, 30)
_FLANGED: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "S235": (
        (1.6, 2.5, 3, 5, 6, 8, 10, 12, 16, 20, 25, 28, 36, 40, 50, 60),
        (1.6, 2.5, 3, 6, 8, 10, 12, 16, 20, 25, 28, 32, 40, 45, 55, 70),
    ),
    "S275": (
        (2, 3, 4, 5, 8, 10, 12, 16, 20, 25, 28, 32, 40, 45, 55, 70),
        (2, 3, 4, 6, 10, 12, 16, 20, 25, 32, 36, 40, 45, 50, 60, 75),
    ),
    "S355": (
        (2.5, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 36, 45, 50, 65, 80),
        (2.5, 4, 5, 8, 10, 12, 16, 20, 25, 32, 36, 40, 50, 63, 75, 90),
    ),
}
_FLANGED_SOURCE = (
    "EN 10025-2, least inside radii for flanging, {} the rolling direction (a galvanizers' guide)"
)
# For metal rolled across the piece, where bends lie along the rolling: factor of the radius, and its source.
# DIN 5520 has its radii for aluminium sheet, 90 degrees, hold both ways (a public teaching sheet). They are
# wider than those of other tables here, so that the quarter stays.
_ALONG_ALUMINIUM = (
    1.25, "a quarter more along the rolling: common practice, no source; DIN 5520's own radii hold both ways",
)  # fmt: skip
_ALONG_HARD = (4 / 3, "a third more along the rolling, as a mill's printed guarantee for plate of 690 MPa")
_ALONG_STAINLESS = (1.0, "no more along the rolling, the way in which ASTM A480 has test pieces bent")
ALONG_ROLLING: dict[Family, tuple[float, str]] = {
    "mild": (1.25, "a quarter more along the rolling, as in EN 10025-2's table of radii for flanging"),
    "high-strength": _ALONG_HARD, "alloy": _ALONG_HARD, "tool": _ALONG_HARD, "stainless": _ALONG_STAINLESS,
    "aluminium": _ALONG_ALUMINIUM,
    "brass": (1.0, "no more along the rolling in brass to half hard, by a brass mill's data sheet of strip"),
    "titanium": (1.0, "no more along the rolling, as ASTM B265 has its sheet bent (a seller's table)"),
    "copper": (1.0, "no more along the rolling in soft copper, by a copper mill's data sheet"),
}  # fmt: skip
# The same data sheet, R / T across and along: R220 and R240 alike (5 mm thick too), R360, which yields at
# more than 320 MPa, 1 and 2; R290, from 250 MPa (both yields of EN 1652, in a seller's table), 0 and 0.5.
# A brass mill's data sheet of C260 strip to 0.4 mm: half hard, which yields at 350 MPa, 0.5 and 0.5; harder
# ones 1.0 and 1.3, 1.3 and 1.8, 1.8 and 3.0, 3.0 and 5.0.
_ALONG_HARD_METAL: dict[Family, tuple[float, float, str]] = {
    "copper": (250, 2.0, "twice as wide along the rolling in hard copper, as a copper mill's data sheet"),
    "brass": (351, 5 / 3, "two thirds more along the rolling in hard brass, as a brass mill's data sheet"),
}
# Annealed stainless above 3/8 in is tested over two thicknesses by ASTM A480 (quoted on an engineers' page).
_THICK_STAINLESS_MM, _THICK_STAINLESS_RATIO = 9.525, 2.0


@lru_cache(maxsize=512)
def as_bent(
    grade: Grade, section: Section, *, galvanised: bool = False, rolled_across: bool = False
) -> Grade:
    """A copy of the grade with the limits of one section as its `min_radius_ratio`, and their source.

    A ratio that the shop set itself is kept, unless galvanising needs a larger one. `rolled_across`: the
    metal was rolled across the piece, as in a strip sheared from sheet, not along it as bar is.
    """
    depth = section.depth_mm("easy")
    ratio, source = grade.min_radius_ratio, grade.sources.get("min_radius_ratio", "own value")
    usual = STARTING_GRADES.get(grade.name)
    as_usual = usual is not None and usual.min_radius_ratio == ratio
    if as_usual and (row := _row(grade.name, depth, galvanised=False, flat=section.form.sheet_like)):
        ratio, source = row.ratio, row.source
    if as_usual and section.form.sheet_like and grade.name in _FLANGED:
        ratio = _flanged_mm(grade.name, depth, rolled_across) / depth
        source = _FLANGED_SOURCE.format("along" if rolled_across else "across")
    elif rolled_across:
        more, says = _along_rolling(grade)
        ratio, source = ratio * more, f"{source}, {says}"
        if grade.family == "stainless" and depth > _THICK_STAINLESS_MM:
            ratio = max(ratio, _THICK_STAINLESS_RATIO)
    if galvanised and grade.family in _CARBON_STEELS and section.thickness_mm >= BRITTLE_FROM_MM:
        ratio, source = max((ratio, source), _in_zinc(grade.name, depth), key=lambda limit: limit[0])
    sources = {**grade.sources, "min_radius_ratio": source}
    return replace(grade, min_radius_ratio=ratio, sources=sources)


def _along_rolling(grade: Grade) -> tuple[float, str]:
    """Factor of the least radius for bends along the rolling against across it, and its source."""
    from_mpa, more, says = _ALONG_HARD_METAL.get(grade.family, (inf, 1.0, ""))
    if grade.yield_mpa >= from_mpa:
        return more, says
    return ALONG_ROLLING[grade.family]


def _in_zinc(name: str, depth: float) -> tuple[float, str]:
    """The least ratio of a grade for galvanising, its own or that of all carbon steel, and its source."""
    zinc = _row(name, depth, galvanised=True)
    return (zinc.ratio, zinc.source) if zinc else (GALVANISED_RATIO, GALVANISED_SOURCE)


def _flanged_mm(name: str, thickness_mm: float, along: bool) -> float:
    """Least inside radius in mm by EN 10025-2; beyond the table in proportion to the thickness."""
    radii = _FLANGED[name][1 if along else 0]
    found = (r for to, r in zip(_FLANGED_TO, radii, strict=True) if thickness_mm <= to + 1e-6)
    return next(found, radii[-1] * thickness_mm / _FLANGED_TO[-1])


def _row(name: str, depth_mm: float, *, galvanised: bool, flat: bool = False) -> BendLimit | None:
    fitting = (
        row for row in LIMITS if row.grade == name and row.galvanised is galvanised and flat >= row.flats
    )
    return next((row for row in fitting if depth_mm <= row.up_to_mm + 1e-6), None)


def limits_of(grade: Grade, bar: BendSection) -> tuple[float, float]:
    """Strain limit and least inside radius in mm: by the grade's ratio, cracking and, on edge, elongation."""
    depth, ratio, stretched = bar.depth_mm, grade.min_radius_ratio, 0.0
    if _is_on_edge(bar):
        ratio = max(HARD_WAY_RATIO, ratio)
        stretched = depth / 2 * (100 / grade.elongation_pct - 1) if grade.elongation_pct else 0.0
    least = max(ratio * depth, least_radius_mm(grade, depth) or 0.0, stretched)
    return 1 / (2 * least / depth + 1), least


def is_too_tight(grade: Grade, bar: BendSection, inside_mm: float) -> bool:
    """Whether an inside radius is too tight for cold bending, so that the bend is made hot."""
    return inside_mm < limits_of(grade, bar)[1] - 1e-9


def limit_source(grade: Grade, bar: BendSection) -> str:
    """Source of the least radius, in words."""
    return HARD_WAY_SOURCE if _is_on_edge(bar) else grade.sources.get("min_radius_ratio", "own value")


def stretches_far(grade: Grade, bar: BendSection, strain: float) -> bool:
    """Whether a bend within its limit has an outer strain above the elongation.

    Reported only for ratios of common practice: published least radii were tested, since a short bend bears
    more strain than a long test piece, and ratios of the shop's own are its responsibility.
    """
    return strain * 100 > grade.elongation_pct > 0 and "common practice" in limit_source(grade, bar)


def _is_on_edge(bar: BendSection) -> bool:
    return bar.section.has_axes and bar.axis == "hard" and not bar.section.is_hollow


def edge_buckles_below_mm(width_mm: float, thickness_mm: float) -> float:
    """Centre-line radius in mm below which the compressed edge of a flat bent on edge buckles if not guided.

    The compressed half is a plate hinged at the middle and free at its edge. It buckles at a strain of k pi^2
    / (12 (1 - nu^2)) (t / (w/2))^2, the elastic formula with the secant modulus for E; the strain of the edge
    is w / 2R. Derived; k of EN 1993-1-5.

    >>> round(edge_buckles_below_mm(50, 6))
    842
    """
    strain = EDGE_FACTOR * pi**2 / (12 * (1 - POISSON**2)) * (2 * thickness_mm / width_mm) ** 2
    return width_mm / 2 / strain
