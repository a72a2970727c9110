"""What logged jobs say about the shop's time standards, and what that would change in open quotes.

Minutes in a quote are units of a standard times its value (or divided by it, for speeds and rates).
`calc.review.learning` fits the values to the logged minutes of finished jobs. Begin at `learn_standards`.
`accept_suggestions` stores a suggestion as a dated standard and changes no stored quote.
"""

from collections.abc import Iterable, Mapping
from dataclasses import field
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, Float, cast, func, select, type_coerce
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.pricing.standards import BY_HAND, by_hand
from shopquote.calc.pricing.starting_rows import COMMON_SPREAD
from shopquote.records.jobs import Job
from shopquote.records.quotes import Quote, QuoteMinutes
from shopquote.records.shop import Shop
from shopquote.services.floor.time_log import rate_on
from shopquote.services.jobs.job_states import STATES_ASKED
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import EIGHT_IN_TEN
from shopquote.services.review.repeats import Repeat, repeated_work
from shopquote.services.review.selection import Filters
from shopquote.services.review.work_done import EVERY_JOB, MOST_JOBS, WorkDone, in_tenths, work_tables
from shopquote.services.shop.shop_on_file import shop_currency, standards_book

if TYPE_CHECKING:
    from shopquote.calc.review.learning import Learned, Lesson
    from shopquote.calc.review.ranges import BackTest

# Fewest jobs for which a standard is listed, unless it is worth taking anyway.
LEAST_SHOWN = 3
# Fewest jobs from which the common deviation of a job's hours is learned; and the least share of the greatest
# oddity's worth for which an oddity is listed instead of only counted.
ENOUGH_TO_TELL_COMMON, LEAST_ODD = 7, Decimal("0.05")


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A standard in force, what the jobs say of it alone, and the value to take.

    Values are in the standard's unit. The true value lies from `low` to `high` in 8 of 10 cases. `change` is
    by how much all open quotes would cost more or less: labour, and what the shop adds to labour for spoilt
    pieces, overhead and contingency.
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
        """Whether the logged jobs show this standard separately from those that always come with it."""
        return self.seen is not None

    @property
    def change_pct(self) -> Decimal:
        """How much the suggestion differs from the standard in force, in per cent."""
        return Decimal(0) if not self.now else ((self.suggest / self.now - 1) * 100).quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class Oddity:
    """A job whose minutes of an operation differ much from those that all jobs lead to expect; `worth` in
    money.
    """

    job: str
    operation: str
    logged: Decimal
    expected: Decimal
    worth: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class ByHand:
    """Logged minutes over those given by hand in quotes; the factor is `low` to `high` in 8 of 10 cases."""

    operation: str
    times: Decimal
    low: Decimal
    high: Decimal
    jobs: int


@dataclass(frozen=True, slots=True)
class NewPace:
    """A lasting change of pace of an operation: from `job` on, its minutes are `times` those before.

    `job` is empty if the owner stated the change and no job shows it yet.
    """

    operation: str
    job: str
    times: Decimal
    jobs_before: int
    jobs_since: int


@dataclass(frozen=True, slots=True)
class StandardsLesson:
    """All suggestions, those worth taking first; oddities, repeated work and changes of pace.

    `told_paces` are operations that the owner says are done another way, each with the day, in ISO form.
    """

    suggestions: tuple[Suggestion, ...]
    oddities: tuple[Oddity, ...]
    jobs: int
    back_test: "BackTest | None"
    repeats: tuple[Repeat, ...] = ()
    by_hand: tuple[ByHand, ...] = ()
    new_paces: tuple[NewPace, ...] = ()
    told_paces: Mapping[str, str] = field(default_factory=dict)
    trivial_oddities: int = 0
    # Logged minutes beyond those expected by the learned standards, by job number.
    more_minutes: Mapping[str, float] = field(default_factory=dict)

    @property
    def worth_taking(self) -> tuple[Suggestion, ...]:
        """Suggestions that rest on enough evidence."""
        return tuple(item for item in self.suggestions if item.worth_it)


