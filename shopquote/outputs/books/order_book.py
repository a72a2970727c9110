"""A supplier order, or a request for prices, as a workbook, as text for an e-mail and as CSV.

All three draw the columns of `tables.order_columns` for one stored document (see
`calc.buying.order_document`). Nothing is computed here, so that an old order prints
as it was.
"""

from datetime import date
from decimal import Decimal
from pathlib import Path

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.address import lines_of
from shopquote.calc.buying.order_document import LineChange, OrderDocument
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
from shopquote.outputs.looks import MONEY, price_text
from shopquote.outputs.quote_words import Voice
from shopquote.outputs.table import csv_of, row_text
from shopquote.outputs.tables.order_columns import (
    AMOUNT,
    EACH,
    MASS_COLUMN,
    PrintedLine,
    kind_words,
    order_heading,
    order_table,
    order_voice,
)

_LINED = Theme(cell=DESK.cell.but(rule="b"))


def order_sums(order: OrderDocument) -> list[tuple[str, Decimal]]:
    """Goods, delivery and other sums of an order, the total last; empty for a request for prices."""
    if order.is_ask:
        return []
    voice, charge = order_voice(order), order.certificate_charge
    certificate = [(voice["certificate"], charge)] if charge else []
    delivery = (voice["delivery"], order.delivery - charge)
    return [(voice["goods"], order.goods), delivery, *certificate, (voice["order_total"], order.total)]


def told_sums(order: OrderDocument) -> list[tuple[str, str]]:
    """Total mass and sums as text, with the currency code, as everywhere on the paper."""
    voice = order_voice(order)
    table = order_table(order, voice)
    mass = f"{voice.digits(str(table.total(MASS_COLUMN)))} {table.setting.words['mass']}"
    sums = [(name, f"{voice.digits(f'{amount:f}')} {order.currency}") for name, amount in order_sums(order)]
    return [(voice["mass_in_all"], mass), *sums]


# Bands of columns: the shop's side and the supplier's; below them names and facts.
_SHOP_COLUMNS, _NAME_COLUMNS = 4, 3


def write_order_files(order: OrderDocument, folder: Path) -> tuple[Path, ...]:
    """Write the workbook, the text and the CSV of an order into a folder; returns their paths.

    Raises:
        InputError: the folder cannot be written.
    """
    name = f"{order_heading(order)} {order.supplier.name}"
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
    """The workbook: one sheet, one page wide; a request leaves the prices blank."""
    shop, voice, heading = order.shop, order_voice(order), order_heading(order)
    table = order_table(order, voice)
    last = len(table.on("sheet"))
    book = new_book(heading, shop.name)
    sheet = book.add(kind_words(order, voice))
    sides = Bands(shop=_SHOP_COLUMNS, supplier=last - _SHOP_COLUMNS)
    sides.put(sheet, 1, "shop", shop.name, HEADING)
    sides.put(sheet, 1, "supplier", heading, TITLE.but(across="right"))
    row = _parties(sheet, order, 2, sides)
    head = len(order_facts(order)) + row + 2
    drawn = draw(sheet, table, head, theme=_LINED)
    # Only now, since the widths of the grid decide how tall wrapped facts are.
    _facts(sheet, order, row + 1, last)
    row = _totals(sheet, order, drawn)
    for text in closing_words(order):
        row += 1
        put_line(sheet, row, last, text, NOTE)
    footer = f"{shop.name} · {heading}"
    set_page(sheet, paper=order.paper, head_rows=f"{head}:{head}", last_column=last, footer=footer)
    return book


def _parties(sheet: Worksheet, order: OrderDocument, row: int, sides: Bands) -> int:
    shop, supplier, voice = order.shop, order.supplier, order_voice(order)
    number = shop.tax_number and f"{voice['tax_number']} {shop.tax_number}"
    lefts = lines_of([shop.address, shop.email, shop.phone, number])
    rights = lines_of([voice["to"], supplier.name, supplier.address, supplier.email, supplier.phone])
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
    """The facts above the lines: each a name with a text or a day."""
    voice = order_voice(order)
    certificate = ("mill " if order.locale.endswith("US") else "en_10204 ") + order.certificate
    facts: list[tuple[str, str | date | None]] = [
        ("date", order.placed_on),
        ("replaces", _replaced(order, voice)),
        ("changed", "; ".join(_change_words(change, voice) for change in order.changes)),
        ("order_due", order.due_on),
        ("place", ", ".join(lines_of([order.place]))),
        ("reference", order.reference),
        ("certificates", voice[certificate if order.certificate else "none_asked"]),
        ("marking", voice.phrases(order.marking)),
        ("note", order.note),
    ]
    return [(voice[name], value) for name, value in facts if value]


