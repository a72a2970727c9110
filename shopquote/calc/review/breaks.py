"""Change points: whether an operation changed its pace for good, by a jig, a machine, a new way of working.

The models are "no change", and one change at some place in the sequence of jobs, after which the operation
takes a constant multiple of its former time. Every place is tried and weighted by its marginal likelihood
(Laplace's approximation, with errors by Student's t so that outliers count less). No place is picked: the
estimate for the next job is the average over all models, and its covariance includes their disagreement. If
the owner states the place, it is the only one. Begin at `pace_now`.

Sources: A. F. M. Smith, "A Bayesian approach to inference about a change-point in a
sequence of random variables", Biometrika 62 (1975) 407-416 (title and pages confirmed, the formula
derived); the mean over all places, D. Barry and J. A. Hartigan, "A Bayesian Analysis for Change Point
Problems" (1993), as later papers tell it; Laplace's approximation,
users.ics.aalto.fi/ahonkela/dippa/node27.html.
"""

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.fit import Floats, mixture

# Prior of a change, common practice, no source. Size on a log scale: a change mostly saves a third or a half.
# Probability within a log: one operation in thirty, but 0.3 for fit-up, where jigs come in. Chosen on
# histories that the benches generate, with other seeds than those reported.
STEP, STEP_SPREAD = -0.5, 0.35
CHANGED, CHANGED_OFTEN = 0.03, {"fit-up": 0.30}
# Least jobs before and since a change: a single job with a new pace may be an outlier.
LEAST_BEFORE, LEAST_SINCE = 1, 2
# Degrees of freedom of Student's t, common practice, no source: the fewer, the less outliers count.
T_DEGREES = 5.0
# Relative spread of a job as a whole and per hour, used where the log cannot tell it: in few entries a change
# of pace looks like spread. Common practice, no source.
_WHOLE, _HOUR = 0.16, 0.15
# Successive changes sought; places tried, evenly spaced in longer logs; rounds of reweighting.
_MOST_CHANGES, _MOST_PLACES, _ROUNDS = 3, 40, 5


@dataclass(frozen=True, slots=True)
class PaceLog:
    """The log of one operation in the order of work, as a linear model on a log scale.

    Attributes:
        errors: log of actual over expected minutes, (n,); modelled as `slopes` times the log changes.
        slopes: derivatives by the log changes of the k standards, (n, k).
        spreads: standard deviation of each error, (n,).
        known: share of an entry's information that rounding leaves, 0 to 1, (n,).
        minutes: expected minutes, (n,).
    """

    errors: Floats
    slopes: Floats
    spreads: Floats
    known: Floats
    minutes: Floats

    def since(self, first: int) -> "PaceLog":
        """The log from row `first` on."""
        parts = (self.errors, self.slopes, self.spreads, self.known, self.minutes)
        return PaceLog(*(part[first:] for part in parts))


@dataclass(frozen=True, slots=True)
class Pace:
    """Log changes (k,) of the standards for the next job, with covariance (k, k).

    `before` and `after` (n,): probability of each row that it was done before, or after, the last change.
    """

    change: Floats
    covariance: Floats
    before: Floats
    after: Floats


def pace_now(operation: str, row: PaceLog, mean: Floats, covariance: Floats, told: int | None = None) -> Pace:
    """The pace of an operation for its next job, averaged over possible changes of pace.

    Args:
        operation: its name, which sets the prior probability of a change.
        row: its log.
        mean: prior mean of the log changes (k,), as all other operations give it.
        covariance: prior covariance (k, k).
        told: row from which on the owner knows of a change; a later one is still looked for.
    """
    chance = CHANGED_OFTEN.get(operation, CHANGED)
    pace = _one_change(chance, row, mean, covariance, told)
    first = 0
    for _ in range(_MOST_CHANGES - 1):
        if not len(pace.before) or pace.before[first] < 0.9:
            break
        # A change is likely: drop the jobs before it, and look for another among those since.
        first = int(np.searchsorted(-pace.before, -0.5))
        mean, covariance = mean + STEP, covariance + STEP_SPREAD**2
        later = _one_change(chance, row.since(first), mean, covariance)
        if not len(later.before) or later.before[0] < 0.5:
            break
        gone = np.zeros(first)
        before, after = np.append(gone + 1, later.before), np.append(gone, later.after)
        pace = Pace(later.change, later.covariance, before, after)
    return pace


def _one_change(
    chance: float, row: PaceLog, mean: Floats, covariance: Floats, told_at: int | None = None
) -> Pace:
    count, width = row.slopes.shape
    most = max(count - LEAST_SINCE - LEAST_BEFORE + 1, 0)
    places = np.unique(np.linspace(LEAST_BEFORE, count - LEAST_SINCE, min(most, _MOST_PLACES)).round())
    if told_at is not None:
        chance, places = 1.0, np.array([float(told_at)])
    # Model 0 is "no change": its step has no rows, so it stays at the prior and affects nothing.
    after = np.vstack([np.zeros((1, count)), np.arange(count) >= places[:, None]])
    design = np.concatenate(
        [np.broadcast_to(row.slopes, (len(after), count, width)), after[:, :, None]], axis=2
    )
    believed = np.zeros((width + 1, width + 1))
    believed[:width, :width] = np.linalg.inv(covariance)
    believed[width, width] = 1 / STEP_SPREAD**2
    start = np.append(mean, STEP)
    sharp = np.sqrt(_WHOLE**2 + _HOUR**2 * 60 / row.minutes)
    at, precise, far = _settle(row, design, sharp, start, believed)
    off = at - start
    told = -0.5 * (T_DEGREES + 1) * np.sum(row.known * np.log1p(far**2 / T_DEGREES), axis=1)
    logs = told - 0.5 * np.sum((off @ believed) * off, axis=1) - 0.5 * np.linalg.slogdet(precise)[1]
    odds = np.append(1 - chance, np.full(len(places), chance / max(len(places), 1)))
    shares = odds * np.exp(logs - np.max(logs))
    shares /= np.sum(shares)
    # Without a change the log's own spread is right.
    at[:1], precise[:1], _ = _settle(row, design[:1], row.spreads, start, believed)
    moved = np.ones((len(after), width, 1))
    moved[0] = 0
    turn = np.concatenate([np.broadcast_to(np.eye(width), (len(after), width, width)), moved], axis=2)
    means = (turn @ at[:, :, None])[:, :, 0]
    inner = turn @ np.linalg.solve(precise, turn.transpose(0, 2, 1))
    return Pace(*mixture(shares, means, inner), shares[1:] @ (1 - after[1:]), shares[1:] @ after[1:])


def _settle(
    row: PaceLog, design: Floats, spreads: Floats, start: Floats, believed: Floats
) -> tuple[Floats, Floats, Floats]:
    """For each model estimates, their precision matrix and errors over spread, iteratively reweighted."""
    weights = np.broadcast_to(row.known / spreads**2, design.shape[:2])
    at = precise = far = np.asarray(start)
    for _ in range(_ROUNDS):
        weighed = (design * weights[:, :, None]).transpose(0, 2, 1)
        precise = np.asarray(weighed @ design + believed)
        pull = (weighed @ row.errors + believed @ start)[:, :, None]
        at = np.asarray(np.linalg.solve(precise, pull), dtype=float)[:, :, 0]
        far = (row.errors - (design @ at[:, :, None])[:, :, 0]) / spreads
        weights = row.known * (T_DEGREES + 1) / (T_DEGREES + far**2) / spreads**2
    return np.asarray(at), precise, np.asarray(far)
