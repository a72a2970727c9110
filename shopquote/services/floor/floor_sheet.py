"""The data of a job's floor sheets: bars to saw, bends, welds, holes and worked ends."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from shopquote.calc.bar.part_answer import PartAnswer, shown_pulls
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, Use
from shopquote.calc.units import Length, Unit


@dataclass(frozen=True, slots=True)
class SawnPiece:
    """Pieces of one mark from one bar, sawn at one setting of the stop; `ends` is empty if square."""

    mark: str
    count: int
    length: Length
    ends: str


@dataclass(frozen=True, slots=True)
class SawBar:
    """Bars `first` to `last` in the order of sawing, all cut the same way.

    `source` says where they come from; `piece` is the rack piece's code, empty for other bars. `offcut` is
    what is left after the last cut, `kept` or scrapped. `sawn`: the supplier cut it to length.
    `grade_in_full` is the grade with its standard.
    """

    first: int
    last: int
    section_key: str
    bar: str
    grade: str
    length: Length
    source: str
    piece: str
    place: str
    heat: str
    cuts: tuple[SawnPiece, ...]
    offcut: Length
    kept: bool
    sawn: bool = False
    grade_in_full: str = ""

    @property
    def count(self) -> int:
        """Number of bars."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class FloorBend:
    """One bend for the person at the bender: where to mark the bar, which former, how far to pull (degrees).

    `number` counts along the bar; `before` is what to do with the bar first. Small bends have their own
    `marks`, `pulls` and `formers`, and the bar is turned by `turn` degrees between them. `setting` says how
    to set the bar on this bender: what the mark is, what is clamped, where a stop stands. `between` is the
    range of the pull, in words. `told` says how a bend is made that no bender makes; `hot`: in the fire,
    without over-bend; `unmade`: cold, and no bender on file makes it; `rolled`: radii in the rolls and
    released, in place of a pull.
    """

    number: int
    before: str
    mark: Length
    mark_at: str
    angle: float
    over_bend_to: float
    inside_radius: Length
    former: Length | None
    bender: str
    hits: int
    marks: tuple[Length, ...]
    source: str
    between: str = ""
    pulls: tuple[float, ...] = ()
    formers: tuple[Length, ...] = ()
    turn: float = 0.0
    setting: str = ""
    stop: Length | None = None
    stop_end: str = ""
    told: str = ""
    hot: bool = False
    unmade: bool = False
    rolled: str = ""

    @property
    def pulled_alike(self) -> bool:
        """Whether all small bends are pulled to the same angle, as rounded on the sheet."""
        return len(set(shown_pulls(self.pulls))) < 2


@dataclass(frozen=True, slots=True)
class BendPart:
    """A bent part with its bends in order; marks are from the datum stated on the sheet.

    A part that is only twisted or forged has no bends; `forging` says what is drawn out and twisted.
    """

    mark: str
    name: str
    count: int
    bar: str
    grade: str
    cut: Length
    shape: str
    line_mm: tuple[tuple[float, float, float], ...]
    bends: tuple[FloorBend, ...]
    order_note: str
    problems: tuple[str, ...]
    forging: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FloorPart:
    """A part to make: number of pieces in the job, bar and cut length."""

    mark: str
    name: str
    count: int
    bar: str
    grade: str
    cut: Length


@dataclass(frozen=True, slots=True)
class FloorWeld:
    """Welds of one kind in the job; sizes as typed."""

    kind: str
    leg: str
    length: str
    count: int
    process: str
    note: str


@dataclass(frozen=True, slots=True)
class FloorHole:
    """Holes of one size in a part: number per piece and in the job, and what else is done to them.

    `drill` is the drill's size if the hole is named by its thread; `letter` is its name on the drawing,
    `places` its marks on the straight bar.
    """

    mark: str
    dia: str
    each: int
    total: int
    works: str
    drill: str = ""
    letter: str = ""
    places: str = ""


@dataclass(frozen=True, slots=True)
class WorkedEnds:
    """Ends worked in one way: number per piece and in the job."""

    work: str
    bar: str
    mark: str
    each: int
    total: int


@dataclass(frozen=True, slots=True)
class FloorSheet:
    """All data of a job's floor sheets; there is no money in it.

    `spec` and `answers` (parts by mark) are for drawings; `page` is the address that printed codes open.
    """

    job: str
    revision: int
    serial: str
    made_on: date
    shop: str
    paper: str
    title: str
    customer: str
    sets: int
    due: date | None
    unit: Unit
    use: Use
    datum: str
    cautions: tuple[str, ...]
    parts: tuple[FloorPart, ...]
    saw: tuple[SawBar, ...]
    bends: tuple[BendPart, ...]
    welds: tuple[FloorWeld, ...]
    holes: tuple[FloorHole, ...]
    worked_ends: tuple[WorkedEnds, ...]
    bought: tuple[tuple[str, int], ...]
    outside: tuple[str, ...]
    finish: str
    minutes: tuple[tuple[str, Decimal], ...]
    spec: JobSpec
    answers: Mapping[str, PartAnswer]
    making: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    part_remarks: tuple[str, ...] = ()
    page: str = ""
