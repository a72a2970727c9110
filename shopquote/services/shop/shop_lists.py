"""The shop's lists themselves: their columns, and what each does its own way."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any, ClassVar

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.bar.benders import MARKS_AT, NEUTRAL_AXIS_RULES, USUAL_ARC_STEP, WORKS_BY
from shopquote.calc.bar.grades import FAMILIES
from shopquote.calc.bar.neutral_axis import measured_k
from shopquote.calc.bar.sections import SECTION_KINDS, spread_unit
from shopquote.calc.job import BEND_AXES
from shopquote.calc.pricing.standards import STARTING_STANDARDS
from shopquote.calc.units import ZERO, Length, show_length
from shopquote.errors import InputError, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.cells import Cell, cell_text
from shopquote.reading.kinds import Kind, Notation, Typed, found_text
from shopquote.records.benders import BenderRow, BendTestRow, FormerRow, KRuleRow
from shopquote.records.materials import PRICE_BASES, GradeRow, StockItem, StockPrice
from shopquote.records.people import Customer, Supplier
from shopquote.records.shop import Saw, TaxRate
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.house_rules import HOUSE
from shopquote.services.shop.list_columns import Column, Key, Shelf, ShopList, Values, comparable
from shopquote.services.shop.on_file import bend_test_of, shop_notation


class _WithDefault(ShopList):
    """A list of which exactly one entry is the usual one."""

    def finish(self, shelf: Shelf, values: Values, row: Any) -> None:
        """After an entry was added or changed."""
        if values["default"]:
            for other in shelf.rows.values():
                if other is not row:
                    other.is_default = False
        elif not any(other.is_default for other in shelf.rows.values()):
            row.is_default = True


class _Suppliers(ShopList):
    """Suppliers; a new one sells in the shop's own money unless it says otherwise."""

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        row, values = super().complete(shelf, given)
        return row, values | {"currency": values["currency"] or shelf.notation.currency}


class _Grades(ShopList):
    """Grades; one that the shop adds or changes is its own."""

    def add(self, shelf: Shelf, values: Values) -> Any:
        """Store a new entry."""
        row = super().add(shelf, values)
        row.own = True
        return row

    def change(self, shelf: Shelf, row: Any, values: Values) -> None:
        """Store other values on an entry."""
        super().change(shelf, row, values)
        row.own = True

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        if values["tensile_mpa"] < values["yield_mpa"]:
            yield (
                "tensile_mpa",
                f"{values['tensile_mpa']}",
                f"at least yield_mpa, {values['yield_mpa']}",
                None,
            )
        for what in ("yield", "tensile"):
            names = (f"{what}_mpa", f"{what}_usual_mpa", f"{what}_most_mpa")
            told = [(name, values[name]) for name in names if values[name] is not None]
            for (lower_name, lower), (name, value) in pairwise(told):
                if value < lower:
                    yield name, f"{value}", f"at least {lower_name}, {lower}", None


class _Rates(ShopList):
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


