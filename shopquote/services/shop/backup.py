"""Back up a database with its certificates into one file, and restore it.

A backup is a zip: `shop.db` (a SQLite copy, whatever the database was),
`certificates/` and `backup.json` (schema version, date, rows by table). Because
the copy is the same for SQLite and PostgreSQL, it also moves a shop from the one to the other.
"""

import json
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import URL, Connection, func, insert, inspect, select, text

from shopquote.errors import DatabaseError, InputError
from shopquote.records.engine import READING, copy_sqlite, make_engine
from shopquote.records.schema import newest_version, stored_version, upgrade_tables
from shopquote.records.tables import metadata
from shopquote.services.shop.database import (
    SQLITE_HEADER,
    certificate_folder,
    database_url,
    name_of,
    open_database,
    sqlite_path,
    told_plainly,
    upgrade_database,
)

DATABASE_IN_BACKUP = "shop.db"
NOTE_IN_BACKUP = "backup.json"
CERTIFICATES_IN_BACKUP = "certificates/"
ROWS_AT_ONCE = 2000


@dataclass(frozen=True)
class Backup:
    """What a backup holds: where it is, its schema version, rows in all tables, certificate files.

    `joined` is what restoring an older one joined or respelt.
    """

    path: Path
    version: str
    rows: int
    certificates: int
    joined: tuple[str, ...] = ()


def back_up(url: str | None, target: Path, *, at: datetime) -> Backup:
    """Write a backup of a database that may be in use, as one file, beside and renamed.

    Raises:
        DatabaseError: the database cannot be used.
        InputError: the target is there already.
    """
    if target.exists():
        raise InputError(
            f"{target} is there already; a backup never overwrites.", hint="Give another --out name."
        )
    where = database_url(url)
    with open_database(url) as database, tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / DATABASE_IN_BACKUP
        source = sqlite_path(where)
        if source is not None:
            with told_plainly(where):
                _copy_plainly(source, copy)
        else:
            with database.engine.execution_options(**READING).begin() as connection:
                _copy_to_sqlite(connection, copy)
        rows = _count_rows(copy)
        certificates = sorted(path for path in database.certificates.rglob("*") if path.is_file())
        note = {
            "program": "shopquote",
            "schema": newest_version(),
            "made_at": at.isoformat(timespec="seconds"),
            "source": where.get_backend_name(),
            "rows": rows,
        }
        target.parent.mkdir(parents=True, exist_ok=True)
        beside = target.with_name(target.name + ".part")
        with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(NOTE_IN_BACKUP, json.dumps(note, indent=1))
            archive.write(copy, DATABASE_IN_BACKUP)
            for path in certificates:
                name = path.relative_to(database.certificates).as_posix()
                archive.write(path, CERTIFICATES_IN_BACKUP + name)
        beside.replace(target)
    return Backup(target, newest_version(), sum(rows.values()), len(certificates))


def restore(source: Path, url: str | None, *, replace: bool = False) -> Backup:
    """Put a backup in place of a database that is not there, or with `replace` of one that is.

    An older backup is upgraded on the way. A replaced SQLite file is kept beside as
    NAME.before-restore; nothing changes unless the whole backup was read.

    Raises:
        InputError: the file is not a backup.
        DatabaseError: made by a newer program, or a database is there and `replace` was not given.
    """
    where = database_url(url)
    if not source.is_file():
        raise InputError(f"There is no backup at {source}.")
    with _unpacked(source) as (copy, certificates, version):
        if version > newest_version():
            raise DatabaseError(
                f"{source} has schema {version}, made by a newer shopquote; "
                f"this one knows up to {newest_version()}.",
                hint="Install the newest shopquote: pip install --upgrade shopquote",
            )
        joined: list[str] = []
        upgrade_database(str(copy), tell=joined.append)
        rows = _count_rows(copy)
        path = sqlite_path(where)
        if path is not None and path.exists() and not replace:
            raise _there_already(where, f"it is then kept as {_kept_name(path).name}")
        # Certificates first: named by content they harm nothing, and no row must lack its file.
        count = _put_certificates(certificates, certificate_folder(where))
        if path is not None:
            _put_file(copy, path)
        else:
            _put_on_server(copy, where, replace=replace)
    return Backup(source, version, sum(rows.values()), count, tuple(joined))


def _copy_plainly(source: Path, target: Path) -> None:
    try:
        copy_sqlite(source, target)
    except sqlite3.Error as error:
        raise DatabaseError(f"The database {source} cannot be copied: {error}.") from error


