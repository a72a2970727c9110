"""Database connections, with the same transaction rules on SQLite and PostgreSQL.

There is one writing transaction at a time (SQLite: BEGIN IMMEDIATE; PostgreSQL: an advisory lock), so what it
has read cannot change before it commits, and a rack piece is never promised twice. A reading transaction sees
one moment of the database, never waits for a writer and cannot write.
"""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.pool import StaticPool

# Long enough for another person's quote to be stored, short enough not to seem hung.
WAIT_SECONDS = 15

# Key of the advisory lock; any number that no other program on the server uses. This is "shop" in ASCII.
_WRITER_LOCK = 0x73686F70

READING = {"shopquote_reading": True}


def make_engine(url: URL, *, wait_seconds: float = WAIT_SECONDS) -> Engine:
    """An engine for a SQLite file or a PostgreSQL server; connects to nothing yet."""
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, wait_seconds)
    return _postgresql_engine(url, wait_seconds)


def _sqlite_engine(url: URL, wait_seconds: float) -> Engine:
    engine = create_engine(url, connect_args={"timeout": wait_seconds})

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: Any) -> None:
        # Transactions are begun explicitly below: the driver would begin none before DDL.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute("PRAGMA foreign_keys = ON")
        if url.database not in (None, "", ":memory:"):
            cursor.execute("PRAGMA journal_mode = WAL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get("shopquote_reading", False)
        connection.exec_driver_sql(f"PRAGMA query_only = {'ON' if reading else 'OFF'}")
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def make_quiet_engine(path: Path) -> Engine:
    """An engine that reads a SQLite file on a full disk, without making a file beside it.

    A reader in WAL mode normally creates the shared-memory index of the log (-shm). Where the log is empty,
    the file is opened as immutable; else the index is kept in memory, and nobody else may have the file open.
    """
    # StaticPool keeps one connection, for a second one would wait for the first one's exclusive lock.
    engine = create_engine("sqlite://", creator=lambda: _connect_quietly(path), poolclass=StaticPool)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN")

    return engine


def _connect_quietly(path: Path) -> sqlite3.Connection:
    log = path.with_name(path.name + "-wal")
    unlogged = not log.exists() or not log.stat().st_size
    address = f"{path.absolute().as_uri()}?{'mode=ro&immutable=1' if unlogged else 'mode=rw'}"
    connection = sqlite3.connect(address, uri=True, isolation_level=None)
    if not unlogged:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    return connection


def finds_no_room(error: BaseException | None) -> bool:
    """Whether an SQLite error means a full disk; an I/O error is one where the -shm file cannot grow."""
    said = str(error).lower()
    return "full" in said or "i/o error" in said


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that reads a SQLite file, also on a full disk, so that it can be backed up to another."""
    connection = sqlite3.connect(path)
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError as error:
        if not finds_no_room(error):
            connection.close()
            raise
        connection.close()
        return _connect_quietly(path)
    return connection


def _postgresql_engine(url: URL, wait_seconds: float) -> Engine:
    from psycopg import IsolationLevel  # only shops with a server have it installed

    engine = create_engine(url, connect_args={"connect_timeout": 10})

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get("shopquote_reading", False)
        # The driver puts these into its BEGIN at the first statement, so that they cost no round trip.
        held: Any = connection.connection.dbapi_connection
        held.isolation_level = IsolationLevel.REPEATABLE_READ if reading else IsolationLevel.READ_COMMITTED
        held.read_only = reading
        if not reading:
            connection.exec_driver_sql(
                f"SET LOCAL lock_timeout = {round(wait_seconds * 1000)}; "
                f"SELECT pg_advisory_xact_lock({_WRITER_LOCK})"
            )

    return engine


def count_on(connection: Connection, table: str) -> None:
    """Set a server's id sequence to the highest id of a table, after rows were inserted with their ids."""
    connection.exec_driver_sql(
        f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), "
        f"coalesce(max(id), 1), max(id) IS NOT NULL) FROM {table}"
    )


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy a SQLite file that may be in use, consistently: written beside `target` and renamed when whole."""
    beside = target.with_name(target.name + ".part")
    beside.unlink(missing_ok=True)
    try:
        with closing(connect_to_read(source)) as old, closing(sqlite3.connect(beside)) as new:
            old.backup(new)
            # The copy is one file that is handed around: out of WAL mode it needs no log beside it.
            new.execute("PRAGMA journal_mode = DELETE")
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)