def learn_standards(
    session: Session,
    *,
    on: date,
    with_back_test: bool = False,
    most_jobs: int = MOST_JOBS,
    filters: Filters = EVERY_JOB,
) -> StandardsLesson:
    """Learn all time standards from the newest finished jobs.

    Args:
        session: reading is enough.
        on: the day whose standards are in force.
        with_back_test: also judge ranges and standards on jobs that were not learned from.
        most_jobs: number of newest jobs to learn from.
        filters: which jobs to learn from.
    """
    from shopquote.calc.review.learning import learn
    from shopquote.calc.review.ranges import back_test

    work = work_tables(session, on=on, most_jobs=most_jobs, filters=filters)
    lesson = learn(work.tables)
    suggestions = _suggestions(session, lesson, work, on)
    if work.jobs >= ENOUGH_TO_TELL_COMMON:
        suggestions += _common_spread(session, lesson, work, on)
    oddities, trivial = _oddities(session, lesson, on)
    judged = back_test(work.tables, work.order) if with_back_test else None
    repeats = repeated_work(session, most_jobs, filters)
    paces = tuple(
        NewPace(item.operation, item.job, Decimal(f"{item.times:.2f}"), item.jobs_before, item.jobs_since)
        for item in lesson.changes
    )
    hands = _by_hand(lesson)
    more = _more_minutes(lesson, work)
    return StandardsLesson(
        suggestions, oddities, work.jobs, judged, repeats, hands, paces, work.new_paces, trivial, more
    )


def _more_minutes(lesson: "Lesson", work: WorkDone) -> dict[str, float]:
    values = lesson.values()
    found: dict[str, float] = {}
    for table in work.tables:
        learned = [
            values.get((table.operation, name), now)
            for name, now in zip(table.standards, table.now, strict=True)
        ]
        for job, more in zip(table.jobs, table.minutes - table.counts @ learned, strict=True):
            found[job] = found.get(job, 0.0) + float(more)
    return found


def _common_spread(session: Session, lesson: "Lesson", work: WorkDone, on: date) -> tuple[Suggestion, ...]:
    """A suggestion for the common deviation of all hours of a job: the part that its operations share."""
    book = standards_book(session, on)
    if COMMON_SPREAD not in book:
        return ()
    now, seen = book[COMMON_SPREAD].value, in_tenths(100 * lesson.common)
    # Half a per cent: a smaller difference would be taken and taken back with every new job.
    worth = abs(seen - now) >= Decimal("0.5")
    return (
        Suggestion(
            COMMON_SPREAD, "", book[COMMON_SPREAD].unit, now, seen, seen, seen, seen, work.jobs, Decimal(0),
            Decimal(0), worth, 0, Decimal(0),
        ),
    )  # fmt: skip


def _oddities(session: Session, lesson: "Lesson", on: date) -> tuple[tuple[Oddity, ...], int]:
    """Oddities by their worth in money, greatest first, and the number of those too small to list."""
    rows = []
    rates = _rates(session, {item.operation for item in lesson.outliers}, on)
    for item in lesson.outliers:
        worth = Decimal(f"{abs(item.logged - item.expected) * rates[item.operation] / 60:.2f}")
        rows.append(Oddity(item.job, item.operation, _minutes(item.logged), _minutes(item.expected), worth))
    rows.sort(key=lambda row: (-row.worth, row.job, row.operation))
    kept = tuple(row for row in rows if row.worth >= LEAST_ODD * rows[0].worth)
    return kept, len(rows) - len(kept)


def _rates(session: Session, operations: Iterable[str], on: date) -> dict[str, float]:
    """Rates per hour by operation, each read once however many rows use it."""
    return {operation: float(rate_on(session, operation, on)) for operation in operations}


