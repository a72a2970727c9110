"""The fields of every table of a job: key, kind, heading and help text.

Job file, workbook, database mapping, comparison and JSON all follow from these tables. A field has only two
other places: the dataclass (`calc/job.py`: type and default) and the column (`records/jobs.py`).
`tests/reading/test_job_fields.py` takes every field through every direction and names a place that lacks it.
"""

from collections.abc import Collection, Iterator
from dataclasses import MISSING, dataclass, field, fields
from decimal import Decimal
from functools import cached_property
from typing import Any

from shopquote.calc.job import (
    BEND_AXES,
    COATINGS,
    DIMS,
    FINISH_KINDS,
    FITTINGS,
    HOLE_FACES,
    JOINT_KINDS,
    LABOUR_PERS,
    MOST_ENDS,
    OPERATIONS,
    OTHER_PROCESS_NAMES,
    OUTSIDE_BASES,
    ROLLED,
    TOES,
    USES,
    WELD_KINDS,
    WELD_PROCESSES,
    BoughtSpec,
    FinishSpec,
    HoleSpec,
    JobSpec,
    JointSpec,
    LabourSpec,
    OutsideSpec,
    PartSpec,
    SiteSpec,
    StepSpec,
    TemplateSpec,
    WeldSpec,
)
from shopquote.reading import kinds
from shopquote.reading.job_kinds import NEEDED, Choice, Day, FieldKind, Flag, GradeName, Marks, Names, Text
from shopquote.reading.job_numbers import BreakCounts, amount, minutes, number, whole
from shopquote.reading.job_sizes import Ends, Size, Sizes, WeldSize

# Limits of one job file, stated in the README: far above a small shop's jobs, and low enough that every
# stored number fits its column and every run is short. Texts are limited in characters.
MOST_SETS = 100_000
MOST_BREAKS = 20
MOST_PER_SET = 100_000
LONGEST_MARK = 20
LONGEST_SHAPE = 4_000
LONGEST_NOTE = 2_000
MOST_MINUTES = Decimal(1_000_000)
MINUTE_DIGITS = 3
MOST_COATS = 20
MOST_PASSES = 50
MOST_HEATS = 200
MOST_PLACES = 200  # values of `at`, and of `across`, of one kind of hole
MOST_MARKS = 200
LONGEST_PLACE = 60


@dataclass(frozen=True)
class Field:
    """One field of a table: key in the job file, kind, heading and help text in the workbook.

    `width` is that of its workbook column, in characters. `always`: written even where the value is the
    default. `same_as` is the key of an earlier field whose value is this one's default.
    """

    key: str
    kind: FieldKind
    heading: str
    help: str
    width: int = 14
    also: str = ""  # heading of a second column, where one value takes two
    always: bool = False
    same_as: str = ""

    @property
    def headings(self) -> tuple[str, ...]:
        """Its column's heading, or both."""
        return (self.heading, self.also) if self.also else (self.heading,)

    @property
    def told_as(self) -> str:
        """The name of the field in faults of a workbook: its headings."""
        return " and ".join(self.headings)


@dataclass(frozen=True)
class FieldTable:
    """One table of a job file, which is also a tab of the workbook and a database table.

    Attributes:
        name: key in the job file.
        tab: title of the workbook's tab.
        attribute: attribute of `JobSpec` (for holes of `PartSpec`) and of the revision's row that holds the
            rows.
        spec: dataclass of one row.
        columns: its fields.
        help: what the workbook's notes say of the tab.
        most: greatest number of rows.
        named_by: key of the field that identifies a row when revisions are compared; "": its position does.
        by_key: the fields by key.
    """

    name: str
    tab: str
    attribute: str
    spec: type
    columns: tuple[Field, ...]
    help: str = ""
    most: int = 1  # rows
    named_by: str = ""
    by_key: dict[str, Field] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Index the fields."""
        # By object, since the dataclass is frozen.
        object.__setattr__(self, "by_key", {column.key: column for column in self.columns})

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys that a row may have: those of its fields, and `holes` in a part."""
        inner = tuple(table.name for table in TABLES if table.inside is self) if self is PART else ()
        return (*self.by_key, *inner)

    @property
    def inside(self) -> "FieldTable | None":
        """The table whose rows hold this one's: holes are in parts."""
        return PART if self is HOLE else None

    @property
    def told_as(self) -> dict[str, str]:
        """Headings by key, as faults of a workbook name them."""
        return {column.key: column.told_as for column in self.columns}

    @cached_property
    def defaults(self) -> dict[str, Any]:
        """Default of each field by key, from the dataclass; `NEEDED` where the field must be given."""
        known = {one.name: one.default for one in fields(self.spec)}
        return {key: NEEDED if known.get(key, MISSING) is MISSING else known[key] for key in self.by_key}

    def is_needed(self, key: str) -> bool:
        """Whether a field must be given."""
        return self.defaults[key] is NEEDED

    def rows_of(self, spec: JobSpec) -> tuple[Any, ...]:
        """This table's rows in a job as a tuple; for holes those of all parts."""
        if self is HOLE:
            return tuple(hole for part in spec.parts for hole in part.holes)
        held = getattr(spec, self.attribute)
        if self.most > 1:
            return tuple(held)
        return () if held is None else (held,)

    def written(self, row: Any) -> Iterator[tuple[Field, Any]]:
        """The fields of a row to be written, with their values: all but those at their default."""
        for column in self.columns:
            value = getattr(row, column.key)
            told = value != self.defaults[column.key] or column.always
            if told and value is not None and not _follows(row, column.key):
                yield column, value

    def told(self, row: Any, said: Collection[str] = ()) -> list[str]:
        """The fields to be written as texts "heading value", without those whose key is in `said`."""
        return [
            f"{column.heading.lower()} {column.kind.shown(value)}"
            for column, value in self.written(row)
            if column.key not in said
        ]


