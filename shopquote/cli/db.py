"""`shopquote db`: upgrade, back up, restore, check, export and import the database."""

from datetime import UTC
from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, ReplaceOption, argument, flag, option
from shopquote.services.shop.clock import now

db_app = typer.Typer(
    no_args_is_help=True, help="Upgrade, back up, restore, check, export and import the database."
)


def register(app: typer.Typer) -> None:
    """Add the group to the root."""
    app.add_typer(db_app, name="db")


@db_app.command()
def upgrade(db: DbOption = None, as_json: JsonOption = False) -> None:
    """Upgrade an older database to this program's schema; a copy is kept beside it."""
    from shopquote.outputs.tables.database_tables import show_upgrade
    from shopquote.services.shop.database import open_database, upgrade_database
    from shopquote.services.shop.database_places import database_url, name_of
    from shopquote.services.shop.new_shop import standards_not_on_file

    joined: list[str] = []
    kept: list[Path] = []
    before, after = upgrade_database(db, tell=joined.append, kept=kept.append)
    with open_database(db) as database, database.reading() as session:
        new = standards_not_on_file(session)
    show_upgrade(name_of(database_url(db)), before, after, joined, kept, new, as_json=as_json)


@db_app.command()
def backup(
    out: Annotated[
        Path | None, option("--out", "FILE", "The backup file; default: shopquote-DATE.zip in this folder.")
    ] = None,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy the database and the certificates into one file; the database may be in use."""
    from shopquote.outputs.tables.database_tables import show_backup
    from shopquote.services.safe.backup import back_up

    at = now().astimezone(UTC)
    target = out or Path(f"shopquote-{at:%Y-%m-%d-%H%M%S}.zip")
    show_backup("Backed up to", back_up(db, target, at=at), as_json=as_json)


@db_app.command()
def restore(
    source: Annotated[Path, argument("BACKUP", "A file made by: shopquote db backup")],
    replace: Annotated[
        bool, flag("--replace", "Replace an existing database, which is kept beside it.")
    ] = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Restore a backup as the database that --db names; an older one is upgraded on the way."""
    from shopquote.outputs.tables.database_tables import show_backup
    from shopquote.services.safe.backup import restore as put_back

    show_backup("Restored from", put_back(source, db, replace=replace), as_json=as_json)


@db_app.command("export")
def export_(
    out: Annotated[Path, option("--out", "FILE", "The zip file to write.")] = Path("shopquote-export.zip"),
    replace: ReplaceOption = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write all records as CSV files, with a description of their columns, in one zip."""
    from shopquote.outputs.tables.database_tables import show_export
    from shopquote.services.safe.export import export_all

    show_export("Exported to", export_all(db, out, at=now()), as_json=as_json)


@db_app.command("import")
def import_(
    source: Annotated[Path, argument("EXPORT", "A file made by: shopquote db export")],
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Read an export into a new database, SQLite or PostgreSQL."""
    from shopquote.outputs.tables.database_tables import show_export
    from shopquote.services.safe.export import import_all

    show_export("Imported from", import_all(source, db), as_json=as_json)


@db_app.command()
def check(
    cure: Annotated[
        bool,
        flag("--cure", "Repair what has one right answer; a copy of the database is kept beside it first."),
    ] = False,
    day: Annotated[
        str | None, option("--day", "DAY", "With --cure: the day to put where a day is impossible.")
    ] = None,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Look for anything in the records that cannot be true; exit code 6 if something is found."""
    from shopquote.errors import DatabaseError, InputError
    from shopquote.outputs.tables.database_tables import show_checks
    from shopquote.reading.kinds import DAY, Notation, read_typed
    from shopquote.services.safe.checks import run_checks
    from shopquote.services.safe.cures import cure_database
    from shopquote.services.safe.daily import warning_of_old_copy
    from shopquote.services.shop.database import open_database

    if day is not None and not cure:
        raise InputError("--day is for --cure.")
    put = None if day is None else read_typed("--day", DAY, day, Notation())
    kept = None
    with open_database(db) as database:
        if cure:
            results, kept = cure_database(database, put)
        else:
            with database.reading() as session:
                results = run_checks(session, database.certificates)
        show_checks(database.name, results, kept=kept, age=warning_of_old_copy(database), as_json=as_json)
        faults = sum(len(result.found) for result in results)
        if faults:
            cured = any(fault.cure for result in results for fault in result.found)
            raise DatabaseError(
                f"{faults} {'fault' if faults == 1 else 'faults'} found in {database.name}.",
                hint="Repair what has one right answer: shopquote db check --cure"
                if cured
                else "Restore the last backup that passes this check, or ask for help with the list above.",
            )
