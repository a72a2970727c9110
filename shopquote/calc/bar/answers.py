"""What the bar room answers about one part; read by takeoff, pricing and sheets."""

from dataclasses import dataclass, field
from math import ceil, floor

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import End
from shopquote.calc.units import ZERO, Length


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
    leave exactly the radius asked for; `left_radius`: what the chosen former leaves. Small bends:
    `hit_advance` along the bar, `hit_angle` each, `hit_over_bend` to pull to. over_bend_between: degrees
    that it may have to be pulled to at least and at most. `moment_nm` is at the grade's most
    strength. `bender_mark`:
    what is set to the mark of the chosen bender, its offset included, from the datum of the shop.
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
    bender_mark: Length | None = None
    bender_mark_at: str = "start"
    over_bend_between: tuple[float, float] | None = None

    @property
    def pull_range(self) -> str:
        """Least and most that it may have to be pulled to, to the half degree outward; or nothing."""
        if self.over_bend_between is None:
            return ""
        low, high = sorted(map(abs, self.over_bend_between))
        return f"between {floor(low * 2) / 2:g} and {ceil(high * 2) / 2:g}"


@dataclass(frozen=True, slots=True)
class OrderStep:
    """One step of the bend order: which bend (from 1), which end goes in, how the bar is turned before.

    `end`: "start" or "finish", the end of the bar held in the bender; `swap`: the bar is
    taken out and turned end for end before this bend; `roll`: degrees it is turned about its own axis.
    """

    bend: int
    end: str
    swap: bool
    roll: float


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """Everything later rooms need to know of one part.

    `developed` is the neutral-axis length; `cut` the length to saw, long point
    to long point. `end_cut_area_mm2` is the area sawn at each end, mitre included. `twists`:
    the point of the centreline that a twist begins at, it ends at the next, and its degrees. `runs`: the part
    in tangent form, straights and curves in order.
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
    datum: str = "start"
    bend_order: tuple["OrderStep", ...] = ()
    order_note: str = ""
    problems: tuple[Problem, ...] = ()
    cautions: tuple[str, ...] = ()
    why: tuple[str, ...] = field(default=())
    runs: tuple[Run, ...] = ()
