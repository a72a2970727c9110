"""Words of ends, and what each takes or adds, against closed forms and published rules."""

from dataclasses import replace
from decimal import Decimal
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.end_work import (
    FORGED,
    chamfer_mm3,
    forged_width_mm,
    upset_stock_mm,
    work_end,
)
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.saddles import saddle_cut
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import HoleSpec, PartSpec
from shopquote.calc.pricing.end_minutes import end_minutes
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError, InputError
from shopquote.services.shop.starting import starting_shop
from tests.services.job_specs import END_TEXTS


def worked(bar, text):
    return work_end(parse_section(bar, "mm"), parse_end(text, "mm"), "Part A", Say())


def part(bar, length, *ends, **more):
    first, last = (parse_end(text, "mm") for text in ends)
    spec = PartSpec("A", "A", 1, bar, "S275", length=Measure.parse(length, "mm"), ends=(first, last), **more)
    return analyse_part(spec, "mm", starting_shop())


def test_a_tubes_end_is_pressed_flat_with_its_girth_kept():
    # Middle of the wall: a stadium, two straights W - T and two half rounds of T - t; T = D is the tube.
    bar, wall, out = parse_section("tube 26.9 x 2.6", "mm"), 2.6, 26.9
    for left in (5.2, 8.0, 26.9):
        wide = forged_width_mm(bar, parse_end(f"flatten 60 to {left}", "mm").forms[0])
        assert 2 * (wide - left) + pi * (left - wall) == pytest.approx(pi * (out - wall))
    answer = part("tube 26.9 x 2.6", "900", "flatten 60 to 5.2", "square")
    assert answer.developed.mm == 900 and "press it flat; it comes 39.3 mm wide" in answer.end_notes[0]
    for text in ("flatten 60 to 4", "flatten 60 to 27"):
        with pytest.raises(CannotMakeError, match="both its walls"):
            worked("tube 26.9 x 2.6", text)
    with pytest.raises(CannotMakeError, match="no solid end"):
        worked("box 25 x 25 x 2", "flatten 60 to 5")


@given(st.sampled_from(END_TEXTS), st.sampled_from(["mm", "in"]))
def test_an_end_shown_reads_back_the_same(text, unit):
    end = parse_end(text, unit)
    assert parse_end(str(end), unit) == end


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("mitre 90", "below 90 degrees"),
        ("round + mitre 45", "comes first"),
        ("tred M12 x 40", "Did you mean 'thread'"),
        ("thread M12", "expected thread THREAD x LENGTH"),
        ("thread M99 x 40", "M99"),
        ("turn 16", "expected turn DIA x LENGTH"),
        ("tenon 12 x 0", "above zero"),
        ("round 5", "expected round"),
        ("", "nothing done to an end"),
    ],
)
def test_an_end_that_is_not_understood_is_told_with_its_form(text, told):
    with pytest.raises(InputError, match=told):
        parse_end(text, "mm")


def test_upset_stock_follows_from_the_volume():
    # Constant volume by hand: pi/4 18^2 x 20 / (pi/4 12^2) = 45.0.
    assert upset_stock_mm(pi / 4 * 144, 18, 20) == pytest.approx(45.0)
    assert worked("round 12", "head 18 x 10").stock_mm == pytest.approx(22.5 - 10)


def test_a_point_takes_a_third_of_its_length():
    # A pyramid or cone is a third of its prism: 4 in of point take 1.333 in of bar (geometry).
    for bar in ("round 12", "square 12", "flat 30 x 8"):
        assert worked(bar, "point 60 to 0").stock_mm == pytest.approx(20 - 60)


def test_a_forged_tenon_keeps_its_volume_and_a_turned_end_its_length():
    tenon = worked("square 16", "tenon 12 x 22")
    assert tenon.stock_mm == pytest.approx(pi / 4 * 144 * 22 / 256 - 22)
    turned = worked("round 16", "turn 12 x 30")
    assert (turned.stock_mm, turned.removed_mm3) == (0, pytest.approx(pi / 4 * (256 - 144) * 30))


def test_flattened_metal_goes_sideways():
    bar = parse_section("round 12", "mm")
    width = forged_width_mm(bar, parse_end("flatten 40 to 5", "mm").forms[0])
    assert width * 5 == pytest.approx(pi * 36)


def test_a_chamfer_is_a_cylinder_less_a_frustum():
    # By hand: pi r^2 c - pi c/3 (r^2 + r(r-c) + (r-c)^2), r = 10, c = 2.
    by_hand = pi * 100 * 2 - pi * 2 / 3 * (100 + 80 + 64)
    assert chamfer_mm3(20, 2) == pytest.approx(by_hand)