def _follows(row: Any, key: str) -> bool:
    """Whether a value follows from others and is not written: a count of holes that have places."""
    return isinstance(row, HoleSpec) and key == "count" and bool(row.at)


_NOTE = Text(LONGEST_NOTE, lines=True)
_MINUTES = minutes(MOST_MINUTES, MINUTE_DIGITS)
_MARKS = Marks(MOST_MARKS, LONGEST_MARK)

JOB = FieldTable(
    "job", "Job", "", JobSpec,
    (
        Field("title", Text(), "Title", "what is made, in a few words"),
        Field("customer", Text(), "Customer", "name of the customer"),
        Field("sets", whole(1, MOST_SETS), "Sets", "how many complete sets are made"),
        Field("breaks", BreakCounts(MOST_BREAKS, MOST_SETS), "Quantities to price", "1, 4, 12; may be blank"),
        Field("units", Choice(("mm", "in")), "Units", "unit of every bare number: mm or in"),
        Field("use", Choice(USES), "Use", "its use; sets the cautions on the sheets", always=True),
        Field("due", Day(), "Due", "day on which it must be ready, such as 2027-03-01; may be blank"),
        Field("description", _NOTE, "Description", "what the customer reads on the quote; may be blank"),
        Field("note", _NOTE, "Note", "for the shop alone: on the floor's sheets, never on the customer's"),
        Field("drawing", Text(), "Drawing", "number and revision of the drawing: GA-12 rev B"),
        Field("enquiry", Text(), "Enquiry", "the customer's own number of the enquiry"),
        Field("assemblies", whole(1, MOST_PER_SET), "Assemblies", "like ones in a set; 1 when blank"),
    ),
    "What is written to the right of each word; one job a workbook.",
)  # fmt: skip

PART = FieldTable(
    "part", "Parts", "parts", PartSpec,
    (
        Field("mark", Text(LONGEST_MARK), "Mark", "short mark of the part, each once: A, B, C", 8),
        Field("name", Text(), "Name", "what the part is called", 18, same_as="mark"),
        Field("per_set", whole(1, MOST_PER_SET), "Per set", "pieces in one set", 8),
        Field("bar", Text(means=kinds.SECTION), "Bar",
              "round 12, square 12, flat 40 x 6, tube 25 x 2, box 40 x 20 x 2, angle 30 x 30 x 3", 16),
        Field("grade", GradeName(), "Grade", "grade of the metal, such as S275", 10),
        Field("dims", Choice(DIMS), "Legs measured", "outside (when blank), inside, centre or tangent"),
        Field("shape", Text(LONGEST_SHAPE, lines=True, means=kinds.SHAPE), "Shape",
              "of a bent piece: leg 300; bend 90 r 24; leg 600", 44),
        Field("length", Size(), "Straight length", "of a straight piece; then leave Shape blank", 15),
        Field("bend_axis", Choice(BEND_AXES), "Bend axis",
              "flats and angles: easy (when blank) or hard, on edge", 10),
        Field("ends", Ends(), "First end",
              "square (when blank), mitre 45, thread M12 x 40, turn 16 x 30 + chamfer 2, round, "
              "point 60 to 0, saddle 60.3, tenon 12 x 22, flatten 40 to 5, spread 30 to 40, "
              "head 20 x 8 or fishtail", 20, also="Last end"),
        Field("one_heat", Flag(), "One heat", "yes when all must come from one heat of metal", 9),
        Field("turned", whole(0, MOST_ENDS), "Ends turned",
              "ends of one piece turned down: 0 (when blank), 1 or 2", 9),
        Field("threaded", whole(0, MOST_ENDS), "Ends threaded",
              "ends of one piece threaded: 0 (when blank), 1 or 2; of a tapped hole see Holes", 10),
        Field("drawing", Text(), "Drawing", "number of the part's own drawing", 14),
        Field("note", _NOTE, "Note", "for the floor; never on the customer's papers", 30),
        Field("heats", whole(0, MOST_HEATS), "Heats", "times in the fire, where you know better", 8),
        Field("hold", Size(), "Hold", "more to grip than the part has: cut, then sawn off after bending", 8),
        Field("splice", Flag(), "Splice", "yes when it may be welded together from pieces", 8),
        Field("width", Size(), "Width", "of a piece of sheet, plate or mesh", 10),
        Field("rolled", Choice(ROLLED), "Rolled",
              "along the piece as bar is (when blank), or across it: a strip sheared from sheet", 9),
        Field("toes", Choice(TOES), "Toes",
              "of a bent angle, or the stem of a tee: out of the bend (when blank), or in it", 8),
    ),
    "A row a part.", 2_000, "mark",
)  # fmt: skip

