"""The order as workbook, text and CSV; goods-in and count sheets; labels with a code to scan."""

import csv
import io
import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from shopquote.calc.buying.order_document import OrderDocument, order_document_from_text
from shopquote.outputs.books.goods_book import write_count_sheet, write_goods_sheet
from shopquote.outputs.books.label_book import Label, label_book, scan_picture, write_labels
from shopquote.outputs.books.order_book import order_book, order_csv, order_text, write_order_files
from shopquote.outputs.table import Column, json_rows
from shopquote.outputs.tables import order_columns
from shopquote.outputs.tables.show import print_table
from shopquote.reading.table_files import read_table
from shopquote.services.rack.stocktake_forms import COUNT_COLUMNS
from tests.sheets import fill, rows_under

# In the form that the first versions kept, which every later one reads.
_KEPT = {
    "number": "O-0007",
    "revision": 1,
    "kind": "order",
    "shop": {
        "name": "=Alder Lane Metalwork", "address": "4 Alder Lane\nNether Tarn",
        "email": "office@alder.example",
        "phone": "", "tax_number": "", "invented": True, "paper": "A4", "units": "mm", "locale": "en_GB",
    },
    "supplier": {
        "name": "+Tarnside Section Supply", "address": "Mill Bank", "email": "", "phone": "",
        "invented": True,
    },
    "placed_on": "2026-03-02",
    "due_on": "2026-03-06",
    "place": "4 Alder Lane, Nether Tarn",
    "reference": "J-0001, J-0002",
    "certificate": "3.1",
    "marking": "Each bar with heat number.",
    "note": "=HYPERLINK(\"http://x\")",
    "currency": "EUR",
    "lines": [
        {
            "position": 1, "bar": "round 12", "section_key": "round 12", "grade": "S275",
            "standard": "EN 10060", "condition": "hot rolled", "length_nm": 6_000_000_000,
            "length_text": "6 m", "tolerance": "mill length", "cut": False, "count": 10, "mass_kg": "53.3",
            "price": "1.25", "basis": "kg", "unit_price": "6.6588", "amount": "66.59",
        },
        {
            "position": 2, "bar": "=flat 40 x 6", "section_key": "flat 40 x 6", "grade": "S275",
            "standard": "", "condition": "", "length_nm": 450_500_000, "length_text": "450.5 mm",
            "tolerance": "0 to +2 mm", "cut": True, "count": 4, "mass_kg": "3.4", "price": "3",
            "basis": "bar", "unit_price": "3.0000", "amount": "12.00",
        },
    ],
    "goods": "78.59",
    "delivery": "18.00",
    "total": "96.59",
    "jobs": [{"job": "J-0001", "share": "96.59"}],
}  # fmt: skip


ORDER = order_document_from_text(json.dumps(_KEPT))


def asked() -> OrderDocument:
    lines = tuple(replace(line, price=None, basis=None, unit_price=None, amount=None) for line in ORDER.lines)
    return replace(ORDER, kind="ask", lines=lines, goods=Decimal(0), delivery=Decimal(0), total=Decimal(0))


def cells(book) -> list[object]:
    return [
        cell.value
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]


@pytest.fixture
def written(tmp_path):
    book, text, rows = write_order_files(ORDER, tmp_path)
    return load_workbook(book), text.read_text(encoding="utf-8"), rows.read_text(encoding="utf-8")


# What a purchase order for bar needs (trade custom): grade, standard, condition, section, length and
# tolerance, count, mass, certificate type, marking, delivery, reference.
@pytest.mark.parametrize(
    "field",
    ["S275", "EN 10060, hot rolled", "round 12", "6 m, mill length", 10, Decimal("53.3"), "J-0001, J-0002",
     "1.25 per kg", "Each bar with heat number.", "4 Alder Lane, Nether Tarn",
     "sawn to 450.5 mm, 0 to +2 mm"],
)  # fmt: skip
def test_workbook_says_all_that_a_merchant_needs(written, field):
    values = cells(written[0])
    assert field in values or (isinstance(field, Decimal) and float(field) in values)


