"""Paint, powder and zinc against published values."""

import pytest

from shopquote.calc.pricing.coating import (
    paint_coverage_ft2_gal,
    paint_coverage_m2_l,
    powder_kg_m2,
    zinc_g_m2,
)

FT2, GALLON, MIL, LB = 0.09290304, 3.785411784, 25.4, 0.45359237


@pytest.mark.parametrize("transfer, coverage", [(30, 167), (35, 194.5)])
def test_paint_coverage_matches_ron_joseph(transfer, coverage):
    # paintcenter.org, Ron Joseph: 52 % solids, 1.5 mil dry.
    assert paint_coverage_ft2_gal(52, 1.5, transfer) == pytest.approx(coverage, abs=0.3)


def test_metric_coverage_agrees_with_the_inch_formula():
    metric = paint_coverage_m2_l(52, 1.5 * MIL, 30) / FT2 * GALLON
    assert metric == pytest.approx(paint_coverage_ft2_gal(52, 1.5, 30), rel=1e-3)


def test_powder_coverage():
    # Usual form 192.3 / (density x mils) x transfer: density 1.5, 2 mil, 60 % is 38.5 ft2/lb.
    assert 1 / (powder_kg_m2(1.5, 2 * MIL, 60) * FT2 / LB) == pytest.approx(38.5, abs=0.1)


# ISO 1461 mean g/m2 by thickness of steel; two public reproductions of the table agree.
@pytest.mark.parametrize(
    "thickness, grams", [(12, 610), (6.1, 610), (6, 505), (3.1, 505), (3, 395), (1.5, 395), (1.4, 325)]
)
def test_zinc_matches_iso_1461(thickness, grams):
    assert zinc_g_m2(thickness) == grams
