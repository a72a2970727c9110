"""Hypothesis strategies for whole jobs, as the readers of job files give them."""

from datetime import date
from decimal import Decimal

from hypothesis import strategies as st

from shopquote.calc.bar.grades import STARTING_GRADES
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
    BoughtSpec,
    End,
    FinishSpec,
    HoleSpec,
    JobSpec,
    LabourSpec,
    OutsideSpec,
    PartSpec,
    WeldSpec,
)
from shopquote.calc.units import Measure

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
    typed = st.sampled_from(
        [
            "450",
            "33.5",
            "33.50",
            "5/8",
            "2-7/16",
            "7' 6-1/2\"",
            "12 mm",
            "2 ft",
            "1.25 m",
            "0.1",
            ".5",
            "2\u00bd",
            "007",
        ]
    ) | st.integers(1, 5000).map(str)
    return typed.map(lambda text: Measure.parse(text, unit))


def money() -> st.SearchStrategy[Decimal]:
    return st.decimals("0", "999999999", places=4)


def ends() -> st.SearchStrategy[End]:
    return st.just(End()) | st.decimals("0.001", "89.999", places=3).map(lambda angle: End("mitre", angle))


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


@st.composite
def parts(draw: st.DrawFn, unit: str, mark: str) -> PartSpec:
    bent = draw(st.booleans())
    return PartSpec(
        mark=mark,
        name=draw(texts()),
        per_set=draw(st.integers(1, 20)),
        bar=draw(st.sampled_from(BARS[unit])),
        grade=draw(st.sampled_from(list(STARTING_GRADES))),
        dims=draw(st.sampled_from(DIMS)),
        shape=draw(st.sampled_from(SHAPES[unit])) if bent else None,
        length=None if bent else draw(measures(unit)),
        bend_axis=draw(st.sampled_from(BEND_AXES)),
        ends=draw(st.tuples(ends(), ends())),
        holes=tuple(
            draw(
                st.lists(
                    st.builds(HoleSpec, measures(unit), st.integers(1, 9), st.booleans(), st.booleans()),
                    max_size=3,
                )
            )
        ),
        one_heat=draw(st.booleans()),
        turned=draw(st.integers(0, 2)),
        threaded=draw(st.integers(0, 2)),
    )


@st.composite
def job_specs(draw: st.DrawFn) -> JobSpec:
    unit = draw(st.sampled_from(["mm", "in"]))
    marks = draw(
        st.lists(texts(20), min_size=1, max_size=4, unique_by=lambda mark: mark.casefold() + mark.lower())
    )
    return JobSpec(
        title=draw(texts()),
        customer=draw(texts()),
        sets=draw(st.integers(1, 1000)),
        units=unit,
        use=draw(st.sampled_from(USES)),
        due=draw(st.none() | st.dates(date(2000, 1, 1), date(2199, 12, 31))),
        breaks=tuple(sorted(draw(st.sets(st.integers(1, 1000), max_size=4)))),
        parts=tuple(draw(parts(unit, mark)) for mark in marks),
        welds=tuple(
            draw(
                st.lists(
                    st.builds(
                        WeldSpec,
                        kind=st.sampled_from(WELD_KINDS),
                        leg=measures(unit),
                        length=measures(unit),
                        count=st.integers(1, 99),
                        process=st.sampled_from(WELD_PROCESSES),
                        note=st.just("") | texts(),
                    ),
                    max_size=2,
                )
            )
        ),
        bought=tuple(draw(st.lists(st.builds(BoughtSpec, texts(), st.integers(1, 99), money()), max_size=2))),
        outside=tuple(
            draw(
                st.lists(
                    st.builds(OutsideSpec, texts(), st.sampled_from(OUTSIDE_BASES), money(), money()),
                    max_size=2,
                )
            )
        ),
        labour=tuple(
            draw(
                st.lists(
                    st.builds(
                        LabourSpec,
                        st.sampled_from(OPERATIONS),
                        st.decimals("0", "1000000", places=3),
                        st.sampled_from(LABOUR_PERS),
                    ),
                    max_size=2,
                )
            )
        ),
        finish=draw(st.none() | st.builds(FinishSpec, st.sampled_from(FINISH_KINDS), st.integers(1, 20))),
    )
