"""What the logged jobs say about the standards: minutes for each set-up, cut, bend, hole, weld.

The minutes of an operation on a job are taken as a sum: so many set-ups at the
minutes of a set-up, so many bends at the minutes of a bend, and so on. All logged
jobs are put together and the minutes of each standard are found at once by least
squares that cannot go negative, so that set-up and run time come apart. Begin at
`learn`.

Each job counts by its relative error (a job of 600 minutes may be 60 off, one of
60 only 6), which is taken smaller on large jobs where the jobs show that ups and
downs even out. Far-off jobs are weighed down (Huber's weights) and named, never
left out in silence. Then what was seen is drawn toward the standard in force
(`shrinkage`): the prior says that a shop's true minutes lie around the standard by
a relative spread A common to all standards; the least-squares problem is turned
into independent directions, in which that prior is the same, so that pairs of
standards which the jobs cannot tell apart are only moved together.

Sources: non-negative least squares, C. L. Lawson and R. J. Hanson, Solving Least
Squares Problems (1974), chapter 23; weights, P. J. Huber, Robust Statistics (1981),
chapter 7; shrinkage as in `shrinkage`. From memory of these books.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopquote.calc.review.shrinkage import Floats, Shrunk, empirical_bayes

# Common practice, no source: a relative error of 2.5 robust standard deviations is "far off" for the fit,
# 3.5 is pointed out to the owner; a standard is believed within about 30 % before any job is logged.
HUBER_WIDTH = 2.5
POINTED_OUT = 3.5
PRIOR_SPREAD = 0.30
USUAL_SPREAD, ENOUGH_TO_TELL_SPREAD = 0.25, 10
LEAST_JOBS = 5
NORMAL_MAD = 1.4826  # median absolute deviation to standard deviation of a normal
ENOUGH_FOR_SIZE = 30  # jobs from which on it is asked whether large ones spread less
_ROUNDS, _SIZE_ROUNDS = 30, 8


@dataclass(frozen=True, slots=True)
class WorkTable:
    """The logged jobs of one operation.

    `counts` has a row a job and a column a standard: how many units of the
    standard the job's estimate held. `minutes` are those logged, rework left out.
    `now` are the standards in force, minutes a unit. Shapes (n, k), (n,), (k,).
    """

    operation: str
    standards: tuple[str, ...]
    now: Floats
    counts: Floats
    minutes: Floats
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """How far one job's minutes lie off, relative standard deviation: v(m) = whole^2 + hour^2 x 60 / m.

    `whole` is what a whole job shares, however large; `hour` what evens out over the work, as it is in an
    hour of it.
    """

    whole: float
    hour: float = 0.0

    def of(self, minutes: Floats) -> Floats:
        """Relative standard deviation of jobs of so many minutes, all above zero."""
        return np.asarray(np.sqrt(self.whole**2 + self.hour**2 * 60 / minutes))


@dataclass(frozen=True, slots=True)
class Fit:
    """Robust non-negative fit: `values` with `covariance`; `residuals` are relative, over their spread."""

    values: Floats
    covariance: Floats
    spread: Spread
    weights: Floats
    residuals: Floats


@dataclass(frozen=True, slots=True)
class Learned:
    """What the jobs say of one standard.

    `seen` is from the jobs alone with standard error `seen_error` (None when the
    jobs cannot tell), `suggest` with `error` after shrinkage. `spread_pct` is one
    standard deviation, in per cent of the value, such that the standards of an operation, each
    spreading on its own from job to job, together spread as its logged minutes do.
    """

    standard: str
    operation: str
    now: float
    seen: float
    seen_error: float | None
    suggest: float
    error: float
    told_error: float
    jobs: int
    spread_pct: float
    kept_pct: float

    @property
    def change_pct(self) -> float:
        """How far the suggestion is from the standard in force."""
        return 0.0 if self.now == 0 else (self.suggest / self.now - 1) * 100

    @property
    def worth_it(self) -> bool:
        """Enough jobs, and a change larger than its own uncertainty and than 2 %."""
        off = abs(self.suggest - self.now)
        return self.jobs >= LEAST_JOBS and off > self.told_error and off > 0.02 * self.now


@dataclass(frozen=True, slots=True)
class Outlier:
    """A job far off what all jobs together say: a wrong entry, or something to learn from."""

    job: str
    operation: str
    logged: float
    expected: float
    deviations: float


@dataclass(frozen=True, slots=True)
class Lesson:
    """All standards of all operations learned together."""

    learned: tuple[Learned, ...]
    outliers: tuple[Outlier, ...]
    prior_spread: float
    spreads: dict[str, Spread]

    def values(self) -> dict[tuple[str, str], float]:
        """Suggested minutes by operation and standard (minutes by hand, '', may be in several)."""
        return {(item.operation, item.standard): item.suggest for item in self.learned}


def nonnegative_least_squares(matrix: Floats, target: Floats) -> Floats:
    """The x >= 0 that minimises |matrix x - target|, shapes (n, k) and (n,) to (k,).

    Active-set method on the triangular factor, so that the cost of many rows is
    paid once. Columns that are all zero get zero.

    >>> nonnegative_least_squares(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([2.0, -1.0])).tolist()
    [2.0, 0.0]
    """
    rows, columns = matrix.shape
    scale = np.linalg.norm(matrix, axis=0)
    scale[scale == 0] = 1.0
    if rows > columns:
        orthogonal, triangle = np.linalg.qr(matrix / scale)
        target = orthogonal.T @ target
    else:
        triangle = matrix / scale
    solution = np.zeros(columns)
    free = np.zeros(columns, dtype=bool)
    tolerance = 1e-11 * (1 + float(np.max(np.abs(triangle.T @ target), initial=0.0)))
    for _ in range(10 * columns + 10):
        slope = triangle.T @ (target - triangle @ solution)
        slope[free] = -np.inf
        if not np.any(slope > tolerance):
            break
        free[int(np.argmax(slope))] = True
        solution = _settle(triangle, target, solution, free)
    return np.asarray(solution / scale)


def _settle(triangle: Floats, target: Floats, solution: Floats, free: np.ndarray) -> Floats:
    """Least squares over the free columns, stepping back whenever one would go negative."""
    while True:
        trial = np.zeros_like(solution)
        trial[free] = np.linalg.lstsq(triangle[:, free], target, rcond=None)[0]
        below = free & (trial <= 0)
        if not np.any(below):
            return trial
        gap = solution[below] - trial[below]
        steps = np.divide(solution[below], gap, out=np.zeros_like(gap), where=gap > 0)
        solution = solution + float(np.min(steps)) * (trial - solution)
        free &= solution > 1e-14
        solution[~free] = 0.0


def fit_minutes(table: WorkTable) -> Fit:
    """Robust non-negative fit of one operation, by repeated weighting.

    Raises:
        ValueError: no job was logged, or the shapes do not agree.
    """
    count, width = table.counts.shape
    if count == 0 or table.minutes.shape != (count,) or table.now.shape != (width,):
        raise ValueError(f"{table.operation}: counts, minutes and standards do not agree")
    least = max(1.0, 0.02 * float(np.median(table.minutes)))
    shape = Spread(1.0)
    values, size, robust = _settle_robust(table, table.now.astype(float), shape, least)
    if count >= ENOUGH_FOR_SIZE:
        shape = _spread_by_size(table, values, size)
        values, size, robust = _settle_robust(table, values, shape, least)
    scale = shape.of(size)
    residuals = (table.minutes - table.counts @ values) / (size * scale)
    degrees = max(0, count - int(np.sum(values > 0)))
    # A few jobs that happen to fit well must not look sure: what they lack counts at the usual spread.
    lacking = max(0, ENOUGH_TO_TELL_SPREAD - degrees)
    variance = (float(np.sum(robust * residuals**2)) + lacking * USUAL_SPREAD**2) / (degrees + lacking)
    weights = robust / (size * scale) ** 2 / max(variance, 1e-12)
    root = float(np.sqrt(variance))
    spread = Spread(shape.whole * root, shape.hour * root)
    return Fit(values, _covariance(table.counts, weights), spread, weights, residuals)


def _settle_robust(
    table: WorkTable, values: Floats, shape: Spread, least: float
) -> tuple[Floats, Floats, Floats]:
    """Values, expected minutes (at least `least`) and Huber's weights, weighted anew until they rest."""
    width = len(values)
    size = np.maximum(table.counts @ values, least)
    robust = np.ones(len(table.minutes))
    for _ in range(_ROUNDS):
        root = np.sqrt(robust) / (size * shape.of(size))
        new = nonnegative_least_squares(table.counts * root[:, None], table.minutes * root)
        size = np.maximum(table.counts @ new, least)
        far = np.abs(table.minutes - table.counts @ new) / (size * shape.of(size))
        spread = _robust_spread(far, width)
        robust = np.minimum(1.0, HUBER_WIDTH * spread / np.maximum(far, 1e-12)) if spread > 0 else robust
        rests = np.allclose(new, values, rtol=1e-7, atol=1e-12)
        values = new
        if rests:
            break
    return values, size, robust


