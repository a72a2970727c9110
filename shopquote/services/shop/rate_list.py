"""The list of time standards and rates; each value applies from its day on, and older values stay on file."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.pricing.standards import STARTING_STANDARDS
from shopquote.calc.pricing.starting_rows import INVENTED
from shopquote.errors import nearest_word
from shopquote.reading import kinds
from shopquote.reading.forms import FormColumn
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.list_columns import Key, OpenList, ShopList, Values

SET_BY_SHOP = "set by the shop"


class RateList(ShopList):
    """Time standards and rates; the key is the name and the day from which the value applies."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """Every value, by name and day; with `on`, for each name the value of that day and later ones."""
        rows = session.scalars(select(StandardRow).order_by(StandardRow.name, StandardRow.since)).all()
        newest = {row.name: row for row in rows if on is None or row.since <= on}
        for row in rows:
            if on is None or row.since > on or newest[row.name] is row:
                yield self.values_of(row)

    def values_of(self, row: Any) -> Values:
        """A row's values by column; a value that always applied has no day."""
        return super().values_of(row) | {"since": None if row.since == ALWAYS else row.since}

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        return values["name"], values["since"]

    def begin(self, session: Session, on: date) -> OpenList:
        """Read the rows on file by key, once for all entries of an import."""
        opened = super().begin(session, on)
        units = {standard.name: standard.unit for standard in STARTING_STANDARDS}
        opened.extra["units"] = {row.name: row.unit for row in opened.rows.values()} | units
        history: dict[str, list[StandardRow]] = {}
        for row in sorted(opened.rows.values(), key=lambda row: row.since):
            history.setdefault(row.name, []).append(row)
        opened.extra["history"] = history
        opened.extra["own names"] = {kinds.name_key(name): name for name in opened.extra["units"]}
        return opened

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them.

        Which row depends on the day: see `_on_its_day`. The unit is the one that the program knows.
        """
        row, values = self._on_its_day(opened, given)
        return row, values | {
            "unit": values["unit"] or _unit_of_standard(opened.extra["units"], values["name"])
        }

    def kind(self, opened: OpenList, given: Values, column: FormColumn) -> kinds.Kind[Any]:
        """How a cell of a column is read: a value with the signs that its standard's unit has, no others."""
        if column.name != "value":
            return column.kind
        typed = given.get("name", "")
        name = opened.extra["own names"].get(kinds.name_key(typed), typed)
        return kinds.standard(_unit_of_standard(opened.extra["units"], name))

    def _on_its_day(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """Row and values for one standard, by whether a day and a new value are given.

        With a day: the row of that day. Without: the row that applies today if its value stays, else one from
        today.
        """
        day = given.get("since", opened.on) or ALWAYS
        now = self._counting(opened, given["name"], day)
        if now is None:
            return super().complete(opened, given)
        if "since" in given:
            row, values = super().complete(opened, given)
            # A new value is believed to be as uncertain as the one that applied before it.
            return row, values if row is not None else values | {"spread_pct": now["spread_pct"]} | given
        if given.get("value", now["value"]) == now["value"]:
            # An invented starting value that a person types again is from then on the shop's own.
            own = "value" in given and "source" not in given and now["source"] == INVENTED
            given = given | ({"source": SET_BY_SHOP} if own else {})
            return super().complete(opened, given | {"since": now["since"]})
        # A new value without a day applies from today; the old value's source does not describe it.
        from_today = now | {"source": SET_BY_SHOP, "accepted_from": None} | given | {"since": opened.on}
        return opened.rows.get(self.key_of(from_today)), from_today

    def _counting(self, opened: OpenList, name: str, day: date) -> Values | None:
        """The values of a standard that apply on a day; None before its first."""
        history: list[StandardRow] = opened.extra["history"].get(name, [])
        before = bisect_right(history, day, key=lambda row: row.since)
        return self.values_of(history[before - 1]) if before else None

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        units: dict[str, str] = opened.extra["units"]
        name = values["name"]
        if not _unit_of_standard(units, name):
            yield "name", repr(name), "a standard that quotes use", nearest_word(name, units)
            return
        unit = _unit_of_standard(units, name)
        if values["unit"] != unit:
            yield "unit", repr(values["unit"]), f"the unit of {name}, {unit}", None

    def add(self, opened: OpenList, values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        row = StandardRow()
        self.change(opened, row, values)
        opened.session.add(row)
        return row

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        stored = {"since": values["since"] or ALWAYS, "accepted_from": values["accepted_from"] or None}
        for name, value in (values | stored).items():
            setattr(row, name, value)


def _unit_of_standard(units: Mapping[str, str], name: str) -> str:
    """The unit of a standard; of a new one such as bending.hit.NAME, its siblings' unit; else empty."""
    stem = name.rpartition(".")[0]
    relatives = (unit for known, unit in units.items() if known.rpartition(".")[0] == stem)
    # Siblings count only below names of two points or more: else any word after `bending.` were a standard.
    return units.get(name) or (next(relatives, "") if stem.count(".") else "")
