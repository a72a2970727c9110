"""A supplier order, or a request for prices, as a workbook, as text for an e-mail and as CSV.

All three draw the columns of `tables.order_columns` over one snapshot (see
`services.buying.orders_on_file.snapshot_of`); nothing is worked out here, so that an old order
prints as it was.
"""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.files import put_file
from shopquote.outputs.books.book import Book, new_book, put, put_across, safe_file_name, set_page
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.sheet_table import DESK, Drawn, Theme, draw
from shopquote.outputs.books.style import DAY, HEADING, LABEL, NOTE, PLAIN, TITLE, WRAPPED
from shopquote.outputs.looks import MONEY
from shopquote.outputs.table import csv_of, row_text
from shopquote.outputs.tables.order_columns import (
    AMOUNT,
    EACH,
    MASS_COLUMN,
    Line,
    Snapshot,
    is_ask,
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
NO_CERTIFICATE = "none asked for"
INVENTED = "Invented supplier and prices, made up to try the program with; not an order to anybody."

_LINED = Theme(cell=DESK.cell.but(rule="b"))
SUMS = (("Goods", "goods"), ("Delivery", "delivery"), ("Total", "total"))
# Where the paper is parted into the shop's side and the supplier's, in columns of the grid.
_LEFT = 4


def write_order_files(snapshot: Snapshot, folder: Path) -> tuple[Path, ...]:
    """Write the workbook, the text and the CSV of an order into a folder; returns their paths.

    Raises:
        InputError: the folder cannot be written.
    """
    name = f"{kind_words(snapshot)} {shown_number(snapshot)} {snapshot['supplier']['name']}"
    book = folder / safe_file_name(name)
    text = folder / safe_file_name(name, ".txt")
    rows = folder / safe_file_name(name, ".csv")
    return (
        save_book(order_book(snapshot), book),
        put_file(text, order_text(snapshot).encode()),
        put_file(rows, order_csv(snapshot).encode()),
    )


# --- workbook -----------------------------------------------------------------------------------


def order_book(snapshot: Snapshot) -> Book:
    """The workbook: one sheet, one page wide, prices left open when they are asked for."""
    shop, table = snapshot["shop"], order_table(snapshot)
    last = len(table.on("sheet"))
    book = new_book(f"{kind_words(snapshot)} {shown_number(snapshot)}", shop["name"])
    sheet = book.add(kind_words(snapshot))
    heading = f"{kind_words(snapshot)} {shown_number(snapshot)}"
    put_across(sheet, 1, 1, _LEFT, shop["name"], HEADING)
    put_across(sheet, 1, _LEFT + 1, last, heading, TITLE.but(across="right"))
    row = _parties(sheet, snapshot, 2, last)
    head = _facts_height(snapshot) + row + 2
    drawn = draw(sheet, table, head, theme=_LINED)
    # The grid has its widths now, which tell how tall wrapped facts are.
    _facts(sheet, snapshot, row + 1, last)
    row = _totals(sheet, snapshot, drawn)
    for text in closing_words(snapshot):
        row += 1
        put_across(sheet, row, 1, last, text, NOTE)
    footer = f"{shop['name']} · {heading}"
    set_page(sheet, paper=shop["paper"], head_rows=f"{head}:{head}", last_column=last, footer=footer)
    return book


def _parties(sheet: Worksheet, snapshot: Snapshot, row: int, last: int) -> int:
    shop, supplier = snapshot["shop"], snapshot["supplier"]
    number = shop["tax_number"] and f"VAT No. {shop['tax_number']}"
    lefts = lines_of([shop["address"], shop["email"], shop["phone"], number])
    rights = lines_of(["To", supplier["name"], supplier["address"], supplier["email"], supplier["phone"]])
    for i in range(max(len(lefts), len(rights))):
        if i < len(lefts):
            put_across(sheet, row + i, 1, _LEFT, lefts[i], PLAIN)
        if i < len(rights):
            style = LABEL if i == 0 else PLAIN.but(bold=i == 1)
            put_across(sheet, row + i, _LEFT + 1, last, rights[i], style)
    return row + max(len(lefts), len(rights))


def lines_of(texts: Sequence[str]) -> list[str]:
    """The lines of several texts, blank ones left out."""
    return [line.strip() for text in texts if text for line in str(text).splitlines() if line.strip()]


def _facts_height(snapshot: Snapshot) -> int:
    return len(order_facts(snapshot))


def _facts(sheet: Worksheet, snapshot: Snapshot, row: int, last: int) -> None:
    for name, value in order_facts(snapshot):
        put_across(sheet, row, 1, 3, name, LABEL)
        style = DAY.but(wrap=True) if isinstance(value, date) else WRAPPED
        put_across(sheet, row, 4, last, value, style)
        row += 1


def order_facts(snapshot: Snapshot) -> list[tuple[str, str | date]]:
    """What stands above the lines: a name and its text or day each."""
    due, place = snapshot["due_on"], ", ".join(lines_of([snapshot["place"]]))
    certificate = CERTIFICATE_TEXT.get(snapshot["certificate"], NO_CERTIFICATE)
    facts: list[tuple[str, str | date | None]] = [
        ("Date", date.fromisoformat(snapshot["placed_on"])),
        ("Delivery wanted by", date.fromisoformat(due) if due else None),
        ("Deliver to", place),
        ("Our reference", snapshot["reference"]),
        ("Certificates", certificate),
        ("Marking", snapshot["marking"]),
        ("Note", snapshot["note"]),
    ]
    return [(name, value) for name, value in facts if value]


def _totals(sheet: Worksheet, snapshot: Snapshot, drawn: Drawn[Line]) -> int:
    """Total mass, and what the order comes to, each below its column; returns the last row."""
    row, table = drawn.below, drawn.table
    mass = drawn.place(MASS_COLUMN)
    put_across(sheet, row, mass - 2, mass - 1, "Total mass", PLAIN.but(bold=True))
    mass_style = PLAIN.but(bold=True, across="right", number=MASS_COLUMN.look.number(table.setting))
    put(sheet, row, mass, table.total(MASS_COLUMN) or None, mass_style)
    if is_ask(snapshot):
        return row
    for name, key in SUMS:
        bold = key == "total"
        words = f"{name} {snapshot['currency']}" if bold else name
        put(sheet, row, drawn.place(EACH), words, PLAIN.but(bold=bold, across="right"))
        money = PLAIN.but(across="right", number=MONEY.number(table.setting), bold=bold, rule="t" * bold)
        put(sheet, row, drawn.place(AMOUNT), Decimal(snapshot[key]), money)
        row += 1
    return row - 1


def closing_words(snapshot: Snapshot) -> list[str]:
    """What stands below the lines."""
    words = []
    if is_ask(snapshot):
        words.append(
            "Please name your price for each line, the basis (bar, kg, cwt, metre or foot), your delivery "
            "charge and the day of delivery. This is not an order."
        )
    else:
        words.append("Prices without tax. Please confirm prices and the day of delivery.")
    if snapshot["certificate"]:
        words.append(
            "Certificates come with the goods; the heat number is on the delivery note for each line."
        )
    if snapshot["shop"]["invented"] or snapshot["supplier"]["invented"]:
        words.append(INVENTED)
    return words


# --- text and CSV -------------------------------------------------------------------------------


def order_text(snapshot: Snapshot) -> str:
    """The order as plain text for an e-mail."""
    shop, supplier, table = snapshot["shop"], snapshot["supplier"], order_table(snapshot)
    lines = [
        f"{kind_words(snapshot)} {shown_number(snapshot)}",
        "",
        f"To: {supplier['name']}",
        f"From: {shop['name']}",
    ]
    lines += [f"{name}: {value}" for name, value in order_facts(snapshot)]
    lines.append("")
    lines += [f"{line['position']}. {row_text(table, line)}" for line in table.rows]
    lines += ["", f"Total mass: {table.total(MASS_COLUMN)} {table.setting.words['mass']}"]
    if not is_ask(snapshot):
        lines += [f"{name}: {snapshot[key]} {snapshot['currency']}" for name, key in SUMS]
    lines += [
        "",
        *closing_words(snapshot),
        "",
        *lines_of([shop["name"], shop["address"], shop["email"], shop["phone"]]),
    ]
    return "\n".join(lines) + "\n"


def order_csv(snapshot: Snapshot) -> str:
    """The order's lines as CSV, one row a line."""
    return csv_of(order_table(snapshot))


def shown_number(snapshot: Snapshot) -> str:
    """The order's number, with its revision from the second on."""
    revision = int(snapshot["revision"])
    return str(snapshot["number"]) + (f" revision {revision}" if revision > 1 else "")
