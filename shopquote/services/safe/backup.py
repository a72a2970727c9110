"""Back up a database with its certificates into one file, and restore it.

A backup is a zip file: `shop.db` (always a SQLite copy, also of a PostgreSQL database), `certificates/` and
`backup.json` (schema version, date, number of rows of each table, SHA-256 of every other member). Because the
copy has one form for SQLite and PostgreSQL, a backup also moves a shop from one to the other.

A restore unpacks the backup into a temporary folder, checks all of it and only then replaces the database.
The database that was there before, damaged or not, is kept beside the new one under a numbered name.
"""

import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from itertools import count
from pathlib import Path

from sqlalchemy import URL, Connection, func, inspect, select, text
from sqlalchemy import exc as sql_errors

from shopquote.calc.frozen import dataclass
from shopquote.errors import DatabaseError, InputError
from shopquote.files import DATABASE_BEGINS, bring_in, digest_of, disk_told, set_aside
from shopquote.reading.files import refuse_zip_bomb
from shopquote.records.copies import CopyDiffersError, copy_file, copy_rows, copy_to_file
from shopquote.records.engine import READING, copy_sqlite, count_on, make_engine
from shopquote.records.schema import make_tables, newest_version, stored_version
from shopquote.records.tables import metadata
from shopquote.services.safe.checks import run_checks
from shopquote.services.safe.checks.file import file_is_sound, references_are_whole
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import open_database, refuse_newer_schema, upgrade_database
from shopquote.services.shop.database_places import certificate_folder, database_url, name_of, sqlite_path
from shopquote.services.shop.driver_errors import driver_errors_in_words

# Names within the zip file: the format of backups, which stays readable for ever.
DATABASE_IN_BACKUP = "shop.db"
NOTE_IN_BACKUP = "backup.json"
CERTIFICATES_IN_BACKUP = "certificates/"
# What `zipfile` and `json` raise on a file that is no zip, or is damaged: an altered header reaches codecs,
# lengths and flags, each with an error class of its own.
BROKEN_ZIP = (zipfile.BadZipFile, zlib.error, EOFError, LookupError, ValueError, TypeError, RuntimeError)
# SQLite's write-ahead log beside a database file, and the index of it.
_LOGS = ("-wal", "-shm")
OTHER_BACKUP = "Nothing was changed; try another backup."


@dataclass(frozen=True)
class Backup:
    """A backup that was written or restored: path, schema version, rows in all tables, certificate files.

    `joined` says which records the upgrade of an older backup joined or respelt; `kept` is where a restore
    put the database that was there before; `faults` counts what `db check` finds in the restored one.
    """

    path: Path
    version: str
    rows: int
    certificates: int
    joined: tuple[str, ...] = ()
    kept: Path | None = None
    faults: int = 0


