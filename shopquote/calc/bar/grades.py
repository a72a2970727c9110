"""Grades of metal: density, strength and stiffness, each value with its source.

Values are minima of the standard unless the source says typical. A shop adds
its own grades as records; these are the ones to start from.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import Literal, get_args

from shopquote.calc.bar.sections import Section
from shopquote.calc.units import Length
from shopquote.errors import InputError, nearest_word

Family = Literal[
    "mild", "high-strength", "alloy", "tool", "stainless", "aluminium", "brass", "copper", "titanium"
]

FAMILIES: tuple[Family, ...] = get_args(Family)


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade as the bender and the scales need it.

    `min_radius_ratio`: smallest inside radius the shop bends cold without a
    test piece, over the depth in the plane of the bend. `sources` names where each field comes from.
    """

    name: str
    family: Family
    density_kg_m3: float
    yield_mpa: float
    tensile_mpa: float
    e_gpa: float
    elongation_pct: float
    reduction_of_area_pct: float | None = None
    min_radius_ratio: float = 1.0
    sources: Mapping[str, str] = field(default_factory=dict, compare=False, hash=False)
    cold_bend: bool = True

    @property
    def e_mpa(self) -> float:
        """Young's modulus in MPa."""
        return self.e_gpa * 1000

    @property
    def working_mpa(self) -> float:
        """Stress while the bar is being bent, MPa: mean of yield and tensile strength.

        Source: common practice, no source; yield alone is too low once the bar hardens.
        """
        return (self.yield_mpa + self.tensile_mpa) / 2


def mass_of_bar(section: Section, grade: Grade, length: Length) -> Decimal:
    """Mass of one bar in kg, to the milligram."""
    kilograms = section.mass_per_m(grade.density_kg_m3) * length.mm_float / 1000
    return Decimal(str(round(kilograms, 6)))


# Yield in MPa above a nominal thickness in mm, of grades whose yield up to 16 mm is the standard's.
# EN 10025-2 table 7: 16 to 40 mm from a public copy of the table, thicker from memory of it.
_THICKER: dict[tuple[str, float], tuple[tuple[float, float], ...]] = {
    ("S235", 235): ((16, 225), (40, 215)),
    ("S275", 275): ((16, 265), (40, 255), (63, 245), (80, 235)),
    ("S355", 355): ((16, 345), (40, 335), (63, 325), (80, 315)),
}


@lru_cache(maxsize=256)
def at_thickness(grade: Grade, thickness_mm: float) -> Grade:
    """The grade as it is in bar of a nominal thickness: thick structural steel yields earlier.

    Only the yield of EN 10025-2 goes down by steps; a yield of the shop's own holds at every
    thickness. Thickness: diameter, side, the thin size of a flat, the wall of a hollow.

    >>> at_thickness(STARTING_GRADES["S275"], 20).yield_mpa
    265
    """
    steps = _THICKER.get((grade.name, grade.yield_mpa), ())
    found = [(above, lower) for above, lower in steps if thickness_mm > above]
    if not found:
        return grade
    above, lower = found[-1]
    source = "public copy of the table" if above == 16 else "from memory"
    told = f"EN 10025-2 table 7, above {above:g} mm ({source})"
    return replace(grade, yield_mpa=lower, sources={**grade.sources, "yield_mpa": told})


def find_grade(name: str, grades: Mapping[str, Grade]) -> Grade:
    """The grade of a typed name; case, blanks and dashes do not matter.

    Raises:
        InputError: no such grade; names the nearest.
    """
    exact = grades.get(name)
    if exact is not None:
        return exact
    wanted = _folded(name)
    for grade in grades.values():
        if _folded(grade.name) == wanted:
            return grade
    near = nearest_word(name, grades)
    meant = f" Did you mean {near!r}?" if near else ""
    raise InputError(
        f"Grade {name[:60]!r} is not on file.{meant}", hint="Grades on file: " + ", ".join(grades) + "."
    )


