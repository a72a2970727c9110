"""All lists of the shop with their columns; lists with much behaviour of their own have their own module."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise
from typing import Any

from shopquote.calc.bar.benders import MARKS_AT, NEUTRAL_AXIS_RULES, USUAL_ARC_STEP, WORKS_BY
from shopquote.calc.bar.grades import FAMILIES
from shopquote.calc.bar.sections import SECTION_KINDS
from shopquote.calc.buying.prices import BASIS_WORDS
from shopquote.calc.job import BEND_AXES, OPERATIONS
from shopquote.calc.units import ZERO
from shopquote.reading import kinds
from shopquote.reading.forms import FormColumn
from shopquote.reading.kinds import Notation
from shopquote.records.benders import BenderRow, BendTestRow, KRuleRow
from shopquote.records.crew import DaysOffRow, PersonRow
from shopquote.records.logs import OutsideBill
from shopquote.records.materials import PRICE_BASES, GradeRow
from shopquote.records.page import WHO_WORKED
from shopquote.records.people import Customer, Supplier
from shopquote.records.shop import Saw, TaxRow
from shopquote.records.standards import StandardRow
from shopquote.services.shop.bend_lists import USUAL_K, BendTestList, KRuleList
from shopquote.services.shop.bender_list import BENDER_ASKS, FORMERS, BenderList
from shopquote.services.shop.house_rules import HOUSE
from shopquote.services.shop.list_columns import OpenList, ShopList, Values
from shopquote.services.shop.people_lists import DaysOffList
from shopquote.services.shop.rate_list import SET_BY_SHOP, RateList
from shopquote.services.shop.stock_list import StockList


class _WithDefault(ShopList):
    """A list of which exactly one entry is the default."""

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        if values["default"] and values["retired"]:
            yield "retired", "yes", "no for what is used by default; make another the default first", None

    def why_kept(self, row: Any) -> str:
        """Why a row must stay, whatever refers to it; nothing where it may go."""
        return "it is used by default; make another the default first" if row.is_default else ""

    def finish(self, opened: OpenList, values: Values, row: Any) -> None:
        """After an entry was added or changed."""
        # Exactly one default at any time: a new default unsets the others, and the last one cannot be unset.
        if values["default"]:
            for other in opened.rows.values():
                if other is not row:
                    other.is_default = False
        elif not any(other.is_default for other in opened.rows.values()):
            row.is_default = True


class _Suppliers(ShopList):
    """Suppliers; a new one's currency is the shop's unless given."""

    def notation(self, opened: OpenList, given: Values) -> Notation:
        """How a cell of an entry is typed: charges in the supplier's currency."""
        key = self.columns[0].kind.key(given.get("name", ""))
        row = opened.rows.get((self.own_names(opened).get(key),))
        return opened.notation_in(given.get("currency") or ("" if row is None else row.currency))

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them."""
        row, values = super().complete(opened, given)
        return row, values | {"currency": values["currency"] or opened.notation.currency}


class _Grades(ShopList):
    """Grades; one that the shop adds or changes is marked as its own."""

    def add(self, opened: OpenList, values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        row = super().add(opened, values)
        row.own = True
        return row

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        super().change(opened, row, values)
        row.own = True

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        if values["tensile_mpa"] < values["yield_mpa"]:
            yield (
                "tensile_mpa",
                f"{values['tensile_mpa']}",
                f"at least yield_mpa, {values['yield_mpa']}",
                None,
            )
        # Least, usual and most strength must not decrease; those not given are skipped.
        for what in ("yield", "tensile"):
            names = (f"{what}_mpa", f"{what}_usual_mpa", f"{what}_most_mpa")
            told = [(name, values[name]) for name in names if values[name] is not None]
            for (lower_name, lower), (name, value) in pairwise(told):
                if value < lower:
                    yield name, f"{value}", f"at least {lower_name}, {lower}", None


def _named(*columns: FormColumn) -> tuple[FormColumn, ...]:
    return (FormColumn("name", kinds.NAME, key=True), *columns)


_NOTE = FormColumn("note", kinds.TEXT, usual="", shown=False)
_RETIRED = FormColumn("retired", kinds.YES_NO, usual=False)

_ALL_LISTS: tuple[ShopList, ...] = (
    StockList(
        "stock",
        "Bars that suppliers sell",
        "price",
        (
            FormColumn("supplier", kinds.NAME, key=True, on_list="suppliers"),
            FormColumn("bar", kinds.BAR, key=True),
            FormColumn("grade", kinds.GRADE, key=True, on_list="grades"),
            FormColumn("length", kinds.TYPED_LENGTH, key=True),
            FormColumn("price", kinds.money().or_nothing),
            FormColumn("basis", kinds.word(PRICE_BASES, BASIS_WORDS).or_nothing),
            FormColumn("from_kg", kinds.MASS, usual=Decimal(0), title="from mass"),
            FormColumn("valid_from", kinds.DAY.or_nothing),
            FormColumn("limit", kinds.count().or_nothing),
            FormColumn("bundle", kinds.count(least=1).or_nothing),
            FormColumn("tolerance", kinds.length(), usual=ZERO, shown=False),
            FormColumn("standard", kinds.TEXT, usual="", shown=False),
            FormColumn("condition", kinds.TEXT, usual="", shown=False),
            FormColumn("invented", kinds.YES_NO, usual=False),
            _NOTE,
            _RETIRED,
        ),
    ),
    RateList(
        "rates",
        "Standards and rates",
        "standard on one day",
        _named(
            FormColumn("value", kinds.standard(), required=True),
            FormColumn("unit", kinds.TEXT, usual=""),
            FormColumn("since", kinds.DAY.or_nothing),
            FormColumn("spread_pct", kinds.percent(), usual=Decimal(20)),
            FormColumn("source", kinds.TEXT, usual=SET_BY_SHOP),
            FormColumn("accepted_from", kinds.FACTS, usual={}, shown=False),
        ),
        StandardRow,
        placed=("name", "value"),
    ),
    BenderList(
        "benders",
        "Benders",
        "bender",
        _named(
            FormColumn("largest_moment_nm", kinds.MOMENT, required=True),
            FormColumn("opening", kinds.length(above=True), required=True),
            FormColumn("width", kinds.length(above=True), required=True),
            FormColumn("lever", kinds.length(), required=True),
            FormColumn("formers", FORMERS, usual=()),
            FormColumn("smallest_leg", kinds.length(), usual=ZERO, shown=False),
            FormColumn("smallest_between", kinds.length(), usual=ZERO, shown=False),
            FormColumn("largest_angle", kinds.number(above=True, most=360), required=True),
            FormColumn("works_by", kinds.word(WORKS_BY), usual="draw"),
            FormColumn("mark_at", kinds.word(MARKS_AT), usual="start", shown=False),
            FormColumn("mark_offset", kinds.OFFSET, usual=ZERO, shown=False),
            FormColumn("clear_radius", kinds.length(), usual=ZERO, shown=False),
            FormColumn("pins", kinds.LENGTHS, usual=(), shown=False),
            FormColumn("arc_step", kinds.length(above=True), usual=USUAL_ARC_STEP, shown=False),
            FormColumn("powered", kinds.YES_NO, usual=False),
            FormColumn("rolls_to", kinds.length(above=True).or_nothing),
            FormColumn("bench_radius", kinds.length(), usual=ZERO, shown=False),
            FormColumn("both_ways", kinds.YES_NO, usual=False, shown=False),
            FormColumn("friction_pct", kinds.percent(), usual=Decimal(15), shown=False),
            _NOTE,
            _RETIRED,
        ),
        BenderRow,
        asks=BENDER_ASKS,
    ),
    ShopList(
        "customers",
        "Customers",
        "customer",
        _named(
            FormColumn("address", kinds.TEXT, usual=""),
            FormColumn("email", kinds.MAIL, usual=""),
            FormColumn("phone", kinds.TEXT, usual=""),
            FormColumn("locale", kinds.OWN_LOCALE, usual=""),
            FormColumn("tax_exempt", kinds.YES_NO, usual=False),
            FormColumn("note", kinds.TEXT, usual=""),
            _RETIRED,
        ),
        Customer,
    ),
    _Suppliers(
        "suppliers",
        "Suppliers",
        "supplier",
        _named(
            FormColumn("address", kinds.TEXT, usual=""),
            FormColumn("email", kinds.MAIL, usual=""),
            FormColumn("phone", kinds.TEXT, usual=""),
            FormColumn("locale", kinds.OWN_LOCALE, usual=""),
            FormColumn("currency", kinds.CURRENCY),
            FormColumn("exchange_rate", kinds.number(above=True, decimals=4), usual=Decimal(1), shown=False),
            FormColumn("delivery_charge", kinds.money(), usual=Decimal(0)),
            FormColumn("free_from", kinds.money().or_nothing),
            FormColumn("lead_days", kinds.count(most=1000), usual=0),
            FormColumn("cut_charge", kinds.money().or_nothing),
            FormColumn("certificate_kind", kinds.TEXT, usual="", shown=False),
            FormColumn("certificate_charge", kinds.money(), usual=Decimal(0), shown=False),
            FormColumn("column_map", kinds.FACTS, usual={}, shown=False),
            FormColumn("invented", kinds.YES_NO, usual=False, shown=False),
            _NOTE,
            _RETIRED,
        ),
        Supplier,
        spelt_in=(OutsideBill.supplier,),
    ),
    _Grades(
        "grades",
        "Grades",
        "grade",
        (
            FormColumn("name", kinds.GRADE, key=True),
            FormColumn("family", kinds.word(FAMILIES), required=True),
            FormColumn("density_kg_m3", kinds.number(above=True, most=30000), required=True),
            FormColumn("yield_mpa", kinds.number(above=True, most=5000), required=True),
            FormColumn("tensile_mpa", kinds.number(above=True, most=5000), required=True),
            FormColumn("e_gpa", kinds.number(above=True, most=1000), required=True, shown=False),
            FormColumn("elongation_pct", kinds.number(most=200), required=True),
            FormColumn("reduction_of_area_pct", kinds.number(most=100).or_nothing, shown=False),
            FormColumn("min_radius_ratio", kinds.number(most=100), usual=Decimal(1)),
            FormColumn("cold_bend", kinds.YES_NO, usual=True),
            FormColumn("yield_usual_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            FormColumn("yield_most_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            FormColumn("tensile_usual_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            FormColumn("tensile_most_mpa", kinds.number(above=True, most=5000).or_nothing, shown=False),
            FormColumn("paper", kinds.TEXT, usual=""),
            FormColumn("paper_hollow", kinds.TEXT, usual="", shown=False),
            FormColumn("sources", kinds.PAIRS, usual={}, shown=False),
            _RETIRED,
        ),
        GradeRow,
        named_in="grade",
    ),
    _WithDefault(
        "saws",
        "Saws",
        "saw",
        _named(
            FormColumn("kerf", kinds.length(), required=True),
            FormColumn("trim", kinds.length(), usual=ZERO),
            FormColumn("grip", kinds.length(), usual=ZERO),
            FormColumn("keep_min", kinds.length().or_nothing),
            FormColumn("keep_percent", kinds.percent(100), usual=Decimal(0)),
            FormColumn("nest_mitres", kinds.YES_NO, usual=False),
            FormColumn("default", kinds.YES_NO, usual=False),
            _RETIRED,
        ),
        Saw,
        {"default": "is_default"},
    ),
    _WithDefault(
        "taxes",
        "Taxes on quotes",
        "tax",
        _named(
            FormColumn("percent", kinds.percent(100), required=True),
            FormColumn("default", kinds.YES_NO, usual=False),
            _RETIRED,
        ),
        TaxRow,
        {"default": "is_default"},
        placed=("name", "percent"),
    ),
    ShopList(
        "people",
        "People and their hours",
        "person",
        _named(
            FormColumn("hours", kinds.number(above=True, most=168), required=True),
            FormColumn("days", kinds.count(least=1, most=7), usual=5),
            FormColumn("operations", kinds.words(OPERATIONS), usual=()),
            FormColumn("note", kinds.TEXT, usual=""),
        ),
        PersonRow,
        placed=("name", "hours"),
        spelt_in=WHO_WORKED,
    ),
    DaysOffList(
        "days-off",
        "Days off",
        "entry",
        (
            FormColumn("first", kinds.DAY, key=True),
            FormColumn("last", kinds.DAY.or_nothing),
            FormColumn("person", kinds.NAME.or_nothing, usual="", on_list="people"),
            FormColumn("note", kinds.TEXT, usual=""),
        ),
        DaysOffRow,
        placed=("first", "last"),
    ),
    BendTestList(
        "bend-tests",
        "Bend tests of the shop's own",
        "bend test",
        (
            FormColumn("made_on", kinds.DAY, key=True),
            FormColumn("bar", kinds.BAR, key=True),
            FormColumn("grade", kinds.GRADE, key=True, on_list="grades"),
            FormColumn("former_radius", kinds.length(), key=True),
            FormColumn("angle", kinds.number(above=True, most=360), key=True),
            FormColumn("bend_axis", kinds.word(BEND_AXES), usual="easy"),
            FormColumn("flat_length", kinds.length(above=True).or_nothing),
            FormColumn("leg_1", kinds.length(above=True).or_nothing),
            FormColumn("leg_2", kinds.length(above=True).or_nothing),
            FormColumn("inside_radius", kinds.length().or_nothing),
            FormColumn("over_bend", kinds.number(above=True, most=400).or_nothing),
            _NOTE,
        ),
        BendTestRow,
    ),
    KRuleList(
        "k-rules",
        "Rules for the neutral axis",
        "rule",
        (
            FormColumn("rule", kinds.word(NEUTRAL_AXIS_RULES), required=True),
            FormColumn("k", kinds.number(most=1), usual=USUAL_K),
            FormColumn("grade", kinds.GRADE.or_nothing, usual="", on_list="grades"),
            FormColumn("family", kinds.word(FAMILIES).or_nothing, usual=""),
            FormColumn("section_kind", kinds.word(SECTION_KINDS).or_nothing, usual=""),
            FormColumn("former_radius", kinds.length(above=True).or_nothing),
            FormColumn("source", kinds.TEXT, usual=""),
        ),
        KRuleRow,
        placed=("rule",),
    ),
    HOUSE,
)

LISTS: dict[str, ShopList] = {shop_list.name: shop_list for shop_list in _ALL_LISTS}
