"""The list of standards and rates: a new value from a day on leaves the old one as history."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.pricing.standards import INVENTED, STARTING_STANDARDS
from shopquote.errors import nearest_word
from shopquote.reading import kinds
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.list_columns import Key, Shelf, ShopList, Values

SET_BY_SHOP = "set by the shop"


class RateList(ShopList):
    """Standards and rates; a new value from a day on leaves the old one as history."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """All entries, in a lasting order; with `on`, what counts on that day and what comes after it."""
        rows = session.scalars(select(StandardRow).order_by(StandardRow.name, StandardRow.since)).all()
        newest = {row.name: row for row in rows if on is None or row.since <= on}
        for row in rows:
            if on is None or row.since > on or newest[row.name] is row:
                yield self.values_of(row)

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
        history: dict[str, list[StandardRow]] = {}
        for row in sorted(shelf.rows.values(), key=lambda row: row.since):
            history.setdefault(row.name, []).append(row)
        shelf.extra["history"] = history
        shelf.extra["own names"] = {kinds.name_key(name): name for name in shelf.extra["units"]}
        return shelf

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        row, values = self._on_its_day(shelf, given)
        return row, values | {
            "unit": values["unit"] or _unit_of_standard(shelf.extra["units"], values["name"])
        }

    def _on_its_day(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        day = given.get("since", shelf.on) or ALWAYS
        now = self._counting(shelf, given["name"], day)
        if now is None:
            return super().complete(shelf, given)
        if "since" in given:
            row, values = super().complete(shelf, given)
            # A value that is still to come is as sure as the one before it.
            return row, values if row is not None else values | {"spread_pct": now["spread_pct"]} | given
        if given.get("value", now["value"]) == now["value"]:
            # The value that the program began with, typed again, is the shop's own.
            own = "value" in given and "source" not in given and now["source"] == INVENTED
            given = given | ({"source": SET_BY_SHOP} if own else {})
            return super().complete(shelf, given | {"since": now["since"]})
        # Another value without a day counts from today, and says so instead of the old value's source.
        from_today = now | {"source": SET_BY_SHOP, "accepted_from": None} | given | {"since": shelf.on}
        return shelf.rows.get(self.key_of(from_today)), from_today

    def _counting(self, shelf: Shelf, name: str, day: date) -> Values | None:
        """What counts for a standard on a day."""
        history: list[StandardRow] = shelf.extra["history"].get(name, [])
        before = bisect_right(history, day, key=lambda row: row.since)
        return self.values_of(history[before - 1]) if before else None

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
    # Only names of two points or more: any word behind `bending.` would else be a standard.
    return units.get(name) or (next(relatives, "") if stem.count(".") else "")
