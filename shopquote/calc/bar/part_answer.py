"""The calculated result of one part (`PartAnswer`), for takeoff, pricing and papers."""

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
    """Something that a person must decide; `code` never changes, `message` is plain words."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class BendMark:
    """Position of one bend on the straight bar, from the shop's datum."""

    start: Length
    centre: Length
    end: Length


@dataclass(frozen=True, slots=True)
class BendAnswer:
    """The bending instructions of one bend.

    `angle` is the signed angle of bend in degrees; `over_bend_to` the angle to pull to before release; `hits`
    the number of small bends (1 for a plain bend). `is_3d`: the bending plane was turned since the previous
    bend. `kind` is its word in the shape, `how` the way of making it: former, rolls or small bends. `leg`:
    number of the leg before it.

    `moment_nm` is the moment in N m at the grade's greatest strength; `hand_force_n` includes the friction
    allowance. `strain_limit` and `least_radius` are the grade's. `held_radius`: radius of a former that would
    leave exactly the radius asked for; `left_radius`: what the chosen former leaves; `stress_mpa`: the flow
    stress there. `gap_mm`: greatest deviation of the bend from the shape asked for. `over_bend_between`:
    least and greatest angle that it may have to be pulled to, `hit_between` the same for each small bend.

    Small bends have one value each along the bar: `hit_marks` (their centres), `hit_angles`,
    `hit_over_bends`, `hit_formers`, the radii that these leave, stress and K. `hit_turn`: degrees that the
    bar is turned between them, half of it before the first. `hit_advance`: where all steps are equal;
    `hit_angle` and `hit_over_bend` are means.

    `works_by`: how the chosen bender works. `bender_mark`: position set to the bender's mark, its offset
    included, as in `hit_bender_marks`. `grip_end`: end of the bar that is clamped, "" for none. `stop`:
    length from the mark to the end `stop_end`, for a stop. Positions are from the shop's datum along the
    straight bar. `by`: way of making; `told`: instructions where it is no bender; `hot`: made at forging
    heat. `unmade`: cold, and no bender tried makes it; `over_bend_to` is then for a former of `held_radius`.
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
        """Least and greatest angle that it may have to be pulled to, rounded outward to 0.5°; "" for none.

        For small bends how much less or more each may need, rounded outward to 0.1°.
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


# Small bends whose angles differ by at most this, in degrees, are shown as equal.
ALIKE_DEGREES = 0.05
# Codes of problems that are solved at the bench and so are repeated on floor papers.
_AT_THE_BENCH = ("rolled-end", "flattens", "edge-buckles", "hook-crosses", "laps-itself", "bright-bar")


def shown_pulls(pulls: Sequence[float]) -> tuple[str, ...]:
    """Angles to pull small bends to, as sheets show them in degrees: equal ones to 0.01, others to 0.1.

    Roundings are carried over, so that the sum is never off by more than one rounding: the errors of a
    scroll's hundred bends would otherwise add up to degrees.

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
    """How the bender of a bend works, in words."""
    return _WORKS[bend.works_by]


def setting_words(bend: BendAnswer, unit: Unit, *, brief: bool = False) -> str:
    """How a bend is set up: how the bender works, what the mark is, what is clamped, where a stop goes.

    `brief` leaves out how the bender works, unless nothing else is to be said.

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
    """Radius and angle to which rolls press a curve, least and greatest, and those after springback.

    "" where no rolls make it. The bar springs back as it leaves the rolls, so there is no angle to pull to;
    its length does not change, so radius and angle change together.
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
    """One step of the bending order: which bend (from 1), which end goes in, how the bar is turned before it.

    `end`: "start" or "finish", the end of the bar that does not swing. `swap`: before this bend the bar is
    taken out and turned end for end, the same side up. `roll`: angle in degrees by which the bending plane
    moves about the bar, right-handed from start to finish; the bar itself is turned the other way. `way`: to
    which side a bender that bends both ways bends, seen along the bar towards the swinging side.
    """

    bend: int
    end: str
    swap: bool
    roll: float
    works_by: str = "draw"
    way: str = ""

    @property
    def grip(self) -> str:
        """The clamped end, which moves with a turning former and stands for a wiping arm; "" for none."""
        if self.works_by == "draw":
            return "finish" if self.end == "start" else "start"
        return self.end if self.works_by == "wipe" else ""

    @property
    def held_words(self) -> str:
        """Which end of the bar is clamped, or goes in first, in words.

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
        """How the bar is turned about its axis before the bend, in words; "" where it is not.

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
    """One hole with a position: `at` along the straight bar from its start, `across_mm` from the centre line.

    `clear_mm`: distance of its edge from the nearest bend, negative inside it, None without a bend next to
    its leg; `needs_mm`: the least distance. `kind`: number, from 1, of its spec in the part.
    `measured_from_mm`, `begins_mm`: where on the straight bar its leg is measured from, and where its
    straight begins.
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
        """The letter of its kind on papers and drawings: a, b, ... z, aa, ab.

        >>> [HoleMark("dia 9", 9, "", ZERO, 0, 1, False, kind=kind).letter for kind in (1, 26, 27)]
        ['a', 'z', 'aa']
        """
        return counting_letter(self.kind - 1).lower()

    @property
    def after_bending(self) -> bool:
        """Whether it is to be drilled after bending, being too near to a bend."""
        return self.clear_mm is not None and self.clear_mm < self.needs_mm - 1e-6


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """All results of one part.

    `developed` is the neutral-axis length; `cut` the sawn length, long point to long point.
    `end_cut_area_mm2`: area sawn at each end, mitre included. `mitre_mm`: distance of each short point from
    its long point along the bar. `centreline_mm`: points of the centre line; `twists`: index of the point at
    which a twist begins (it ends at the next) and its degrees. `runs`: the part in tangent form. `level_mm`:
    overall size lying level on its longest leg. `end_notes`: how its ends are worked; `shape_notes`: how its
    scrolls are measured, and the bar that its twists take. `pieces`: lengths that it is welded together from,
    empty where it is one piece.
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
        """The lengths sawn for one part: one, or the pieces from which it is welded together, in order."""
        return self.pieces or (self.cut,)

    @property
    def welds_at(self) -> tuple[Length, ...]:
        """Positions of the splice welds along the straight bar from its start."""
        return tuple(Length(nm) for nm in accumulate(piece.nm for piece in self.sawn_as[:-1]))

    @property
    def floor_notes(self) -> tuple[str, ...]:
        """Notes on the whole part for every floor paper: its shape, its ends, its splices."""
        welded = [problem.message for problem in self.problems if problem.code == "spliced"]
        return (*self.shape_notes, *self.end_notes, *welded)

    @property
    def bench_notes(self) -> tuple[str, ...]:
        """Problems that are solved at the bench, for floor papers that do not list all problems."""
        return tuple(problem.message for problem in self.problems if problem.code in _AT_THE_BENCH)

    @property
    def grade_in_full(self) -> str:
        """Standard and sub-grade of this bar's metal, for papers."""
        return self.grade.paper_of(self.section)
