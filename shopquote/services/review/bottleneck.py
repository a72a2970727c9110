"""What an hour of the operation that limits the shop earns, job by job and kind by kind.

A job's throughput is its price less all that is paid for it alone; jobs and kinds are
ranked by throughput for each hour of the bottleneck that they take, and a job that
takes none of it is not held back by it. Source: E. M. Goldratt, The Haystack
Syndrome (1990), and T. Corbett, Throughput Accounting (1998), "throughput per unit of
the constraint", as a public handbook and a public worked example tell it.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.variance import per_hour
from shopquote.records.jobs import Job
from shopquote.records.logs import MinuteSum
from shopquote.records.quotes import QuoteOperation
from shopquote.services.quotes.counted import quote_of_job
from shopquote.services.review.gaps import ClosedGap
from shopquote.services.review.job_figures import JobFigures, OperationSum, minutes, money, steps
from shopquote.services.review.job_groups import NO_PARTS
from shopquote.services.review.selection import Filters, ids_of


@dataclass(slots=True)
class AtBottleneck:
    """A job, or a kind of jobs: what it earned beyond what was paid for it, over its bottleneck hours.

    Added up in stored steps, so that ranks add up to the whole.
    """

    name: str
    title: str = ""
    jobs: int = 0
    minutes_steps: int = 0
    contribution_steps: int = 0

    @property
    def hours(self) -> Decimal:
        """Hours of the bottleneck."""
        return minutes(self.minutes_steps) / 60

    @property
    def contribution(self) -> Decimal:
        """Price less what was paid for these jobs alone."""
        return money(self.contribution_steps)

    @property
    def per_hour(self) -> Decimal | None:
        """Contribution for each hour of the bottleneck."""
        return per_hour(self.contribution, minutes(self.minutes_steps))


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """The operation that the shop has least of, and what an hour of it earned.

    `per_hour` is the contribution of the jobs that used it over their hours of it; `jobs` and `kinds` rank
    them by their own, the best first. Operations as quoted where nobody logged them.
    """

    operation: str
    hours: Decimal
    per_hour: Decimal | None
    jobs: tuple[AtBottleneck, ...] = ()
    kinds: tuple[AtBottleneck, ...] = ()


def find_bottleneck(
    session: Session,
    filters: Filters,
    figures: Sequence[JobFigures],
    operations: Sequence[OperationSum],
    wanted: str | None,
    kinds: Mapping[int, str],
    assumed: Iterable[ClosedGap],
) -> Bottleneck | None:
    """The operation wanted, else the most worked one; None where nobody worked at it.

    `kinds` by job; `assumed` as `closed_gaps` tells.
    """
    worked = [row for row in operations if row.minutes_actual > 0]
    if wanted is not None:
        worked = [row for row in worked if row.operation == wanted]
    if not worked:
        return None
    # They come with the most worked first.
    operation = worked[0].operation
    taken = _minutes_at(session, filters, operation, assumed)
    everything = AtBottleneck("all")
    by_kind: dict[str, AtBottleneck] = {}
    jobs = []
    for row in figures:
        if spent := taken.get(row.id):
            earned, kind = row.contribution_steps, kinds.get(row.id, NO_PARTS)
            jobs.append(AtBottleneck(row.number, row.title, 1, spent, earned))
            for held in (everything, by_kind.setdefault(kind, AtBottleneck(kind))):
                held.jobs += 1
                held.minutes_steps += spent
                held.contribution_steps += earned
    return Bottleneck(
        operation,
        (worked[0].minutes_actual / 60).quantize(Decimal("0.1")),
        everything.per_hour,
        _ranked(jobs),
        _ranked(by_kind.values()),
    )


def _ranked(rows: Iterable[AtBottleneck]) -> tuple[AtBottleneck, ...]:
    return tuple(sorted(rows, key=lambda row: (-row.contribution_steps / row.minutes_steps, row.name)))


def _minutes_at(
    session: Session, filters: Filters, operation: str, assumed: Iterable[ClosedGap]
) -> Mapping[int, int]:
    """Minutes of an operation by job: logged, else as quoted, or what a closing took as quoted."""
    ids: Any = ids_of(filters)
    worked = (MinuteSum.operation == operation, steps(MinuteSum.minutes) > 0)
    logged = (
        select(MinuteSum.job_id, steps(func.sum(MinuteSum.minutes)))
        .where(MinuteSum.job_id.in_(ids), *worked)
        .group_by(MinuteSum.job_id)
    )
    quoted = (
        select(Job.id, steps(QuoteOperation.minutes))
        .join(QuoteOperation, QuoteOperation.quote_id == quote_of_job())
        .where(
            Job.id.in_(ids_of(filters, but_closed=True)),
            Job.id.not_in(select(MinuteSum.job_id).where(*worked)),
            QuoteOperation.operation == operation,
        )
    )
    found = {job: taken for job, name, taken, _ in assumed if name == operation}
    # Logged last, so that it takes the place of what was quoted.
    for query in (quoted, logged):
        found.update({job: taken for job, taken in session.connection().execute(query)})
    return found
