"""Values of the shop's bending equipment: benders, formers, bend tests, neutral-axis rules, settings.

Lengths are `Length`, moments N m, angles degrees. `fit` tells from these whether a bender can make a bend.
"""

from collections.abc import Mapping
from dataclasses import field
from datetime import date
from decimal import Decimal
from typing import Literal, get_args

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis
from shopquote.calc.units import ZERO, Length, Unit

MarkAt = Literal["start", "centre", "end"]
WorksBy = Literal["draw", "wipe", "ram", "rolls"]
Datum = Literal["start", "finish", "middle"]
Sharing = Literal["equal steps", "equal angles"]
NeutralAxisRule = Literal["centreline", "fixed K", "two-step K", "DIN 6935", "measured K"]

DATUMS: tuple[Datum, ...] = get_args(Datum)
WORKS_BY: tuple[WorksBy, ...] = get_args(WorksBy)
MARKS_AT: tuple[MarkAt, ...] = get_args(MarkAt)
SHARINGS: tuple[Sharing, ...] = get_args(Sharing)
NEUTRAL_AXIS_RULES: tuple[NeutralAxisRule, ...] = get_args(NeutralAxisRule)

# Common practice, no source: smallest advance between small bends, gap from the true
# curve that does not show, and the planning units of a saw.
USUAL_ARC_STEP = Length.from_mm(5)
USUAL_ARC_GAP = Length.from_mm(1)
PLANNING_MM = Length.from_mm("0.1")
PLANNING_IN = Length.from_inches("1/64")


@dataclass(frozen=True, slots=True)
class Former:
    """A former, die or pin round which a bar is bent; `radius` is that at the bar's inner face.

    `largest` is the greatest depth of bar that it takes; None where only the bender limits it.
    """

    radius: Length
    name: str = ""
    largest: Length | None = None


@dataclass(frozen=True, slots=True)
class Bender:
    """One bender of the shop.

    largest_moment_nm: bending moment in N m that frame, pins and arm withstand.
    opening, width: greatest size of bar in the plane of the bend, and across it.
    lever: from the pivot to the hand; 0 with `powered`.
    smallest_leg: straight bar that the bender must hold or push on beyond a bend.
    smallest_between: straight bar needed between two bends.
    largest_angle: greatest angle to pull to in degrees, over-bend included.
    works_by: draw, the bar is clamped to the former, which turns and draws it in; wipe, the bar is clamped
        beside a former that stands and an arm wipes it round; ram, pushed between two rests; rolls.
    mark_at, mark_offset_nm: which point of a bend, seen from the clamp, is set to the bender's mark, and
        how far from there the bar is marked (positive away from the clamp).
    clear_radius: radius about the former's centre that legs already bent must stay out of.
    bench_radius: reach of the bench below the bending plane; 0 where legs may hang down.
    both_ways: it bends to the left and to the right without turning the bar over.
    pins: diameters of pins, each a former of half that radius.
    arc_step: smallest advance between small bends.
    rolls_to: smallest inside radius that it rolls, None for a bender without rolls.
    """

    name: str
    largest_moment_nm: float
    opening: Length
    width: Length
    lever: Length
    formers: tuple[Former, ...]
    smallest_leg: Length
    smallest_between: Length
    largest_angle: float = 180.0
    works_by: WorksBy = "draw"
    mark_at: MarkAt = "start"
    mark_offset_nm: int = 0
    clear_radius: Length = ZERO
    pins: tuple[Length, ...] = ()
    arc_step: Length = USUAL_ARC_STEP
    powered: bool = False
    friction_pct: float = 15.0
    rolls_to: Length | None = None
    bench_radius: Length = ZERO
    both_ways: bool = False
    note: str = ""

    @property
    def all_formers(self) -> tuple[Former, ...]:
        """Formers, and each pin as a former of half its diameter."""
        if not self.pins:
            return self.formers
        return (*self.formers, *(Former(Length(pin.nm // 2), "pin") for pin in self.pins))


@dataclass(frozen=True, slots=True)
class BendTest:
    """One bend test: what was cut, bent and measured on the day `made_on`.

    The two legs of the bend are outside measures, from the end to the corner of the outer faces (up to 90
    degrees) or to the outermost tangent (beyond), as in a part with dims "outside". `over_bend` is the angle
    pulled to, and `angle` the one left after release, in degrees.
    """

    made_on: date
    section: Section
    grade: str
    former_radius: Length
    angle: float
    flat_length: Length | None = None
    leg_1: Length | None = None
    leg_2: Length | None = None
    inside_radius: Length | None = None
    over_bend: float | None = None
    bend_axis: BendAxis = "easy"
    note: str = ""


@dataclass(frozen=True, slots=True)
class KRule:
    """A neutral-axis rule and the bars for which it holds; an empty field means all.

    `k`, used by "fixed K" only, is the depth of the neutral axis from the inner face over T.
    """

    rule: NeutralAxisRule
    k: float = 0.5
    grade: str = ""
    family: str = ""
    section_kind: str = ""
    former_radius: Length | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class LongestBar:
    """The longest bar of a section on sale, and the longest piece that it gives after trim and grip."""

    length: Length
    room: Length


@dataclass(frozen=True, slots=True)
class BendingShop:
    """One shop's equipment, grades and settings for bending.

    `planning_mm` and `planning_in` are the steps of cut lengths; bend marks are measured from `datum`;
    `hand_pull_n` is the force in N that one person can pull all day (common practice, no source). Of the
    `k_rules` that hold for a bar the most specific counts, else the section's usual rule
    (`neutral_axis.usual_rule`). `small_bends`: whether the hits of a scroll have equal steps or equal angles;
    `formers_along`: its former may change along it. `longest`: the longest bar on sale by section key and
    grade, into which longer parts are split; empty where no price list is at hand.
    """

    benders: tuple[Bender, ...] = ()
    grades: Mapping[str, Grade] = field(default_factory=dict)
    k_rules: tuple[KRule, ...] = ()
    bend_tests: tuple[BendTest, ...] = ()
    planning_mm: Length = PLANNING_MM
    planning_in: Length = PLANNING_IN
    arc_gap: Length = USUAL_ARC_GAP
    small_bends: Sharing = "equal steps"
    formers_along: bool = False
    datum: Datum = "start"
    hand_pull_n: float = 250.0
    twist_loss_pct: Decimal = Decimal(0)
    forge_loss_pct: Decimal = Decimal(0)
    longest: Mapping[tuple[str, str], LongestBar] = field(default_factory=dict)

    def planning_step(self, unit: Unit) -> Length:
        """The planning unit of a job: 0.1 mm, or 1/64 in for a job in inches."""
        return self.planning_in if unit == "in" else self.planning_mm
