"""Cells of a workbook as a person sees them: signs, units and results of formulas."""

from datetime import date
from decimal import Decimal
from zipfile import ZipFile

import pytest
from openpyxl import Workbook
from openpyxl.styles.numbers import BUILTIN_FORMATS

from shopquote.errors import InputError
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import read_table

GB, EURO = Notation("mm", "en_GB", "GBP"), Notation("mm", "de_DE", "EUR")
INCH = Notation("in", "en_US", "USD")


@pytest.fixture
def cell(tmp_path):
    """A function that reads a value back from a cell of some number format."""

    def read(value: object, number_format: str) -> str:
        book = Workbook()
        book.active.append(["x"])
        book.active.append([value])
        book.active["A2"].number_format = number_format
        book.save(tmp_path / "a.xlsx")
        return read_table(tmp_path / "a.xlsx").rows[0].cells["x"]

    return read


# What a spreadsheet program stores where a person types 20%, 7,5 %, 1.250,00 EUR, £48.50 and so on: a bare
# number and a format (ECMA-376, part 1, 18.8.31).
@pytest.mark.parametrize(
    ("value", "number_format", "kind", "notation", "meant"),
    [
        (0.2, "0%", kinds.percent(), GB, "20"),
        (0.075, "0.00%", kinds.percent(), EURO, "7.5"),
        (0.075, "0.0 %", kinds.percent(), EURO, "7.5"),
        (20, '0" %"', kinds.percent(), GB, "20"),
        (20, "0", kinds.percent(), GB, "20"),
        (48.5, '"£"#,##0.00', kinds.money(), GB, "48.5"),
        (1250, "[$€-407] #,##0.00", kinds.money(), EURO, "1250"),
        (1.125, '#,##0.00\\ "€"', kinds.money(), EURO, "1.125"),
        (48.5, "[$-407]#,##0.00", kinds.money(), GB, "48.5"),
        (48.5, BUILTIN_FORMATS[7], kinds.money(), GB, "48.5"),  # built in: $ stands for the reader's own sign
        (48.5, BUILTIN_FORMATS[44], kinds.money(), GB, "48.5"),
        (1.25, '0.00" €/kg"', kinds.money(), EURO, "1.25"),
        (1.25, '0.00" EUR / m"', kinds.money(), EURO, "1.25"),
        (1.5, '0.0" h"', kinds.MINUTES, GB, "90"),
        (3, '0" pieces"', kinds.count(), GB, "3"),
        (1250, "#\\'##0.00", kinds.number(), GB, "1250"),
    ],
)
def test_a_number_is_read_with_the_sign_that_its_cell_shows(
    cell, value, number_format, kind, notation, meant
):
    assert kind.read(cell(value, number_format), notation) == Decimal(meant)


def test_a_length_is_read_with_the_unit_that_its_cell_shows(cell):
    assert kinds.length().read(cell(250, '0.0" mm"'), INCH).mm == 250
    assert kinds.length().read(cell(6.1, '0.0"m"'), GB).mm == 6100
    for feet in ("0'", "0\\'", '0"\'"', '0"′"'):
        assert kinds.length().read(cell(20, feet), INCH).mm == 6096
    for inches in ('0.0\\"', '0.0"″"'):
        assert kinds.length().read(cell(6.5, inches), GB).mm == Decimal("165.1")


@pytest.mark.parametrize("number_format", ["[$€-407] #,##0.00", '0.00" EUR"', '"$"0.00', '0.00" €/kg"'])
def test_an_amount_that_a_cell_shows_in_another_currency_is_refused(cell, number_format):
    with pytest.raises(InputError, match="an amount in GBP, not in"):
        kinds.money().read(cell(48.5, number_format), GB)


def test_a_share_in_a_cell_of_per_cent_is_no_count(cell):
    with pytest.raises(InputError):
        kinds.count().read(cell(2, "0%"), GB)


def test_days_and_texts_are_as_they_were(cell):
    assert cell(date(2026, 3, 4), "d.m.yyyy") == "2026-03-04"
    assert cell("20", '0" mm"') == "20"


def test_a_formula_without_a_result_is_refused_and_its_cell_named(tmp_path):
    # As a program writes it that does not calculate: the cell would be read as empty.
    book = Workbook()
    book.active.append(["bar", "count", "cost"])
    for row in range(20_000):  # more than one portion of the file is read at a time
        book.active.append(["round 12", row, 4])
    book.active["C19999"] = "=3*2"
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(InputError, match="the formula in cell C19999 was never worked out"):
        read_table(tmp_path / "a.xlsx")


def test_a_formula_that_gives_an_empty_text_or_a_number_is_read(spreadsheet):
    path = spreadsheet(
        '<c r="A1" t="inlineStr"><is><t>x</t></is></c><c r="B1" t="inlineStr"><is><t>y</t></is></c>',
        '<c r="A2" t="str"><f>IF(1,"","")</f><v></v></c><c r="B2"><f>1+1</f><v>2</v></c>',
    )
    assert read_table(path).rows[0].cells == {"x": "", "y": "2"}
    for unworked in (
        '<c r="B2" s="0"><f>1+1</f></c>',
        '<c r="B2"><f>1+1</f><v/></c>',
        '<c r="B2"><f si="0"/><v></v></c>',
    ):
        path = spreadsheet('<c r="A1" t="inlineStr"><is><t>x</t></is></c>', unworked)
        with pytest.raises(InputError, match="cell B2"):
            read_table(path)


@pytest.fixture
def spreadsheet(tmp_path):
    """A function that writes a workbook whose sheet has these cells, as XML, in its rows."""

    def write(*rows: str):
        plain, path = tmp_path / "plain.xlsx", tmp_path / "made.xlsx"
        Workbook().save(plain)
        with ZipFile(plain) as old, ZipFile(path, "w") as new:
            for name in old.namelist():
                content = old.read(name)
                if name.endswith("sheet1.xml"):
                    inside = "".join(f'<row r="{at}">{cells}</row>' for at, cells in enumerate(rows, 1))
                    content = content.replace(
                        b"<sheetData></sheetData>", f"<sheetData>{inside}</sheetData>".encode()
                    )
                    assert inside.encode() in content
                new.writestr(name, content)
        return path

    return write
