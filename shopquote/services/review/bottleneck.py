"""What an hour of the operation that limits the shop earns, by job and by kind of job.

A job's throughput is its price less all that is paid for it alone; jobs and kinds are ranked by throughput
per hour of the bottleneck that they take. A job that takes none is not limited by it and not ranked. Source:
E. M. Goldratt, The Haystack Syndrome (1990), and T. Corbett, Throughput Accounting (1998), "throughput per
unit of the constraint", as told by a public handbook and a public worked example.
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
    """A job or kind of jobs: its throughput and its minutes of the bottleneck.

    Held in stored steps (whole numbers), so that ranked rows add up exactly to the total.
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
        """Throughput: price less what was paid for these jobs alone."""
        return money(self.contribution_steps)

    @property
    def per_hour(self) -> Decimal | None:
        """Throughput per hour of the bottleneck; None without hours."""
        return per_hour(self.contribution, minutes(self.minutes_steps))


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """The operation that limits the shop, and the throughput per hour of it.

    `per_hour` is over all jobs that used it; `jobs` and `kinds` are ranked by their own, best first. Minutes
    are as quoted where nobody logged them.
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
    """The bottleneck `wanted`, or the operation with most minutes; None if nobody worked at it.

    Args:
        session: an open session.
        filters: which jobs.
        figures: their figures.
        operations: sums by operation, most minutes first.
        wanted: an operation to look at instead.
        kinds: kind of each job, by id.
        assumed: what closings took as quoted, from `closed_gaps`.
    """
    # `operations` come with the most minutes first.
    worked = [row for row in operations if row.minutes_actual > 0]
    if wanted is not None:
        worked = [row for row in worked if row.operation == wanted]
    if not worked:
        return None
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
    # By what an hour at the bottleneck earns: of two jobs for its next free hour the first in this list pays
    # more.
    return tuple(sorted(rows, key=lambda row: (-row.contribution_steps / row.minutes_steps, row.name)))


def _minutes_at(
    session: Session, filters: Filters, operation: str, assumed: Iterable[ClosedGap]
) -> Mapping[int, int]:
    """Minutes of an operation by job id: logged, or as quoted, or what a closing took as quoted."""
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
    # Logged minutes last: they overwrite quoted ones.
    for query in (quoted, logged):
        found.update({job: taken for job, taken in session.connection().execute(query)})
    return found