class _Benders(ShopList):
    """Benders, each with its formers in one cell."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """All entries, in a lasting order; with `on`, only what counts on that day."""
        rows = select(BenderRow).options(selectinload(BenderRow.formers)).order_by(BenderRow.id)
        yield from (self.values_of(row) for row in session.scalars(rows))

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        values = {
            column.name: getattr(row, column.name)
            for column in self.columns
            if column.name not in ("formers", "pins")
        }
        formers = tuple(_Former(former.radius, former.name, former.largest) for former in row.formers)
        return values | {"formers": formers, "pins": tuple(Length(nm) for nm in row.pins)}

    def add(self, shelf: Shelf, values: Values) -> Any:
        """Store a new entry."""
        row = BenderRow(**{n: v for n, v in values.items() if n not in ("formers", "pins")})
        self._put_lists(row, values)
        shelf.session.add(row)
        return row

    def change(self, shelf: Shelf, row: Any, values: Values) -> None:
        """Store other values on an entry."""
        for name, value in values.items():
            if name not in ("formers", "pins"):
                setattr(row, name, value)
        self._put_lists(row, values)

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        names = [(former.radius.nm, former.name) for former in values["formers"]]
        if len(set(names)) < len(names):
            yield "formers", "two formers of the same radius and name", "each once", None

    def _put_lists(self, row: Any, values: Values) -> None:
        row.pins = [pin.nm for pin in values["pins"]]
        wanted = {(one.radius.nm, one.name): one for one in values["formers"]}
        for former in list(row.formers):
            one = wanted.pop((former.radius.nm, former.name), None)
            if one is None:
                row.formers.remove(former)
            else:
                former.largest = one.largest
        for one in wanted.values():
            row.formers.append(FormerRow(radius=one.radius, name=one.name, largest=one.largest))
        row.formers.sort(key=lambda former: (former.radius.nm, former.name))


@dataclass(frozen=True)
class _Former:
    radius: Length
    name: str
    largest: Length | None


_RADIUS = kinds.length()
_DEEPEST = kinds.length(above=True).or_nothing


def _read_formers(value: object, notation: Notation) -> tuple[_Former, ...]:
    text = cell_text(value)
    radii = _plain_radii(text, notation)
    if radii:
        return tuple(_Former(radius, "", None) for radius in sorted(radii))
    found = [_read_former(part, notation) for part in text.split(";") if part.strip()]
    return tuple(sorted(found, key=lambda former: (former.radius.nm, former.name)))


def _plain_radii(text: str, notation: Notation) -> list[Length]:
    """Radii alone, as a person lists them: 8, 12, 15, 20. A semicolon parts formers that say more."""
    words = re.split(r",(?=\s)", text)
    if len(words) == 1 and text.count(",") > 1:
        words = text.split(",")
    if ";" in text or len(words) < 2:
        return []
    try:
        return [_RADIUS.read(word.strip(), notation) for word in spread_unit(words)]
    except InputError:
        return []


def _read_former(text: str, notation: Notation) -> _Former:
    # A comma before a blank parts; without blanks every comma does, save that 24,20 may be decimals.
    spaced = re.split(r",(?=\s|$)", text.strip(), maxsplit=2)
    parts = spaced if len(spaced) > 1 else text.strip().split(",", 2)
    radius, largest, name = (part.strip() for part in [*parts, "", ""][:3])
    if len(parts) == 2 and spaced == [text.strip()]:
        raise TwoReadings(found_text(text), f"{radius}, {largest}", f"{radius}.{largest}")
    return _Former(_RADIUS.read(radius, notation), name, _DEEPEST.read(largest, notation))


def _show_formers(value: Sequence[_Former], notation: Notation) -> Cell:
    shown = "; ".join(
        ", ".join(
            (_RADIUS.text(former.radius, notation), _DEEPEST.text(former.largest, notation), former.name)
        ).rstrip(", ")
        for former in sorted(value, key=lambda former: (former.radius.nm, former.name))
    )
    # One former with its deepest bar would read as two radii.
    return shown + ";" if len(value) == 1 and "," in shown else shown


def _brief_formers(value: Sequence[_Former], notation: Notation) -> Cell:
    if not value:
        return "none"
    least, most = (pick(former.radius for former in value) for pick in (min, max))
    unit = notation.unit
    return f"{len(value)}, r {show_length(least, unit, exact=True)} to {show_length(most, unit, exact=True)}"


_FORMERS: Kind[tuple[_Former, ...]] = Kind(
    "radii such as 8, 12, 15, 20, or formers parted by ;, each RADIUS, DEEPEST BAR (or nothing), NAME",
    _read_formers,
    _show_formers,
    brief=_brief_formers,
)


class _BendTests(ShopList):
    """Bend tests as measured; a test that differs in anything but its note is another test."""

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        values = {c.name: getattr(row, self.attribute(c)) for c in self.columns if c.name != "bar"}
        return values | {"bar": Typed(row.section_key, row.section_text)}

    def add(self, shelf: Shelf, values: Values) -> Any:
        """Store a new entry."""
        row = BendTestRow()
        self.change(shelf, row, values)
        shelf.session.add(row)
        return row

    def change(self, shelf: Shelf, row: Any, values: Values) -> None:
        """Store other values on an entry."""
        for column in self.columns:
            if column.name != "bar":
                setattr(row, self.attribute(column), values[column.name])
        row.section_key, row.section_text = values["bar"].value, values["bar"].text

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        return tuple(comparable(values[c.name]) for c in self.columns if c.name != "note")

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        lengths = ("flat_length", "leg_1", "leg_2")
        missing = [name for name in lengths if values[name] is None]
        if 0 < len(missing) < len(lengths):
            yield missing[0], "nothing", "flat_length, leg_1 and leg_2 together, for a K", None
        elif not missing:
            row = BendTestRow()
            self.change(shelf, row, values)
            try:
                measured_k(bend_test_of(row))
            except InputError as error:
                yield "flat_length", error.message.rstrip("."), error.hint or "a K from 0 to 1", None
        if values["over_bend"] is not None and values["over_bend"] < values["angle"]:
            expected = "the angle pulled to, not less than the angle that was left"
            yield "over_bend", f"{values['over_bend']:f}", expected, None


# What a rule that works its K out has in the column of the fixed one.
_USUAL_K = Decimal("0.5")


class _KRules(ShopList):
    """Neutral-axis rules: one for the bars that its grade, family, section and former name."""

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        names = ("grade", "family", "section_kind", "former_radius")
        return tuple(comparable(values[name]) or "" for name in names)

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        row, values = super().complete(shelf, given)
        # A word that is not there is stored as no text: the rule then holds for all of them.
        values |= {name: values[name] or "" for name in ("grade", "family", "section_kind")}
        if "k" not in given and values["rule"] != "fixed K":
            values["k"] = _USUAL_K
        elif "k" not in given and (row is None or row.rule != "fixed K"):
            values["k"] = None  # a fixed K has to be told
        return row, values

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        if values["k"] is None:
            yield "k", "nothing", "the K, 0 to 1, of a fixed K", None
        elif values["rule"] != "fixed K" and values["k"] != _USUAL_K:
            yield "k", f"{values['k']:f}", f"nothing: {values['rule']} works its K out", None


class _Stock(ShopList):
    """Bars that suppliers sell: a row for each price, old prices included."""

    item_columns: ClassVar[tuple[str, ...]] = (
        "limit",
        "bundle",
        "tolerance",
        "standard",
        "condition",
        "note",
    )

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """All entries, in a lasting order; with `on`, only what counts on that day."""
        rows = session.scalars(
            select(StockItem)
            .options(selectinload(StockItem.prices), selectinload(StockItem.supplier))
            .order_by(StockItem.id)
        )
        for item in rows:
            prices: Iterable[StockPrice | None] = item.prices
            if on is not None:
                prices = _prices_on(item.prices, on)
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

    def begin(self, session: Session, on: date) -> Shelf:
        """What is on file, looked up once for a whole import."""
        shelf = Shelf(session, {}, shop_notation(session), on)
        shelf.extra["suppliers"] = {one.name: one for one in session.scalars(select(Supplier))}
        shelf.extra["items"] = {}
        rows = select(StockItem).options(selectinload(StockItem.prices), selectinload(StockItem.supplier))
        for item in session.scalars(rows):
            values = self._values(item, None)
            shelf.extra["items"][self._item_key(values)] = item
            for price in item.prices:
                shelf.rows[self.key_of(self._values(item, price))] = (item, price)
        return shelf

    def _item_key(self, values: Values) -> Key:
        return tuple(comparable(values[name]) for name in ("supplier", "bar", "grade", "length"))

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        return (*self._item_key(values), values["valid_from"], values["from_kg"])

    def complete(self, shelf: Shelf, given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        item: StockItem | None = shelf.extra["items"].get(self._item_key(given))
        if item is None:
            values = self.usual_values() | given
            if values["price"] is not None and values["valid_from"] is None:
                values["valid_from"] = shelf.on
            return None, values
        break_kg = given.get("from_kg", Decimal(0))
        now = next((p for p in _prices_on(item.prices, shelf.on) if p.break_kg == break_kg), None)
        values = self._values(item, now) | {"from_kg": break_kg} | given
        if given.get("valid_from") is None:
            if given.get("price") is None or (
                now is not None and (now.price, now.basis) == (values["price"], values["basis"])
            ):
                return (item, now), values | {"valid_from": None if now is None else now.valid_from}
            # Another price without a day counts from today; the old one stays as history.
            values |= {"valid_from": shelf.on, "invented": given.get("invented", False)}
        return shelf.rows.get(self.key_of(values)), values

    def check(self, shelf: Shelf, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        missing = [name for name in ("price", "basis", "valid_from") if values[name] is None]
        if 0 < len(missing) < 3:
            yield missing[0], "nothing", "price, basis and valid_from together", None
        if values["tolerance"] >= values["length"].value:
            shown = kinds.length().show(values["tolerance"], shelf.notation)
            yield "tolerance", str(shown), "how much shorter the bar may come: less than its length", None
        told = shelf.extra.setdefault("told", {})
        own = {name: values[name] for name in self.item_columns}
        first = told.setdefault(self._item_key(values), own)
        for name in self.item_columns:
            if own[name] != first[name]:
                yield name, repr(own[name]), f"the same in every row of one bar, {first[name]!r}", None

    def add(self, shelf: Shelf, values: Values) -> Any:
        """Store a new entry."""
        key = self._item_key(values)
        item = shelf.extra["items"].get(key)
        if item is None:
            item = StockItem(
                supplier=shelf.extra["suppliers"][values["supplier"]],
                section_key=values["bar"].value,
                section_text=values["bar"].text,
                grade=values["grade"],
                length=values["length"].value,
                length_text=values["length"].text,
                prices=[],
            )
            shelf.session.add(item)
            shelf.extra["items"][key] = item
        return self._put(item, None, values)

    def change(self, shelf: Shelf, row: Any, values: Values) -> None:
        """Store other values on an entry."""
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


def _prices_on(prices: Iterable[StockPrice], on: date) -> list[StockPrice]:
    """Of each mass break the newest price that is not after a day."""
    newest: dict[Decimal, StockPrice] = {}
    for price in sorted(prices, key=lambda price: price.valid_from):
        if price.valid_from <= on:
            newest[price.break_kg] = price
    return [newest[break_kg] for break_kg in sorted(newest)]


def _named(*columns: Column) -> tuple[Column, ...]:
    return (Column("name", kinds.NAME, key=True), *columns)


_NOTE = Column("note", kinds.TEXT, usual="", shown=False)

_ALL_LISTS: tuple[ShopList, ...] = (
    _Stock(
        "stock",
        "Bars that suppliers sell",
        "price",
        (
            Column("supplier", kinds.NAME, key=True, on_list="suppliers"),
            Column("bar", kinds.BAR, key=True),
            Column("grade", kinds.GRADE, key=True, on_list="grades"),
            Column("length", kinds.TYPED_LENGTH, key=True),
            Column("price", kinds.money().or_nothing),
            Column("basis", kinds.word(PRICE_BASES).or_nothing),
            Column("from_kg", kinds.number(), usual=Decimal(0)),
            Column("valid_from", kinds.DAY.or_nothing),
            Column("limit", kinds.count().or_nothing),
            Column("bundle", kinds.count(least=1).or_nothing),
            Column("tolerance", kinds.length(), usual=ZERO, shown=False),
            Column("standard", kinds.TEXT, usual="", shown=False),
            Column("condition", kinds.TEXT, usual="", shown=False),
            Column("invented", kinds.YES_NO, usual=False),
            _NOTE,
        ),
    ),
    _Rates(
        "rates",
        "Standards and rates",
        "standard on one day",
        _named(
            Column("value", kinds.number(), required=True),
            Column("unit", kinds.TEXT, usual=""),
            Column("since", kinds.DAY.or_nothing),
            Column("spread_pct", kinds.percent(), usual=Decimal(20)),
            Column("source", kinds.TEXT, usual="set by the shop"),
            Column("accepted_from", kinds.FACTS, usual={}, shown=False),
        ),
        StandardRow,
        placed=("name", "value"),
    ),
    _Benders(
        "benders",
        "Benders",
        "bender",
        _named(
            Column("largest_moment_nm", kinds.number(above=True), required=True),
            Column("opening", kinds.length(above=True), required=True),
            Column("width", kinds.length(above=True), required=True),
            Column("lever", kinds.length(), required=True),
            Column("formers", _FORMERS, usual=()),
            Column("smallest_leg", kinds.length(), usual=ZERO, shown=False),
            Column("smallest_between", kinds.length(), usual=ZERO, shown=False),
            Column("largest_angle", kinds.number(above=True, most=360), required=True),
            Column("works_by", kinds.word(WORKS_BY), usual="draw"),
            Column("mark_at", kinds.word(MARKS_AT), usual="start", shown=False),
            Column("mark_offset", kinds.OFFSET, usual=ZERO, shown=False),
            Column("clear_radius", kinds.length(), usual=ZERO, shown=False),
            Column("pins", kinds.LENGTHS, usual=(), shown=False),
            Column("arc_step", kinds.length(above=True), usual=USUAL_ARC_STEP, shown=False),
            Column("powered", kinds.YES_NO, usual=False),
            Column("rolls_to", kinds.length(above=True).or_nothing),
            Column("bench_radius", kinds.length(), usual=ZERO, shown=False),
            Column("both_ways", kinds.YES_NO, usual=False, shown=False),
            Column("friction_pct", kinds.percent(), usual=Decimal(15), shown=False),
            _NOTE,
        ),
        BenderRow,
    ),
    ShopList(
        "customers",
        "Customers",
        "customer",
        _named(
            Column("address", kinds.TEXT, usual=""),
            Column("email", kinds.TEXT, usual=""),
            Column("phone", kinds.TEXT, usual=""),
            Column("tax_exempt", kinds.YES_NO, usual=False),
            Column("note", kinds.TEXT, usual=""),
        ),
        Customer,
    ),
    _Suppliers(
        "suppliers",
        "Suppliers",
        "supplier",
        _named(
            Column("address", kinds.TEXT, usual=""),
            Column("email", kinds.TEXT, usual=""),
            Column("phone", kinds.TEXT, usual=""),
            Column("currency", kinds.CURRENCY),
            Column("exchange_rate", kinds.number(above=True, decimals=4), usual=Decimal(1), shown=False),
            Column("delivery_charge", kinds.money(), usual=Decimal(0)),
            Column("free_from", kinds.money().or_nothing),
            Column("lead_days", kinds.count(most=1000), usual=0),
            Column("cut_charge", kinds.money().or_nothing),
            Column("certificate_kind", kinds.TEXT, usual="", shown=False),
            Column("column_map", kinds.FACTS, usual={}, shown=False),
            Column("invented", kinds.YES_NO, usual=False, shown=False),
            _NOTE,
        ),
        Supplier,
    ),
    _Grades(
        "grades",
        "Grades",
        "grade",
        (
            Column("name", kinds.GRADE, key=True),
            Column("family", kinds.word(FAMILIES), required=True),
            Column("density_kg_m3", kinds.number(above=True, most=30000), required=True),
            Column("yield_mpa", kinds.number(above=True, most=5000), required=True),
            Column("tensile_mpa", kinds.number(above=True, most=5000), required=True),
            Column("e_gpa", kinds.number(above=True, most=1000), required=True, shown=False),
            Column("elongation_pct", kinds.number(most=200), required=True),
            Column("reduction_of_area_pct", kinds.number(most=100).or_nothing, shown=False),
            Column("min_radius_ratio", kinds.number(most=100), usual=Decimal(1)),
            Column("cold_bend", kinds.YES_NO, usual=True),
            Column("yield_usual_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            Column("yield_most_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            Column("tensile_usual_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            Column("tensile_most_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            Column("paper", kinds.TEXT, usual=""),
            Column("paper_hollow", kinds.TEXT, usual="", shown=False),
            Column("sources", kinds.PAIRS, usual={}, shown=False),
        ),
        GradeRow,
    ),
    _WithDefault(
        "saws",
        "Saws",
        "saw",
        _named(
            Column("kerf", kinds.length(), required=True),
            Column("trim", kinds.length(), usual=ZERO),
            Column("grip", kinds.length(), usual=ZERO),
            Column("keep_min", kinds.length().or_nothing),
            Column("keep_percent", kinds.percent(100), usual=Decimal(0)),
            Column("nest_mitres", kinds.YES_NO, usual=False),
            Column("default", kinds.YES_NO, usual=False),
        ),
        Saw,
        {"default": "is_default"},
    ),
    _WithDefault(
        "taxes",
        "Taxes on quotes",
        "tax",
        _named(
            Column("percent", kinds.percent(100), required=True),
            Column("default", kinds.YES_NO, usual=False),
        ),
        TaxRate,
        {"default": "is_default"},
        placed=("name", "percent"),
    ),
    _BendTests(
        "bend-tests",
        "Bend tests of the shop's own",
        "bend test",
        (
            Column("made_on", kinds.DAY, key=True),
            Column("bar", kinds.BAR, key=True),
            Column("grade", kinds.GRADE, key=True, on_list="grades"),
            Column("former_radius", kinds.length(), key=True),
            Column("angle", kinds.number(above=True, most=360), key=True),
            Column("bend_axis", kinds.word(BEND_AXES), usual="easy"),
            Column("flat_length", kinds.length(above=True).or_nothing),
            Column("leg_1", kinds.length(above=True).or_nothing),
            Column("leg_2", kinds.length(above=True).or_nothing),
            Column("inside_radius", kinds.length().or_nothing),
            Column("over_bend", kinds.number(above=True, most=400).or_nothing),
            _NOTE,
        ),
        BendTestRow,
        removable=True,
    ),
    _KRules(
        "k-rules",
        "Rules for the neutral axis",
        "rule",
        (
            Column("rule", kinds.word(NEUTRAL_AXIS_RULES), required=True),
            Column("k", kinds.number(most=1), usual=_USUAL_K),
            Column("grade", kinds.GRADE.or_nothing, usual="", on_list="grades"),
            Column("family", kinds.word(FAMILIES).or_nothing, usual=""),
            Column("section_kind", kinds.word(SECTION_KINDS).or_nothing, usual=""),
            Column("former_radius", kinds.length(above=True).or_nothing),
            Column("source", kinds.TEXT, usual=""),
        ),
        KRuleRow,
        placed=("rule",),
        removable=True,
    ),
    HOUSE,
)

LISTS: dict[str, ShopList] = {shop_list.name: shop_list for shop_list in _ALL_LISTS}
