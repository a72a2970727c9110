"""The columns of an order's lines, one entry each.

The workbook, the e-mail text, the CSV, the terminal and JSON all draw `ORDER_COLUMNS`; for orders on file
`LINES_ON_FILE`, the same columns plus what was received.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, cast

from shopquote.calc.buying.order_document import OrderDocument, OrderedLine
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.units import Unit, show_length
from shopquote.outputs.looks import (
    BAR_LENGTH,
    COUNT,
    DAY,
    FIGURE,
    MASS,
    MONEY,
    PRICE,
    YES,
    Look,
    Setting,
    price_text,
)
from shopquote.outputs.quote_words import FALLBACK_LOCALE, Voice, voice_of
from shopquote.outputs.table import CSV, DATA, EVERYWHERE, JSON, LETTER, SEEN, SHEET, TERMINAL, Column, Table

if TYPE_CHECKING:
    from shopquote.records.orders import Order, OrderLine
    from shopquote.services.buying.price_list import PriceChange
    from shopquote.services.buying.purchase_lines import BoughtLine, RackPick


@dataclass(frozen=True, slots=True)
class PrintedLine:
    """A line with the facts of its order, which the CSV repeats in each row."""

    line: "OrderedLine | OrderLine"
    order: "OrderDocument | Order"
    voice: Voice


def kind_words(order: OrderDocument, voice: Voice) -> str:
    """The title of the paper in its language: order or request for prices."""
    return voice["ask" if order.is_ask else "order"]


@cache
def _english(currency: str) -> Voice:
    """The English `Voice` for what stays in the shop."""
    return voice_of(FALLBACK_LOCALE, currency)


def order_heading(order: OrderDocument) -> str:
    """The heading of the paper: title, number, and the revision from the second on."""
    voice, number = order_voice(order), order.number
    if order.revision > 1:
        number = voice["order_revision"].format(number=number, revision=order.revision)
    return f"{kind_words(order, voice)} {number}"


def order_voice(order: OrderDocument) -> Voice:
    """The `Voice` of the supplier's papers: in its own language, else the shop's."""
    return voice_of(order.locale, order.currency)


def order_table(order: OrderDocument, voice: Voice | None = None) -> Table[PrintedLine]:
    """The lines of a stored order or request; masses in lb if the shop works in inches, else in kg.

    `voice` is the supplier's on its papers; the shop's own tables and data are in English.
    """
    voice = voice or _english(order.currency)
    return Table(
        ORDER_COLUMNS,
        [PrintedLine(line, order, voice) for line in order.lines],
        f"{kind_words(order, voice)} {order.number} to {order.supplier.name}",
        Setting(order.currency, order.units, voice.says, voice.decimal_sign),
    )


def _sawn_length(line: "OrderedLine | OrderLine | BoughtLine", voice: Voice, unit: Unit = "mm") -> str:
    length = voice.digits(line.length_text or show_length(line.length, unit, exact=True))
    return voice["sawn_to"].format(length=length) if line.cut else length


def _made(row: PrintedLine) -> str:
    told = (row.line.standard, row.line.condition)
    return ", ".join(row.voice.phrases(text) for text in told if text) or "-"


def _length_words(row: PrintedLine) -> str:
    return ", ".join(filter(None, [_sawn_length(row.line, row.voice), row.voice.phrases(row.line.tolerance)]))


def _mass_kg(row: PrintedLine) -> Decimal | None:
    """The mass rounded to the printed tenth of a kg; the record has all digits."""
    return None if row.line.mass_kg is None else row.line.mass_kg.quantize(Decimal("0.1"))


def _price_words(row: PrintedLine) -> str | None:
    """The price by mass or length from which a bar's price follows; empty for prices by bar or piece."""
    if row.line.price is None or row.line.basis in (None, "bar"):
        return None
    return row.voice.per(price_text(row.line.price), row.line.basis or "")


