"""The time standards of one operation, fitted to its logged jobs alone, and the spread of single jobs.

The minutes of an operation on a job are modelled as a sum: set-ups times minutes per set-up, bends times
minutes per bend, and so on. All standards are estimated together by non-negative least squares, which
separates set-up from run time. Jobs are weighted by their relative error (a job of 600 minutes may be 60 off,
one of 60 only 6), which is smaller on large jobs where the log shows that deviations even out. Outliers get
less weight (Huber), but none is dropped silently. Begin at `fit_minutes`; `levels` combines the operations.

Sources: non-negative least squares, C. L. Lawson and R. J. Hanson, Solving Least
Squares Problems (1974), chapter 23; weights, P. J. Huber, Robust Statistics (1981), as
statsmodels.org has them (robust.norms.HuberT, robust_linear_model). The first is held
against scipy in a test.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shopquote.calc.frozen import dataclass

Floats = NDArray[np.float64]

# Residuals beyond so many robust standard deviations get less weight; common practice, no source.
HUBER_WIDTH = 2.5
USUAL_SPREAD, ENOUGH_TO_TELL_SPREAD = 0.25, 10
NORMAL_MAD = 1.4826  # median absolute deviation to standard deviation of a normal
ENOUGH_FOR_SIZE = 30  # least jobs to estimate whether large ones have less relative spread
_ROUNDS, _SIZE_ROUNDS = 30, 8


@dataclass(frozen=True, slots=True)
class WorkTable:
    """The logged jobs of one operation: n jobs and k standards.

    Attributes:
        operation: its name.
        standards: names of the k standards.
        now: standards in force, minutes per unit, (k,).
        counts: units of each standard in each job's estimate, (n, k).
        minutes: logged minutes, rework left out, (n,).
        jobs: names of the n jobs.
        believed: standards before any of these jobs were learned from, (k,), where others are in force now:
            what was learned from the jobs must not be used as prior knowledge about them. None: `now`.
        new_pace: row of the first job of a new way of working that the owner states; n where none is logged.
    """

    operation: str
    standards: tuple[str, ...]
    now: Floats
    counts: Floats
    minutes: Floats
    jobs: tuple[str, ...]
    believed: Floats | None = None
    new_pace: int | None = None

    @property
    def start(self) -> Floats:
        """The standards assumed before any job is looked at, (k,)."""
        return self.now if self.believed is None else self.believed

    def rows(self, kept: np.ndarray) -> "WorkTable":
        """The table of some of its jobs; `kept` are row indices or a Boolean mask."""
        places = np.arange(len(self.jobs))[kept]
        new_pace = None if self.new_pace is None else int(np.sum(places < self.new_pace))
        jobs = tuple(self.jobs[row] for row in places)
        return replace(
            self, counts=self.counts[kept], minutes=self.minutes[kept], jobs=jobs, new_pace=new_pace
        )


@dataclass(frozen=True, slots=True)
class Spread:
    """Relative variance of a job's minutes m: v(m) = whole^2 + hour^2 x 60 / m + (minute / m)^2.

    `whole` is the spread that does not depend on the job's size; `hour` that of one hour of work, which evens
    out over longer work; `minute` an absolute error in minutes, as from rounded entries.
    """

    whole: float
    hour: float = 0.0
    minute: float = 0.0

    def of(self, minutes: Floats) -> Floats:
        """Relative standard deviation of jobs of these minutes, all above zero."""
        return np.asarray(np.sqrt(self.whole**2 + self.hour**2 * 60 / minutes + (self.minute / minutes) ** 2))

    def times(self, factor: float) -> "Spread":
        """The spread multiplied by a factor."""
        return Spread(factor * self.whole, factor * self.hour, factor * self.minute)


@dataclass(frozen=True, slots=True)
class RobustFit:
    """Result of the robust non-negative fit.

    `values` (k,) in minutes per unit with `covariance` (k, k); Huber's `weights` (n,), 0 to 1; `residuals`
    (n,) are relative errors over their spread.
    """

    values: Floats
    covariance: Floats
    spread: Spread
    weights: Floats
    residuals: Floats


def nonnegative_least_squares(matrix: Floats, target: Floats) -> Floats:
    """The x >= 0 that minimises |matrix x - target|, for shapes (n, k) and (n,); x is (k,).

    The active-set method of Lawson and Hanson on the QR factor, so that only the factorisation depends on the
    number of rows. Columns that are all zero get zero.

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
    # If the unconstrained solution is positive it is the answer, which is the usual case.
    solution, _, rank, _ = np.linalg.lstsq(triangle, target, rcond=None)
    if rank == columns and np.all(solution > 0):
        return np.asarray(solution / scale)
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
    """Least squares over the free columns; those that would become negative are fixed at 0 in turn."""
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


