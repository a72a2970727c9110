"""A supplier order, or a request for prices, as a workbook, as text for an e-mail and as CSV.

All three draw the columns of `tables.order_columns` over one document (see
`calc.buying.order_document`); nothing is worked out here, so that an old order
prints as it was.
"""

from datetime import date
from decimal import Decimal
from pathlib import Path

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.address import lines_of
from shopquote.calc.buying.order_document import OrderDocument
from shopquote.calc.numbers import shown
from shopquote.files import put_file
from shopquote.outputs.books.book import (
    Bands,
    Book,
    new_book,
    put,
    put_across,
    put_line,
    safe_file_name,
    set_page,
)
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.sheet_table import DESK, Drawn, Theme, draw
from shopquote.outputs.books.style import DAY, HEADING, LABEL, NOTE, PLAIN, TITLE, WRAPPED
from shopquote.outputs.looks import MONEY
from shopquote.outputs.table import csv_of, row_text
from shopquote.outputs.tables.order_columns import (
    AMOUNT,
    EACH,
    MASS_COLUMN,
    PrintedLine,
    kind_words,
    order_table,
)

# EN 10204:2004, kinds of inspection document, in short.
CERTIFICATE_TEXT = {
    "2.1": "EN 10204 type 2.1: the maker's declaration of compliance",
    "2.2": "EN 10204 type 2.2: the maker's test report, non-specific inspection",
    "3.1": "EN 10204 type 3.1: inspection certificate, specific inspection of this delivery",
    "3.2": "EN 10204 type 3.2: inspection certificate, countersigned by our or an official inspector",
}
# What the same papers are called in the United States: common practice, no source.
MILL_TEXT = {
    "2.1": "certificate of compliance from the mill",
    "2.2": "mill test report, typical results",
    "3.1": "certified mill test report (MTR) with the results of the heats delivered",
    "3.2": "certified mill test report (MTR), countersigned by our or an official inspector",
}
NO_CERTIFICATE = "none asked for"
INVENTED = "Invented supplier and prices, made up to try the program with; not an order to anybody."

_LINED = Theme(cell=DESK.cell.but(rule="b"))


def order_sums(order: OrderDocument) -> list[tuple[str, Decimal]]:
    """What an order comes to, the total last; a request for prices comes to nothing yet."""
    if order.is_ask:
        return []
    charge = order.certificate_charge
    certificate = [("Certificate", charge)] if charge else []
    delivery = ("Delivery", order.delivery - charge)
    return [("Goods", order.goods), delivery, *certificate, ("Total", order.total)]


# The shop's side of the paper and the supplier's; below them names and facts.
_SHOP_COLUMNS, _NAME_COLUMNS = 4, 3


def write_order_files(order: OrderDocument, folder: Path) -> tuple[Path, ...]:
    """Write the workbook, the text and the CSV of an order into a folder; returns their paths.

    Raises:
        InputError: the folder cannot be written.
    """
    name = f"{kind_words(order)} {order.shown_number} {order.supplier.name}"
    book = folder / safe_file_name(name)
    text = folder / safe_file_name(name, ".txt")
    rows = folder / safe_file_name(name, ".csv")
    return (
        save_book(order_book(order), book),
        put_file(text, order_text(order).encode()),
        put_file(rows, order_csv(order).encode()),
    )


# --- workbook -----------------------------------------------------------------------------------


def order_book(order: OrderDocument) -> Book:
    """The workbook: one sheet, one page wide, prices left open when they are asked for."""
    shop, table = order.shop, order_table(order)
    last = len(table.on("sheet"))
    book = new_book(f"{kind_words(order)} {order.shown_number}", shop.name)
    sheet = book.add(kind_words(order))
    heading = f"{kind_words(order)} {order.shown_number}"
    sides = Bands(shop=_SHOP_COLUMNS, supplier=last - _SHOP_COLUMNS)
    sides.put(sheet, 1, "shop", shop.name, HEADING)
    sides.put(sheet, 1, "supplier", heading, TITLE.but(across="right"))
    row = _parties(sheet, order, 2, sides)
    head = len(order_facts(order)) + row + 2
    drawn = draw(sheet, table, head, theme=_LINED)
    # The grid has its widths now, which tell how tall wrapped facts are.
    _facts(sheet, order, row + 1, last)
    row = _totals(sheet, order, drawn)
    for text in closing_words(order):
        row += 1
        put_line(sheet, row, last, text, NOTE)
    footer = f"{shop.name} · {heading}"
    set_page(sheet, paper=order.paper, head_rows=f"{head}:{head}", last_column=last, footer=footer)
    return book


