"""Hierarchical model of all time standards together: shop, operation, standard.

A shop's true minutes of a standard are the standard in force times three factors: one of the shop, one of the
operation, one of the standard itself. Their logarithms are normal about 0, each level with a width of its
own; a few jobs already determine the shop's factor, more the operations', many the standards'. The widths are
not estimated, since few jobs could drive an estimate to zero: a grid of widths is weighted by marginal
likelihood and averaged. Begin at `fit_levels`.

A job's minutes deviate from the expected ones on a log scale by a part that the whole job shares, one that
evens out over the hours, and one in minutes (`rounding` treats rounded entries). Outliers count less (weights
of Student's t). Where an operation may have changed its pace (`breaks`), the estimate for its next job comes
from the jobs since, as far as a change is likely.

Sources: the normal model on levels, its widths averaged over a grid, A. Gelman and
others, Bayesian Data Analysis (3rd ed. 2013), chapter 5, whose public demos work both
(avehtari/BDA_R_demos, README.md, demo5_1 and demo5_2);
Student's t by repeated weighting, K. L. Lange, R. J. A. Little and J. M. G. Taylor,
"Robust Statistical Modeling Using the t Distribution", JASA 84 (1989) 881-896, as a later
paper on it and public notes tell the weights.
"""

from collections.abc import Sequence
from itertools import pairwise, product

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.breaks import STEP, STEP_SPREAD, T_DEGREES, Pace, PaceLog, pace_now
from shopquote.calc.review.fit import NORMAL_MAD, Floats, Spread, WorkTable, mixture
from shopquote.calc.review.fit import nonnegative_least_squares as least_squares
from shopquote.calc.review.rounding import rounding_steps, unrounded

# Grid of prior widths on a log scale; prior spread of one job, and its weight in entries. Common practice, no
# source.
SHOP_WIDTHS = (0.08, 0.2, 0.4)
OPERATION_WIDTHS = (0.05, 0.15, 0.3, 0.6)
STANDARD_WIDTHS = (0.05, 0.15, 0.3, 0.6)
JOB_SPREAD, WORTH = 0.25, 12.0
# Prior spread shared by all work of a job, and its weight in pairs of operations.
OF_A_JOB, _JOB_WORTH = (0.10, 100.0)
_ROUNDS, _RESTS = 12, 1e-3  # converged at a change of 0.1 %, far below what jobs can determine
# Round after which changes of pace are sought, so that they and the estimates settle together.
_LOOKED_FOR_BREAKS = 2
_LEAST_SPREAD, _LEAST_FREE = 0.03, 0.4
_CORE_WORTH = 40.0  # weight in entries of the prior that the core is as wide as the whole


@dataclass(frozen=True, slots=True)
class Levels:
    """The fitted model; K is the number of standards of all tables.

    Attributes:
        change: log changes of the standards for the next job, averaged over possible changes of pace, (K,).
        covariance: of `change`, (K, K).
        spreads: spread of one job's minutes, for each table.
        before: probability of each row that it was done before the last change of pace, for each table (n,).
        errors: log errors of the rows, for each table (n,).
        prior: prior variances, averaged over the grid, (K,).
        parts: slice of each table's standards in (K,).
        job: relative spread that all work of one job shares.
    """

    change: Floats
    covariance: Floats
    spreads: tuple[Spread, ...]
    before: tuple[Floats, ...]
    errors: tuple[Floats, ...]
    prior: Floats
    parts: tuple[slice, ...]
    job: float


