"""What holds for the columns of every table: plain headings, one name each, and the trade's words."""

import importlib
import pkgutil

import pytest

from shopquote import outputs
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Column

# Words that papers do not use, with those that they do.
NOT_USED = {
    "a bar": "per bar", "a piece": "per piece", "together": "total", "come": "received",
    "min": "minutes", "more": "over/under", "as rolled": "mill length",
    "size over all": "overall size", "work by others": "subcontract work",
    "tax number": "VAT No.",
}  # fmt: skip


def tables():
    """Every tuple of columns in the package, by its name."""
    found = {}
    for module in pkgutil.walk_packages(outputs.__path__, f"{outputs.__name__}."):
        for name, value in vars(importlib.import_module(module.name)).items():
            if isinstance(value, tuple) and value and all(isinstance(one, Column) for one in value):
                found[f"{module.name.rpartition('.')[2]}.{name}"] = value
    return found


TABLES = tables()


def test_the_tables_are_found():
    assert len(TABLES) > 40


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize("place", ["terminal", "sheet", "csv", "json"])
def test_a_place_has_each_name_once(name, place):
    columns = [column for column in TABLES[name] if place in column.on]
    names = [column.name if place in ("csv", "json") else column.heading for column in columns]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("name", TABLES)
def test_headings_use_the_trades_words(name):
    for column in TABLES[name]:
        words = column.title(Setting()).casefold()
        for wrong, right in NOT_USED.items():
            assert f" {wrong} " not in f" {words} ", f"{column.heading}: say {right}"
