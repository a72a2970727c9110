"""Prediction intervals for a job's minutes or cost, from the errors of past jobs.

A job's score is the log of actual over expected minutes, divided by the job's expected relative spread, so
that large and small jobs are comparable. The interval is read off the ordered scores of past jobs (split
conformal prediction), without an assumption about their distribution. Begin at `calibrate`; `back_test` goes
through the finished jobs in order and counts how often the actual fell inside.

Source: V. Vovk, A. Gammerman, G. Shafer, Algorithmic Learning in a Random World
(2005); J. Lei and others, "Distribution-Free Predictive Inference for Regression",
JASA 113 (2018) 1094-1111, bands of locally varying width (its public preprint).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.fit import USUAL_SPREAD, Floats, Spread, WorkTable
from shopquote.calc.review.levels import fit_levels, usable

# Level of the intervals, which people are told as "8 jobs in 10".
LEVEL = 0.80
# Folds of the cross-validation; each fit learns from four fifths of the jobs.
FOLDS = 5


@dataclass(frozen=True, slots=True)
class Calibration:
    """Interval of scores (log of actual over expected, over spread) that holds `level` of new jobs."""

    level: float
    low: float
    high: float
    jobs: int

    def range(self, expected: float, spread: float) -> tuple[float, float]:
        """Interval of a new job's minutes (or cost), from its `expected` ones and their relative `spread`."""
        return (float(expected * np.exp(self.low * spread)), float(expected * np.exp(self.high * spread)))


def measures(actual: Floats, expected: Floats, spreads: Floats) -> Floats:
    """Scores log(actual / expected) / spread of jobs, (n,); all three inputs are (n,) and above zero."""
    return np.asarray(np.log(actual / expected) / spreads)


def calibrate(scores: Floats, level: float = LEVEL) -> Calibration:
    """The interval that holds `level` (0 to 1) of new jobs, from the scores of past ones, (n,).

    Uses the (n + 1) rule of split conformal prediction. With too few jobs for the level the interval is the
    range of the scores, widened by half.

    Raises:
        ValueError: no scores, or a level outside 0 to 1.
    """
    count = len(scores)
    if count == 0 or not 0 < level < 1:
        raise ValueError("calibrate needs measures of past jobs and a level between 0 and 1")
    ordered = np.sort(scores)
    tail = (1 - level) / 2
    below = int(np.floor(tail * (count + 1)))
    if below < 1:
        # So few jobs do not show the tails, hence the range is widened about its median.
        middle = float(np.median(ordered))
        low, high = float(ordered[0]), float(ordered[-1])
        return Calibration(level, middle + 1.5 * (low - middle), middle + 1.5 * (high - middle), count)
    return Calibration(level, float(ordered[below - 1]), float(ordered[count - below]), count)


@dataclass(frozen=True, slots=True)
class BackTest:
    """How stated intervals and learned standards would have done on jobs not seen before.

    `inside` of `jobs` fell into their interval of level `level`. `error_now_pct` and `error_learned_pct` are
    the mean absolute errors of a job's minutes in per cent of the logged ones, with the standards in force
    and with those learned from earlier jobs; `off_now_pct` and `off_learned_pct` are the errors of all
    minutes together. `low_pct` to `high_pct` is the interval of the usual next job in per cent of its
    expected minutes.
    """

    jobs: int
    level: float
    inside: int
    error_now_pct: float
    error_learned_pct: float
    off_now_pct: float
    off_learned_pct: float
    low_pct: float = 0.0
    high_pct: float = 0.0

    @property
    def covered_pct(self) -> float:
        """Share of jobs whose actual minutes fell inside the interval, in per cent."""
        return 100.0 * self.inside / self.jobs if self.jobs else 0.0