def _spread_by_size(table: WorkTable, values: Floats, size: Floats) -> Spread:
    """How the squares of the relative residuals fall with the size of a job, far-off ones cut back."""
    squares = ((table.minutes - table.counts @ values) / size) ** 2
    columns = np.column_stack([np.ones(len(size)), 60 / size])
    expected = np.full(len(size), max(_robust_spread(np.sqrt(squares), len(values)) ** 2, 1e-12))
    parts = np.zeros(2)
    for _ in range(_SIZE_ROUNDS):
        cut = np.minimum(squares, HUBER_WIDTH**2 * expected)
        # A square spreads as its own mean does.
        parts = nonnegative_least_squares(columns / expected[:, None], cut / expected)
        expected = np.maximum(columns @ parts, 1e-12)
    return Spread(float(np.sqrt(parts[0])), float(np.sqrt(parts[1]))) if np.any(parts > 0) else Spread(1.0)


def _robust_spread(relative: Floats, width: int) -> float:
    """Standard deviation of a normal from the median absolute residual, widened for the fitted values."""
    count = len(relative)
    correction = np.sqrt(count / max(1, count - width))
    return float(NORMAL_MAD * np.median(np.abs(relative)) * correction)


def _covariance(counts: Floats, weights: Floats) -> Floats:
    return np.asarray(np.linalg.pinv((counts * weights[:, None]).T @ counts, hermitian=True))


