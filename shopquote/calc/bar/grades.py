"""Grades of metal: density, strength and stiffness, each value with its source.

Values are minima of the standard unless the source says typical. `starting_grades` has those of a new shop.
"""

import re
from collections.abc import Mapping
from dataclasses import field, replace
from decimal import Decimal
from functools import lru_cache
from math import log10
from typing import Literal, get_args

from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.spelling import folded
from shopquote.calc.units import Length
from shopquote.errors import InputError, nearest_word

# Standards of cold-formed and hot-finished hollow sections; the names of their sub-grades are the same.
_HOT_FINISHED = ("EN 10219-1", "EN 10210-1")

Family = Literal[
    "mild", "high-strength", "alloy", "tool", "stainless", "aluminium", "brass", "copper", "titanium"
]

FAMILIES: tuple[Family, ...] = get_args(Family)

Strength = Literal["least", "usual", "most"]

# Ratios (usual, greatest) to the minimum, of yield and of tensile strength, for grades with only a minimum on
# file. Steel: means of
# EN 1993-1-1:2022 annex E and two spreads above them, from memory; no public page found. Others common
# practice, no source.
_STEEL_RANGE = ((1.25, 1.4), (1.2, 1.37))
_OTHER_RANGE = ((1.15, 1.3), (1.1, 1.2))
_STEEL_FAMILIES = ("mild", "high-strength")


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade with the properties that bending and weighing need.

    yield_mpa, tensile_mpa: the minimum of a delivered bar; the usual and the greatest strengths are estimated
    from it where None. paper, paper_hollow: standard and sub-grade as ordered, of bar and of hollow sections.
    `retired`: not for new jobs. `min_radius_ratio`: smallest inside radius that is bent cold without a test
    piece, over the depth in the plane of the bend. `sources` has the source of each field by name.
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
    yield_usual_mpa: float | None = None
    yield_most_mpa: float | None = None
    tensile_usual_mpa: float | None = None
    tensile_most_mpa: float | None = None
    paper: str = ""
    paper_hollow: str = ""
    retired: bool = False

    def on_paper(self, *, hollow: bool = False) -> str:
        """Standard and sub-grade as ordered and quoted; the grade's name where none is on file.

        >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
        >>> STARTING_GRADES["S275"].on_paper(), STARTING_GRADES["S235"].on_paper(hollow=True)
        ('EN 10025-2 S275JR', 'EN 10219-1 S235JRH')
        """
        return (self.paper_hollow if hollow else "") or self.paper or self.name

    def paper_of(self, section: Section) -> str:
        """`on_paper` for one bar, where hot-finished hollow sections have a standard of their own.

        >>> from shopquote.calc.bar.sections import parse_section
        >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
        >>> STARTING_GRADES["S355"].paper_of(parse_section("box 60 x 40 x 4 EN 10210", "mm"))
        'EN 10210-1 S355J2H'
        """
        paper = self.on_paper(hollow=section.is_hollow)
        return paper.replace(*_HOT_FINISHED) if section.corners == "EN 10210" else paper

    def at(self, strength: Strength) -> "Grade":
        """A copy of the grade with its least, usual or greatest strengths as yield and tensile strength.

        >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
        >>> [STARTING_GRADES["S275"].at(one).tensile_mpa for one in ("least", "usual", "most")]
        [410, 492, 560]
        """
        return self if strength == "least" else _at_strength(self, strength)

    @property
    def e_mpa(self) -> float:
        """Young's modulus in MPa."""
        return self.e_gpa * 1000


@lru_cache(maxsize=512)
def _at_strength(grade: Grade, strength: Strength) -> Grade:
    steel = grade.family in _STEEL_FAMILIES
    place = 0 if strength == "usual" else 1
    (yield_ratio, tensile_ratio) = (ratios[place] for ratios in (_STEEL_RANGE if steel else _OTHER_RANGE))
    if strength == "usual":
        given = grade.yield_usual_mpa, grade.tensile_usual_mpa
    else:
        given = grade.yield_most_mpa, grade.tensile_most_mpa
    # At least the minimum: a shop may have set a minimum above the usual strength on file.
    yields = max(grade.yield_mpa, given[0] or grade.yield_mpa * yield_ratio)
    tensile = max(grade.tensile_mpa, yields, given[1] or grade.tensile_mpa * tensile_ratio)
    return replace(grade, yield_mpa=yields, tensile_mpa=tensile)


