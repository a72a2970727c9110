"""Log minutes of an operation, typed or by a timer."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.job import OPERATIONS
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.review.variance import labour_cost
from shopquote.errors import InputError, Misread, NotFoundError
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.records.jobs import Job
from shopquote.records.logs import MinuteSum, TimeEntry
from shopquote.records.quotes import Quote, QuoteOperation
from shopquote.records.standards import StandardRow
from shopquote.services.floor.log import Logged, check_rework, open_for_log, person_on_file, plain_number
from shopquote.services.jobs.jobs import find_job
from shopquote.services.quotes.counted import quote_of_job
from shopquote.services.shop.shop_on_file import refuse_ahead, shop_currency

# Most in one entry without a name, which may be of several people or of weeks.
MOST_MINUTES = Decimal(100_000)
DAY_MINUTES = Decimal(24 * 60)
# Minutes: a timer that ran longer was forgotten; the person then says how long it really was.
LONGEST_TIMER_MINUTES = Decimal(16 * 60)
OPERATION = kinds.word(OPERATIONS)
# Rounding of minutes, the same as in estimates, so that the two can be compared.
MINUTE_STEP = Decimal("0.01")
# An entry is doubted from so many times the quote's minutes of its operation, if it is more than an hour.
FAR_OFF = 10
LEAST_TO_ASK = Decimal(60)


def log_minutes(
    session: Session,
    number: str,
    operation: str,
    minutes: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    person: str = "",
    rework: bool = False,
    reason: str = "",
    source: str | None = None,
    sure: bool = False,
) -> Logged:
    """Log minutes of one operation on one day, at the shop's rate of that day.

    Args:
        session: an open writing session.
        number: the job.
        operation: as typed.
        minutes: more than 0.
        on: day of the work.
        today: last day that `on` may be.
        at: the present moment.
        person: who worked; may be empty.
        rework: something was made again; needs a reason.
        reason: why.
        source: where the entry comes from, by which it is found again; None: typed.
        sure: accept far more minutes than the quote plans.

    Raises:
        NotFoundError: no such job.
        InputError: unknown operation, minutes out of range, a day in the future, rework without a reason, a
            job that cannot be logged on, or ten times the plan without `sure`.
    """
    job, note = open_for_log(session, number, at)
    operation = known_operation(operation)
    _check_minutes(minutes, person)
    if not sure:
        _ask_if_far_off(session, job, operation, minutes)
    refuse_ahead(on, today)
    check_rework(rework, reason)
    entry = TimeEntry(
        job_id=job.id, operation=operation, minutes=minutes.quantize(MINUTE_STEP), worked_on=on,
        person=person_on_file(session, person), kind="rework" if rework else "work",
        reason=reason.strip(), source=source,
    )  # fmt: skip
    _price_minutes(session, entry)
    session.add(entry)
    add_to_sum(session, entry)
    session.flush()
    return Logged(
        job.number, f"{operation}, {plain_number(entry.minutes)} min", entry.cost, entry.minutes, note
    )


def start_timer(
    session: Session, number: str | Job, operation: str, *, person: str, at: datetime, on: date
) -> Logged:
    """Start a person's timer; a person has at most one.

    Raises:
        NotFoundError: no such job.
        InputError: unknown operation, a timer of this person runs already, or a job that cannot be logged on.
    """
    job, note = open_for_log(session, number, at)
    running = running_timers(session, person=person)
    if running:
        entry = running[0]
        raise InputError(
            f"A timer{_of(person)} already runs on {entry.job.number}, {entry.operation}, "
            f"since {_clock(entry.started_at)}.",
            hint=f"Stop it first: shopquote log {entry.job.number} --stop" + _person_words(person),
        )
    entry = TimeEntry(
        job=job, operation=known_operation(operation), minutes=Decimal(0), worked_on=on,
        person=person_on_file(session, person), started_at=at,
    )  # fmt: skip
    session.add(entry)
    session.flush()
    return Logged(job.number, f"{entry.operation}, timer started", Decimal(0), Decimal(0), note)


def stop_timer(
    session: Session,
    number: str | Job,
    *,
    person: str,
    at: datetime,
    minutes: Decimal | None = None,
    rework: bool = False,
    reason: str = "",
    source: str | None = None,
) -> Logged:
    """Stop a person's timer and log its minutes; `minutes` replaces the time counted, if it ran on by
    mistake.

    `source` is where the stop comes from, by which its minutes are found again.

    Raises:
        NotFoundError: no timer of this person runs on this job.
        InputError: it ran for more than 16 hours, or the clock was set back, and no minutes are given.
    """
    job = find_job(session, number)
    running = running_timers(session, job=job, person=person)
    if not running:
        raise NotFoundError(
            f"No timer{_of(person)} runs on {job.number}.",
            hint=f"Start one: shopquote log {job.number} --operation NAME --start" + _person_words(person),
        )
    entry = running[0]
    assert entry.started_at is not None
    check_rework(rework, reason)
    counted = Decimal(int((at - entry.started_at).total_seconds())) / 60
    if minutes is None and counted < -1:
        raise InputError(
            f"The timer was started at {_clock(entry.started_at)}, and the clock says {_clock(at)}: it was "
            "set back meanwhile.",
            hint=f"Say what it really was: shopquote log {job.number} --stop --minutes M"
            + _person_words(person),
        )
    # Nobody works so long without a break: the timer was forgotten, and its time would spoil learned
    # standards.
    if minutes is None and counted > LONGEST_TIMER_MINUTES:
        raise InputError(
            f"The timer ran since {_clock(entry.started_at)}, more than 16 hours.",
            hint=f"Say what it really was: shopquote log {job.number} --stop --minutes M"
            + _person_words(person),
        )
    # A timer stopped at once still makes an entry, so that a start by mistake shows and can be taken back.
    spent = minutes if minutes is not None else max(counted, MINUTE_STEP)
    _check_minutes(spent, person)
    entry.minutes = spent.quantize(MINUTE_STEP)
    entry.ended_at = max(at, entry.started_at)
    entry.kind, entry.reason = ("rework", reason.strip()) if rework else ("work", "")
    entry.source = source or entry.source
    # One flush at the end instead of one before each query: people stand and wait for the answer.
    with session.no_autoflush:
        _price_minutes(session, entry)
        add_to_sum(session, entry)
    session.flush()
    return Logged(
        entry.job.number, f"{entry.operation}, {plain_number(entry.minutes)} min", entry.cost, entry.minutes
    )


def running_timers(
    session: Session, *, job: Job | None = None, person: str | None = None
) -> Sequence[TimeEntry]:
    """Timers that run now, of one job, one person, or all."""
    query = select(TimeEntry).where(TimeEntry.started_at.is_not(None), TimeEntry.ended_at.is_(None))
    if job is not None:
        query = query.where(TimeEntry.job_id == job.id)
    if person is not None:
        query = query.where(TimeEntry.person == person_on_file(session, person))
    return session.scalars(query.order_by(TimeEntry.id)).all()


def known_operation(word: str) -> str:
    """The operation that a typed word names.

    Raises:
        InputError: not an operation; the message names the nearest.
    """
    try:
        return OPERATION.read(word, Notation())
    except Misread as error:
        hint = f"Did you mean {error.nearest!r}?" if error.nearest else None
        raise InputError(f"Operation is {word!r}; expected {error.expected}.", hint=hint) from error


def rate_on(session: Session, operation: str, day: date) -> Decimal:
    """The shop's rate per hour of an operation on a day, in its currency."""
    name = f"rate.{operation}"
    held = session.scalar(
        select(StandardRow.value)
        .where(StandardRow.name == name, StandardRow.since <= day)
        .order_by(StandardRow.since.desc())
        .limit(1)
    )
    # A rate that the shop never set has its starting value, as in quotes.
    return held if held is not None else starting_book().value(name)


