"""The envelope of a part as it lies level on its longest leg."""

import pytest


def test_a_bracket_whose_longest_leg_is_its_last_lies_on_that(work_out):
    answer = work_out("round 12", "leg 60; bend 45 r 25; leg 400")
    assert answer.envelope_mm[0] > 300
    # By hand: along the long leg, its corner with the short one; both legs outside, turned by 45 degrees.
    turned = work_out("round 12", "leg 400; bend 45 r 25; leg 60")
    assert answer.level_mm == pytest.approx(turned.envelope_mm, abs=1e-3)
    assert answer.level_mm[2] == pytest.approx(12)


def test_a_part_in_space_lies_as_low_as_it_can(work_out):
    # Two short legs at right angles about a long one stand 45 degrees each: lowest on one of them.
    shape = "leg 100; bend 90 r 20; leg 500; turn 90; bend 90 r 20; leg 60"
    answer = work_out("round 10", shape, dims="centre")
    assert answer.level_mm[0] == pytest.approx(510)
    assert answer.level_mm[2] <= 70 + 1e-6


def test_a_straight_lies_as_it_is_and_a_ring_on_its_side(work_out):
    straight = work_out("flat 40 x 6", length="300")
    assert straight.level_mm == pytest.approx((300, 40, 6))
    ring = work_out("round 12", "ring d 300").level_mm
    assert ring == pytest.approx((324, 324, 12), abs=0.5)


@pytest.mark.parametrize("shape", ["scroll from 20 to 70 turns 1.25", "arc 200 r 150"])
def test_a_curve_without_a_leg_lies_flat_along_its_greatest_length(work_out, shape):
    answer = work_out("flat 25 x 5", shape)
    assert answer.level_mm[2] == pytest.approx(25)
    assert answer.level_mm[0] >= max(answer.envelope_mm) - 12
    assert sorted(answer.level_mm)[1] > 25


def test_a_coil_without_a_leg_lies_on_its_side(work_out):
    # 10 turns of pitch 40: 400 long and 312 over all; standing it would be 400 high.
    answer = work_out("round 12", "helix d 300 centre pitch 40 turns 10")
    assert answer.level_mm[2] == pytest.approx(312, rel=0.15) and answer.level_mm[0] > 400
