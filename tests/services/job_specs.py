"""Hypothesis strategies for whole jobs, as the readers of job files give them.

Built from the table of fields: a new field of a kind that is here needs nothing.
"""

from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.job import HoleSpec, JobSpec, PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.reading import job_kinds as kinds
from shopquote.reading import job_numbers as numbers
from shopquote.reading import job_sizes as sizes
from shopquote.reading.job_fields import HOLE, JOB, PART, TABLES, WELD, Field, FieldTable
from shopquote.reading.kinds.days import FIRST_DAY, LAST_DAY

TRICKY_TEXTS = (
    "=1+1", "+SUM(A1)", "-5", "@now", "'quoted'", '"double"', "back\\slash", "#N/A", "TRUE", "007", "1e5",
    "5/8", "_x0041_", "_x0041_x000D_",
    "é ü ß 鉄", "[red]bold[/red]", "a;b,c\u00a0d", "2027-03-01", "<tag>&amp;", "{x}", "null",
    "1.10",
)  # fmt: skip

_letters = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"), exclude_characters="\ufffe\uffff")


def texts(longest: int = 60) -> st.SearchStrategy[str]:
    free = st.text(_letters, min_size=1, max_size=longest).map(str.strip).filter(bool)
    return st.sampled_from([text for text in TRICKY_TEXTS if len(text) <= longest]) | free


def measures(unit: str) -> st.SearchStrategy[Measure]:
    fractions = ["5/8", "2-7/16", "2\u00bd"] if unit == "in" else ["5/8 in", "2-7/16 in", "2\u00bd in"]
    typed = st.sampled_from(
        [*fractions, "450", "33.5", "33.50", "7' 6-1/2\"", "12 mm", "2 ft", "1.25 m", "0.1", ".5", "007"]
    ) | st.integers(1, 5000).map(str)
    return typed.map(lambda text: Measure.parse(text, unit))


def signed(unit: str) -> st.SearchStrategy[Measure]:
    return measures(unit) | measures(unit).map(lambda one: Measure(f"-{one.text}", Length(-one.length.nm)))


END_TEXTS = (
    "square", "mitre 45", "mitre -22.5", "thread M12 x 40", "thread M12 x 1.25 x 40 + chamfer 2", "round",
    "turn 10 x 30", "point 60 to 0", "tenon 8 x 22", "flatten 40 to 5", "spread 30 to 14", "head 20 x 8",
    "fishtail", "scarf", "point 60 to 10 x 4", "saddle 60.3", "mitre 10 + chamfer 1/2 in",
    "thread 1/2-13 UNC x 1-1/2 in",
)  # fmt: skip


def ends(unit: str = "mm") -> st.SearchStrategy[End]:
    mitres = st.decimals("0.001", "89.999", places=3).map(lambda angle: End("mitre", angle))
    return mitres | st.sampled_from(END_TEXTS).map(lambda text: parse_end(text, unit))


def figures(kind: numbers.Figure) -> st.SearchStrategy[Any]:
    if not kind.places:
        return st.integers(kind.least, min(int(kind.most), 99))
    return st.decimals("0", min(kind.most, 999_999_999), places=kind.places)


BARS = {
    "mm": [
        "round 12",
        "square 12",
        "flat 40 x 6",
        "tube 25 x 2",
        "box 40 x 20 x 2",
        "angle 30 x 30 x 3",
        "round 1/2 in",
    ],
    "in": ["round 1/2", "square 5/8", "hex 3/4", "flat 1-1/4 x 1/4", "round 12 mm", "tube 1 x 1/8"],
}
SHAPES = {
    "mm": ["leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150", "leg 300;\n  bend 90 r 30;\tleg 200"],
    "in": ["leg 12; bend 90 r 1-1/4; leg 6", "leg 12 ; bend 45 r 2 ; turn 90 ; bend 30 r 2 ; leg 8"],
}


# A strategy for each kind of value: (kind, unit) -> values that are not left out.
KINDS: dict[type, Callable[[Any, str], st.SearchStrategy[Any]]] = {
    kinds.Text: lambda kind, unit: texts(min(kind.longest, 60)),
    kinds.GradeName: lambda kind, unit: st.sampled_from(list(STARTING_GRADES)),
    kinds.Choice: lambda kind, unit: st.sampled_from(kind.among),
    numbers.Figure: lambda kind, unit: figures(kind),
    kinds.Flag: lambda kind, unit: st.booleans(),
    kinds.Day: lambda kind, unit: st.dates(FIRST_DAY, LAST_DAY),
    numbers.BreakCounts: lambda kind, unit: st.sets(st.integers(1, 1000), min_size=1, max_size=4).map(
        lambda counts: tuple(sorted(counts))
    ),
    kinds.Names: lambda kind, unit: st.lists(texts(min(kind.longest, 60)), min_size=1, max_size=3).map(tuple),
    kinds.Marks: lambda kind, unit: st.lists(texts(kind.longest), min_size=1, max_size=3).map(tuple),
    sizes.Size: lambda kind, unit: measures(unit),
    sizes.WeldSize: lambda kind, unit: measures(unit),
    sizes.Sizes: lambda kind, unit: st.lists(
        signed(unit) if kind.signed else measures(unit), min_size=1, max_size=3
    ).map(tuple),
    sizes.Ends: lambda kind, unit: st.tuples(ends(unit), ends(unit)),
}


