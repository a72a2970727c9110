import math

import pytest

from shopquote.calc.bar.collide import Segment, segment_distance
from shopquote.errors import CannotMakeError


def codes(answer):
    return {problem.code for problem in answer.problems}


SQUARE_SPIRAL = "leg 100; bend 90 r 20; leg 90; bend 90 r 20; leg 70; bend 90 r 20; leg 200"


def test_a_bar_that_runs_into_itself_is_refused_with_place_and_cure(work_out):
    with pytest.raises(CannotMakeError) as caught:
        work_out("round 12", SQUARE_SPIRAL)
    assert "runs into itself: straight (word 7) crosses straight (word 1)" in caught.value.message
    assert "come within 0 mm and the bar is 12 mm" in caught.value.message
    assert "turn of the bending plane" in (caught.value.hint or "")


def test_led_past_itself_by_a_turn_the_same_bar_is_made(work_out):
    clear = work_out("round 12", SQUARE_SPIRAL.replace("leg 70; bend", "leg 70; turn 15; bend"))
    assert clear.envelope_mm[2] > 24


def test_a_loop_that_crosses_its_own_tail_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="runs into itself"):
        work_out("round 12", "leg 200; bend 300 r 30; leg 200")


def test_an_open_hook_of_more_than_a_half_turn_is_made(work_out):
    answer = work_out("round 12", "leg 200; bend 270 r 30")
    assert answer.bends[0].angle == 270
    assert "laps-itself" not in codes(answer)


def test_legs_of_a_half_turn_touch_nothing_however_tight(work_out):
    answer = work_out("round 12", "leg 200; bend 180 r 1; leg 200")
    assert not codes(answer) & {"laps-itself", "end-meets-bar"}


def test_a_closed_frame_ends_on_itself_and_is_only_warned_about(work_out):
    frame = "leg 200; bend 90 r 24; leg 200; bend 90 r 24; leg 200; bend 90 r 24; leg 200"
    assert "end-meets-bar" in codes(work_out("round 12", frame))
    open_frame = frame.replace(
        "leg 200; bend 90 r 24; leg 200; bend", "leg 170; bend 90 r 24; leg 200; bend", 1
    )
    assert "end-meets-bar" not in codes(work_out("round 12", open_frame))


def test_a_warning_names_legs_and_bends_and_no_place_in_the_shapes_text(work_out):
    """The floor has no text of the shape: it counts bends and legs as its sheets number them."""
    frame = "leg 200; bend 90 r 24; leg 200; bend 90 r 24; leg 100 ; leg 100; bend 90 r 24; leg 200"
    (told,) = (p.message for p in work_out("round 12", frame).problems if p.code == "end-meets-bar")
    assert "leg 1 and leg 5;" in told
    (told,) = (p.message for p in work_out("round 8", TIE).problems if p.code == "hook-crosses")
    assert "leg 1 and leg 5;" in told
    eyed = "leg 60; bend 180 r 20; leg 120; bend 180 r 20; leg 80"
    (told,) = (p.message for p in work_out("round 8", eyed).problems if p.code == "laps-itself")
    assert "leg 1 and leg 3;" in told


def test_flat_bar_needs_only_its_thickness_in_the_plane(work_out):
    # Legs 20 mm apart: room for a 6 mm flat lying flat, not for 40 mm on edge.
    shape = "leg 200; bend 180 r 18; leg 200; bend -180 r 18; leg 200"
    assert "laps-itself" not in codes(work_out("flat 40 x 6", shape))


# A closed tie as ACI 318 25.3.4 has them: 135 degree hooks round a corner bar, 6 db beyond the bend for No. 8
# and smaller (help.idecad.com, seismic hooks per ACI 318-19; sketchup3dconstruction.com, tips to design
# hooks).
TIE = (
    "leg 80; bend 135 r 16; leg 200; bend 90 r 16; leg 300; bend 90 r 16; leg 200; bend 90 r 16; leg 300; "
    "bend 135 r 16; leg 80"
)


def test_a_link_closed_by_135_degree_hooks_is_made_by_springing_a_hook_aside(work_out):
    answer = work_out("round 8", TIE)
    assert "hook-crosses" in codes(answer)
    assert len(answer.bend_order) == 5
    # Straights left of the legs (a right angle and a hook of 135 take 24 each) and the centre line's arcs.
    straights = 2 * (80 - 24) + 2 * (200 - 48) + 2 * (300 - 48)
    arcs = math.radians(3 * 90 + 2 * 135) * 20
    assert answer.developed.mm_float == pytest.approx(straights + arcs, abs=1e-5)


def test_a_long_end_across_the_bar_is_no_closing_hook(work_out):
    with pytest.raises(CannotMakeError, match="runs into itself"):
        work_out("round 8", TIE.replace("leg 80", "leg 180"))


def segment(start, end):
    length = sum((b - a) ** 2 for a, b in zip(start, end, strict=True)) ** 0.5
    along = tuple((b - a) / length for a, b in zip(start, end, strict=True))
    return Segment(start, end, along, 0.0, length, 0)


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        (((0, 0, 0), (10, 0, 0)), ((5, -5, 3), (5, 5, 3)), (3, 0.5, 0.5)),
        (((0, 0, 0), (10, 0, 0)), ((14, 3, 0), (20, 3, 0)), (5, 1.0, 0.0)),
        (((0, 0, 0), (10, 0, 0)), ((2, 4, 0), (8, 4, 0)), (4, None, None)),
        (((0, 0, 0), (10, 0, 0)), ((-3, 4, 0), (-9, 4, 0)), (5, 0.0, 0.0)),
    ],
)
def test_distance_of_two_straight_pieces_by_hand(a, b, expected):
    apart, on_a, on_b = segment_distance(segment(*a), segment(*b))
    assert apart == pytest.approx(expected[0])
    if expected[1] is not None:
        assert (on_a, on_b) == pytest.approx(expected[1:])
