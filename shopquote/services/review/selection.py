"""Which jobs a review covers, and the day on which each was done."""

from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, String, Subquery, and_, cast, func, select, type_coerce

from shopquote.calc.frozen import dataclass
from shopquote.records.closings import Closing
from shopquote.records.jobs import Job, StateChange
from shopquote.records.people import Customer

REVIEWED_STATES = ("finished", "closed")


@dataclass(frozen=True, slots=True)
class Filters:
    """Which jobs to review: by number, day done (both ends included), state and customer.

    `new_paces` are (operation, day) that the owner says are done another way since; they exclude no job.
    """

    jobs: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    states: tuple[str, ...] = REVIEWED_STATES
    customer: str | None = None
    new_paces: tuple[tuple[str, date], ...] = ()


def open_closings() -> Subquery:
    """The closing in force of each closed job."""
    return select(Closing).where(Closing.reopened_on.is_(None)).subquery("standing")


def done_on(standing: Subquery) -> ColumnElement[str]:
    """The day a job was done, in ISO form: closed, else finished, else created."""
    finished = (
        select(func.max(type_coerce(StateChange.at, String)))
        .where(StateChange.job_id == Job.id, StateChange.to_state == "finished")
        .correlate(Job)
        .scalar_subquery()
    )
    closed = cast(standing.c.closed_on, String)
    return func.coalesce(closed, func.substr(finished, 1, 10), cast(Job.created_on, String))


def selected_jobs(filters: Filters) -> Any:
    """A select of ids and days done of the jobs that pass the filters."""
    standing = open_closings()
    day = done_on(standing)
    query: Any = select(Job.id, day.label("done_on")).outerjoin(
        standing, and_(standing.c.job_id == Job.id, Job.state == "closed")
    )
    if filters.jobs:
        query = query.where(Job.number.in_(filters.jobs))
    else:
        query = query.where(Job.state.in_(filters.states))
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(Customer.name == filters.customer)
    if filters.since is not None:
        query = query.where(day >= filters.since.isoformat())
    if filters.until is not None:
        query = query.where(day <= filters.until.isoformat())
    return query


def ids_of(filters: Filters, *, but_closed: bool = False) -> Any:
    """A select of ids of these jobs; days done are worked out only if a filter needs them.

    `but_closed` leaves out jobs whose figures are fixed by a closing.
    """
    query = _picked_ids(filters)
    if not but_closed:
        return query
    standing = open_closings()
    closed = select(standing.c.job_id).join(Job, and_(Job.id == standing.c.job_id, Job.state == "closed"))
    return query.where(Job.id.not_in(closed))


def _picked_ids(filters: Filters) -> Any:
    if filters.since is not None or filters.until is not None or filters.customer is not None:
        return select(Job.id).where(Job.id.in_(select(selected_jobs(filters).subquery().c.id)))
    query: Any = select(Job.id)
    if filters.jobs:
        return query.where(Job.number.in_(filters.jobs))
    return query.where(Job.state.in_(filters.states))
