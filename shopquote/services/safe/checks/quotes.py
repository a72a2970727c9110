"""Quotes: printed lines and costs add up, and revisions and answers fit the job."""

from collections.abc import Iterator

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session, aliased

from shopquote.records.closings import Closing, ClosingLine
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.joint_quotes import JointQuote, JointQuoteMember
from shopquote.records.quotes import Quote, QuoteCost, QuoteLineRow
from shopquote.services.jobs.job_states import STATES_ASKED
from shopquote.services.safe.checks.found import MOST_LINES, Found, put


def quote_lines_add_up(session: Session) -> Iterator[Found]:
    """Printed lines add up to the printed net, and net and tax to the total."""
    sums = (
        select(QuoteLineRow.quote_id, func.sum(QuoteLineRow.amount).label("net"))
        .group_by(QuoteLineRow.quote_id)
        .subquery()
    )
    rows = session.execute(
        select(Quote.number, Quote.revision, Quote.net, Quote.tax, Quote.total, sums.c.net)
        .join(sums, sums.c.quote_id == Quote.id)
        .where(or_(sums.c.net != Quote.net, Quote.net + Quote.tax != Quote.total))
        .limit(MOST_LINES)
    )
    for number, revision, net, tax, total, lines in rows:
        yield Found(f"quote {number} revision {revision}: lines {lines}, net {net}, tax {tax}, total {total}")


def costs_add_up(session: Session) -> Iterator[Found]:
    """A quote's cost categories add up to its cost, and a closing's lines to its two costs."""
    sums = (
        select(QuoteCost.quote_id, func.sum(QuoteCost.amount).label("cost"))
        .group_by(QuoteCost.quote_id)
        .subquery()
    )
    quotes = (
        select(Quote.number, Quote.revision, Quote.cost, sums.c.cost)
        .join(sums, sums.c.quote_id == Quote.id)
        .where(sums.c.cost != Quote.cost)
        .limit(MOST_LINES)
    )
    for number, revision, cost, parts in session.execute(quotes):
        yield Found(f"quote {number} revision {revision}: cost {cost}, its categories {parts}")
    lines = (
        select(
            ClosingLine.closing_id,
            func.sum(ClosingLine.estimated).label("estimated"),
            func.sum(ClosingLine.actual).label("actual"),
        )
        .group_by(ClosingLine.closing_id)
        .subquery()
    )
    closings = (
        select(
            Job.number,
            Closing.closed_on,
            Closing.cost_estimated,
            lines.c.estimated,
            Closing.cost_actual,
            lines.c.actual,
        )
        .join(Job, Job.id == Closing.job_id)
        .join(lines, lines.c.closing_id == Closing.id)
        .where(or_(lines.c.estimated != Closing.cost_estimated, lines.c.actual != Closing.cost_actual))
        .limit(MOST_LINES)
    )
    for number, day, estimated, estimated_lines, actual, actual_lines in session.execute(closings):
        yield Found(
            f"job {number}, closed {day}: estimated {estimated}, its lines {estimated_lines}; "
            f"actual {actual}, its lines {actual_lines}"
        )
    yield from _parts_of_variance(session)


def _parts_of_variance(session: Session) -> Iterator[Found]:
    """The four parts of each line's variance add up to actual less estimated cost."""
    parts = ClosingLine.part_quantity + ClosingLine.part_time + ClosingLine.part_rate + ClosingLine.part_price
    rows = session.execute(
        select(Job.number, ClosingLine.category, ClosingLine.operation)
        .join(Closing, Closing.id == ClosingLine.closing_id)
        .join(Job, Job.id == Closing.job_id)
        .where(parts != ClosingLine.actual - ClosingLine.estimated)
        .limit(MOST_LINES)
    )
    for number, category, operation in rows:
        yield Found(f"closed job {number}, {operation or category}: the parts of its variance do not add up")


