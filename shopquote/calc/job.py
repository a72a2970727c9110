"""The checked content of a job file as plain values: parts, holes, welds, bought items, subcontract work.

Lengths keep the text they were typed in (`Measure`). Money is Decimal in the shop's currency. Begin at
`JobSpec`.
"""

from datetime import date
from decimal import Decimal
from typing import Literal, get_args

from shopquote.calc.bar.end_words import End
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure, Unit

Use = Literal["general", "guarding", "structural", "lifting"]
Dims = Literal["outside", "inside", "centre", "tangent"]
BendAxis = Literal["easy", "hard"]
EndWork = Literal["turned", "threaded"]
WeldKind = Literal["fillet", "groove", "tack", "plug"]
JointKind = Literal["rivet", "screw", "pin", "halved", "tenon", "collar", "forge weld"]
OutsideBasis = Literal["kg", "m2", "each", "lot"]
LabourPer = Literal["set", "job"]
Rolled = Literal["along", "across"]
Toes = Literal["out", "in"]
HoleFace = Literal["inside", "outside", "left", "right"]
Fitting = Literal["fitted", "screwed", "bagged"]
Coating = Literal["zinc", "other"]

USES: tuple[Use, ...] = get_args(Use)
DIMS: tuple[Dims, ...] = get_args(Dims)
BEND_AXES: tuple[BendAxis, ...] = get_args(BendAxis)
WELD_KINDS: tuple[WeldKind, ...] = get_args(WeldKind)
JOINT_KINDS: tuple[JointKind, ...] = get_args(JointKind)
OUTSIDE_BASES: tuple[OutsideBasis, ...] = get_args(OutsideBasis)
LABOUR_PERS: tuple[LabourPer, ...] = get_args(LabourPer)
ROLLED: tuple[Rolled, ...] = get_args(Rolled)
TOES: tuple[Toes, ...] = get_args(Toes)
HOLE_FACES: tuple[HoleFace, ...] = get_args(HoleFace)
COATINGS: tuple[Coating, ...] = get_args(Coating)
FITTINGS: tuple[Fitting, ...] = get_args(Fitting)

# Operations in the order in which a piece passes them, which is also the order in which jobs are loaded.
OPERATIONS = (
    "office", "sawing", "bending", "drilling", "tapping", "turning", "milling", "keyway", "knurling",
    "surface-grinding", "forging", "fit-up", "welding", "grinding", "finishing", "assembly", "checking",
    "packing", "delivery", "site",
)  # fmt: skip

# Short names of ISO 4063: 111 manual metal arc, 131 MIG, 135 MAG, 136 flux-cored with active gas, 141 TIG.
WELD_PROCESSES = ("MMA", "MIG", "MAG", "FCAW", "TIG")

# Other names of the same processes, offered as "did you mean": AWS letters, ISO 4063 numbers, shop talk.
OTHER_PROCESS_NAMES = {
    "SMAW": "MMA", "STICK": "MMA", "ARC": "MMA", "111": "MMA", "GMAW": "MAG", "131": "MIG", "135": "MAG",
    "FLUX-CORED": "FCAW", "136": "FCAW", "GTAW": "TIG", "141": "TIG",
}  # fmt: skip

FINISH_KINDS = ("none", "oil", "wax", "paint", "powder")
MOST_ENDS = 2  # of one piece


