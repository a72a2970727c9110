"""The weeks and jobs ahead in the terminal and as JSON."""

from collections.abc import Mapping
from decimal import Decimal

from shopquote.calc.load import Week
from shopquote.outputs.looks import COUNT, DAY, HOURS, Setting
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_table
from shopquote.services.quotes.load import JobAhead, LookAhead


def _hours(minutes: Decimal) -> Decimal:
    return (minutes / 60).quantize(Decimal("0.01"))


def _shown(minutes: Decimal) -> str:
    return HOURS.shown(_hours(minutes), Setting())


def _by_operation(minutes: Mapping[str, Decimal]) -> dict[str, float]:
    return {name: float(_hours(spent)) for name, spent in minutes.items()}


def _words(minutes: Mapping[str, Decimal]) -> str:
    return ", ".join(f"{name} {_shown(spent)}" for name, spent in minutes.items() if spent > 0)


WEEKS: tuple[Column[Week], ...] = (
    Column("Week", lambda week: week.name),
    Column("From", lambda week: week.monday, DAY),
    Column("Hours", lambda week: _hours(week.minutes), HOURS),
    Column("Booked", lambda week: _hours(week.booked), HOURS, key="hours_booked"),
    Column("Free", lambda week: _hours(week.free), HOURS, key="hours_free"),
    Column("Booked by operation", lambda week: _words(week.by_operation), on=SEEN),
    Column("by_operation", lambda week: _by_operation(week.by_operation), on=JSON),
)

AHEAD: tuple[Column[JobAhead], ...] = (
    Column("Job", lambda one: one.placed.work.job),
    Column("Title", lambda one: one.title),
    Column("Hours left", lambda one: _hours(one.placed.minutes), HOURS),
    Column("Begins", lambda one: one.placed.begins, DAY),
    Column("Done", lambda one: one.placed.done, DAY),
    Column("Due", lambda one: one.placed.work.due, DAY),
    Column("Days late", lambda one: one.placed.days_late or None, COUNT),
)


def load_json(found: LookAhead, weeks: int) -> dict[str, object]:
    """JSON of `load`: hours as numbers, days in ISO form; `first_day` is null if nobody can do the work."""
    return {
        "weeks": json_rows(WEEKS, found.load.weeks[:weeks]),
        "jobs": json_rows(AHEAD, found.jobs),
        "asked": found.asked,
        "first_day": found.first_day,
        "notes": found.notes,
    }


def print_load(found: LookAhead, weeks: int) -> None:
    """Print the weeks, the jobs in the order they are done, and the day that could be promised."""
    print_table(Table(WEEKS, found.load.weeks[:weeks]))
    later = sum((week.booked for week in found.load.weeks[weeks:]), Decimal(0))
    if later:
        print(f"After these weeks {_shown(later)} h more are booked.")
    print()
    print_table(Table(AHEAD, found.jobs))
    if not found.jobs:
        print("No job is won and still to be made.")
    day = "none: see below" if found.first_day is None else found.first_day.isoformat()
    print(f"\nFirst day that could be promised for {found.asked}: {day}")
    for note in found.notes:
        print(f"- {note}")
