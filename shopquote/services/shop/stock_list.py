"""The list of bars that suppliers sell: an item with its prices, one entry per price."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.reading import kinds
from shopquote.reading.kinds import Notation, Typed
from shopquote.records.materials import PRICE_BASES, StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.services.shop.list_columns import Key, OpenList, ShopList, Values, comparable
from shopquote.services.shop.shop_on_file import shop_notation
from shopquote.services.shop.values import prices_in_force

# Columns of a price, given all or none; each with what is expected where it is missing.
_PRICED = {
    "price": "a price for the basis or the day that is given",
    "basis": f"what the price is for, one of {', '.join(PRICE_BASES)}",
    "valid_from": "the day from which the price counts",
}


class StockList(ShopList):
    """Bars that suppliers sell, one entry per price, old prices included.

    The list's "row" is a pair (item, price); the price is None where the bar has none.
    """

    item_columns: ClassVar[tuple[str, ...]] = (
        "limit",
        "bundle",
        "tolerance",
        "standard",
        "condition",
        "note",
        "retired",
    )

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """Every entry as values by column, in stored order; with `on`, only what applies on that day."""
        rows = session.scalars(
            select(StockItem)
            .options(selectinload(StockItem.prices), selectinload(StockItem.supplier))
            .order_by(StockItem.id)
        )
        for item in rows:
            prices: Iterable[StockPrice | None] = item.prices
            if on is not None:
                prices = prices_in_force(item.prices, on)
            yield from (self._values(item, price) for price in (list(prices) or [None]))

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        return self._values(*row)

    def _values(self, item: StockItem, price: StockPrice | None) -> Values:
        return {
            "supplier": item.supplier.name,
            "bar": Typed(item.section_key, item.section_text),
            "grade": item.grade,
            "length": Typed(item.length, item.length_text),
            "price": None if price is None else price.price,
            "basis": None if price is None else price.basis,
            "from_kg": Decimal(0) if price is None else price.break_kg,
            "valid_from": None if price is None else price.valid_from,
            "invented": price is not None and price.invented,
            **{name: getattr(item, name) for name in self.item_columns},
        }

    def begin(self, session: Session, on: date) -> OpenList:
        """Read the rows on file by key, once for all entries of an import."""
        opened = OpenList(session, {}, shop_notation(session), on)
        opened.extra["suppliers"] = {one.name: one for one in session.scalars(select(Supplier))}
        opened.extra["items"] = {}
        opened.extra["from today"] = set()  # keys of items that get a price without a day
        rows = select(StockItem).options(selectinload(StockItem.prices), selectinload(StockItem.supplier))
        for item in session.scalars(rows):
            values = self._values(item, None)
            opened.extra["items"][self._item_key(values)] = item
            # A bar without a price is an entry too, as `entries` lists it.
            prices: Sequence[StockPrice | None] = item.prices or [None]
            for price in prices:
                opened.rows[self.key_of(self._values(item, price))] = (item, price)
        return opened

    def _item_key(self, values: Values) -> Key:
        return tuple(comparable(values[name]) for name in ("supplier", "bar", "grade", "length"))

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        return (*self._item_key(values), values["valid_from"], values["from_kg"])

    def notation(self, opened: OpenList, given: Values) -> Notation:
        """How a cell of an entry is typed: a price in its supplier's currency."""
        supplier = opened.extra["suppliers"].get(given.get("supplier"))
        return opened.notation_in("" if supplier is None else supplier.currency)

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them.

        Without a day, an unchanged price is the one that applies today, and a new price applies from today.
        """
        item: StockItem | None = opened.extra["items"].get(self._item_key(given))
        if item is None:
            values = self.usual_values() | given
            if values["price"] is not None and values["valid_from"] is None:
                values["valid_from"] = opened.on
            return None, values
        break_kg = given.get("from_kg", Decimal(0))
        now = next((p for p in prices_in_force(item.prices, opened.on) if p.break_kg == break_kg), None)
        values = self._values(item, now) | {"from_kg": break_kg} | given
        if given.get("valid_from") is None:
            if given.get("price") is None or (
                now is not None and (now.price, now.basis) == (values["price"], values["basis"])
            ):
                return (item, now), values | {"valid_from": None if now is None else now.valid_from}
            # A new price without a day applies from today; the old one stays on file as history.
            values |= {"valid_from": opened.on, "invented": given.get("invented", False)}
            opened.extra["from today"].add(self._item_key(values))
        return opened.rows.get(self.key_of(values)), values

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        missing = [name for name in _PRICED if values[name] is None]
        if 0 < len(missing) < len(_PRICED):
            yield missing[0], "nothing", _PRICED[missing[0]], None
        if values["tolerance"] >= values["length"].value:
            shown = kinds.length().show(values["tolerance"], opened.notation)
            yield "tolerance", str(shown), "how much shorter the bar may come: less than its length", None
        # The item's own columns stand in every row of its prices: rows that differ would overwrite each
        # other.
        told = opened.extra.setdefault("told", {})
        own = {name: values[name] for name in self.item_columns}
        first = told.setdefault(self._item_key(values), own)
        for name in self.item_columns:
            if own[name] != first[name]:
                yield name, repr(own[name]), f"the same in every row of one bar, {first[name]!r}", None

    def records_of(self, found: Sequence[Any]) -> Sequence[Any]:
        """The bar itself where these rows are all its prices, else the prices alone."""
        items = {item.id: item for item, _ in found}
        if len(items) == 1 and len(found) == max(1, len(found[0][0].prices)):
            return list(items.values())
        return [price for _, price in found]

    def add(self, opened: OpenList, values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        key = self._item_key(values)
        item = opened.extra["items"].get(key)
        if item is None:
            item = StockItem(
                supplier=opened.extra["suppliers"][values["supplier"]],
                section_key=values["bar"].value,
                section_text=values["bar"].text,
                grade=values["grade"],
                length=values["length"].value,
                length_text=values["length"].text,
                prices=[],
            )
            opened.session.add(item)
            opened.extra["items"][key] = item
        if opened.single or key in opened.extra["from today"]:
            _keep_other_steps(item, values["valid_from"])
        same = (price for price in item.prices if price.valid_from == values["valid_from"])
        return self._put(item, next((p for p in same if p.break_kg == values["from_kg"]), None), values)

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        item, price = row
        self._put(item, price, values)

    def _put(self, item: StockItem, price: StockPrice | None, values: Values) -> tuple[Any, Any]:
        for name in self.item_columns:
            setattr(item, name, values[name])
        if values["price"] is not None:
            if price is None:
                price = StockPrice()
                item.prices.append(price)
            price.price, price.basis = values["price"], values["basis"]
            price.break_kg, price.valid_from = values["from_kg"], values["valid_from"]
            price.invented = values["invented"]
        return item, price


def _keep_other_steps(item: StockItem, day: date | None) -> None:
    """Begin an item's price list of a day with the steps in force then, before one of them is set.

    Only steps of the newest day apply: those that nobody changed would fall away with the older list.
    """
    if day is None:
        return
    for step in prices_in_force(item.prices, day):
        if step.valid_from < day:
            item.prices.append(
                StockPrice(
                    price=step.price, basis=step.basis, break_kg=step.break_kg, valid_from=day,
                    invented=step.invented,
                )
            )  # fmt: skip
