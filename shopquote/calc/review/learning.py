"""Time standards learned from logged jobs: minutes for each set-up, cut, bend, hole, weld.

`fit` estimates the standards from the jobs of one operation alone (`seen`). `levels` estimates all standards
together (`suggest`): a factor of the shop, of the operation and of the standard, shrunk toward the standards
in force where jobs are few. Outliers get less weight and are named, never dropped silently. Jobs from before
a change of pace (`breaks`) count less, and the change is reported. Begin at `learn`.
"""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.breaks import STEP
from shopquote.calc.review.fit import Floats, RobustFit, Spread, WorkTable, fit_minutes, robust_spread
from shopquote.calc.review.levels import Levels, fit_levels, usable

# Common practice, no source: least jobs of an operation to suggest its standards; robust standard deviations
# from which a job is named as an outlier; least change worth a suggestion.
LEAST_JOBS = 3
POINTED_OUT = 3.5
_LEAST_CHANGE = 0.02
_SURELY = 0.5  # probability from which a job counts as done before a change of pace


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of one standard; values in minutes per unit.

    Attributes:
        now: the value in force.
        seen: the estimate from its operation's jobs alone; `seen_error` its standard error, None where they
            cannot separate it from other standards.
        suggest: the estimate from all operations together; `error` its standard error.
        jobs: jobs since the last change of pace that used it.
        spread_pct: standard deviation from job to job in per cent of the value. The standards of an
            operation, varying independently by it, reproduce the spread of the operation's minutes beyond the
            part that all work of a job or of the shop shares.
        kept_pct: weight of the value in force in the suggestion, in per cent.
        taught_by: all jobs of its operation; 0 where none used the standard.
    """

    standard: str
    operation: str
    now: float
    seen: float
    seen_error: float | None
    suggest: float
    error: float
    jobs: int
    spread_pct: float
    kept_pct: float
    taught_by: int

    @property
    def change_pct(self) -> float:
        """Change from the value in force to the suggestion, in per cent."""
        return 0.0 if self.now == 0 else (self.suggest / self.now - 1) * 100

    @property
    def worth_it(self) -> bool:
        """Whether to suggest it: enough jobs and a noticeable change.

        Its error needs no test: `suggest` is shrunk.
        """
        return self.taught_by >= LEAST_JOBS and abs(self.suggest - self.now) > _LEAST_CHANGE * self.now


@dataclass(frozen=True, slots=True)
class Outlier:
    """A job far from the fit: a wrong entry, or something to learn from.

    Minutes; robust standard deviations.
    """

    job: str
    operation: str
    logged: float
    expected: float
    deviations: float


@dataclass(frozen=True, slots=True)
class Change:
    """A lasting change of an operation's pace: from `job` on it took `times` its former time.

    `job` is "" where the owner stated the change and no job shows it yet; `times` is then the prior's.
    """

    operation: str
    job: str
    times: float
    jobs_before: int
    jobs_since: int


@dataclass(frozen=True, slots=True)
class Lesson:
    """All standards of all operations, learned together.

    `common` is the relative standard deviation that all work of a next job shares: uncertainty of the shop's
    pace, and deviation of whole jobs. `spreads` is the spread of one job's minutes by operation.
    """

    learned: tuple[Learned, ...]
    outliers: tuple[Outlier, ...]
    spreads: dict[str, Spread]
    common: float
    changes: tuple[Change, ...] = ()

    def values(self) -> dict[tuple[str, str], float]:
        """Suggested minutes by operation and standard (one standard may be in several operations)."""
        return {(item.operation, item.standard): item.suggest for item in self.learned}


def learn(tables: Sequence[WorkTable]) -> Lesson:
    """Learn all standards of all operations together; operations without jobs are left out."""
    used = usable(tables)
    if not used:
        return Lesson((), (), {}, 0.0)
    levels = fit_levels(used)
    common = _common_spread(used, levels)
    learned: list[Learned] = []
    outliers: list[Outlier] = []
    changes: list[Change] = []
    for place, table in enumerate(used):
        since = levels.before[place] < _SURELY
        if not np.any(since):
            since = ~since  # no job of the new way of working is logged yet, so `seen` is of the old one
        newest = table.rows(since)
        fit = fit_minutes(newest)
        learned += _suggestions(newest, fit, levels, place, common, table)
        outliers += _outliers(newest, fit)
        if not np.all(since) or table.new_pace == len(table.jobs):
            changes.append(_change(table, levels, place, since))
    outliers.sort(key=lambda item: -abs(item.deviations))
    spreads = {table.operation: spread for table, spread in zip(used, levels.spreads, strict=True)}
    return Lesson(tuple(learned), tuple(outliers), spreads, common, tuple(changes))


def _change(table: WorkTable, levels: Levels, place: int, since: np.ndarray) -> Change:
    errors = levels.errors[place]
    if table.new_pace == len(table.jobs):
        return Change(table.operation, "", float(np.exp(STEP)), len(table.jobs), 0)
    first = int(np.flatnonzero(since)[0])
    times = float(np.exp(np.median(errors[since]) - np.median(errors[~since])))
    return Change(table.operation, table.jobs[first], times, int(np.sum(~since)), int(np.sum(since)))


def _common_spread(tables: Sequence[WorkTable], levels: Levels) -> float:
    """`Lesson.common`: from the uncertainty of the shop's pace and the deviation of whole jobs."""
    share = np.concatenate([table.start * np.exp(levels.change[part]) * np.sum(table.counts, axis=0)
                            for table, part in zip(tables, levels.parts, strict=True)])  # fmt: skip
    share = share / max(float(np.sum(share)), 1e-12)
    doubt = float(share @ levels.covariance @ share)
    return float(np.sqrt(doubt + levels.job**2))


