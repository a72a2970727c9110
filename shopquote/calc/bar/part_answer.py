"""What the bar room answers about one part; read by takeoff, pricing and sheets."""

from collections.abc import Sequence
from dataclasses import field
from itertools import accumulate
from math import ceil, floor

from shopquote.calc.bar.by_hand import MadeBy
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.ends import Mitres
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.lettering import counting_letter
from shopquote.calc.units import ZERO, Length, Unit, show_angle, show_length, show_mark


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that a person must decide about; `code` is stable, `message` is plain words."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class BendMark:
    """Where one bend lies on the straight bar, from the datum end."""

    start: Length
    centre: Length
    end: Length


@dataclass(frozen=True, slots=True)
class BendAnswer:
    """One bend as the bender must make it.

    `angle` is the signed angle of bend in degrees; `over_bend_to` the angle to
    pull to before release; `hits` the number of small bends (1 for a plain bend).
    `is_3d` is true when the bending plane was turned since the bend before.

    `kind` is the word it was written with, `how` what makes it: former, rolls or small
    bends. `moment_nm` holds the bar under load, N m; `hand_force_n` has the friction
    allowance in it. `strain_limit` and `least_radius` are the grade's. `held_radius`: former that would
    leave exactly the radius asked for; `left_radius`: what the chosen former leaves; `stress_mpa` the flow
    stress there. `gap_mm`: how far the bend's shape lies off the one asked for at its worst.

    Small bends, one value each along the bar: `hit_marks` (their centres), `hit_angles`, `hit_over_bends`,
    `hit_formers`, what these leave, stress and K; `hit_turn` degrees the bar is turned between them, half of
    it before the first. `hit_advance` where all steps are alike; `hit_angle`, `hit_over_bend` are means.

    `leg`: number of the leg before the bend.
    `works_by`: how the chosen bender works; `bender_mark`: what is set to its mark, its offset included,
    as are `hit_bender_marks`. `grip_end`: end of the bar that it clamps, '' for none; `stop`: from the mark
    to the end `stop_end`, where a stop can stand. Places count from the shop's datum along the straight bar.
    `over_bend_between`: degrees that it may have to be pulled to at least and at most, `hit_between` the same
    of each small bend; `moment_nm` is at the grade's most strength. `by`: what makes it,
    `told` how where that is no bender, `hot` in the fire. `unmade`: cold, and none of the benders tried makes
    it: `over_bend_to` is then what a former of `held_radius` would be pulled to.
    """

    angle: float
    inside_radius: Length
    mark: BendMark
    over_bend_to: float
    over_bend_source: str
    moment_nm: float
    outer_strain: float
    hits: int = 1
    is_3d: bool = False
    bender: str | None = None
    former_radius: Length | None = None
    hand_force_n: float | None = None
    kind: str = "bend"
    word: int = 0
    how: str = "former"
    k: float = 0.5
    k_rule: str = "centreline"
    k_spread: float = 0.0
    flow_stress_mpa: float = 0.0
    strain_limit: float | None = None
    least_radius: Length = ZERO
    left_radius: Length | None = None
    held_radius: Length | None = None
    hit_advance: Length | None = None
    hit_angle: float = 0.0
    hit_over_bend: float = 0.0
    hit_marks: tuple[Length, ...] = ()
    hit_angles: tuple[float, ...] = ()
    hit_over_bends: tuple[float, ...] = ()
    hit_formers: tuple[Length, ...] = ()
    hit_left: tuple[Length, ...] = ()
    hit_stress_mpa: tuple[float, ...] = ()
    hit_ks: tuple[float, ...] = ()
    hit_turn: float = 0.0
    hit_bender_marks: tuple[Length, ...] = ()
    gap_mm: float = 0.0
    stress_mpa: float = 0.0
    bar: BendSection | None = None
    turn: float = 0.0
    leg: int = 0
    pitch_mm: float = 0.0
    works_by: str = "draw"
    grip_end: str = ""
    stop_end: str = ""
    stop: Length | None = None
    bender_mark: Length | None = None
    bender_mark_at: str = "start"
    over_bend_between: tuple[float, float] | None = None
    hit_between: tuple[tuple[float, float], ...] = ()
    by: MadeBy = "bender"
    hot: bool = False
    told: str = ""
    unmade: bool = False

    @property
    def pull_range(self) -> str:
        """Least and most that it may have to be pulled to, to the half degree outward; or nothing.

        Of small bends how much less or more each may need, to the tenth outward.
        """
        if self.hit_between:
            pulls = [abs(pull) for pull in self.hit_over_bends]
            less = max(pull - abs(low) for pull, (low, _) in zip(pulls, self.hit_between, strict=True))
            more = max(abs(high) - pull for pull, (_, high) in zip(pulls, self.hit_between, strict=True))
            return f"each {show_angle(ceil(less * 10) / 10)} less to {show_angle(ceil(more * 10) / 10)} more"
        if self.over_bend_between is None:
            return ""
        low, high = sorted(map(abs, self.over_bend_between))
        return f"between {floor(low * 2) / 2:g} and {ceil(high * 2) / 2:g}"


