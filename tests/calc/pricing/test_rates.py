"""Burdened rates and the identities of margin and markup."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.pricing.rates import burdened_rate, margin_from_markup, markup_from_margin
from shopquote.errors import InputError

D = Decimal
# Published identity table (brainscape; math.techqa): margin %, markup %. The popular 40 -> 80 is wrong.
MARGINS = [("20", "25.0"), ("25", "33.3"), ("30", "42.9"), ("40", "66.7"), ("50", "100.0")]


@pytest.mark.parametrize("margin, markup", MARGINS)
def test_margin_and_markup_of_the_same_price(margin, markup):
    assert markup_from_margin(D(margin)).quantize(D("0.1")) == D(markup)
    assert margin_from_markup(D(markup)).quantize(D(1)) == D(margin)


@given(st.decimals("0", "99", places=2))
def test_markup_and_margin_are_inverse(margin):
    assert abs(margin_from_markup(markup_from_margin(margin)) - margin) < D("1e-20")


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


def test_margin_of_100_is_refused():
    with pytest.raises(InputError, match="below 100"):
        markup_from_margin(D(100))
