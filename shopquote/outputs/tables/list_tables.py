"""The shop's own lists, its setting up and its database, as terminal tables or JSON."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal

from shopquote.calc.units import Length, Unit
from shopquote.outputs.tables.show import console, new_table, print_facts, print_json, print_table
from shopquote.reading.table_files import cell_text
from shopquote.services.shop.backup import Backup
from shopquote.services.shop.checks import CheckResult
from shopquote.services.shop.list_columns import Column, ListTable
from shopquote.services.shop.list_kinds import Typed
from shopquote.services.shop.lists import Imported
from shopquote.services.shop.on_file import without_idle_zeros
from shopquote.services.shop.setup import SetUp


def show_set_up(database: str, result: SetUp, *, as_json: bool) -> None:
    """What setting up left on file."""
    shop = result.shop
    if as_json:
        print_json(
            {
                "database": database,
                "shop": shop.name,
                "new": not result.was_there,
                "invented": shop.invented,
                "currency": shop.currency,
                "units": shop.units,
                "stock_items": result.stock_items,
                "standards": result.standards,
                "grades": result.grades,
                "benders": result.benders,
            }
        )
        return
    facts = [
        ("database", database),
        ("shop", f"{shop.name}{' (invented)' if shop.invented else ''}"),
        ("money, lengths, paper", f"{shop.currency}, {shop.units}, {shop.paper}"),
        ("on file", f"{result.grades} grades, {result.benders} benders, {result.standards} standards"),
        ("stock", f"{result.stock_items} bars"),
    ]
    print_facts(facts, "Shop details kept" if result.was_there else "Shop set up")
    if not result.was_there:
        print(
            "\nThe price list, its suppliers and the rates are invented: put your own on file with\n"
            "shopquote stock import, shopquote suppliers import and shopquote rates set."
        )


def show_upgrade(database: str, before: str | None, after: str, *, as_json: bool) -> None:
    """From which schema to which."""
    if as_json:
        print_json({"database": database, "from": before, "to": after})
    elif before == after:
        print(f"{database} already has schema {after}.")
    else:
        print(f"{database}: schema {before or 'none'} -> {after}.")


def show_backup(words: str, backup: Backup, *, as_json: bool) -> None:
    """Where a backup lies and what is in it."""
    if as_json:
        print_json(
            {
                "files": [str(backup.path)],
                "schema": backup.version,
                "rows": backup.rows,
                "certificates": backup.certificates,
            }
        )
        return
    print(f"{words} {backup.path}")
    print(f"{backup.rows} rows, {backup.certificates} certificate files, schema {backup.version}.")


def show_checks(database: str, results: Sequence[CheckResult], *, as_json: bool) -> None:
    """Each check with what it found."""
    if as_json:
        print_json(
            {
                "database": database,
                "sound": not any(result.faults for result in results),
                "checks": [{"name": result.name, "faults": list(result.faults)} for result in results],
            }
        )
        return
    table = new_table("check", "found", title=f"Check of {database}")
    for result in results:
        table.add_row(result.name, "\n".join(result.faults) or "good")
    print_table(table)


def show_list(table: ListTable, *, as_json: bool) -> None:
    """A list with its main columns in the terminal; all of them in JSON, lengths in mm."""
    if as_json:
        print_json({table.name: [_json_entry(entry) for entry in table.entries]})
        return
    columns = [column for column in table.columns if column.shown and _says_something(table, column)]
    heads = [column.name.replace("_", " ") for column in columns]
    rows = [[_brief(column, entry, table.unit) for column in columns] for entry in table.entries]
    widths = _widths(columns, heads, rows, console().width)
    if widths is None:
        # Never cut a figure short: a narrow terminal gets a line for each.
        for row in rows:
            print_facts([(head, text) for head, text in zip(heads, row, strict=True) if text])
            console().print()
    else:
        drawn = new_table(*zip(heads, map(_side, columns), strict=True))
        for column, width in zip(drawn.columns, widths, strict=True):
            column.no_wrap, column.width = False, width
        for row in rows:
            drawn.add_row(*row)
        print_table(drawn)
    print(f"{len(table.entries)} on the list")


BETWEEN_COLUMNS = 2


def _widths(
    columns: Sequence[Column], heads: Sequence[str], rows: Sequence[Sequence[str]], room: int
) -> list[int] | None:
    """Width of each column so that all of them fit, the widest made narrower first; None: they cannot.

    A name is broken between words only; a number never, though its heading may be.
    """
    widths, least = [], []
    for position, (column, head) in enumerate(zip(columns, heads, strict=True)):
        texts = [row[position] for row in rows]
        words = head.split() + [word for text in texts for word in _unbroken(text, column)]
        widths.append(max(len(text) for text in (head, *texts)))
        least.append(min(WIDEST_WORD, max((len(word) for word in words), default=0)))
    room -= BETWEEN_COLUMNS * (len(columns) - 1)
    while sum(widths) > room:
        shrinking = [place for place in range(len(widths)) if widths[place] > least[place]]
        if not shrinking:
            return None
        widths[max(shrinking, key=lambda place: widths[place])] -= 1
    return widths


WIDEST_WORD = 26
LONGEST_CELL = 44


def _side(column: Column) -> Literal["left", "right"]:
    return "right" if column.kind.number else "left"


def _says_something(table: ListTable, column: Column) -> bool:
    usual = (None, "", False) if column.key else (None, "", False, column.usual)
    return any(entry[column.name] not in usual for entry in table.entries) or column.key


def _brief(column: Column, entry: Mapping[str, Any], unit: Unit) -> str:
    value = entry[column.name]
    text = cell_text(
        column.kind.show(value, unit) if column.kind.brief is None else column.kind.brief(value, unit)
    )
    text = text.replace("\n", ", ")
    return text if len(text) <= LONGEST_CELL else text[: LONGEST_CELL - 1] + "…"


def _unbroken(text: str, column: Column) -> list[str]:
    return [text] if column.kind.number else text.split()


def show_set(done: str, table: ListTable, *, as_json: bool) -> None:
    """One entry after it was added, changed or left as it was."""
    entry = table.entries[0]
    if as_json:
        print_json({table.name: [_json_entry(entry)], "done": done})
        return
    texts = zip((column.name for column in table.columns), map(cell_text, next(table.cells())), strict=True)
    print_facts([(name, text) for name, text in texts if text], {"kept": "as it was"}.get(done, done))


def show_imported(name: str, result: Imported, *, preview: bool, as_json: bool) -> None:
    """What an import did, or would do."""
    if as_json:
        counts = {"added": result.added, "changed": result.changed, "same": result.same}
        print_json({"list": name, "stored": not preview, **counts})
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
