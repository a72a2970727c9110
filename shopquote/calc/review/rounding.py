"""What a log says whose minutes were rounded: a number of minutes stands for all that round to it.

People write down quarters of an hour. The minutes are so known to lie in an interval only, and count as
their mean there, given what is expected: a log of quarters looks wilder than the work was.
Begin at `rounding_steps` and `unrounded`.

Source: regression with interval-censored values, J. Tobin, Econometrica 26 (1958) 24-36; mean and variance
of a truncated normal, N. L. Johnson, S. Kotz and N. Balakrishnan, Continuous Univariate Distributions 1
(1994), section 13.10.1; a test holds them against scipy's.
"""

from collections.abc import Sequence
from math import erf

import numpy as np

from shopquote.calc.review.fit import Floats, Spread, WorkTable

# Minutes, the widest first, with the entries of a job that tell of it: two may both be a multiple of 5 by
# chance. Common practice, no source.
STEPS = ((15.0, 2), (5.0, 3))
_erf = np.frompyfunc(erf, 1, 1)


def rounding_steps(tables: Sequence[WorkTable]) -> list[Floats]:
    """By table and row: what the minutes of the row's job were rounded to, 0 where to nothing."""
    held: dict[str, list[float]] = {}
    for table in tables:
        for job, minutes in zip(table.jobs, table.minutes.tolist(), strict=True):
            held.setdefault(job, []).append(minutes)
    steps = {job: _step(values) for job, values in held.items()}
    return [np.array([steps[job] for job in table.jobs]) for table in tables]


def _step(entries: Sequence[float]) -> float:
    """The widest step that all entries of a job are whole multiples of; 0 for none, or too few to tell."""
    for step, least in STEPS:
        if len(entries) >= least and not any(entry % step for entry in entries):
            return step
    return 0.0


def unrounded(minutes: Floats, step: Floats, expected: Floats, spread: Spread) -> tuple[Floats, Floats]:
    """Log of the likely minutes over the expected, and the variance that rounding hides of it."""
    error = np.log(minutes / expected)
    hidden = np.zeros(len(minutes))
    rows = np.flatnonzero(step > 0)
    if not len(rows):
        return error, hidden
    of, half = expected[rows], step[rows] / 2
    deviation = np.minimum(np.hypot(spread.whole, spread.hour * np.sqrt(60 / of)), 0.8)
    # Nobody writes down nothing: one step stands for all that is shorter, too.
    least = np.where(minutes[rows] > step[rows], minutes[rows] - half, 1e-9)
    low, high = (np.log(end / of) / deviation for end in (least, minutes[rows] + half))
    # Where all of the interval is far from what is expected, its near end is the likely value.
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
