"""One description of a table, drawn in every place; figures that add up as printed."""

import csv
import io
from dataclasses import dataclass
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from shopquote.calc.units import NM_PER_INCH, Length
from shopquote.outputs.books.book import new_book
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.sheet_table import draw
from shopquote.outputs.looks import COUNT, DIFFERENCE, LENGTH, MINUTES, MONEY, RUN, SIZE, Setting
from shopquote.outputs.table import JSON, SEEN, Column, Editable, Formula, Table, csv_of, json_rows, row_text
from shopquote.outputs.tables.show import print_table
from tests.sheets import rows_under, table_cells


@dataclass(frozen=True)
class Line:
    bar: str
    count: int
    length: Length
    price: Decimal


LINES = [
    Line("=round 12", 4, Length.from_mm("450.5"), Decimal("1.005")),
    Line("flat 40 x 6", 2, Length.from_mm(6000), Decimal("2.005")),
]
COUNTED = Column("Count", lambda line: Editable(line.count), COUNT, sum=True)
PRICE = Column(
    "Price {currency}", lambda line: line.price, MONEY, key="price", sum=True, said="{} {currency}"
)
AMOUNT = Column(
    "Amount",
    lambda line: Formula(lambda at: f"{at[COUNTED]}*{at[PRICE]}"),
    MONEY,
    on=frozenset({"sheet"}),
    sum=True,
)
COLUMNS = (
    Column("Bar", lambda line: line.bar, width=18),
    COUNTED,
    Column("Length", lambda line: line.length, LENGTH, on=SEEN),
    Column("Length mm", lambda line: line.length, SIZE, on=JSON | frozenset({"csv"})),
    PRICE,
    AMOUNT,
)
PLAIN_COLUMNS = tuple(column for column in COLUMNS if column is not COUNTED)
TABLE = Table(PLAIN_COLUMNS, LINES, "Bars", Setting("JPY", "mm"), foot="Total")


def drawn(tmp_path, table, **wishes):
    book = new_book()
    made = draw(book.add("Bars"), table, row=3, **wishes)
    return made, load_workbook(save_book(book, tmp_path / "bars.xlsx"))["Bars"]


def test_programs_get_names_money_as_text_and_lengths_as_they_are():
    first, _ = json_rows(PLAIN_COLUMNS, LINES, Setting("EUR"))
    assert first == {"bar": "=round 12", "length_mm": Length.from_mm("450.5"), "price": "1.01"}


def test_a_csv_has_the_names_of_programs_and_no_formula():
    rows = list(csv.DictReader(io.StringIO(csv_of(TABLE))))
    assert [row["length_mm"] for row in rows] == ["450.5", "6000"]
    assert rows[0]["bar"] == "'=round 12" and set(rows[0]) == {"bar", "length_mm", "price"}


def test_a_line_of_a_letter_is_the_phrases_of_its_columns():
    table = Table(PLAIN_COLUMNS[:-1], LINES, setting=Setting("EUR"))
    assert row_text(table, LINES[1]) == "flat 40 x 6, 6000 mm, 2.01 EUR"


def test_a_sheet_shows_headings_with_their_unit_and_sums_of_what_is_printed(tmp_path):
    table = Table(COLUMNS, LINES, setting=Setting("EUR"), foot="Total")
    made, sheet = drawn(tmp_path, table)
    first, second, last = rows_under(sheet, "Bar", "Price EUR")
    assert (first["Bar"], first["Count"], first["Price EUR"]) == ("=round 12", 4, 1.01)
    assert last["Bar"] == "Total"
    assert last["Price EUR"] == round(first["Price EUR"] + second["Price EUR"], 2)
    cells, _, sums = table_cells(sheet, "Bar", "Price EUR")
    assert sums["Count"].value == f"=ROUND(SUM({made.range(COUNTED)}),0)"
    assert sums["Amount"].value == f"=ROUND(SUM({made.range(AMOUNT)}),2)"
    assert cells["Amount"].value == f"={cells['Count'].coordinate}*{cells['Price EUR'].coordinate}"
    assert cells["Count"].fill.fgColor.rgb.endswith("FFF8DC")  # one may change it
    assert made.range(PRICE) == f"${made.letter(PRICE)}$4:${made.letter(PRICE)}$5"


def test_a_formula_finds_its_columns_wherever_they_stand(tmp_path):
    table = Table((AMOUNT, PRICE, COLUMNS[0], COUNTED), LINES, setting=Setting("EUR"))
    _, sheet = drawn(tmp_path, table, start=3)
    cells, _ = table_cells(sheet, "Bar", "Amount")
    assert cells["Amount"].value == f"={cells['Count'].coordinate}*{cells['Price EUR'].coordinate}"


@given(
    st.lists(st.decimals("-9999", "9999", places=4), min_size=1, max_size=30),
    st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_printed_figures_add_up_to_the_printed_sum(prices, currency):
    lines = [Line("round 12", 1, Length.from_mm(1), price) for price in prices]
    table = Table((PRICE,), lines, setting=Setting(currency))
    shown = [Decimal(PRICE.text(line, table.setting)) for line in lines]
    assert sum(shown) == table.total(PRICE)


def test_a_last_row_is_the_callers_own(capsys):
    print_table(
        Table(PLAIN_COLUMNS[:-1], LINES, setting=Setting("EUR"), last=Line("all", 0, Length(0), Decimal(3)))
    )
    assert capsys.readouterr().out.splitlines()[-1].split()[0] == "all"


def test_a_table_without_rows_prints_nothing(capsys):
    print_table(Table(PLAIN_COLUMNS, [], "Bars"))
    assert capsys.readouterr().out == ""


def test_a_last_row_adds_up_as_printed_where_its_column_is_summed():
    halves = [Decimal("27.5"), Decimal("20.5")]
    shown = Column("Minutes", lambda minutes: minutes, MINUTES, sum=True)
    as_told = Column("All", lambda minutes: minutes, MINUTES)
    table = Table((shown, as_told), halves, last=sum(halves))
    # 28 and 21 are 49 to the eye, though 48 minutes in all.
    assert [table.text(column, table.last) for column in (shown, as_told)] == ["49", "48"]


@pytest.mark.parametrize(("unit", "run", "more"), [("mm", "18.29", "-152.4"), ("in", "60.0", "-6")])
def test_runs_of_bar_and_differences_stand_in_the_shops_unit(unit, run, more):
    """An inch shop's rack was added up in metres, and its count was off by millimetres."""
    setting = Setting(unit=unit)
    assert RUN.shown(Length(3 * 240 * NM_PER_INCH), setting) == run
    assert DIFFERENCE.shown(Length(-6 * NM_PER_INCH), setting) == more
    assert DIFFERENCE.shown(Length(NM_PER_INCH), setting).startswith("+")
    assert setting.words["run"] == {"mm": "m", "in": "ft"}[unit]
