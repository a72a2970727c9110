"""What really went into a job: minutes, bars, bought items, bills, scrap, invoices.

Every function takes an open writing session and the job's number; the caller
commits. Costs are rounded to the currency when they are logged, at the rate or
price of that day, so that every later sum adds up to the cent.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.job import OPERATIONS
from shopquote.calc.money import round_money
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.review.variance import labour_cost
from shopquote.calc.units import Length, Measure, Unit, show_length
from shopquote.errors import InputError, Misread, NotFoundError, nearest_word
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.records.jobs import Job, JobRevision, PartRow
from shopquote.records.logs import (
    BarUse,
    BoughtUse,
    Invoice,
    MinuteSum,
    OutsideBill,
    ScrapNote,
    TimeEntry,
)
from shopquote.records.rack import RackPiece
from shopquote.records.shop import Shop
from shopquote.records.standards import StandardRow
from shopquote.services.buying.offers import listed_bars
from shopquote.services.jobs.jobs import find_job, move_job
from shopquote.services.rack.rack import add_pieces, use_bar
from shopquote.services.shop.on_file import grade_on_file, shop_notation

MOST_MINUTES = Decimal(100_000)
DAY_MINUTES = Decimal(24 * 60)
LONGEST_TIMER_MINUTES = Decimal(16 * 60)
MOST_COUNT = 100_000
OPERATION = kinds.word(OPERATIONS)
MINUTE_STEP = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Logged:
    """One thing that was logged: what a person reads back, and what it cost."""

    job: str
    what: str
    cost: Decimal
    minutes: Decimal = Decimal(0)
    note: str = ""


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
) -> Logged:
    """Minutes of one operation on one day, at the shop's rate of that day.

    Raises:
        NotFoundError: no such job.
        InputError: unknown operation, minutes out of range, a day to come, rework
            without a reason, or a job that cannot be logged on.
    """
    job, note = open_for_log(session, number, at)
    operation = known_operation(operation)
    _check_minutes(minutes, person)
    _check_day(on, today)
    _check_rework(rework, reason)
    entry = TimeEntry(
        job_id=job.id, operation=operation, minutes=minutes.quantize(MINUTE_STEP), worked_on=on,
        person=person.strip(), kind="rework" if rework else "work", reason=reason.strip(), source=source,
    )  # fmt: skip
    _price_minutes(session, entry)
    session.add(entry)
    _add_to_sum(session, entry)
    session.flush()
    return Logged(job.number, f"{operation}, {_plain(entry.minutes)} min", entry.cost, entry.minutes, note)


def start_timer(
    session: Session, number: str, operation: str, *, person: str, at: datetime, on: date
) -> Logged:
    """Begin to count a person's minutes; one timer a person.

    Raises:
        NotFoundError: no such job.
        InputError: unknown operation, a timer of this person already runs, or a job that cannot be logged on.
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
        job_id=job.id, operation=known_operation(operation), minutes=Decimal(0), worked_on=on,
        person=person.strip(), started_at=at,
    )  # fmt: skip
    session.add(entry)
    session.flush()
    return Logged(job.number, f"{entry.operation}, timer started", Decimal(0), Decimal(0), note)


def stop_timer(
    session: Session,
    number: str,
    *,
    person: str,
    at: datetime,
    minutes: Decimal | None = None,
    rework: bool = False,
    reason: str = "",
) -> Logged:
    """End a person's timer; `minutes` replaces the time counted when it ran on by mistake.

    Raises:
        NotFoundError: no timer of this person runs on this job.
        InputError: it ran for more than 16 hours and no minutes are given.
    """
    job = find_job(session, number)
    running = running_timers(session, job=job, person=person)
    if not running:
        raise NotFoundError(
            f"No timer{_of(person)} runs on {number}.",
            hint=f"Start one: shopquote log {number} --operation NAME --start" + _person_words(person),
        )
    entry = running[0]
    assert entry.started_at is not None
    _check_rework(rework, reason)
    counted = Decimal(int((at - entry.started_at).total_seconds())) / 60
    if minutes is None and counted > LONGEST_TIMER_MINUTES:
        raise InputError(
            f"The timer ran since {_clock(entry.started_at)}, more than 16 hours.",
            hint=f"Say what it really was: shopquote log {number} --stop --minutes M" + _person_words(person),
        )
    spent = minutes if minutes is not None else max(counted, MINUTE_STEP)
    _check_minutes(spent, person)
    entry.minutes = spent.quantize(MINUTE_STEP)
    entry.ended_at = at
    entry.kind, entry.reason = ("rework", reason.strip()) if rework else ("work", "")
    _price_minutes(session, entry)
    _add_to_sum(session, entry)
    session.flush()
    return Logged(job.number, f"{entry.operation}, {_plain(entry.minutes)} min", entry.cost, entry.minutes)


