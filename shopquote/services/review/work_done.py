"""What finished jobs were quoted by and what was logged on them, in tables to learn from."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Float, cast, func, select, type_coerce
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.standards import BY_HAND, by_hand
from shopquote.records.jobs import Job
from shopquote.records.logs import MinuteSum
from shopquote.records.quotes import QuoteMinutes
from shopquote.records.standards import StandardRow
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import steps
from shopquote.services.review.selection import REVIEWED_STATES, Filters, ids_of
from shopquote.services.shop.shop_on_file import standards_book

if TYPE_CHECKING:
    from shopquote.calc.review.fit import WorkTable


# The newest finished jobs say most of how the shop works today.
MOST_JOBS = 1_000
TIMES = "times"
LEARNED_FROM = REVIEWED_STATES
EVERY_JOB = Filters()


@dataclass(frozen=True, slots=True)
class WorkDone:
    """Tables of all operations; `over` names standards that minutes are divided by."""

    tables: tuple["WorkTable", ...]
    over: frozenset[str]
    units: Mapping[str, str]
    jobs: int


def jobs_to_learn_from(filters: Filters, most_jobs: int = MOST_JOBS) -> Any:
    """Ids of the newest finished jobs among those that the filters pick."""
    picked = select(Job.id).where(Job.id.in_(ids_of(filters)), Job.state.in_(LEARNED_FROM))
    return picked.order_by(Job.id.desc()).limit(most_jobs).subquery()


def work_tables(
    session: Session, *, on: date, most_jobs: int = MOST_JOBS, filters: Filters = EVERY_JOB
) -> WorkDone:
    """Counts of every standard and logged minutes of the newest finished jobs, by operation.

    A job counts for an operation when its quote has it and minutes were logged on it.
    """
    newest = jobs_to_learn_from(filters, most_jobs)
    logged = _logged(session, newest)
    counts, over, values = _counts(session, newest)
    named = session.execute(select(Job.id, Job.number).where(Job.id.in_(select(newest.c.id))))
    numbers = {key: number for key, number in named}
    book = standards_book(session, on)
    units = {name: book[name].unit if name in book else TIMES * name.startswith(BY_HAND) for name in values}
    force = {
        name: float(book[name].value) if name in book else 1.0 if name.startswith(BY_HAND) else values[name]
        for name in values
    }
    # Later entries win: what was believed before any log, then the guess for work by hand.
    guessed = {name: 1.0 for name in values if name.startswith(BY_HAND)}
    believed = {**force, **guessed, **_believed(session, on)}
    tables = [
        _table(operation, rows, logged, numbers, force, believed, over)
        for operation, rows in sorted(counts.items())
    ]
    jobs = len({job for job, _ in logged})
    return WorkDone(tuple(table for table in tables if len(table.jobs)), frozenset(over), units, jobs)


def _logged(session: Session, newest: Any) -> dict[tuple[int, str], float]:
    query = select(MinuteSum.job_id, MinuteSum.operation, steps(MinuteSum.minutes)).where(
        MinuteSum.job_id.in_(select(newest.c.id)), MinuteSum.kind == "work"
    )
    return {(job, operation): total / 1e6 for job, operation, total in session.execute(query)}


def _counts(
    session: Session, newest: Any
) -> tuple[dict[str, dict[int, dict[str, float]]], set[str], dict[str, float]]:
    """Units of each standard by operation and job, the standards that divide, and values last quoted."""
    chosen = chosen_quotes()
    quantity = cast(type_coerce(QuoteMinutes.quantity, BigInteger), Float)
    factor = cast(type_coerce(QuoteMinutes.factor, BigInteger), Float)
    query = (
        select(
            chosen.c.job_id, QuoteMinutes.operation, QuoteMinutes.standard, QuoteMinutes.how,
            func.sum(quantity * factor), steps(func.max(QuoteMinutes.value)),
            steps(func.sum(QuoteMinutes.minutes)),
        )
        .join(chosen, chosen.c.quote_id == QuoteMinutes.quote_id)
        .where(chosen.c.job_id.in_(select(newest.c.id)))
        .group_by(chosen.c.job_id, QuoteMinutes.operation, QuoteMinutes.standard, QuoteMinutes.how)
    )  # fmt: skip
    counts: dict[str, dict[int, dict[str, float]]] = {}
    over: set[str] = set()
    values: dict[str, float] = {}
    for job, operation, standard, how, total, value, minutes in session.execute(query):
        row = counts.setdefault(operation, {}).setdefault(job, {})
        # Minutes given by hand are their own standard, of one minute a minute until one is on file.
        units, value = (total / 1e12, value / 1e6) if standard else (minutes / 1e6, 1.0)
        standard = standard or by_hand(operation)
        row[standard] = row.get(standard, 0.0) + units
        values[standard] = value
        if how == "over":
            over.add(standard)
    return counts, over, values


def _table(
    operation: str,
    rows: Mapping[int, Mapping[str, float]],
    logged: Mapping[tuple[int, str], float],
    numbers: Mapping[int, str],
    force: Mapping[str, float],
    believed: Mapping[str, float],
    over: set[str],
) -> "WorkTable":
    import numpy as np

    from shopquote.calc.review.fit import WorkTable

    # An operation that was quoted and not logged says nothing of how long it takes.
    jobs = sorted(job for job in rows if (job, operation) in logged)
    names = tuple(sorted({name for job in jobs for name in rows[job]}))
    counts = np.array([[rows[job].get(name, 0.0) for name in names] for job in jobs]).reshape(
        len(jobs), len(names)
    )
    now = np.array([minutes_of_one(force[name], name in over) for name in names])
    start = np.array([minutes_of_one(believed[name], name in over) for name in names])
    minutes = np.array([logged[job, operation] for job in jobs])
    return WorkTable(operation, names, now, counts, minutes, tuple(numbers[job] for job in jobs), start)


def _believed(session: Session, on: date) -> dict[str, float]:
    """The newest value of each standard that was not itself learned from logged jobs."""
    rows = session.scalars(
        select(StandardRow)
        # What was learned from these jobs must not be believed beside them: it would count twice.
        .where(StandardRow.since <= on, StandardRow.accepted_from.is_(None))
        .order_by(StandardRow.since)
    )
    return {row.name: float(row.value) for row in rows}


def minutes_of_one(value: float, over: bool) -> float:
    """Minutes a unit of a standard: its value, or one over it for a speed or rate."""
    if not over:
        return value
    return 1 / value if value else 0.0


def in_tenths(value: float) -> Decimal:
    """A figure of any unit to one decimal, as it is shown."""
    return Decimal(f"{value:.1f}")