@dataclass(frozen=True, slots=True)
class HoleSpec:
    """Holes of one kind in one piece: either `dia` or `thread` says their size.

    `dia` of a tapped hole is the drill's size; a `thread` gives the drill by its standard. `at` is measured
    along the finished part from the start of leg number `leg`, by the part's `dims` convention; `across` from
    the bar's centre line, negative on the other side. There is a hole at each pair of an `at` and an
    `across`. `count` is the number of holes in one piece, whether places are given or not. `slot` is the
    overall length of a slot, `deep` the depth of a blind hole, `counterbore` the counterbore's diameter,
    `countersink` the countersink's, twice the hole's where only `countersunk` is given; `along` is a hole in
    the end of the bar, along its axis; `drifted` spreads the metal and removes none. Holes of two parts with
    the same `pattern` must fit one another. `walls` is how many walls of a hollow bar or legs of an angle are
    drilled: 1, or 0 for all that the drill meets. `face` is the face that it is drilled from, seen along the
    bar from its start: toward the inside of the first bend, away from it, left or right of it; empty for the
    widest.
    """

    dia: Measure | None = None
    count: int = 1
    tapped: bool = False
    countersunk: bool = False
    thread: str = ""
    leg: int = 1
    at: tuple[Measure, ...] = ()
    across: tuple[Measure, ...] = ()
    slot: Measure | None = None
    deep: Measure | None = None
    along: bool = False
    reamed: bool = False
    drifted: bool = False
    counterbore: Measure | None = None
    countersink: Measure | None = None
    walls: int = 0
    pattern: str = ""
    note: str = ""
    face: str = ""

    @property
    def size(self) -> str:
        """The size as typed, for papers: "M8" or "dia 6.5"."""
        return f"dia {self.dia.text}" if self.dia is not None else self.thread

    @property
    def places(self) -> tuple[tuple[Measure, Measure | None], ...]:
        """Every pair of `at` and `across` (None: on the centre line); empty where no place is given."""
        return tuple((at, across) for at in self.at for across in (self.across or (None,)))

    @property
    def is_tapped(self) -> bool:
        """Whether it is tapped, with a named thread or without."""
        return self.tapped or bool(self.thread)

    @property
    def is_countersunk(self) -> bool:
        """Whether it is countersunk, with a given diameter or without."""
        return self.countersunk or self.countersink is not None

    @property
    def works(self) -> tuple[str, ...]:
        """What is done to the hole besides drilling, in trade words without sizes: "tapped", "blind"."""
        said = (
            ("tapped", self.is_tapped), ("countersunk", self.is_countersunk),
            ("counterbored", self.counterbore), ("reamed", self.reamed), ("drifted", self.drifted),
            ("slotted", self.slot), ("blind", self.deep), ("in the end", self.along),
            ("one wall", self.walls == 1),
        )  # fmt: skip
        words = tuple(word for word, is_so in said if is_so)
        return (*words, f"from the {self.face} face") if self.face else words

    @property
    def sized_works(self) -> tuple[str, ...]:
        """Like `works`, with the sizes as typed, for floor papers: "slotted 20 long", "blind 12 deep"."""
        deep = f" x {self.dia.text} deep" if self.dia else ""  # a counterbore is as deep as its hole is wide
        sizes = {
            "countersunk": ("countersunk to {}", self.countersink),
            "counterbored": (f"counterbored {{}}{deep}", self.counterbore),
            "slotted": ("slotted {} long", self.slot),
            "blind": ("blind {} deep", self.deep),
        }
        told = ((work, *sizes.get(work, ("", None))) for work in self.works)
        return tuple(words.format(size.text) if size is not None else work for work, words, size in told)


@dataclass(frozen=True, slots=True)
class PartSpec:
    """One part of a set: straight (`length`) or bent (`shape`), never both.

    `turned` and `threaded` are how many ends of one piece are turned down and threaded; one end may be both.
    Forms in `ends` are counted too, and the larger number holds. A thread in a hole is not counted: that hole
    is tapped. `hold` is extra length to grip while bending: cut with the piece, sawn off afterwards, waste.
    `heats` is how often one piece is heated, where the shop knows better than the program. `splice` allows
    the part to be welded together from pieces; `width` is that of a piece of sheet or mesh. `note` is for the
    shop alone, `drawing` the drawing's number. `rolled` is the direction of rolling: along the piece, as in
    bar, or across it, as may be in a strip sheared from sheet. `toes` says whether the toes of an angle, or
    the stem of a tee, point out of the bend or into it.
    """

    mark: str
    name: str
    per_set: int
    bar: str
    grade: str
    dims: Dims = "outside"
    shape: str | None = None
    length: Measure | None = None
    bend_axis: BendAxis = "easy"
    ends: tuple[End, End] = (End(), End())
    holes: tuple[HoleSpec, ...] = ()
    one_heat: bool = False
    turned: int = 0
    threaded: int = 0
    drawing: str = ""
    note: str = ""
    heats: int | None = None
    hold: Measure | None = None
    splice: bool = False
    width: Measure | None = None
    rolled: Rolled = "along"
    toes: Toes = "out"

    @property
    def worked_ends(self) -> tuple[tuple[EndWork, int], ...]:
        """Work on the ends of one piece with the number of ends: ("turned", 2), ("threaded", 1)."""
        ends: tuple[tuple[EndWork, int], ...] = (
            ("turned", max(self.turned, sum(end.has("turn") for end in self.ends))),
            ("threaded", max(self.threaded, sum(end.has("thread") for end in self.ends))),
        )
        return tuple((work, count) for work, count in ends if count)

    @property
    def worked_words(self) -> tuple[str, ...]:
        """`worked_ends` in words: "both ends turned", "one end threaded"."""
        return tuple(
            f"{'both ends' if count == MOST_ENDS else 'one end'} {work}" for work, count in self.worked_ends
        )

    @property
    def hold_words(self) -> str:
        """What the floor does with the extra length to grip; "" where there is none."""
        if self.hold is None:
            return ""
        return f"cut {self.hold.text} longer to hold at the finish end; saw it off after bending"


@dataclass(frozen=True, slots=True)
class WeldSpec:
    """Welds of one kind and size in a set.

    `leg` is the leg of a fillet or tack (typed as such or as its throat, "a4"), the depth of a groove weld,
    the diameter of a plug; `length` is that of each weld, of a plug the depth filled. `joins` are the marks
    of the parts that it joins, `joints` how many joints are fitted up (None: one for each weld), `passes` the
    number of runs in which the weld is built up. `at` are places such as "A start", for drawings.
    """

    kind: WeldKind
    leg: Measure
    length: Measure
    count: int
    process: str
    note: str = ""
    joins: tuple[str, ...] = ()
    joints: int | None = None
    passes: int = 1
    at: tuple[str, ...] = ()

    @property
    def size_words(self) -> str:
        """The weld's size in words: "leg 6", or "throat 4" where it was typed as a throat."""
        letter, plain = self.leg.text[:1], self.leg.text[1:]
        return f"{_LETTERS[letter]} {plain}" if letter in _LETTERS else f"leg {self.leg.text}"


