"""A supplier order, or a request for prices, as a workbook, as text for an e-mail and as CSV.

All three lay out one snapshot (see `services.orders_on_file.snapshot_of`); nothing is
worked out here, so that an old order prints as it was.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

from shopquote.calc.units import KG_PER_LB
from shopquote.outputs.books.book import (
    DAY,
    HEAD,
    HEAD_RIGHT,
    HEADING,
    LABEL,
    NOTE,
    NUMBER,
    PLAIN,
    TITLE,
    WHOLE,
    WRAPPED,
    Book,
    Look,
    fit_row,
    money_look,
    new_book,
    put,
    put_across,
    put_row,
    safe_file_name,
    save_book,
    set_page,
    set_widths,
)
from shopquote.outputs.tables.show import price_text

Snapshot = Mapping[str, Any]

# EN 10204:2004, kinds of inspection document, in short.
CERTIFICATE_TEXT = {
    "2.1": "EN 10204 type 2.1: the maker's declaration of compliance",
    "2.2": "EN 10204 type 2.2: the maker's test report, results not of this very delivery",
    "3.1": "EN 10204 type 3.1: inspection certificate with results of this delivery",
    "3.2": "EN 10204 type 3.2: inspection certificate, countersigned by our or an official inspector",
}
NO_CERTIFICATE = "none asked for"
INVENTED = "Invented supplier and prices, made up to try the program with; not an order to anybody."

_MASS = NUMBER.but(number="#,##0.0")
_UNIT_PRICE = NUMBER.but(number="#,##0.00##")
_MADE = "Standard, condition"
_COLUMNS = ("Item", "Count", "Bar", "Grade", _MADE, "Length", "Mass", "Price", "Each", "Amount")
_WIDTHS = (5.5, 6.5, 18, 8.5, 18, 24, 9, 11, 9.5, 10.5)
_RIGHT = {"Mass", "Price", "Each", "Amount"}
_MIDDLE = {"Item", "Count"}

CSV_COLUMNS = (
    "item", "count", "section", "grade", "standard", "condition", "length", "length_mm", "tolerance",
    "sawn_to_length", "mass_kg", "certificate", "unit_price", "amount", "currency", "reference",
    "price", "price_basis",
)  # fmt: skip


def write_order_files(snapshot: Snapshot, folder: Path) -> tuple[Path, ...]:
    """Write the workbook, the text and the CSV of an order into a folder; returns their paths.

    Raises:
        InputError: the folder cannot be written.
    """
    name = f"{_kind(snapshot)} {_shown_number(snapshot)} {snapshot['supplier']['name']}"
    book = folder / safe_file_name(name)
    text = folder / safe_file_name(name, ".txt")
    rows = folder / safe_file_name(name, ".csv")
    save_book(order_book(snapshot), book)
    _write_beside(text, order_text(snapshot))
    _write_beside(rows, order_csv(snapshot))
    return book, text, rows


# --- workbook -----------------------------------------------------------------------------------


def order_book(snapshot: Snapshot) -> Book:
    """The workbook: one sheet, one page wide, prices left open when they are asked for."""
    shop = snapshot["shop"]
    book = new_book(f"{_kind(snapshot)} {_shown_number(snapshot)}", shop["name"])
    sheet = book.add(_kind(snapshot))
    set_widths(sheet, _WIDTHS)
    last = len(_COLUMNS)
    put_across(sheet, 1, 1, 5, shop["name"], HEADING)
    put_across(sheet, 1, 6, last, f"{_kind(snapshot)} {_shown_number(snapshot)}", TITLE.but(across="right"))
    row = _parties(sheet, snapshot, 2)
    row = _facts(sheet, snapshot, row + 1)
    head = row + 1
    for column, title in enumerate(_COLUMNS, start=1):
        look = HEAD_RIGHT if title in _RIGHT else HEAD.but(across="center" if title in _MIDDLE else None)
        put(sheet, head, column, f"Mass {_mass_unit(snapshot)}" if title == "Mass" else title, look)
    row = head + 1
    for line in snapshot["lines"]:
        _line(sheet, row, line, snapshot)
        row += 1
    row = _totals(sheet, snapshot, row)
    _closing(sheet, snapshot, row + 1)
    footer = f"{shop['name']} · {_kind(snapshot)} {_shown_number(snapshot)}"
    set_page(sheet, paper=shop["paper"], head_rows=f"{head}:{head}", last_column=last, footer=footer)
    return book


def _parties(sheet: Any, snapshot: Snapshot, row: int) -> int:
    shop, supplier = snapshot["shop"], snapshot["supplier"]
    left = [
        shop["address"],
        shop["email"],
        shop["phone"],
        shop["tax_number"] and f"Tax number {shop['tax_number']}",
    ]
    right = ["To", supplier["name"], supplier["address"], supplier["email"], supplier["phone"]]
    lefts, rights = _lines_of(left), _lines_of(right)
    for i in range(max(len(lefts), len(rights))):
        if i < len(lefts):
            put_across(sheet, row + i, 1, 5, lefts[i], PLAIN)
        if i < len(rights):
            look = LABEL if i == 0 else PLAIN.but(bold=i == 1)
            put_across(sheet, row + i, 6, len(_COLUMNS), rights[i], look)
    return row + max(len(lefts), len(rights))


def _lines_of(texts: Sequence[str]) -> list[str]:
    return [line.strip() for text in texts if text for line in str(text).splitlines() if line.strip()]


def _facts(sheet: Any, snapshot: Snapshot, row: int) -> int:
    for name, value in _named(snapshot):
        put_across(sheet, row, 1, 3, name, LABEL)
        look: Look = DAY.but(wrap=True) if isinstance(value, date) else WRAPPED
        put_across(sheet, row, 4, len(_COLUMNS), value, look)
        row += 1
    return row


def _named(snapshot: Snapshot) -> list[tuple[str, str | date]]:
    facts: list[tuple[str, str | date]] = [("Date", date.fromisoformat(snapshot["placed_on"]))]
    if snapshot["due_on"]:
        facts.append(("Delivery wanted by", date.fromisoformat(snapshot["due_on"])))
    if snapshot["place"]:
        facts.append(("Deliver to", ", ".join(_lines_of([snapshot["place"]]))))
    if snapshot["reference"]:
        facts.append(("Our reference", snapshot["reference"]))
    facts.append(("Certificates", CERTIFICATE_TEXT.get(snapshot["certificate"], NO_CERTIFICATE)))
    if snapshot["marking"]:
        facts.append(("Marking", snapshot["marking"]))
    if snapshot["note"]:
        facts.append(("Note", snapshot["note"]))
    return facts


def _line(sheet: Any, row: int, line: Mapping[str, Any], snapshot: Snapshot) -> None:
    amount = money_look(snapshot["currency"]).but(rule="b")
    length = _length_words(line)
    values = (
        line["position"], line["count"], line["bar"], line["grade"], _made(line), length,
        _mass_of([line], snapshot), _price_words(line) or None, _number(line["unit_price"]),
        _number(line["amount"]),
    )  # fmt: skip
    looks = (
        PLAIN.but(across="center"),
        WHOLE.but(across="center"),
        WRAPPED,
        WRAPPED,
        WRAPPED,
        WRAPPED,
        _MASS,
        PLAIN.but(across="right"),
        _UNIT_PRICE,
        amount,
    )
    put_row(sheet, row, values, [look.but(rule="b") for look in looks])
    for text, title in (
        (line["bar"], "Bar"),
        (_made(line), _MADE),
        (length, "Length"),
        (line["grade"], "Grade"),
    ):
        fit_row(sheet, row, text, _WIDTHS[_COLUMNS.index(title)])


def _made(line: Mapping[str, Any]) -> str:
    return ", ".join(text for text in (line["standard"], line["condition"]) if text) or "-"


def _length_words(line: Mapping[str, Any]) -> str:
    how = "sawn to " if line["cut"] else ""
    tolerance = f", {line['tolerance']}" if line["tolerance"] else ""
    return f"{how}{line['length_text']}{tolerance}"


def _totals(sheet: Any, snapshot: Snapshot, row: int) -> int:
    put_across(sheet, row, 5, 6, "Mass together", PLAIN.but(bold=True))
    put(sheet, row, 7, _mass_of(snapshot["lines"], snapshot), _MASS.but(bold=True))
    if _is_ask(snapshot):
        return row + 1
    money = money_look(snapshot["currency"])
    for name, key, bold in (
        ("Goods", "goods", False),
        ("Delivery", "delivery", False),
        ("Total", "total", True),
    ):
        put(
            sheet,
            row,
            9,
            name if key != "total" else f"Total {snapshot['currency']}",
            PLAIN.but(bold=bold, across="right"),
        )
        put(sheet, row, 10, _number(snapshot[key]), money.but(bold=bold, rule="t" if bold else ""))
        row += 1
    return row


def _closing(sheet: Any, snapshot: Snapshot, row: int) -> None:
    for text in closing_words(snapshot):
        put_across(sheet, row, 1, len(_COLUMNS), text, NOTE)
        row += 1


def closing_words(snapshot: Snapshot) -> list[str]:
    """What stands below the lines."""
    words = []
    if _is_ask(snapshot):
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
    shop, supplier = snapshot["shop"], snapshot["supplier"]
    lines = [
        f"{_kind(snapshot)} {_shown_number(snapshot)}",
        "",
        f"To: {supplier['name']}",
        f"From: {shop['name']}",
    ]
    lines += [f"{name}: {value}" for name, value in _named(snapshot)]
    lines.append("")
    for line in snapshot["lines"]:
        lines.append(_text_line(line, snapshot))
    lines += ["", f"Mass together: {_mass_of(snapshot['lines'], snapshot) or 0} {_mass_unit(snapshot)}"]
    if not _is_ask(snapshot):
        currency = snapshot["currency"]
        lines += [f"{name}: {snapshot[key]} {currency}" for name, key in _SUMS]
    lines += [
        "",
        *closing_words(snapshot),
        "",
        *_lines_of([shop["name"], shop["address"], shop["email"], shop["phone"]]),
    ]
    return "\n".join(lines) + "\n"


_SUMS = (("Goods", "goods"), ("Delivery", "delivery"), ("Total", "total"))


def _text_line(line: Mapping[str, Any], snapshot: Snapshot) -> str:
    words = (f"{line['count']} x {line['bar']}", line["grade"], _made(line), _length_words(line))
    text = f"{line['position']}. {', '.join(words)}"
    if line["mass_kg"] is not None:
        text += f", {_mass_of([line], snapshot)} {_mass_unit(snapshot)}"
    if line["amount"] is not None:
        price = _price_words(line)
        text += f", {price}" if price else ""
        text += f", {price_text(Decimal(line['unit_price']))} each, {line['amount']} {snapshot['currency']}"
    return text


def order_csv(snapshot: Snapshot) -> str:
    """The order's lines as CSV, one row a line."""
    from shopquote.reading.table_files import csv_text

    return csv_text(
        CSV_COLUMNS,
        [
            (
                line["position"], line["count"], line["bar"], line["grade"], line["standard"],
                line["condition"], line["length_text"], _mm(line["length_nm"]), line["tolerance"],
                bool(line["cut"]), line["mass_kg"], snapshot["certificate"], line["unit_price"],
                line["amount"], snapshot["currency"], snapshot["reference"], line["price"], line["basis"],
            )
            for line in snapshot["lines"]
        ],
    )  # fmt: skip