def fit_levels(tables: Sequence[WorkTable]) -> Levels:
    """Fit all standards of all tables; each table has at least one job and one standard in use (`usable`)."""
    widths = [len(table.now) for table in tables]
    ends = np.cumsum([0, *widths])
    parts = [slice(a, b) for a, b in pairwise(ends.tolist())]
    prior = _Prior(widths)
    change = np.zeros(ends[-1])
    shapes = [Spread(JOB_SPREAD)] * len(tables)
    after = [_told(table) for table in tables]
    covariance = prior.mean()
    errors: list[Floats] = []
    steps = rounding_steps(tables)
    core = 1.0
    for round_ in range(_ROUNDS):
        told = [
            _linear(table, change[part], shape, held, core, step)
            for table, part, shape, held, step in zip(tables, parts, shapes, after, steps, strict=True)
        ]
        information, pull = _together(parts, told)
        new, covariance = prior.posterior(information, pull)
        rests = float(np.max(np.abs(new - change))) < _RESTS
        # A factor of 55 either way: further off lies a wrong log, and exp() must not overflow meanwhile.
        change = np.clip(new, -4, 4)
        seen = [
            unrounded(table.minutes, step, _expected(table, change[part]), shape.times(core))
            for table, part, step, shape in zip(tables, parts, steps, shapes, strict=True)
        ]
        errors = [error for error, _ in seen]
        if rests and round_ > _LOOKED_FOR_BREAKS:
            break
        free = _free(tables, information, covariance)
        shapes = _spreads(tables, change, parts, seen, after, free)
        core = _core(tables, change, parts, shapes, errors, after, free)
        if round_ == _LOOKED_FOR_BREAKS:
            after = [pace.after for pace in _paces(tables, change, parts, shapes, core, steps, prior, told)]
    job = _of_a_job(tables, change, parts, shapes, errors, after)
    # The spread of the work itself leaves out the constant error of entries in minutes, and, by `core`,
    # outliers from entries under a wrong operation: both are faults of the log that cost nothing.
    of_work = tuple(Spread(core * shape.whole, core * shape.hour) for shape in shapes)
    last = _paces(tables, change, parts, shapes, core, steps, prior, told)
    for part, pace in zip(parts, last, strict=True):
        change[part], covariance[part, part] = pace.change, pace.covariance
    before = tuple(pace.before for pace in last)
    return Levels(
        change, covariance, of_work, before, tuple(errors), np.diag(prior.mean()), tuple(parts), job
    )


