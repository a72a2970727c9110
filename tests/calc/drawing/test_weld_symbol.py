"""Symbols of welds: which side of the line the sign stands on, and what it says."""

from dataclasses import replace
from math import sqrt

import pytest

from shopquote.calc.drawing.model import Line
from shopquote.calc.drawing.weld_symbol import draw_weld_symbol
from shopquote.calc.job import WeldSpec
from shopquote.calc.units import Length, Measure


def weld(kind="fillet"):
    return WeldSpec(kind, Measure.parse("5", "mm"), Measure.parse("40", "mm"), 4, "MAG")


# ISO 2553 system A: on the solid line, a dashed one beside it, z before a leg, number times length. AWS A2.4:
# arrow side below the line.
@pytest.mark.parametrize(
    ("projection", "texts", "above"),
    [("first angle", ["z5", "4 × 40", "MAG"], True), ("third angle", ["5", "40 (4)", "MAG"], False)],
)
def test_a_fillet_on_the_arrows_side(projection, texts, above):
    drawing = draw_weld_symbol(weld(), projection)
    assert [text.text for text in drawing.texts()] == texts
    triangle = next(
        item for item in drawing.items if isinstance(item, Line) and item.closed and item.pen == "thin"
    )
    assert (max(y for _, y in triangle.points) > 0) is above
    dashed = [item for item in drawing.items if isinstance(item, Line) and item.pen == "dashed"]
    assert bool(dashed) is above
    assert triangle.points[0][0] == triangle.points[1][0]  # the upright leg stands to the left


@pytest.mark.parametrize(
    ("unit", "typed", "leg"), [("mm", "a3", "4.3 mm"), ("mm", "a4", "5.7 mm"), ("in", "a1/4", "3/8 in")]
)
def test_aws_writes_the_leg_of_a_throat_in_the_jobs_unit(unit, typed, leg):
    # ISO 2553: z = a x sqrt 2.
    measure = Measure.parse(typed[1:], unit)
    throat = Measure(typed, Length(round(measure.length.nm * sqrt(2))))
    drawing = draw_weld_symbol(replace(weld(), leg=throat), "third angle", unit=unit)
    assert next(text.text for text in drawing.texts()) == leg


@pytest.mark.parametrize("kind", ["fillet", "groove", "tack", "plug"])
def test_every_kind_has_a_sign_of_its_own(kind):
    others = [
        draw_weld_symbol(weld(other), "first angle").items for other in ("fillet", "groove", "tack", "plug")
    ]
    own = draw_weld_symbol(weld(kind), "first angle").items
    assert sum(own == other for other in others) == 1