@dataclass(frozen=True, slots=True)
class _Directions:
    """One operation turned into independent directions of relative change of its standards."""

    turn: Floats  # (m, k): rows are the directions that the jobs say something about
    estimates: Floats
    variances: Floats


def learn(tables: Sequence[WorkTable]) -> Lesson:
    """Learn all standards of all operations together; operations without jobs are left out."""
    used = [table for table in tables if len(table.minutes) and np.any(table.counts > 0)]
    fits = [fit_minutes(table) for table in used]
    directions = [_directions(table, fit) for table, fit in zip(used, fits, strict=True)]
    estimates = np.concatenate([d.estimates for d in directions]) if directions else np.zeros(0)
    variances = np.concatenate([d.variances for d in directions]) if directions else np.zeros(0)
    shrunk = empirical_bayes(estimates, variances, centre=0.0, fallback_variance=PRIOR_SPREAD**2)
    learned: list[Learned] = []
    outliers: list[Outlier] = []
    start = 0
    for table, fit, direction in zip(used, fits, directions, strict=True):
        stop = start + len(direction.estimates)
        learned += _suggestions(table, fit, direction, shrunk, slice(start, stop))
        outliers += _outliers(table, fit)
        start = stop
    outliers.sort(key=lambda item: -abs(item.deviations))
    spreads = {table.operation: fit.spread for table, fit in zip(used, fits, strict=True)}
    return Lesson(tuple(learned), tuple(outliers), float(np.sqrt(shrunk.spread_variance)), spreads)