def correct_minutes(session: Session, entry: TimeEntry, minutes: Decimal, *, at: datetime) -> None:
    """Set an entry's minutes, its cost at the rate of its own day, and its job's sums.

    Raises:
        InputError: minutes out of range, or the job takes no entries any more.
    """
    open_for_log(session, entry.job.number, at)
    _check_minutes(minutes, entry.person)
    # Take the old minutes off first: the sum is kept up to date, never added up again from all entries.
    add_to_sum(session, entry, sign=-1)
    entry.minutes = minutes.quantize(MINUTE_STEP)
    _price_minutes(session, entry)
    add_to_sum(session, entry)
    session.flush()


def _price_minutes(session: Session, entry: TimeEntry) -> None:
    entry.rate = rate_on(session, entry.operation, entry.worked_on)
    entry.cost = labour_cost(entry.minutes, entry.rate, shop_currency(session))


def add_to_sum(session: Session, entry: TimeEntry, sign: int = 1) -> None:
    """Add an entry's minutes and cost to its job's `MinuteSum`, or with `sign` -1 subtract them.

    A sum that falls to no minutes is deleted. An entry that was never added, such as a running timer, is in
    none.
    """
    held = session.scalars(
        select(MinuteSum).where(
            MinuteSum.job_id == entry.job_id,
            MinuteSum.operation == entry.operation,
            MinuteSum.kind == entry.kind,
        )
    ).one_or_none()
    if held is None:
        if sign < 0:
            return
        held = MinuteSum(
            job_id=entry.job_id,
            operation=entry.operation,
            kind=entry.kind,
            minutes=Decimal(0),
            cost=Decimal(0),
        )
        session.add(held)
    held.minutes += sign * entry.minutes
    held.cost += sign * entry.cost
    if sign < 0 and not held.minutes:
        session.delete(held)


