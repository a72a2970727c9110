"""What is logged on jobs: minutes and their sums, costs, and whether the job's state allows entries."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from sqlalchemy import Subquery, and_, delete, func, insert, or_, select, union_all
from sqlalchemy.orm import Session

from shopquote.calc.review.variance import labour_cost
from shopquote.records.jobs import Job, JobRevision, PartRow
from shopquote.records.logs import BoughtUse, JobDelivery, MinuteSum, ScrapNote, TimeEntry
from shopquote.records.quotes import Quote, QuoteMinutes, QuoteOperation
from shopquote.records.rack import BarUse
from shopquote.records.shop import Shop
from shopquote.services.jobs.job_states import WON_STATES
from shopquote.services.safe.checks.found import MOST_LINES, Cure, Found

# A job takes entries once it is won, and keeps them if it is dropped later. Bars are not held to this: one of
# the rack may be cut for any job.
_STATES_WITH_ENTRIES = (*WON_STATES, "dropped")
# One rounding step of most currencies: a wrong rate or wrong minutes make a larger difference.
_A_CENT = Decimal("0.01")


def minutes_add_up(session: Session) -> Iterator[Found]:
    """The sums kept for each job (MinuteSum) and quote (QuoteOperation) equal the rows that they sum."""
    entries = select(
        TimeEntry.job_id, TimeEntry.operation, TimeEntry.kind, TimeEntry.minutes, TimeEntry.cost
    ).where(TimeEntry.minutes > Decimal(0))  # a timer that runs adds nothing yet
    kept = select(MinuteSum.job_id, MinuteSum.operation, MinuteSum.kind, -MinuteSum.minutes, -MinuteSum.cost)
    off = _differences(entries, kept)
    for row in session.execute(select(Job.number, Job.state, off).join(Job, Job.id == off.c.job_id)).all():
        text = f"job {row.number}, {row.operation} ({row.kind}): {_more_than_kept(row.minutes, row.cost)}"
        if row.state == "closed":
            # No cure: the closing was made from the sum, so it may be right and an entry lost.
            yield Found(text)
        else:
            yield Found(text, _sum_again(row.job_id, row.operation, row.kind), "they are added up again")
    quoted = select(QuoteMinutes.quote_id, QuoteMinutes.operation, QuoteMinutes.minutes, QuoteMinutes.cost)
    stored = select(
        QuoteOperation.quote_id, QuoteOperation.operation, -QuoteOperation.minutes, -QuoteOperation.cost
    )
    off = _differences(quoted, stored)
    for row in session.execute(
        select(Quote.number, Quote.revision, off).join(Quote, Quote.id == off.c.quote_id)
    ).all():
        amounts = _more_than_kept(row.minutes, row.cost)
        yield Found(
            f"quote {row.number} revision {row.revision}, {row.operation}: {amounts}",
            _sum_of_quote_again(row.quote_id, row.operation),
            "they are added up again",
        )


def _sum_again(job_id: int, operation: str, kind: str) -> Cure:
    key = {"job_id": job_id, "operation": operation, "kind": kind}
    return _summed_again(MinuteSum, TimeEntry, key, TimeEntry.minutes > Decimal(0))


def _sum_of_quote_again(quote_id: int, operation: str) -> Cure:
    return _summed_again(QuoteOperation, QuoteMinutes, {"quote_id": quote_id, "operation": operation})


def _summed_again(kept: Any, rows: Any, key: dict[str, Any], *counting: Any) -> Cure:
    """A cure that deletes a kept sum and makes it again from its rows, if it has any."""

    def cure(session: Session) -> None:
        session.execute(delete(kept).where(*(getattr(kept, name) == key[name] for name in key)))
        minutes, cost, count = session.execute(
            select(func.sum(rows.minutes), func.sum(rows.cost), func.count()).where(
                *(getattr(rows, name) == key[name] for name in key), *counting
            )
        ).one()
        if count:
            session.execute(insert(kept).values(**key, minutes=minutes, cost=cost))

    return cure


def _differences(rows: Any, kept: Any) -> Subquery:
    """The difference of rows and kept sums, grouped by all columns but the last two, where it is not zero.

    The last two columns of both queries are minutes and cost; `kept` gives them negated.
    """
    both = union_all(rows, kept).subquery()
    *key, minutes, cost = both.c
    sums = [func.sum(minutes), func.sum(cost)]
    return (
        select(*key, sums[0].label("minutes"), sums[1].label("cost"))
        .group_by(*key)
        .having(or_(*(total != Decimal(0) for total in sums)))
        .limit(MOST_LINES)
        .subquery()
    )


def _more_than_kept(minutes: Decimal, cost: Decimal) -> str:
    return f"its minutes come to {minutes.normalize():f} min and {cost.normalize():f} more than is kept"


def entries_add_up(session: Session) -> Iterator[Found]:
    """An entry costs its minutes at its rate, and its timer ended after it began."""
    currency = session.scalar(select(Shop.currency)) or "EUR"
    rows = session.execute(
        select(TimeEntry.id, TimeEntry.minutes, TimeEntry.rate, TimeEntry.cost, Job.number)
        .join(Job, Job.id == TimeEntry.job_id)
        .where(TimeEntry.minutes > Decimal(0))
    )
    listed = 0
    for row, minutes, rate, cost, number in rows.all():
        if listed < MOST_LINES and abs(labour_cost(minutes, rate, currency) - cost) > _A_CENT:
            listed += 1
            yield Found(
                f"entry {row} of job {number}: {minutes.normalize():f} min at {rate.normalize():f} an hour "
                f"cost {cost.normalize():f}",
                helps=f"take it back and log it again: shopquote log {number} --strike N --reason TEXT",
            )
    backwards = (
        select(TimeEntry.id, Job.number)
        .join(Job, Job.id == TimeEntry.job_id)
        .where(
            or_(
                TimeEntry.ended_at < TimeEntry.started_at,
                and_(
                    TimeEntry.minutes == Decimal(0),
                    or_(TimeEntry.started_at.is_(None), TimeEntry.ended_at.is_not(None)),
                ),
            )
        )
        .limit(MOST_LINES)
    )
    for row, number in session.execute(backwards).all():
        yield Found(f"entry {row} of job {number}: its timer ended before it began, or it has no minutes")


def entries_fit_their_jobs(session: Session) -> Iterator[Found]:
    """Only jobs that were won have entries; scrapped marks are the job's; no more bar came back than went."""
    for what, owner in (("minutes", TimeEntry), ("bought items", BoughtUse), ("deliveries", JobDelivery)):
        rows = session.execute(
            select(Job.number, Job.state)
            .where(Job.id.in_(select(owner.job_id)), Job.state.not_in(_STATES_WITH_ENTRIES))
            .limit(MOST_LINES)
        )
        for number, state in rows.all():
            yield Found(f"job {number} is {state}, and {what} are logged on it")
    timers = (
        select(Job.number, Job.state)
        .join(TimeEntry, TimeEntry.job_id == Job.id)
        .where(
            TimeEntry.started_at.is_not(None), TimeEntry.ended_at.is_(None), Job.state.in_(("closed", "lost"))
        )
        .limit(MOST_LINES)
    )
    for number, state in session.execute(timers).all():
        yield Found(f"a timer runs on job {number}, which is {state}")
    marks = select(PartRow.mark).join(JobRevision).where(JobRevision.job_id == ScrapNote.job_id)
    scrapped = (
        select(Job.number, ScrapNote.mark)
        .join(Job, Job.id == ScrapNote.job_id)
        .where(ScrapNote.mark.not_in(marks))
        .limit(MOST_LINES)
    )
    for number, mark in session.execute(scrapped).all():
        yield Found(f"job {number}: {mark!r} was scrapped, which is no part of it")
    too_long = (
        select(Job.number, BarUse.id)
        .join(Job, Job.id == BarUse.job_id)
        .where(or_(BarUse.returned > BarUse.length * BarUse.count, BarUse.credit > BarUse.cost))
        .limit(MOST_LINES)
    )
    for number, row in session.execute(too_long).all():
        yield Found(f"job {number}, bar use {row}: more came back of the bar than it was")
