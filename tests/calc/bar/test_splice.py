"""Parts longer than any bar: parted into pieces that add up, welded, or told."""

from dataclasses import replace
from itertools import accumulate

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shopquote.calc.bar.benders import LongestBar
from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.splice import parted
from shopquote.calc.job import HoleSpec, JobSpec, PartSpec
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.work import job_work
from shopquote.calc.takeoff.takeoff import group_pieces
from shopquote.calc.units import Length, Measure, parse_length
from shopquote.services.shop.starting import starting_shop

STEPS = {"mm": Length.from_mm("0.1"), "in": Length.from_inches("1/64")}


def selling(**sold: str):
    """A starting shop that sells these bars, by section key with dashes; each gives 60 mm less."""
    longest = {
        (key.replace("_", " "), "S275"): LongestBar(
            parse_length(text, "mm"), Length(parse_length(text, "mm").nm - 60_000_000)
        )
        for key, text in sold.items()
    }
    return replace(starting_shop(), longest=longest)


@given(
    st.integers(1, 600_000), st.integers(500, 130_000), st.sampled_from(["mm", "in"]),
    st.lists(st.tuples(st.integers(0, 60_000), st.integers(1, 3000)), max_size=6), st.floats(0, 0.99),
)  # fmt: skip
@example(177_000, 59_396, "mm", [(5850, 100)], 0.75)  # a bar in the other unit gives no whole steps
def test_pieces_add_up_fit_a_bar_and_lie_clear_of_bends_where_they_can(cut, room, unit, bends, part):
    step = STEPS[unit]
    whole, bar = Length(cut * step.nm), Length(round((room + part) * step.nm))
    closed = [(begin, begin + wide) for begin, wide in bends]
    pieces = parted(whole, bar, step, closed)
    assert sum(piece.nm for piece in pieces) == whole.nm
    assert all(0 < piece.nm <= bar.nm and piece.nm % step.nm == 0 for piece in pieces)
    if whole <= bar:
        assert len(pieces) == 1
    fewest = -(-cut // room)
    welds = list(accumulate(piece.mm_float for piece in pieces[:-1]))
    clear = all(not begin + 1e-6 < at < end - 1e-6 for at in welds for begin, end in closed)
    # More pieces than the fewest are only for a weld that keeps clear, and are few.
    assert len(pieces) == fewest or (clear and len(pieces) < fewest + 2)


def test_a_weld_is_moved_out_of_a_bend_and_off_a_hole(work_out):
    # 9 m with a bend in the middle: each weld lies on a straight, two bar sizes of 12 or 20 mm clear of it.
    answer = work_out("round 12", "leg 4500; bend 90 r 24; leg 4500", splice=True)
    (found,) = answer.problems
    assert found.code == "spliced" and "bend" not in found.message
    (first, second), (leg, bend, _) = answer.sawn_as, answer.runs
    assert first.nm + second.nm == answer.cut.nm
    at = first.mm_float
    clear = max(20, 2 * 12)
    assert at <= leg.flat_mm - clear + 0.1 or at >= leg.flat_mm + bend.flat_mm + clear - 0.1
    # A straight bar of two halves with a hole right at the middle: the weld lies 20 mm beside its middle.
    hole = HoleSpec(dia=Measure.parse("8", "mm"), at=(Measure.parse("4585", "mm"),))
    part = PartSpec("A", "rail", 1, "flat 40 x 5", "S275", length=Measure.parse("9170", "mm"), splice=True)
    drilled = analyse_part(replace(part, holes=(hole,)), "mm", starting_shop())
    assert [piece.mm_float for piece in drilled.sawn_as] == [4565, 4605]


def test_a_ring_rolled_of_pieces_says_that_its_welds_lie_in_the_curve(work_out):
    answer = work_out("flat 40 x 5", "ring d 2400", splice=True)
    assert len(answer.sawn_as) == 2
    (told,) = [found.message for found in answer.problems if found.code == "spliced"]
    assert "in the curve: dress it flush before it is bent" in told


@pytest.mark.parametrize(
    ("sold", "pieces"),
    [("6 m", [4585, 4585]), ("3 m", [2292.5] * 4), ("7.62 m", [4585, 4585]), ("12 m", [9170])],
)
def test_it_is_parted_by_the_bars_that_are_sold(sold, pieces):
    part = PartSpec("A", "rail", 1, "round 12", "S275", length=Measure.parse("9170", "mm"), splice=True)
    answer = analyse_part(part, "mm", selling(round_12=sold))
    assert [piece.mm_float for piece in answer.sawn_as] == pieces
    # A size on nobody's list is taken for the nearest of its shape that is sold.
    other = analyse_part(replace(part, bar="round 13"), "mm", selling(round_12=sold, flat_40_x_5="1 m"))
    assert [piece.mm_float for piece in other.sawn_as] == pieces


def test_an_inch_job_is_parted_by_inch_bars_in_64ths():
    # 20 ft less the starting saw's 3/8 in of trim and 2 in of grip: 237-5/8 in; 480 in takes three pieces.
    part = PartSpec("A", "rail", 1, "round 1/2", "A36", length=Measure.parse("480", "in"), splice=True)
    answer = analyse_part(part, "in", starting_shop())
    assert [piece.inches for piece in answer.sawn_as] == [160, 160, 160]
    (told,) = answer.problems
    assert "3 pieces of 160 in, welded 160 in from the start and 320 in from the start" in told.message
    fits = analyse_part(replace(part, length=Measure.parse("237-5/8", "in")), "in", starting_shop())
    assert [found.code for found in fits.problems] == ["splice-unused"]


def test_a_spliced_part_is_sawn_in_pieces_with_mitres_at_its_ends_and_a_weld(work_out):
    part = PartSpec("A", "rail", 2, "tube 42.4 x 2.6", "S275", length=Measure.parse("9170", "mm"))
    part = replace(part, splice=True, ends=(parse_end("mitre 45", "mm"), parse_end("square", "mm")))
    answer = work_out(part.bar, length="9170", splice=True, ends=part.ends)
    ((_, _, pieces),) = group_pieces([(answer, part, 4, "J")])
    assert [(piece.length.mm_float, piece.count, piece.mitres) for piece in pieces] == [
        (4585, 4, (45, 0)),
        (4585, 4, (0, 0)),
    ]
    assert {problem.code for problem in answer.problems} == {"spliced"}
    # The floor is told too: nothing else of a straight piece says that it is welded.
    assert "2 pieces of 4585 mm, welded 4585 mm from the start" in answer.floor_notes[-1]
    work = job_work(JobSpec("Rail", "Somebody", 1, "mm", parts=(part,)), {"A": answer}, starting_book())
    units = {
        item.standard: item.per_set
        for item in work.items
        if item.standard.startswith(("splice", "saw.cut", "saw.area-rate"))
    }
    # Two parts a set, one weld each of 133.2 mm round; two cuts each, of a tube of 3.25 cm2: the ends as one
    # (a mitre of 45 degrees is 1.414 times as large), and all of the splice.
    assert units == {
        "splice.fit-up": 2,
        "splice.weld": pytest.approx(2 * 13.32, rel=1e-3),
        "saw.cut-handling": 4,
        "saw.area-rate.mild": pytest.approx(2 * 3.251 * ((1.4142 + 1) / 2 + 1), rel=1e-3),
    }


def test_a_part_too_long_for_a_bar_is_told_how_it_can_be_made(work_out):
    long = work_out("tube 42.4 x 2.6", length="9170")
    assert [problem.code for problem in long.problems] == ["longer-than-bars"]
    assert "splice = true" in long.problems[0].message
    short = work_out("tube 42.4 x 2.6", length="3000", splice=True)
    assert [problem.code for problem in short.problems] == ["splice-unused"]


def test_a_piece_longer_than_a_sheet_is_welded_across_its_width(work_out):
    part = PartSpec("A", "tray", 1, "sheet 270 x 3", "S275", length=Measure.parse("3500", "mm"), splice=True)
    answer = work_out(part.bar, length="3500", splice=True)
    ((_, _, pieces),) = group_pieces([(answer, part, 2, "J")])
    assert [(piece.length.mm_float, piece.count) for piece in pieces] == [(1750, 4)]
    work = job_work(JobSpec("Tray", "Somebody", 1, "mm", parts=(part,)), {"A": answer}, starting_book())
    assert {item.standard: item.per_set for item in work.items}["splice.weld"] == pytest.approx(27)
    (told,) = work_out(part.bar, length="3500").problems
    assert "a sheet of 2500 mm gives" in told.message
