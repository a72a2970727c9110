"""Open the shop's database, keep its schema up to date, back it up and restore it.

database = open_database(None)
with database.session() as session:     # may write; one at a time; commits at the end
    ...
with database.reading() as session:     # read only; never waits
    ...
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import chain, count
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, delete, insert, update
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import DatabaseError, counted
from shopquote.files import DATABASE_BEGINS
from shopquote.reading.kinds.documents import numbered
from shopquote.records import schema
from shopquote.records.copies import CopyDiffersError, copy_file, copy_to_file
from shopquote.records.engine import READING, WAIT_SECONDS, make_engine, make_quiet_engine
from shopquote.records.schema import make_tables, newest_version, stored_version, upgrade_tables
from shopquote.records.shop import Counter
from shopquote.services.shop.database_places import certificate_folder, database_url, name_of, sqlite_path
from shopquote.services.shop.doing import deed_now
from shopquote.services.shop.driver_errors import NoRoomError, driver_errors_in_words


@dataclass(frozen=True)
class Database:
    """An open database whose schema version is the one this program knows.

    `joined` tells what the upgrade made on opening joined or respelt. `refusal` is set where it can only be
    read, and says why: its disk is full, or its folder cannot be written.
    """

    url: URL
    engine: Engine
    joined: tuple[str, ...] = ()
    refusal: DatabaseError | None = None

    @property
    def name(self) -> str:
        """The database as messages name it: the file's path, or the URL without its password."""
        return name_of(self.url)

    @property
    def certificates(self) -> Path:
        """Folder of the certificate files, beside the database; made by whoever first writes to it."""
        return certificate_folder(self.url)

    @contextmanager
    def session(self) -> Iterator[Session]:
        """A writing transaction: commits at the end, rolls back on any error.

        One writer at a time, over all processes: what is read in it stays true until it commits. Keep it
        short.

        Raises:
            DatabaseError: locked for longer than the wait, unreachable, damaged, or read only (`refusal`).
        """
        if self.refusal is not None:
            raise self.refusal
        deed = deed_now()
        if deed is not None and deed.before is not None:
            # Before the transaction begins: it copies the database by a connection of its own.
            deed.before(self)
        with driver_errors_in_words(self.url), Session(self.engine, expire_on_commit=False) as session:
            if deed is None:
                yield session
            else:
                from shopquote.services.shop.history import watch, write_down  # no reader needs it

                watched = watch(session, deed)
                yield session
                write_down(session, watched)
            session.commit()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A read-only transaction on a snapshot of the database; it never waits for a writer."""
        engine = self.engine.execution_options(**READING)
        with driver_errors_in_words(self.url), Session(engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def trial(self) -> Iterator[Session]:
        """A writing transaction that is always rolled back: it shows what a change would do and stores
        nothing.

        Raises:
            DatabaseError: locked for longer than the wait, unreachable, damaged.
        """
        with driver_errors_in_words(self.url), Session(self.engine, expire_on_commit=False) as session:
            yield session

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    def __enter__(self) -> "Database":
        """The database itself; it is closed at the end of the block."""
        return self

    def __exit__(self, *_error: object) -> None:
        """Close all connections."""
        self.close()


def open_database(
    url: str | None = None, *, create: bool = False, wait_seconds: float = WAIT_SECONDS
) -> Database:
    """Open a database by `url`, else by SHOPQUOTE_DB, else the file in the user's data folder.

    Args:
        url: a file's path or a PostgreSQL URL.
        create: make a database that does not exist, and upgrade one of an older schema.
        wait_seconds: how long to wait for a lock.

    Raises:
        DatabaseError: not there, not a shopquote database, of another schema, locked, unreachable.
    """
    where = database_url(url)
    told: list[str] = []
    if create:
        upgrade_database(url, wait_seconds=wait_seconds, tell=told.append)
    _refuse_what_is_no_database(where)
    engine = make_engine(where, wait_seconds=wait_seconds)
    refusal = None
    try:
        try:
            version = _version_in(engine, where)
        except NoRoomError as error:
            # Even a reader makes files beside a SQLite database; without room for them it is read as it lies.
            path = sqlite_path(where)
            assert path is not None
            engine.dispose()
            engine, refusal = make_quiet_engine(path), error
            version = _version_in(engine, where)
        _refuse_other_schemas(version, where)
    except BaseException:
        engine.dispose()
        raise
    return Database(where, engine, tuple(told), refusal)


def _version_in(engine: Engine, where: URL) -> str | None:
    with driver_errors_in_words(where), engine.execution_options(**READING).begin() as connection:
        return stored_version(connection)


def database_in_memory() -> Database:
    """An empty database in memory with all tables; closing it discards it."""
    from shopquote.records.tables import metadata  # all tables; most commands need a few

    url = URL.create("sqlite", database=":memory:")
    engine = make_engine(url)
    with engine.begin() as connection:
        metadata.create_all(connection, checkfirst=False)
    return Database(url, engine)


def upgrade_database(
    url: str | None = None,
    *,
    wait_seconds: float = WAIT_SECONDS,
    to: str = "head",
    tell: Callable[[str], None] | None = None,
    kept: Callable[[Path], None] | None = None,
) -> tuple[str | None, str]:
    """Make a database, or bring one of an older schema to `to` with all its data.

    All or nothing: a killed upgrade leaves the old schema. A copy is made and verified before anything
    changes.

    Args:
        url: as of `open_database`.
        wait_seconds: how long to wait for a lock.
        to: the schema version wanted; `head` is this program's.
        tell: called with one line for each entry that was joined or respelt.
        kept: called with the path of the copy.

    Returns:
        The schema versions before (None: a new database) and after.

    Raises:
        DatabaseError: newer than this program, not a shopquote database, locked, unreachable.
    """
    where = database_url(url)
    if path := sqlite_path(where):
        _make_folder(path.parent)
        if path.exists() and path.stat().st_size:
            _refuse_what_is_no_database(where)
    engine = make_engine(where, wait_seconds=wait_seconds)
    try:
        with driver_errors_in_words(where), engine.connect() as connection:
            if connection.dialect.name == "sqlite":
                # Migrations rebuild tables: dropping one must not cascade into those that refer to it. All
                # references are checked below instead. Through the driver's cursor, before the transaction
                # begins, because SQLite ignores this pragma inside one.
                connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
            with connection.begin():
                before, goal = stored_version(connection), newest_version() if to == "head" else to
                _refuse_foreign_tables(connection, before, where)
                refuse_newer_schema(before, f"The database {name_of(where)}")
                if before is None:
                    make_tables(connection, goal)
                elif before != goal:
                    copied = _keep_a_copy(connection, where, before)
                    if kept is not None:
                        kept(copied)
                    upgrade_tables(connection, to)
                    _refuse_broken_references(connection, where)
                after = stored_version(connection)
            told: list[str] = connection.info.pop("told", [])
        assert after is not None
        if tell is not None:
            for line in told:
                tell(line)
        return before, after
    finally:
        engine.dispose()


def next_number(session: Session, letter: str) -> str:
    """The next running number under a letter, such as J-0001; never given out twice.

    The counter's row is updated first, which locks it, so that two processes cannot read the same number.
    """
    raised = update(Counter).where(Counter.letter == letter).values(last=Counter.last + 1)
    number = session.scalar(raised.returning(Counter.last), execution_options={"synchronize_session": False})
    if number is None:
        session.add(Counter(letter=letter, last=1))
        session.flush()
        number = 1
    return numbered(letter, number)


def count_from(session: Session, letter: str, last: int) -> None:
    """Continue the running numbers under a letter after `last`; codes up to it were given out elsewhere."""
    session.execute(delete(Counter).where(Counter.letter == letter))
    session.execute(insert(Counter).values(letter=letter, last=last))


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DatabaseError(f"The folder {folder} cannot be made: {error.strerror or error}.") from error


def _refuse_what_is_no_database(url: URL) -> None:
    if (path := sqlite_path(url)) is None:
        return
    if not path.exists():
        raise DatabaseError(f"There is no database at {path}.", hint=f"Make one: shopquote setup --db {path}")
    if path.is_dir():
        raise DatabaseError(f"{path} is a folder, not a database file.")
    try:
        with path.open("rb") as file:
            head = file.read(len(DATABASE_BEGINS))
    except OSError as error:
        raise DatabaseError(f"The database {path} cannot be read: {error.strerror or error}.") from error
    if head != DATABASE_BEGINS:
        raise DatabaseError(
            f"{path} is not a shopquote database.", hint="Give the database's own file with --db."
        )


def _refuse_other_schemas(version: str | None, url: URL) -> None:
    name = name_of(url)
    if version is None:
        raise DatabaseError(f"{name} has no shopquote tables.", hint=f"Make: shopquote setup --db {name}")
    refuse_newer_schema(version, f"The database {name}")
    if version < newest_version():
        raise DatabaseError(
            f"The database {name} has schema {version}; this program needs {newest_version()}.",
            hint=f"Upgrade it, with all its data: shopquote db upgrade --db {name}",
        )


def refuse_newer_schema(version: str | None, what: str) -> None:
    """Refuse a database, backup or export made by a newer program; `what` names it in the message.

    Raises:
        DatabaseError: its schema version is newer than this program's.
    """
    if version is not None and version > newest_version():
        raise DatabaseError(
            f"{what} has schema {version}, made by a newer shopquote; "
            f"this one knows up to {newest_version()}.",
            hint="Install the newest shopquote: pip install --upgrade shopquote",
        )


def _refuse_foreign_tables(connection: Connection, version: str | None, url: URL) -> None:
    from sqlalchemy import inspect

    from shopquote.records.tables import metadata  # all tables; most commands need a few

    there = set(inspect(connection).get_table_names()) - {schema.VERSION_TABLE}
    # Another program may use alembic too: a version table alone does not make the database ours.
    if there and (version is None or not there & set(metadata.tables)):
        raise DatabaseError(
            f"{name_of(url)} holds tables of another program ({', '.join(sorted(there)[:3])}).",
            hint="Give shopquote a database of its own.",
        )


def _refuse_broken_references(connection: Connection, url: URL) -> None:
    if connection.dialect.name != "sqlite":
        return  # PostgreSQL keeps references checked all along
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise DatabaseError(
            f"{name_of(url)} was not upgraded: {counted(len(broken), 'row')} without the row referred to, "
            f"the first in table {broken[0][0]}.",
            hint="See: shopquote db check",
        )


def _keep_a_copy(connection: Connection, url: URL, version: str) -> Path:
    """Copy the database before an upgrade: a file beside itself, a server's tables into the data folder."""
    path = sqlite_path(url)
    folder = certificate_folder(url)
    plain = path or folder.with_name(f"{folder.name.removesuffix('.certificates')}.db")
    stem = f"{plain.stem}.before-upgrade-from-{version}"
    names = (
        plain.with_name(f"{stem}{tail}{plain.suffix}") for tail in chain([""], map("-{}".format, count(2)))
    )
    kept = next(name for name in names if not name.exists())
    try:
        if path is not None:
            copy_file(path, kept)
        else:
            _make_folder(kept.parent)
            copy_to_file(connection, kept)
    except (sqlite3.Error, CopyDiffersError) as error:
        raise DatabaseError(
            f"{name_of(url)} was not upgraded: no copy could be kept: {error}.",
            hint="See: shopquote db check",
        ) from error
    return kept
