"""Whether quotes became truer since learned standards were taken: how far they are off, before and since."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from statistics import fmean, stdev

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.records.standards import StandardRow
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import JobFigures
from shopquote.services.review.work_done import in_tenths

_EIGHT_IN_TEN, _USUAL_SPREAD = 1.2816, 15.0  # common practice, no source: one job lies 15 % off its quote
# Fewer tell chance alone, whatever was accepted.
LEAST_JOBS = 3


@dataclass(frozen=True, slots=True)
class Off:
    """By how much jobs cost more than quoted, in per cent on average; the mean lies from `low` to `high`.

    `together_pct`: by how much all of them together did, where a large job counts by its money.
    Only of jobs on which all that is planned was logged: what nobody logged costs what was quoted.
    """

    jobs: int
    off_pct: Decimal
    low_pct: Decimal
    high_pct: Decimal
    together_pct: Decimal


@dataclass(frozen=True, slots=True)
class SinceAccepted:
    """Standards taken on one day, and how far off the quotes made from then on and those before are.

    `since` or `before` None: fewer than three such jobs are finished and wholly logged. `left_out` counts
    the finished jobs of both times that have gaps.
    """

    day: date
    standards: tuple[str, ...]
    before: Off | None
    since: Off | None
    left_out: int = 0


def since_accepted(session: Session, figures: Sequence[JobFigures]) -> tuple[SinceAccepted, ...]:
    """A row a day on which suggestions were taken, the newest first; each ends where the next begins."""
    taken = session.execute(
        select(StandardRow.since, StandardRow.name)
        .where(StandardRow.accepted_from.is_not(None))
        .order_by(StandardRow.since, StandardRow.name)
    ).all()
    if not taken:
        return ()
    chosen = chosen_quotes()
    quoted = {job: day for job, day in session.execute(select(chosen.c.job_id, chosen.c.issued_on))}
    whole = {row.id: not row.gap_steps and "labour" not in row.assumed for row in figures}
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
    mean, spread = fmean(off), max(stdev(off), _USUAL_SPREAD / len(off))
    reach = _EIGHT_IN_TEN * spread / len(off) ** 0.5
    together = 100 * (sum(actual for actual, _ in costs) / sum(estimated for _, estimated in costs) - 1)
    mid, low, high, every = map(in_tenths, (mean, mean - reach, mean + reach, together))
    return Off(len(off), mid, low, high, every)
