"""Learning curves against published values; the two models are kept apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.pricing.learning import average_time, mean_factor, unit_total
from shopquote.errors import InputError


def unit_time(first, rate, unit):
    """The n-th unit: what it adds to the total."""
    before = unit_total(first, rate, unit - 1) if unit > 1 else 0
    return unit_total(first, rate, unit) - before


def average_total(first, rate, count):
    """All units by the mean of Wright's model."""
    return count * average_time(first, rate, count)


# Crawford's unit model, 80 %: maxwideman.com appendix 2.
UNIT_80 = [(2, 80.0), (3, 70.21), (4, 64.0), (8, 51.2), (10, 47.65)]


@pytest.mark.parametrize("unit, time", UNIT_80)
def test_unit_times_match_published_values(unit, time):
    assert unit_time(100, 0.8, unit) == pytest.approx(time, abs=0.005)


def test_unit_model_of_another_published_series():
    # business-analysis-made-easy: 50, the second 40, the fourth 32.
    assert [unit_time(50, 0.8, n) for n in (1, 2, 4)] == pytest.approx([50, 40, 32], abs=1e-9)


def test_unit_total_of_ten():
    assert unit_total(100, 0.8, 10) == pytest.approx(631.5, abs=0.05)


def test_cumulative_average_of_two_makes_the_second_unit_60():
    # maxwideman.com: Wright's model, 80 %: average of two 80, so the second takes 60.
    assert average_time(100, 0.8, 2) == pytest.approx(80)
    assert average_total(100, 0.8, 2) - average_total(100, 0.8, 1) == pytest.approx(60)


def test_average_total_of_ten():
    assert average_total(100, 0.8, 10) == pytest.approx(476.5, abs=0.05)


def test_rate_of_a_public_exercise():
    # 10 h at the first unit and 1.25 h at the eighth is a rate of 50 %.
    assert unit_time(10, 0.5, 8) == pytest.approx(1.25)


@given(st.sampled_from(["unit", "average"]), st.floats(0.5, 1), st.integers(1, 3000))
def test_learning_never_makes_a_run_longer(model, rate, count):
    assert 0 < mean_factor(model, rate, count) <= 1 + 1e-9


@pytest.mark.parametrize("rate", [0, -0.5, 1.2])
def test_impossible_rate_is_refused(rate):
    with pytest.raises(InputError, match="Learning rate"):
        unit_time(1, rate, 2)