_ON_TABLES = SHEET | TERMINAL
MASS_COLUMN: Column[PrintedLine] = Column(
    "Mass {mass}", _mass_kg, MASS, 9, "mass_kg", sum=True, said="{} {mass}"
)
EACH: Column[PrintedLine] = Column(
    "Each", lambda row: row.line.unit_price, PRICE, 9.5, "unit_price", on=SEEN | JSON, said="{} each"
)
AMOUNT: Column[PrintedLine] = Column(
    "Amount", lambda row: row.line.amount, MONEY, 10.5, sum=True, said="{} {currency}"
)
ITEM: Column[PrintedLine] = Column("Item", lambda row: row.line.position, COUNT, 5.5, on=_ON_TABLES | CSV)
ORDERED: Column[PrintedLine] = Column("Count", lambda row: row.line.count, COUNT, 6.5, on=EVERYWHERE - LETTER)
ORDER_COLUMNS: tuple[Column[PrintedLine], ...] = (
    ITEM,
    ORDERED,
    Column("Bar", lambda row: f"{row.line.count} x {row.voice.bar(row.line.bar)}", on=LETTER),
    Column("Bar", lambda row: row.voice.bar(row.line.bar), width=18, on=_ON_TABLES | JSON),
    Column("Section", lambda row: row.line.bar, on=CSV),
    Column("Grade", lambda row: row.line.grade, width=8.5),
    Column("Standard, condition", _made, width=18, on=SHEET | LETTER),
    Column("Standard", lambda row: row.line.standard, on=CSV),
    Column("Condition", lambda row: row.line.condition, on=CSV),
    Column("Length", _length_words, width=24, on=SEEN),
    Column("Length", lambda row: row.line.length_text, on=CSV),
    Column("Length mm", lambda row: row.line.length, on=DATA),
    Column("Tolerance", lambda row: row.line.tolerance, on=CSV),
    Column("Sawn to length", lambda row: row.line.cut, YES, on=CSV),
    Column("Sawn", lambda row: row.line.cut, YES, on=JSON),
    MASS_COLUMN,
    Column("Certificate", lambda row: row.order.certificate, on=CSV),
    Column("Price", _price_words, FIGURE, 11, on=SHEET | LETTER),
    EACH,
    Column("Unit price", lambda row: row.line.unit_price, on=CSV),
    AMOUNT,
    Column("Currency", lambda row: row.order.currency, on=CSV),
    Column("Reference", lambda row: row.order.reference, on=CSV),
    Column("Price", lambda row: row.line.price, on=CSV),
    Column("Price basis", lambda row: row.line.basis, on=CSV),
)


# --- orders on file and price lists -----------------------------------------------------------------


def _total(order: "Order") -> Decimal | None:
    return None if order.kind == "ask" else round_money(order.total, order.currency)


# Each order has a currency of its own, so its total names it.
ORDERS_ON_FILE: "tuple[Column[Order], ...]" = (
    Column("Order", lambda order: order.number, key="number"),
    Column("Revision", lambda order: order.revision, COUNT, on=JSON),
    Column("Kind", lambda order: order.kind, on=JSON),
    Column("State", lambda order: order.state),
    Column("Supplier", lambda order: order.supplier.name),
    Column("Placed", lambda order: order.placed_on, DAY, key="placed_on"),
    Column("Due", lambda order: order.due_on, DAY, key="due_on"),
    Column("Jobs", lambda order: order.reference),
    Column("Currency", lambda order: order.currency, on=JSON),
    Column("Total", _total, on=JSON),
    Column(
        "Total", lambda order: f"{_total(order)} {order.currency}" if _total(order) else "", FIGURE, on=SEEN
    ),
)


def _on_file() -> "Iterator[Column[OrderLine]]":
    """The columns of a printed line applied to lines on file, with the number received after the count."""

    def of_line(column: Column[PrintedLine]) -> "Column[OrderLine]":
        def value(line: "OrderLine") -> object:
            return column.value(PrintedLine(line, line.order, _english(line.order.currency)))

        same: Any = column
        return cast("Column[OrderLine]", replace(same, value=value))

    for column in ORDER_COLUMNS:
        # `receive` and its sheet say "line" for what the supplier calls an item.
        yield Column("Line", lambda line: line.position, COUNT) if column is ITEM else of_line(column)
        if column is ORDERED:
            yield Column("Received", lambda line: line.received, COUNT, on=TERMINAL | JSON)


LINES_ON_FILE: "tuple[Column[OrderLine], ...]" = tuple(_on_file())


def _bought_length(line: "BoughtLine", setting: Setting) -> str:
    return _sawn_length(line, _english(line.listed.supplier.currency), setting.unit)


_BOUGHT_LENGTH = Look(_bought_length, _bought_length, figure=False)
# Before there is an order: what would be bought, priced in each supplier's own currency.
TO_BUY: "tuple[Column[BoughtLine], ...]" = (
    Column("Supplier", lambda line: line.listed.supplier.name),
    Column("Bar", lambda line: line.section.text),
    Column("Grade", lambda line: line.grade.name),
    Column("Length", lambda line: line, _BOUGHT_LENGTH),
    Column("Count", lambda line: line.count, COUNT),
    Column("Each", lambda line: line.unit_price, PRICE),
    Column("Currency", lambda line: line.listed.supplier.currency),
    Column("Jobs", lambda line: ", ".join(line.jobs)),
)
PRICE_CHANGES: "tuple[Column[PriceChange], ...]" = (
    Column("Row", lambda change: change.line.row, COUNT),
    Column("Bar", lambda change: change.line.bar),
    Column("Grade", lambda change: change.line.grade),
    Column("Length", lambda change: change.line.length.text, on=SEEN),
    Column("Length mm", lambda change: change.line.length, on=JSON),
    Column("Change", lambda change: change.kind),
    Column("Old", lambda change: change.old),
    Column("New", lambda change: change.new),
    Column("Valid from", lambda change: change.line.valid_from, on=JSON),
)
PICKS: "tuple[Column[RackPick], ...]" = (
    Column("Piece", lambda pick: pick.name),
    Column("Bar", lambda pick: pick.section.words, on=SEEN),
    Column("Length", lambda pick: pick.length, BAR_LENGTH, key="length_mm"),
    Column("Job", lambda pick: pick.job),
)
