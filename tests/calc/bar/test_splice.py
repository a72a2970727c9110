"""Parts longer than any bar: parted into pieces that add up, welded, or told."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.splice import pieces_of, usual_stock
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.work import job_work
from shopquote.calc.takeoff.takeoff import group_pieces
from shopquote.calc.units import Length, Measure


@given(st.integers(1, 600_000), st.sampled_from(["round 12", "sheet 300 x 3", "mesh 1000 x 50 x 50 x 3"]))
def test_pieces_add_up_and_each_fits_a_bar_or_sheet(tenths, bar):
    cut, section = Length.from_mm(f"{tenths / 10:.1f}"), parse_section(bar, "mm")
    pieces = pieces_of(cut, section, True)
    assert Length(sum(piece.nm for piece in pieces)) == cut
    assert all(0 < piece.mm_float <= usual_stock(section)[1] for piece in pieces)
    assert pieces_of(cut, section, False) == (cut,)


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
        item.standard: item.per_set for item in work.items if item.standard.startswith(("splice", "saw.cut"))
    }
    # Two parts a set, one weld each of 133.2 mm round; two cuts each.
    assert units == {
        "splice.fit-up": 2,
        "splice.weld": pytest.approx(2 * 13.32, rel=1e-3),
        "saw.cut-handling": 4,
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
    assert "a 2.5 m sheet gives" in told.message


def test_a_splice_in_a_bend_is_told(work_out):
    answer = work_out("round 12", "leg 4500; bend 90 r 24; leg 4500", splice=True)
    assert any("in a bend" in problem.message for problem in answer.problems)
