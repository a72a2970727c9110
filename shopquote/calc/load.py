"""When the shop can do its open jobs: forward finite loading of people's hours, one job after another.

Jobs are loaded by due day, those without one last, and among equals in the order in which they came. A
job's operations follow each other in the order of `OPERATIONS`. Each operation of a job is given to one
person, whoever can finish it soonest in the hours still free. Nothing placed is moved again. This is
order-oriented finite loading with the rules "earliest due date" and "first come, first served":
P. Schönsleben, Integral Logistics Management, section 14.3.2. All times are minutes of work, as Decimal.
Begin at `load_shop`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import date, timedelta
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import OPERATIONS

MOST_DAYS = 1500  # work that does not fit into about four years is reported, not placed
NOTHING = Decimal(0)

Free = list[tuple[Decimal, Decimal]]  # stretches of one day, in minutes from its beginning
Instant = tuple[date, Decimal]  # a day, and minutes of work into it


@dataclass(frozen=True, slots=True)
class Person:
    """One person: minutes worked on each of the 7 days from Monday, and operations done (empty: all)."""

    name: str
    week: tuple[Decimal, ...]
    operations: tuple[str, ...] = ()

    def does(self, operation: str) -> bool:
        """Whether this person does an operation; "" is work of no particular one."""
        return not self.operations or not operation or operation in self.operations


@dataclass(frozen=True, slots=True)
class DaysOff:
    """Days off from `first` to `last`, both counted, of one person or, where `person` is "", of all."""

    first: date
    last: date
    person: str = ""


@dataclass(frozen=True, slots=True)
class OpenWork:
    """What is left of a job: minutes by operation, and the day from which work on it can begin.

    `came` orders jobs with the same due day, such as a running number.
    """

    job: str
    minutes: Mapping[str, Decimal]
    due: date | None = None
    came: int = 0
    ready: date | None = None


@dataclass(frozen=True, slots=True)
class Placed:
    """A job as loaded: its first and last day of work, and minutes by operation that could not be placed.

    `done` is None where `left_over` is not empty: nobody does that work, or it exceeds `MOST_DAYS`.
    """

    work: OpenWork
    begins: date | None
    done: date | None
    left_over: Mapping[str, Decimal]

    @property
    def minutes(self) -> Decimal:
        """Minutes left in all."""
        return sum((spent for spent in self.work.minutes.values() if spent > 0), NOTHING)

    @property
    def days_late(self) -> int:
        """Days after its due day; 0 where it is in time or has none."""
        if self.done is None or self.work.due is None:
            return 0
        return max(0, (self.done - self.work.due).days)


@dataclass(frozen=True, slots=True)
class Week:
    """A week from its Monday: minutes available in total, taken by operation, and still free by person."""

    monday: date
    minutes: Decimal
    by_operation: Mapping[str, Decimal]
    free_of: Mapping[str, Decimal] = field(default_factory=dict)

    @property
    def booked(self) -> Decimal:
        """Minutes taken in all."""
        return sum(self.by_operation.values(), NOTHING)

    @property
    def free(self) -> Decimal:
        """Minutes that nobody has taken."""
        return self.minutes - self.booked

    @property
    def name(self) -> str:
        """The week's name by ISO 8601, such as 2026-W49."""
        year, week, _ = self.monday.isocalendar()
        return f"{year}-W{week:02}"


@dataclass(frozen=True, slots=True)
class ShopLoad:
    """All jobs in the order of loading, and the weeks from the first to the last work."""

    jobs: tuple[Placed, ...]
    weeks: tuple[Week, ...]


@dataclass
class _Hours:
    """One person's free stretches by day, made when a day is first asked for."""

    person: Person
    off: frozenset[date]
    days: dict[date, Free] = field(default_factory=dict)

    def has(self, day: date) -> Decimal:
        """Minutes that the person works on a day, taken or not."""
        return NOTHING if day in self.off else self.person.week[day.weekday()]

    def free(self, day: date) -> Free:
        """Stretches still free on a day."""
        if day not in self.days:
            minutes = self.has(day)
            self.days[day] = [(NOTHING, minutes)] if minutes > 0 else []
        return self.days[day]

    def free_on(self, days: Iterable[date]) -> Decimal:
        """Minutes still free on some days."""
        return sum((ends - begins for day in days for begins, ends in self.free(day)), NOTHING)

    def stretches(self, minutes: Decimal, start: Instant, end: date) -> "list[_Stretch] | None":
        """The first free stretches from `start` that add up to `minutes`.

        None where they do not before `end`.
        """
        found: list[_Stretch] = []
        day, earliest = start
        while day < end:
            for begins, ends in self.free(day):
                begins = max(begins, earliest)
                if begins < ends:
                    taken = min(minutes, ends - begins)
                    found.append(_Stretch(day, begins, begins + taken))
                    minutes -= taken
                    if minutes <= 0:
                        return found
            day, earliest = day + timedelta(1), NOTHING
        return None

    def take(self, stretch: "_Stretch") -> None:
        """Mark a stretch as taken; it must lie within a free one."""
        left: Free = []
        for begins, ends in self.free(stretch.day):
            if begins <= stretch.begins and stretch.ends <= ends:
                left += [(begins, stretch.begins), (stretch.ends, ends)]
            else:
                left.append((begins, ends))
        self.days[stretch.day] = [(begins, ends) for begins, ends in left if begins < ends]


