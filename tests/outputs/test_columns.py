"""What holds for the columns of every table: plain headings, one name each, and the trade's words."""

import ast
import importlib
import pkgutil
from pathlib import Path

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


# The two modules that know a sheet's grid, and the arguments of their writers that are columns.
WRITERS = {"book.py", "sheet_table.py"}
COLUMNS_OF = {
    "put": slice(2, 3), "put_formula": slice(2, 3), "put_across": slice(2, 4), "put_line": slice(2, 3),
    "put_scan": slice(2, 3), "add_picture": slice(3, 4), "place_picture": slice(3, 4), "cell": slice(1, 2),
}  # fmt: skip


def placed_by_number(tree: ast.AST) -> list[int]:
    """Lines of a module on which a cell's column is told, or reckoned, by a literal number."""
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        named = [
            word.value
            for word in node.keywords
            if name in (*COLUMNS_OF, "draw", "widen") and word.arg in ("column", "first", "last", "start")
        ]
        for told in (*node.args[COLUMNS_OF.get(name, slice(0))], *named):
            if any(isinstance(part, ast.Constant) and type(part.value) is int for part in ast.walk(told)):
                found.append(node.lineno)
    return found


def test_no_writer_places_a_cell_by_a_columns_number():
    modules = [path for path in Path(outputs.__path__[0]).rglob("*.py") if path.name not in WRITERS]
    assert len(modules) > 30
    assert not [
        f"{path.name}:{line}"
        for path in modules
        for line in placed_by_number(ast.parse(path.read_text(encoding="utf-8")))
    ]


@pytest.mark.parametrize(
    "code",
    ["put(sheet, row, 3, name)", "put_across(sheet, 1, first, first + 2, name)", "sheet.cell(row, 2)",
     "sheet.cell(row=row, column=4)", "draw(sheet, table, 4, start=6)"],
)  # fmt: skip
def test_a_cell_placed_by_number_is_found(code):
    assert placed_by_number(ast.parse(code)) == [1]
