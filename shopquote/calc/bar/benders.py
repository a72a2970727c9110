"""Benders on file, their formers, and the shop's own way with a bend.

Lengths are `Length`, moments N m, angles degrees. What a bender can do with one
bend is answered in `fit`; these are the values it answers from.
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
    """A former, die or pin that a bar is bent round; `radius` is at the bar's inner face.

    `largest` is the deepest bar that it takes, None where only the bender limits it.
    """

    radius: Length
    name: str = ""
    largest: Length | None = None


@dataclass(frozen=True, slots=True)
class Bender:
    """One bender of the shop.

    largest_moment_nm: bending moment that frame, pins and arm stand, N m.
    opening, width: deepest bar in the plane of the bend, and widest across it.
    lever: pivot to hand; 0 with `powered`.
    smallest_leg: straight bar the bender must hold, or push on, beyond a bend.
    smallest_between: straight bar wanted between two bends.
    largest_angle: largest angle to pull to, degrees, over-bend included.
    works_by: draw, the bar is clamped to the former, which turns and draws it in; wipe, the bar is clamped
        beside a former that stands and an arm wipes it round; ram, pushed between two rests; rolls.
    mark_at, mark_offset_nm: which point of a bend, seen from the clamp, is set to the bender's mark, and
        how far from there the bar is marked (positive away from the clamp).
    clear_radius: room round the former's centre, beside the bar, that already bent legs must keep out of.
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
        """Formers, and pins as the formers that they are."""
        if not self.pins:
            return self.formers
        return (*self.formers, *(Former(Length(pin.nm // 2), "pin") for pin in self.pins))


@dataclass(frozen=True, slots=True)
class BendTest:
    """One test piece: what was cut, bent and measured. `made_on` is the date of the test.

    Two outside legs of one bend are measured from the end to the outermost
    faces' corner (up to 90 degrees) or to the outermost tangent (beyond), as in a part with dims "outside".
    `over_bend` is the angle pulled to so that `angle` was left after release.
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
    """Which neutral-axis rule holds for which bars; empty words hold for all.

    `k` is used by "fixed K" only: depth of the neutral axis from the inner face over T.
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
    """The longest bar of a section that is sold, and how long a piece it gives after trim and grip."""

    length: Length
    room: Length


@dataclass(frozen=True, slots=True)
class BendingShop:
    """What one shop bends with: benders, grades, neutral-axis rules and its own tests.

    `planning_mm` and `planning_in` are the steps of cut lengths; `datum` is where bend marks are measured
    from; `hand_pull_n` is what one person pulls for long, N (common practice, no source).
    `k_rules` are tried in order of how much they name; the last resort is the
    usual rule of the section (`neutral_axis.usual_rule`). `small_bends`: whether those of a scroll share
    its length or its angle; `formers_along`: they may change the former along it. `longest`: bars on sale by
    section key and grade, by which longer parts are parted; none where no list is at hand.
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