# Small bends that differ by no more are pulled alike, degrees.
ALIKE_DEGREES = 0.05
# Codes of problems whose cure is at the bench, not in the office.
_AT_THE_BENCH = ("rolled-end", "flattens", "edge-buckles", "hook-crosses", "laps-itself", "bright-bar")


def shown_pulls(pulls: Sequence[float]) -> tuple[str, ...]:
    """Angles to pull small bends to as sheets show them, degrees: alike to 0.01, else each to 0.1.

    Those are rounded so that what they add up to is never off by more than one rounding: the errors of
    a scroll's hundred bends would turn it by degrees.

    >>> shown_pulls([4.341, 4.338]), shown_pulls([4.34, 4.44, 4.54, -4.64])
    (('4.34', '4.34'), ('4.3', '4.5', '4.5', '4.7'))
    """
    angles = [abs(pull) for pull in pulls]
    if not angles or max(angles) - min(angles) <= ALIKE_DEGREES:
        return (f"{sum(angles) / len(angles):.2f}",) * len(angles) if angles else ()
    total, shown, tenths = 0.0, 0, []
    for angle in angles:
        total += angle
        tenths.append(round(total * 10) - shown)
        shown += tenths[-1]
    return tuple(f"{tenth / 10:.1f}" for tenth in tenths)


_WORKS = {
    "draw": "the former turns and draws the bar in",
    "wipe": "an arm wipes the bar round the former",
    "ram": "a ram pushes between two rests",
    "rolls": "rolls, fed from the mark on",
    "hand": "by hand",
}


def works_words(bend: BendAnswer) -> str:
    """How the bender of a bend works."""
    return _WORKS[bend.works_by]


def setting_words(bend: BendAnswer, unit: Unit, *, brief: bool = False) -> str:
    """How a bend is set: how the bender works, what the mark is, what is clamped, where a stop stands.

    In brief without how the bender works, where there is more to say.

    >>> mark = BendMark(Length(0), Length(0), Length(0))
    >>> bend = BendAnswer(90, Length(0), mark, 92, "", 1, 0.1, works_by="ram", bender_mark_at="centre",
    ...     stop_end="finish", stop=Length.from_mm("319.5"))
    >>> setting_words(bend, "mm")
    'a ram pushes between two rests; mark is the centre of the bend; stop: mark to finish end 319.5 mm'
    """
    words = [works_words(bend)] if not brief or bend.works_by == "rolls" else []
    if bend.works_by != "rolls":
        mark = f"mark is the {bend.bender_mark_at} of the bend"
        words.append(f"{mark}, clamp the {bend.grip_end} side" if bend.grip_end else mark)
    if bend.stop is not None:
        words.append(f"stop: mark to {bend.stop_end} end {show_mark(bend.stop, unit)}")
    return "; ".join(words)


def rolled_words(bend: BendAnswer, unit: Unit) -> str:
    """What rolls press a curve to, at least and at most, and what it is off them; '' where no rolls make it.

    Nothing is pulled past its angle there: the bar springs as it leaves the rolls. What goes in is as long
    under them as off them, so that radius and angle change together.
    """
    if bend.how != "rolls" or bend.unmade or bend.held_radius is None or bend.bar is None:
        return ""
    beyond = bend.k * bend.bar.depth_mm

    def pressed(angle: float) -> str:
        across = (bend.held_radius or ZERO).mm_float + beyond
        return show_length(Length.from_mm(across * abs(bend.over_bend_to / angle) - beyond), unit)

    between = ""
    if bend.over_bend_between is not None:
        wide, tight = sorted(bend.over_bend_between, key=abs)
        between = f" ({pressed(tight)} to {pressed(wide)})"
    off = show_length(bend.inside_radius, unit)
    return f"r {pressed(bend.over_bend_to)} in the rolls{between}, r {off} off them"


@dataclass(frozen=True, slots=True)
class OrderStep:
    """One step of the bend order: which bend (from 1), which end goes in, how the bar is turned before.

    `end`: "start" or "finish", the end of the bar that does not swing; `swap`: the bar is taken out and
    turned end for end, the same side up, before this bend; `roll`: degrees that the bending plane moves
    round the bar, right-handed from its start to its finish, so that the bar itself is turned the other way.
    `way`: to which side a bender that bends both ways bends, seen along the bar towards the swinging side.
    """

    bend: int
    end: str
    swap: bool
    roll: float
    works_by: str = "draw"
    way: str = ""

    @property
    def grip(self) -> str:
        """The clamped end: it goes with a turning former, it stays for a wiping arm; '' for none."""
        if self.works_by == "draw":
            return "finish" if self.end == "start" else "start"
        return self.end if self.works_by == "wipe" else ""

    @property
    def held_words(self) -> str:
        """What becomes of the bar's ends at this bend: one is clamped, or one goes in first.

        >>> [OrderStep(1, "finish", False, 0.0, works_by).held_words for works_by in ("draw", "ram")]
        ['start end clamped', 'start end first']
        """
        if self.works_by == "hand":
            return ""
        return (
            f"{self.grip} end clamped"
            if self.grip
            else f"{'start' if self.end == 'finish' else 'finish'} end first"
        )

    @property
    def roll_words(self) -> str:
        """How the bar is turned about its own axis before the bend; '' where it is not.

        >>> OrderStep(2, "finish", False, 35.0).roll_words
        'turn 35° anticlockwise seen from the start end'
        """
        if not round(self.roll, 6) % 360:
            return ""
        if abs(self.roll) == 180:
            return "turn over"
        way = "anticlockwise" if self.roll > 0 else "clockwise"
        return f"turn {show_angle(abs(self.roll))} {way} seen from the start end"