def _parties(sheet: Worksheet, order: OrderDocument, row: int, sides: Bands) -> int:
    shop, supplier = order.shop, order.supplier
    number = shop.tax_number and f"VAT No. {shop.tax_number}"
    lefts = lines_of([shop.address, shop.email, shop.phone, number])
    rights = lines_of(["To", supplier.name, supplier.address, supplier.email, supplier.phone])
    for i in range(max(len(lefts), len(rights))):
        if i < len(lefts):
            sides.put(sheet, row + i, "shop", lefts[i], PLAIN)
        if i < len(rights):
            style = LABEL if i == 0 else PLAIN.but(bold=i == 1)
            sides.put(sheet, row + i, "supplier", rights[i], style)
    return row + max(len(lefts), len(rights))


def _facts(sheet: Worksheet, order: OrderDocument, row: int, last: int) -> None:
    columns = Bands(name=_NAME_COLUMNS, value=last - _NAME_COLUMNS)
    for name, value in order_facts(order):
        columns.put(sheet, row, "name", name, LABEL)
        style = DAY.but(wrap=True) if isinstance(value, date) else WRAPPED
        columns.put(sheet, row, "value", value, style)
        row += 1


def order_facts(order: OrderDocument) -> list[tuple[str, str | date]]:
    """What stands above the lines: a name and its text or day each."""
    place = ", ".join(lines_of([order.place]))
    words = MILL_TEXT if order.locale.endswith("_US") else CERTIFICATE_TEXT
    certificate = words.get(order.certificate, NO_CERTIFICATE)
    facts: list[tuple[str, str | date | None]] = [
        ("Date", order.placed_on),
        ("Delivery wanted by", order.due_on),
        ("Deliver to", place),
        ("Our reference", order.reference),
        ("Certificates", certificate),
        ("Marking", order.marking),
        ("Note", order.note),
    ]
    return [(name, value) for name, value in facts if value]


def _totals(sheet: Worksheet, order: OrderDocument, drawn: Drawn[PrintedLine]) -> int:
    """Total mass, and what the order comes to, each below its column; returns the last row."""
    row, table = drawn.below, drawn.table
    put_across(sheet, row, *drawn.left_of(MASS_COLUMN), "Total mass", PLAIN.but(bold=True))
    mass_style = PLAIN.but(bold=True, across="right", number=MASS_COLUMN.look.number(table.setting))
    put(sheet, row, drawn.place(MASS_COLUMN), table.total(MASS_COLUMN) or None, mass_style)
    if order.is_ask:
        return row
    for name, amount in order_sums(order):
        bold = name == "Total"
        words = f"{name} {order.currency}" if bold else name
        put(sheet, row, drawn.place(EACH), words, PLAIN.but(bold=bold, across="right"))
        money = PLAIN.but(across="right", number=MONEY.number(table.setting), bold=bold, rule="t" * bold)
        put(sheet, row, drawn.place(AMOUNT), amount, money)
        row += 1
    return row - 1


def closing_words(order: OrderDocument) -> list[str]:
    """What stands below the lines."""
    words = []
    if order.is_ask:
        words.append(
            "Please name your price for each line, the basis (bar, kg, cwt, metre or foot), your delivery "
            "charge and the day of delivery. This is not an order."
        )
    else:
        words.append("Prices without tax. Please confirm prices and the day of delivery.")
    if order.certificate:
        words.append(
            "Certificates come with the goods; the heat number is on the delivery note for each line."
        )
    if order.invented:
        words.append(INVENTED)
    return words


# --- text and CSV -------------------------------------------------------------------------------


def order_text(order: OrderDocument) -> str:
    """The order as plain text for an e-mail."""
    shop, supplier, table = order.shop, order.supplier, order_table(order)
    lines = [f"{kind_words(order)} {order.shown_number}", "", f"To: {supplier.name}", f"From: {shop.name}"]
    lines += [f"{name}: {value}" for name, value in order_facts(order)]
    lines.append("")
    lines += [f"{row.line.position}. {row_text(table, row)}" for row in table.rows]
    lines += ["", f"Total mass: {table.total(MASS_COLUMN)} {table.setting.words['mass']}"]
    if not order.is_ask:
        lines += [f"{name}: {amount} {order.currency}" for name, amount in order_sums(order)]
    lines += ["", *closing_words(order), "", *lines_of([shop.name, shop.address, shop.email, shop.phone])]
    return shown("\n".join(lines) + "\n")


def order_csv(order: OrderDocument) -> str:
    """The order's lines as CSV, one row a line."""
    return csv_of(order_table(order))
