"""The order of bends that never traps the bar."""

from dataclasses import replace

import pytest

from shopquote.calc.bar.bend_answers import on_piece
from shopquote.calc.bar.benders import Bender, BendingShop, Former
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.units import Length


def mm(value):
    return Length.from_mm(value)


BENDER = Bender(
    name="test bender",
    largest_moment_nm=5000,
    opening=mm(60),
    width=mm(60),
    lever=mm(3000),
    formers=(Former(mm(24)),),
    smallest_leg=mm(0),
    smallest_between=mm(0),
    largest_angle=270,
)


def ordered(work_out, shape, **changes):
    shop = BendingShop(benders=(replace(BENDER, **changes),), grades=STARTING_GRADES)
    return work_out("round 12", shape, shop=shop)


def numbers(answer):
    return [step.bend for step in answer.bend_order]


def traps(answer):
    return [problem.message for problem in answer.problems if problem.code == "traps-the-bar"]


def test_bends_to_one_side_are_made_in_turn_without_flips(work_out):
    answer = ordered(work_out, "leg 200; bend 90 r 24; leg 200; bend 90 r 24; leg 200")
    assert numbers(answer) == [1, 2]
    assert not any(step.swap or step.roll for step in answer.bend_order)
    assert answer.order_note == "clamp the start end, the finish end is drawn in: bend 1, bend 2"


def test_a_bend_the_other_way_is_made_after_turning_the_bar_over(work_out):
    shape = "leg 200; bend 90 r 24; leg 300; bend -90 r 24; leg 200"
    answer = ordered(work_out, shape)
    assert [abs(step.roll) for step in answer.bend_order] == [0, 180]
    assert "turn over" in answer.order_note
    both = ordered(work_out, shape, both_ways=True)
    assert [step.roll for step in both.bend_order] == [0, 0]


def test_a_bend_in_another_plane_is_made_after_turning_the_bar_that_far(work_out):
    answer = ordered(work_out, "leg 200; bend 90 r 24; leg 300; turn 40; bend 90 r 24; leg 200")
    assert abs(answer.bend_order[1].roll) == pytest.approx(40)


def test_every_bend_is_made_exactly_once(work_out):
    link = "; bend 90 r 24; ".join(f"leg {leg}" for leg in (125, 300, 200, 300, 200, 125))
    answer = ordered(work_out, link)
    assert sorted(numbers(answer)) == [1, 2, 3, 4, 5]


def test_a_leg_that_would_hang_under_the_bench_decides_which_end_is_held(work_out):
    # By hand: with the finish held, a plane turned by +90 brings the first leg up, by -90 down.
    shape = "leg 300; bend 90 r 24; leg 120; turn {}; bend 90 r 24; leg 300"
    for turn, end in ((90, "finish"), (-90, "start")):
        answer = ordered(work_out, shape.format(turn), bench_radius=mm(500))
        assert [(step.bend, step.end) for step in answer.bend_order] == [(1, end), (2, end)]
        assert not traps(answer)
    free = ordered(work_out, shape.format(-90))
    assert {step.end for step in free.bend_order} == {"finish"}


def test_a_wide_body_traps_a_narrow_channel(work_out):
    shape = "leg 200; bend 90 r 24; leg 76; bend 90 r 24; leg 200"
    assert not traps(ordered(work_out, shape))
    wide = ordered(work_out, shape, clear_radius=mm(90))
    assert traps(wide)
    assert "bend 2 cannot be" in traps(wide)[0]
    assert "meets the former" in traps(wide)[0]
    assert wide.bend_order == ()


def test_a_link_whose_ends_meet_is_sprung_shut(work_out):
    link = "leg 51; bend 180 r 24; leg 102; bend 180 r 24; leg 51"
    answer = ordered(work_out, link, smallest_leg=mm(0))
    assert len(answer.bend_order) == 2 and not traps(answer)


def test_a_part_of_many_bends_is_answered_soon(work_out):
    shape = "leg 100; " + "".join(f"bend {90 if n % 2 else -90} r 24; leg 100; " for n in range(40))
    assert sorted(numbers(ordered(work_out, shape))) == list(range(1, 41))


def test_a_mark_at_the_end_of_the_bar_is_shown_on_the_sawn_piece():
    # 357.4 mm sawn: half millimetres round its end to 357.5, which nobody can mark.
    def shown(mark, datum="start", unit="mm", cut="357.4"):
        return on_piece(mm(mark), datum, mm(cut), unit).mm_float

    assert shown("357.4") == 357.0
    assert shown("178.8", "middle", cut="357.6") == 178.5
    assert shown("-178.8", "middle", cut="357.6") == -178.5
    assert shown("200.3") == 200.3
    assert shown("400") == 400
    assert shown("357.4", unit="in") <= 357.4
