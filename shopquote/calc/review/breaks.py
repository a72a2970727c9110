"""Whether an operation changed its pace for good: a jig, a new machine, another way of working.

Either no change, or one at some place in the row of jobs, from which on the operation takes so
many times what it took. Every place is tried; how likely each is follows from how well it tells the
errors (its marginal likelihood, by Laplace's approximation, for far-off entries are drawn by
Student's t). No place is picked: what the next job takes is the mean over all places and over "no
change", each by its likelihood, and as unsure as they differ. A place that the owner tells is the only
one. Begin at `pace_now`.

Sources: A. F. M. Smith, "A Bayesian approach to inference about a change-point in a
sequence of random variables", Biometrika 62 (1975) 407-416 (title and pages confirmed, the formula
derived); the mean over all places, D. Barry and J. A. Hartigan, "A Bayesian Analysis for Change Point
Problems" (1993), as later papers tell it; Laplace's approximation,
users.ics.aalto.fi/ahonkela/dippa/node27.html.
"""

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.fit import Floats, mixture

# Common practice, no source: a change is made to save time and mostly saves a third or a half (on a log
# scale); within what is looked at one operation in thirty changed, but fit-up, where jigs come in, in three
# shops of ten: chosen among others on histories that the benches generate, other seeds than those reported.
STEP, STEP_SPREAD = -0.5, 0.35
CHANGED, CHANGED_OFTEN = 0.03, {"fit-up": 0.30}
# Jobs on each side of a change: what one job alone says of a new pace is left to the next ones.
LEAST_BEFORE, LEAST_SINCE = 1, 2
# Degrees of freedom of Student's t, common practice, no source: the fewer, the less far-off entries count.
T_DEGREES = 5.0
# How far one job lies off, as a whole and in an hour of it, where no log tells: what few entries show is
# widened by the change itself. Common practice, no source.
_WHOLE, _HOUR = 0.16, 0.15
# Changes one after another; places that are tried, evenly apart in a longer row; rounds of weighing.
_MOST_CHANGES, _MOST_PLACES, _ROUNDS = 3, 40, 5


@dataclass(frozen=True, slots=True)
class PaceLog:
    """The log of one operation in the order of work, on a log scale about a linear model.

    `errors` (n,) are to be told by `slopes` (n, k) times the log changes of the standards. `spreads` (n,) is
    one standard deviation of each, `known` (n,) the share of an entry's information that rounding leaves,
    `minutes` (n,) those expected.
    """

    errors: Floats
    slopes: Floats
    spreads: Floats
    known: Floats
    minutes: Floats

    def since(self, first: int) -> "PaceLog":
        """Without what lies before the row `first`."""
        parts = (self.errors, self.slopes, self.spreads, self.known, self.minutes)
        return PaceLog(*(part[first:] for part in parts))


@dataclass(frozen=True, slots=True)
class Pace:
    """Log changes (k,) of the standards for the next job, with covariance (k, k).

    `before` and `after` (n,): chance of each row that it was done before, or after, the last change.
    """

    change: Floats
    covariance: Floats
    before: Floats
    after: Floats


def pace_now(operation: str, row: PaceLog, mean: Floats, covariance: Floats, told: int | None = None) -> Pace:
    """What the next job of an operation takes, by all its jobs and what is believed without them.

    Args:
        operation: its name; jigs come in more often at fit-up.
        row: its log.
        mean: log changes (k,) as all other operations tell them.
        covariance: of that belief (k, k).
        told: row from which on the owner knows of a change; a later one is still looked for.
    """
    chance = CHANGED_OFTEN.get(operation, CHANGED)
    pace = _one_change(chance, row, mean, covariance, told)
    first = 0
    for _ in range(_MOST_CHANGES - 1):
        if not len(pace.before) or pace.before[first] < 0.9:
            break
        # Surely changed once: what lies before is gone from the question, a later change may follow.
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
    # The first way is no change at all: its step is told by nothing and moves nothing.
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
    # Without a change the log tells its own spread.
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
    """By way: log changes and step, their precision, errors over their spread; weighed anew each round."""
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