def quotes_fit_their_jobs(session: Session) -> Iterator[Found]:
    """Revisions run from 1 under one number; only the newest is open; an answer has a day, and the job a
    state that fits it.
    """
    counted = (
        select(
            Quote.job_id,
            func.count().label("count"),
            func.max(Quote.revision).label("newest"),
            func.count(Quote.number.distinct()).label("numbers"),
        )
        .group_by(Quote.job_id)
        .subquery()
    )
    rows = session.execute(
        select(Job.number, counted.c.count, counted.c.newest, counted.c.numbers)
        .join(Job, Job.id == counted.c.job_id)
        .where(or_(counted.c.count != counted.c.newest, counted.c.numbers != 1))
        .limit(MOST_LINES)
    )
    for number, count, newest, numbers in rows.all():
        yield Found(f"job {number} has {count} quotes under {numbers} numbers, the newest revision {newest}")
    yield from _open_twice(session)
    yield from _answers(session)
    of_another = (
        select(Quote.number, Quote.revision, Job.number)
        .join(JobRevision, JobRevision.id == Quote.job_revision_id)
        .join(Job, Job.id == Quote.job_id)
        .where(JobRevision.job_id != Quote.job_id)
        .limit(MOST_LINES)
    )
    for number, revision, job in session.execute(of_another).all():
        yield Found(f"quote {number} revision {revision} of job {job} is of another job's parts")


def _open_twice(session: Session) -> Iterator[Found]:
    newer = aliased(Quote)
    rows = session.execute(
        select(Quote.id, Quote.number, Quote.revision)
        .join(newer, and_(newer.job_id == Quote.job_id, newer.revision > Quote.revision))
        .where(Quote.state == "sent")
        .distinct()
        .limit(MOST_LINES)
    )
    for row, number, revision in rows.all():
        yield Found(
            f"quote {number} revision {revision} is open, and there is a newer one",
            # There is one right answer: a newer revision is what the customer holds.
            put(Quote, row, state="replaced"),
            "the newer one replaces it",
        )


def _answers(session: Session) -> Iterator[Found]:
    answered = Quote.state.in_(("accepted", "declined"))
    rows = session.execute(
        select(Quote.number, Quote.revision, Quote.state, Quote.decided_on, Job.number, Job.state)
        .join(Job, Job.id == Quote.job_id)
        .where(
            or_(
                and_(Quote.decided_on.is_not(None), ~answered),
                Quote.valid_until < Quote.issued_on,
                Quote.decided_on < Quote.issued_on,
                and_(answered, Job.state.in_(STATES_ASKED)),
                Job.state == "asked",
            )
        )
        .limit(MOST_LINES)
    )
    for number, revision, state, day, job, job_state in rows.all():
        when = "" if day is None else f" on {day}"
        yield Found(f"quote {number} revision {revision} is {state}{when}, and job {job} is {job_state}")


def joint_quotes_are_whole(session: Session) -> Iterator[Found]:
    """A joint quote has quotes of two or more jobs, each once, of one customer and in one currency."""
    rows = session.execute(
        select(
            JointQuote.number,
            JointQuote.revision,
            func.count(Quote.id),
            func.count(Quote.job_id.distinct()),
            func.count(Job.customer_id.distinct()),
            func.count(Quote.currency.distinct()),
        )
        .outerjoin(JointQuoteMember, JointQuoteMember.joint_quote_id == JointQuote.id)
        .outerjoin(Quote, Quote.id == JointQuoteMember.quote_id)
        .outerjoin(Job, Job.id == Quote.job_id)
        .group_by(JointQuote.id)
    )
    for number, revision, quotes, jobs, customers, currencies in rows:
        if quotes < 2 or jobs != quotes or customers != 1 or currencies != 1:
            yield Found(
                f"joint quote {number} revision {revision} holds {quotes} quotes of {jobs} jobs, "
                f"{customers} customers, in {currencies} currencies"
            )