def _copy_to_sqlite(source: Connection, target: Path) -> None:
    engine = make_engine(URL.create("sqlite", database=str(target)))
    try:
        with engine.begin() as connection:
            upgrade_tables(connection)
            _copy_rows(source, connection)
        with engine.connect() as connection:
            connection.connection.cursor().execute("PRAGMA journal_mode = DELETE")
    finally:
        engine.dispose()


def _copy_rows(source: Connection, target: Connection) -> None:
    # Parents before children; in a table by id: a row refers only to an older one of its own kind.
    for table in metadata.sorted_tables:
        rows = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(table).order_by(table.c.id))
        for block in rows.mappings().partitions(ROWS_AT_ONCE):
            target.execute(insert(table), [dict(row) for row in block])


def _put_file(copy: Path, path: Path) -> None:
    if path.exists():
        if path.read_bytes()[: len(SQLITE_HEADER)] == SQLITE_HEADER:
            _copy_plainly(path, _kept_name(path))
        else:
            shutil.copy2(path, _kept_name(path))
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(path.name + ".part")
    shutil.copy2(copy, beside)
    # The old file's log must not be read into the new file.
    for tail in ("-wal", "-shm"):
        path.with_name(path.name + tail).unlink(missing_ok=True)
    beside.replace(path)


def _there_already(where: URL, what_then: str) -> DatabaseError:
    return DatabaseError(
        f"There is a database at {name_of(where)} already.",
        hint=f"Restore beside it with --db ANOTHER, or add --replace; {what_then}.",
    )


def _kept_name(path: Path) -> Path:
    return path.with_name(f"{path.stem}.before-restore{path.suffix}")


def _put_on_server(copy: Path, where: URL, *, replace: bool) -> None:
    source = make_engine(URL.create("sqlite", database=str(copy)))
    target = make_engine(where)
    try:
        with told_plainly(where), source.begin() as old, target.begin() as new:
            if stored_version(new) is not None:
                if not replace and _has_rows(new):
                    raise _there_already(where, "its rows are given up for the backup's, so back it up first")
                new.execute(text("DROP TABLE IF EXISTS alembic_version"))
                metadata.drop_all(new)
            upgrade_tables(new)
            _copy_rows(old, new)
            for table in metadata.sorted_tables:
                new.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                        f"coalesce(max(id), 1), max(id) IS NOT NULL) FROM {table.name}"
                    )
                )
            new.execute(text("ANALYZE"))  # the server learns how many rows have come at once
    finally:
        source.dispose()
        target.dispose()


def _has_rows(connection: Connection) -> bool:
    there = set(inspect(connection).get_table_names())
    return any(
        connection.scalar(select(table.c.id).limit(1)) is not None
        for table in metadata.sorted_tables
        if table.name in there
    )


def _put_certificates(source: Path, target: Path) -> int:
    files = [path for path in source.rglob("*") if path.is_file()] if source.is_dir() else []
    for path in files:
        place = target / path.relative_to(source)
        if not place.exists():  # named by content: what is there is the same
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, place)
    return len(files)


@contextmanager
def _unpacked(source: Path) -> Iterator[tuple[Path, Path, str]]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        try:
            with zipfile.ZipFile(source) as archive:
                note = json.loads(archive.read(NOTE_IN_BACKUP))
                version = str(note["schema"])
                wanted = [
                    word
                    for word in archive.namelist()
                    if word == DATABASE_IN_BACKUP or word.startswith(CERTIFICATES_IN_BACKUP)
                ]
                archive.extractall(folder, wanted)  # zipfile drops "..", drives and leading slashes
        except (zipfile.BadZipFile, KeyError, ValueError, TypeError) as error:
            raise InputError(
                f"{source} is not a shopquote backup.", hint="A backup is made by: shopquote db backup"
            ) from error
        copy = folder / DATABASE_IN_BACKUP
        if not copy.is_file():
            raise InputError(f"{source} holds no database.")
        yield copy, folder / CERTIFICATES_IN_BACKUP, version


def _count_rows(path: Path) -> dict[str, int]:
    engine = make_engine(URL.create("sqlite", database=str(path)))
    try:
        with engine.execution_options(**READING).begin() as connection:
            there = set(inspect(connection).get_table_names())
            return {
                table.name: connection.scalar(select(func.count()).select_from(table)) or 0
                for table in metadata.sorted_tables
                if table.name in there
            }
    finally:
        engine.dispose()
