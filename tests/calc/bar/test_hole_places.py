"""Holes on the straight bar, and how near to a bend they may come."""

from dataclasses import replace
from math import pi

import pytest

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.hole_places import least_distance_mm
from shopquote.calc.bar.holes import face_width_mm, hole_depth_mm
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError


def hole(leg, *at, dia="9", across=()):
    return HoleSpec(
        dia=Measure.parse(dia, "mm"),
        count=len(at),
        leg=leg,
        at=tuple(Measure.parse(place, "mm") for place in at),
        across=tuple(Measure.parse(place, "mm") for place in across),
    )


BRACKET = "leg 100; bend 90 r 10; leg 80; bend 90 r 10; leg 60"


def codes(answer):
    return [problem.code for problem in answer.problems if problem.code.startswith("hole")]


def test_marks_lie_on_the_straight_bar_from_the_start(work_out):
    # By hand: round 8 about r 10, legs outside, setback 18, 22 of bar in a bend.
    answer = work_out(
        "round 8", BRACKET, holes=(hole(1, "30", dia="4"), hole(2, "40", dia="3"), hole(3, "30", dia="3"))
    )
    bend = pi / 2 * 14
    first, second, third = (mark.at.mm_float for mark in answer.hole_marks)
    assert first == 30
    # Leg 2 is measured from its corner, 18 before the bend ends: 82 straight, the bend, then 40 - 18.
    assert second == pytest.approx(82 + bend + 22, abs=1e-5)
    assert third == pytest.approx(82 + bend + 44 + bend + 12, abs=1e-5)
    assert not any(mark.in_bend for mark in answer.hole_marks)


@pytest.mark.parametrize("dims", ["outside", "inside", "centre", "tangent"])
def test_holes_follow_the_convention_of_their_legs(work_out, dims):
    # A hole at the far end of a leg's own measure less what the bend takes is where the next bend begins.
    answer = work_out("round 8", BRACKET, dims=dims, holes=(hole(2, "0", "80", dia="1"),))
    near, far = (mark.at.mm_float for mark in answer.hole_marks)
    assert far - near == pytest.approx(80)
    takes = {"outside": 18, "inside": 10, "centre": 14, "tangent": 0}[dims]
    assert near == pytest.approx(answer.bends[0].mark.end.mm_float - takes, abs=1e-5)
    assert far == pytest.approx(answer.bends[1].mark.start.mm_float + takes, abs=1e-5)


def test_a_leg_parted_in_two_counts_as_two(work_out):
    whole = work_out("round 8", "leg 100; bend 90 r 10; leg 80", holes=(hole(2, "60", dia="3"),))
    parted = work_out("round 8", "leg 100; bend 90 r 10; leg 50; leg 30", holes=(hole(3, "10", dia="3"),))
    assert parted.hole_marks[0].at == whole.hole_marks[0].at


def test_the_distance_to_a_bend_is_the_guides_for_sheet_and_a_depth_for_bar():
    # A public metal stamping design guide: 1.5 T + R from the bend; slots 2, 2.5 and 3 T + R.
    bend = Run("bend", 1, 0, 0, angle=90, inside_mm=10)
    assert least_distance_mm(bend, 4) == pytest.approx(1.5 * 4 + 10 - 10)
    assert [least_distance_mm(bend, 4, slot) for slot in (20, 40, 60)] == pytest.approx([8, 10, 12])
    assert least_distance_mm(bend, 12) == 12


def test_a_hole_in_or_near_a_bend_is_told_with_what_it_needs(work_out):
    def worked(at):
        return work_out("flat 40 x 8", "leg 100; bend 90 r 16; leg 80", holes=(hole(2, at),))

    # Setback 24, half the hole 4.5, one depth 8: clear from 36.5 on.
    assert codes(worked("37")) == []
    near = worked("36")
    assert codes(near) == ["hole-near-bend"]
    told = next(problem.message for problem in near.problems if problem.code == "hole-near-bend")
    assert "its edge is 7.5 mm from a bend and needs 8 mm" in told
    inside = worked("20")
    assert codes(inside) == ["hole-in-bend"]
    assert inside.hole_marks[0].in_bend
    assert any("drill it after bending" in problem.message for problem in inside.problems)


def test_the_face_says_how_deep_and_how_wide(work_out):
    flat = "flat 50 x 6"
    wide, edge = hole(1, "50", dia="9"), replace(hole(1, "50", dia="4"), face="left")
    parsed = parse_section(flat, "mm")
    assert (hole_depth_mm(parsed, wide), hole_depth_mm(parsed, edge)) == (6, 50)
    # Bent on edge the wide faces are its left and right, and a hole fits there.
    on_edge = replace(wide, face="right")
    assert hole_depth_mm(parsed, on_edge, "hard") == 6 and face_width_mm(parsed, on_edge, "hard") == 50
    bent = "leg 400; bend 30 r 400; leg 400"
    for one in (wide, on_edge):
        assert codes(work_out(flat, bent, bend_axis="hard", holes=(one,))) == []
    with pytest.raises(CannotMakeError, match="leaves no metal in a bar 6 mm wide"):
        work_out(flat, length="200", holes=(replace(wide, face="left"),))
    marks = work_out(flat, length="200", holes=(edge,)).hole_marks
    assert [mark.face for mark in marks] == ["left"]
    assert "from the left face" in edge.works


def test_one_wall_is_half_the_metal_of_both(work_out):
    both, one = hole(1, "50"), replace(hole(1, "50"), walls=1)
    parsed = parse_section("box 40 x 40 x 3", "mm")
    assert (hole_depth_mm(parsed, both), hole_depth_mm(parsed, one)) == (6, 3)
    solid = work_out("box 40 x 40 x 3", length="200").mass_kg
    taken = [solid - work_out("box 40 x 40 x 3", length="200", holes=(h,)).mass_kg for h in (both, one)]
    assert taken[1] == pytest.approx(taken[0] / 2)


def test_a_hole_off_the_bar_is_told_and_one_on_no_leg_refused(work_out):
    assert codes(work_out("flat 40 x 8", length="100", holes=(hole(1, "98"),))) == ["hole-off-bar"]
    assert codes(work_out("flat 40 x 8", length="100", holes=(hole(1, "50", across=("17",)),))) == [
        "hole-off-bar"
    ]
    with pytest.raises(CannotMakeError, match="on leg 2; expected a leg from 1 to 1"):
        work_out("flat 40 x 8", length="100", holes=(hole(2, "30"),))