def running_timers(
    session: Session, *, job: Job | None = None, person: str | None = None
) -> Sequence[TimeEntry]:
    """Timers that run now, of one job or person or all."""
    query = select(TimeEntry).where(TimeEntry.started_at.is_not(None), TimeEntry.ended_at.is_(None))
    if job is not None:
        query = query.where(TimeEntry.job_id == job.id)
    if person is not None:
        query = query.where(TimeEntry.person == person.strip())
    return session.scalars(query.order_by(TimeEntry.id)).all()


def log_bars(
    session: Session,
    number: str,
    section: str,
    grade: str,
    length: str,
    count: int,
    *,
    on: date,
    today: date,
    at: datetime,
    cost: Decimal | None = None,
    returned: Sequence[str] = (),
    kind: str = "work",
    reason: str = "",
    source: str | None = None,
) -> Logged:
    """Bars used that were never on the rack. `cost` is the total; None takes today's stock price.

    Lengths that came back go on the rack, each with its share of the cost, which the job is credited.

    Raises:
        NotFoundError: no such job, or no price on file for such a bar and no cost given.
        InputError: a word, count or cost that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    unit = _unit_of(session, job)
    bar = parse_section(section, unit)
    marks = shop_notation(session).marks
    measure = Measure.parse(length, unit, marks)
    if measure.length.nm <= 0:
        raise InputError(f"Length of a bar is {length!r}; it must be above zero.")
    _check_count(count)
    _check_day(on, today)
    if kind != "work" and not reason.strip():
        raise InputError(f"Bars for {kind} need a reason: --reason TEXT.")
    metal = grade_on_file(session, grade)
    if cost is None:
        cost = stock_price(session, bar, metal, measure, count, (on, today))
    if cost is None:
        raise NotFoundError(
            f"No stock price is on file for {measure.text} of {bar.text} in {metal.name}.",
            hint="Say what the bars cost: --cost TOTAL",
        )
    total = _amount(session, cost)
    back = [Measure.parse(text, unit, marks) for text in returned]
    left = sum((item.length for item in back), Length(0))
    if left > measure.length * count:
        raise InputError(f"{show_length(left, unit)} came back, more than the bars had.")
    whole = measure.length.nm * count
    shares = [round_money(total * item.length.nm / whole, shop_currency(session)) for item in back]
    row = BarUse(
        job_id=job.id,
        section_key=bar.key,
        section_text=section.strip(),
        grade=metal.name,
        length=measure.length,
        length_text=measure.text,
        count=count,
        cost=total,
        used_on=on,
        kind=kind,
        reason=reason.strip(),
        source=source,
        returned=left or None,
        credit=sum(shares, Decimal(0)),
    )
    session.add(row)
    codes = [
        add_pieces(
            session, bar, section.strip(), metal.name, item, cost=share, note=f"left from {job.number}", on=on
        )[0].code
        for item, share in zip(back, shares, strict=True)
    ]
    session.flush()
    words = f"{count} x {section.strip()} {metal.name}, {measure.text}"
    if codes:
        words += f", back on the rack: {', '.join(codes)}"
    note = " ".join(text for text in (note, _lying_ready(session, job, bar, metal)) if text)
    return Logged(job.number, words, row.cost - row.credit, note=note)


def _lying_ready(session: Session, job: Job, section: Section, grade: Grade) -> str:
    """A word of warning when such bars lie on the rack for this job: typed bars do not take them off it."""
    codes = session.scalars(
        select(RackPiece.code).where(
            RackPiece.promised_job_id == job.id,
            RackPiece.section_key == section.key,
            RackPiece.grade == grade.name,
        )
    ).all()
    if not codes:
        return ""
    return f"{len(codes)} such pieces lie on the rack for {job.number}; log those with --piece {codes[0]}."


def log_piece(
    session: Session,
    number: str,
    code: str,
    *,
    on: date,
    today: date,
    at: datetime,
    returned: Sequence[str] = (),
    rework: bool = False,
    reason: str = "",
    source: str | None = None,
) -> Logged:
    """A piece from the rack, with the lengths that came back to it.

    Raises:
        NotFoundError: no such job or piece.
        InputError: the piece is not free for this job, or more came back than it had.
    """
    job, note = open_for_log(session, number, at)
    _check_day(on, today)
    _check_rework(rework, reason)
    marks = shop_notation(session).marks
    back = [Measure.parse(text, _unit_of(session, job), marks) for text in returned]
    used = use_bar(
        session, code, job.number, returned=back, used_on=on, kind="rework" if rework else "work",
        reason=reason.strip(), source=source,
    )  # fmt: skip
    words = f"rack piece {used.code}"
    if used.returned:
        words += f", back on the rack: {', '.join(used.returned)}"
    return Logged(job.number, words, used.cost - used.credit, note=note)


def log_bought(
    session: Session,
    number: str,
    name: str,
    cost: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    count: Decimal = Decimal(1),
    source: str | None = None,
) -> Logged:
    """A bought item really used; `cost` is the total of all `count` of them.

    Raises:
        NotFoundError: no such job.
        InputError: no name, or a cost or count that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    _check_day(on, today)
    if count <= 0 or count > MOST_COUNT:
        raise InputError(f"Count of {name!r} is {count}; expected more than 0 and at most {MOST_COUNT}.")
    row = BoughtUse(
        job_id=job.id, name=_named(name, "bought item"), count=count, cost=_amount(session, cost),
        used_on=on, source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, f"{_plain(count)} x {row.name}", row.cost, note=note)


