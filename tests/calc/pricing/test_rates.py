"""Burdened rates."""

from decimal import Decimal

import pytest

from shopquote.calc.pricing.rates import burdened_rate
from shopquote.errors import InputError

D = Decimal


def test_burdened_rate_of_the_worked_value():
    # 25 an hour, 30 % burden, 2080 hours, 75 % productive: 43.33 (arithmetic).
    assert burdened_rate(D(25), D(30), D(2080), D(75)).rate.quantize(D("0.01")) == D("43.33")


def test_overhead_part_is_the_break_even_rate():
    # 120 000 a year over 2 people, 1800 hours, 70 %: 47.62 (arithmetic).
    working = burdened_rate(D(0), D(0), D(1800), D(70), overhead_per_year=D(120000), people=2)
    assert working.overhead_part.quantize(D("0.01")) == D("47.62")
    assert len(working.steps) == 5


def test_no_productive_hour_is_refused():
    with pytest.raises(InputError, match="productive"):
        burdened_rate(D(25), D(30), D(2080), D(0))