def mass_of_bar(section: Section, grade: Grade, length: Length) -> Decimal:
    """Mass of one bar in kg, rounded to the milligram."""
    kilograms = section.mass_per_m(grade.density_kg_m3) * length.mm_float / 1000
    return Decimal(str(round(kilograms, 6)))


# Yield in MPa above a nominal thickness in mm. The keys have the yield up to 16 mm of the standard: a grade
# to which the shop gave another is not changed. EN 10025-2 table 7, by a public copy of the table.
_THICKER: dict[tuple[str, float], tuple[tuple[float, float], ...]] = {
    ("S235", 235): ((16, 225), (40, 215)),
    ("S275", 275): ((16, 265), (40, 255), (63, 245), (80, 235)),
    ("S355", 355): ((16, 345), (40, 335), (63, 325), (80, 315)),
}


# Minimum tensile strength of drawn spring wire in MPa: at 4 mm (in the key), and its decrease for each
# tenfold of the diameter; lines on log d through the tables of EN 10270-1 and, for 1.4310, EN 10270-3. SM
# within 1 % of a spring maker's page from 1 to 12 mm, SH of
# mollificiomodenese.it/glossario/acciaio-uni-en-10270-1-sm-sh-dh from 0.3 to 4 mm, 1.4310 within 2 % of
# another's from 1.5 to 8.5 mm; SL from memory; no public page found. A strength of the shop's own holds at
# every diameter.
_WIRE: dict[tuple[str, float], float] = {
    ("spring wire SL", 1320): 660,
    ("spring wire", 1530): 740,
    ("spring wire SH", 1740): 820,
    ("spring wire stainless", 1500): 640,
}
_WIRE_AT_MM = 4.0


def _as_drawn(grade: Grade, dia_mm: float) -> Grade:
    """Spring wire with the strength of its diameter: the thinner, the stronger."""
    falls = _WIRE.get((grade.name, grade.tensile_mpa))
    if falls is None:
        return grade
    share = 1 - falls * log10(dia_mm / _WIRE_AT_MM) / grade.tensile_mpa
    return replace(
        grade,
        yield_mpa=grade.yield_mpa * share,
        tensile_mpa=grade.tensile_mpa * share,
        yield_usual_mpa=grade.yield_usual_mpa and grade.yield_usual_mpa * share,
        yield_most_mpa=grade.yield_most_mpa and grade.yield_most_mpa * share,
        tensile_usual_mpa=grade.tensile_usual_mpa and grade.tensile_usual_mpa * share,
        tensile_most_mpa=grade.tensile_most_mpa and grade.tensile_most_mpa * share,
    )


@lru_cache(maxsize=256)
def at_thickness(grade: Grade, thickness_mm: float) -> Grade:
    """A copy of the grade with its strength at a nominal thickness in mm.

    The yield of EN 10025-2 grades decreases in steps, the strength of spring wire with its diameter. A yield
    that the shop set itself holds at every thickness. Thickness is the diameter, the side, the smaller size
    of a flat, the wall of a hollow section.

    >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
    >>> at_thickness(STARTING_GRADES["S275"], 20).yield_mpa
    265
    >>> round(at_thickness(STARTING_GRADES["spring wire"], 2).tensile_mpa)
    1753
    """
    grade = _as_drawn(grade, thickness_mm)
    steps = _THICKER.get((grade.name, grade.yield_mpa), ())
    found = [(above, lower) for above, lower in steps if thickness_mm > above]
    if not found:
        return grade
    above, lower = found[-1]
    told = f"EN 10025-2 table 7, above {above:g} mm (public copy of the table)"
    share = lower / grade.yield_mpa
    return replace(
        grade,
        yield_mpa=lower,
        yield_usual_mpa=grade.yield_usual_mpa and grade.yield_usual_mpa * share,
        yield_most_mpa=grade.yield_most_mpa and grade.yield_most_mpa * share,
        sources={**grade.sources, "yield_mpa": told},
    )


# Greatest tensile strength in MPa of bright bar up to a thickness in mm: EN 10088-3 1.4301, 600 to 850 from
# 16 to 40 mm and to 950 below (a mill's technical card); that 1.4401 has the same is from memory, no public
# page found.
_BRIGHT = {"304": ((16.0, 950.0), (40.0, 850.0)), "316": ((16.0, 950.0), (40.0, 850.0))}


