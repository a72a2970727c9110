"""Mitred ends in space: the sawn face lies where the flat drawing and the numbers put it."""

from math import atan2, degrees, dist, hypot

import pytest

from shopquote.calc.bar.centreline import add, dot, trace
from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.drawing.model import Line
from shopquote.calc.drawing.part import draw_part, flat_part
from shopquote.calc.drawing.space import SpacePart, slants
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Measure
from tests.calc.drawing.parts import part

ONE_PLANE = "leg 200; bend 90 r 40; leg 200"
TURNED = "leg 200; bend 90 r 40; leg 200; turn 90; bend 90 r 40; leg 200"


def mitred(shape, bar, start, finish):
    spec, answer = part(shape, bar, ends=(parse_end(start, "mm"), parse_end(finish, "mm")))
    flat = flat_part(spec, answer, "mm")
    space = SpacePart(answer.runs, answer.section, spec.bend_axis, "mm", told=flat.told_ends)
    stops = trace(answer.runs, answer.section)
    return answer, stops, slants(space, stops), (spec, flat)


@pytest.mark.parametrize(("mitre", "side"), [("mitre 45", 1), ("mitre -45", -1)])
def test_a_plus_has_its_long_point_on_the_inside_of_a_bend_to_the_left(mitre, side):
    _, stops, (start, finish), _ = mitred(ONE_PLANE, "square 20", mitre, mitre)
    assert dot(start.long, stops[0].inward) == pytest.approx(side)
    assert dot(finish.long, stops[-1].inward) == pytest.approx(side)
    assert dot(start.into, stops[0].along) == pytest.approx(1) == -dot(finish.into, stops[-1].along)


@pytest.mark.parametrize("bar", ["round 25", "square 20", "box 40 x 20 x 2", "flat 40 x 6"])
def test_the_short_point_lies_as_far_back_as_the_numbers_say(bar):
    answer, stops, cut, _ = mitred(TURNED, bar, "mitre 45", "mitre -30")
    for place, slant, stop in ((0, cut[0], stops[0]), (1, cut[1], stops[-1])):
        points = [slant.sawn(tuple(reach * way for way in slant.long)) for reach in (slant.high, slant.low)]
        back = [dot(point, slant.into) for point in points]
        assert back == pytest.approx([0, answer.mitre_mm[place]])
        # The face slopes over the larger side of the bar, which its long point lies across.
        assert slant.high - slant.low == pytest.approx(answer.section.height_mm)
        assert abs(dot(slant.long, stop.along)) < 1e-9


def test_a_larger_side_that_lies_across_the_first_bend_lies_in_the_plane_of_one_turned_by_90():
    _, stops, (start, finish), _ = mitred(TURNED, "box 40 x 20 x 2", "mitre 45", "mitre 45")
    assert abs(dot(start.long, stops[0].across)) == pytest.approx(1)
    assert abs(dot(finish.long, stops[-1].inward)) == pytest.approx(1)


def test_a_view_of_a_mitred_part_shows_the_slant():
    # From the front the first leg of a square bar lies level: its end is a line at 45 degrees, 20 x 20.
    cut = (parse_end("mitre 45", "mm"), parse_end("square", "mm"))
    drawn = draw_part(*part(TURNED, "square 20", ends=cut), "mm").finished
    slanting = {
        round(dist(p, q) / drawn.scale, 3)
        for item in drawn.items
        if isinstance(item, Line) and item.layer == "part"
        for p, q in zip(item.points, item.points[1:], strict=False)
        if abs(abs(p[0] - q[0]) - abs(p[1] - q[1])) < 1e-6 < abs(p[0] - q[0])
    }
    assert round(hypot(20, 20), 3) in slanting


def test_a_bar_turned_over_between_its_ends_has_its_finish_mitre_on_the_other_side():
    shape = "leg 200; bend 90 r 40; leg 200; turn 180; bend 90 r 40; leg 200"
    _, stops, (start, finish), (_, flat) = mitred(shape, "square 20", "mitre 45", "mitre 45")
    assert flat.told_ends.degrees() == (45, -45)
    # Both drawings agree: seen from above the plane the long point lies to the right of the bar.
    x, y, _ = stops[-1].along
    assert dot(finish.long, (-y, x, 0)) == pytest.approx(-1) and dot(start.long, (0, 1, 0)) == pytest.approx(
        1
    )


def test_a_mitre_of_30_degrees_is_30_off_square():
    _, stops, (start, _), _ = mitred(TURNED, "round 25", "mitre 30", "square")
    high = start.sawn(tuple(start.high * way for way in start.long))
    low = start.sawn(tuple(start.low * way for way in start.long))
    across = add(high, tuple(-x for x in low))
    lean = atan2(abs(dot(across, stops[0].along)), abs(dot(across, start.long)))
    assert degrees(lean) == pytest.approx(30)


def test_a_hole_in_the_end_is_drawn_on_the_straight_bar():
    mm = Measure.parse
    hole = HoleSpec(mm("10", "mm"), along=True, deep=mm("40", "mm"))
    spec = part(None, "round 25", length=300, holes=(hole,))
    drawn = draw_part(*spec, "mm").straight
    dashed = [item.points for item in drawn.items if isinstance(item, Line) and item.pen == "dashed"]
    ends = {round(x / drawn.scale, 3) for line in dashed for x, _ in line}
    assert ends == {0, 40} and len(dashed) == 3
    # A bent bar, drilled through the middle of its finish leg's end to 60: it begins at the cut end.
    deep = HoleSpec(mm("4", "mm"), leg=2, along=True, deep=mm("60", "mm"))
    _, answer = spec = part(ONE_PLANE, "round 25", holes=(deep,))
    drawn = draw_part(*spec, "mm").straight
    dashed = [item.points for item in drawn.items if isinstance(item, Line) and item.pen == "dashed"]
    cut = answer.cut.mm_float
    assert {round(x / drawn.scale, 3) for line in dashed for x, _ in line} == {
        round(cut, 3), round(cut - 60, 3),
    }  # fmt: skip
