"""Weld metal, deposition and the smallest usual fillet against published tables and worksheets."""

import pytest

from shopquote.calc.pricing.welding import (
    filler_bought_kg,
    minimum_fillet_mm,
    weld_area_mm2,
    weld_mass_kg,
)

INCH = 25.4
LB = 0.45359237
# 0.283 lb/in3, the density of the published fillet table, in kg/m3.
TABLE_DENSITY = 0.283 * LB / (INCH / 1000) ** 3

# ESAB weight-per-foot table, 45 degree fillet, leg in, lb/ft; and the same with half more weld metal as
# printed by Iowa DOT IM 569 from 1/4 in up.
ESAB_FILLETS = [
    (1 / 8, 0.027),
    (3 / 16, 0.060),
    (1 / 4, 0.106),
    (5 / 16, 0.166),
    (3 / 8, 0.239),
    (1 / 2, 0.425),
]
IOWA_FILLETS = [(1 / 4, 0.16), (5 / 16, 0.25), (3 / 8, 0.36), (1 / 2, 0.64)]


@pytest.mark.parametrize("leg_in, lb_ft", ESAB_FILLETS)
def test_fillet_weight_matches_the_published_table(leg_in, lb_ft):
    kg = weld_mass_kg(weld_area_mm2("fillet", leg_in * INCH), 12 * INCH, TABLE_DENSITY, 0)
    assert kg / LB == pytest.approx(lb_ft, abs=0.0006)


@pytest.mark.parametrize("leg_in, lb_ft", IOWA_FILLETS)
def test_fillet_weight_with_half_more_matches_iowa_dot(leg_in, lb_ft):
    kg = weld_mass_kg(weld_area_mm2("fillet", leg_in * INCH), 12 * INCH, TABLE_DENSITY, 50)
    assert kg / LB == pytest.approx(lb_ft, abs=0.006)


def test_overwelded_fillet_matches_a_worked_example():
    # weldinganswers.com, said to match the Procedure Handbook table 12-1: 76.5 in of 1/4 in fillet,
    # legs a tenth over, is 0.819 lb.
    kg = weld_mass_kg(weld_area_mm2("fillet", 0.25 * 1.1 * INCH), 76.5 * INCH, TABLE_DENSITY, 0)
    assert kg / LB == pytest.approx(0.819, abs=0.001)


def test_metric_fillet_weight_per_metre():
    # Half a square of 6 mm at 7850 kg/m3 (arithmetic): 0.1413 kg/m.
    assert weld_mass_kg(weld_area_mm2("fillet", 6), 1000, 7850, 0) == pytest.approx(0.1413, abs=1e-4)


def test_groove_is_its_v_and_its_root_gap():
    # 60 degree V, 10 deep, 2 mm gap, by hand: 100 x tan 30 + 20 = 77.735 mm2.
    assert weld_area_mm2("groove", 10, groove_angle=60, root_gap_mm=2) == pytest.approx(77.735, abs=1e-3)


@pytest.mark.parametrize("length_in, efficiency, effective", [(12, 60, 50.0), (14, 60, 51.4), (18, 80, 71.1)])
def test_stub_loss_matches_esab_lesson_9(length_in, efficiency, effective):
    # ESAB lesson 9, figure 5: 2 in stubs.
    bought = filler_bought_kg(1, efficiency, 100 * 2 / length_in)
    assert 100 / bought == pytest.approx(effective, abs=0.05)


def test_cost_per_pound_matches_the_esab_worksheet():
    # Labour of 45 an hour over deposition and operating factor, wire or rod bought, gas.
    flux_cored = 45 / (10.2 * 0.45) + 1.78 * filler_bought_kg(1, 87) + 40 * 0.02 / 10.2
    stick = 45 / (5.4 * 0.30) + 0.85 * filler_bought_kg(1, 64)
    assert flux_cored == pytest.approx(11.93, abs=0.01)
    assert stick == pytest.approx(29.11, abs=0.01)


def test_arc_minutes_for_ten_feet_of_quarter_inch_fillet():
    # Derived from the ESAB wire table: 0.035 in wire at 350 in/min melts 5.76 lb/h; 11.05 min of arc.
    kg = weld_mass_kg(weld_area_mm2("fillet", 0.25 * INCH), 120 * INCH, TABLE_DENSITY, 0)
    assert kg / (5.76 * LB) * 60 == pytest.approx(11.05, abs=0.01)


# AWS D1.1 table 7.7 as publicly reproduced, metric column: thickness mm, smallest leg mm.
@pytest.mark.parametrize(
    "thickness, leg", [(6, 3), (6.35, 3), (6.4, 5), (12.7, 5), (13, 6), (19, 6), (20, 8), (40, 8)]
)
def test_minimum_fillet_matches_aws_d1_1(thickness, leg):
    assert minimum_fillet_mm(thickness) == leg


def test_minimum_fillet_is_never_above_the_thickness():
    assert minimum_fillet_mm(2) == 2