def _by_hand(lesson: "Lesson") -> tuple[ByHand, ...]:
    """Operations whose minutes given by hand are off by enough evidence."""
    rows = []
    for item in lesson.learned:
        if item.standard.startswith(BY_HAND) and item.worth_it:
            edge = EIGHT_IN_TEN * item.error
            ends = (max(0.0, item.suggest - edge), item.suggest, item.suggest + edge)
            low, times, high = (Decimal(f"{value:.2f}") for value in ends)
            rows.append(ByHand(item.operation, times, low, high, item.jobs))
    return tuple(rows)


def _suggestions(session: Session, lesson: "Lesson", work: WorkDone, on: date) -> tuple[Suggestion, ...]:
    open_units = _open_units(session)
    currency = shop_currency(session)
    on_labour = _on_labour(session)
    rates = _rates(session, {item.operation for item in lesson.learned}, on)
    rows = []
    for item in lesson.learned:
        if item.jobs < LEAST_SHOWN and not item.worth_it:
            continue
        over = item.standard in work.over
        quotes, units = open_units.get((item.operation, item.standard), (0, 0.0))
        # At the rate of today and with what the shop adds to labour: by so much the open quotes would change.
        change = Decimal(repr(units * (item.suggest - item.now) * rates[item.operation] / 60 * on_labour))
        rows.append(
            _suggestion(item, over, work.units.get(item.standard, ""), quotes, round_money(change, currency))
        )
    rows.sort(key=lambda row: (not row.worth_it, -abs(row.change_pct), row.standard))
    return tuple(rows)


def _on_labour(session: Session) -> float:
    """Factor on labour of what a quote adds to it: spoilt pieces, overhead, contingency."""
    shop = session.get(Shop, 1)
    if shop is None:
        return 1.0
    added = 1.0
    for pct in (shop.scrap_pct, shop.overhead_pct, shop.contingency_pct):
        added *= float(1 + pct / 100)
    return added


def _suggestion(item: "Learned", over: bool, unit: str, quotes: int, change: Decimal) -> Suggestion:
    edge = EIGHT_IN_TEN * item.error
    ends = (max(item.suggest - edge, 0.0), item.suggest + edge)
    low, high = sorted(_value(end, over, item.now) for end in ends)
    return Suggestion(
        item.standard, item.operation, unit, _value(item.now, over, item.now, exact=True),
        _value(item.seen, over, item.now) if item.seen_error is not None else None,
        _value(item.suggest, over, item.now), low, high, item.jobs, in_tenths(item.spread_pct),
        in_tenths(item.kept_pct), item.worth_it and item.suggest > 0, quotes, change,
    )  # fmt: skip


def _value(slope: float, over: bool, now: float, *, exact: bool = False) -> Decimal:
    """A slope (minutes per unit) as a value in the standard's own unit, to 3 figures unless `exact`."""
    if over:
        # A slope of 0 would be an infinite speed: limited to a thousand times today's.
        slope = 1 / max(slope, now / 1000) if now else 0.0
    # Three digits: what is learned from some jobs is not known better. normalize() + 0 turns 1E+1 into 10.
    return Decimal(f"{slope:.9g}" if exact else f"{slope:.3g}").quantize(Decimal("0.000001")).normalize() + 0


def _minutes(value: float) -> Decimal:
    return Decimal(f"{value:.0f}")


def _open_units(session: Session) -> dict[tuple[str, str], tuple[int, float]]:
    """Number of open quotes that use a standard and its units in all of them, by (operation, standard)."""
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
        .where(Job.state.in_(STATES_ASKED), Quote.state == "sent")
        .group_by(QuoteMinutes.operation, QuoteMinutes.standard)
    )  # fmt: skip
    found: dict[tuple[str, str], tuple[int, float]] = {}
    for operation, name, count, units in session.execute(query):
        key = operation, name or by_hand(operation)
        held = found.get(key, (0, 0.0))
        # Quantity and factor are both stored in millionths, so their product is in 1e-12.
        found[key] = held[0] + count, held[1] + units / 1e12
    return found
