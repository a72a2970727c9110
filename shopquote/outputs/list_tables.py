"""The shop's own lists, its setting up and its database, as terminal tables or JSON."""

from collections.abc import Sequence

from shopquote.outputs.show import new_table, print_facts, print_json, print_table
from shopquote.services.backup import Backup
from shopquote.services.checks import CheckResult
from shopquote.services.setup import SetUp


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
