"""What the logged jobs say about the shop's standards, and what open quotes would cost with it.

Minutes in a quote are units of a standard times its value (or over it, for speeds
and rates); the logged minutes of the finished jobs are set against those units by
`calc.review.learning`. Begin at `learn_standards`; `accept_suggestion` makes a
dated standard and touches no stored quote.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Float, cast, func, select, type_coerce
from sqlalchemy.orm import Session

from shopquote.calc.money import round_money
from shopquote.calc.review.learning_curve import fit_curve
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.records.jobs import Job, JobRevision, PartRow
from shopquote.records.logs import MinuteSum
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote, QuoteMinutes, QuoteOperation
from shopquote.records.shop import Shop
from shopquote.records.standards import StandardRow
from shopquote.services.floor.log import rate_on, shop_currency
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.review_sums import steps
from shopquote.services.shop.on_file import standards_book

if TYPE_CHECKING:
    from shopquote.calc.review.learning import Learned, Lesson, WorkTable
    from shopquote.calc.review.ranges import BackTest

# The newest finished jobs say most of how the shop works today.
MOST_JOBS = 1_000
# Below this nothing is said of a standard; from calc.review.learning.LEAST_JOBS on it may be worth taking.
LEAST_SHOWN = 3
LEAST_RUNS, MOST_REPEATS = 3, 20
UNSURE_SLOPE = Decimal("0.1")  # a standard error of the curve's slope beyond which it says nothing
BY_HAND = ""
OPEN_STATES = ("asked", "quoted")
LEARNED_FROM = ("finished", "closed")


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A standard as it is, as the jobs saw it, and as it should be.

    Values are in the standard's own unit. `low` and `high` hold the true value in 8
    of 10 cases. `change` is what all open quotes together would cost more (or less): the labour, with what
    the shop adds to labour for spoiled pieces, overhead and contingency.
    """

    standard: str
    operation: str
    unit: str
    now: Decimal
    seen: Decimal | None
    suggest: Decimal
    low: Decimal
    high: Decimal
    jobs: int
    spread_pct: Decimal
    kept_pct: Decimal
    worth_it: bool
    open_quotes: int
    change: Decimal

    @property
    def told_alone(self) -> bool:
        """Whether the jobs tell this standard apart from those that come with it."""
        return self.seen is not None

    @property
    def change_pct(self) -> Decimal:
        """How far the suggestion is from the standard in force."""
        return Decimal(0) if not self.now else ((self.suggest / self.now - 1) * 100).quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class Oddity:
    """A job whose minutes of an operation lie far off what all jobs together say."""

    job: str
    operation: str
    logged: Decimal
    expected: Decimal


@dataclass(frozen=True, slots=True)
class ByHand:
    """Minutes given by hand in quotes: logged over given, with the ends that hold it in 8 of 10 cases."""

    operation: str
    times: Decimal
    low: Decimal
    high: Decimal
    jobs: int


@dataclass(frozen=True, slots=True)
class Repeat:
    """The same thing made for the same customer several times: did it get quicker?

    `first` and `last` are minutes for a set. `rate` is what is left of the minutes over those quoted at
    each doubling of the number made (0.9: a 90 % learning curve), `error` the standard error of the slope.
    """

    title: str
    customer: str
    runs: int
    sets: int
    first: Decimal
    last: Decimal
    rate: Decimal
    error: Decimal


@dataclass(frozen=True, slots=True)
class StandardsLesson:
    """All suggestions, those worth taking first, the jobs that stand out, and repeated work."""

    suggestions: tuple[Suggestion, ...]
    oddities: tuple[Oddity, ...]
    jobs: int
    back_test: "BackTest | None"
    repeats: tuple[Repeat, ...] = ()
    by_hand: tuple[ByHand, ...] = ()

    @property
    def worth_taking(self) -> tuple[Suggestion, ...]:
        """Suggestions that the jobs are sure enough of."""
        return tuple(item for item in self.suggestions if item.worth_it)


