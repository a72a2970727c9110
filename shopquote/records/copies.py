"""Copies of a whole database, each checked before it counts.

The copy of a SQLite or a PostgreSQL database is one SQLite file with the schema version of the original.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import URL, Connection, MetaData, Table, func, select

from shopquote.errors import DatabaseError
from shopquote.records.engine import connect_to_read, copy_sqlite, make_engine
from shopquote.records.schema import VERSION_TABLE, make_tables, newest_version, stored_version

# Rows held in memory at a time; the database of a few years has millions.
ROWS_AT_ONCE = 2000


class CopyDiffersError(DatabaseError):
    """A copy that does not equal its original."""


def copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite file that may be in use, and check the copy.

    The quick check of SQLite must say the same of both, and the copy must have rows.

    Raises:
        CopyDiffersError: the check fails; the copy is deleted.
        sqlite3.Error: the file cannot be read, or the copy not be written.
    """
    copy_sqlite(source, target)
    with closing(connect_to_read(source)) as old, closing(sqlite3.connect(target)) as new:
        said = [held.execute("PRAGMA quick_check").fetchall() for held in (old, new)]
        names = [name for (name,) in new.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        counts = [new.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names]
    if said[0] != said[1] or not names or not any(counts):
        target.unlink()
        raise CopyDiffersError(f"the copy {target} is not as the database is")


def copy_to_file(source: Connection, target: Path) -> None:
    """Copy a server's database into a new SQLite file, and compare the numbers of rows.

    Raises:
        CopyDiffersError: a row is missing in the copy.
    """
    beside = target.with_name(target.name + ".part")
    beside.unlink(missing_ok=True)
    engine = make_engine(URL.create("sqlite", database=str(beside)))
    try:
        with engine.begin() as connection:
            make_tables(connection, stored_version(source) or newest_version())
            copy_rows(source, connection)
        with engine.connect() as connection:
            connection.connection.cursor().execute("PRAGMA journal_mode = DELETE")
        engine.dispose()
        beside.replace(target)
    finally:
        engine.dispose()
        beside.unlink(missing_ok=True)


def copy_rows(source: Connection, target: Connection) -> None:
    """Copy all rows between two databases with the same schema version, SQLite or PostgreSQL.

    Raises:
        CopyDiffersError: a row is missing in the target.
    """
    whence, whither = _tables(source), _tables(target)
    # Tables are sorted with parents first, for the foreign keys. Within a table rows go by id, since a row
    # refers only to older rows of its own table.
    for name, table in whither.items():
        old = whence[name]
        columns = [old.c[column.name] for column in table.c]
        query = select(*columns).order_by(old.c.id)
        rows = source.execute(query, execution_options={"yield_per": ROWS_AT_ONCE})
        count = 0
        for block in rows.mappings().partitions(ROWS_AT_ONCE):
            target.execute(table.insert(), [dict(row) for row in block])
            count += len(block)
        if target.scalar(select(func.count()).select_from(table)) != count:
            raise CopyDiffersError(f"rows of the table {name} are missing in the copy")


def _tables(connection: Connection) -> dict[str, Table]:
    """The tables by name, read from the database itself: its schema may be older than this program's."""
    there = MetaData()
    there.reflect(connection)
    return {table.name: table for table in there.sorted_tables if table.name != VERSION_TABLE}