def _directions(table: WorkTable, fit: Fit) -> _Directions:
    base = np.where(table.now > 0, table.now, 1.0)
    # Judged at the larger of fit and standard: minutes far below the standard are not thereby surer.
    fitted, expected = table.counts @ fit.values, table.counts @ table.now
    smaller = np.minimum(1.0, np.divide(fitted, expected, out=np.ones_like(fitted), where=expected > 0))
    root = np.sqrt(fit.weights) * smaller
    design = table.counts * base * root[:, None]
    target = (table.minutes - table.counts @ table.now) * root
    left, sizes, turn = np.linalg.svd(design, full_matrices=False)
    told = sizes > 1e-9 * max(float(sizes[0]), 1e-300)
    estimates = (left.T @ target)[told] / sizes[told]
    return _Directions(turn[told], estimates, 1 / sizes[told] ** 2)


def _suggestions(
    table: WorkTable, fit: Fit, direction: _Directions, shrunk: Shrunk, part: slice
) -> list[Learned]:
    base = np.where(table.now > 0, table.now, 1.0)
    width = len(base)
    turn, means, sds = direction.turn, shrunk.means[part], shrunk.sds[part]
    told = turn.T @ turn  # onto the directions that the jobs speak of; the rest keeps the prior
    relative = turn.T @ means
    moved = turn.T @ np.diag(sds**2) @ turn
    covariance = moved + shrunk.spread_variance * (np.eye(width) - told)
    values = table.now + base * relative
    if np.any(values < 0):
        values = _not_negative(table.now, base, turn, means, sds, shrunk.spread_variance)
    kept = turn.T @ np.diag(shrunk.factors[part]) @ turn + (np.eye(width) - told)
    seen_covariance = fit.covariance
    jobs = np.count_nonzero(table.counts, axis=0)
    usual = fit.spread.of(np.maximum(np.median(table.counts @ values), 1.0))
    spread = float(usual) * _independent_factor(table.counts, values)
    rows = []
    for column, standard in enumerate(table.standards):
        error = float(np.sqrt(max(0.0, seen_covariance[column, column])))
        clear = told[column, column] > 0.999
        rows.append(
            Learned(
                standard,
                table.operation,
                float(table.now[column]),
                float(fit.values[column]),
                error if clear else None,
                float(max(0.0, values[column])),
                float(base[column] * np.sqrt(max(0.0, covariance[column, column]))),
                float(base[column] * np.sqrt(max(0.0, moved[column, column]))),
                int(jobs[column]),
                100 * spread,
                100 * float(kept[column, column]),
            )
        )
    return rows


def _independent_factor(counts: Floats, values: Floats) -> float:
    """How much wider each standard of an operation spreads than their sum does, for the usual job."""
    parts = counts * values
    total = np.sum(parts, axis=1)
    root = np.sqrt(np.sum(parts**2, axis=1))
    used = root > 0
    return float(np.median(total[used] / root[used])) if np.any(used) else 1.0


def _not_negative(
    now: Floats, base: Floats, turn: Floats, means: Floats, sds: Floats, spread_variance: float
) -> Floats:
    """The most likely values of the posterior among those that are not negative."""
    width = len(base)
    told = turn.T @ turn
    rest = np.eye(width) - told
    prior = 1 / np.sqrt(max(spread_variance, 1e-12))
    rows = np.vstack([turn / sds[:, None], rest * prior])
    start = now / base
    target = np.concatenate([(means + turn @ start) / sds, rest @ start * prior])
    return base * nonnegative_least_squares(rows, target)


def _outliers(table: WorkTable, fit: Fit) -> list[Outlier]:
    spread = _robust_spread(fit.residuals, len(table.standards))
    if spread <= 0:
        return []
    expected = table.counts @ fit.values
    far = fit.residuals / spread
    return [
        Outlier(
            table.jobs[row], table.operation, float(table.minutes[row]), float(expected[row]), float(far[row])
        )
        for row in np.flatnonzero(np.abs(far) > POINTED_OUT)
    ]


def mean_of_ratios(table: WorkTable) -> Floats:
    """The short cut that `learn` replaces: every standard times the mean of logged over estimated."""
    estimated = table.counts @ table.now
    known = estimated > 0
    return np.asarray(table.now * float(np.mean(table.minutes[known] / estimated[known])))