def learn_standards(
    session: Session, *, on: date, with_back_test: bool = False, most_jobs: int = MOST_JOBS
) -> StandardsLesson:
    """Learn all standards of time from the newest finished jobs.

    Args:
        session: reading is enough.
        on: the day whose standards are in force.
        with_back_test: also judge ranges and standards on jobs not yet seen.
        most_jobs: how many of the newest jobs to learn from.
    """
    from shopquote.calc.review.learning import learn
    from shopquote.calc.review.ranges import back_test

    work = work_tables(session, on=on, most_jobs=most_jobs)
    lesson = learn(work.tables)
    suggestions = _suggestions(session, lesson, work, on)
    oddities = tuple(
        Oddity(item.job, item.operation, _minutes(item.logged), _minutes(item.expected))
        for item in lesson.outliers
    )
    judged = back_test(work.tables) if with_back_test else None
    repeats = repeated_work(session, most_jobs)
    return StandardsLesson(suggestions, oddities, work.jobs, judged, repeats, _by_hand(lesson))


def _by_hand(lesson: "Lesson") -> tuple[ByHand, ...]:
    """Operations whose minutes by hand the jobs are sure to be off."""
    rows = []
    for item in lesson.learned:
        if item.standard == BY_HAND and item.worth_it:
            edge = 1.2816 * item.error
            ends = (max(0.0, item.suggest - edge), item.suggest, item.suggest + edge)
            low, times, high = (Decimal(f"{value:.2f}") for value in ends)
            rows.append(ByHand(item.operation, times, low, high, item.jobs))
    return tuple(rows)


def repeated_work(session: Session, most_jobs: int = MOST_JOBS) -> tuple[Repeat, ...]:
    """Learning curves of what was made at least three times for one customer, the most repeated first.

    The same thing has the same title and parts alike in number, pieces and length of bar. A run of s sets
    after N others counts at unit N + (s + 1) / 2 (the middle of a lot; common practice, no source) with its
    minutes over those quoted, so that set-up spread over more sets is not called learning.
    """
    newest = (
        select(Job.id).where(Job.state.in_(LEARNED_FROM)).order_by(Job.id.desc()).limit(most_jobs)
    ).subquery()
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
    """One job of a repeated thing: sets, minutes logged and quoted."""

    sets: int
    minutes: float
    quoted: float


def _repeat(title: str, customer: str, made: Sequence[_Run]) -> Repeat:
    numbers, before = [], 0
    for run in made:
        numbers.append(before + (run.sets + 1) / 2)
        before += run.sets
    curve = fit_curve(numbers, [run.minutes / run.quoted for run in made])
    first, last = made[0], made[-1]
    return Repeat(
        title,
        customer,
        len(made),
        before,
        _rounded(first.minutes / first.sets),
        _rounded(last.minutes / last.sets),
        Decimal(f"{curve.rate:.3f}"),
        Decimal(f"{curve.error:.3f}"),
    )


@dataclass(frozen=True, slots=True)
class Work:
    """Tables of all operations; `over` names standards that minutes are divided by."""

    tables: tuple["WorkTable", ...]
    over: frozenset[str]
    units: Mapping[str, str]
    jobs: int


