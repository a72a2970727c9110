"""The tabs and columns of a job workbook, in plain trade words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from shopquote.calc.job import (
    BEND_AXES,
    DIMS,
    FINISH_KINDS,
    LABOUR_PERS,
    OPERATIONS,
    OUTSIDE_BASES,
    USES,
    WELD_KINDS,
    WELD_PROCESSES,
)

Kind = Literal["text", "length", "whole", "amount", "minutes", "yes", "day", "breaks"]


@dataclass(frozen=True)
class Column:
    """One column: its key in the job file, its heading, what goes in, and how wide it is."""

    key: str
    heading: str
    kind: Kind
    help: str
    width: int = 14
    words: Sequence[str] = ()


@dataclass(frozen=True)
class Tab:
    """One tab: its name, the table of the job file that it holds, its columns."""

    name: str
    table: str
    columns: tuple[Column, ...]
    help: str = ""
    by_key: Mapping[str, Column] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Index the columns."""
        object.__setattr__(self, "by_key", {column.key: column for column in self.columns})

    @property
    def headings(self) -> dict[str, str]:
        """Heading of each key; both ends of a part share one key of the job file."""
        found = {column.key: column.heading for column in self.columns}
        if "end_a" in found:
            found["ends"] = f"{found['end_a']} and {found['end_b']}"
        return found


JOB_TAB = Tab(
    "Job",
    "job",
    (
        Column("format", "Form", "whole", "leave the 1: the form of this workbook"),
        Column("title", "Title", "text", "what is made, in a few words"),
        Column("customer", "Customer", "text", "name of the customer"),
        Column("sets", "Sets", "whole", "how many complete sets are made"),
        Column(
            "breaks",
            "Quantities to price",
            "breaks",
            "sets to price side by side, such as 1, 4, 12; may be blank",
        ),
        Column("units", "Units", "text", "unit of every bare number: mm or in", words=("mm", "in")),
        Column("use", "Use", "text", "what it is used for; sets the cautions on the sheets", words=USES),
        Column("due", "Due", "day", "day on which it must be ready, such as 2027-03-01; may be blank"),
    ),
    "What is written to the right of each word; one job a workbook.",
)

PART_TAB = Tab(
    "Parts",
    "part",
    (
        Column("mark", "Mark", "text", "short mark of the part, each once: A, B, C", 8),
        Column("name", "Name", "text", "what the part is called", 18),
        Column("per_set", "Per set", "whole", "pieces in one set", 8),
        Column(
            "bar",
            "Bar",
            "text",
            "round 12, square 12, hex 17, flat 40 x 6, tube 25 x 2, box 40 x 20 x 2, angle 30 x 30 x 3",
            16,
        ),
        Column("grade", "Grade", "text", "grade of the metal, such as S275", 10),
        Column("dims", "Legs measured", "text", "outside (when blank), inside, centre or tangent", 14, DIMS),
        Column("shape", "Shape", "text", "of a bent piece: leg 300; bend 90 r 24; leg 600", 44),
        Column("length", "Straight length", "length", "of a straight piece; then leave Shape blank", 15),
        Column(
            "bend_axis",
            "Bend axis",
            "text",
            "flats and angles: easy (when blank) or hard, on edge",
            10,
            BEND_AXES,
        ),
        Column(
            "end_a", "First end", "text", "square (when blank), or mitre 45 with its degrees off square", 11
        ),
        Column("end_b", "Last end", "text", "the same for the other end", 11),
        Column(
            "one_heat", "One heat", "yes", "yes when all must come from one heat of metal", 9, ("yes", "no")
        ),
        Column("turned", "Ends turned", "whole", "ends of one piece turned down: 0 (when blank), 1 or 2", 9),
        Column(
            "threaded",
            "Ends threaded",
            "whole",
            "ends of one piece threaded: 0 (when blank), 1 or 2; of a tapped hole see Holes",
            10,
        ),
    ),
    "A row a part.",
)

HOLE_TAB = Tab(
    "Holes",
    "holes",
    (
        Column("part", "Mark", "text", "mark of the part that has the holes", 8),
        Column("dia", "Diameter", "length", "diameter of the hole, of a tapped one that of its drill", 10),
        Column("count", "Holes a piece", "whole", "how many in one piece; 1 when blank", 13),
        Column("tapped", "Tapped", "yes", "yes or no (when blank)", 9, ("yes", "no")),
        Column("countersunk", "Countersunk", "yes", "yes or no (when blank)", 12, ("yes", "no")),
    ),
    "A row for each size of hole in a part.",
)

TABS = (
    PART_TAB,
    HOLE_TAB,
    Tab(
        "Welds",
        "weld",
        (
            Column("kind", "Kind", "text", "fillet, groove, tack or plug", 10, WELD_KINDS),
            Column(
                "leg", "Leg", "length", "leg of a fillet or tack, depth of a groove, diameter of a plug", 10
            ),
            Column("length", "Length", "length", "of each weld", 10),
            Column("count", "Per set", "whole", "welds in one set", 8),
            Column("process", "Process", "text", "how it is welded", 10, WELD_PROCESSES),
            Column("note", "Note", "text", "for the floor; may be blank", 40),
        ),
        "A row for each kind and size of weld.",
    ),
    Tab(
        "Bought items",
        "bought",
        (
            Column("name", "Name", "text", "bolts, feet, hinges and what else is bought", 40),
            Column("per_set", "Per set", "whole", "how many in one set", 8),
            Column("unit_cost", "Cost each", "amount", "what one costs the shop, at most 4 decimals", 12),
        ),
    ),
    Tab(
        "Outside work",
        "outside",
        (
            Column("name", "Name", "text", "galvanising, powder coating and what else others do", 40),
            Column("basis", "Charged by", "text", "kg, m2, each (a set) or lot", 11, OUTSIDE_BASES),
            Column("rate", "Rate", "amount", "charge for one of these", 12),
            Column("minimum", "Minimum", "amount", "least charge; may be blank", 12),
        ),
    ),
    Tab(
        "Labour",
        "labour",
        (
            Column("operation", "Operation", "text", "which work", 14, OPERATIONS),
            Column("minutes", "Minutes", "minutes", "minutes to add by hand", 10),
            Column("per", "Per", "text", "set or job", 8, LABOUR_PERS),
        ),
        "Minutes to add by hand to those that are worked out.",
    ),
    Tab(
        "Finish",
        "finish",
        (
            Column("kind", "Kind", "text", "finish put on in the shop", 12, FINISH_KINDS),
            Column("coats", "Coats", "whole", "1 when blank", 8),
        ),
        "One row, or none.",
    ),
)
