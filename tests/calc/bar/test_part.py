"""Mass, ends, holes and the reading of a part."""

from decimal import Decimal
from math import pi, sqrt

import pytest
from scipy.integrate import quad

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.holes import through_hole_mm3
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError, InputError


def mm(text):
    return Measure.parse(text, "mm")


def hole(dia, count=1, **more):
    return HoleSpec(mm(dia), count, **more)


MITRE_45 = End("mitre", Decimal(45))


def test_mass_is_that_of_the_straight_bar(work_out):
    # Round 12 weighs 0.888 kg/m (midlandrapid.co.uk); bending moves no metal.
    answer = work_out("round 12", "leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150")
    assert answer.mass_kg == pytest.approx(0.888 * 1.000248, abs=2e-4)


def test_mass_of_a_304_bar_of_a_public_weight_chart(work_out):
    # Round 40 of 304, 3 m at 8000 kg/m3: 30.16 kg.
    # The chart reckons 8000; the grade on file has the 7900 of EN 10088-1.
    mass = work_out("round 40", length="3000", grade="304").mass_kg
    assert mass * 8000 / 7900 == pytest.approx(30.16, abs=0.01)


def test_inch_bars_weigh_what_public_examples_say(work_out):
    # jajalger2018.org and rebab.net at 0.2833 lb/in3: 1 in round x 12 ft 32.04 lb; 1/2 x 2 x 120 in 33.99 lb.
    ratio = 490 / 1728 / 0.2833
    one = work_out("round 1", length="12 ft", unit="in", grade="A36").mass_kg / 0.45359237
    assert one == pytest.approx(32.04 * ratio, rel=2e-3)
    flat = work_out("flat 2 x 1/2", length="120", unit="in", grade="A36").mass_kg / 0.45359237
    assert flat == pytest.approx(33.99 * ratio, rel=2e-3)


def test_finish_area_is_skin_and_both_ends(work_out):
    # pi d L + 2 (pi/4) d2: round 12, 1 m.
    assert work_out("round 12", length="1000").area_m2 == pytest.approx(
        (pi * 12 * 1000 + pi / 2 * 144) * 1e-6
    )


def test_a_mitred_end_has_a_long_and_a_short_point(work_out):
    # h tan m: 50 flat at 45 degrees is 50.0; cut area 1 / cos m (derived).
    answer = work_out("flat 50 x 10", length="450", ends=(MITRE_45, End()))
    assert answer.mitre_mm == pytest.approx((50, 0))
    assert answer.end_cut_area_mm2 == pytest.approx((500 * sqrt(2), 500))
    assert answer.cut.mm == 450
    # A wedge of half the mitre is gone.
    assert answer.mass_kg == pytest.approx(500 * 425 * 7.85e-6)


def test_a_mitre_longer_than_its_piece_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="a mitre takes 50 mm of a piece of 40 mm"):
        work_out("flat 50 x 10", length="40", ends=(MITRE_45, End()))


def test_holes_are_taken_off_the_mass(work_out):
    plain = work_out("flat 50 x 10", length="450").mass_kg
    drilled = work_out("flat 50 x 10", length="450", holes=(hole("20", 3),)).mass_kg
    assert plain - drilled == pytest.approx(3 * pi / 4 * 400 * 10 * 7.85e-6)
    sunk = work_out("flat 50 x 10", length="450", holes=(hole("6", 1, countersunk=True),)).mass_kg
    assert sunk < work_out("flat 50 x 10", length="450", holes=(hole("6"),)).mass_kg


def test_a_hole_through_a_round_against_quadrature_and_the_equal_cylinders():
    # Two equal cylinders share 2/3 d3 (Archimedes).
    assert through_hole_mm3(lambda x: 2 * sqrt(25 - x * x), 10) == pytest.approx(2 / 3 * 1000, rel=1e-9)
    referee = quad(lambda x: 2 * sqrt(36 - x * x) * 2 * sqrt(9 - x * x), -3, 3)[0]
    assert through_hole_mm3(lambda x: 2 * sqrt(36 - x * x), 6) == pytest.approx(referee, rel=1e-8)