@dataclass(frozen=True, slots=True)
class HoleMark:
    """One hole with a place: `at` on the straight bar from its start, `across_mm` from the centre line.

    `clear_mm`: from its edge to the nearest bend, below 0 inside it, None without a bend beside its
    leg; `needs_mm`: what it should be. `kind`: which of the part's rows of holes it belongs to, from 1.
    `measured_from_mm`, `begins_mm`: on the straight bar, where its leg is measured from and begins.
    """

    size: str
    dia_mm: float
    thread: str
    at: Length
    across_mm: float
    leg: int
    in_bend: bool
    clear_mm: float | None = None
    needs_mm: float = 0.0
    kind: int = 1
    face: str = ""
    measured_from_mm: float = 0.0
    begins_mm: float = 0.0

    @property
    def letter(self) -> str:
        """The letter that its kind bears on papers and drawings: a, b, ... z, aa, ab.

        >>> [HoleMark("dia 9", 9, "", ZERO, 0, 1, False, kind=kind).letter for kind in (1, 26, 27)]
        ['a', 'z', 'aa']
        """
        return counting_letter(self.kind - 1).lower()

    @property
    def after_bending(self) -> bool:
        """Whether it is better drilled once the bar is bent."""
        return self.clear_mm is not None and self.clear_mm < self.needs_mm - 1e-6


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """Everything later rooms need to know of one part.

    `developed` is the neutral-axis length; `cut` the length to saw, long point
    to long point. `end_cut_area_mm2` is the area sawn at each end, mitre included. `twists`:
    the point of the centreline that a twist begins at, it ends at the next, and its degrees. `runs`: the part
    in tangent form, straights and curves in order. `level_mm`: envelope as the part lies level on its longest
    leg, None without a straight. `end_notes`: how its ends are worked; `shape_notes`: what its scrolls
    are measured to, and what its twists take.
    `mitre_mm`: how far each short point lies back.
    """

    mark: str
    section: Section
    grade: Grade
    developed: Length
    cut: Length
    ends: tuple[End, End]
    bends: tuple[BendAnswer, ...]
    mass_kg: float
    area_m2: float
    envelope_mm: tuple[float, float, float]
    end_cut_area_mm2: tuple[float, float]
    forge_heats: int = 0
    centreline_mm: tuple[tuple[float, float, float], ...] = ()
    twists: tuple[tuple[int, float], ...] = ()
    centre_of_gravity_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    straights_mm: tuple[float, ...] = ()
    mitre_mm: tuple[float, float] = (0.0, 0.0)
    mitres: Mitres | None = None
    level_mm: tuple[float, float, float] | None = None
    hole_marks: tuple[HoleMark, ...] = ()
    datum: str = "start"
    bend_order: tuple["OrderStep", ...] = ()
    order_note: str = ""
    problems: tuple[Problem, ...] = ()
    cautions: tuple[str, ...] = ()
    why: tuple[str, ...] = field(default=())
    runs: tuple[Run, ...] = ()
    end_notes: tuple[str, ...] = ()
    shape_notes: tuple[str, ...] = ()
    pieces: tuple[Length, ...] = ()

    @property
    def sawn_as(self) -> tuple[Length, ...]:
        """What is sawn for one part: itself, or the pieces that it is welded together from, in order."""
        return self.pieces or (self.cut,)

    @property
    def welds_at(self) -> tuple[Length, ...]:
        """Where those pieces are welded together, on the straight bar from its start."""
        return tuple(Length(nm) for nm in accumulate(piece.nm for piece in self.sawn_as[:-1]))

    @property
    def floor_notes(self) -> tuple[str, ...]:
        """What the floor must be told of the whole part: its shape, its ends, what it is welded from."""
        welded = [problem.message for problem in self.problems if problem.code == "spliced"]
        return (*self.shape_notes, *self.end_notes, *welded)

    @property
    def bench_notes(self) -> tuple[str, ...]:
        """What its bends need at the bench, for a floor paper that does not list the problems."""
        return tuple(problem.message for problem in self.problems if problem.code in _AT_THE_BENCH)

    @property
    def grade_in_full(self) -> str:
        """Standard and sub-grade as papers name the metal of this bar."""
        return self.grade.paper_of(self.section)
