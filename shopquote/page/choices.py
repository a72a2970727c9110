"""What a field of a form offers to choose from: words of the shop's lists, examples in the shop's unit."""

from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Any

from shopquote.calc.units import Unit
from shopquote.page.price_form import examples
from shopquote.services.shop.list_columns import ListTable
from shopquote.services.shop.lists import read_list
from shopquote.services.shop.shop_on_file import bending_shop, shop_unit


def column_words(table: ListTable, heading: str) -> list[str]:
    """The distinct texts in one column of a list."""
    place = _place(table, heading)
    return list(dict.fromkeys(str(cells[place]) for cells in table.cells()))


def grades_to_choose(stock: ListTable, known: Iterable[str], unit: Unit) -> list[str]:
    """Grades by how many bars of them suppliers list: first of bars in the shop's own unit, then of others,
    then the grades that nobody lists.
    """
    bar, grade = _place(stock, "bar"), _place(stock, "grade")
    other = " mm" if unit == "in" else " in"
    own: Counter[str] = Counter()
    rest: Counter[str] = Counter()
    for cells in stock.cells():
        (rest if str(cells[bar]).endswith(other) else own)[str(cells[grade])] += 1
    return list(dict.fromkeys([name for tally in (own, rest) for name, _ in tally.most_common()] + [*known]))


def of_a_bar(session: Any, on: date) -> dict[str, Any]:
    """For a form that asks for a bar, a grade and a length: `grades` to choose from, and `examples`."""
    unit = shop_unit(session)
    grades = grades_to_choose(read_list(session, "stock", on=on), bending_shop(session).grades, unit)
    told = examples(unit)
    return {
        "grades": grades,
        "examples": {"bar": told["part-bar"], "length": "20 ft" if unit == "in" else "6 m"},
    }


def _place(table: ListTable, heading: str) -> int:
    return next(number for number, column in enumerate(table.columns) if column.name == heading)