def test_a_saddle_is_deepest_at_the_sides_and_equal_tubes_meet_at_their_radius():
    assert saddle_cut(60.3, 60.3).deeper_mm == pytest.approx(60.3 / 2)
    cut = saddle_cut(42.4, 60.3, points=8)
    assert cut.template_mm[2] == pytest.approx(0, abs=1e-9)  # a quarter round from the crown
    assert cut.deeper_mm == pytest.approx(30.15 - sqrt(30.15**2 - 21.2**2))
    # For a thin branch the mean of r^2 sin^2 / 2R is half of its greatest value.
    thin = saddle_cut(1, 1000)
    assert thin.mean_back_mm == pytest.approx(thin.deeper_mm / 2, rel=1e-3)


def test_the_sawn_piece_has_the_stock_of_its_ends_and_what_is_held():
    answer = part("round 16", 300, "point 60 to 0", "turn 12 x 40", hold=Measure.parse(15, "mm"))
    assert answer.developed.mm_float == pytest.approx(260)
    assert answer.cut.mm_float == pytest.approx(275)
    assert answer.envelope_mm[0] == pytest.approx(300)
    metal = pi / 4 * (256 * 260 - (256 - 144) * 40)
    assert answer.mass_kg == pytest.approx(metal * 7.85e-6)


@pytest.mark.parametrize(
    ("bar", "length", "end", "told"),
    [
        ("round 12", 100, "turn 12 x 30", "only 12 mm across"),
        ("round 12", 100, "point 120 to 0", "needs 120 mm of bar"),
        ("round 12", 100, "turn 10 x 120", "needs 120 mm of straight"),
        ("round 12", 100, "point 60 to 8 x 4", "no width and thickness"),
        ("flat 50 x 5", 100, "point 60 to 20", "to 20 x 5"),
        ("flat 50 x 5", 100, "point 60 to 60 x 5", "only 50 mm x 5 mm"),
        ("round 12", 100, "head 40 x 30", "times its size"),
        ("round 12", 100, "head 10 x 5", "no larger than the bar"),
        ("tube 25 x 2", 100, "turn 20 x 30", "25 mm outside and 21 mm inside; 20 mm cuts through its wall"),
        ("tube 25 x 2", 100, "thread M24 x 30", "cuts through its wall"),
        ("tube 25 x 2", 100, "thread M27 x 30", "is more than it"),
        ("tube 25 x 2", 100, "turn 25.5 x 30", "is more than it"),
        ("tube 19.5 x 1", 100, "thread M20 x 30", "cuts through its wall"),
        (
            "tube 30 x 5",
            100,
            "turn 24 x 40 + thread M27 x 30",
            "24 mm outside and 20 mm inside; 27 mm is more",
        ),
        ("tube 30 x 5", 100, "turn 24 x 40 + chamfer 2.5", "its wall is 2 mm; a chamfer is less"),
        ("tube 25 x 2", 100, "chamfer 2", "its wall is 2 mm; a chamfer is less"),
        ("tube 25 x 2", 100, "head 30 x 5", "no solid end"),
        ("round 12", 100, "thread M16 x 30", "only 12 mm across; the thread is 16 mm"),
        ("round 20", 100, "turn 11 x 40 + thread M12 x 30", "only 11 mm across; the thread is 12 mm"),
        ("tube 60.3 x 3", 100, "saddle 42.4", "does not sit on"),
        ("flat 40 x 6", 100, "flatten 40 to 8", "is 6 mm already"),
    ],
)
def test_what_an_end_cannot_be_is_refused(bar, length, end, told):
    with pytest.raises(CannotMakeError, match=told):
        part(bar, length, "square", end)


def test_a_tubes_end_is_turned_chamfered_and_threaded():
    # Rings: (30^2 - 28^2) pi/4 over 20; Pappus for the chamfer's triangle, 0.5^2/2 at 14.8333 from the axis.
    assert worked("tube 30 x 2", "turn 28 x 20").removed_mm3 == pytest.approx(pi / 4 * (900 - 784) * 20)
    assert worked("tube 30 x 2", "chamfer 0.5").removed_mm3 == pytest.approx(0.125 * 2 * pi * (15 - 0.5 / 3))
    # EN 10255 medium pipe DN 15, 21.3 x 2.6, bears its G 1/2 (20.955 mm, ISO 228-1): 1.27 of wall is left.
    assert part("pipe 15 medium", 300, "thread G 1/2 x 20", "square").developed.mm == 300
    # A stud of rolled bar 0.4 mm under size (EN 10060), and a bolt on a turned neck.
    part("round 15.6", 100, "thread M16 x 30", "square")
    part("round 20", 100, "turn 12 x 40 + thread M12 x 30", "square")


