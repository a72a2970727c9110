"""What the bar room answers about one part; read by takeoff, pricing and sheets."""

from dataclasses import dataclass, field

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import End
from shopquote.calc.units import Length


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


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """Everything later rooms need to know of one part.

    `developed` is the neutral-axis length; `cut` the length to saw, long point
    to long point. `end_cut_area_mm2` is the area sawn at each end, mitre included.
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
    centre_of_gravity_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    problems: tuple[Problem, ...] = ()
    cautions: tuple[str, ...] = ()
    why: tuple[str, ...] = field(default=())
