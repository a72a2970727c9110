"""What the floor sheets of a job show: bars to saw, bends to make, welds, holes and worked ends."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from shopquote.calc.bar.part_answer import PartAnswer, shown_pulls
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, Use
from shopquote.calc.units import Length, Unit


@dataclass(frozen=True, slots=True)
class SawnPiece:
    """Pieces of one mark from one bar, at one setting of the stop. `ends` is empty when both are square."""

    mark: str
    count: int
    length: Length
    ends: str


@dataclass(frozen=True, slots=True)
class SawBar:
    """Bars `first` to `last` of the sawing order, cut alike. `source` is where they come from.

    `piece` is the rack piece's code, empty for other bars. `offcut` is what is
    left before the last kerf; it is kept or scrap. `sawn`: the supplier cut it to length. `grade_in_full`
    names the grade's standard.
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
        """Bars cut so."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class FloorBend:
    """One bend at the bender: where the bar is marked, what former, how far to pull.

    `number` counts along the bar; `before` says what is done with the bar first.
    Small bends have their own `marks`, `pulls` and `formers`, the bar turned by `turn` degrees between them.
    `setting` tells how the bar is set for this bender: what the mark is, what is clamped,
    where a stop stands.
    `between` is the least and most that it may take, in words. `told`: how it is made where no bender
    makes it; `hot`: in the fire, so that nothing is pulled past its angle; `unmade`: cold, and no bender of
    those on file makes it; `rolled`: the radii in rolls and off them, in place of a pull.
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
        """Whether all small bends are pulled to one angle, as the sheet shows it."""
        return len(set(shown_pulls(self.pulls))) < 2


@dataclass(frozen=True, slots=True)
class BendPart:
    """A bent part with its bends in order, marks from the datum stated on the sheet.

    One that is only twisted or forged has no bends; `forging` says what is drawn out and twisted.
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
    """A part to make: how many pieces in the whole job, of which bar, sawn how long."""

    mark: str
    name: str
    count: int
    bar: str
    grade: str
    cut: Length


@dataclass(frozen=True, slots=True)
class FloorWeld:
    """Welds of one kind in the whole job; sizes as typed."""

    kind: str
    leg: str
    length: str
    count: int
    process: str
    note: str


@dataclass(frozen=True, slots=True)
class FloorHole:
    """Holes of one size in a part: per piece and in the whole job, and what else is done to them.

    `drill` is the drill's size where the hole is named by its thread; `letter` and `places` are its name on
    the drawing and its marks on the straight bar.
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
    """Ends turned or threaded: of each piece, and in the whole job."""

    work: str
    bar: str
    mark: str
    each: int
    total: int


@dataclass(frozen=True, slots=True)
class FloorSheet:
    """Everything that the floor sheets of a job show; money is nowhere on them.

    `spec` and `answers` are the job and its parts by mark, for drawings; `page` is where printed codes open.
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
