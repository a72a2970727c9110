"""Drilling time against published worked examples."""

import pytest

from shopquote.calc.pricing.hole_minutes import cut_path_m, point_approach


@pytest.mark.parametrize(
    "speed, dia, turns",
    [
        (20, 20, 318.31),  # studyclix worked example: 20 mm drill at 20 m/min
        (80 * 0.3048, 12.7, 611),  # machinistpost: 1/2 in at 80 ft/min
    ],
)
def test_turns_match_public_worked_examples(speed, dia, turns):
    # 1 mm at 1 mm a turn is one turn; a flat-pointed drill has no approach.
    assert speed / cut_path_m(dia, 1, 1, point_angle=180) == pytest.approx(turns, rel=1e-3)


def test_time_without_approach_matches_the_worked_example():
    # studyclix: 0.25 mm a turn through 25 mm, 0.314 min; a flat-pointed drill has no approach.
    assert cut_path_m(20, 25, 0.25, point_angle=180) / 20 == pytest.approx(0.314, abs=0.001)


def test_time_with_approach():
    # A blind hole 10 mm, 60 deep, 118 degrees, 30 m/min, 0.25 mm a turn: 0.265 min, with the approach rounded
    # to 3 mm and the feed to 238 mm/min (a solved problem, petfoodhonesty.com/responto/22238091).
    assert cut_path_m(10, 60, 0.25) / 30 == pytest.approx(0.265, abs=0.0015)


def test_approach_of_the_usual_point_is_three_tenths_of_the_diameter():
    assert point_approach(20) == pytest.approx(6.01, abs=0.01)
    assert point_approach(10, 135) == pytest.approx(2.07, abs=0.01)
