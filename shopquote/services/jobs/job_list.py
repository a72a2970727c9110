"""Lists of jobs on file. Imports little besides the tables, so that `job list` starts fast."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.reading.kinds import name_key
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote
from shopquote.services.jobs.job_states import STATES_OVER, state_of_job
from shopquote.services.jobs.money_in import money_in


@dataclass(frozen=True)
class JobLine:
    """One job in a list; `price` is the net price of its newest quote, if any.

    `invoiced` is invoices less credits; `invoiced`, `paid` and `overdue` are before tax, in the shop's
    currency.
    """

    job: str
    title: str
    customer: str
    sets: int
    state: str
    due: date | None
    price: Decimal | None
    currency: str | None
    revision: int
    invoiced: Decimal = Decimal(0)
    paid: Decimal = Decimal(0)
    overdue: Decimal = Decimal(0)
    id: int = 0


def list_jobs(
    session: Session,
    *,
    states: Sequence[str] = (),
    customer: str = "",
    find: str = "",
    late_on: date | None = None,
) -> list[JobLine]:
    """Jobs in order of number; of certain states, customers or words, or late ones.

    Args:
        session: reading is enough.
        states: only jobs in one of these states.
        customer: only customers whose name contains this.
        find: only jobs with each of these words in number, title or customer.
        late_on: only jobs that are due before this day and not made yet.

    Raises:
        InputError: a word that is no state.
    """
    query = _chosen_jobs(_LISTED, states, late_on).order_by(_JOBS.id)
    words, name = name_key(find).split(), name_key(customer)
    # Words are compared here, not in SQL: SQLite ignores case for ASCII letters only.
    return [
        line
        for line in map(_line, session.execute(query))
        if all(word in name_key(f"{line.job} {line.title} {line.customer}") for word in words)
        and name in name_key(line.customer)
    ]


def newest_jobs(
    session: Session,
    most: int,
    *,
    states: Sequence[str] = (),
    late_on: date | None = None,
    customer: str | None = None,
) -> tuple[list[JobLine], int]:
    """The newest `most` jobs in order of number, and how many older ones there are.

    The other arguments choose jobs as in `list_jobs`, but `customer` is the exact name.

    Raises:
        InputError: a word that is no state.
    """
    # Ids of the newest first: joining customers and quotes to all jobs takes ten times as long.
    newest = (
        _chosen_jobs(_of_jobs(_JOBS.id, late_on), states, late_on, customer)
        .order_by(_JOBS.id.desc())
        .limit(most)
    )
    query = _LISTED.where(_JOBS.id.in_(newest)).order_by(_JOBS.id)
    lines = [_line(row) for row in session.execute(query)]
    if len(lines) < most:
        return lines, 0
    count = _chosen_jobs(_of_jobs(func.count(_JOBS.id), late_on), states, late_on, customer)
    return lines, (session.scalar(count) or 0) - len(lines)


# Queries name tables, not mapped classes: those make SQLAlchemy configure all mappers, which takes twice as
# long as the list. They select columns: building 10,000 mapped objects takes ten times as long.
_JOBS, _REVISIONS, _CUSTOMERS, _QUOTES = (of.__table__.c for of in (Job, JobRevision, Customer, Quote))
_STANDS_AT = (_REVISIONS.job_id == _JOBS.id) & (_REVISIONS.revision == _JOBS.revision)
_NEWEST_QUOTE = (
    select(func.max(_QUOTES.id)).where(_QUOTES.job_id == _JOBS.id).correlate(Job.__table__).scalar_subquery()
)
_LISTED = select(
    _JOBS.number, _REVISIONS.title, _CUSTOMERS.name, _REVISIONS.sets, _JOBS.state, _REVISIONS.due,
    _QUOTES.net, _QUOTES.currency, _JOBS.revision, _JOBS.id,
).select_from(
    Job.__table__.join(JobRevision.__table__, _STANDS_AT)
    .join(Customer.__table__, _CUSTOMERS.id == _JOBS.customer_id)
    .outerjoin(Quote.__table__, _QUOTES.id == _NEWEST_QUOTE)
)  # fmt: skip


def _of_jobs(what: Any, late_on: date | None) -> Any:
    """A select of jobs; joined to their revisions only for `late_on`, as only the due day stands there."""
    query = select(what).select_from(Job.__table__)
    return query if late_on is None else query.join(JobRevision.__table__, _STANDS_AT)


def _chosen_jobs(  # of a select of any columns
    query: Any, states: Sequence[str], late_on: date | None, customer: str | None = None
) -> Any:
    if states:
        query = query.where(_JOBS.state.in_([state_of_job(state) for state in states]))
    if late_on is not None:
        query = query.where(_REVISIONS.due < late_on, _JOBS.state.not_in(STATES_OVER))
    if customer is not None:
        query = query.where(_JOBS.customer_id.in_(select(_CUSTOMERS.id).where(_CUSTOMERS.name == customer)))
    return query


def with_money(session: Session, lines: Sequence[JobLine], today: date) -> list[JobLine]:
    """The lines with money invoiced and paid, and what is overdue on `today`."""
    # An IN list of thousands of ids would take longer than adding up all jobs.
    few = select(_JOBS.id).where(_JOBS.id.in_([line.id for line in lines])) if len(lines) <= 200 else None
    held = money_in(session, few, today=today)

    def line_of(line: JobLine) -> JobLine:
        if (sums := held.get(line.id)) is None:
            return line
        invoiced, paid, overdue = (
            Decimal(one).scaleb(-4) for one in (sums.invoiced, sums.paid, sums.overdue)
        )
        return replace(line, invoiced=invoiced, paid=paid, overdue=overdue)

    return [line_of(line) for line in lines]


def _line(row: Any) -> JobLine:  # a row of `_LISTED`
    number, title, customer, sets, state, due, net, currency, revision, key = row
    price = None if net is None else round_money(net, currency)
    return JobLine(number, title, customer, sets, state, due, price, currency, revision, id=key)
