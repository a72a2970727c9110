"""What is left to do for the open jobs, and when the people on file can do it.

Minutes left are those of the job's quote less those logged, operation by operation. Rework does not count as
work done. Begin at `look_ahead`; `lead_time_worked_out` is for a new quote.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.load import OpenWork, Person, Placed, ShopLoad, Week, load_shop
from shopquote.calc.pricing.priced_quote import MinutesLine
from shopquote.errors import InputError
from shopquote.reading.kinds import number as number_kind
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.logs import MinuteSum
from shopquote.records.orders import ON_ORDER, Order, OrderJob
from shopquote.records.people import Supplier
from shopquote.records.quotes import QuoteOperation
from shopquote.services.jobs.job_states import STATES_ASKED, STATES_TO_MAKE
from shopquote.services.jobs.jobs import find_job
from shopquote.services.quotes.counted import quote_of_job
from shopquote.services.shop.people_lists import days_off_on_file, even_week, people_on_file

# Who is assumed to work if nobody is on file: common practice, no source.
ASSUMED = Person("one person", even_week(Decimal(40), 5))
ASSUMED_NOTE = "Nobody is on file: one person of 40 hours a week is assumed (shopquote people set)."
# Defaults of `shopquote load`: a day's job, and about two months of weeks ahead.
USUAL_HOURS = Decimal(8)
USUAL_WEEKS = 8
HOURS_OF_WORK = number_kind(above=True, most=100_000)  # kind of a typed number of hours
_BEHIND_ALL = 10**12  # jobs are done in order of id; no id is as high


@dataclass(frozen=True, slots=True)
class JobAhead:
    """An open job with its title, placed on the people's days."""

    title: str
    placed: Placed


@dataclass(frozen=True, slots=True)
class LookAhead:
    """The weeks and jobs ahead, and the first day that could be promised for what was asked about.

    `asked` names that; `first_day` is None if nobody can do some of it. `notes` tell assumptions and
    omissions.
    """

    load: ShopLoad
    jobs: tuple[JobAhead, ...]
    asked: str
    first_day: date | None
    notes: tuple[str, ...]


def look_ahead(
    session: Session,
    *,
    on: date,
    weeks: int = USUAL_WEEKS,
    job_number: str | None = None,
    hours: Decimal = USUAL_HOURS,
    with_quoted: bool = False,
) -> LookAhead:
    """Place all open jobs on the people's hours, and after them a given job, or a new one of `hours`.

    Args:
        session: open; nothing is written.
        on: the day from which people work.
        weeks: least number of weeks to return.
        job_number: the job to promise a day for; a job that is already won keeps its place.
        hours: hours, of any operation, of the new job if no job is named.
        with_quoted: treat sent quotes as if they were won.

    Raises:
        NotFoundError: no such job.
        InputError: the job named has no quote, or is done.
    """
    works, titles, unknown = _open_work(
        session, (*STATES_TO_MAKE, "quoted") if with_quoted else STATES_TO_MAKE
    )
    people, notes = _people(session)
    off = days_off_on_file(session)
    load = load_shop(people, off, works, on=on, weeks=weeks)
    if job_number is None:
        asked = OpenWork(f"a new job of {hours.normalize():f} hours", {"": hours * 60})
    else:
        asked = _work_of(session, job_number)
    placed = next((one for one in load.jobs if one.work.job == asked.job), None)
    if placed is None:
        # Behind all open work: what was not ordered yet can only take the hours that are left.
        last = replace(asked, due=None, came=_BEHIND_ALL)
        placed = load_shop(people, off, [*works, last], on=on).jobs[-1]
        notes += _nobody([placed])
    return LookAhead(
        load,
        tuple(JobAhead(titles[one.work.job], one) for one in load.jobs),
        asked.job,
        placed.done,
        (*notes, *_nobody(load.jobs), *(f"{number} is not counted: it has no quote." for number in unknown)),
    )


def weeks_ahead(session: Session, *, on: date, weeks: int) -> tuple[Week, ...]:
    """The next weeks of the people on file with the open jobs placed; empty if nobody is on file."""
    people = people_on_file(session)
    if not people:
        return ()
    works, _, _ = _open_work(session, STATES_TO_MAKE)
    return load_shop(people, days_off_on_file(session), works, on=on, weeks=weeks).weeks[:weeks]


def days_to_make(
    session: Session,
    minutes: Mapping[str, Decimal],
    suppliers: Iterable[Supplier],
    on: date,
    ahead: Sequence[Mapping[str, Decimal]] = (),
) -> tuple[int | None, tuple[str, ...]]:
    """Days from an order on day `on` until a new job is done after all open ones, and notes on assumptions.

    None if nobody can do some of it. `minutes` are by operation; `ahead` are jobs ordered with it and made
    before it. Its bars, and theirs, are taken to arrive after the longest lead time of the suppliers.
    """
    works, _, unknown = _open_work(session, STATES_TO_MAKE)
    people, notes = _people(session)
    ready = on + timedelta(max((supplier.lead_days for supplier in suppliers), default=0))
    new = [
        OpenWork("this job", left, None, _BEHIND_ALL + place, ready)
        for place, left in enumerate((*ahead, minutes))
    ]
    placed = load_shop(people, days_off_on_file(session), [*works, *new], on=on).jobs[-1]
    notes += (*_nobody([placed]), *(f"{number} is not counted: it has no quote." for number in unknown))
    return None if placed.done is None else (placed.done - on).days, notes


