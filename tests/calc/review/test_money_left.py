"""Money left by prices: an identity for one job, and how often the stated range holds for many."""

import random

import pytest

from shopquote.calc.review.money_left import judge


def test_words_follow_what_is_sure():
    assert judge([100.0] * 9, [20.0] * 9, [10.0] * 9).advice == "raise"
    assert judge([100.0] * 9, [-5.0] * 9, [30.0] * 9).advice == "keep"
    assert judge([100.0] * 9, [90.0] * 9, [-60.0] * 9).advice == "drop"
    assert judge([100.0], [10.0], [10.0]).advice == "not sure yet"
    # One or two jobs, however bad, drop nobody and raise no price.
    for advice, left, margin in (("drop", 90.0, -60.0), ("raise", 60.0, 10.0)):
        told = [judge([100.0] * jobs, [left] * jobs, [margin] * jobs).advice for jobs in (1, 2, 3)]
        assert told == ["not sure yet", "not sure yet", advice]


def test_one_job_has_the_usual_spread_and_many_their_own():
    one = judge([1000.0], [0.0], [300.0])
    assert one.high == pytest.approx(1.2816 * 0.15 * 1000)
    # Jobs that lie all alike narrow the range, those that differ widen it.
    alike = judge([1000.0] * 30, [50.0] * 30, [300.0] * 30)
    apart = judge([1000.0] * 30, [-600.0, 700.0] * 15, [300.0] * 30)
    assert alike.high - alike.low < 0.5 * (apart.high - apart.low)


def test_the_range_holds_eight_in_ten_sums_of_jobs_that_lie_15_pct_off():
    draw = random.Random(7)
    held = 0
    for _ in range(2000):
        prices = [draw.lognormvariate(6.5, 0.8) for _ in range(draw.randint(1, 12))]
        told = judge(prices, [price * draw.gauss(0.05, 0.15) for price in prices], [1e9] * len(prices))
        held += told.low <= 0.05 * sum(prices) <= told.high
    assert 1500 <= held <= 1700
