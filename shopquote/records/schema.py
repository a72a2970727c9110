"""The schema's versions: which one a database has, which one this program knows, and the way between."""

from typing import Any

from sqlalchemy import Connection, inspect, text

from shopquote.records.places import migrations_folder

VERSION_TABLE = "alembic_version"


def newest_version() -> str:
    """The version that this program's tables have, such as "0002".

    Read from the file names: importing alembic would cost every command a third of a second.
    """
    names = (path.name for path in (migrations_folder() / "versions").glob("[0-9]*_*.py"))
    return max(name.split("_", 1)[0] for name in names)


def stored_version(connection: Connection) -> str | None:
    """The version of a database; None where it has no tables of ours."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    version: str | None = connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}"))
    return version


def upgrade_tables(connection: Connection, to: str = "head") -> None:
    """Bring a database to a version, a later or an earlier one; the caller owns the transaction.

    On SQLite the caller turns references off first: a table that is made anew must not cascade.
    """
    from alembic import command

    back = to != "head" and to < (stored_version(connection) or "")
    (command.downgrade if back else command.upgrade)(alembic_config(connection), to)


def make_tables(connection: Connection, version: str) -> None:
    """Make all tables of a version in an empty database; the caller owns the transaction."""
    if version != newest_version():
        upgrade_tables(connection, version)
        return
    from alembic import command

    from shopquote.records.tables import metadata  # all tables; most commands need a few

    # As the models have them, which is what the migrations come to, in a tenth of the time.
    metadata.create_all(connection)
    command.stamp(alembic_config(connection), version)


def alembic_config(connection: Connection | None = None) -> Any:
    """Alembic's settings, built here: there is no file of them."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.set_main_option("file_template", "%%(rev)s_%%(slug)s")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
