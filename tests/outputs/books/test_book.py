"""Workbooks: text stays text, files are whole, properties say nothing."""

from datetime import date
from decimal import Decimal
from pathlib import Path
from zipfile import ZipFile

import pytest
from openpyxl import load_workbook

from shopquote.errors import InputError
from shopquote.outputs.books.book import new_book, put, put_across, put_formula, set_page, set_widths
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.style import HEADING, MONEY

WAKING = ["=1+1", '=HYPERLINK("http://x")', "+1", "-1", "@SUM(1)", "\t=1", "=cmd|'/c calc'!A1"]


@pytest.mark.parametrize("text", WAKING)
def test_text_never_becomes_a_formula(tmp_path, text):
    book = new_book()
    sheet = book.add("x")
    put(sheet, 1, 1, text)
    sheet.cell(2, 1).value = text  # a writer who forgot `put`
    cells = load_workbook(save_book(book, tmp_path / "x.xlsx"))["x"]
    for row in (1, 2):
        assert cells.cell(row, 1).data_type == "s"
        assert cells.cell(row, 1).value.strip() == text.strip()


def test_our_own_formulas_stay_formulas(tmp_path):
    book = new_book()
    put_formula(book.add("x"), 1, 1, "=1+1", MONEY)
    assert load_workbook(save_book(book, tmp_path / "x.xlsx"))["x"]["A1"].data_type == "f"


def test_money_is_written_with_its_own_digits(tmp_path):
    book = new_book()
    put(book.add("x"), 1, 1, Decimal("700.44"), MONEY)
    with ZipFile(save_book(book, tmp_path / "x.xlsx")) as parts:
        assert "<v>700.44</v>" in parts.read("xl/worksheets/sheet1.xml").decode()


def test_control_characters_and_endless_text_cannot_spoil_a_file(tmp_path):
    book = new_book("a\x00b")
    put(book.add("x"), 1, 1, "a\x00b\x1f" + "c" * 40_000)
    text = load_workbook(save_book(book, tmp_path / "x.xlsx"))["x"]["A1"].value
    assert text.startswith("abc") and len(text) <= 32_000


def test_properties_hold_a_title_and_the_shop_and_no_more(tmp_path):
    book = new_book("Quote", "The shop")
    book.add("x")
    with ZipFile(save_book(book, tmp_path / "x.xlsx")) as parts:
        core = parts.read("docProps/core.xml").decode()
    assert "The shop" in core and "openpyxl" not in core


def test_sheet_titles_are_made_usable_and_unique():
    book = new_book()
    titles = [book.add("Bars [12/16]: " + "long " * 9).title for _ in range(3)] + [book.add("").title]
    assert len(set(titles)) == 4
    assert all(len(title) <= 31 for title in titles)


def test_a_failed_write_leaves_the_old_file_and_no_scraps(tmp_path, monkeypatch):
    path = tmp_path / "x.xlsx"
    path.write_text("old")
    book = new_book()
    book.add("x")

    def full(_path, _content):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(InputError, match="has no room; the disk is"):
        save_book(book, path)
    assert path.read_text() == "old"
    assert [each.name for each in tmp_path.iterdir()] == ["x.xlsx"]


def test_a_folder_that_is_a_file_is_refused(tmp_path):
    (tmp_path / "out").write_text("")
    book = new_book()
    book.add("x")
    with pytest.raises(InputError, match="Cannot write"):
        save_book(book, tmp_path / "out" / "x.xlsx")


def test_a_page_is_one_wide_and_its_footer_is_text():
    book = new_book()
    sheet = book.add("x")
    put(sheet, 3, 2, Decimal(1))
    set_page(sheet, paper="Letter", footer="Bolt & Nut", one_page=True)
    assert sheet.page_setup.paperSize == 1
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 1)
    assert sheet.print_area == "'x'!$A$1:$B$3"
    assert sheet.oddFooter.left.text == "Bolt && Nut"
    with pytest.raises(InputError, match="A4 or Letter"):
        set_page(sheet, paper="A9")


def test_wrapped_text_gets_the_height_it_needs():
    book = new_book()
    sheet = book.add("x")
    set_widths(sheet, [10, 10])
    put_across(sheet, 1, 1, 2, "word " * 40)
    assert sheet.row_dimensions[1].height > 60


def test_cells_of_one_style_stay_apart_where_one_of_them_must_look_otherwise():
    sheet = new_book().add("Bars")
    plain = [put(sheet, 1, place, value) for place, value in enumerate((1, "=1", date(2026, 3, 9), 2), 1)]
    # A text that would wake as a formula is quoted, and a day has a day's format: their neighbours not.
    assert [cell.quotePrefix for cell in plain] == [False, True, False, False]
    assert [cell.number_format == plain[0].number_format for cell in plain] == [True, True, False, True]
    # Dressed anew in a style that the book has not seen, a cell takes nobody along.
    put(sheet, 1, 4, 2, HEADING)
    assert plain[3].font.b and not plain[0].font.b
