"""Boxes of numbers of bars: the least they cost, and the prices that show it."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopquote.calc.takeoff.master import EMPTY, FAR_PRICE, Box


def box_of(draw):
    """Four kinds of two stocks, each, both and all between two ends, which may contradict one another."""
    ends = [sorted((draw.randint(0, 4), draw.randint(0, 6))) for _ in range(4)]
    stocks = [sorted((draw.randint(0, 7), draw.randint(0, 12))) for _ in range(2)]
    low, high = zip(*ends, strict=True)
    stock_low, stock_high = zip(*stocks, strict=True)
    return Box(low, high, stock_low, stock_high, *sorted((draw.randint(0, 10), draw.randint(6, 16))))


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 10**9))
def test_prices_of_the_bars_show_the_least_that_a_box_costs(seed):
    # Strong duality of linear programs: the best prices show just the least cost.
    draw = random.Random(seed)
    box, stock_of = box_of(draw), (0, 1, 0, 1)
    reduced = [draw.randint(-9, 9) for _ in range(4)]
    prices = box.prices(reduced, stock_of)
    for k, stock in enumerate(stock_of):
        assert reduced[k] - prices[k] - prices[4 + stock] - prices[6] >= 0
    least = box.least(reduced, stock_of)
    shown = sum(
        price * (low if price >= 0 else high) for price, low, high in zip(prices, *box.ends(), strict=True)
    )
    assert shown == least if least < EMPTY else shown > FAR_PRICE // 2


@pytest.mark.parametrize("reduced", [(3, 5, 1, 2), (-3, 5, -1, 2)])
def test_bars_that_need_not_be_cut_have_no_price_above_nothing(reduced):
    box = Box((0,) * 4, (9,) * 4, (0, 0), (9, 9), 0, 9)
    assert max(box.prices(reduced, (0, 1, 0, 1))) <= 0


def test_of_prices_that_show_the_same_those_nearest_to_nothing_are_taken():
    # Of one stock there are just 55 bars, so that what all bars and those of the stock cost can make up for
    # one another without end.
    box = Box((0,), (90,), (55,), (55,), 0, 90)
    assert box.prices([-7], (0,)) in {(0, -7, 0), (-7, 0, 0), (0, 0, -7)}
    assert box.prices([7], (0,)) == (0, 7, 0)
