"""Formulas of ours worked out as OpenFormula says (OASIS OpenDocument 1.3, part 4: ROUND, IF, SUMIFS)."""

from decimal import Decimal

import pytest
from openpyxl import load_workbook

from shopquote.outputs.books.book import new_book, put, put_formula
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.worked_out import figures_of

D = Decimal


def worked(formula: str):
    """What a formula comes to beside 2, an empty cell, "saw", 10 and -2.5, 3 and a sheet of its own."""
    book = new_book()
    sheet, other = book.add("One"), book.add("Two three")
    for row, value in enumerate((2, None, "saw", 10, D("-2.5"), 3), start=1):
        put(sheet, row, 1, value)
        put(sheet, row, 2, "saw" if row % 2 else "bend")
    put(other, 1, 1, D("0.125"))
    put_formula(sheet, 9, 1, formula)
    return figures_of(book)["One", 9, 1]


@pytest.mark.parametrize(
    ("formula", "comes_to"),
    [
        ("=1+2*3", D(7)),
        ("=-A1*50/100", D(-1)),
        ("=(1+2)*3/A1", D("4.5")),
        ("=A4+A2", D(10)),  # an empty cell counts as nothing
        ("=ROUND(A5,0)", D(-3)),  # half away from zero
        ("=ROUND('Two three'!$A$1,2)", D("0.13")),
        ("=ROUNDUP(1.001,2)", D("1.01")),
        ("=SUM(A1:A6)", D("12.5")),  # a text in a range counts for nothing
        ("=SUM($A$1:$A$2,A4)", D(12)),
        ("=MAX(A5,1.25)", D("1.25")),
        ('=SUMIFS($A$1:$A$6,$B$1:$B$6,"SAW")', D("-0.5")),  # letters of either case
        ('=SUMIFS(A1:A6,B1:B6,B2,A1:A6,"10")', D(10)),
        ("=IF(A2=0,0,A1/A2)", D(0)),
        ("=IF(A1>A4,1,2)", D(2)),
        ("=A1/A2", None),
    ],
)
def test_a_formula_comes_to(formula: str, comes_to) -> None:
    assert worked(formula) == comes_to


@pytest.mark.parametrize(
    "formula", ["=TODAY()", "=A1^2", "=(1+2", "=A3+1", "=A9", '="saw"', "=SUMIFS(A1:A6,1,1)"]
)
def test_what_is_no_formula_of_ours_is_told(formula: str) -> None:
    told = r"no formula of ours|lacks a|reckons|tests no range|itself|no figure"
    with pytest.raises(ValueError, match=told):
        worked(formula)


def test_the_figure_stands_in_the_file_beside_its_formula(tmp_path) -> None:
    book = new_book()
    sheet = book.add("<&> sums")
    put(sheet, 1, 1, D("1.10"))
    put_formula(sheet, 2, 1, "=A1*3")
    put_formula(sheet, 3, 1, "=A1/A9")
    path = save_book(book, tmp_path / "sums.xlsx")
    stored = load_workbook(path, data_only=True).worksheets[0]
    assert [stored.cell(row, 1).value for row in (1, 2, 3)] == [1.1, 3.3, "#DIV/0!"]
    assert load_workbook(path).worksheets[0]["A2"].value == "=A1*3"
