"""Schema versions: that of a database, that of this program, and upgrades from one to the other."""

from typing import Any

from sqlalchemy import Connection, inspect, text

from shopquote.records.places import migrations_folder

VERSION_TABLE = "alembic_version"


def newest_version() -> str:
    """The schema version of this program, such as "0002", from the file names of the migrations.

    Asking alembic would cost every command a third of a second for its import.
    """
    names = (path.name for path in (migrations_folder() / "versions").glob("[0-9]*_*.py"))
    return max(name.split("_", 1)[0] for name in names)


def stored_version(connection: Connection) -> str | None:
    """The schema version of a database; None where it has no tables of this program."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    version: str | None = connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}"))
    return version


def upgrade_tables(connection: Connection, to: str = "head") -> None:
    """Upgrade or downgrade a database to a version; the caller owns the transaction.

    On SQLite the caller turns foreign keys off first: alembic changes a table by making it anew, and dropping
    the old one must not delete the rows that refer to it.
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

    # From the models, in a tenth of the migrations' time; a test holds the two schemas to be equal.
    metadata.create_all(connection)
    command.stamp(alembic_config(connection), version)


def alembic_config(connection: Connection | None = None) -> Any:
    """Alembic's settings, made here in place of an alembic.ini."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.set_main_option("file_template", "%%(rev)s_%%(slug)s")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