def test_certificate_type_is_said_as_in_en_10204(written):
    # EN 10204:2004, 3.1: inspection certificate with specific results (public summaries agree).
    assert any(
        isinstance(v, str) and "EN 10204 type 3.1: inspection certificate" in v for v in cells(written[0])
    )


def test_printed_lines_add_up_to_the_printed_total(written):
    sheet = written[0].worksheets[0]
    rows = rows_under(sheet, "Item", "Amount")
    lines, sums = rows[:2], rows[2:]
    totals = {row["Each"]: row["Amount"] for row in sums}
    assert round(sum(line["Amount"] for line in lines), 2) == totals["Goods"] == 78.59
    assert round(totals["Goods"] + totals["Delivery"], 2) == totals["Total EUR"] == 96.59
    assert round(sum(line["Mass kg"] for line in lines), 1) == 56.7 == sums[0]["Mass kg"]


def test_a_column_is_one_entry_in_workbook_text_csv_terminal_and_json(monkeypatch, tmp_path, capsys):
    heat = Column("Heat", lambda row: f"H{row.line.position}", said="heat {}")
    columns = order_columns.ORDER_COLUMNS
    middle = columns.index(order_columns.MASS_COLUMN)
    monkeypatch.setattr(order_columns, "ORDER_COLUMNS", (*columns[:middle], heat, *columns[middle:]))
    book, text, rows = write_order_files(ORDER, tmp_path)
    line = rows_under(load_workbook(book).worksheets[0], "Item", "Heat")[1]
    assert (line["Heat"], line["Grade"], line["Each"], line["Amount"]) == ("H2", "S275", 3, 12)
    assert "0 to +2 mm, heat H2, 3.4 kg" in text.read_text(encoding="utf-8")
    (_, line) = csv.DictReader(io.StringIO(rows.read_text(encoding="utf-8")))
    assert (line["heat"], line["unit_price"], line["amount"]) == ("H2", "3.0000", "12.00")
    table = order_columns.order_table(ORDER)
    line = json_rows(table.columns, table.rows, table.setting)[1]
    assert (line["heat"], line["unit_price"], line["amount"]) == ("H2", "3.00", "12.00")
    monkeypatch.setenv("COLUMNS", "120")
    print_table(table)
    assert "H2" in capsys.readouterr().out


def test_text_of_a_persons_never_becomes_a_formula(written):
    for sheet in written[0].worksheets:
        for row in sheet.iter_rows():
            assert [cell.coordinate for cell in row if cell.data_type == "f"] == []


def test_workbook_has_one_visible_sheet_and_no_cost_of_ours_in_its_properties(written):
    book = written[0]
    assert [sheet.sheet_state for sheet in book.worksheets] == ["visible"]
    assert book.properties.description is None and book.properties.keywords is None
    sheet = book.worksheets[0]
    assert sheet.print_area and sheet.page_setup.fitToWidth == 1 and sheet.page_setup.paperSize == 9


def test_request_for_prices_is_the_same_without_prices():
    book = order_book(asked())
    values = cells(book)
    assert "Request for prices O-0007" in values
    assert not any(
        isinstance(value, Decimal) and value in (Decimal("66.59"), Decimal("96.59")) for value in values
    )
    for text in (order_text(asked()), order_csv(asked()), json.dumps([str(v) for v in values])):
        assert "66.59" not in text and "6.6588" not in text and "96.59" not in text
    assert "round 12" in order_text(asked()) and "53.3 kg" in order_text(asked())


def test_shop_in_inches_orders_by_the_pound():
    inches = replace(ORDER, units="in")
    # 53.3 kg / 0.45359237 = 117.5 lb, 3.4 kg = 7.5 lb.
    text = order_text(inches)
    assert "6 m, mill length, 117.5 lb" in text and "Total mass: 125.0 lb" in text
    values = cells(order_book(inches))
    assert "Mass lb" in values and Decimal("125.0") in values