def bright_mpa(grade: Grade, section: Section) -> float:
    """Tensile strength in MPa that solid bar of a grade may have if it is delivered cold drawn.

    0 where none is known, or where the greatest strength on file is at least as high.

    >>> from shopquote.calc.bar.sections import parse_section
    >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
    >>> [bright_mpa(STARTING_GRADES["304"], parse_section(f"round {d}", "mm")) for d in (12, 20, 50)]
    [950.0, 850.0, 0.0]
    """
    if section.is_hollow:
        return 0.0
    steps = _BRIGHT.get(grade.name, ())
    most = next((mpa for up_to, mpa in steps if section.thickness_mm <= up_to), 0.0)
    return most if most > grade.at("most").tensile_mpa else 0.0


# The part number of a standard, which many leave out: EN 10219-1 is ordered as EN 10219.
_STANDARD_PART = re.compile(r"(?<=\d)-\d+(?=\s)")
# A standard in front of its sub-grade, which by itself also names the grade.
_STANDARD = re.compile(r"^(?:EN|ASTM|ISO|DIN EN|BS EN)\s+[A-Z]?\d[\w-]*\s+(?!Grade\b)")


def other_names(grades: Mapping[str, Grade]) -> dict[str, str]:
    """Names of grades by their other designations as `grade_key`: the sub-grade, alone and with its standard.

    >>> from shopquote.calc.bar.starting_grades import STARTING_GRADES
    >>> names = other_names(STARTING_GRADES)
    >>> names["s275jr"], names["en102191s235jrh"], names["14301"]
    ('S275', 'S235', '304')
    """
    found: dict[str, str] = {}
    for name, grade in grades.items():
        for paper in filter(None, (grade.paper, grade.paper_hollow)):
            for full in {paper: "", paper.replace(*_HOT_FINISHED): ""}:
                for words in (full, _STANDARD_PART.sub("", full), _STANDARD.sub("", full)):
                    found.setdefault(grade_key(words), name)
    return found


def find_grade(name: str, grades: Mapping[str, Grade]) -> Grade:
    """The grade of a typed name, sub-grade or standard with sub-grade; case, spaces and dashes do not matter.

    Raises:
        InputError: there is no such grade; the message names the nearest one.
    """
    exact = grades.get(name)
    if exact is not None:
        return exact
    wanted = grade_key(name)
    for grade in grades.values():
        if grade_key(grade.name) == wanted:
            return grade
    if (called := other_names(grades).get(wanted)) is not None:
        return grades[called]
    near = nearest_word(name, grades)
    meant = f" Did you mean {near!r}?" if near else ""
    raise InputError(
        f"Grade {name[:60]!r} is not on file.{meant}", hint="Grades on file: " + ", ".join(grades) + "."
    )


# Tempers of an alloy hardened by heat or work, whose strength heating destroys (EN 515, ANSI H35.1).
_TEMPER = re.compile(r"-([TH]\d+)\b")
# Names of cold-drawn wire and bar: EN 10270 and the trade's.
_DRAWN = re.compile(r"\bwire\b|\bCD\b|\bcold[- ]drawn\b|\bEN 10270\b", re.IGNORECASE)


def heat_note(grade: Grade, section: Section) -> str:
    """A remark in brackets on what a bar loses by being bent hot; "" where it loses nothing.

    Ribbed bar is bent cold unless the drawing's designer says otherwise (UFGS 03 20 00A with ACI 318,
    ufgscriteriadocreport.tpub.com).
    """
    if section.form.ribs:
        return " (only where the drawing allows heat: ribbed bar is bent cold)"
    if grade.family == "aluminium" and (temper := _TEMPER.search(grade.name)):
        return f" (heat takes its temper {temper[1]}: it is soft there afterwards)"
    if _DRAWN.search(f"{grade.name}; {grade.paper}"):
        return " (heat takes the strength that drawing gave it: it is soft there afterwards)"
    return ""


def grade_key(name: str) -> str:
    """The key of a grade's name: only letters and digits count, and case and accents do not (`folded`).

    >>> grade_key("S 275") == grade_key("s275")
    True
    """
    return "".join(letter for letter in folded(name) if letter.isalnum())