def work_tables(session: Session, *, on: date, most_jobs: int = MOST_JOBS) -> Work:
    """Counts of every standard and logged minutes of the newest finished jobs, by operation.

    A job counts for an operation when its quote has it and minutes were logged on it.
    """
    newest = (
        select(Job.id).where(Job.state.in_(LEARNED_FROM)).order_by(Job.id.desc()).limit(most_jobs)
    ).subquery()
    logged = _logged(session, newest)
    counts, over, values = _counts(session, newest)
    named = session.execute(select(Job.id, Job.number).where(Job.id.in_(select(newest.c.id))))
    numbers = {key: number for key, number in named}
    book = standards_book(session, on)
    units = {name: book[name].unit if name in book else "" for name in values}
    force = {name: float(book[name].value) if name in book else values[name] for name in values}
    tables = [
        _table(operation, rows, logged, numbers, force, over) for operation, rows in sorted(counts.items())
    ]
    jobs = len({job for job, _ in logged})
    return Work(tuple(table for table in tables if len(table.jobs)), frozenset(over), units, jobs)


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
        # Minutes given by hand are their own standard, of one minute a minute.
        row[standard] = row.get(standard, 0.0) + (total / 1e12 if standard else minutes / 1e6)
        values[standard] = value / 1e6 if standard else 1.0
        if how == "over":
            over.add(standard)
    return counts, over, values


def _table(
    operation: str,
    rows: Mapping[int, Mapping[str, float]],
    logged: Mapping[tuple[int, str], float],
    numbers: Mapping[int, str],
    force: Mapping[str, float],
    over: set[str],
) -> "WorkTable":
    import numpy as np

    from shopquote.calc.review.learning import WorkTable

    jobs = sorted(job for job in rows if (job, operation) in logged)
    names = tuple(sorted({name for job in jobs for name in rows[job]}))
    counts = np.array([[rows[job].get(name, 0.0) for name in names] for job in jobs]).reshape(
        len(jobs), len(names)
    )
    now = np.array([_slope(force[name], name in over) for name in names])
    minutes = np.array([logged[job, operation] for job in jobs])
    return WorkTable(operation, names, now, counts, minutes, tuple(numbers[job] for job in jobs))


def _slope(value: float, over: bool) -> float:
    """Minutes a unit of a standard: its value, or one over it for a speed or rate."""
    if not over:
        return value
    return 1 / value if value else 0.0


def _suggestions(session: Session, lesson: "Lesson", work: Work, on: date) -> tuple[Suggestion, ...]:
    open_units = _open_units(session)
    currency = shop_currency(session)
    on_labour = _on_labour(session)
    operations = {item.operation for item in lesson.learned}
    rates = {operation: float(rate_on(session, operation, on)) for operation in operations}
    rows = []
    for item in lesson.learned:
        if item.standard == BY_HAND or item.jobs < LEAST_SHOWN:
            continue
        over = item.standard in work.over
        quotes, units = open_units.get((item.operation, item.standard), (0, 0.0))
        change = Decimal(repr(units * (item.suggest - item.now) * rates[item.operation] / 60 * on_labour))
        rows.append(
            _suggestion(item, over, work.units.get(item.standard, ""), quotes, round_money(change, currency))
        )
    rows.sort(key=lambda row: (not row.worth_it, -abs(row.change_pct), row.standard))
    return tuple(rows)


def _on_labour(session: Session) -> float:
    """What a quote adds to each unit of money of labour: spoiled pieces, overhead, contingency."""
    shop = session.get(Shop, 1)
    if shop is None:
        return 1.0
    added = 1.0
    for pct in (shop.scrap_pct, shop.overhead_pct, shop.contingency_pct):
        added *= float(1 + pct / 100)
    return added


def _suggestion(item: "Learned", over: bool, unit: str, quotes: int, change: Decimal) -> Suggestion:
    edge = 1.2816 * item.error  # 80 % of a normal lies within
    ends = (max(item.suggest - edge, 0.0), item.suggest + edge)
    low, high = sorted(_value(end, over, item.now) for end in ends)
    return Suggestion(
        item.standard, item.operation, unit, _value(item.now, over, item.now, exact=True),
        _value(item.seen, over, item.now) if item.seen_error is not None else None,
        _value(item.suggest, over, item.now), low, high, item.jobs, _rounded(item.spread_pct),
        _rounded(item.kept_pct), item.worth_it and item.suggest > 0, quotes, change,
    )  # fmt: skip