HOLE = FieldTable(
    "holes", "Holes", "holes", HoleSpec,
    (
        Field("dia", Size(), "Diameter", "diameter of the hole, of a tapped one that of its drill", 10),
        Field("count", whole(1, MOST_PER_SET), "Holes a piece",
              "how many in one piece where no place is given; 1 when blank", 13, always=True),
        Field("tapped", Flag(), "Tapped", "yes or no (when blank)", 9),
        Field("countersunk", Flag(), "Countersunk", "yes or no (when blank)", 12),
        Field("thread", Text(40, means=kinds.THREAD), "Thread", "such as M8, in place of a diameter", 12),
        Field("leg", whole(1, 1_000), "Leg", "number of the leg that it is in; 1 when blank", 7),
        Field("at", Sizes(MOST_PLACES), "At", "from the start of that leg, measured as legs are: 30; 80", 16),
        Field("across", Sizes(MOST_PLACES, signed=True), "Across",
              "from the centre line, negative to the other side: 0 when blank, or -15; 15", 14),
        Field("slot", Size(), "Slot", "length over the ends of a slot as wide as the diameter", 8),
        Field("deep", Size(), "Deep", "depth of a hole that does not go through", 8),
        Field("along", Flag(), "In the end", "yes for a hole in the end of the bar, along its axis", 9),
        Field("reamed", Flag(), "Reamed", "yes or no (when blank)", 9),
        Field("drifted", Flag(), "Drifted", "yes when it is opened hot with a drift: no metal is taken", 9),
        Field("counterbore", Size(), "Counterbore", "diameter of the counterbore", 12),
        Field("countersink", Size(), "Countersink", "its diameter, where it is not twice the hole's", 12),
        Field("walls", whole(0, 2), "Walls", "1 for one wall of a hollow bar; 2 or blank for both", 8),
        Field("pattern", Text(40), "Pattern", "the same for holes of parts that must fit", 10),
        Field("note", Text(), "Note", "for the floor", 24),
        Field("face", Choice(HOLE_FACES), "Face",
              "inside, outside, left or right of the first bend, seen from the start; the widest when blank",
              9),
    ),
    "A row for each kind of hole in a part.", 50,
)  # fmt: skip

WELD = FieldTable(
    "weld", "Welds", "welds", WeldSpec,
    (
        Field("kind", Choice(WELD_KINDS), "Kind", "fillet, groove, tack or plug", 10),
        Field("leg", WeldSize(), "Leg", "leg (or throat: a4), depth of a groove, diameter of a plug", 10),
        Field("length", Size(), "Length", "of each weld", 10),
        Field("count", whole(1, MOST_PER_SET), "Per set", "welds in one set", 8),
        Field("process", Choice(WELD_PROCESSES, OTHER_PROCESS_NAMES), "Process", "how it is welded", 10),
        Field("note", Text(), "Note", "for the floor; may be blank", 40),
        Field("joins", _MARKS, "Joins", "marks of the parts that it joins: A; B", 12),
        Field("joints", whole(1, MOST_PER_SET), "Joints", "joints fitted up; each bead is one when blank", 8),
        Field("passes", whole(1, MOST_PASSES), "Passes", "runs that lay down the leg; 1 when blank", 8),
        Field("at", Marks(MOST_MARKS, LONGEST_PLACE, True), "At", "such as A start; B leg 2; C bend 1", 20),
    ),
    "A row for each kind and size of weld.", 2_000,
)  # fmt: skip