def test_a_ring_has_no_end_to_work():
    ends = (parse_end("round", "mm"), End())
    spec = PartSpec("A", "A", 1, "round 12", "S275", shape="ring d 300", ends=ends)
    with pytest.raises(CannotMakeError, match="is on a ring"):
        analyse_part(spec, "mm", starting_shop())


def test_a_hole_keeps_its_place_on_the_finished_part_when_the_first_end_is_drawn_out():
    hole = HoleSpec(dia=Measure.parse(6, "mm"), at=(Measure.parse(150, "mm"),))
    answer = part("round 16", 300, "point 60 to 0", "square", holes=(hole,))
    (place,) = answer.hole_marks
    assert place.at.mm_float == pytest.approx(150 - 40)  # 60 of point from 20 of bar


def bent(bar, shape, *ends, loss="0"):
    first, last = (parse_end(text, "mm") for text in ends)
    shop = replace(starting_shop(), forge_loss_pct=Decimal(loss))
    return analyse_part(PartSpec("A", "A", 1, bar, "S275", shape=shape, ends=(first, last)), "mm", shop)


def test_a_forged_end_may_lie_in_a_curve_and_changes_the_sawn_length_alone():
    # A cone of 30 takes 10 of bar (geometry): the same hook is sawn 20 shorter, its marks stay.
    plain = bent("round 10", "leg 100; hook d 30 tip 20", "square", "square")
    pointed = bent("round 10", "leg 100; hook d 30 tip 20", "square", "point 30 to 0")
    assert plain.developed.mm_float - pointed.developed.mm_float == pytest.approx(20)
    assert [bend.mark for bend in pointed.bends] == [bend.mark for bend in plain.bends]
    assert "before bending" in pointed.end_notes[-1]


def test_a_point_of_a_width_and_a_thickness_keeps_its_volume():
    # A wedge 50 x 5 down to 20 x 5 over 100: mean width 35, so 70 of bar (geometry).
    assert worked("flat 50 x 5", "point 100 to 20 x 5").stock_mm == pytest.approx(70 - 100)
    # Down to a line on one axis alone a wedge is half of its prism.
    assert worked("square 12", "point 60 to 12 x 0.000001").stock_mm == pytest.approx(30 - 60, abs=1e-3)


@given(st.sampled_from(END_TEXTS))
def test_metal_that_is_forged_is_kept_but_for_its_scale(text):
    end = parse_end(text, "mm")
    if any(form.word not in FORGED for form in end.forms):
        return
    section = parse_section("square 20", "mm")
    try:
        kept, burnt = (work_end(section, end, "A", Say(), loss) for loss in (0.0, 4.0))
    except CannotMakeError:
        return
    # What is sawn more is what burns off, 4 % of the bar that is forged: the finished end stays as it was.
    assert burnt.stock_mm - kept.stock_mm == pytest.approx(0.04 * kept.forged_mm)
    assert burnt.removed_mm3 == pytest.approx((burnt.stock_mm - kept.stock_mm) * section.area_mm2)


def test_a_ring_that_is_forge_welded_has_scarfs_for_its_ends():
    plain = bent("flat 25 x 8", "ring d 200", "square", "square")
    scarfed = bent("flat 25 x 8", "ring d 200", "scarf", "scarf")
    # Three quarters of the thickness an end, inside the half to once of smiths' handbooks.
    assert scarfed.developed.mm_float - plain.developed.mm_float == pytest.approx(2 * 0.75 * 8)


def test_a_saddle_comes_with_its_wrap_round_template():
    (line,) = part("tube 42.4 x 2.6", 900, "saddle 60.3", "square").end_notes
    # At the crown r (0) lies at the deepest, at 90 degrees not back at all; 30 degrees by hand:
    # sqrt(30.15^2 - (21.2 sin 30)^2) - sqrt(30.15^2 - 21.2^2) = 28.225 - 21.438 = 6.787.
    assert "back 8.7 mm, 6.8 mm," in line and ", 0, " in line


@pytest.mark.parametrize(
    ("text", "removed"),
    [
        # Cylinders by hand, a neck inside a neck: 20 to 16 over 60, of it 16 to 12 over 30.
        ("turn 16 x 60 + turn 12 x 30", (400 - 256) * 60 + (256 - 144) * 30),
        ("turn 12 x 30 + turn 16 x 60", (400 - 256) * 60 + (256 - 144) * 30),
        ("turn 16 x 60 + turn 16 x 60", (400 - 256) * 60),
        ("turn 12 x 60 + turn 16 x 30", (400 - 144) * 60),
        ("tenon 14 x 30 + turn 12 x 30", (196 - 144) * 30),
        ("tenon 14 x 20 + turn 12 x 30", (196 - 144) * 20 + (400 - 144) * 10),
    ],
)
def test_a_neck_turned_in_a_neck_counts_its_metal_once(text, removed):
    assert worked("round 20", text).removed_mm3 == pytest.approx(pi / 4 * removed)


