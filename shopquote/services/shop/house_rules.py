"""House rules: how the shop prices, what its quotes say, how it works bends out; one value each.

The values are columns of the shop's one row. They are presented as one of the shop's lists, so that they are
read, set, imported and exported like the others, but entries cannot be added. Begin at `HOUSE_RULES`.
"""

from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.bar.benders import DATUMS, SHARINGS
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import (
    INWARDS_RULES,
    LEARNING_MODELS,
    LINE_STYLES,
    MATERIAL_BASES,
    RACK_BASES,
)
from shopquote.calc.pricing.terms import PAPERS
from shopquote.errors import InputError, Misread, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.cells import cell_text
from shopquote.reading.forms import FormColumn
from shopquote.reading.kinds import Kind, Notation, found_text
from shopquote.records.shop import Shop
from shopquote.services.shop.list_columns import Key, OpenList, ShopList, Values
from shopquote.services.shop.logo import logo_place
from shopquote.services.shop.shop_on_file import notation_of, shop_notation, the_shop


@dataclass(frozen=True)
class HouseRule:
    """One rule: its name, the kind of its value, and what it does.

    Its value is the shop's column of that name, or what `get` and `put` make of other columns.
    """

    name: str
    kind: Kind[Any]
    meaning: str
    get: Callable[[Shop], Any] | None = None
    put: Callable[[Shop, Any], None] | None = None
    # Checks a new value further than its kind does and returns what is stored; raises `InputError`.
    kept: Callable[[Any], Any] | None = None

    def shown(self, shop: Shop, notation: Notation) -> str:
        """The value on file as a text that reads back to it."""
        return self.kind.text(self.get(shop) if self.get else getattr(shop, self.name), notation)

    def new_value(self, shop: Shop, text: str, notation: Notation) -> Any:
        """The value to store for a text.

        A text equal to the value on file skips `kept`: a logo that has since moved must not block an import.

        Raises:
            InputError: it cannot be used.
        """
        value = self.kind.read(text, notation)
        is_new = self.kept is not None and text != self.shown(shop, notation)
        return self.kept(value) if self.kept and is_new else value

    def store(self, shop: Shop, text: str, notation: Notation) -> None:
        """Set the shop's columns from a text that was checked before.

        Raises:
            InputError: it cannot be used.
        """
        value = self.new_value(shop, text, notation)
        if self.put:
            self.put(shop, value)
        else:
            setattr(shop, self.name, value)


# --- margin or markup ---------------------------------------------------------------------------

# Most per cent. A margin of 100 % of the price would leave no price at which cost is covered.
_MOST = {"margin": Decimal("99.99"), "markup": Decimal(10_000)}
_PERCENT = {word: kinds.number(most=most) for word, most in _MOST.items()}


def _read_profit(value: object, notation: Notation) -> tuple[str, Decimal]:
    word, _, number = cell_text(value).strip().partition(" ")
    if word.casefold() not in _MOST:
        raise Misread(found_text(value), _PROFIT.expected, nearest_word(word, list(_MOST)))
    try:
        return word.casefold(), _PERCENT[word.casefold()].read(number, notation)
    except TwoReadings:
        raise
    except Misread as error:
        raise Misread(found_text(value), _PROFIT.expected) from error


def _show_profit(value: tuple[str, Decimal] | None, notation: Notation) -> str:
    return "" if value is None else f"{value[0]} {_PERCENT[value[0]].text(value[1], notation)}"


_PROFIT: Kind[Any] = Kind(
    "margin 30 (per cent of the price) or markup 45 (of the cost)", _read_profit, _show_profit
)


def _profit_of(shop: Shop) -> tuple[str, Decimal] | None:
    if shop.markup_pct is not None:
        return "markup", shop.markup_pct
    return None if shop.margin_pct is None else ("margin", shop.margin_pct)


def _put_profit(shop: Shop, value: tuple[str, Decimal]) -> None:
    word, percent = value
    shop.margin_pct = percent if word == "margin" else None
    shop.markup_pct = percent if word == "markup" else None


_SHARE = kinds.percent(100)
_OWN_MARKUP = kinds.number(most=10_000).or_nothing