def log_outside(
    session: Session,
    number: str,
    name: str,
    cost: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    supplier: str = "",
    source: str | None = None,
) -> Logged:
    """A bill for work done by others.

    Raises:
        NotFoundError: no such job.
        InputError: no name, or a cost that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    _check_day(on, today)
    row = OutsideBill(
        job_id=job.id, name=_named(name, "outside work"), supplier=supplier.strip(),
        amount=_amount(session, cost), billed_on=on, source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, row.name, row.amount, note=note)


def log_invoice(
    session: Session,
    number: str,
    invoice: str,
    amount: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    credit: bool = False,
    reason: str = "",
) -> Logged:
    """An invoice, or a credit against one; the amount is before tax and positive either way.

    Raises:
        NotFoundError: no such job.
        InputError: the number is on file already, no number, or an amount that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    _check_day(on, today)
    kind = "credit" if credit else "invoice"
    name = _named(invoice, kind)
    held = session.scalar(select(Invoice).where(Invoice.number == name, Invoice.kind == kind))
    if held is not None:
        raise InputError(f"The {kind} {name} is on file already, for {held.job.number}.")
    row = Invoice(
        job_id=job.id, number=name, invoiced_on=on, amount=_amount(session, amount), kind=kind,
        note=reason.strip(),
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, f"{kind} {name}", row.amount, note=note)


def log_scrap(
    session: Session,
    number: str,
    mark: str,
    count: int,
    *,
    on: date,
    today: date,
    at: datetime,
    reason: str,
    person: str = "",
    source: str | None = None,
) -> Logged:
    """Pieces of a mark that were scrapped, and why.

    Raises:
        NotFoundError: no such job or mark.
        InputError: no reason, or a count that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    _check_day(on, today)
    _check_count(count)
    if not reason.strip():
        raise InputError("Scrapped pieces need a reason: --reason TEXT.")
    marks = session.scalars(
        select(PartRow.mark).join(JobRevision, JobRevision.id == PartRow.job_revision_id)
        .where(JobRevision.job_id == job.id, JobRevision.revision == job.revision)
    ).all()  # fmt: skip
    if mark.strip() not in marks:
        raise NotFoundError(_unlike(f"{number} has no part {mark!r}.", mark, marks))
    row = ScrapNote(
        job_id=job.id, mark=mark.strip(), count=count, scrapped_on=on, reason=reason.strip(),
        person=person.strip(), source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, f"{count} x {row.mark} scrapped", Decimal(0), note=note)


def open_for_log(session: Session, number: str, at: datetime) -> tuple[Job, str]:
    """The job, ready to be logged on, and a note of how its state moved.

    Work on a quoted job says that the customer agreed; the first work starts it.

    Raises:
        NotFoundError: no such job.
        InputError: the job is closed, lost or dropped.
    """
    job = find_job(session, number)
    if job.state == "closed":
        raise InputError(
            f"{job.number} is closed; its figures stand.",
            hint=f'To log on it, open it again first: shopquote close {job.number} --reopen "why"',
        )
    if job.state in ("lost", "dropped"):
        raise InputError(
            f"{job.number} is {job.state}; nothing can be logged on it.",
            hint="If it goes ahead after all, add it again: shopquote job add FILE",
        )
    steps = {"asked": ("quoted", "won", "started"), "quoted": ("won", "started"), "won": ("started",)}
    path = steps.get(job.state, ())
    was = job.state
    for state in path:
        move_job(job, state, at=at, reason="work was logged")
    return job, f"{job.number} was {was} and is now {path[-1]}." if path else ""


def known_operation(word: str) -> str:
    """The operation as we write it.

    Raises:
        InputError: not one of the operations; the nearest is told.
    """
    try:
        return OPERATION.read(word, Notation())
    except Misread as error:
        hint = f"Did you mean {error.nearest!r}?" if error.nearest else None
        raise InputError(f"Operation is {word!r}; expected {error.expected}.", hint=hint) from error


def rate_on(session: Session, operation: str, day: date) -> Decimal:
    """The shop's rate per hour of an operation on a day."""
    name = f"rate.{operation}"
    held = session.scalar(
        select(StandardRow.value)
        .where(StandardRow.name == name, StandardRow.since <= day)
        .order_by(StandardRow.since.desc())
        .limit(1)
    )
    return held if held is not None else starting_book().value(name)