_MADE: dict[tuple[str, str, str], st.SearchStrategy[Any]] = {}


def values_of(table: FieldTable, field: Field, unit: str) -> st.SearchStrategy[Any]:
    """Values of one field, made once: making and checking them anew takes longer than drawing."""
    key = (table.attribute, field.key, unit)
    if key not in _MADE:
        _MADE[key] = _values_of(table, field, unit)
    return _MADE[key]


def _values_of(table: FieldTable, field: Field, unit: str) -> st.SearchStrategy[Any]:
    """Values of one field: its default, where it has one, or any other."""
    given = {
        "bar": st.sampled_from(BARS[unit]),
        "shape": st.sampled_from(SHAPES[unit]),
        "thread": st.sampled_from(["M8", "M10 x 1", "1/4-20 UNC", "G 1/2"]),
    }.get(field.key)
    given = given if given is not None else KINDS[type(field.kind)](field.kind, unit)
    default = table.defaults[field.key]
    return given if default is kinds.NEEDED else st.just(default) | given


@st.composite
def rows(draw: st.DrawFn, table: FieldTable, unit: str, **said: Any) -> Any:
    """A row of any table; `said` are values that are not drawn."""
    values = {
        field.key: draw(values_of(table, field, unit)) for field in table.columns if field.key not in said
    }
    return table.spec(**values, **said)


@st.composite
def holes(draw: st.DrawFn, unit: str) -> HoleSpec:
    """Holes that have either a diameter or a thread, and as many as they have places."""
    sized = draw(st.sampled_from(["dia", "thread"]))
    said: dict[str, Any] = {"dia": None} if sized == "thread" else {"thread": ""}
    said |= {sized: draw(measures(unit) if sized == "dia" else st.sampled_from(["M8", "M10 x 1", "G 1/2"]))}
    at = draw(values_of(HOLE, HOLE.by_key["at"], unit))
    across = draw(values_of(HOLE, HOLE.by_key["across"], unit)) if at else ()
    if at:
        said["count"] = len(at) * max(1, len(across))
    return draw(rows(HOLE, unit, at=at, across=across, **said))


@st.composite
def parts(draw: st.DrawFn, unit: str, mark: str) -> PartSpec:
    bent = draw(st.booleans())
    shape = draw(st.sampled_from(SHAPES[unit])) if bent else None
    length = None if bent else draw(measures(unit))
    drilled = tuple(draw(st.lists(holes(unit), max_size=3)))
    bar = draw(values_of(PART, PART.by_key["bar"], unit))
    toes = draw(values_of(PART, PART.by_key["toes"], unit)) if bar.startswith("angle") else "out"
    return draw(rows(PART, unit, mark=mark, bar=bar, toes=toes, shape=shape, length=length, holes=drilled))


@st.composite
def job_specs(draw: st.DrawFn) -> JobSpec:
    unit = draw(st.sampled_from(["mm", "in"]))
    marks = draw(
        st.lists(texts(20), min_size=1, max_size=4, unique_by=lambda mark: mark.casefold() + mark.lower())
    )
    some_marks = st.lists(st.sampled_from(marks), max_size=3).map(tuple)
    held: dict[str, Any] = {}
    for table in TABLES:
        if table.inside is not None:
            continue
        named = {key: some_marks for key in ("joins", "marks") if key in table.by_key}
        if table is WELD:
            named["at"] = some_marks.map(lambda some: tuple(f"{mark} start" for mark in some))
        if table is PART:
            held[table.attribute] = tuple(draw(parts(unit, mark)) for mark in marks)
        elif table.most == 1:
            held[table.attribute] = draw(st.none() | rows(table, unit))
        else:
            count = draw(st.integers(0, 2))
            held[table.attribute] = tuple(
                draw(rows(table, unit, **{key: draw(some) for key, some in named.items()}))
                for _ in range(count)
            )
    return draw(rows(JOB, unit, units=unit, **held))