def test_a_hole_through_a_tube_goes_through_both_walls(work_out):
    plain = work_out("box 40 x 20 x 2", length="450").mass_kg
    drilled = work_out("box 40 x 20 x 2", length="450", holes=(hole("10"),)).mass_kg
    assert plain - drilled == pytest.approx(pi / 4 * 100 * 4 * 7.85e-6)


def test_a_hole_as_wide_as_the_bar_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="leaves no metal in a bar 12 mm wide"):
        work_out("round 12", length="450", holes=(hole("12"),))
    with pytest.raises(CannotMakeError, match="take all of its metal"):
        work_out("flat 50 x 10", length="20", holes=(hole("40", 9),))


@pytest.mark.parametrize(
    ("bar", "shape", "grade", "says"),
    [
        ("rond 12", "leg 30", "S275", "Part A: Bar 'rond 12' is not a section"),
        ("round 12", "lge 30", "S275", "Part A: Shape, word 1: found 'lge'"),
        ("round 12", "leg 30", "S27", "Part A: Grade 'S27' is not on file"),
    ],
)
def test_what_cannot_be_read_names_the_part(work_out, bar, shape, grade, says):
    with pytest.raises(InputError, match=says):
        work_out(bar, shape, grade=grade)


def test_a_part_has_a_length_or_a_shape(work_out):
    with pytest.raises(InputError, match="both length and shape"):
        work_out("round 12", "leg 30", length="30")
    with pytest.raises(InputError, match="neither length and shape"):
        work_out("round 12")


def test_a_part_longer_than_a_kilometre_is_refused(work_out):
    with pytest.raises(CannotMakeError, match="at most 1 km"):
        work_out("round 12", "leg 1200 m; bend 90 r 24; leg 100")


def test_why_gives_formula_and_source_of_every_figure(work_out):
    answer = work_out("flat 40 x 6", "leg 200; bend 90 r 12; leg 200")
    text = "\n".join(answer.why)
    for words in (
        "A (R + K T)",
        "DIN 6935",
        "eq. 16.4",
        "Considere",
        "springback ratio",
        "EN 10025-2",
        "490 lb/ft3",
    ):
        assert words in text
    assert f"{answer.developed.mm_float:.3f}" in text


def test_hollow_and_angle_bends_carry_their_own_warning(work_out):
    hollow = work_out("tube 26.9 x 2.6", "leg 300; bend 90 r 40; leg 300")
    assert "flattens" in {problem.code for problem in hollow.problems}
    # Its outer wall thins by less than a fifth: (Ro - CLR) / Ro = 26.9 / 2 / (60 + 26.9).
    wide = work_out("tube 26.9 x 2.6", "leg 300; bend 90 r 60; leg 300")
    assert "flattens" not in {problem.code for problem in wide.problems}
    angle = work_out("angle 40 x 40 x 4", "leg 300; bend 90 r 160; leg 300")
    assert "angle-buckles" in {problem.code for problem in angle.problems}


def test_a_square_rolled_off_its_face_is_a_matter_to_decide(work_out):
    answer = work_out("square 12", "leg 300; bend 90 r 60; leg 300; turn 30; bend 90 r 60; leg 300")
    assert "lies-on-edge" in {problem.code for problem in answer.problems}


def test_bends_carry_cautions_and_no_rating(work_out):
    answer = work_out("square 12", "taper 60 to 2; leg 200; bend 90 r 24; leg 200")
    text = " ".join(answer.cautions)
    assert "bend a test piece first" in text
    assert "keep hands off" in text
    assert "Hot work" in text
    assert work_out("square 12", length="200").cautions == ()


@pytest.mark.parametrize(
    "dia, said", [("6.8", ""), ("7.3", 'such as thread = "M8"'), ("8", "M8 is drilled 6.8 mm")]
)
def test_a_tapped_hole_is_read_as_its_drill_and_must_fit_a_thread(work_out, dia, said):
    found = [
        problem.message
        for problem in work_out("flat 40 x 6", length="100", holes=(hole(dia, tapped=True),)).problems
        if problem.code == "no-thread"
    ]
    assert bool(found) == bool(said) and all(said in message for message in found)