def back_up(url: str | None, target: Path, *, at: datetime) -> Backup:
    """Write a backup of a database, which may be in use, as one file.

    It is written under a temporary name, read back, and renamed only when it is whole.

    Raises:
        DatabaseError: the database cannot be used.
        InputError: the target exists already.
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
            with driver_errors_in_words(where):
                copy_plainly(source, copy)
        else:
            with database.engine.execution_options(**READING).begin() as connection:
                copy_to_file(connection, copy)
        rows = _count_rows(copy)
        certificates = sorted(path for path in database.certificates.rglob("*") if path.is_file())
        note = {
            "program": "shopquote",
            "schema": newest_version(),
            "made_at": at.isoformat(timespec="seconds"),
            "source": where.get_backend_name(),
            "rows": rows,
        }
        members = {DATABASE_IN_BACKUP: copy} | {
            CERTIFICATES_IN_BACKUP + path.relative_to(database.certificates).as_posix(): path
            for path in certificates
        }
        note["sha256"] = {name: digest_of(path) for name, path in members.items()}
        with set_aside(target.parent) as aside:
            packed = aside / target.name
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr(NOTE_IN_BACKUP, json.dumps(note, indent=1))
                for name, path in members.items():
                    archive.write(path, name)
            with _unpacked(packed):
                pass  # reading it back compares every hash: a faulty disk shows now, not on the day of need
            bring_in([packed], target.parent)
    return Backup(target, newest_version(), sum(rows.values()), len(certificates))


def restore(source: Path, url: str | None, *, replace: bool = False) -> Backup:
    """Put a backup in the place of a database that does not exist, or with `replace` of one that does.

    A backup of an older schema is upgraded. An existing database, damaged or not, is kept as
    NAME.before-restore-1, -2 and so on; nothing changes unless the whole backup could be read and is sound.

    Raises:
        InputError: the file is not a backup, or its content was changed since it was written.
        DatabaseError: written by a newer program, or a database exists and `replace` was not given.
    """
    where = database_url(url)
    if not source.is_file():
        raise InputError(f"There is no backup at {source}.")
    with _unpacked(source) as (copy, certificates, version):
        refuse_newer_schema(version, str(source))
        joined: list[str] = []
        faults = _upgraded_and_checked(source, copy, certificates, joined.append)
        rows = _count_rows(copy)
        path = sqlite_path(where)
        if path is not None and path.exists() and not replace:
            raise _there_already(where, f"it is then kept as {kept_name(path).name}")
        # Certificates first: if the restore stops here, files without a row do no harm (their names are the
        # hashes of their content), whereas a row without its file is a fault.
        certificate_count = _put_certificates(certificates, certificate_folder(where))
        kept = None
        if path is not None:
            kept = _put_file(copy, path)
        else:
            kept = _back_up_before(where) if replace else None
            _put_on_server(copy, where, replace=replace)
    return Backup(source, version, sum(rows.values()), certificate_count, tuple(joined), kept, faults)


def _upgraded_and_checked(source: Path, copy: Path, certificates: Path, tell: Callable[[str], None]) -> int:
    """Upgrade the unpacked copy to this program's schema; returns how many faults `db check` finds in it.

    A fault in the shop's records does not stop a restore; damage of the database file itself does.

    Raises:
        InputError: the file inside is damaged.
    """
    try:
        upgrade_database(str(copy), tell=tell)
        with open_database(str(copy)) as database, database.reading() as session:
            # These two checks are of the file, the rest of the shop's records: a backup with faults of the
            # latter is still the best there is.
            damage = [*file_is_sound(session), *references_are_whole(session)]
            faults = sum(len(result.found) for result in run_checks(session, certificates))
    except DatabaseError as error:
        raise InputError(
            f"The database in {source} is damaged: {error.message}", hint=OTHER_BACKUP
        ) from error
    if damage:
        raise InputError(f"The database in {source} is damaged: {damage[0].text}.", hint=OTHER_BACKUP)
    return faults


def copy_plainly(source: Path, target: Path) -> None:
    """Copy a SQLite file, with a driver's error in plain words.

    Raises:
        DatabaseError: it cannot be read, or the copy differs from it.
    """
    try:
        copy_file(source, target)
    except (sqlite3.Error, CopyDiffersError) as error:
        raise DatabaseError(f"The database {source} cannot be copied: {error}.") from error


def _put_file(copy: Path, path: Path) -> Path | None:
    """Replace the database file at `path` by the checked copy; returns where the old one is kept, if any.

    A run killed at any moment leaves the old database, whole, or the new one.

    Raises:
        DatabaseError: the file cannot be written; the old one is as it was.
    """
    beside = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # A copy over the old file could stop half-way; a rename within a folder happens whole or not at all.
        shutil.copy2(copy, beside)
        with beside.open("rb") as file:
            # On the disk before the rename: a power cut must not leave the name with an empty file.
            os.fsync(file.fileno())
        kept = _keep_old(path) if path.exists() else None
        for tail in _LOGS:
            path.with_name(path.name + tail).unlink(missing_ok=True)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise DatabaseError(
            f"The database {path} cannot be written: {error.strerror or error}; {disk_told(path)}.",
            hint="Make room there, or give another --db; nothing was changed.",
        ) from error
    return kept


def _keep_old(path: Path) -> Path:
    """Give the database at `path` a second name, to which its log moves, and return that name."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(path)) as old:
        # What stands only in the log goes into the file, so that the file is whole without it.
        old.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    kept = kept_name(path)
    try:
        os.link(path, kept)
    except OSError:  # not every disk knows a second name
        shutil.copy2(path, kept)
    for tail in _LOGS:
        # The old file's log must never be replayed into the new file.
        if (log := path.with_name(path.name + tail)).exists():
            log.replace(kept.with_name(kept.name + tail))
    return kept


def _back_up_before(where: URL) -> Path | None:
    """Back up a server's database before a restore replaces it; None if it has no rows."""
    engine = make_engine(where)
    try:
        with driver_errors_in_words(where), engine.connect() as connection:
            if stored_version(connection) is None or not _has_rows(connection):
                return None
    finally:
        engine.dispose()
    kept = kept_name(certificate_folder(where).with_suffix(".zip"))
    back_up(where.render_as_string(hide_password=False), kept, at=now())
    return kept


