"""The list of standards and rates: a new value from a day on leaves the old one as history."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.pricing.standards import STARTING_STANDARDS
from shopquote.errors import nearest_word
from shopquote.reading import kinds
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.list_columns import Key, Shelf, ShopList, Values


class RateList(ShopList):
    """Standards and rates; a new value from a day on leaves the old one as history."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """All entries, in a lasting order; with `on`, only what counts on that day."""
        rows = session.scalars(select(StandardRow).order_by(StandardRow.name, StandardRow.since))
        if on is None:
            yield from (self.values_of(row) for row in rows)
            return
        newest = {row.name: row for row in rows if row.since <= on}
        yield from (self.values_of(row) for row in newest.values())

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        return super().values_of(row) | {"since": None if row.since == ALWAYS else row.since}

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        return values["name"], values["since"]

    def begin(self, session: Session, on: date) -> Shelf:
        """What is on file, looked up once for a whole import."""
        shelf = super().begin(session, on)
        units = {standard.name: standard.unit for standard in STARTING_STANDARDS}
        shelf.extra["units"] = {row.name: row.unit for row in shelf.rows.values()} | units
        shelf.extra["now"] = {values["name"]: values for values in self.entries(session, on)}
        shelf.extra["own names"] = {kinds.name_key(name): name for name in shelf.extra["units"]}
        return shelf

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        row, values = self._on_its_day(shelf, given)
        return row, values | {
            "unit": values["unit"] or _unit_of_standard(shelf.extra["units"], values["name"])
        }

    def _on_its_day(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        now: Values | None = shelf.extra["now"].get(given["name"])
        if "since" in given or now is None:
            return super().complete(shelf, given)
        if given.get("value", now["value"]) == now["value"]:
            return super().complete(shelf, given | {"since": now["since"]})
        # Another value without a day counts from today, and says so instead of the old value's source.
        from_today = now | {"source": "set by the shop", "accepted_from": None} | given | {"since": shelf.on}
        return shelf.rows.get(self.key_of(from_today)), from_today

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        units: dict[str, str] = shelf.extra["units"]
        name = values["name"]
        if not _unit_of_standard(units, name):
            yield "name", repr(name), "a standard that quotes use", nearest_word(name, units)
            return
        unit = _unit_of_standard(units, name)
        if values["unit"] != unit:
            yield "unit", repr(values["unit"]), f"the unit of {name}, {unit}", None

    def add(self, shelf: Shelf, values: Values) -> Any:
        """Store a new entry."""
        row = StandardRow()
        self.change(shelf, row, values)
        shelf.session.add(row)
        return row

    def change(self, shelf: Shelf, row: Any, values: Values) -> None:
        """Store other values on an entry."""
        stored = {"since": values["since"] or ALWAYS, "accepted_from": values["accepted_from"] or None}
        for name, value in (values | stored).items():
            setattr(row, name, value)


def _unit_of_standard(units: Mapping[str, str], name: str) -> str:
    """The unit of a standard, or of a new one by its relatives, such as bending.hit.NAME; else nothing."""
    stem = name.rpartition(".")[0]
    relatives = (unit for known, unit in units.items() if known.rpartition(".")[0] == stem)
    return units.get(name) or (next(relatives, "") if stem.count(".") else "")
