"""Hours: logged against paid, by person, and how complete the logs are; for the owner, not for the floor."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.load import minutes_between
from shopquote.calc.review.variance import per_cent
from shopquote.records.logs import TimeEntry
from shopquote.services.review.job_figures import JobFigures, minutes, steps
from shopquote.services.review.selection import Filters
from shopquote.services.shop.people_lists import days_off_on_file, people_on_file

NOBODY = "no name given"


@dataclass(frozen=True, slots=True)
class PersonHours:
    """Minutes that one person logged on any job, and those paid; `paid` None where no hours are on file."""

    person: str
    logged: Decimal
    rework: Decimal
    paid: Decimal | None

    @property
    def logged_pct(self) -> Decimal | None:
        """Logged in per cent of those paid."""
        return None if self.paid is None else per_cent(self.logged, self.paid)


@dataclass(frozen=True, slots=True)
class Hours:
    """Hours of people from `first` to `last`, and jobs of which every planned operation has minutes."""

    first: date | None = None
    last: date | None = None
    people: tuple[PersonHours, ...] = ()
    complete: int = 0
    jobs: int = 0

    @property
    def logged(self) -> Decimal:
        """Minutes of all."""
        return sum((row.logged for row in self.people), Decimal(0))

    @property
    def paid(self) -> Decimal | None:
        """Minutes paid to those whose hours are on file; None where nobody's are."""
        held = [row.paid for row in self.people if row.paid is not None]
        return sum(held, Decimal(0)) if held else None


def hours_of(session: Session, figures: Sequence[JobFigures], filters: Filters, today: date) -> Hours:
    """What people logged on all jobs, from the first to the last day of the review, against what is paid.

    The days are those of the filters; else from the first entry to the last.
    """
    complete = sum(not any(name.startswith("labour") for name in row.assumed) for row in figures)
    span = select(func.min(TimeEntry.worked_on), func.max(TimeEntry.worked_on))
    oldest, newest = session.execute(span.where(TimeEntry.minutes > Decimal(0))).one()
    if oldest is None:
        return Hours(None, None, (), complete, len(figures))
    first, last = filters.since or oldest, min(filters.until or newest, today)
    again = func.sum(TimeEntry.minutes).filter(TimeEntry.kind == "rework")
    query = (
        select(TimeEntry.person, steps(func.sum(TimeEntry.minutes)), steps(again))
        .where(TimeEntry.worked_on >= first, TimeEntry.worked_on <= last, TimeEntry.minutes > Decimal(0))
        .group_by(TimeEntry.person)
    )
    logged = {name: (minutes(spent), minutes(rework)) for name, spent, rework in session.execute(query)}
    people, off = people_on_file(session), days_off_on_file(session)
    paid = {person.name: minutes_between(person, off, first, last) for person in people}
    rows = [
        PersonHours(name or NOBODY, *logged.get(name, (Decimal(0), Decimal(0))), paid.get(name))
        for name in sorted(logged.keys() | paid.keys())
    ]
    rows.sort(key=lambda row: (-row.logged, row.person))
    return Hours(first, last, tuple(rows), complete, len(figures))
