"""The shop's own lists, as terminal tables or JSON."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopquote.calc.units import Length
from shopquote.outputs.looks import FIGURE, TEXT
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.show import print_facts, print_json, print_table
from shopquote.reading.cells import cell_text
from shopquote.reading.forms import FormColumn
from shopquote.reading.kinds import Notation, Typed
from shopquote.services.shop.list_columns import ListTable
from shopquote.services.shop.lists import Imported
from shopquote.services.shop.values import without_idle_zeros


def show_list(table: ListTable, *, as_json: bool) -> None:
    """Print a list: its main columns in the terminal, all of them as JSON with lengths in mm."""
    if as_json:
        print_json({table.name: [_json_entry(entry) for entry in table.entries]})
        return
    print_table(list_table(table))
    print(f"{len(table.entries)} on the list")


# A long note would push the other columns off the terminal; the export has it in full.
LONGEST_CELL = 44


def list_table(table: ListTable) -> Table[Mapping[str, Any]]:
    """A list's main columns as a table, without those that are empty in every row."""
    columns = [
        _drawn(column, table.notation)
        for column in table.columns
        if column.shown and _says_something(table, column)
    ]
    return Table(columns, table.entries)


def _drawn(column: FormColumn, notation: Notation) -> Column[Mapping[str, Any]]:
    look = FIGURE if column.kind.number else TEXT
    return Column(column.words, lambda entry: _brief(column, entry, notation), look)


def _says_something(table: ListTable, column: FormColumn) -> bool:
    usual = (None, "", False) if column.key else (None, "", False, column.usual)
    return any(entry[column.name] not in usual for entry in table.entries) or column.key


def _brief(column: FormColumn, entry: Mapping[str, Any], notation: Notation) -> str:
    value = entry[column.name]
    text = cell_text(
        column.kind.show(value, notation) if column.kind.brief is None else column.kind.brief(value, notation)
    )
    text = text.replace("\n", ", ")
    return text if len(text) <= LONGEST_CELL else text[: LONGEST_CELL - 1] + "…"


def show_set(done: str, table: ListTable, *, as_json: bool) -> None:
    """Print one entry after it was added, changed, removed or left as it was."""
    entry = table.entries[0]
    if as_json:
        print_json({table.name: [_json_entry(entry)], "done": done})
        return
    texts = zip((column.name for column in table.columns), map(cell_text, next(table.cells())), strict=True)
    print_facts([(name, text) for name, text in texts if text], {"kept": "as it was"}.get(done, done))


def show_imported(name: str, result: Imported, *, preview: bool, as_json: bool) -> None:
    """Print what an import did or, for a preview, would do."""
    if as_json:
        counts = {"added": result.added, "changed": result.changed, "same": result.same}
        left_out = {"left_out": [str(fault) for fault in result.left_out]} if result.left_out else {}
        print_json({"list": name, "stored": not preview, **counts, **left_out})
        return
    print(f"{name}: {result.added} added, {result.changed} changed, {result.same} as they were.")
    if preview:
        print("Nothing was stored: without --preview it is.")


def _json_entry(entry: Mapping[str, Any]) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    for name, value in entry.items():
        if isinstance(value, Typed):
            plain[name] = value.text or str(value.value)
            if isinstance(value.value, Length):
                plain[f"{name}_mm"] = value.value
        elif isinstance(value, Length):
            plain[f"{name}_mm"] = value
        elif isinstance(value, Decimal):
            plain[name] = without_idle_zeros(value)
        elif isinstance(value, tuple):
            plain[name] = [_json_entry(vars(one)) if hasattr(one, "__dict__") else one for one in value]
        else:
            plain[name] = value
    return plain