def told_facts(order: OrderDocument) -> list[tuple[str, str]]:
    """The facts above the lines, all as text."""
    return [
        (name, order_day(order, value) if isinstance(value, date) else value)
        for name, value in order_facts(order)
    ]


def order_day(order: OrderDocument, day: date) -> str:
    """A day as the supplier's language writes it; in English in figures, as on older orders."""
    voice = order_voice(order)
    return day.isoformat() if voice.locale.startswith("en") else voice.day(day)


def _replaced(order: OrderDocument, voice: Voice) -> str:
    if order.replaces_of is None:
        return ""
    return voice["replaces_order"].format(
        revision=order.revision - 1, day=order_day(order, order.replaces_of)
    )


def _change_words(change: LineChange, voice: Voice) -> str:
    """What changed in a line since the previous revision, in words."""
    bar = f"{voice.bar(change.bar)}, {voice.digits(change.length_text)}"
    line = voice["line_of"].format(number=change.position, bar=bar)
    if not change.count:
        return voice["line_gone"].format(line=line)
    told = []
    if change.count != change.old_count:
        told.append(voice["line_count"].format(line=line, old=change.old_count, new=change.count))
    if change.price is not None and change.old_price is not None:
        old, new = (
            voice.per(price_text(price), basis)
            for price, basis in ((change.old_price, change.old_basis), (change.price, change.basis))
        )
        told.append(voice["line_price"].format(line=line, old=old, new=new))
    return "; ".join(told)


def _totals(sheet: Worksheet, order: OrderDocument, drawn: Drawn[PrintedLine]) -> int:
    """Draw total mass and sums, each below its column; returns the last row."""
    row, table, voice = drawn.below, drawn.table, order_voice(order)
    put_across(sheet, row, *drawn.left_of(MASS_COLUMN), voice["mass_in_all"], PLAIN.but(bold=True))
    mass_style = PLAIN.but(bold=True, across="right", number=MASS_COLUMN.look.number(table.setting))
    put(sheet, row, drawn.place(MASS_COLUMN), table.total(MASS_COLUMN) or None, mass_style)
    if order.is_ask:
        return row
    for name, amount in order_sums(order):
        bold = name == voice["order_total"]
        words = f"{name} {order.currency}" if bold else name
        put(sheet, row, drawn.place(EACH), words, PLAIN.but(bold=bold, across="right"))
        money = PLAIN.but(across="right", number=MONEY.number(table.setting), bold=bold, rule="t" * bold)
        put(sheet, row, drawn.place(AMOUNT), amount, money)
        row += 1
    return row - 1


def closing_words(order: OrderDocument) -> list[str]:
    """The sentences below the lines."""
    names = ["ask_closing" if order.is_ask else "order_closing"]
    names += ["certificate_closing"] if order.certificate else []
    names += ["order_invented"] if order.invented else []
    return [order_voice(order)[name] for name in names]


# --- text and CSV -------------------------------------------------------------------------------


def order_text(order: OrderDocument) -> str:
    """The order as plain text for an e-mail."""
    shop, supplier, voice = order.shop, order.supplier, order_voice(order)
    table = order_table(order, voice)
    parties = ((voice["to"], supplier.name), (voice["from"], shop.name))
    lines = [order_heading(order), ""]
    lines += [f"{name}: {value}" for name, value in (*parties, *told_facts(order))]
    lines.append("")
    lines += [f"{row.line.position}. {row_text(table, row)}" for row in table.rows]
    lines += ["", *(f"{name}: {amount}" for name, amount in told_sums(order))]
    lines += ["", *closing_words(order), "", *lines_of([shop.name, shop.address, shop.email, shop.phone])]
    return shown("\n".join(lines) + "\n")


def order_csv(order: OrderDocument) -> str:
    """The order's lines as CSV, one row a line."""
    return csv_of(order_table(order))
