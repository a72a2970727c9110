"""Whether an operation changed its pace for good: a jig, a new machine, another way of working.

One change of level in a row of errors: before it they lie about one mean, after it
about another. Every place is tried; how likely each is follows from how much better
two means tell the errors than one (their marginal likelihoods, the means integrated
out under a normal prior). No place is picked: each job gets the chance that it was
done before the last change, and with that chance it counts less. Begin at `chance_before`.

Source: A. F. M. Smith, "A Bayesian approach to inference about a change-point in a
sequence of random variables", Biometrika 62 (1975) 407-416, for a normal mean with
known variance. Title and pages confirmed, the formula derived.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from shopquote.calc.review.fit import Floats

# Common practice, no source: one operation in ten changed within what is looked at; a change moves the
# minutes by a third or so; what fewer than this many jobs say is left to the next ones.
CHANGED = 0.10
STEP = 0.40
LEAST_EACH_SIDE = 3
_CUT = 2.5  # an error farther out is a wrong entry rather than a new pace
_MOST_CHANGES = 3
_AROUND = 7


def chance_before(errors: Floats, spreads: Floats) -> Floats:
    """Chance of each job that it was done before the last change of pace, shape (n,).

    Args:
        errors: log of logged over expected minutes, in the order of work.
        spreads: standard deviation of each, above zero.

    Errors without a change give chances near 0 throughout, for a change has to earn its prior odds.
    """
    count = len(errors)
    before = np.zeros(count)
    start = 0
    for _ in range(_MOST_CHANGES):
        part = slice(start, count)
        chances = _one_change(errors[part], spreads[part])
        before[part] = np.maximum(before[part], chances)
        if not len(chances) or chances[0] < 0.9:
            break
        # Surely changed once: what lies before is gone from the question, a later change may follow.
        before[:start] = 1.0
        start += int(np.searchsorted(-chances, -0.5))
    return before


def _one_change(errors: Floats, spreads: Floats) -> Floats:
    count = len(errors)
    if count < 2 * LEAST_EACH_SIDE:
        return np.zeros(count)
    middle = np.median(errors)
    limits = _CUT * np.maximum(spreads, _spread_about(errors, spreads) * spreads)
    weights = 1 / spreads**2
    # Cut about a running middle, so that a new level is not itself cut away as one far-off entry.
    padded = np.pad(errors, _AROUND, mode="edge")
    local = np.median(sliding_window_view(padded, 2 * _AROUND + 1), axis=1)
    cut = np.clip(errors, local - limits, local + limits) - middle
    whole = _evidence(np.sum(weights), np.sum(weights * cut))
    left_w, left_s = np.cumsum(weights), np.cumsum(weights * cut)
    places = np.arange(LEAST_EACH_SIDE, count - LEAST_EACH_SIDE + 1)
    split = _evidence(left_w[places - 1], left_s[places - 1]) + _evidence(
        left_w[-1] - left_w[places - 1], left_s[-1] - left_s[places - 1]
    )
    odds = CHANGED / (1 - CHANGED) / len(places) * np.exp(np.clip(split - whole, -50, 50))
    chance = odds / (1 + np.sum(odds))
    before = np.zeros(count)
    # Job i lies before the change at place p when i < p.
    np.add.at(before, places - 1, chance)
    return np.asarray(np.cumsum(before[::-1])[::-1])


def _spread_about(errors: Floats, spreads: Floats) -> float:
    """How many times as wide as stated neighbours differ from one another; at least once."""
    steps = np.abs(np.diff(errors)) / np.hypot(spreads[1:], spreads[:-1])
    return float(max(1.0, 1.4826 * np.median(steps)))


def _evidence(weight: Floats | float, total: Floats | float) -> Floats | float:
    """Log marginal likelihood of errors with a common mean of spread STEP, but for what all splits share."""
    ratio = 1 + STEP**2 * weight
    return 0.5 * (STEP**2 * np.square(total) / ratio - np.log(ratio))