def _mm(nanometres: int) -> str:
    return f"{(Decimal(nanometres) / 1_000_000).normalize():f}"


# --- words ----------------------------------------------------------------------------------------


def _is_ask(snapshot: Snapshot) -> bool:
    return bool(snapshot["kind"] == "ask")


def _kind(snapshot: Snapshot) -> str:
    return "Request for prices" if _is_ask(snapshot) else "Order"


def _shown_number(snapshot: Snapshot) -> str:
    revision = int(snapshot["revision"])
    return str(snapshot["number"]) + (f" revision {revision}" if revision > 1 else "")


def _number(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _mass_unit(snapshot: Snapshot) -> str:
    """A shop that works in inches orders by the pound."""
    return "lb" if snapshot["shop"].get("units") == "in" else "kg"


def _mass_of(lines: Iterable[Mapping[str, Any]], snapshot: Snapshot) -> Decimal | None:
    """Mass of lines in the shop's unit, to a tenth, each rounded so that the printed ones add up."""
    masses = [Decimal(line["mass_kg"]) for line in lines if line["mass_kg"] is not None]
    if not masses:
        return None
    if _mass_unit(snapshot) == "lb":
        masses = [(mass / KG_PER_LB).quantize(Decimal("0.1"), ROUND_HALF_UP) for mass in masses]
    return sum(masses, Decimal(0))


def _price_words(line: Mapping[str, Any]) -> str:
    """The price by mass or length that a bar's price comes from; nothing where it is by the bar or piece."""
    if line["price"] is None or line["basis"] in (None, "bar"):
        return ""
    return f"{price_text(Decimal(line['price']))} a {line['basis']}"


def _write_beside(path: Path, text: str) -> None:
    from shopquote.reading.job_book import write_beside

    write_beside(path, text.encode("utf-8"))
