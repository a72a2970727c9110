"""Restore a backup of every older schema, and kill an upgrade from each midway: no row is lost on the way.

    python -m tests.bench.kill_upgrade [SEED] [KILLS] [FOLDER]

The oldest schema is filled with a row in every table and brought to each older schema in turn. A backup made
there is restored by today's program into an empty database. From there too the upgrade is killed at random
moments, KILLS times (3); after each the database has the schema that it had or the newest, with all its rows.
With FOLDER on a PostgreSQL server that is started there, else on SQLite.
"""

import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import zipfile
from pathlib import Path

from sqlalchemy import MetaData

from shopquote.records import schema
from shopquote.records.copies import copy_file, copy_to_file
from shopquote.records.engine import copy_sqlite, make_engine
from shopquote.records.places import migrations_folder
from shopquote.services.safe.backup import DATABASE_IN_BACKUP, NOTE_IN_BACKUP, restore
from shopquote.services.safe.checks import CHECKS, faults_of
from shopquote.services.shop.database import open_database, upgrade_database
from shopquote.services.shop.database_places import database_url
from tests.bench.kill_server import start
from tests.conftest import _postgres_admin
from tests.records.test_upgrade import old_database, rows_of, with_json_all

OF_THE_FILE = ("the file is sound", "references are whole", "the schema is this program's", "minutes add up")


def version_of(url: str) -> str | None:
    """The schema that a database has."""
    engine = make_engine(database_url(url))
    with engine.connect() as connection:
        found = schema.stored_version(connection)
    engine.dispose()
    return found


class Files:
    """Databases as files of a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def url(self, name: str) -> str:
        """Where the database of a name is, or may be made."""
        (self.folder / name).mkdir(exist_ok=True)
        return str(self.folder / name / "shop.db")

    def copy(self, name: str, to: str) -> str:
        """Copy a database that nobody has open, over the one that was there; where it is."""
        shutil.rmtree(self.folder / to, ignore_errors=True)
        copy_sqlite(Path(self.url(name)), Path(self.url(to)))
        return self.url(to)

    def back_up(self, name: str, to: Path) -> None:
        """Write what a backup holds of a database of any schema."""
        copy_file(Path(self.url(name)), to)

    def empty(self) -> str:
        """Where a backup may be restored to."""
        shutil.rmtree(self.folder / "restored", ignore_errors=True)
        return self.url("restored")


class Server:
    """Databases of a PostgreSQL server."""

    def __init__(self, folder: Path) -> None:
        self.address, self.process = start(folder)

    def url(self, name: str) -> str:
        """As of `Files`."""
        return self.address.replace("DATABASE", f"upgrade_{name}")

    def make(self, name: str) -> None:
        """Make an empty database in the place of the one that was there."""
        self._do(f"DROP DATABASE IF EXISTS upgrade_{name} WITH (FORCE)", f"CREATE DATABASE upgrade_{name}")

    def copy(self, name: str, to: str) -> str:
        """As of `Files`."""
        self._do(
            f"DROP DATABASE IF EXISTS upgrade_{to} WITH (FORCE)",
            f"CREATE DATABASE upgrade_{to} TEMPLATE upgrade_{name}",
        )
        return self.url(to)

    def back_up(self, name: str, to: Path) -> None:
        """As of `Files`."""
        engine = make_engine(database_url(self.url(name)))
        with engine.connect() as connection:
            copy_to_file(connection, to)
        engine.dispose()

    def empty(self) -> str:
        """As of `Files`."""
        self.make("restored")
        return self.url("restored")

    def _do(self, *statements: str) -> None:
        with _postgres_admin(self.address) as do:
            for statement in statements:
                do(statement)


def restored(places: Files | Server, version: str) -> str:
    """Restore a backup, as a program of that version made it, into an empty database; where that is."""
    with tempfile.TemporaryDirectory() as name:
        copy, packed = Path(name) / "shop.db", Path(name) / "old.zip"
        places.back_up("step", copy)
        with zipfile.ZipFile(packed, "w") as archive:
            archive.write(copy, DATABASE_IN_BACKUP)
            archive.writestr(NOTE_IN_BACKUP, json.dumps({"schema": version}))
        url = places.empty()
        restore(packed, url)
    return url


def look_at(url: str, version: str, old: MetaData, before: object) -> None:
    """The newest schema, all rows, and nothing wrong with the file itself."""
    if with_json_all(rows_of(url, old)) != before:
        raise SystemExit(f"from {version}: rows are not as they were")
    with open_database(url) as database, database.reading() as session:
        for check in CHECKS:
            for fault in faults_of(session, check) if check.name in OF_THE_FILE else ():
                raise SystemExit(f"from {version}: {check.name}: {fault.text}")


def run(places: Files | Server, seed: int, kills: int) -> int:
    """Kill upgrades from all older schemas; how many were killed before their end."""
    chance = random.Random(seed)
    versions = sorted(path.name[:4] for path in (migrations_folder() / "versions").glob("[0-9]*_*.py"))
    if isinstance(places, Server):
        places.make("step")
    old = old_database(places.url("step"))
    before = with_json_all(rows_of(places.url("step"), old))
    midway = 0
    for version in versions[:-1]:
        upgrade_database(places.url("step"), to=version)
        begun = time.monotonic()
        upgrade_database(places.copy("step", "whole"))
        took = time.monotonic() - begun
        url = places.copy("step", "killed")
        for _ in range(kills):
            child = os.fork()
            if child == 0:
                upgrade_database(url)
                os._exit(0)
            time.sleep(chance.uniform(0, took))
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            found = version_of(url)
            if found == version:
                midway += 1
            elif found != versions[-1]:
                raise SystemExit(f"from {version}: the schema is {found}")
            if with_json_all(rows_of(url, old)) != before:
                raise SystemExit(f"from {version}: rows are not as they were")
        upgrade_database(url)
        look_at(url, version, old, before)
        look_at(restored(places, version), version, old, before)
        print(f"from {version}: {kills} kills, all rows there; a backup restored", flush=True)
    told = f"{len(versions) - 1} older schemas, {kills} kills from each, {midway} of them before the end"
    told += ", a backup of each restored"
    print(f"seed {seed}: {type(places).__name__.lower()}, {told}; all rows there", flush=True)
    return midway


if __name__ == "__main__":
    words = [*sys.argv[1:], *("1", "3", "")[len(sys.argv) - 1 :]]
    with tempfile.TemporaryDirectory() as name:
        os.environ["XDG_DATA_HOME"] = name  # where a server's copies from before an upgrade go
        if not words[2]:
            run(Files(Path(name)), int(words[0]), int(words[1]))
        else:
            Path(words[2]).mkdir(parents=True, exist_ok=True)
            server = Server(Path(words[2]))
            run(server, int(words[0]), int(words[1]))
            os.kill(server.process, signal.SIGQUIT)