def test_what_is_forged_twice_takes_its_metal_from_what_it_became():
    # A tenon of 14 x 30 whose last 5 are riveted over to 18: the volumes left, over the bar's area.
    left = 196 * 25 + 324 * 5
    assert worked("round 20", "tenon 14 x 30 + head 18 x 5").stock_mm == pytest.approx(left / 400 - 30)
    # A neck of 16, 60 long, with a head of 18 x 5: 55 of neck and 5 * (18 / 16)^2 of it in the head; the
    # lathe takes the ring off all of that.
    headed = worked("round 20", "turn 16 x 60 + head 18 x 5")
    neck = 55 + 5 * (18 / 16) ** 2
    assert headed.stock_mm == pytest.approx(neck - 60)
    assert headed.removed_mm3 == pytest.approx(pi / 4 * (400 - 256) * neck)
    # A cone on a neck of 12: a third of it, and the neck's ring is turned off that.
    pointed = worked("round 20", "turn 12 x 60 + point 30 to 0")
    assert pointed.stock_mm == pytest.approx(30 + 10 - 60)
    assert pointed.removed_mm3 == pytest.approx(pi / 4 * (400 - 144) * 40)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # By volume: 25 of tenon and 5 of head are (25 * 14^2 + 5 * 18^2) / 20^2 = 16.3 of bar, at 14 across
        # 33.27 long, of which 5 * 18^2 / 14^2 = 8.27 go into the head.
        (
            "tenon 14 x 30 + head 18 x 5",
            ["forge 16.3 mm of bar into 33.3 mm", "forge 8.3 mm of that into 5 mm"],
        ),
        ("tenon 14 x 30", ["forge 14.7 mm of bar into 30 mm"]),
        # Of a neck turned to 16: 5 * 18^2 / 16^2 = 6.33 of it.
        ("turn 16 x 60 + head 18 x 5", ["forge 6.3 mm of bar into 5 mm"]),
        # A cone of 30 on a tenon of 12: a third of it, and 10 of tenon are left before it.
        (
            "tenon 12 x 40 + point 30 to 0",
            ["forge 7.2 mm of bar into 20 mm", "forge 10 mm of that into 30 mm"],
        ),
    ],
)
@pytest.mark.parametrize("loss", ["0", "10"])
def test_the_bar_that_forgings_of_one_end_take_is_told_by_volume_and_adds_up(text, told, loss):
    answer = bent("round 20", "leg 300", text, "square", loss=loss)
    lines = [line.partition(": ")[2] for line in answer.end_notes]
    assert loss != "0" or lines == told
    # The first tells all that the end takes of the bar, with what the fire takes: the rest is the straight.
    reach = max(form.mm(1) if form.word != "point" else form.mm(0) for form in parse_end(text, "mm").forms)
    if text.startswith("tenon"):
        taken = float(lines[0].split()[1])
        assert taken == pytest.approx(answer.developed.mm_float - (300 - reach), abs=0.06)


def test_an_edge_is_taken_off_what_the_end_has_become_whatever_was_typed_first():
    for text in ("turn 16 x 30 + chamfer 1", "chamfer 1 + turn 16 x 30"):
        by_hand = pi / 4 * (400 - 256) * 30 + chamfer_mm3(16, 1)
        assert worked("round 20", text).removed_mm3 == pytest.approx(by_hand)


@given(st.lists(st.tuples(st.floats(6, 19.9), st.floats(1, 90)), min_size=1, max_size=4))
def test_necks_in_any_order_leave_the_same_metal(necks):
    texts = [f"turn {dia:.3f} x {length:.3f}" for dia, length in necks]
    one, other = (worked("round 20", " + ".join(order)).removed_mm3 for order in (texts, texts[::-1]))
    assert one == pytest.approx(other)
    assert one <= pi / 4 * 400 * max(length for _, length in necks)


def test_the_minutes_of_a_neck_in_a_neck_are_those_of_its_metal():
    spec, answer = spec_and_answer("turn 16 x 60 + turn 12 x 30")
    metal = [item.per_set for item in end_minutes([(spec, answer)]) if item.standard == "turn.metal"]
    assert sum(metal) == pytest.approx(worked("round 20", "turn 16 x 60 + turn 12 x 30").removed_mm3 / 1000)


def spec_and_answer(text):
    ends = (parse_end(text, "mm"), parse_end("square", "mm"))
    spec = PartSpec("A", "A", 1, "round 20", "S275", length=Measure.parse("300", "mm"), ends=ends)
    return spec, analyse_part(spec, "mm", starting_shop())