def _suggestions(
    table: WorkTable, fit: RobustFit, levels: Levels, place: int, common: float, every: WorkTable
) -> list[Learned]:
    """The suggestions of one operation; `table` has its jobs since the last change, `every` all of them."""
    part = levels.parts[place]
    change, covariance = levels.change[part], levels.covariance[part, part]
    values = table.start * np.exp(change)
    prior = levels.prior[part]
    minutes = max(float(np.median(table.counts @ values)), 1.0)
    share = values * np.mean(table.counts, axis=0)
    share = share / max(float(np.sum(share)), 1e-12)
    # Variance of the operation's minutes beyond the shared part, to be divided among its standards.
    own = levels.spreads[place].of(np.array([minutes]))[0] ** 2 + share @ covariance @ share - common**2
    spread = float(np.sqrt(max(own, 0.0025))) * _independent_factor(table.counts, values)
    known = np.linalg.matrix_rank(table.counts) == len(values)
    rows = []
    jobs = np.count_nonzero(table.counts, axis=0)
    taught = np.where(np.any(every.counts, axis=0), len(every.jobs), 0)
    for column, standard in enumerate(table.standards):
        error = float(np.sqrt(max(0.0, fit.covariance[column, column])))
        clear = known or _told_alone(table.counts, column)
        variance = float(covariance[column, column])
        rows.append(
            Learned(
                standard, table.operation, float(table.now[column]), float(fit.values[column]),
                error if clear else None, float(values[column]),
                float(values[column] * np.sqrt(max(0.0, variance))), int(jobs[column]), 100 * spread,
                100 * min(1.0, variance / float(prior[column])), int(taught[column]),
            )
        )  # fmt: skip
    return rows


def _told_alone(counts: Floats, column: int) -> bool:
    """Whether the jobs identify a standard: its column is not a linear combination of the others."""
    others = np.delete(counts, column, axis=1)
    both = np.linalg.matrix_rank(counts)
    return bool(np.any(counts[:, column])) and bool(
        both > (np.linalg.matrix_rank(others) if others.size else 0)
    )


def _independent_factor(counts: Floats, values: Floats) -> float:
    """Ratio of each standard's relative spread to that of their sum, for the usual job, if independent."""
    parts = counts * values
    total = np.sum(parts, axis=1)
    root = np.sqrt(np.sum(parts**2, axis=1))
    used = root > 0
    return float(np.median(total[used] / root[used])) if np.any(used) else 1.0


def _outliers(table: WorkTable, fit: RobustFit) -> list[Outlier]:
    spread = robust_spread(fit.residuals, len(table.standards))
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