_LETTERS = {"a": "throat", "z": "leg"}


def iso_weld_size(kind: str, typed: str) -> str:
    """A weld's size in the notation of ISO 2553: a fillet's leg with z, its throat with a; others as typed.

    >>> iso_weld_size("fillet", "6"), iso_weld_size("fillet", "a4"), iso_weld_size("groove", "3")
    ('z6', 'a4', '3')
    """
    return f"z{typed}" if kind == "fillet" and typed[:1] not in _LETTERS else typed


@dataclass(frozen=True, slots=True)
class JointSpec:
    """Joints of one kind in a set that are not arc welded.

    `dia` is the diameter of a rivet, screw or pin, `grip` the thickness that it holds together; `joins` are
    the marks of the parts. A collar and a forge weld are made at forging heat.
    """

    kind: JointKind
    count: int
    dia: Measure | None = None
    grip: Measure | None = None
    joins: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class BoughtSpec:
    """A bought item of a set; `unit_cost` in the shop's currency.

    `fitting` is one of `FITTINGS`: fitted (also when empty), screwed in, or bagged and handed over.
    """

    name: str
    per_set: int
    unit_cost: Decimal
    fitting: str = ""


@dataclass(frozen=True, slots=True)
class OutsideSpec:
    """Subcontract work, charged per kg, per m2, per assembly or for the lot; money in the shop's currency.

    `coating`: "zinc" where the parts are hot-dip galvanised, "other" where not; empty: decided by `name`.
    `carriage` is the cost of taking the parts there and back; None: the shop's usual charge.
    """

    name: str
    basis: OutsideBasis
    rate: Decimal
    minimum: Decimal = Decimal(0)
    coating: str = ""
    carriage: Decimal | None = None

    @property
    def is_zinc(self) -> bool:
        """Whether it is hot-dip galvanising: by `coating`, else by English or German stems in `name`."""
        if self.coating:
            return self.coating == "zinc"
        name = self.name.casefold()
        return any(stem in name for stem in ("galvan", "verzink", "hot-dip", "hot dip"))


@dataclass(frozen=True, slots=True)
class LabourSpec:
    """Minutes added by hand to one of `OPERATIONS`, for each set or once for the job."""

    operation: str
    minutes: Decimal
    per: LabourPer


@dataclass(frozen=True, slots=True)
class FinishSpec:
    """The finish that the shop itself puts on: one of `FINISH_KINDS`, in so many coats."""

    kind: str
    coats: int = 1


@dataclass(frozen=True, slots=True)
class SiteSpec:
    """Work on site: `hours` of fitting for each of `people`, who all travel on every journey.

    `distance` is one way, in kilometres, or in miles for a job in inches; a journey is there and back.
    `cost` is paid besides: hired gear, tolls, lodging.
    """

    hours: Decimal
    people: int = 1
    distance: Decimal = Decimal(0)
    journeys: int = 1
    cost: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class StepSpec:
    """One step in the order of making: what is done, by which operation, to parts `marks` (empty: all)."""

    text: str
    operation: str = ""
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TemplateSpec:
    """A jig or template made once for the job; work by the standards in `replaces` is then not counted."""

    name: str
    minutes: Decimal
    cost: Decimal = Decimal(0)
    replaces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobSpec:
    """A whole job file, checked: `sets` complete sets, each of `assemblies` identical assemblies.

    `breaks` are quantities of sets to price side by side. `description` is for the customer, `note` for the
    shop; `enquiry` is the customer's own number.
    """

    title: str
    customer: str
    sets: int
    units: Unit
    use: Use = "general"
    due: date | None = None
    breaks: tuple[int, ...] = ()
    parts: tuple[PartSpec, ...] = ()
    welds: tuple[WeldSpec, ...] = ()
    bought: tuple[BoughtSpec, ...] = ()
    outside: tuple[OutsideSpec, ...] = ()
    labour: tuple[LabourSpec, ...] = ()
    finish: FinishSpec | None = None
    steps: tuple[StepSpec, ...] = ()
    templates: tuple[TemplateSpec, ...] = ()
    joints: tuple[JointSpec, ...] = ()
    site: SiteSpec | None = None
    description: str = ""
    note: str = ""
    drawing: str = ""
    enquiry: str = ""
    assemblies: int = 1

    @property
    def repeats(self) -> int:
        """How often work of no one part is done in a set: per assembly, or per piece of a loose set."""
        if self.is_joined:
            return self.assemblies
        return sum(part.per_set for part in self.parts) or 1

    @property
    def is_joined(self) -> bool:
        """Whether the parts are delivered joined into assemblies rather than loose."""
        return bool(self.welds or self.joints)

    @property
    def is_galvanised(self) -> bool:
        """Whether any subcontract work hot-dip galvanises the parts."""
        return any(work.is_zinc for work in self.outside)

    def quantity(self, part: PartSpec) -> int:
        """Pieces of a part in the whole job."""
        return self.sets * part.per_set
