"""Mitres with their hand, and what they leave."""

from decimal import Decimal
from math import cos, radians

import pytest
from scipy.special import ellipe

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.ends import weld_length_mm
from shopquote.calc.bar.sections import parse_section
from shopquote.errors import CannotMakeError


def mitred(work_out, first, last, length="500", bar="flat 50 x 6", **more):
    ends = tuple(End("mitre", Decimal(angle)) if angle else End() for angle in (first, last))
    return work_out(bar, ends=ends, length=length if "shape" not in more else None, **more)


def test_two_mitres_of_one_sign_are_a_frames_and_of_two_signs_parallel(work_out):
    # By hand: 50 tan 45 = 50 lies back at each end.
    frame = mitred(work_out, 45, 45).mitres
    assert (frame.hand, frame.long_mm, frame.short_mm) == ("frame", 500, pytest.approx(400))
    assert mitred(work_out, -45, -45).mitres.hand == "frame"
    parallel = mitred(work_out, 45, -45).mitres
    assert (parallel.hand, parallel.long_mm, parallel.short_mm) == ("parallel", 500, pytest.approx(450))
    one = mitred(work_out, 0, 30).mitres
    assert (one.hand, one.short_mm) == ("one end", pytest.approx(500 - 50 * 0.57735027))
    assert mitred(work_out, 0, 0).mitres is None


def test_either_hand_takes_the_same_metal(work_out):
    # A trapezium and a parallelogram of one height: area = height x mean of both sides.
    frame, parallel = mitred(work_out, 45, 45), mitred(work_out, 45, -45)
    assert frame.mass_kg == pytest.approx(450 * 50 * 6 * 7.85e-6)
    assert parallel.mass_kg == pytest.approx(frame.mass_kg)


@pytest.mark.parametrize(
    ("first", "last", "length"), [(45, 45, "99"), (45, 45, "60"), (45, -45, "50"), (60, 0, "80")]
)
def test_mitres_that_cross_or_leave_no_metal_are_refused(work_out, first, last, length):
    with pytest.raises(CannotMakeError, match=r"(mitres cross: they take|a mitre takes) \d+"):
        mitred(work_out, first, last, length)


def test_a_gusset_is_a_triangle(work_out):
    # Half of width x length x thickness; no short side is left, and that is no fault.
    gusset = mitred(work_out, 0, 45, "50")
    assert gusset.mitres.short_mm == pytest.approx(0) and gusset.mass_kg == pytest.approx(
        50 * 50 / 2 * 6 * 7.85e-6
    )
    roof = mitred(work_out, 45, 45, "100")
    assert roof.mitres.short_mm == pytest.approx(0) and roof.mass_kg == pytest.approx(
        100 * 50 / 2 * 6 * 7.85e-6
    )


def test_mitres_that_all_but_meet_are_made(work_out):
    assert mitred(work_out, 45, 45, "101").mitres.short_mm == pytest.approx(1)
    assert mitred(work_out, 45, -45, "101").mitres.short_mm == pytest.approx(51)


def test_weld_round_a_mitre_is_the_edge_of_its_cut():
    # A box's faces along the cut grow by 1 / cos; a tube's cut is an ellipse (complete elliptic integral).
    flat = weld_length_mm(parse_section("flat 50 x 6", "mm"), End("mitre", Decimal(45)))
    assert flat == pytest.approx(2 * 50 * 2**0.5 + 2 * 6)
    for angle in (0, 30, 45, 60, 75):
        end = End("mitre", Decimal(angle)) if angle else End()
        a = 21.2 / cos(radians(angle))
        exact = 4 * a * ellipe(1 - (21.2 / a) ** 2)
        assert weld_length_mm(parse_section("tube 42.4 x 3", "mm"), end) == pytest.approx(exact, rel=1e-5)


def test_a_mitre_after_a_turned_plane_tells_how_far_it_is_turned(work_out):
    shape = "leg 300; bend 90 r 30; leg 200; turn 90; bend 90 r 30; leg 300"
    assert mitred(work_out, 45, 45, bar="square 12", shape=shape).mitres.roll == 90
