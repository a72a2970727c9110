"""Learning curves: each doubling of the quantity reduces the time by the same factor, the learning rate.

Two models that are often confused and differ much. Crawford's unit model (1944): the time of the n-th unit is
T1 n^b. Wright's cumulative average model (1936): the MEAN time of the first n units is T1 n^b. In both
b = log2(rate); a rate of 0.8 saves a fifth at each doubling. Times are in the unit of `first`.
"""

from functools import lru_cache
from math import log2

from shopquote.calc.pricing.priced_quote import Learning
from shopquote.errors import InputError


def exponent(rate: float) -> float:
    """The exponent b of a learning rate: above 0, and 1 for no learning.

    Raises:
        InputError: the rate is not above 0 and at most 1.
    """
    if not 0 < rate <= 1:
        raise InputError(f"Learning rate is {rate:g}; it must be above 0 and at most 1 (100 %).")
    return log2(rate)


def unit_total(first: float, rate: float, count: int) -> float:
    """Total time of the first `count` units by Crawford's unit model, in the unit of `first`.

    >>> round(unit_total(100, 0.8, 10), 1)
    631.5
    """
    _check_count(count)
    return first * _power_sum(exponent(rate), count)


def average_time(first: float, rate: float, count: int) -> float:
    """Mean time of the first `count` units by Wright's cumulative average model, in the unit of `first`.

    >>> round(average_time(100, 0.8, 2), 9)
    80.0
    """
    _check_count(count)
    return float(first * count ** exponent(rate))


def mean_factor(model: Learning, rate: float, count: int) -> float:
    """Ratio of the mean time in a run of `count` units to the time of its first unit.

    >>> mean_factor("none", 0.8, 10), round(mean_factor("unit", 0.8, 10), 4)
    (1.0, 0.6315)
    """
    if model == "none":
        return 1.0
    if model == "unit":
        return unit_total(1.0, rate, count) / count
    return average_time(1.0, rate, count)


@lru_cache(maxsize=256)
def _power_sum(b: float, count: int) -> float:
    return sum(float(unit**b) for unit in range(1, count + 1))


def _check_count(count: int) -> None:
    if count < 1:
        raise InputError(f"Quantity is {count}; learning needs at least 1 unit.")