BOUGHT = FieldTable(
    "bought", "Bought items", "bought", BoughtSpec,
    (
        Field("name", Text(), "Name", "bolts, feet, hinges and what else is bought", 40),
        Field("per_set", whole(1, MOST_PER_SET), "Per set", "how many in one set", 8),
        Field("unit_cost", amount(), "Cost each", "what one costs the shop, at most 4 decimals", 12),
        Field("fitting", Choice(FITTINGS), "Fitting", "fitted (also when blank), screwed or bagged", 10),
    ),
    "", 2_000, "name",
)  # fmt: skip

OUTSIDE = FieldTable(
    "outside", "Outside work", "outside", OutsideSpec,
    (
        Field("name", Text(), "Name", "galvanising, powder coating and what else others do", 40),
        Field("basis", Choice(OUTSIDE_BASES), "Charged by", "kg, m2, each (a set) or lot", 11),
        Field("rate", amount(), "Rate", "charge for one of these", 12),
        Field("minimum", amount(), "Minimum", "least charge; may be blank", 12),
        Field("coating", Choice(COATINGS), "Coating", "zinc when it is hot-dip galvanising, or other", 10),
        Field("carriage", amount(), "Carriage", "to take it there and back; the usual charge when blank", 12),
    ),
    "", 200, "name",
)  # fmt: skip

LABOUR = FieldTable(
    "labour", "Labour", "labour", LabourSpec,
    (
        Field("operation", Choice(OPERATIONS), "Operation", "which work", 14),
        Field("minutes", _MINUTES, "Minutes", "minutes to add by hand", 10),
        Field("per", Choice(LABOUR_PERS), "Per", "set or job", 8),
    ),
    "Minutes to add by hand to those that are worked out.", 500,
)  # fmt: skip

FINISH = FieldTable(
    "finish", "Finish", "finish", FinishSpec,
    (
        Field("kind", Choice(FINISH_KINDS), "Kind", "finish put on in the shop", 12),
        Field("coats", whole(1, MOST_COATS), "Coats", "1 when blank", 8, always=True),
    ),
    "One row, or none.",
)  # fmt: skip

STEP = FieldTable(
    "step", "Steps", "steps", StepSpec,
    (
        Field("text", _NOTE, "What is done", "one step of the making, in its order", 60),
        Field("operation", Choice(OPERATIONS), "Operation", "which work it is; may be blank", 14),
        Field("marks", _MARKS, "Marks", "the parts that it is done to: A; B; all when blank", 14),
    ),
    "A row a step, in the order of making.", 200,
)  # fmt: skip

TEMPLATE = FieldTable(
    "template", "Jigs", "templates", TemplateSpec,
    (
        Field("name", Text(), "Name", "a jig or template that is made once for this job", 40),
        Field("minutes", _MINUTES, "Minutes", "to make it, once", 10),
        Field("cost", amount(), "Cost", "what is used up in it; may be blank", 12),
        Field("replaces", Names(40), "Replaces", "work that it saves, by its standard: drill.layout", 30),
    ),
    "A row for each jig or template.", 100, "name",
)  # fmt: skip

JOINT = FieldTable(
    "joint", "Joints", "joints", JointSpec,
    (
        Field("kind", Choice(JOINT_KINDS), "Kind",
              "rivet, screw, pin, halved, tenon, collar or forge weld", 12),
        Field("count", whole(1, MOST_PER_SET), "Per set", "joints in one set", 8),
        Field("dia", Size(), "Diameter", "of a rivet, screw or pin", 10),
        Field("grip", Size(), "Grip", "thickness of the metal that a rivet or screw holds", 10),
        Field("joins", _MARKS, "Joins", "marks of the parts that it joins: A; B", 12),
        Field("note", Text(), "Note", "for the floor; may be blank", 40),
    ),
    "A row for each kind and size of joint that is no weld.", 500,
)  # fmt: skip

SITE = FieldTable(
    "site", "On site", "site", SiteSpec,
    (
        Field("hours", number(Decimal(10_000), 2, "hours"), "Hours each",
              "hours of fitting for each who goes; 0 when it is only taken there", 10),
        Field("people", whole(1, 50), "People", "how many go; 1 when blank", 8),
        Field("distance", number(Decimal(20_000), 1, "a distance"), "Distance",
              "one way, in kilometres; of a job in inches in miles", 10),
        Field("journeys", whole(1, 500), "Journeys", "there and back; 1 when blank", 9),
        Field("cost", amount(), "Other cost", "paid besides: gear hired, tolls, lodging; may be blank", 12),
    ),
    "Where it is taken, fitted or put up away from the shop: one row, or none.",
)  # fmt: skip

TABLES = (PART, HOLE, WELD, BOUGHT, OUTSIDE, LABOUR, FINISH, STEP, TEMPLATE, JOINT, SITE)
TOP_KEYS = ("format", "job", *(table.name for table in TABLES if table is not HOLE))
