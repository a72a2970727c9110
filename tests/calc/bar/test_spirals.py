"""Volutes and collars against closed forms, numeric integration and the smiths' rule."""

from math import exp, hypot, log, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.develop import volute_length_mm
from shopquote.calc.bar.plane_curves import VoluteCurve
from shopquote.calc.bar.shapes import told_in_full
from shopquote.errors import CannotMakeError, InputError

RADII = st.floats(5, 200)


@given(RADII, RADII, st.floats(0.25, 3))
def test_a_volute_is_as_long_as_its_chords(start, finish, turns):
    if abs(log(finish / start)) < 0.01:
        return
    b = log(finish / start) / (2 * pi * turns)
    steps, length = 4000, 0.0
    for step in range(steps):
        # The curve's own speed, r sqrt(1 + b^2), at the middle of each step.
        middle = 2 * pi * turns * (step + 0.5) / steps
        length += start * exp(b * middle) * hypot(1, b) * 2 * pi * turns / steps
    assert volute_length_mm(start, finish, turns) == pytest.approx(length, rel=1e-5)
    # Begun from the other end it is as long.
    assert volute_length_mm(finish, start, turns) == pytest.approx(volute_length_mm(start, finish, turns))


@given(RADII, RADII, st.floats(0.5, 12))
def test_a_volutes_curve_agrees_with_itself(start, finish, total):
    if abs(log(finish / start)) < 0.05:
        return
    curve, step = VoluteCurve(start, finish, total), 1e-5
    middle = total / 2
    (x0, y0), (x1, y1) = curve.point(middle - step), curve.point(middle + step)
    moved = hypot(x1 - x0, y1 - y0)
    assert moved == pytest.approx(curve.length(middle + step) - curve.length(middle - step), rel=1e-4)
    assert 2 * step / moved == pytest.approx(1 / curve.radius(middle), rel=1e-4)
    assert curve.at_length(curve.length(middle)) == pytest.approx(middle)
    assert curve.length(total) == pytest.approx(volute_length_mm(start, finish, total / (2 * pi)))


def test_a_volute_on_the_neutral_axis_adds_what_lies_beside_it(work_out):
    # Round bar, K one half: the neutral axis is the centre line.
    answer = work_out("round 8", "leg 100; volute from 60 to 16 turns 1.5")
    assert answer.developed.mm_float == pytest.approx(100 + volute_length_mm(60, 16, 1.5))
    # Said by its inside or its outside it is one of a half bar more or less: r + 4, r - 4.
    inside = work_out("round 8", "volute from 16 to 60 turns 1 inside").developed.mm_float
    outside = work_out("round 8", "volute from 24 to 68 turns 1 outside").developed.mm_float
    assert inside == pytest.approx(outside) == pytest.approx(volute_length_mm(20, 64, 1))


def test_a_volute_that_cannot_be_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="runs into itself"):
        work_out("round 12", "volute from 10 to 30 turns 3")
    with pytest.raises(CannotMakeError, match="radii are alike"):
        work_out("round 12", "volute from 30 to 30 turns 1")
    with pytest.raises(CannotMakeError, match="has no inside"):
        work_out("round 12", "volute from 4 to 60 turns 1")


def test_a_collar_follows_the_smiths_rule(work_out):
    # Lorelei Sims, a smiths' textbook of 2006, page 101, as quoted in a public thread: two scrolls of 1/2 in
    # square, collar 1/8 in thick, 3 1/4 in of stock: perimeter and twice the thickness.
    inches = work_out("flat 1/2 x 1/8", "collar 1 x 1/2", "in")
    assert inches.developed.mm_float == pytest.approx(3.25 * 25.4)
    answer = work_out("flat 12 x 3", "collar 24 x 12")
    assert answer.developed.mm_float == pytest.approx(2 * (24 + 12) + 2 * 3)
    assert answer.envelope_mm[:2] == pytest.approx((30, 18))  # the bars and the collar round them
    assert all(bend.hot and "U" in bend.told for bend in answer.bends)
    with pytest.raises(InputError, match="a collar alone"):
        work_out("flat 12 x 3", "leg 50; collar 24 x 12")


def test_papers_say_what_a_volute_is_measured_to():
    assert told_in_full("volute from 12 to 60 turns 2") == "volute from 12 to 60 turns 2 centre"