@dataclass(frozen=True, slots=True)
class _Stretch:
    day: date
    begins: Decimal
    ends: Decimal


def load_shop(
    people: Sequence[Person],
    days_off: Iterable[DaysOff],
    works: Iterable[OpenWork],
    *,
    on: date,
    weeks: int = 0,
) -> ShopLoad:
    """Load jobs onto people's hours from a day on.

    Args:
        people: who works. Of two who would finish at the same time, the one who does fewer operations takes
            the work, then the first.
        days_off: holidays of all, and days of one person.
        works: what is left of each job; operations outside `OPERATIONS` come last, "" is any work.
        on: the first day of work; all of its minutes count.
        weeks: the least number of weeks in the answer, with work or without.
    """
    # A list, since the iterable is gone through once for each person.
    off = list(days_off)
    hours = [_Hours(person, _days_of(person, off)) for person in people]
    taken: dict[date, dict[str, Decimal]] = {}
    placed = [_place(work, hours, on, taken) for work in sorted(works, key=_turn)]
    return ShopLoad(tuple(placed), _weeks(hours, taken, on, weeks))


def _turn(work: OpenWork) -> tuple[bool, date, int, str]:
    return work.due is None, work.due or date.max, work.came, work.job


def _days_of(person: Person, off: Iterable[DaysOff]) -> frozenset[date]:
    return frozenset(
        one.first + timedelta(ahead)
        for one in off
        if one.person in ("", person.name)
        for ahead in range((one.last - one.first).days + 1)
    )


def minutes_between(person: Person, off: Iterable[DaysOff], first: date, last: date) -> Decimal:
    """Minutes that a person works from one day to another, both counted, days off left out."""
    hours = _Hours(person, _days_of(person, off))
    days = range((last - first).days + 1)
    return sum((hours.has(first + timedelta(ahead)) for ahead in days), NOTHING)


def _place(
    work: OpenWork, hours: Sequence[_Hours], on: date, taken: dict[date, dict[str, Decimal]]
) -> Placed:
    start: Instant = (max(on, work.ready or on), NOTHING)
    end = on + timedelta(MOST_DAYS)
    begins: date | None = None
    left_over: dict[str, Decimal] = {}
    for operation in sorted(work.minutes, key=_step):
        minutes = work.minutes[operation]
        if minutes <= 0:
            continue
        found = _soonest(operation, minutes, hours, start, end)
        if found is None:
            # Later operations are loaded all the same: their hours are needed once somebody is found.
            left_over[operation] = minutes
            continue
        one, stretches = found
        for stretch in stretches:
            one.take(stretch)
            day = taken.setdefault(stretch.day, {})
            day[operation] = day.get(operation, NOTHING) + stretch.ends - stretch.begins
        begins = begins or stretches[0].day
        start = stretches[-1].day, stretches[-1].ends
    return Placed(work, begins, None if left_over else start[0], left_over)


def _step(operation: str) -> tuple[int, str]:
    place = OPERATIONS.index(operation) if operation in OPERATIONS else len(OPERATIONS)
    return place, operation


def _soonest(
    operation: str, minutes: Decimal, hours: Sequence[_Hours], start: Instant, end: date
) -> tuple[_Hours, list[_Stretch]] | None:
    """Who finishes the operation first, and in which stretches; None where nobody can."""
    best: tuple[_Hours, list[_Stretch]] | None = None
    # People of few operations come first, so that an all-rounder stays free for what only he does.
    for one in sorted(hours, key=lambda one: len(one.person.operations) or len(OPERATIONS)):
        found = one.stretches(minutes, start, end) if one.person.does(operation) else None
        if found and (best is None or _ends(found) < _ends(best[1])):
            best = one, found
    return best


def _ends(stretches: Sequence[_Stretch]) -> Instant:
    return stretches[-1].day, stretches[-1].ends


def _weeks(
    hours: Sequence[_Hours], taken: Mapping[date, Mapping[str, Decimal]], on: date, least: int
) -> tuple[Week, ...]:
    first = monday_of(on)
    last = max([first + timedelta(7 * (least - 1)), *map(monday_of, taken)])
    found = []
    for ahead in range((last - first).days // 7 + 1):
        monday = first + timedelta(7 * ahead)
        days = [monday + timedelta(number) for number in range(7)]
        minutes = sum((one.has(day) for one in hours for day in days if day >= on), NOTHING)
        sums: dict[str, Decimal] = {}
        for day in days:
            for operation, spent in taken.get(day, {}).items():
                sums[operation] = sums.get(operation, NOTHING) + spent
        free = {one.person.name: one.free_on(day for day in days if day >= on) for one in hours}
        found.append(Week(monday, minutes, {name: sums[name] for name in sorted(sums, key=_step)}, free))
    return tuple(found)


def monday_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(day.weekday())