def _value(slope: float, over: bool, now: float, *, exact: bool = False) -> Decimal:
    """A slope as the standard's own value, to 3 figures (or as it is)."""
    if over:
        # A slope of nothing would be a speed without end; a thousand times today's is told instead.
        slope = 1 / max(slope, now / 1000) if now else 0.0
    return Decimal(f"{slope:.9g}" if exact else f"{slope:.3g}").quantize(Decimal("0.000001")).normalize() + 0


def _rounded(value: float) -> Decimal:
    return Decimal(f"{value:.1f}")


def _minutes(value: float) -> Decimal:
    return Decimal(f"{value:.0f}")


def _open_units(session: Session) -> dict[tuple[str, str], tuple[int, float]]:
    """Open quotes that use a standard, and its units in all of them."""
    chosen = chosen_quotes()
    quantity = cast(type_coerce(QuoteMinutes.quantity, BigInteger), Float)
    factor = cast(type_coerce(QuoteMinutes.factor, BigInteger), Float)
    query = (
        select(
            QuoteMinutes.operation, QuoteMinutes.standard,
            func.count(func.distinct(QuoteMinutes.quote_id)), func.sum(quantity * factor),
        )
        .join(chosen, chosen.c.quote_id == QuoteMinutes.quote_id)
        .join(Job, Job.id == chosen.c.job_id)
        .join(Quote, Quote.id == chosen.c.quote_id)
        .where(Job.state.in_(OPEN_STATES), Quote.state == "sent")
        .group_by(QuoteMinutes.operation, QuoteMinutes.standard)
    )  # fmt: skip
    return {
        (operation, name): (count, units / 1e12) for operation, name, count, units in session.execute(query)
    }


def accept_suggestions(
    session: Session, names: Sequence[str], *, on: date, value: Decimal | None = None
) -> tuple[Suggestion, ...]:
    """Make dated standards of suggestions; "all" takes all that are worth it. Stored quotes stay as they are.

    Args:
        session: a writing session; the caller commits.
        names: standards, or "all".
        on: the day from which they count.
        value: another value than the suggested one, for a single standard.

    Raises:
        NotFoundError: no such suggestion; the nearest is told.
        InputError: a value for more than one standard, or one that is not above zero.
    """
    lesson = learn_standards(session, on=on)
    known = {item.standard: item for item in lesson.suggestions}
    if list(names) == ["all"]:
        wanted = list(lesson.worth_taking)
        if not wanted:
            raise NotFoundError(
                "No suggestion is worth taking: the jobs agree with the standards, or are few."
            )
    else:
        wanted = [_known(name, known) for name in names]
    if value is not None and (len(wanted) != 1 or value <= 0):
        raise InputError("A value of your own goes with one standard and must be above zero.")
    for item in wanted:
        _store(session, item, value if value is not None else item.suggest, on)
    return tuple(wanted)


def _known(name: str, known: Mapping[str, Suggestion]) -> Suggestion:
    if name in known:
        return known[name]
    nearest = nearest_word(name, known)
    hint = f"Did you mean {nearest!r}?" if nearest else "See: shopquote review"
    raise NotFoundError(f"The logged jobs say nothing of a standard {name!r}.", hint=hint)


def _store(session: Session, item: Suggestion, value: Decimal, on: date) -> None:
    held = session.scalar(
        select(StandardRow).where(StandardRow.name == item.standard, StandardRow.since == on)
    )
    row = held or StandardRow(name=item.standard, since=on, unit=item.unit)
    row.value = value
    row.unit = item.unit
    row.spread_pct = item.spread_pct
    row.source = f"learned from {item.jobs} logged jobs"
    row.accepted_from = {
        "jobs": item.jobs,
        "now": str(item.now),
        "seen": None if item.seen is None else str(item.seen),
        "suggest": str(item.suggest),
        "low": str(item.low),
        "high": str(item.high),
    }
    session.add(row)
    session.flush()
