"""The shop's own lists, its setting up and its database, as terminal tables or JSON."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from shopquote.calc.units import Length
from shopquote.outputs.looks import FIGURE, TEXT, WORDS
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_facts, print_json, print_table
from shopquote.reading.cells import cell_text
from shopquote.reading.forms import FormColumn
from shopquote.reading.kinds import Notation, Typed
from shopquote.services.safe.backup import Backup
from shopquote.services.safe.checks import CheckResult
from shopquote.services.safe.export import Exported
from shopquote.services.shop.list_columns import ListTable
from shopquote.services.shop.lists import Imported
from shopquote.services.shop.made_up import Dropped
from shopquote.services.shop.on_file import without_idle_zeros
from shopquote.services.shop.setup import SetUp


def show_set_up(database: str, result: SetUp, joined: Sequence[str] = (), *, as_json: bool) -> None:
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
                "joined": list(joined),
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
    if not result.was_there and result.stock_items:
        print(
            "\nThe price list, its suppliers and the rates are invented: put your own on file with\n"
            "shopquote stock import, shopquote suppliers import and shopquote rates set."
        )


def show_dropped(dropped: Dropped, *, as_json: bool) -> None:
    """Which invented entries went, and which suppliers stay because orders name them."""
    if as_json:
        print_json(
            {
                "suppliers": dropped.suppliers,
                "bars": dropped.bars,
                "benders": dropped.benders,
                "kept": list(dropped.kept),
            }
        )
        return
    print(f"Taken out: {dropped.suppliers} suppliers, {dropped.bars} bars and {dropped.benders} benders.")
    if dropped.kept:
        print(f"Orders name {', '.join(dropped.kept)}; it stays on file, and nothing is ordered there.")


def show_upgrade(
    database: str, before: str | None, after: str, joined: Sequence[str] = (), *, as_json: bool
) -> None:
    """From which schema to which, and what was joined on the way."""
    if as_json:
        print_json({"database": database, "from": before, "to": after, "joined": list(joined)})
    elif before == after:
        print(f"{database} already has schema {after}.")
    else:
        print(f"{database}: schema {before or 'none'} -> {after}.")
        print_joined(joined)


def print_joined(joined: Sequence[str]) -> None:
    """What stood on file twice and is one now, a line each."""
    for line in joined:
        print(f"  {line}")


def show_backup(words: str, backup: Backup, *, as_json: bool) -> None:
    """Where a backup lies and what is in it."""
    if as_json:
        print_json(
            {
                "files": [str(backup.path)],
                "schema": backup.version,
                "rows": backup.rows,
                "certificates": backup.certificates,
                "joined": list(backup.joined),
                "kept": None if backup.kept is None else str(backup.kept),
                "faults": backup.faults,
            }
        )
        return
    print(f"{words} {backup.path}")
    print(f"{backup.rows} rows, {backup.certificates} certificate files, schema {backup.version}.")
    print_joined(backup.joined)
    if backup.kept is not None:
        print(f"What was there before is kept as {backup.kept}.")
    if backup.faults:
        print(f"{backup.faults} faults of its records came along: see shopquote db check.")


def show_export(words: str, done: Exported, *, as_json: bool) -> None:
    """What an export holds, or an import has put on file."""
    if as_json:
        print_json(
            {
                "file": done.path,
                "schema": done.schema,
                "rows": done.rows,
                "certificates": done.certificates,
            }
        )
        return
    print(f"{words} {done.path}")
    tables = sum(1 for count in done.rows.values() if count)
    print(f"{sum(done.rows.values())} rows of {tables} tables, {done.certificates} certificate files.")


CHECKS: tuple[Column[CheckResult], ...] = (
    Column("Check", lambda result: result.name, key="name"),
    Column("Found", lambda result: "\n".join(result.faults) or "good", on=SEEN),
    Column("Faults", lambda result: result.faults, WORDS, on=JSON),
)


def show_checks(
    database: str, results: Sequence[CheckResult], *, kept: Path | None = None, age: str = "", as_json: bool
) -> None:
    """Each check with what it found, and what was mended; `kept` is the copy from before,
    `age` what is to be said of the newest copy of a day of use."""
    mended = [line for result in results for line in result.mended]
    if as_json:
        print_json(
            {
                "database": database,
                "sound": not any(result.found for result in results),
                "mended": mended,
                "kept": None if kept is None else str(kept),
                "copies": age,
                "checks": json_rows(CHECKS, results),
            }
        )
        return
    print_table(Table(CHECKS, results, f"Check of {database}"))
    for line in mended:
        print(f"Mended: {line}")
    if kept is not None:
        print(f"As it was before: {kept}")
    if age:
        print(age)


def show_list(table: ListTable, *, as_json: bool) -> None:
    """A list with its main columns in the terminal; all of them in JSON, lengths in mm."""
    if as_json:
        print_json({table.name: [_json_entry(entry) for entry in table.entries]})
        return
    columns = [
        _drawn(column, table.notation)
        for column in table.columns
        if column.shown and _says_something(table, column)
    ]
    print_table(Table(columns, table.entries))
    print(f"{len(table.entries)} on the list")


LONGEST_CELL = 44


def _drawn(column: FormColumn, notation: Notation) -> Column[Mapping[str, Any]]:
    look = FIGURE if column.kind.number else TEXT
    return Column(column.name.replace("_", " "), lambda entry: _brief(column, entry, notation), look)


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