HOUSE_RULES: tuple[HouseRule, ...] = (
    HouseRule(
        "profit", _PROFIT, "margin N: % of the price; markup N: % of the cost", _profit_of, _put_profit
    ),
    HouseRule("minimum_order", kinds.money(), "no quote is below this, before tax"),
    HouseRule("overhead_pct", kinds.percent(), "added to labour"),
    HouseRule(
        "overhead_per_month", kinds.money().or_nothing,
        "rent, power, machines, office as spent: reviews set it against what jobs carry; blank: not told",
    ),
    HouseRule("contingency_pct", kinds.percent(), "added to all cost"),
    HouseRule("scrap_pct", kinds.percent(), "added to material and labour for spoilt pieces"),
    HouseRule(
        "material_basis", kinds.word(MATERIAL_BASES),
        "bought: bars as planned; net: pieces and net_share_pct",
    ),
    HouseRule("net_share_pct", kinds.percent(), "added to net material"),
    HouseRule("credit_offcuts", kinds.YES_NO, "yes: kept offcuts are taken off the material"),
    HouseRule("rack_charge_pct", kinds.percent(), "of what rack_basis says, for bar from the rack"),
    HouseRule("rack_basis", kinds.word(RACK_BASES), "rack bars at today's price, or at what they cost"),
    HouseRule("rack_worth_pct", kinds.percent(), "of a new bar's price, to weigh a rack bar without a cost"),
    HouseRule(
        "inwards", kinds.word(INWARDS_RULES),
        "deliveries, certificates, rest of bars: whole: all to the job; share: less what is kept; or usual",
    ),
    HouseRule("usual_inwards", kinds.money(), "a job, in place of deliveries, where inwards is usual"),
    HouseRule("bought_markup_pct", _OWN_MARKUP, "on bought items; blank: as profit says"),
    HouseRule("outside_markup_pct", _OWN_MARKUP, "on outside work; blank: as profit says"),
    HouseRule("learning", kinds.word(LEARNING_MODELS), "over a run: unit is Crawford, average is Wright"),
    HouseRule("quote_lines", kinds.word(LINE_STYLES), "a line on the quote is a set or a part"),
    HouseRule(
        "payment_days", kinds.count(least=0, most=365).or_nothing,
        "from an invoice to its due day; blank: an invoice is due when --due says",
    ),
    HouseRule("deposit_pct", _SHARE, "asked for with the order"),
    HouseRule("quote_valid_days", kinds.count(least=1, most=3650), "days that a quote is valid"),
    HouseRule(
        "lead_time", kinds.TEXT,
        "printed on quotes, as the four below; type worked out to have it from the work on hand",
    ),
    HouseRule("terms", kinds.TEXT, "of payment and else"),
    HouseRule("delivery_term", kinds.TEXT, "who carries it where"),
    HouseRule("included", kinds.TEXT, "in the price"),
    HouseRule("excluded", kinds.TEXT, "from the price"),
    HouseRule("locale", kinds.LOCALE, "language of quotes, and what a comma in a number means: en_GB, de_DE"),
    HouseRule("paper", kinds.word(PAPERS), "that sheets are laid out for"),
    HouseRule("logo_path", kinds.TEXT, "PNG, JPEG or GIF file that is printed on quotes", kept=logo_place),
    HouseRule(
        "page_address", kinds.ADDRESS,
        "where phones find the page; printed codes open it, as http://192.168.1.20:8765",
    ),
    HouseRule("bend_datum", kinds.word(DATUMS), "end of the bar that bend marks are measured from"),
    HouseRule("hand_pull_n", kinds.number(above=True, most=2000), "newtons that one person pulls for long"),
    HouseRule("twist_loss_pct", _SHARE, "length that a twist takes up"),
    HouseRule("forge_loss_pct", _SHARE, "metal that burns off a forged point"),
    HouseRule("arc_gap", kinds.length(above=True), "between a curve and the small bends that make it"),
    HouseRule("small_bends", kinds.word(SHARINGS), "how those of a scroll share it: its length or its angle"),
    HouseRule("formers_along", kinds.YES_NO, "yes: those of a scroll may change the former along it"),
    HouseRule("planning_mm", kinds.length(above=True), "step of cut lengths for a job in millimetres"),
    HouseRule("planning_in", kinds.length(above=True), "step of cut lengths for a job in inches"),
    HouseRule("backups_kept", kinds.count(least=0, most=3650), "days of use that a copy is kept of; 0: none"),
)  # fmt: skip
_BY_NAME = {rule.name: rule for rule in HOUSE_RULES}


class _HouseRules(ShopList):
    """The rules as a list; its "row" is a pair (shop's row, rule)."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """Every entry as values by column, in stored order; with `on`, only what applies on that day."""
        shop = the_shop(session)
        yield from (self.values_of((shop, rule)) for rule in HOUSE_RULES)

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        shop, rule = row
        return {"name": rule.name, "value": rule.shown(shop, notation_of(shop)), "meaning": rule.meaning}

    def begin(self, session: Session, on: date) -> OpenList:
        """Read the rows on file by key, once for all entries of an import."""
        shop = the_shop(session)
        rows: dict[Key, Any] = {(rule.name,): (shop, rule) for rule in HOUSE_RULES}
        return OpenList(session, rows, shop_notation(session), on)

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them."""
        row, values = super().complete(opened, given)
        if row is not None:
            rule: HouseRule = row[1]
            values["meaning"] = rule.meaning
            with suppress(InputError):  # `check` reports it with its column
                values["value"] = rule.kind.text(
                    rule.kind.read(values["value"], opened.notation), opened.notation
                )
        return row, values

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        rule = _BY_NAME.get(values["name"])
        if rule is None:
            yield "name", repr(values["name"]), "a house rule", nearest_word(values["name"], _BY_NAME)
            return
        try:
            rule.new_value(the_shop(opened.session), values["value"], opened.notation)
        except Misread as error:
            yield "value", error.found, f"for {rule.name} {error.expected}", error.nearest
        except InputError as error:
            yield (
                "value",
                found_text(values["value"]),
                f"for {rule.name} {rule.meaning}. {error.message}",
                None,
            )

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        shop, rule = row
        rule.store(shop, values["value"], opened.notation)


HOUSE = _HouseRules(
    "house",
    "House rules",
    "house rule",
    (
        FormColumn("name", kinds.NAME, key=True),
        FormColumn("value", kinds.TEXT, required=True),
        FormColumn("meaning", kinds.TEXT, usual=""),
    ),
    placed=("name", "value"),
    removable=False,
)
