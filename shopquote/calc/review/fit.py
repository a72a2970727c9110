"""The minutes of one operation by its logged jobs alone: what was seen, and how far single jobs lie off.

The minutes of an operation on a job are taken as a sum: so many set-ups at the
minutes of a set-up, so many bends at the minutes of a bend, and so on. All logged
jobs are put together and the minutes of each standard are found at once by least
squares that cannot go negative, so that set-up and run time come apart. Each job
counts by its relative error (a job of 600 minutes may be 60 off, one of 60 only 6),
which is taken smaller on large jobs where the jobs show that ups and downs even out.
Far-off jobs are weighed down (Huber's weights), never left out in silence. Begin at
`fit_minutes`; `levels` puts the operations together.

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

# Common practice, no source: a relative error of 2.5 robust standard deviations is "far off" for the fit.
HUBER_WIDTH = 2.5
USUAL_SPREAD, ENOUGH_TO_TELL_SPREAD = 0.25, 10
NORMAL_MAD = 1.4826  # median absolute deviation to standard deviation of a normal
ENOUGH_FOR_SIZE = 30  # jobs from which on it is asked whether large ones spread less
_ROUNDS, _SIZE_ROUNDS = 30, 8


@dataclass(frozen=True, slots=True)
class WorkTable:
    """The logged jobs of one operation.

    `counts` has a row a job and a column a standard: how many units of the
    standard the job's estimate held. `minutes` are those logged, rework left out.
    `now` are the standards in force, minutes a unit. Shapes (n, k), (n,), (k,). `believed` are those that
    were believed before any job taught them, when others are in force: what was learned from these jobs
    must not count as known before them. `new_pace`: the first job (its row, n where none came yet) of a new
    way of working that the owner tells of.
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
        """What to believe of the standards before any job is looked at."""
        return self.now if self.believed is None else self.believed

    def rows(self, kept: np.ndarray) -> "WorkTable":
        """The table of some of its jobs, `kept` by place or by yes and no."""
        places = np.arange(len(self.jobs))[kept]
        told = None if self.new_pace is None else int(np.sum(places < self.new_pace))
        jobs = tuple(self.jobs[row] for row in places)
        return replace(self, counts=self.counts[kept], minutes=self.minutes[kept], jobs=jobs, new_pace=told)


@dataclass(frozen=True, slots=True)
class Spread:
    """How far one job's minutes lie off, relative: v(m) = whole^2 + hour^2 x 60 / m + (minute / m)^2.

    `whole` is what a whole job shares, however large; `hour` what evens out over the work, as it is in an
    hour of it; `minute` what is as large on every job, in minutes, as where entries are rounded.
    """

    whole: float
    hour: float = 0.0
    minute: float = 0.0

    def of(self, minutes: Floats) -> Floats:
        """Relative standard deviation of jobs of so many minutes, all above zero."""
        return np.asarray(np.sqrt(self.whole**2 + self.hour**2 * 60 / minutes + (self.minute / minutes) ** 2))

    def times(self, factor: float) -> "Spread":
        """A spread so many times as wide."""
        return Spread(factor * self.whole, factor * self.hour, factor * self.minute)


@dataclass(frozen=True, slots=True)
class RobustFit:
    """Robust non-negative fit: `values` with `covariance`; `residuals` are relative, over their spread."""

    values: Floats
    covariance: Floats
    spread: Spread
    weights: Floats
    residuals: Floats


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
    # Where the free answer is above zero it is the one: most often so where all standards take time.
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


def fit_minutes(table: WorkTable) -> RobustFit:
    """Robust non-negative fit of one operation, by repeated weighting.

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
    # A few jobs that happen to fit well must not look sure: what they lack counts at the usual spread.
    lacking = max(0, ENOUGH_TO_TELL_SPREAD - degrees)
    variance = (float(np.sum(robust * residuals**2)) + lacking * USUAL_SPREAD**2) / (degrees + lacking)
    weights = robust / (size * scale) ** 2 / max(variance, 1e-12)
    root = float(np.sqrt(variance))
    spread = Spread(shape.whole * root, shape.hour * root)
    return RobustFit(values, _covariance(table.counts, weights), spread, weights, residuals)


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
        spread = robust_spread(far, width)
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
    expected = np.full(len(size), max(robust_spread(np.sqrt(squares), len(values)) ** 2, 1e-12))
    parts = np.zeros(2)
    for _ in range(_SIZE_ROUNDS):
        cut = np.minimum(squares, HUBER_WIDTH**2 * expected)
        # A square spreads as its own mean does.
        parts = nonnegative_least_squares(columns / expected[:, None], cut / expected)
        expected = np.maximum(columns @ parts, 1e-12)
    return Spread(float(np.sqrt(parts[0])), float(np.sqrt(parts[1]))) if np.any(parts > 0) else Spread(1.0)


def mixture(shares: Floats, means: Floats, covariances: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of normals that are mixed by their shares."""
    mean = shares @ means
    away = means - mean
    covariance = np.einsum("i,ijk->jk", shares, covariances) + (away * shares[:, None]).T @ away
    return mean, np.asarray(0.5 * (covariance + covariance.T))


def robust_spread(relative: Floats, width: int) -> float:
    """Standard deviation of a normal from the median absolute residual, widened for the fitted values."""
    count = len(relative)
    correction = np.sqrt(count / max(1, count - width))
    return float(NORMAL_MAD * np.median(np.abs(relative)) * correction)


def _covariance(counts: Floats, weights: Floats) -> Floats:
    return np.asarray(np.linalg.pinv((counts * weights[:, None]).T @ counts, hermitian=True))
