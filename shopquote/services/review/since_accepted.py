"""Whether quotes became more accurate since learned standards were taken: deviation before and since."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from statistics import fmean, stdev

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.records.standards import StandardRow
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import EIGHT_IN_TEN, JobFigures
from shopquote.services.review.work_done import in_tenths

# Usual deviation of one job's cost from its quote, per cent: common practice, no source.
_USUAL_SPREAD = 15.0
# Fewest jobs to compare: of fewer the mean is mostly chance.
LEAST_JOBS = 3


@dataclass(frozen=True, slots=True)
class Off:
    """By how many per cent jobs cost more than quoted: mean, with its 8-in-10 range from `low_pct` to
    `high_pct`.

    `together_pct` is by how much their total cost exceeded the total quoted. Only jobs with everything
    planned logged are counted, because what nobody logged counts as quoted.
    """

    jobs: int
    off_pct: Decimal
    low_pct: Decimal
    high_pct: Decimal
    together_pct: Decimal


@dataclass(frozen=True, slots=True)
class SinceAccepted:
    """Standards taken on one day, and the deviation of quotes made before and since.

    `before` or `since` is None with fewer than three such jobs. `left_out` counts finished jobs with gaps.
    """

    day: date
    standards: tuple[str, ...]
    before: Off | None
    since: Off | None
    left_out: int = 0


def since_accepted(session: Session, figures: Sequence[JobFigures]) -> tuple[SinceAccepted, ...]:
    """One row for each day on which suggestions were taken, newest first; each period ends where the next
    begins.
    """
    taken = session.execute(
        select(StandardRow.since, StandardRow.name)
        .where(StandardRow.accepted_from.is_not(None))
        .order_by(StandardRow.since, StandardRow.name)
    ).all()
    if not taken:
        return ()
    chosen = chosen_quotes()
    quoted = {job: day for job, day in session.execute(select(chosen.c.job_id, chosen.c.issued_on))}
    whole = {row.id: not row.gap_steps and not row.labour_as_quoted for row in figures}
    names: dict[date, list[str]] = {}
    for day, name in taken:
        names.setdefault(day, []).append(name)
    days = list(names)
    rows = []
    for first, day, last in zip([date.min, *days], days, [*days[1:], date.max], strict=False):
        old, new = (
            {job for job in whole if start <= quoted.get(job, date.max) < end}
            for start, end in ((first, day), (day, last))
        )
        before, since = (_off(figures, {job for job in jobs if whole[job]}) for jobs in (old, new))
        left_out = sum(not whole[job] for job in old | new)
        rows.append(SinceAccepted(day, tuple(names[day]), before, since, left_out))
    return tuple(reversed(rows))


def _off(figures: Sequence[JobFigures], jobs: set[int]) -> Off | None:
    costs = [
        (sum(row.actual_steps), estimated)
        for row in figures
        if row.id in jobs and (estimated := sum(row.estimated_steps)) > 0
    ]
    off = [100 * (actual / estimated - 1) for actual, estimated in costs]
    if len(off) < LEAST_JOBS:
        return None
    # Three jobs may be close to one another by chance: their spread is not believed to be below a share of
    # the usual.
    mean, spread = fmean(off), max(stdev(off), _USUAL_SPREAD / len(off))
    reach = EIGHT_IN_TEN * spread / len(off) ** 0.5
    together = 100 * (sum(actual for actual, _ in costs) / sum(estimated for _, estimated in costs) - 1)
    mid, low, high, every = map(in_tenths, (mean, mean - reach, mean + reach, together))
    return Off(len(off), mid, low, high, every)
