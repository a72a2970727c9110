"""Quoted units and logged minutes of finished jobs, as tables to learn standards from."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

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
from shopquote.services.review.selection import REVIEWED_STATES, Filters, ids_of, selected_jobs
from shopquote.services.shop.shop_on_file import standards_book

if TYPE_CHECKING:
    from shopquote.calc.review.fit import WorkTable


# Newest finished jobs to learn from: older ones say little of how the shop works today.
MOST_JOBS = 1_000
TIMES = "times"
LEARNED_FROM = REVIEWED_STATES
EVERY_JOB = Filters()


@dataclass(frozen=True, slots=True)
class WorkDone:
    """Tables of all operations; `over` names standards that minutes are divided by, `units` their units.

    `order` has the numbers of all jobs in the order done; `new_paces` the operations that are done another
    way since a day (ISO form), as the owner stated.
    """

    tables: tuple["WorkTable", ...]
    over: frozenset[str]
    units: Mapping[str, str]
    jobs: int
    order: tuple[str, ...]
    new_paces: Mapping[str, str]


def jobs_to_learn_from(filters: Filters, most_jobs: int = MOST_JOBS) -> Any:
    """A subquery of ids of the newest finished jobs that pass the filters."""
    picked = select(Job.id).where(Job.id.in_(ids_of(filters)), Job.state.in_(LEARNED_FROM))
    return picked.order_by(Job.id.desc()).limit(most_jobs).subquery()


def work_tables(
    session: Session, *, on: date, most_jobs: int = MOST_JOBS, filters: Filters = EVERY_JOB
) -> WorkDone:
    """Units of every standard and logged minutes of the newest finished jobs, by operation.

    A job is in an operation's table if its quote has the operation and minutes were logged on it.
    """
    newest = jobs_to_learn_from(filters, most_jobs)
    logged = _logged(session, newest)
    counts, over, values = _counts(session, newest)
    named = session.execute(select(Job.id, Job.number).where(Job.id.in_(select(newest.c.id))))
    numbers = {key: number for key, number in named}
    told = _paces_taken(session, on) | {name: day.isoformat() for name, day in filters.new_paces}
    days = _days_done(session, newest) if told else {}
    order = sorted(numbers, key=lambda job: (days.get(job, ""), job))
    units, force, believed = _standing(session, on, values)
    tables = []
    for operation, rows in sorted(counts.items()):
        since = told.get(operation)
        # A job that logged no minutes of the operation says nothing about its pace.
        entries = [
            _Entry(numbers[job], rows[job], logged[job, operation], since is None or days[job] < since)
            for job in order
            if job in rows and (job, operation) in logged
        ]
        if entries:
            table = _table(operation, entries, force, believed, over)
            first = None if since is None else sum(entry.old_pace for entry in entries)
            tables.append(replace(table, new_pace=first))
    every = len({job for job, _ in logged})
    in_order = tuple(numbers[job] for job in order)
    return WorkDone(tuple(tables), frozenset(over), units, every, in_order, told)


def _standing(
    session: Session, on: date, values: Mapping[str, float]
) -> tuple[dict[str, str], dict[str, float], dict[str, float]]:
    """Units of the standards, their values in force, and the values believed before anything was learned."""
    book = standards_book(session, on)
    units = {name: book[name].unit if name in book else TIMES * name.startswith(BY_HAND) for name in values}
    force = {
        name: float(book[name].value) if name in book else 1.0 if name.startswith(BY_HAND) else values[name]
        for name in values
    }
    # Later entries win: values in force, then the guess for work by hand, then values set by people.
    guessed = {name: 1.0 for name in values if name.startswith(BY_HAND)}
    return units, force, {**force, **guessed, **_believed(session, on)}


def _days_done(session: Session, newest: Any) -> dict[int, str]:
    """The day on which each job was done, in ISO form, by job id."""
    every = selected_jobs(EVERY_JOB).subquery()
    rows = session.execute(select(every.c.id, every.c.done_on).where(every.c.id.in_(select(newest.c.id))))
    return {job: day for job, day in rows}


def _paces_taken(session: Session, on: date) -> dict[str, str]:
    """Operations whose standards in force were taken for a new way of working, with the day in ISO form."""
    rows = session.scalars(select(StandardRow).where(StandardRow.since <= on).order_by(StandardRow.since))
    newest = {row.name: row for row in rows}
    told: dict[str, str] = {}
    for row in newest.values():
        for operation, day in ((row.accepted_from or {}).get("new_pace") or {}).items():
            told[operation] = max(told.get(operation, ""), day)
    return told


def _logged(session: Session, newest: Any) -> dict[tuple[int, str], float]:
    query = select(MinuteSum.job_id, MinuteSum.operation, steps(MinuteSum.minutes)).where(
        MinuteSum.job_id.in_(select(newest.c.id)), MinuteSum.kind == "work"
    )
    return {(job, operation): total / 1e6 for job, operation, total in session.execute(query)}


def _counts(
    session: Session, newest: Any
) -> tuple[dict[str, dict[int, dict[str, float]]], set[str], dict[str, float]]:
    """Units of standards by operation and job id, names of standards that divide, and values last quoted."""
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
        # Minutes given by hand count as units of a standard of their own, a factor that is 1 until learned.
        units, value = (total / 1e12, value / 1e6) if standard else (minutes / 1e6, 1.0)
        standard = standard or by_hand(operation)
        row[standard] = row.get(standard, 0.0) + units
        values[standard] = value
        if how == "over":
            over.add(standard)
    return counts, over, values


class _Entry(NamedTuple):
    """One job's work of an operation: units by standard, minutes, and whether before a change of pace."""

    job: str
    units: Mapping[str, float]
    minutes: float
    old_pace: bool


def _table(
    operation: str,
    entries: Sequence[_Entry],
    force: Mapping[str, float],
    believed: Mapping[str, float],
    over: set[str],
) -> "WorkTable":
    import numpy as np

    from shopquote.calc.review.fit import WorkTable

    names = tuple(sorted({name for entry in entries for name in entry.units}))
    counts = np.array([[entry.units.get(name, 0.0) for name in names] for entry in entries])
    now = np.array([minutes_of_one(force[name], name in over) for name in names])
    start = np.array([minutes_of_one(believed[name], name in over) for name in names])
    minutes = np.array([entry.minutes for entry in entries])
    jobs = tuple(entry.job for entry in entries)
    return WorkTable(operation, names, now, counts, minutes, jobs, start)


def _believed(session: Session, on: date) -> dict[str, float]:
    """The newest value of each standard that was not learned from logged jobs."""
    rows = session.scalars(
        select(StandardRow)
        # A value learned from these jobs must not be combined with them again: they would count twice.
        .where(StandardRow.since <= on, StandardRow.accepted_from.is_(None))
        .order_by(StandardRow.since)
    )
    return {row.name: float(row.value) for row in rows}


def minutes_of_one(value: float, over: bool) -> float:
    """Minutes per unit of a standard: its value, or its reciprocal for a speed or rate."""
    if not over:
        return value
    return 1 / value if value else 0.0


def in_tenths(value: float) -> Decimal:
    """A figure of any unit, rounded to one decimal."""
    return Decimal(f"{value:.1f}")
