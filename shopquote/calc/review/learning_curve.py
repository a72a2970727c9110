"""Fit of a learning curve to the times of one product made many times.

Two models, as in the price calculation: the time of the n-th unit (Crawford), or the average time of the
first n units (Wright), is T1 n^b. The learning rate 2^b is the ratio of times at each doubling of n. Fitted
by least squares on logarithms.
Source: T. P. Wright, "Factors Affecting the Cost of Airplanes", Journal of the
Aeronautical Sciences 3 (1936) 122-128, and J. R. Crawford's unit form of 1944, as
maaw.info/LearningCurveSummary.htm compares them.
"""

from collections.abc import Sequence
from math import exp, log, sqrt

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError


@dataclass(frozen=True, slots=True)
class LearningCurve:
    """The curve T1 n^b: T1 is `first`, in the unit of the times, and b is `slope`.

    `error` is the standard error of the slope (0 with two points), `r_squared` the share of the variance of
    the logarithms that the curve explains.
    """

    first: float
    slope: float
    error: float
    r_squared: float
    points: int

    @property
    def rate(self) -> float:
        """The learning rate, a ratio: 0.9 is a 90 % curve."""
        return float(2**self.slope)

    def at(self, number: float) -> float:
        """Time (or average time) at a unit number, in the unit of the times."""
        return float(self.first * number**self.slope)


def fit_curve(numbers: Sequence[float], times: Sequence[float]) -> LearningCurve:
    """Fit T1 n^b to times at unit numbers (or average times at cumulative numbers).

    Raises:
        InputError: fewer than two different numbers, or a value not above zero.

    >>> round(fit_curve([1, 2, 4, 8], [50, 40, 32, 25.6]).rate, 6)
    0.8
    """
    if len(numbers) != len(times) or len(set(numbers)) < 2:
        raise InputError("A learning curve needs the times of at least two different unit numbers.")
    if min(numbers) <= 0 or min(times) <= 0:
        raise InputError("A learning curve needs unit numbers and times above zero.")
    x = [log(number) for number in numbers]
    y = [log(time) for time in times]
    count = len(x)
    mean_x, mean_y = sum(x) / count, sum(y) / count
    spread_x = sum((value - mean_x) ** 2 for value in x)
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread_x
    left = sum((b - mean_y - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    spread_y = sum((value - mean_y) ** 2 for value in y)
    error = sqrt(left / (count - 2) / spread_x) if count > 2 else 0.0
    explained = 1.0 if spread_y == 0 else 1 - left / spread_y
    return LearningCurve(exp(mean_y - slope * mean_x), slope, error, explained, count)