def lead_time_worked_out(
    session: Session,
    minutes: Iterable[MinutesLine],
    suppliers: Iterable[Supplier],
    locale: str,
    on: date,
    ahead: Sequence[Iterable[MinutesLine]] = (),
) -> tuple[str, tuple[str, ...]]:
    """A quote's lead time in words, in whole weeks (empty if unknown), and notes for the shop."""
    from babel.units import format_unit

    before = [_by_operation(lines) for lines in ahead]
    days, notes = days_to_make(session, _by_operation(minutes), suppliers, on, before)
    if days is None:
        return "", ("No lead time stands on the quote: it cannot be worked out.", *notes)
    # Rounded up: a lead time promised to a customer must not be shorter than the days worked out.
    weeks = max(1, -(-days // 7))
    after = " behind the jobs before it on the quote" if ahead else ""
    told = (
        f"Lead time worked out: done on {on + timedelta(days)} if ordered today{after}; "
        "work outside not counted."
    )
    return format_unit(weeks, "duration-week", locale=locale.replace("-", "_")), (told, *notes)


def _by_operation(minutes: Iterable[MinutesLine]) -> dict[str, Decimal]:
    sums: dict[str, Decimal] = {}
    for line in minutes:
        sums[line.operation] = sums.get(line.operation, Decimal(0)) + line.minutes
    return sums


def _people(session: Session) -> tuple[tuple[Person, ...], tuple[str, ...]]:
    """Who works, and a note if that is assumed."""
    people = people_on_file(session)
    return (people, ()) if people else ((ASSUMED,), (ASSUMED_NOTE,))


def _nobody(jobs: Sequence[Placed]) -> tuple[str, ...]:
    return tuple(
        f"Nobody on file has hours for {minutes / 60:.1f} h of {operation or 'work'} of {one.work.job}."
        for one in jobs
        for operation, minutes in one.left_over.items()
    )


def _work_of(session: Session, job_number: str) -> OpenWork:
    """What is left to do for one job.

    Raises:
        InputError: it has no quote, or its work is done.
    """
    job = find_job(session, job_number)
    works, _, unknown = _open_work(session, (*STATES_TO_MAKE, *STATES_ASKED), job.id)
    if unknown:
        raise InputError(
            f"Job {job.number} has no quote, so nothing says how long it takes.",
            hint=f"Quote it: shopquote quote {job.number}",
        )
    if not works:
        raise InputError(f"Job {job.number} is {job.state}; nothing is left to do on it.")
    return works[0]


def _open_work(
    session: Session, states: Sequence[str], job_id: int | None = None
) -> tuple[list[OpenWork], dict[str, str], list[str]]:
    """Work left for each job in these states, titles by job number, and numbers of jobs without a quote."""
    query = (
        select(Job.id, Job.number, JobRevision.title, JobRevision.due, quote_of_job())
        .join(JobRevision, (JobRevision.job_id == Job.id) & (JobRevision.revision == Job.revision))
        .where(Job.state.in_(states))
        .order_by(Job.id)
    )
    rows = session.execute(query if job_id is None else query.where(Job.id == job_id)).all()
    # Minutes of all jobs are fetched with three queries, not three for each job.
    quotes = {row[0]: row[4] for row in rows if row[4] is not None}
    quoted = _sums(session, QuoteOperation.quote_id, QuoteOperation.minutes, list(quotes.values()))
    done = _sums(session, MinuteSum.job_id, MinuteSum.minutes, list(quotes), MinuteSum.kind == "work")
    bars = _bars_due(session, list(quotes))
    of_quote: dict[int, dict[str, Decimal]] = {}
    for (quote, operation), minutes in quoted.items():
        of_quote.setdefault(quote, {})[operation] = minutes
    works = []
    for key, number, _, due, quote in rows:
        if quote is None:
            continue
        left = {
            operation: minutes - done.get((key, operation), Decimal(0))
            for operation, minutes in of_quote.get(quote, {}).items()
        }
        works.append(OpenWork(number, left, due, key, bars.get(key)))
    titles = {number: title for _, number, title, _, _ in rows}
    return works, titles, [number for key, number, _, _, _ in rows if key not in quotes]


def _sums(
    session: Session, owner: Any, minutes: Any, ids: Sequence[int], *more: Any
) -> dict[tuple[int, str], Decimal]:
    """Minutes by (owner's id, operation)."""
    operation = owner.class_.operation
    query = select(owner, operation, func.sum(minutes)).where(owner.in_(ids), *more)
    rows = session.execute(query.group_by(owner, operation))
    return {(of, name): Decimal(total) for of, name, total in rows}


def _bars_due(session: Session, jobs: Sequence[int]) -> dict[int, date]:
    """By job id, the day on which the last bars on order for it are due."""
    query = (
        select(OrderJob.job_id, func.max(Order.due_on))
        .join(Order, Order.id == OrderJob.order_id)
        .where(OrderJob.job_id.in_(jobs), Order.state.in_(ON_ORDER))
        .group_by(OrderJob.job_id)
    )
    return {job: due for job, due in session.execute(query) if due is not None}
