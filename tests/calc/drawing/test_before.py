"""Bend by bend: what a picture shows of the bar before the pull."""

from dataclasses import replace
from math import cos, hypot, radians, sin

import pytest

from shopquote.calc.bar.part_answer import OrderStep
from shopquote.calc.drawing.before import draw_pulls
from shopquote.calc.drawing.boxes import overlap
from shopquote.calc.drawing.model import DrawnArc, Line
from shopquote.calc.drawing.pencil import text_box
from tests.calc.drawing.parts import part


def pictures(shape, bar="round 12", **more):
    _, answer = part(shape, bar, **more)
    order = answer.bend_order or [OrderStep(n, "finish", False, 0.0) for n in range(1, len(answer.bends) + 1)]
    return answer, draw_pulls(answer, order)


def bar_of(drawing):
    return next(item for item in drawing.items if isinstance(item, Line) and item.fill == "grey").points


def test_every_bend_has_its_picture_in_the_order_of_bending():
    answer, found = pictures("leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150")
    assert [picture.bend for picture in found] == [step.bend for step in answer.bend_order]


def test_the_first_picture_is_a_straight_bar_and_later_ones_have_the_bends_made():
    _, found = pictures("leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150")
    rise = [max(y for _, y in bar_of(p.drawing)) - min(y for _, y in bar_of(p.drawing)) for p in found]
    thick = 12 * found[0].drawing.scale
    assert rise[0] == pytest.approx(max(thick, 1.0), abs=1e-6) and rise[1] > 5 * rise[0]


def test_the_former_is_drawn_to_scale_and_touches_the_bar():
    answer, found = pictures("leg 120; bend 90 r 24; leg 150")
    drawing = found[0].drawing
    former = max((item for item in drawing.items if isinstance(item, DrawnArc)), key=lambda arc: arc.radius)
    assert former.radius / drawing.scale == pytest.approx(answer.bends[0].former_radius.mm_float)
    half = max(12 * drawing.scale, 1.0) / 2
    assert abs(former.centre[1]) - former.radius == pytest.approx(half)


def test_the_swung_side_is_pulled_past_its_angle():
    answer, found = pictures("leg 120; bend 60 r 24; leg 150")
    dashed = next(i for i in found[0].drawing.items if isinstance(i, Line) and i.pen == "dashed").points
    (x1, y1), (x2, y2) = dashed[-2:]
    over = answer.bends[0].over_bend_to
    long = hypot(x2 - x1, y2 - y1)
    assert (x2 - x1) / long == pytest.approx(cos(radians(over))) and (y2 - y1) / long == pytest.approx(
        sin(radians(over))
    )


def test_what_no_bender_makes_has_no_picture():
    _, found = pictures("leg 200; eye d 30 centred")
    assert not found
    # What is cold and too much for any bender on file: nothing is swung that nothing swings.
    answer, found = pictures("leg 120; bend 90 r 24; leg 150")
    assert found
    unmade = replace(answer, bends=(replace(answer.bends[0], unmade=True),))
    assert not draw_pulls(unmade, unmade.bend_order)


@pytest.mark.parametrize("bar", ["round 12", "flat 40 x 6"])
@pytest.mark.parametrize(
    "shape",
    [
        "leg 120; bend 90 r 30; leg 255; bend 90 r 30; leg 120",
        "leg 250; bend 90 r 30; leg 90; bend 90 r 30; leg 250; bend 90 r 30; leg 60",
        "leg 60; bend 45 r 40; leg 80; bend -45 r 40; leg 60",
    ],
)
def test_the_word_of_the_held_end_stands_clear_of_the_bar(shape, bar):
    _, found = pictures(shape, bar)
    for picture in found:
        points = bar_of(picture.drawing)
        sides = points[: len(points) // 2], tuple(reversed(points[len(points) // 2 :]))
        pieces = [
            (a, b, d, c) for a, b, c, d in zip(sides[0], sides[0][1:], sides[1], sides[1][1:], strict=False)
        ]
        for text in picture.drawing.texts():
            box = text_box(text.text, text.at, text.size, air=0.0)
            assert not any(overlap(box, piece) for piece in pieces), (picture.bend, text.text)
