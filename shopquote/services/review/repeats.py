"""How much faster repeated work became: learning curves of jobs made several times."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.learning_curve import fit_curve
from shopquote.records.jobs import Job, JobRevision, PartRow
from shopquote.records.logs import MinuteSum
from shopquote.records.people import Customer
from shopquote.records.quotes import QuoteOperation
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import steps
from shopquote.services.review.selection import Filters
from shopquote.services.review.work_done import EVERY_JOB, MOST_JOBS, in_tenths, jobs_to_learn_from

# Fewest runs of a curve (the slope through two points has no standard error), and most curves listed.
LEAST_RUNS, MOST_REPEATS = 3, 20
# Greatest standard error of the slope at which a curve is still listed.
UNSURE_SLOPE = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Repeat:
    """The same thing made several times for one customer.

    `first` and `last` are minutes per set. `rate` is the factor on minutes over quoted minutes at each
    doubling of the number made (0.9: a 90 % learning curve); `error` is the standard error of the slope.
    """

    title: str
    customer: str
    runs: int
    sets: int
    first: Decimal
    last: Decimal
    rate: Decimal
    error: Decimal


def repeated_work(
    session: Session, most_jobs: int = MOST_JOBS, filters: Filters = EVERY_JOB
) -> tuple[Repeat, ...]:
    """Learning curves of things made at least three times for one customer, most repeated first.

    Things are the same if they have the same title, number of marks, pieces and length of bar. A run of s
    sets after N others counts at unit N + (s + 1) / 2 (the middle of a lot; common practice, no source), with
    its minutes divided by those quoted, so that set-up spread over more sets is not taken for learning.
    """
    newest = jobs_to_learn_from(filters, most_jobs)
    worked = (
        select(MinuteSum.job_id, steps(func.sum(MinuteSum.minutes)).label("spent"))
        .where(MinuteSum.job_id.in_(select(newest.c.id)), MinuteSum.kind == "work")
        .group_by(MinuteSum.job_id)
        .subquery()
    )
    chosen = chosen_quotes()
    quoted = (
        select(chosen.c.job_id, steps(func.sum(QuoteOperation.minutes)).label("minutes"))
        .join(chosen, chosen.c.quote_id == QuoteOperation.quote_id)
        .where(chosen.c.job_id.in_(select(newest.c.id)))
        .group_by(chosen.c.job_id)
        .subquery()
    )
    parts = (
        select(
            PartRow.job_revision_id,
            func.count().label("marks"),
            func.sum(PartRow.per_set).label("pieces"),
            steps(func.sum(PartRow.developed * PartRow.per_set)).label("metal"),
        )
        .group_by(PartRow.job_revision_id)
        .subquery()
    )
    alike = (JobRevision.title, Customer.name, parts.c.marks, parts.c.pieces, parts.c.metal)
    query = (
        select(*alike, JobRevision.sets, worked.c.spent, quoted.c.minutes)
        .join(Job, (Job.id == JobRevision.job_id) & (Job.revision == JobRevision.revision))
        .join(Customer, Customer.id == Job.customer_id)
        .join(worked, worked.c.job_id == Job.id)
        .join(quoted, quoted.c.job_id == Job.id)
        .outerjoin(parts, parts.c.job_revision_id == JobRevision.id)
        .order_by(Job.id)
    )
    runs: dict[tuple[Any, ...], list[_Run]] = {}
    for *thing, sets, spent, minutes in session.execute(query):
        if spent and minutes:
            runs.setdefault(tuple(thing), []).append(_Run(sets, spent / 1e6, minutes / 1e6))
    repeats = [
        _repeat(title, customer, made)
        for (title, customer, *_), made in runs.items()
        if len(made) >= LEAST_RUNS
    ]
    repeats = [item for item in repeats if item.error <= UNSURE_SLOPE]
    return tuple(sorted(repeats, key=lambda item: (-item.runs, item.title)))[:MOST_REPEATS]


@dataclass(frozen=True, slots=True)
class _Run:
    """One job of a repeated thing: its sets, minutes logged and minutes quoted."""

    sets: int
    minutes: float
    quoted: float


def _repeat(title: str, customer: str, made: Sequence[_Run]) -> Repeat:
    numbers, before = [], 0
    for run in made:
        # The middle set of each run stands for it on the curve: minutes are known for the run, not for its
        # sets.
        numbers.append(before + (run.sets + 1) / 2)
        before += run.sets
    # Over the quoted minutes, so that a run of more sets does not look slower.
    curve = fit_curve(numbers, [run.minutes / run.quoted for run in made])
    first, last = made[0], made[-1]
    return Repeat(
        title,
        customer,
        len(made),
        before,
        in_tenths(first.minutes / first.sets),
        in_tenths(last.minutes / last.sets),
        Decimal(f"{curve.rate:.3f}"),
        Decimal(f"{curve.error:.3f}"),
    )
