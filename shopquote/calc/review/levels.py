"""The minutes of all standards together, on levels: the shop, the operation, the standard.

A shop's true minutes of a standard are its standard in force times three factors:
one that all its work shares (the shop), one of the operation, and one of the
standard itself. Their logarithms are normal about 0, each with a spread of its own;
a few jobs already tell the shop's factor, more the operations', many the standards'.
How wide each spread is, is not fixed at one value, which few jobs could drive to
nothing: a grid of widths is weighed by how well each tells the log (its marginal
likelihood), and all of them are averaged. Begin at `fit_levels`.

The minutes of a job lie about the expected ones on a log scale, by a part that a
whole job shares, one that evens out over the hours, and one in whole minutes
(entries; `rounding` says what rounded ones hide). Far-off ones count less (weights of
Student's t). Where an operation may have changed its pace (`breaks`), what the next job
takes is told by the jobs since as far as they are likely to be another pace's.

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

# Common practice, no source: widths tried, on a log scale, and what is believed of one job's spread.
SHOP_WIDTHS = (0.08, 0.2, 0.4)
OPERATION_WIDTHS = (0.05, 0.15, 0.3, 0.6)
STANDARD_WIDTHS = (0.05, 0.15, 0.3, 0.6)
JOB_SPREAD, WORTH = 0.25, 12.0
OF_A_JOB, _JOB_WORTH = (0.10, 100.0)  # what all work of a job shares, and its worth in pairs of operations
_ROUNDS, _RESTS = 12, 1e-3  # at rest: a tenth of a per cent, far below what jobs can tell
_LOOKED_FOR_BREAKS = 2  # round after which breaks are sought: pace and breaks settle together
_LEAST_SPREAD, _LEAST_FREE = 0.03, 0.4
_CORE_WORTH = 40.0  # entries that an unknown middle is worth


@dataclass(frozen=True, slots=True)
class Levels:
    """Log changes of all standards, table by table in one vector, with their `covariance`.

    They are those of the next job: a mean over all places where a table's pace may have changed, and none.
    `spreads` is of one job, by table. `before`: chance of each row that it was
    done before the last change of pace. `prior` is the mean variance that was believed before any job.
    `parts` are the places of each table's standards; `job` is the spread that all work of one job shares.
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
    """All standards of all tables at once; each table has at least one job and one standard in use."""
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
    # What every entry lies off by, however long the work, is the log's and costs nothing; nor do entries
    # under a wrong operation, or left out: they widen only the ends.
    of_work = tuple(Spread(core * shape.whole, core * shape.hour) for shape in shapes)
    last = _paces(tables, change, parts, shapes, core, steps, prior, told)
    for part, pace in zip(parts, last, strict=True):
        change[part], covariance[part, part] = pace.change, pace.covariance
    before = tuple(pace.before for pace in last)
    return Levels(
        change, covariance, of_work, before, tuple(errors), np.diag(prior.mean()), tuple(parts), job
    )


def _together(parts: Sequence[slice], told: Sequence[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    """Information and pull of all tables about all log changes."""
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
    """What the next job takes of each table, by its own jobs and what all others tell of it."""
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
    """Which jobs were done after a change of pace that the owner tells of, none if he tells of none."""
    count = len(table.minutes)
    return (np.arange(count) >= (count if table.new_pace is None else table.new_pace)).astype(float)


def usable(tables: Sequence[WorkTable]) -> list[WorkTable]:
    """Tables with a job and with something that a job could teach."""
    return [table for table in tables if len(table.minutes) and np.any(table.counts @ table.start > 0)]


class _Prior:
    """All widths that are tried, as covariances of the log changes."""

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
        """Mean and covariance over all widths, each by its marginal likelihood."""
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
        """Mean and covariance of one table's standards without what it told itself, after `posterior`."""
        shares, means, covariances = self.averaged
        precise = np.linalg.inv(covariances[:, part, part])
        own = np.asarray(np.linalg.inv(precise - information))
        told = (precise @ means[:, part, None])[:, :, 0] - pull
        return mixture(shares, (own @ told[:, :, None])[:, :, 0], own)


def _expected(table: WorkTable, change: Floats) -> Floats:
    """Minutes of each job with the changed standards, at least a tenth of one."""
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
    """How wide the middle half of the errors lies of what all show: wrong entries widen only the ends.

    Few entries may happen to lie close, the more where rounding hides them: they are held to the whole.
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
    """Share of the logged entries that the standards, as many as the jobs tell of, leave to err freely.

    A fit lies nearer to the entries that made it than to the next ones: with few jobs much nearer.
    """
    told = float(np.trace(information @ covariance))
    return max(1 - told / max(sum(len(table.minutes) for table in tables), 1), _LEAST_FREE)


def _settled(errors: Floats, after: Floats) -> Floats:
    """Errors with the shift of new work taken out."""
    return errors - after * np.sum(after * errors) / max(float(np.sum(after)), 1.0)


def _of_a_job(
    tables: Sequence[WorkTable],
    change: Floats,
    parts: Sequence[slice],
    shapes: Sequence[Spread],
    errors: Sequence[Floats],
    after: Sequence[Floats],
) -> float:
    """Spread that all work of one job shares: the mean product of the errors of two of its operations.

    Weighed by how much of an operation's spread is the job's own: rounding pushes all small ones one way.
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
    """The log of one table about a linear model of its log changes, and its errors as they stand."""
    expected = _expected(table, change)
    spread = shape.of(expected)
    # The mean of a lognormal lies above its middle by half the variance: minutes are learned as means.
    seen, hidden = unrounded(table.minutes, step, expected, shape.times(core))
    error = seen + 0.5 * (core * np.minimum(spread, 0.6)) ** 2
    # What rounding hides teaches nothing: the rest of the information, with the same pull.
    known = np.maximum(1 - hidden / spread**2, 0.05)
    slopes = table.counts * (table.start * np.exp(change)) / expected[:, None]
    target = seen / known + (error - seen) + slopes @ change
    return PaceLog(target, slopes, spread, known, expected), error


def _linear(
    table: WorkTable, change: Floats, shape: Spread, after: Floats, core: float, step: Floats
) -> tuple[Floats, Floats]:
    """Information and pull of one table about its log changes, the step of new work integrated out."""
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
    """Spread of a job's minutes by its size: one curve for the shop, scaled for each operation."""
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
    middle = 2.198 * float(np.median(square)) if count else JOB_SPREAD**2
    middle = (count * middle + WORTH * JOB_SPREAD**2) / (count + WORTH)
    expected = np.full(count, max(middle, _LEAST_SPREAD**2))
    shape = np.array([middle, 0.0, 0.0])
    if count >= 60:
        for _ in range(6):
            cut = np.minimum(square, 6.25 * expected)
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