def shop_currency(session: Session) -> str:
    """The shop's currency; EUR in a database without a shop."""
    return session.scalar(select(Shop.currency)) or "EUR"


def _price_minutes(session: Session, entry: TimeEntry) -> None:
    entry.rate = rate_on(session, entry.operation, entry.worked_on)
    entry.cost = labour_cost(entry.minutes, entry.rate, shop_currency(session))


def _add_to_sum(session: Session, entry: TimeEntry) -> None:
    """Count an entry's minutes and cost once, when they are first known, in what its job adds up to."""
    held = session.scalars(
        select(MinuteSum).where(
            MinuteSum.job_id == entry.job_id,
            MinuteSum.operation == entry.operation,
            MinuteSum.kind == entry.kind,
        )
    ).one_or_none()
    if held is None:
        held = MinuteSum(
            job_id=entry.job_id,
            operation=entry.operation,
            kind=entry.kind,
            minutes=Decimal(0),
            cost=Decimal(0),
        )
        session.add(held)
    held.minutes += entry.minutes
    held.cost += entry.cost


def _check_minutes(minutes: Decimal, person: str) -> None:
    most = DAY_MINUTES if person.strip() else MOST_MINUTES
    if not 0 < minutes <= most:
        limit = "24 hours of one person" if person.strip() else f"{MOST_MINUTES}"
        raise InputError(f"Minutes are {minutes}; expected more than 0 and at most {limit}.")
    if minutes.quantize(MINUTE_STEP) == 0:
        raise InputError(f"Minutes are {minutes}; the smallest that is kept is {MINUTE_STEP}.")


def _check_day(day: date, today: date) -> None:
    if day > today:
        raise InputError(f"The day is {day}; it has not come yet.")


def _check_rework(rework: bool, reason: str) -> None:
    if rework and not reason.strip():
        raise InputError("Rework needs a reason: --reason TEXT.")


def _check_count(count: int) -> None:
    if not 1 <= count <= MOST_COUNT:
        raise InputError(f"Count is {count}; expected 1 to {MOST_COUNT}.")


def _amount(session: Session, amount: Decimal) -> Decimal:
    if not amount.is_finite() or amount < 0:
        raise InputError(f"Amount is {amount}; expected a number of at least 0.")
    return round_money(amount, shop_currency(session))


def _named(text: str, what: str) -> str:
    if not text.strip():
        raise InputError(f"The {what} has no name.")
    return text.strip()


def _unit_of(session: Session, job: Job) -> Unit:
    units = session.scalar(
        select(JobRevision.units).where(JobRevision.job_id == job.id, JobRevision.revision == job.revision)
    )
    return "in" if units == "in" else "mm"


def stock_price(
    session: Session, section: Section, grade: Grade, measure: Measure, count: int, days: Sequence[date]
) -> Decimal | None:
    """What `count` bars of this length cost in the shop's currency; None without a price on file.

    By the cheapest list of the first of `days` that has one: bars may have been used on a
    day before the shop's first price list.
    """
    for day in days:
        prices = []
        for listed in listed_bars(session, section, grade, day):
            price = listed.unit_price(listed.mass_kg * count)
            if listed.length == measure.length and price is not None:
                prices.append(price * listed.supplier.exchange_rate * count)
        if prices:
            return min(prices)
    return None


def _unlike(message: str, word: str, known: Sequence[str]) -> str:
    nearest = nearest_word(word, known)
    return f"{message} Did you mean {nearest!r}?" if nearest else message


def _clock(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment.astimezone():%Y-%m-%d %H:%M}"


def _of(person: str) -> str:
    return f" of {person.strip()}" if person.strip() else ""


def _person_words(person: str) -> str:
    return f" --person {person.strip()!r}" if person.strip() else ""


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"


def count_logged(session: Session, job: Job) -> int:
    """How many entries of minutes a job has; those of running timers left out."""
    query = select(func.count()).select_from(TimeEntry)
    return session.scalar(query.where(TimeEntry.job_id == job.id, TimeEntry.minutes > 0)) or 0
