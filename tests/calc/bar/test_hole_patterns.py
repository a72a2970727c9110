"""Holes that must fit one another, by the spacing of their pattern."""

import pytest

from shopquote.calc.bar.hole_patterns import pattern_problems
from shopquote.calc.job import HoleSpec, JobSpec, PartSpec
from shopquote.calc.units import Length, Measure


def holes(at, across=(), dia="9"):
    places, aside = (tuple(Measure(f"{x}", Length.from_mm(f"{x}")) for x in row) for row in (at, across))
    count = len(at) * max(1, len(across))
    return HoleSpec(dia=Measure.parse(dia, "mm"), count=count, at=places, across=aside, pattern="P1")


def told(*rows):
    parts = tuple(
        PartSpec(mark, "plate", 1, "flat 80 x 6", "S275", length=Measure.parse("300", "mm"), holes=(row,))
        for mark, row in zip("ABC", rows, strict=False)
    )
    job = JobSpec("t", "c", 1, "mm", parts=parts)
    return [(mark, problem.code) for mark, problem in pattern_problems(job)]


@pytest.mark.parametrize(
    "other",
    [holes([20, 120], dia="6.8"), holes([150, 250]), holes([150.1, 250]), holes([20, 120], [5])],
)
def test_the_same_spacing_fits_wherever_it_lies_and_whatever_the_drill(other):
    assert told(holes([50, 150]), other) == []


@pytest.mark.parametrize("other", [holes([50, 152]), holes([50, 150, 250]), holes([50])])
def test_another_spacing_or_number_is_told_at_the_later_part(other):
    assert told(holes([50, 150]), holes([50, 150]), other) == [("C", "pattern-differs")]


def test_a_part_may_be_turned_end_for_end_or_over():
    uneven = [10, 30, 90]
    assert told(holes(uneven), holes([110, 170, 190])) == []
    skew = (holes(uneven, [-10, 25]), holes([110, 170, 190], [-25, 10]))
    assert told(*skew) == []
    assert told(holes(uneven, [-10, 25]), holes(uneven, [-10, 20])) == [("B", "pattern-differs")]