def _folded(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


_EN_10025 = "EN 10025-2 table 7, up to 16 mm (public copy of the table)"
_MEMORY_EN = "from memory of EN 10025-2"
_STEEL = "490 lb/ft3 (Iowa DOT IM 452.02)"
_GERE = "Gere, Mechanics of Materials 5th ed., appendix (public copy)"
_PRACTICE = "common practice, no source"
_E_EN = "from memory of EN 1993-1-1"


def _grade(
    name: str,
    family: Family,
    density: tuple[float, str],
    strength: tuple[float, float, str],
    e_gpa: tuple[float, str],
    elongation: tuple[float, str],
    ratio: float,
    reduction: tuple[float, str] | None = None,
    cold_bend: bool = True,
) -> Grade:
    sources = {
        "density_kg_m3": density[1],
        "yield_mpa": strength[2],
        "tensile_mpa": strength[2],
        "e_gpa": e_gpa[1],
        "elongation_pct": elongation[1],
        "min_radius_ratio": _PRACTICE,
    }
    if reduction:
        sources["reduction_of_area_pct"] = reduction[1]
    return Grade(
        name=name,
        family=family,
        density_kg_m3=density[0],
        yield_mpa=strength[0],
        tensile_mpa=strength[1],
        e_gpa=e_gpa[0],
        elongation_pct=elongation[0],
        reduction_of_area_pct=reduction[0] if reduction else None,
        min_radius_ratio=ratio,
        sources=sources,
        cold_bend=cold_bend,
    )


_US_HANDBOOK = "typical values of a public metal-forming table"
_MEMORY_SAE = "from memory of SAE J1397"
_MEMORY_A276 = "from memory of ASTM A276"
_MEMORY_EN755 = "from memory of EN 755-2"
_MEMORY_CDA = "from memory of the Copper Development Association data sheets"
_MEMORY_METALS = "from memory of general metals handbooks, typical"

STARTING_GRADES: dict[str, Grade] = {
    grade.name: grade
    for grade in (
        _grade("S235", "mild", (7850, _STEEL), (235, 360, _EN_10025), (210, _E_EN), (26, _MEMORY_EN), 1.0),
        _grade("S275", "mild", (7850, _STEEL), (275, 410, _EN_10025), (210, _E_EN), (23, _MEMORY_EN), 1.0),
        _grade(
            "S355",
            "high-strength",
            (7850, _STEEL),
            (355, 470, _EN_10025),
            (210, _E_EN),
            (22, _MEMORY_EN),
            1.5,
        ),
        _grade(
            "A36",
            "mild",
            (7850, _STEEL),
            (250, 400, "ASTM A36 (public plate data sheet)"),
            (200, "ASTM A36 (public plate data sheet)"),
            (20, "ASTM A36, 200 mm gauge (public plate data sheet)"),
            1.0,
        ),
        _grade(
            "1018 CD",
            "mild",
            (7850, _STEEL),
            (370, 440, _MEMORY_SAE),
            (205, _MEMORY_METALS),
            (15, _MEMORY_SAE),
            2.0,
            (40, _MEMORY_SAE),
        ),
        _grade(
            "1045 HR",
            "alloy",
            (7850, _STEEL),
            (310, 570, _MEMORY_SAE),
            (205, _MEMORY_METALS),
            (16, _MEMORY_SAE),
            2.0,
            (40, _MEMORY_SAE),
        ),
        _grade(
            "12L14",
            "mild",
            (7850, _STEEL),
            (415, 540, _MEMORY_SAE),
            (205, _MEMORY_METALS),
            (10, _MEMORY_SAE),
            6.0,
            (35, _MEMORY_SAE),
            cold_bend=False,
        ),
        _grade(
            "4140 annealed",
            "alloy",
            (7850, _STEEL),
            (417, 655, _US_HANDBOOK),
            (205, _MEMORY_METALS),
            (26, _MEMORY_SAE),
            2.0,
            (57, _MEMORY_SAE),
        ),
        _grade(
            "4140 normalised",
            "alloy",
            (7850, _STEEL),
            (655, 1020, _US_HANDBOOK),
            (205, _MEMORY_METALS),
            (18, _MEMORY_SAE),
            4.0,
            (47, _MEMORY_SAE),
        ),
        _grade(
            "O1 annealed",
            "tool",
            (7850, _STEEL),
            (370, 690, _MEMORY_METALS),
            (210, _MEMORY_METALS),
            (20, _MEMORY_METALS),
            4.0,
        ),
        _grade(
            "B500B",
            "high-strength",
            (7850, _STEEL),
            (500, 540, "from memory of EN 1992-1-1 annex C"),
            (200, "from memory of EN 1992-1-1"),
            (14, "from memory of national B500B standards"),
            2.0,
        ),
        _grade(
            "304",
            "stainless",
            (8000, "public density chart"),
            (205, 515, "ASTM A276 annealed (public table)"),
            (193, _MEMORY_METALS),
            (40, _MEMORY_A276),
            1.5,
            (50, _MEMORY_A276),
        ),
        _grade(
            "316",
            "stainless",
            (8000, "public density chart"),
            (205, 515, _MEMORY_A276),
            (193, _MEMORY_METALS),
            (40, _MEMORY_A276),
            1.5,
            (50, _MEMORY_A276),
        ),
        _grade(
            "303",
            "stainless",
            (8000, "public density chart"),
            (205, 515, _MEMORY_A276),
            (193, _MEMORY_METALS),
            (35, _MEMORY_A276),
            4.0,
            cold_bend=False,
        ),
        _grade("6061-T6", "aluminium", (2700, _GERE), (276, 310, _GERE), (69, _GERE), (17, _GERE), 3.5),
        _grade(
            "6061-O",
            "aluminium",
            (2700, _GERE),
            (55, 124, _US_HANDBOOK),
            (69, _GERE),
            (25, _MEMORY_METALS),
            1.0,
        ),
        _grade(
            "6082-T6",
            "aluminium",
            (2700, _MEMORY_EN755),
            (250, 295, _MEMORY_EN755),
            (70, _MEMORY_EN755),
            (8, _MEMORY_EN755),
            4.0,
        ),
        _grade(
            "6060-T66",
            "aluminium",
            (2700, _MEMORY_EN755),
            (160, 215, _MEMORY_EN755),
            (70, _MEMORY_EN755),
            (8, _MEMORY_EN755),
            3.0,
        ),
        _grade(
            "C360",
            "brass",
            (8500, _MEMORY_CDA),
            (310, 400, _MEMORY_CDA),
            (97, _MEMORY_CDA),
            (25, _MEMORY_CDA),
            4.0,
            cold_bend=False,
        ),
        _grade(
            "C260 annealed",
            "brass",
            (8530, _MEMORY_CDA),
            (110, 330, _MEMORY_CDA),
            (110, _MEMORY_CDA),
            (60, _MEMORY_CDA),
            1.0,
        ),
        _grade(
            "C110 annealed",
            "copper",
            (8900, _GERE),
            (69, 220, _MEMORY_CDA),
            (117, _MEMORY_CDA),
            (45, _MEMORY_CDA),
            1.0,
        ),
        _grade(
            "Ti grade 2",
            "titanium",
            (4500, _GERE),
            (275, 345, "from memory of ASTM B348"),
            (105, _MEMORY_METALS),
            (20, "from memory of ASTM B348"),
            2.5,
            (30, "from memory of ASTM B348"),
        ),
        _grade(
            "Ti-6Al-4V",
            "titanium",
            (4430, "public data page"),
            (828, 895, "from memory of ASTM B348"),
            (114, "16.5 Msi (public data page)"),
            (10, "from memory of ASTM B348"),
            4.0,
            (25, "from memory of ASTM B348"),
        ),
    )
}