def back_test(
    tables: Sequence[WorkTable],
    order: Sequence[str],
    *,
    level: float = LEVEL,
    start: int = 60,
    step: int = 20,
) -> BackTest:
    """Walk through the jobs: learn from those before, judge the next `step`.

    `order` are the jobs' names in the order in which they were done, by which rows of the tables are matched;
    a job is judged by the total of its logged minutes. Needs more than `start` jobs; with fewer, the answer
    counts 0 jobs.
    """
    frames = [_Frame(table, order) for table in tables]
    actual = _sum(frame.minutes for frame in frames)
    now = _sum(frame.counts @ frame.table.now for frame in frames)
    kept = np.flatnonzero((actual > 0) & (now > 0))
    inside = judged = 0
    learned = np.zeros(len(order))
    for first in range(start, len(kept), step):
        past, next_jobs = kept[:first], kept[first : first + step]
        scores = _past_scores(frames, actual, past)
        expected, spread = _predict(frames, past, next_jobs)
        known = calibrate(scores, level)
        low = expected * np.exp(known.low * spread)
        high = expected * np.exp(known.high * spread)
        inside += int(np.sum((low <= actual[next_jobs]) & (actual[next_jobs] <= high)))
        learned[next_jobs] = expected
        judged += len(next_jobs)
    if judged == 0:
        return BackTest(0, level, 0, 0.0, 0.0, 0.0, 0.0)
    low_pct, high_pct = _usual_range(frames, actual, kept, level)
    rows = kept[start:]
    return BackTest(
        judged,
        level,
        inside,
        _error(now, actual, rows),
        _error(learned, actual, rows),
        _off(now, actual, rows),
        _off(learned, actual, rows),
        low_pct,
        high_pct,
    )


def _error(expected: Floats, actual: Floats, rows: np.ndarray) -> float:
    """Mean absolute error of a job's minutes in per cent of the logged ones."""
    return float(100 * np.mean(np.abs(expected[rows] - actual[rows]) / actual[rows]))


def _off(expected: Floats, actual: Floats, rows: np.ndarray) -> float:
    """Error of the total of all minutes in per cent."""
    return float(100 * (np.sum(expected[rows]) / np.sum(actual[rows]) - 1))


def _usual_range(
    frames: Sequence["_Frame"], actual: Floats, rows: np.ndarray, level: float
) -> tuple[float, float]:
    known = calibrate(_past_scores(frames, actual, rows), level)
    _, spread = _predict(frames, rows, rows)
    return known.range(100.0, float(np.median(spread)))


class _Frame:
    """One operation's table with a row for every job in order; zeros where a job has no such work."""

    def __init__(self, table: WorkTable, order: Sequence[str]) -> None:
        self.table = table
        place = {job: row for row, job in enumerate(order)}
        rows = [place[job] for job in table.jobs]
        self.rows = np.array(rows)
        self.counts = np.zeros((len(order), len(table.standards)))
        self.minutes = np.zeros(len(order))
        self.counts[rows] = table.counts
        self.minutes[rows] = table.minutes

    def table_of(self, rows: np.ndarray) -> WorkTable:
        table = self.table.rows(np.isin(self.rows, rows))
        # At that time no job was done in the new way of working, so the past jobs did not know of it.
        return table if table.new_pace != len(table.jobs) else replace(table, new_pace=None)


def _past_scores(frames: Sequence[_Frame], actual: Floats, rows: np.ndarray) -> Floats:
    """Scores of past jobs, each from a fit on the other folds."""
    scores = np.zeros(len(rows))
    for fold in range(FOLDS):
        # Every fifth job rather than blocks in time, so that each fold has old and new jobs, without random
        # draws.
        out = np.arange(len(rows)) % FOLDS == fold
        expected, spread = _predict(frames, rows[~out], rows[out])
        scores[out] = measures(actual[rows[out]], np.maximum(expected, 1e-9), spread)
    return scores


def _predict(frames: Sequence[_Frame], past: np.ndarray, rows: np.ndarray) -> tuple[Floats, Floats]:
    """Expected total minutes and relative spread of the jobs `rows`, learned from the jobs `past`."""
    used = usable([frame.table_of(past) for frame in frames])
    levels = fit_levels(used) if used else None
    known = {table.operation: place for place, table in enumerate(used)}
    expected = np.zeros(len(rows))
    square = np.zeros(len(rows))
    for frame in frames:
        values, usual = frame.table.start, Spread(USUAL_SPREAD)  # for an operation without past jobs
        place = known.get(frame.table.operation)
        if levels is not None and place is not None:
            values = values * np.exp(levels.change[levels.parts[place]])
            usual = levels.spreads[place]
        part = frame.counts[rows] @ values
        expected += part
        # Errors of operations are independent, so variances add up. Spread is not defined below a minute.
        square += (part * usual.of(np.maximum(part, 1.0))) ** 2
    spread = np.maximum(0.01, np.sqrt(square) / np.maximum(expected, 1e-9))
    return expected, spread


def _sum(parts: object) -> Floats:
    total: Floats | float = 0.0
    for part in parts:  # type: ignore[attr-defined]
        total = total + part
    return np.asarray(total, dtype=float)
