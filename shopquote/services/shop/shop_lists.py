"""The shop's lists: their columns; those that do much in their own way have a module of their own."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise
from typing import Any

from shopquote.calc.bar.benders import MARKS_AT, NEUTRAL_AXIS_RULES, USUAL_ARC_STEP, WORKS_BY
from shopquote.calc.bar.grades import FAMILIES
from shopquote.calc.bar.sections import SECTION_KINDS
from shopquote.calc.job import BEND_AXES
from shopquote.calc.units import ZERO
from shopquote.reading import kinds
from shopquote.records.benders import BenderRow, BendTestRow, KRuleRow
from shopquote.records.materials import PRICE_BASES, GradeRow
from shopquote.records.people import Customer, Supplier
from shopquote.records.shop import Saw, TaxRate
from shopquote.records.standards import StandardRow
from shopquote.services.shop.bend_lists import USUAL_K, BendTestList, KRuleList
from shopquote.services.shop.bender_list import FORMERS, BenderList
from shopquote.services.shop.house_rules import HOUSE
from shopquote.services.shop.list_columns import Column, Shelf, ShopList, Values
from shopquote.services.shop.rate_list import RateList
from shopquote.services.shop.stock_list import StockList


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


def _named(*columns: Column) -> tuple[Column, ...]:
    return (Column("name", kinds.NAME, key=True), *columns)


_NOTE = Column("note", kinds.TEXT, usual="", shown=False)

_ALL_LISTS: tuple[ShopList, ...] = (
    StockList(
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
    RateList(
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
    BenderList(
        "benders",
        "Benders",
        "bender",
        _named(
            Column("largest_moment_nm", kinds.number(above=True), required=True),
            Column("opening", kinds.length(above=True), required=True),
            Column("width", kinds.length(above=True), required=True),
            Column("lever", kinds.length(), required=True),
            Column("formers", FORMERS, usual=()),
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
    BendTestList(
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
    KRuleList(
        "k-rules",
        "Rules for the neutral axis",
        "rule",
        (
            Column("rule", kinds.word(NEUTRAL_AXIS_RULES), required=True),
            Column("k", kinds.number(most=1), usual=USUAL_K),
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
