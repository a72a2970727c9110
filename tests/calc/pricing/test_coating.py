"""Paint and powder against published values."""

import pytest

from shopquote.calc.pricing.work import paint_coverage_m2_l, powder_kg_m2

FT2, GALLON, MIL, LB = 0.09290304, 3.785411784, 25.4, 0.45359237


@pytest.mark.parametrize("transfer, coverage", [(30, 167), (35, 194.5)])
def test_paint_coverage_matches_ron_joseph(transfer, coverage):
    # paintcenter.org, Ron Joseph: 52 % solids, 1.5 mil dry; square feet a US gallon.
    metric = paint_coverage_m2_l(52, 1.5 * MIL, transfer)
    assert metric / FT2 * GALLON == pytest.approx(coverage, abs=0.4)


def test_metric_coverage_agrees_with_the_inch_formula():
    metric = paint_coverage_m2_l(52, 1.5 * MIL, 30) / FT2 * GALLON
    # 1604 x solids x transfer / mils: the same author.
    assert metric == pytest.approx(1604 * 0.52 * 0.30 / 1.5, rel=1e-3)


def test_powder_coverage():
    # Usual form 192.3 / (density x mils) x transfer: density 1.5, 2 mil, 60 % is 38.5 ft2/lb.
    assert 1 / (powder_kg_m2(1.5, 2 * MIL, 60) * FT2 / LB) == pytest.approx(38.5, abs=0.1)