def _check_minutes(minutes: Decimal, person: str) -> None:
    # One person has 24 hours a day; without a name the entry may be of several people, or of weeks.
    most = DAY_MINUTES if person.strip() else MOST_MINUTES
    if not 0 < minutes <= most:
        limit = "24 hours of one person" if person.strip() else f"{MOST_MINUTES}"
        raise InputError(f"Minutes are {minutes}; expected more than 0 and at most {limit}.")
    if minutes.quantize(MINUTE_STEP) == 0:
        raise InputError(f"Minutes are {minutes}; the smallest that is kept is {MINUTE_STEP}.")


def _ask_if_far_off(session: Session, job: Job, operation: str, minutes: Decimal) -> None:
    """Refuse an entry of far more minutes than the quote plans for the operation: likely a typing error.

    If the quote plans none, more than 24 hours are refused.
    """
    planned = session.scalar(
        select(QuoteOperation.minutes)
        .join(Quote, Quote.id == QuoteOperation.quote_id)
        .where(Quote.id == select(quote_of_job()).where(Job.id == job.id).scalar_subquery())
        .where(QuoteOperation.operation == operation)
    )
    if not planned and minutes > DAY_MINUTES:
        raise InputError(
            f"{plain_number(minutes)} min of {operation} in one entry; no quote plans any for {job.number}.",
            hint="If it really took so long, say so: --sure",
        )
    if planned and minutes >= FAR_OFF * planned and minutes > LEAST_TO_ASK:
        raise InputError(
            f"{plain_number(minutes)} min of {operation} in one entry; the quote plans "
            f"{planned.quantize(MINUTE_STEP).normalize():f} min for all of {job.number}.",
            hint="If it really took so long, say so: --sure",
        )


def _clock(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment.astimezone():%Y-%m-%d %H:%M}"


def _of(person: str) -> str:
    return f" of {person.strip()}" if person.strip() else ""


def _person_words(person: str) -> str:
    return f" --person {person.strip()!r}" if person.strip() else ""
