"""Money left on the table by the prices of a group of jobs, its uncertainty, and what to do.

A job's money left is the price at which its actual cost would have given the quoted margin, less its price.
Jobs of one customer or kind also differ by chance: the interval about their sum comes from their own
variance, shrunk toward the usual one while they are few.

Sources: the spread of a sum about its ratio, W. G. Cochran, Sampling Techniques (3rd ed. 1977), as
math.umt.edu/patterson/549/ratio.R works it; drawn toward the usual as a variance with a scaled inverse
chi-square prior is, real-statistics.com, proofs of conjugate priors of the normal distribution, property 2.
"""

from collections.abc import Sequence
from math import sqrt

from shopquote.calc.frozen import dataclass

# Common practice, no source. Prior: a job's cost deviates by 15 % of its price, weighted as four jobs. Less
# than 2 % of the price is not worth raising with a customer.
USUAL_SPREAD, _WORTH = 0.15, 4
_LEAST_SHARE = 0.02
_EIGHT_IN_TEN = 1.2816
_LEAST_JOBS = 3  # common practice, no source: one bad job is no reason to raise prices or drop a customer


@dataclass(frozen=True, slots=True)
class Left:
    """Total money left by a group of jobs with its 80 % interval, and the advice that follows."""

    left: float
    low: float
    high: float
    advice: str


def judge(prices: Sequence[float], left: Sequence[float], margins: Sequence[float]) -> Left:
    """Judge jobs of one customer or kind.

    Args:
        prices: of the jobs, above zero.
        left: money left by each; below zero where more was asked than the margin needed.
        margins: price less cost of each, in money.

    `advice` is "raise" where the whole interval says that prices are too low, "drop" where it says that the
    jobs lose money, both from three jobs on; "keep" where it says that prices are not too low; else "not sure
    yet".

    >>> judge([100.0] * 9, [-5.0] * 9, [30.0] * 9).advice
    'keep'
    >>> judge([100.0] * 9, [20.0] * 9, [10.0] * 9).advice
    'raise'
    """
    asked, total = sum(prices), sum(left)
    shares = [amount / price for amount, price in zip(left, prices, strict=True)]
    usual = total / asked
    seen = sum((price * (share - usual)) ** 2 for price, share in zip(prices, shares, strict=True))
    believed = sum((price * USUAL_SPREAD) ** 2 for price in prices)
    free = len(shares) - 1
    # n jobs about their own ratio have n - 1 degrees of freedom.
    known = seen * len(shares) / free if free else 0.0
    reach = _EIGHT_IN_TEN * sqrt((_WORTH * believed + free * known) / (_WORTH + free))
    low, high, least = total - reach, total + reach, _LEAST_SHARE * asked
    surely = len(shares) >= _LEAST_JOBS
    if surely and sum(margins) + reach < 0:
        advice = "drop"
    elif surely and low > least:
        advice = "raise"
    else:
        advice = "keep" if high <= least or total <= 0 else "not sure yet"
    return Left(total, low, high, advice)