def _together(parts: Sequence[slice], told: Sequence[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    """Information matrix (K, K) and information vector (K,) of all tables, from those of each."""
    size = parts[-1].stop
    information, pull = np.zeros((size, size)), np.zeros(size)
    for part, (inner, target) in zip(parts, told, strict=True):
        information[part, part] = inner
        pull[part] = target
    return information, pull


def _paces(
    tables: Sequence[WorkTable], change: Floats, parts: Sequence[slice], shapes: Sequence[Spread],
    core: float, steps: Sequence[Floats], prior: "_Prior", told: Sequence[tuple[Floats, Floats]],
) -> list[Pace]:  # fmt: skip
    """The pace of each table's next job; its prior is what all other tables tell of it."""
    return [
        pace_now(
            table.operation,
            _seen(table, change[part], shape, core, step)[0],
            *prior.without(part, *own),
            table.new_pace,
        )
        for table, part, shape, step, own in zip(tables, parts, shapes, steps, told, strict=True)
    ]


def _told(table: WorkTable) -> Floats:
    """1.0 for jobs done since a change of pace that the owner stated, else 0.0, (n,)."""
    count = len(table.minutes)
    return (np.arange(count) >= (count if table.new_pace is None else table.new_pace)).astype(float)


def usable(tables: Sequence[WorkTable]) -> list[WorkTable]:
    """The tables that have a job, and a standard of which some job has work."""
    return [table for table in tables if len(table.minutes) and np.any(table.counts @ table.start > 0)]


class _Prior:
    """The prior: a covariance matrix (K, K) of the log changes for each combination of widths."""

    def __init__(self, widths: Sequence[int]) -> None:
        size = sum(widths)
        owner = np.repeat(np.arange(len(widths)), widths)
        same = (owner[:, None] == owner[None, :]).astype(float)
        every = np.ones((size, size))
        self.averaged: tuple[Floats, Floats, Floats]
        self.tried = [
            shop**2 * every + operation**2 * same + own**2 * np.eye(size)
            for shop, operation, own in product(SHOP_WIDTHS, OPERATION_WIDTHS, STANDARD_WIDTHS)
        ]

    def mean(self) -> Floats:
        return np.asarray(np.mean(self.tried, axis=0))

    def posterior(self, information: Floats, pull: Floats) -> tuple[Floats, Floats]:
        """Posterior mean and covariance, averaged over the widths by marginal likelihood."""
        size = len(pull)
        one = np.eye(size)
        tried = np.array(self.tried)
        inner = one + tried @ information
        covariances = np.linalg.solve(inner, tried)
        means = covariances @ pull
        logs = 0.5 * (means @ pull) - 0.5 * np.linalg.slogdet(inner)[1]
        shares = np.exp(logs - np.max(logs))
        shares /= np.sum(shares)
        self.averaged = shares, means, covariances
        return mixture(shares, means, covariances)

    def without(self, part: slice, information: Floats, pull: Floats) -> tuple[Floats, Floats]:
        """Mean and covariance of one table's standards from all other tables; `posterior` must have run."""
        shares, means, covariances = self.averaged
        precise = np.linalg.inv(covariances[:, part, part])
        own = np.asarray(np.linalg.inv(precise - information))
        told = (precise @ means[:, part, None])[:, :, 0] - pull
        return mixture(shares, (own @ told[:, :, None])[:, :, 0], own)


def _expected(table: WorkTable, change: Floats) -> Floats:
    """Expected minutes of each job with the changed standards, at least 0.1, (n,)."""
    return np.asarray(np.maximum(table.counts @ (table.start * np.exp(change)), 0.1))


def _core(
    tables: Sequence[WorkTable],
    change: Floats,
    parts: Sequence[slice],
    shapes: Sequence[Spread],
    errors: Sequence[Floats],
    after: Sequence[Floats],
    free: float,
) -> float:
    """Ratio, at most 1, of the spread in the middle of the errors (by MAD) to that of all, tails included.

    Few entries may lie close together by chance, above all rounded ones, so a prior holds the ratio to 1.
    """
    scaled = np.concatenate(
        [
            _settled(error, held) / shape.of(_expected(table, change[part]))
            for table, part, shape, error, held in zip(tables, parts, shapes, errors, after, strict=True)
        ]
    )
    count = len(scaled)
    core = NORMAL_MAD * np.median(np.abs(scaled - np.median(scaled))) / np.sqrt(free)
    return float(np.sqrt((count * min(core, 1.0) ** 2 + _CORE_WORTH) / (count + _CORE_WORTH)))


def _free(tables: Sequence[WorkTable], information: Floats, covariance: Floats) -> float:
    """Share of the entries' degrees of freedom that the fitted standards leave, at least `_LEAST_FREE`.

    Residuals are smaller than the errors of future jobs, with few jobs much smaller; this corrects for it.
    """
    told = float(np.trace(information @ covariance))
    return max(1 - told / max(sum(len(table.minutes) for table in tables), 1), _LEAST_FREE)


def _settled(errors: Floats, after: Floats) -> Floats:
    """Errors without the mean error of the jobs since a change of pace, (n,)."""
    return errors - after * np.sum(after * errors) / max(float(np.sum(after)), 1.0)


def _of_a_job(
    tables: Sequence[WorkTable],
    change: Floats,
    parts: Sequence[slice],
    shapes: Sequence[Spread],
    errors: Sequence[Floats],
    after: Sequence[Floats],
) -> float:
    """Spread that all work of one job shares, from the mean product of errors of two of its operations.

    Weighted by the job's own share in an operation's spread: rounding moves all small entries the same way.
    """
    sums: dict[str, Floats] = {}
    for table, part, shape, error, held in zip(tables, parts, shapes, errors, after, strict=True):
        spread = shape.of(_expected(table, change[part]))
        weights = np.minimum((shape.whole / spread) ** 2, 1.0)
        values = weights * np.clip(_settled(error, held), -2.5 * spread, 2.5 * spread)
        for job, row in zip(
            table.jobs, np.column_stack([values, values**2, weights, weights**2]), strict=True
        ):
            sums[job] = sums.get(job, 0.0) + row
    total, squares, weight, of_weights = np.array(list(sums.values())).T
    products, pairs = float(np.sum(total**2 - squares)), float(np.sum(weight**2 - of_weights))
    variance = (products + _JOB_WORTH * OF_A_JOB**2) / (pairs + _JOB_WORTH)
    return float(np.sqrt(max(variance, _LEAST_SPREAD**2)))


def _seen(
    table: WorkTable, change: Floats, shape: Spread, core: float, step: Floats
) -> tuple[PaceLog, Floats]:
    """The log of one table as a linear model of its log changes, and its log errors (n,)."""
    expected = _expected(table, change)
    spread = shape.of(expected)
    # The mean of a lognormal exceeds its median by half the variance on the log scale; standards are means.
    seen, hidden = unrounded(table.minutes, step, expected, shape.times(core))
    error = seen + 0.5 * (core * np.minimum(spread, 0.6)) ** 2
    # Variance that rounding hides gives no information: scaled down so that information times target is
    # unchanged.
    known = np.maximum(1 - hidden / spread**2, 0.05)
    slopes = table.counts * (table.start * np.exp(change)) / expected[:, None]
    target = seen / known + (error - seen) + slopes @ change
    return PaceLog(target, slopes, spread, known, expected), error


def _linear(
    table: WorkTable, change: Floats, shape: Spread, after: Floats, core: float, step: Floats
) -> tuple[Floats, Floats]:
    """Information matrix and vector of one table, with the step at a change of pace integrated out."""
    row, error = _seen(table, change, shape, core, step)
    far = _settled(error, after) / row.spreads
    weights = row.known * (T_DEGREES + 1) / (T_DEGREES + far**2) / row.spreads**2
    inner = row.slopes.T @ (weights[:, None] * row.slopes)
    pull = row.slopes.T @ (weights * row.errors)
    shifted = row.slopes.T @ (weights * after)
    own = np.sum(weights * after**2) + 1 / STEP_SPREAD**2
    inner = inner - np.outer(shifted, shifted) / own
    pull = pull - shifted * (np.sum(weights * after * row.errors) + STEP / STEP_SPREAD**2) / own
    return inner, pull


def _spreads(
    tables: Sequence[WorkTable],
    change: Floats,
    parts: Sequence[slice],
    seen: Sequence[tuple[Floats, Floats]],
    after: Sequence[Floats],
    free: float,
) -> list[Spread]:
    """Spread of a job's minutes by size: one curve for the shop, with a factor for each operation."""
    sizes = [_expected(table, change[part]) for table, part in zip(tables, parts, strict=True)]
    settled = [
        np.sqrt(_settled(error, held) ** 2 / free + hidden)
        for (error, hidden), held in zip(seen, after, strict=True)
    ]
    every = np.concatenate(settled)
    size = np.concatenate(sizes)
    count = len(every)
    columns = np.column_stack([np.ones(count), 60 / size, (5 / size) ** 2])
    square = every**2
    # 2.198 = 1 / 0.4549, the median of chi-square with one degree of freedom: from a median square to a
    # variance.
    middle = 2.198 * float(np.median(square)) if count else JOB_SPREAD**2
    middle = (count * middle + WORTH * JOB_SPREAD**2) / (count + WORTH)
    expected = np.full(count, max(middle, _LEAST_SPREAD**2))
    shape = np.array([middle, 0.0, 0.0])
    if count >= 60:
        for _ in range(6):
            cut = np.minimum(square, 6.25 * expected)  # 2.5 standard deviations, as for Huber's weights
            shape = least_squares(columns / expected[:, None], cut / expected)
            expected = np.maximum(columns @ shape, _LEAST_SPREAD**2)
    answer = []
    for error, own in zip(settled, sizes, strict=True):
        stated = np.maximum(
            np.column_stack([np.ones(len(own)), 60 / own, (5 / own) ** 2]) @ shape, _LEAST_SPREAD**2
        )
        shown = float(np.sum(np.minimum(error**2 / stated, 6.25)))
        factor = (shown + WORTH) / (len(own) + WORTH)
        whole, hour, minute = np.sqrt(factor * shape)
        answer.append(Spread(float(max(whole, _LEAST_SPREAD)), float(hour), 5 * float(minute)))
    return answer
