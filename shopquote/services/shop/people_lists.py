"""The list of days off, and who works when as the load takes it."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.load import DaysOff, Person
from shopquote.records.crew import DaysOffRow, PersonRow
from shopquote.services.shop.list_columns import Key, Shelf, ShopList, Values
from shopquote.services.shop.values import without_idle_zeros

# A parental year and some; a slip in the year of the last day is longer.
MOST_DAYS_OFF = 400


class DaysOffList(ShopList):
    """Days off by their first day and person; everybody's where nobody is named."""

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        return values["first"], values["person"] or ""

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        row, values = super().complete(shelf, given)
        last: date | None = values["last"]
        return row, values | {"person": values["person"] or "", "last": last or values["first"]}

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        first, last = values["first"], values["last"]
        if not 0 <= (last - first).days < MOST_DAYS_OFF:
            yield "last", f"{last}", f"{first} or at most {MOST_DAYS_OFF} days in all", None


def people_on_file(session: Session) -> tuple[Person, ...]:
    """Who works, in the order they were entered; a week's hours are spread evenly over its days."""
    rows = session.scalars(select(PersonRow).order_by(PersonRow.id))
    return tuple(Person(row.name, even_week(row.hours, row.days), tuple(row.operations)) for row in rows)


def days_off_on_file(session: Session) -> tuple[DaysOff, ...]:
    """Holidays and single persons' days off."""
    rows = session.scalars(select(DaysOffRow).order_by(DaysOffRow.first, DaysOffRow.id))
    return tuple(DaysOff(row.first, row.last, row.person) for row in rows)


def even_week(hours: Decimal, days: int) -> tuple[Decimal, ...]:
    """Minutes from Monday to Sunday of somebody who works so many hours on the week's first days.

    >>> [f"{minutes}" for minutes in even_week(Decimal(38), 4)]
    ['570', '570', '570', '570', '0', '0', '0']
    """
    daily = without_idle_zeros(hours * 60 / days)
    return tuple(daily if day < days else Decimal(0) for day in range(7))