def _there_already(where: URL, what_then: str) -> DatabaseError:
    return DatabaseError(
        f"There is a database at {name_of(where)} already.",
        hint=f"Restore beside it with --db ANOTHER, or add --replace; {what_then}.",
    )


def kept_name(path: Path, deed: str = "restore") -> Path:
    """The first free name for a copy of `path` from before a restore or a cure: NAME.before-restore-1.db."""
    names = (path.with_name(f"{path.stem}.before-{deed}-{number}{path.suffix}") for number in count(1))
    return next(name for name in names if not name.exists())


def _put_on_server(copy: Path, where: URL, *, replace: bool) -> None:
    source = make_engine(URL.create("sqlite", database=str(copy)))
    target = make_engine(where)
    try:
        with driver_errors_in_words(where), source.begin() as old, target.begin() as new:
            if stored_version(new) is not None:
                if not replace and _has_rows(new):
                    raise _there_already(where, "it is backed up into your data folder first")
                new.execute(text("DROP TABLE IF EXISTS alembic_version"))
                # Not DROP SCHEMA: other programs may have tables in the same database.
                metadata.drop_all(new)
            make_tables(new, newest_version())
            copy_rows(old, new)
            for table in metadata.sorted_tables:
                count_on(new, table.name)
            new.execute(text("ANALYZE"))  # so that the first queries are planned by the new row counts
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
        if not place.exists():  # the name is the hash of the content: an existing file is the same
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, place)
    return len(files)


@contextmanager
def _unpacked(source: Path) -> Iterator[tuple[Path, Path, str]]:
    """A backup's database, its certificate folder and its schema version, in a temporary folder.

    A plain SQLite file is taken too: that is what an upgrade, a cure or a restore keeps.

    Raises:
        InputError: not a backup, or a member differs from its SHA-256 (the oldest backups hold none).
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if _is_database(source):
            copy = _plain_copy(source, folder)
            yield copy, folder / CERTIFICATES_IN_BACKUP, _version_of(copy, source)
            return
        try:
            with zipfile.ZipFile(source) as archive:
                refuse_zip_bomb(archive, source, NOTE_IN_BACKUP)
                note = json.loads(archive.read(NOTE_IN_BACKUP))
                version, digests = str(note["schema"]), dict(note.get("sha256", {}))
                with archive.open(DATABASE_IN_BACKUP) as held:
                    if held.read(len(DATABASE_BEGINS)) != DATABASE_BEGINS:
                        raise InputError(f"{source} holds no database.", hint=OTHER_BACKUP)
                wanted = [
                    word
                    for word in archive.namelist()
                    if word == DATABASE_IN_BACKUP or word.startswith(CERTIFICATES_IN_BACKUP)
                ]
                archive.extractall(folder, wanted)  # zipfile drops "..", drives and leading slashes
        except BROKEN_ZIP as error:
            raise InputError(
                f"{source} is damaged, or is not a shopquote backup.",
                hint=f"A backup is made by: shopquote db backup. {OTHER_BACKUP}",
            ) from error
        copy = folder / DATABASE_IN_BACKUP
        for member, digest in digests.items():
            if not (folder / member).is_file() or digest_of(folder / member) != digest:
                raise InputError(
                    f"{source}: {member} is not as it was backed up: it was changed since.", hint=OTHER_BACKUP
                )
        yield copy, folder / CERTIFICATES_IN_BACKUP, version


def _is_database(path: Path) -> bool:
    """Whether a file is a SQLite database itself, as an upgrade, a cure or a restore keeps one."""
    with path.open("rb") as file:
        return file.read(len(DATABASE_BEGINS)) == DATABASE_BEGINS


def _plain_copy(source: Path, folder: Path) -> Path:
    copy = folder / DATABASE_IN_BACKUP
    try:
        copy_sqlite(source, copy)
    except sqlite3.Error as error:
        raise InputError(f"The database in {source} is damaged: {error}.", hint=OTHER_BACKUP) from error
    return copy


def _version_of(copy: Path, path: Path) -> str:
    engine = make_engine(URL.create("sqlite", database=str(copy)))
    try:
        with engine.execution_options(**READING).begin() as connection:
            version = stored_version(connection)
    except sql_errors.DatabaseError as error:
        raise InputError(f"The database in {path} is damaged: {error.orig}.", hint=OTHER_BACKUP) from error
    finally:
        engine.dispose()
    if version is None:
        raise InputError(f"{path} has no shopquote tables.", hint=OTHER_BACKUP)
    return version


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
