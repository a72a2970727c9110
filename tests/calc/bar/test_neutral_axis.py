from datetime import date

import pytest

from shopquote.calc.bar.benders import BendingShop, BendTest, KRule
from shopquote.calc.bar.develop import bend_allowance_mm
from shopquote.calc.bar.neutral_axis import din_6935_k, k_of_bend, measured_k, setback_mm, two_step_k
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError


def mm(value):
    return Length.from_mm(value)


# k of DIN 6935:2011 as the notes of two public programs and excelution.at/2019/08 quote it, v worked from it.
# r, s, k, -v at 90 degrees.
DIN_6935 = [
    (1, 1, 0.6500, 1.919), (2.5, 1, 0.8490, 2.406), (3, 3, 0.6500, 5.756),
    (4, 2, 0.8005, 4.459), (6, 3, 0.8005, 6.689), (10, 2, 0.9995, 6.722),
]  # fmt: skip


@pytest.mark.parametrize(("radius", "thickness", "factor", "minus_v"), DIN_6935)
def test_din_6935_factor_and_compensation(radius, thickness, factor, minus_v):
    k = din_6935_k(radius, thickness)
    assert 2 * k == pytest.approx(factor, abs=6e-5)
    v = bend_allowance_mm(90, radius, thickness, k) - 2 * setback_mm(90, radius, thickness)
    assert v == pytest.approx(-minus_v, abs=6e-4)


def test_din_6935_holds_k_at_one_half_from_a_ratio_of_five_and_refuses_sharp_corners():
    assert din_6935_k(50, 10) == pytest.approx(0.5, abs=3e-4)
    assert din_6935_k(500, 10) == 0.5
    with pytest.raises(CannotMakeError, match=r"serves from 0\.1"):
        din_6935_k(0.5, 10)


def test_the_two_step_rule_changes_at_twice_the_thickness():
    # Kalpakjian and Schmid, SI 6th ed.: 0.33 for R < 2T, rising to 0.50 for R > 2T.
    assert two_step_k(19.9, 10) == 0.33
    assert two_step_k(20.1, 10) == 0.5


# Machinery's Handbook, 28th ed., as a drawing program's help page on bend tables quotes it, length of a
# 90 degree bend: 0.55, 0.64, 0.71 T + pi / 2 R.
@pytest.mark.parametrize(("k", "inches"), [(0.350, 0.5300), (0.407, 0.5525), (0.452, 0.5700)])
def test_a_fixed_k_gives_the_handbook_lengths(k, inches):
    assert bend_allowance_mm(90, 0.25, 0.25, k) == pytest.approx(inches, abs=6e-4)


def test_bend_allowance_of_a_public_walkthrough():
    # A public bend-allowance walkthrough: R 0.125, T 0.125, K 0.44, 90 degrees -> 0.2827 in.
    assert bend_allowance_mm(90, 0.125, 0.125, 0.44) == pytest.approx(0.2827, abs=1e-4)


# Kalpakjian and Schmid, eq. 16.2, worked for round 12 on R 25 with K 0.5: allowance and deduction, mm.
@pytest.mark.parametrize(("angle", "allowance", "deduction"), [(90, 48.695, 25.305), (45, 24.347, 6.304)])
def test_allowance_and_deduction_of_round_12(angle, allowance, deduction):
    got = bend_allowance_mm(angle, 25, 12, 0.5)
    assert got == pytest.approx(allowance, abs=1e-3)
    assert 2 * setback_mm(angle, 25, 12) - got == pytest.approx(deduction, abs=1e-3)


def test_beyond_90_degrees_a_leg_is_measured_to_the_outermost_tangent():
    assert setback_mm(90, 25, 12) == pytest.approx(37)
    assert setback_mm(90.001, 25, 12) == 37
    assert setback_mm(180, 25, 12) == 37
    assert setback_mm(-135, 25, 0) == 25


def a_test(made_on=date(2026, 3, 1), flat="134.695", leg_1="100", leg_2="60", **more):
    values = {
        "section": parse_section("round 12", "mm"), "grade": "S275", "former_radius": mm(25), "angle": 90.0,
    }  # fmt: skip
    return BendTest(made_on, flat_length=mm(flat), leg_1=mm(leg_1), leg_2=mm(leg_2), **{**values, **more})


def test_a_test_piece_gives_the_k_that_its_legs_came_out_by():
    # The bracket of the worked example: 100 x 60 outside from 134.695 mm means the centre line.
    assert measured_k(a_test()) == pytest.approx(0.5, abs=1e-4)
    # 1 mm more flat bar for the same legs: K larger by 1 / (pi/2 x 12).
    assert measured_k(a_test(flat="135.695")) == pytest.approx(0.5 + 1 / (1.5707963 * 12), abs=1e-4)


def test_a_test_piece_that_cannot_be_true_is_refused():
    with pytest.raises(InputError, match="must lie from 0 to 1"):
        measured_k(a_test(flat="160"))
    with pytest.raises(InputError, match="needs the flat length"):
        measured_k(BendTest(date(2026, 1, 1), parse_section("round 12", "mm"), "S275", mm(25), 90))


def k_for(bar, radius, shop=None, grade="S275", axis="easy"):
    return k_of_bend(
        parse_section(bar, "mm"), STARTING_GRADES[grade], axis, mm(radius), shop or BendingShop()
    )


def test_the_usual_rule_depends_on_bar_and_metal():
    assert k_for("round 12", 24).rule == "centreline"
    assert k_for("flat 40 x 6", 12).rule == "DIN 6935"
    assert k_for("flat 40 x 6", 12, grade="6061-T6").rule == "two-step K"
    assert k_for("flat 40 x 6", 160, axis="hard").rule == "centreline"
    assert k_for("angle 50 x 30 x 5 sharp", 90).k == pytest.approx(7.5 / 30)


def test_the_shops_own_tests_come_before_the_usual_rule_with_their_spread_and_date():
    tests = (a_test(flat="135.695"), a_test(made_on=date(2026, 5, 1), flat="136.695"))
    answer = k_for("round 12", 25, BendingShop(bend_tests=tests))
    first, second = measured_k(tests[0]), measured_k(tests[1])
    assert answer.rule == "measured K"
    assert answer.k == pytest.approx((first + second) / 2)
    assert answer.spread == pytest.approx(abs(first - second) / 2**0.5)
    assert answer.tests == 2
    assert "2026-05-01" in answer.source


def test_tests_of_another_bar_grade_or_former_do_not_count():
    shop = BendingShop(bend_tests=(a_test(flat="135.695"),))
    assert k_for("round 12", 40, shop).rule == "centreline"
    assert k_for("round 10", 25, shop).rule == "centreline"
    assert k_for("round 12", 25, shop, grade="S355").rule == "centreline"


def test_the_chosen_rule_that_names_most_wins_over_tests_and_custom():
    rules = (
        KRule("two-step K", section_kind="round"),
        KRule("fixed K", k=0.42, grade="S275", section_kind="round", source="drawing office"),
    )
    shop = BendingShop(k_rules=rules, bend_tests=(a_test(flat="135.695"),))
    assert k_for("round 12", 25, shop).k == 0.42
    assert k_for("round 12", 25, shop).source == "drawing office"
    assert k_for("round 12", 25, shop, grade="304").rule == "two-step K"
    assert k_for("square 12", 25, shop).rule == "centreline"
