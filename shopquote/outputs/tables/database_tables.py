"""The database itself: its schema, backups, exports and checks, as terminal tables or JSON.

Not part of `list_tables`, which many commands load: the checks import every room of the records.
"""

from collections.abc import Sequence
from pathlib import Path

from shopquote.calc.pricing.standards import Standard
from shopquote.outputs.looks import WORDS
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.setup_tables import new_standard_lines, print_joined
from shopquote.outputs.tables.show import print_json, print_table
from shopquote.services.safe.backup import Backup
from shopquote.services.safe.checks import CheckResult
from shopquote.services.safe.export import Exported


def show_upgrade(
    database: str,
    before: str | None,
    after: str,
    joined: Sequence[str] = (),
    kept: Sequence[Path] = (),
    new_standards: Sequence[Standard] = (),
    *,
    as_json: bool,
) -> None:
    """Show the schema before and after, the doubles joined, where the copy is, and new standards that count
    at their starting figures."""
    if as_json:
        told = {"database": database, "from": before, "to": after, "joined": list(joined)}
        told["new_standards"] = [standard.name for standard in new_standards]
        print_json(told | {"kept": [str(path) for path in kept]})
        return
    if before == after:
        print(f"{database} already has schema {after}.")
    else:
        print(f"{database}: schema {before or 'none'} -> {after}.")
        print_joined(joined)
        for path in kept:
            print(f"As it was before: {path}")
    for line in new_standard_lines(new_standards):
        print(line)


def show_backup(words: str, backup: Backup, *, as_json: bool) -> None:
    """Show where a backup is and what it holds."""
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
    """Show what an export holds, or what an import stored."""
    if as_json:
        print_json(
            {"file": done.path, "schema": done.schema, "rows": done.rows, "certificates": done.certificates}
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
    """Show each check with what it found and what was repaired.

    `kept` is the copy made before repairs, `age` a sentence about the newest daily copy."""
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
