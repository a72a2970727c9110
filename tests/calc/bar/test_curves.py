"""Rings, coils, scrolls, arcs and forged points."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from math import asin, cos, hypot, pi, radians, sin

import pytest
from scipy.integrate import quad

from shopquote.calc.bar.develop import (
    helix_length_mm,
    hits_for_gap,
    scroll_length_mm,
    taper_stock_mm,
)
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError
from shopquote.services.shop.starting import starting_shop


def length(answer):
    return answer.developed.mm_float


def off_the_curve(angle, radius, hits):
    """How far the middle of a facet stands off its curve, by the sagitta of a chord."""
    return radius * (1 - cos(radians(angle) / hits / 2))


# Derived from L = pi (ID + T): ID 300 round 12; OD 300 round 12; ID 12 in, T 1/2 in.
@pytest.mark.parametrize(
    ("bar", "shape", "unit", "expected"),
    [
        ("round 12", "ring d 300", "mm", 980.18),
        ("round 12", "ring d 300 outside", "mm", 904.78),
        ("round 1/2", "ring d 12", "in", 39.27 * 25.4),
    ],
)
def test_rings(work_out, bar, shape, unit, expected):
    assert length(work_out(bar, shape, unit)) == pytest.approx(expected, abs=0.1 if unit == "in" else 0.01)


def test_a_ring_smaller_than_its_bar_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="ring of inside diameter 10 mm is smaller than its bar, 12 mm"):
        work_out("round 12", "ring d 10")
    with pytest.raises(CannotMakeError, match="has no inside"):
        work_out("round 12", "ring d 20 outside")


def test_a_ring_at_the_end_of_a_leg_is_an_eye(work_out):
    answer = work_out("round 12", "leg 200; ring d 60")
    assert length(answer) == pytest.approx(200 + pi * 72, abs=1e-6)
    assert answer.envelope_mm == pytest.approx((242, 84, 12), abs=1e-6)


def test_helix_of_the_worked_example(work_out):
    # n sqrt((pi D)^2 + p^2), D 100 on the centre line, p 40, n 5.
    answer = work_out("round 10", "helix d 90 pitch 40 turns 5")
    assert length(answer) == pytest.approx(1583.48, abs=0.01)
    assert answer.envelope_mm[:2] == pytest.approx((110, 110), abs=0.01)
    assert answer.envelope_mm[2] == pytest.approx(200 + 10 * cos(asin(40 / hypot(100 * pi, 40))), abs=0.01)


def test_a_helix_whose_coils_touch_is_close_wound_and_one_closer_is_refused(work_out):
    assert work_out("round 10", "helix d 90 pitch 10 turns 3").bends[0].angle == 1080
    with pytest.raises(CannotMakeError, match="pitch 9 mm runs into itself"):
        work_out("round 10", "helix d 90 pitch 9 turns 3")


# A public table of arc lengths of r = a + b t (recomputed equal): a, b, from and to degrees.
@pytest.mark.parametrize(
    ("a", "b", "first", "last", "expected"),
    [(0, 1, 0, 360, 21.256294), (2, 0.5, 0, 180, 8.894183), (1, 0.25, 180, 720, 28.035218)],
)
def test_archimedean_spirals_of_a_public_table(a, b, first, last, expected):
    start, finish = a + b * radians(first), a + b * radians(last)
    got = scroll_length_mm(start, finish, (last - first) / 360)
    assert got == pytest.approx(expected, abs=1e-6)
    referee, _ = quad(lambda t: hypot(a + b * t, b), radians(first), radians(last))
    assert got == pytest.approx(referee, rel=1e-10)


def test_a_spiral_that_does_not_open_is_a_circle():
    assert scroll_length_mm(50, 50, 3) == pytest.approx(300 * pi)
    assert scroll_length_mm(50, 50.0001, 3) == pytest.approx(300 * pi, rel=1e-5)
    assert scroll_length_mm(75, 15, 2.5) == scroll_length_mm(15, 75, 2.5)


def test_a_logarithmic_spiral_is_met_by_short_archimedean_ones():
    # r = r0 e^(k t), 20 to 80 in 1.5 turns: k 0.14709, length 412.30 (derived).
    k, parts = 0.147093, 600
    step = 1.5 / parts
    radii = [20 * 2.718281828459045 ** (k * 2 * pi * step * part) for part in range(parts + 1)]
    total = sum(scroll_length_mm(a, b, step) for a, b in pairwise(radii))
    assert total == pytest.approx(412.30, abs=0.01)


def test_scroll_of_the_worked_example(work_out):
    # r 15 to 75 in 2.5 turns on the centre line: 709.92; about pi N (r1 + r2) = 706.86.
    answer = work_out("round 8", "scroll from 15 to 75 turns 2.5")
    assert length(answer) == pytest.approx(709.92, abs=0.01)
    outside = work_out("round 8", "scroll from 19 to 79 turns 2.5 outside")
    assert length(outside) == pytest.approx(length(answer), abs=1e-6)


def test_the_neutral_axis_of_a_flat_scroll_moves_only_where_it_is_tight(work_out):
    assert length(work_out("flat 25 x 5", "scroll from 15 to 75 turns 2.5")) == pytest.approx(709.92, abs=0.6)


def test_a_scroll_without_room_for_its_bar_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="its coils are 8 mm apart and the bar is 12 mm"):
        work_out("round 12", "scroll from 40 to 80 turns 5")
    with pytest.raises(CannotMakeError, match="no room for its bar"):
        work_out("round 12", "scroll from 5 to 80 turns 2")


# R 1000 on the centre line, 90 degrees (derived): 18 bends are 87.27 mm and 5 degrees apart and stand
# 0.952 mm off; 0.5 mm needs 25.
def test_an_arc_by_small_bends(work_out):
    answer = work_out("round 12", "leg 200; arc 90 r 994 hits 18; leg 100")
    arc = answer.bends[0]
    assert length(answer) == pytest.approx(300 + 1570.80, abs=0.01)
    assert arc.hits == 18
    assert arc.hit_advance.mm_float == pytest.approx(87.27, abs=0.01)
    assert arc.hit_angle == 5.0
    assert arc.hit_over_bend > 5.0
    assert arc.how == "small bends"
    marks = [mark.mm_float for mark in arc.hit_marks]
    assert marks[0] == pytest.approx(200 + 87.27 / 2, abs=0.01)
    assert marks[-1] == pytest.approx(200 + 1570.80 - 87.27 / 2, abs=0.01)
    assert off_the_curve(90, 1000, 18) == pytest.approx(0.952, abs=1e-3)


def test_the_number_of_small_bends_follows_from_the_gap(work_out):
    assert hits_for_gap(90, 1000, 0.5) == 25
    assert work_out("round 12", "arc 90 r 994 gap 0.5").bends[0].hits == 25
    assert off_the_curve(90, 1000, 25) <= 0.5 < off_the_curve(90, 1000, 24)


def test_rolls_make_an_arc_in_one(work_out, bending_shop):
    rolls = replace(bending_shop.benders[0], name="rolls", formers=(), rolls_to=Length.from_mm(150))
    shop = replace(bending_shop, benders=(*bending_shop.benders, rolls))
    arc = work_out("round 12", "arc 90 r 994 rolled", shop=shop).bends[0]
    assert (arc.how, arc.hits, arc.bender) == ("rolls", 1, "rolls")
    tight = work_out("round 12", "arc 90 r 120 rolled", shop=shop)
    assert {problem.code for problem in tight.problems} == {"rolls-too-large"}


def test_an_ogee_of_two_opposed_arcs(work_out):
    # cos t = 1 - D/2R; run 2 R sin t; D 100, R 150 on the centre line: 48.190 deg, 223.61, 252.32 (derived).
    answer = work_out("round 10", "arc 48.1896851 r 145; arc -48.1896851 r 145")
    assert length(answer) == pytest.approx(252.32, abs=0.01)
    end = answer.centreline_mm[-1]
    assert end[0] == pytest.approx(223.61, abs=0.01)
    assert end[1] == pytest.approx(100, abs=1e-4)


def test_forging_keeps_the_volume():
    # Half-inch square to an eighth tip over 4 in takes 1.750 in; to a point a third of its length (derived).
    square = parse_section("square 1/2", "in")
    assert taper_stock_mm(square, 4, 0.125 * 25.4) == pytest.approx(1.750, abs=1e-9)
    assert taper_stock_mm(square, 4, 0) == pytest.approx(4 / 3)
    # persimmonforge.blogspot.com, June 2012: 10 in of 3/8 square equal 7 1/8 in of 1/2 round.
    areas = parse_section("square 3/8", "in").area_mm2 / parse_section("round 1/2", "in").area_mm2
    assert 10 * areas == pytest.approx(7.125, abs=0.05)


def test_a_forged_point_takes_less_bar_than_it_is_long(work_out):
    answer = work_out("square 12", "taper 90 to 0; leg 200")
    assert length(answer) == pytest.approx(230)
    assert answer.envelope_mm == pytest.approx((290, 12, 12))
    assert answer.forge_heats == 1
    assert answer.mass_kg == pytest.approx(0.144 * 230 * 7.85e-3, rel=1e-9)
    # A pyramid's centroid lies at a quarter of its height from the base: by hand.
    assert answer.centre_of_gravity_mm[0] == pytest.approx((30 * 67.5 + 200 * 190) / 230)


def test_a_taper_thicker_than_its_bar_or_of_a_tube_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="cannot be larger than its bar, 12 mm"):
        work_out("round 12", "leg 100; taper 50 to 13")
    with pytest.raises(CannotMakeError, match="tube cannot be forged"):
        work_out("tube 20 x 2", "leg 100; taper 50 to 3")


def test_a_twist_takes_its_length_and_the_shops_allowance(work_out, bending_shop):
    # Googerty, Hand Forging, p. 78, knows no shortening; the allowance is the shop's own.
    assert length(work_out("square 12", "leg 100; twist 2 over 200; leg 100")) == 400
    shop = replace(bending_shop, twist_loss_pct=Decimal(2))
    assert length(work_out("square 12", "leg 100; twist 2 over 200; leg 100", shop=shop)) == pytest.approx(
        404
    )


def test_each_twist_is_told_by_the_points_between_which_it_lies_and_its_degrees(work_out):
    part = work_out("square 12", "leg 100; twist 2 over 200; leg 50; twist -0.5 over 60; leg 100")
    lies = [(part.centreline_mm[at][0], part.centreline_mm[at + 1][0], turned) for at, turned in part.twists]
    assert lies == [(100, 300, 720), (350, 410, -180)]
    assert work_out("square 12", "leg 100; bend 90 r 30; leg 100").twists == ()


def test_a_quarter_twist_turns_the_easy_way_into_the_next_plane(work_out):
    # A flat bent easy, twisted a quarter, then bent in a plane turned by a quarter is bent easy again.
    shape = "leg 200; bend 90 r 30; leg 100; twist 0.25 over 100; leg 100; turn 90; bend 90 r 30; leg 200"
    twisted = work_out("flat 25 x 5", shape)
    assert [round(bend.moment_nm, 3) for bend in twisted.bends] == [
        round(twisted.bends[0].moment_nm, 3)
    ] * 2  # fmt: skip
    untwisted = work_out("flat 25 x 5", shape.replace("twist 0.25 over 100", "leg 100"))
    assert untwisted.bends[1].moment_nm > 4 * untwisted.bends[0].moment_nm


def test_the_ogee_run_of_trigonometry():
    angle = radians(48.1896851)
    assert 2 * 150 * (1 - cos(angle)) == pytest.approx(100, abs=1e-5)
    assert 2 * 150 * sin(angle) == pytest.approx(223.607, abs=1e-3)
    assert helix_length_mm(100, 40, 5) == pytest.approx(1583.48, abs=0.01)


def test_a_scroll_is_judged_by_its_tightest_radius_whichever_way_it_runs(work_out):
    opening = work_out("flat 25 x 5", "scroll from 20 to 75 turns 2").bends[0]
    closing = work_out("flat 25 x 5", "scroll from 75 to 20 turns 2").bends[0]
    assert opening.inside_radius == closing.inside_radius == Length.from_mm("17.5")
    assert opening.former_radius == closing.former_radius
    assert opening.former_radius <= opening.inside_radius
    assert opening.moment_nm == closing.moment_nm


@pytest.mark.parametrize(
    ("shape", "ends"),
    [
        ("ring d 800", "start and the finish end"),
        ("leg 300; arc 90 r 900 rolled", "the finish end"),
        ("leg 300; arc 90 r 900 rolled; leg 300", ""),
    ],
)
def test_rolls_leave_an_end_of_the_bar_straight(shape, ends):
    shop = starting_shop()
    rolls = replace(shop, benders=tuple(one for one in shop.benders if one.works_by == "rolls"))
    answer = analyse_part(PartSpec("A", "hoop", 1, "flat 40 x 8", "S275", shape=shape), "mm", rolls)
    told = [problem.message for problem in answer.problems if problem.code == "rolled-end"]
    assert len(told) == bool(ends) and ends in "".join(told)


TWISTED = "leg 200; twist 2 over 300; leg 200"


@pytest.mark.parametrize(
    ("bar", "grade", "told"),
    [
        (
            "round 16",
            "S275",
            "a twist does not show on a round bar: leave it out, or take square or flat bar.",
        ),
        ("pipe 25", "S235", "a twist does not show on a round tube: leave it out, or take square or "),
        ("ribbed 16", "B500B", ""),
        ("hex 16", "S275", ""),
        ("box 30 x 30 x 3", "S235", ""),
    ],
)
def test_a_twist_that_nobody_will_see_is_told(work_out, bar, grade, told):
    problems = {found.code: found.message for found in work_out(bar, TWISTED, grade=grade).problems}
    assert ("twist-unseen" in problems) == bool(told)
    assert problems.get("twist-unseen", "").startswith(told)
    assert "twist-unseen" not in {found.code for found in work_out(bar, "leg 600", grade=grade).problems}
