"""The lists of the shop's own bend tests, and of rules for the neutral axis."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from shopquote.calc.bar.neutral_axis import measured_k
from shopquote.errors import InputError
from shopquote.reading.kinds import Typed
from shopquote.records.benders import BendTestRow
from shopquote.services.shop.clock import now
from shopquote.services.shop.list_columns import Key, OpenList, ShopList, Values, comparable
from shopquote.services.shop.shop_on_file import bend_test_of


class BendTestList(ShopList):
    """Bend tests as measured; all columns but the note are the key, so that tests repeated are all kept."""

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        values = {c.name: getattr(row, self.attribute(c)) for c in self.columns if c.name != "bar"}
        return values | {"bar": Typed(row.section_key, row.section_text)}

    def add(self, opened: OpenList, values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        row = BendTestRow()
        self.change(opened, row, values)
        opened.session.add(row)
        return row

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        for column in self.columns:
            if column.name != "bar":
                setattr(row, self.attribute(column), values[column.name])
        row.section_key, row.section_text = values["bar"].value, values["bar"].text

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        return tuple(comparable(values[c.name]) for c in self.columns if c.name != "note")

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        if values["made_on"] > (today := now().date()):
            yield "made_on", str(values["made_on"]), f"a day that has come, {today} at the latest", None
        lengths = ("flat_length", "leg_1", "leg_2")
        missing = [name for name in lengths if values[name] is None]
        if 0 < len(missing) < len(lengths):
            yield missing[0], "nothing", "flat_length, leg_1 and leg_2 together, for a K", None
        elif not missing:
            row = BendTestRow()
            self.change(opened, row, values)
            try:
                measured_k(bend_test_of(row))
            except InputError as error:
                yield "flat_length", error.message.rstrip("."), error.hint or "a K from 0 to 1", None
        if values["over_bend"] is not None and values["over_bend"] < values["angle"]:
            expected = "the angle pulled to, not less than the angle that was left"
            yield "over_bend", f"{values['over_bend']:f}", expected, None


# The stored column must hold a number: rules that compute K hold this one, and never read it.
USUAL_K = Decimal("0.5")


class KRuleList(ShopList):
    """Rules for the neutral axis; the key says for which bars: grade, family, section kind, former."""

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        names = ("grade", "family", "section_kind", "former_radius")
        return tuple(comparable(values[name]) or "" for name in names)

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them."""
        row, values = super().complete(opened, given)
        # Stored as an empty text, which means any grade, family or section kind (`KRuleRow`).
        values |= {name: values[name] or "" for name in ("grade", "family", "section_kind")}
        if "k" not in given and values["rule"] != "fixed K":
            values["k"] = USUAL_K
        elif "k" not in given and (row is None or row.rule != "fixed K"):
            values["k"] = None  # `check` then asks for one: a fixed K has no usual value
        return row, values

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        if values["k"] is None:
            yield "k", "nothing", "the K, 0 to 1, of a fixed K", None
        elif values["rule"] != "fixed K" and values["k"] != USUAL_K:
            yield "k", f"{values['k']:f}", f"nothing: {values['rule']} works its K out", None
