"""Hours logged against hours paid, by person and operation, and hours free in the next weeks.

And overhead carried by the jobs against overhead spent. For the owner, not for the floor.
"""

from calendar import monthrange
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.load import DaysOff, Person, minutes_between
from shopquote.calc.money import round_money
from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.variance import per_cent
from shopquote.records.logs import TimeEntry
from shopquote.services.quotes.load import weeks_ahead
from shopquote.services.review.job_figures import JobFigures, minutes, money, steps
from shopquote.services.review.selection import REVIEWED_STATES, Filters
from shopquote.services.shop.people_lists import days_off_on_file, people_on_file
from shopquote.services.shop.shop_on_file import the_shop

NOBODY = "no name given"
# As far ahead as a small shop's orders usually reach: common practice, no source.
WEEKS_AHEAD = 4
_OVERHEAD = CATEGORIES.index("overhead")
_Sums = dict[str, tuple[Decimal, Decimal]]  # minutes, and those of rework


@dataclass(frozen=True, slots=True)
class PersonHours:
    """Minutes that one person logged on any job, and minutes paid; None if their hours are not on file."""

    person: str
    logged: Decimal
    rework: Decimal
    paid: Decimal | None

    @property
    def logged_pct(self) -> Decimal | None:
        """Logged minutes in per cent of paid ones."""
        return None if self.paid is None else per_cent(self.logged, self.paid)


@dataclass(frozen=True, slots=True)
class OperationHours:
    """Minutes logged on one operation, those of rework, and the share of all logged minutes."""

    operation: str
    logged: Decimal
    rework: Decimal
    share_pct: Decimal | None


@dataclass(frozen=True, slots=True)
class Overhead:
    """Overhead that the jobs carry by the hours worked on them, and what was spent in the same days.

    `recovered` is None if no quote states overhead apart from the hourly rates.
    """

    recovered: Decimal | None
    spent: Decimal

    @property
    def recovered_pct(self) -> Decimal | None:
        """Recovered overhead in per cent of what was spent."""
        return None if self.recovered is None else per_cent(self.recovered, self.spent)


@dataclass(frozen=True, slots=True)
class FreeWeek:
    """Minutes in a week of the people who do an operation, and how many no open job takes."""

    name: str
    monday: date
    minutes: Decimal
    free: Decimal


@dataclass(frozen=True, slots=True)
class Hours:
    """Hours from day `first` to `last`, and how many of the `jobs` have minutes for every planned operation.

    `ahead` are the next weeks of the people who do the `bottleneck`; empty if nobody is on file.
    """

    first: date | None = None
    last: date | None = None
    people: tuple[PersonHours, ...] = ()
    complete: int = 0
    jobs: int = 0
    operations: tuple[OperationHours, ...] = ()
    overhead: Overhead | None = None
    bottleneck: str = ""
    ahead: tuple[FreeWeek, ...] = ()

    @property
    def logged_of_paid(self) -> Decimal:
        """Minutes logged by people whose paid hours are on file, to compare with `paid`."""
        return sum((row.logged for row in self.people if row.paid is not None), Decimal(0))

    @property
    def paid(self) -> Decimal | None:
        """Minutes paid to people whose hours are on file; None if nobody's are."""
        held = [row.paid for row in self.people if row.paid is not None]
        return sum(held, Decimal(0)) if held else None

    @property
    def free_ahead(self) -> Decimal:
        """Minutes free at the bottleneck in the next weeks."""
        return sum((week.free for week in self.ahead), Decimal(0))


