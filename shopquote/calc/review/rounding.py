"""Logs with rounded minutes: an entry stands for the interval of minutes that round to it.

People write down quarters of an hour, which makes a log look more scattered than the work was. A rounded
entry is replaced by the expected value within its interval, given the expected minutes. Begin at
`rounding_steps` and `unrounded`.

Source: regression with interval-censored values, J. Tobin, Econometrica 26 (1958) 24-36; mean and variance
of a truncated normal, N. L. Johnson, S. Kotz and N. Balakrishnan, Continuous Univariate Distributions 1
(1994), section 13.10.1; a test holds them against scipy's.
"""

from collections.abc import Sequence
from math import erf

import numpy as np

from shopquote.calc.review.fit import Floats, Spread, WorkTable

# Rounding steps in minutes, the largest first, each with the least entries of a job that show it: two entries
# may be multiples of 5 by chance. Common practice, no source.
STEPS = ((15.0, 2), (5.0, 3))
_erf = np.frompyfunc(erf, 1, 1)


def rounding_steps(tables: Sequence[WorkTable]) -> list[Floats]:
    """For each table an array (n,): the step in minutes to which each row's job was rounded; 0 for none."""
    held: dict[str, list[float]] = {}
    for table in tables:
        for job, minutes in zip(table.jobs, table.minutes.tolist(), strict=True):
            held.setdefault(job, []).append(minutes)
    steps = {job: _step(values) for job, values in held.items()}
    return [np.array([steps[job] for job in table.jobs]) for table in tables]


def _step(entries: Sequence[float]) -> float:
    """The largest of `STEPS` that divides all entries of a job; 0 for none, or with too few entries."""
    for step, least in STEPS:
        if len(entries) >= least and not any(entry % step for entry in entries):
            return step
    return 0.0


def unrounded(minutes: Floats, step: Floats, expected: Floats, spread: Spread) -> tuple[Floats, Floats]:
    """Log of likely over expected minutes, and the variance of it that rounding leaves unknown, both (n,).

    All arguments but `spread` are (n,), in minutes.
    """
    error = np.log(minutes / expected)
    hidden = np.zeros(len(minutes))
    rows = np.flatnonzero(step > 0)
    if not len(rows):
        return error, hidden
    of, half = expected[rows], step[rows] / 2
    deviation = np.minimum(np.hypot(spread.whole, spread.hour * np.sqrt(60 / of)), 0.8)
    # Nobody writes down 0 minutes: an entry of one step also stands for anything shorter.
    least = np.where(minutes[rows] > step[rows], minutes[rows] - half, 1e-9)
    low, high = (np.log(end / of) / deviation for end in (least, minutes[rows] + half))
    # Beyond 4 standard deviations the truncated normal's formula loses precision: the nearer end is taken.
    inside = (low < 4) & (high > -4)
    a, b = np.clip(low, -5, 5), np.clip(high, -5, 5)
    mass = np.maximum(_cumulated(b) - _cumulated(a), 1e-9)
    mean = (_density(a) - _density(b)) / mass
    variance = np.clip(1 + (a * _density(a) - b * _density(b)) / mass - mean**2, 0, 1)
    near = np.where(low >= 4, low, high)
    error[rows] = deviation * np.where(inside, mean, near)
    hidden[rows] = deviation**2 * np.where(inside, variance, 0.0)
    return error, hidden


def _density(value: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * value**2) / np.sqrt(2 * np.pi))


def _cumulated(value: Floats) -> Floats:
    return np.asarray(0.5 * (1 + _erf(value / np.sqrt(2)).astype(float)))