def test_mail_says_the_same_as_the_workbook(written):
    text = written[1]
    for words in (
        "Order O-0007", "1. 10 x round 12, S275, EN 10060, hot rolled, 6 m, mill length, 53.3 kg",
        "53.3 kg, 1.25 per kg, 6.6588 each, 66.59 EUR", "3.00 each, 12.00 EUR",
        "sawn to 450.5 mm", "Total: 96.59 EUR", "Delivery wanted by: 2026-03-06",
    ):  # fmt: skip
        assert words in text


def test_csv_has_a_row_a_line_with_exact_millimetres(written):
    rows = list(csv.DictReader(io.StringIO(written[2])))
    assert [row["length_mm"] for row in rows] == ["6000", "450.5"]
    assert [(row["price"], row["price_basis"]) for row in rows] == [("1.25", "kg"), ("3", "bar")]
    assert [row["sawn_to_length"] for row in rows] == ["no", "yes"]
    assert rows[1]["section"] == "'=flat 40 x 6"


def test_revision_stands_in_the_heading_and_the_file_name(tmp_path):
    book, *_ = write_order_files(replace(ORDER, revision=3), tmp_path)
    assert "revision 3" in book.name
    assert "Order O-0007 revision 3" in cells(load_workbook(book))


def test_invented_suppliers_are_marked_on_every_order(written):
    assert "Invented supplier and prices" in written[1]


# --- sheets to fill in ------------------------------------------------------------------------------


def test_goods_in_sheet_can_be_filled_in_and_read_back(tmp_path):
    content = {
        "number": "O-0007", "supplier": "Tarnside", "currency": "EUR", "unit": "mm", "certificate": "",
        "lines": [{"line": 1, "bar": "round 12", "grade": "S275", "length": "6 m", "open": 5, "each": "7"}],
    }  # fmt: skip
    path = write_goods_sheet(content, tmp_path / "goods.xlsx")
    book = load_workbook(path)
    fill(book.worksheets[0], {"line": 1}, count=4)
    book.save(path)
    (row,) = read_table(path).rows
    assert (row.cells["line"], row.cells["open"], row.cells["count"]) == ("1", "5", "4")


def test_count_sheet_names_its_columns_in_the_first_row(tmp_path):
    rows = [["R-0001", "=round 12", "S275", "1000 mm", "H1", "A1", "", "", "", ""]]
    table = read_table(write_count_sheet(COUNT_COLUMNS, rows, tmp_path / "count.xlsx"))
    assert table.headings == COUNT_COLUMNS
    assert table.rows[0].cells["bar"] == "=round 12"


# --- labels -----------------------------------------------------------------------------------------


def test_label_bears_its_code_to_read_and_to_scan(tmp_path):
    labels = [Label(f"R-{n:04d}", "round 12 S275", "1450 mm", "H7", "A1", "J-0001") for n in range(1, 8)]
    path = write_labels(labels, tmp_path / "labels.xlsx")
    sheet = load_workbook(path).worksheets[0]
    values = [cell.value for row in sheet.iter_rows() for cell in row]
    assert {label.code for label in labels} <= set(values)
    assert len(sheet._images) == len(labels)


def test_scan_picture_is_the_smallest_qr_code_with_a_quiet_border():
    # ISO/IEC 18004: 17 + 4 x version modules, so 21 x 21 for version 1 (documentation.euresys.com,
    # EQRCode.Version).
    from PIL import Image

    picture = Image.open(io.BytesIO(scan_picture("R-0007"))).convert("L")
    assert picture.size == ((21 + 2 * 2) * 6,) * 2
    assert {picture.getpixel((x, 0)) for x in range(picture.width)} == {255}  # the border is white
    finder = [picture.getpixel((12 + 3 + 6 * i, 12 + 3)) for i in range(7)]
    assert finder == [0] * 7  # the top row of the finder pattern is dark
    assert scan_picture("R-0007") != scan_picture("R-0008")


def test_no_labels_make_an_empty_sheet():
    assert label_book([]).worksheets[0].title == "Labels"


def test_dates_are_real_dates(written):
    days = [value for value in cells(written[0]) if hasattr(value, "year")]
    assert date(2026, 3, 2) in [day.date() if hasattr(day, "date") else day for day in days]