def fit_minutes(table: WorkTable) -> RobustFit:
    """Robust non-negative fit of one operation by iteratively reweighted least squares.

    Raises:
        ValueError: no job was logged, or the shapes do not agree.
    """
    count, width = table.counts.shape
    if count == 0 or table.minutes.shape != (count,) or table.now.shape != (width,):
        raise ValueError(f"{table.operation}: counts, minutes and standards do not agree")
    least = max(1.0, 0.02 * float(np.median(table.minutes)))
    shape = Spread(1.0)
    values, size, robust = _settle_robust(table, table.start.astype(float), shape, least)
    if count >= ENOUGH_FOR_SIZE:
        shape = _spread_by_size(table, values, size)
        values, size, robust = _settle_robust(table, values, shape, least)
    scale = shape.of(size)
    residuals = (table.minutes - table.counts @ values) / (size * scale)
    degrees = max(0, count - int(np.sum(values > 0)))
    # Few jobs may fit well by chance: the missing degrees of freedom are filled up at the usual spread.
    lacking = max(0, ENOUGH_TO_TELL_SPREAD - degrees)
    variance = (float(np.sum(robust * residuals**2)) + lacking * USUAL_SPREAD**2) / (degrees + lacking)
    weights = robust / (size * scale) ** 2 / max(variance, 1e-12)
    root = float(np.sqrt(variance))
    spread = Spread(shape.whole * root, shape.hour * root)
    return RobustFit(values, _covariance(table.counts, weights), spread, weights, residuals)


def _settle_robust(
    table: WorkTable, values: Floats, shape: Spread, least: float
) -> tuple[Floats, Floats, Floats]:
    """Values, expected minutes (at least `least`) and Huber's weights, iterated until they settle."""
    width = len(values)
    size = np.maximum(table.counts @ values, least)
    robust = np.ones(len(table.minutes))
    for _ in range(_ROUNDS):
        root = np.sqrt(robust) / (size * shape.of(size))
        new = nonnegative_least_squares(table.counts * root[:, None], table.minutes * root)
        size = np.maximum(table.counts @ new, least)
        far = np.abs(table.minutes - table.counts @ new) / (size * shape.of(size))
        spread = robust_spread(far, width)
        robust = np.minimum(1.0, HUBER_WIDTH * spread / np.maximum(far, 1e-12)) if spread > 0 else robust
        rests = np.allclose(new, values, rtol=1e-7, atol=1e-12)
        values = new
        if rests:
            break
    return values, size, robust


def _spread_by_size(table: WorkTable, values: Floats, size: Floats) -> Spread:
    """The spread fitted to squared relative residuals by size of job; large residuals are clipped."""
    squares = ((table.minutes - table.counts @ values) / size) ** 2
    columns = np.column_stack([np.ones(len(size)), 60 / size])
    expected = np.full(len(size), max(robust_spread(np.sqrt(squares), len(values)) ** 2, 1e-12))
    parts = np.zeros(2)
    for _ in range(_SIZE_ROUNDS):
        cut = np.minimum(squares, HUBER_WIDTH**2 * expected)
        # The standard deviation of a squared residual is proportional to its mean.
        parts = nonnegative_least_squares(columns / expected[:, None], cut / expected)
        expected = np.maximum(columns @ parts, 1e-12)
    return Spread(float(np.sqrt(parts[0])), float(np.sqrt(parts[1]))) if np.any(parts > 0) else Spread(1.0)


def mixture(shares: Floats, means: Floats, covariances: Floats) -> tuple[Floats, Floats]:
    """Mean (k,) and covariance (k, k) of a mixture of normals.

    `shares` (m,) add up to 1, `means` are (m, k), `covariances` (m, k, k).
    """
    mean = shares @ means
    away = means - mean
    covariance = np.einsum("i,ijk->jk", shares, covariances) + (away * shares[:, None]).T @ away
    return mean, np.asarray(0.5 * (covariance + covariance.T))


def robust_spread(relative: Floats, width: int) -> float:
    """Standard deviation from the median absolute residual, corrected for `width` fitted values."""
    count = len(relative)
    correction = np.sqrt(count / max(1, count - width))
    return float(NORMAL_MAD * np.median(np.abs(relative)) * correction)


def _covariance(counts: Floats, weights: Floats) -> Floats:
    return np.asarray(np.linalg.pinv((counts * weights[:, None]).T @ counts, hermitian=True))
