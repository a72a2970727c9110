"""A form writes its headings and reads them back in any order and spelling; one column has one meaning."""

from pathlib import Path

import pytest

from shopquote.errors import InputError
from shopquote.reading import kinds
from shopquote.reading.forms import Form, FormColumn
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.services.buying.price_rows import PRICE_FORM
from shopquote.services.floor.tabs import TABS
from shopquote.services.shop.shop_lists import LISTS

FORM = Form(
    (
        FormColumn("bar", kinds.TEXT, "", aliases=("size", "section")),
        FormColumn("count", kinds.count(least=1), 1, needed=True),
    )
)
EVERY_FORM = {
    "price list": PRICE_FORM,
    **{f"floor sheet, {tab.name}": tab.form for tab in TABS},
    **{name: shop_list.form for name, shop_list in LISTS.items()},
}


def table(*headings: str) -> FileTable:
    return FileTable(Path("x.csv"), headings, (TableRow(2, dict(zip(headings, "34", strict=False))),))


def test_a_column_is_found_under_its_own_heading_before_its_others():
    assert FORM.match(["section", "Bar", "COUNT "]) == {"bar": "Bar", "count": "COUNT "}
    assert FORM.match(["section", "size"]) == {"bar": "size"}


def test_a_row_reads_by_the_kinds_of_its_columns_in_any_order():
    sheet = FORM.open(table("Count", "size"), Notation())
    (row,) = sheet.table.rows
    assert (sheet.value(row, "bar"), sheet.value(row, "count")) == ("4", 3)


def test_a_needed_column_that_is_not_there_is_told_with_what_is():
    with pytest.raises(InputError, match="a column count"):
        FORM.open(table("bar", "size"), Notation())


@pytest.mark.parametrize("name", EVERY_FORM)
def test_every_form_reads_the_headings_that_it_writes_and_no_heading_means_two_columns(name):
    form = EVERY_FORM[name]
    assert form.match(form.headings) == {heading: heading for heading in form.headings}
    meant = [word for column in form.columns for word in (column.name, *column.aliases)]
    assert [form.named(word) for word in meant] == [
        column for column in form.columns for _ in (column.name, *column.aliases)
    ]