def hours_of(
    session: Session,
    figures: Sequence[JobFigures],
    filters: Filters,
    today: date,
    bottleneck: str = "",
) -> Hours:
    """What people logged on all jobs in the days of the filters (else first to last entry) against what is
    paid.
    """
    complete = sum(not row.labour_as_quoted for row in figures)
    people = people_on_file(session)
    off = days_off_on_file(session)
    ahead = _ahead(session, people, off, bottleneck, today)
    span = select(func.min(TimeEntry.worked_on), func.max(TimeEntry.worked_on))
    oldest, newest = session.execute(span.where(TimeEntry.minutes > Decimal(0))).one()
    if oldest is None:
        return Hours(complete=complete, jobs=len(figures), bottleneck=bottleneck, ahead=ahead)
    # Without dates from the first entry to the last: before and after them the shop logged nothing, and paid
    # hours of that time would only look wasted.
    first, last = filters.since or oldest, min(filters.until or newest, today)
    by_person, by_operation = _logged(session, first, last)
    paid = {person.name: minutes_between(person, off, first, last) for person in people}
    rows = [
        PersonHours(name or NOBODY, *by_person.get(name, (Decimal(0), Decimal(0))), paid.get(name))
        for name in sorted(by_person.keys() | paid.keys())
    ]
    rows.sort(key=lambda row: (-row.logged, row.person))
    total = sum((row.logged for row in rows), Decimal(0))
    operations = [
        OperationHours(name, spent, again, per_cent(spent, total))
        for name, (spent, again) in sorted(by_operation.items(), key=lambda item: (-item[1][0], item[0]))
    ]
    return Hours(
        first, last, tuple(rows), complete, len(figures), tuple(operations),
        _overhead(session, figures, filters, first, last), bottleneck, ahead,
    )  # fmt: skip


def _logged(session: Session, first: date, last: date) -> tuple[_Sums, _Sums]:
    """(Minutes, minutes of rework) by person, and by operation."""
    again = func.sum(case((TimeEntry.kind == "rework", TimeEntry.minutes), else_=None))
    query = (
        select(TimeEntry.person, TimeEntry.operation, steps(func.sum(TimeEntry.minutes)), steps(again))
        .where(TimeEntry.worked_on >= first, TimeEntry.worked_on <= last, TimeEntry.minutes > Decimal(0))
        .group_by(TimeEntry.person, TimeEntry.operation)
    )
    by_person: _Sums = {}
    by_operation: _Sums = {}
    for person, operation, spent, rework in session.execute(query):
        for held, name in ((by_person, person), (by_operation, operation)):
            before = held.get(name, (Decimal(0), Decimal(0)))
            held[name] = (before[0] + minutes(spent), before[1] + minutes(rework))
    return by_person, by_operation


def _overhead(
    session: Session, figures: Sequence[JobFigures], filters: Filters, first: date, last: date
) -> Overhead | None:
    """None if the shop does not state what it spends, or if the filters leave out some jobs."""
    shop = the_shop(session)
    # Overhead is the whole shop's: it cannot be compared with what some of the jobs recovered.
    some_only = (
        filters.jobs or filters.customer is not None or not set(REVIEWED_STATES) <= set(filters.states)
    )
    if shop.overhead_per_month is None or some_only:
        return None
    recovered = round_money(money(sum(row.actual_steps[_OVERHEAD] for row in figures)), shop.currency)
    spent = shop.overhead_per_month * months_between(first, last)
    return Overhead(recovered or None, round_money(spent, shop.currency))


def months_between(first: date, last: date) -> Decimal:
    """Months from one day to another, both included; of a month begun, the share of its days.

    >>> months_between(date(2026, 2, 15), date(2026, 3, 31))
    Decimal('1.5')
    """
    months = Decimal(0)
    while first <= last:
        days = monthrange(first.year, first.month)[1]
        end = min(first.replace(day=days), last)
        # A share of each month, as months differ in length and overhead is known by the month.
        months += Decimal((end - first).days + 1) / days
        first = end + timedelta(1)
    return months


def _ahead(
    session: Session, people: Sequence[Person], off: Sequence[DaysOff], operation: str, today: date
) -> tuple[FreeWeek, ...]:
    if not operation:
        return ()
    able = [person for person in people if person.does(operation)]
    found = []
    for week in weeks_ahead(session, on=today, weeks=WEEKS_AHEAD):
        # Of the present week only the days that are left.
        first, last = max(week.monday, today), week.monday + timedelta(6)
        has = sum((minutes_between(person, off, first, last) for person in able), Decimal(0))
        free = sum((week.free_of[person.name] for person in able), Decimal(0))
        found.append(FreeWeek(week.name, week.monday, has, free))
    return tuple(found)
