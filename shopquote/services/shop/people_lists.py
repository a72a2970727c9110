"""The list of days off; who works when, as the workload plan takes it."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.load import DaysOff, Person
from shopquote.records.crew import DaysOffRow, PersonRow
from shopquote.services.shop.list_columns import Key, OpenList, ShopList, Values
from shopquote.services.shop.values import without_idle_zeros

# Longer than a parental year, shorter than a year mistyped in the last day would make it.
MOST_DAYS_OFF = 400


class DaysOffList(ShopList):
    """Days off; the key is the first day and the person, where an empty person means everybody."""

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        return values["first"], values["person"] or ""

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them."""
        row, values = super().complete(opened, given)
        last: date | None = values["last"]
        return row, values | {"person": values["person"] or "", "last": last or values["first"]}

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        first, last = values["first"], values["last"]
        if not 0 <= (last - first).days < MOST_DAYS_OFF:
            yield "last", f"{last}", f"{first} or at most {MOST_DAYS_OFF} days in all", None


def people_on_file(session: Session) -> tuple[Person, ...]:
    """Who works, in the order entered; a person's weekly hours are spread evenly over their days."""
    rows = session.scalars(select(PersonRow).order_by(PersonRow.id))
    return tuple(Person(row.name, even_week(row.hours, row.days), tuple(row.operations)) for row in rows)


def days_off_on_file(session: Session) -> tuple[DaysOff, ...]:
    """Days off of everybody and of single persons, by first day."""
    rows = session.scalars(select(DaysOffRow).order_by(DaysOffRow.first, DaysOffRow.id))
    return tuple(DaysOff(row.first, row.last, row.person) for row in rows)


def even_week(hours: Decimal, days: int) -> tuple[Decimal, ...]:
    """Minutes of work from Monday to Sunday, for so many hours a week on the first `days` days of it.

    >>> [f"{minutes}" for minutes in even_week(Decimal(38), 4)]
    ['570', '570', '570', '570', '0', '0', '0']
    """
    daily = without_idle_zeros(hours * 60 / days)
    return tuple(daily if day < days else Decimal(0) for day in range(7))
