"""Kill an upgrade from every older schema midway, then bring it to its end: no row is lost on the way.

    python -m tests.bench.kill_upgrade [SEED] [KILLS]

The oldest schema is filled with a row in every table and brought to each older schema in turn. From there the
upgrade is killed at random moments, KILLS times (3); after each the database has the schema that it had, or
the newest, with all its rows.
"""

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

from shopquote.records import schema
from shopquote.records.engine import copy_sqlite, make_engine
from shopquote.records.places import migrations_folder
from shopquote.services.safe.checks import CHECKS, look
from shopquote.services.shop.database import database_url, open_database, upgrade_database
from tests.records.test_upgrade import old_database, rows_of, with_json_all

OF_THE_FILE = ("the file is sound", "references are whole", "the schema is this program's", "minutes add up")


def version_of(path: Path) -> str | None:
    """The schema that a database has."""
    engine = make_engine(database_url(str(path)))
    with engine.connect() as connection:
        found = schema.stored_version(connection)
    engine.dispose()
    return found


def run(folder: Path, seed: int, kills: int) -> int:
    """Kill upgrades from all older schemas; how many were killed before their end."""
    chance = random.Random(seed)
    versions = sorted(path.name[:4] for path in (migrations_folder() / "versions").glob("[0-9]*_*.py"))
    step = folder / "step.db"
    old = old_database(str(step))
    before = with_json_all(rows_of(str(step), old))
    midway = 0
    for version in versions[:-1]:
        upgrade_database(str(step), to=version)
        path = folder / version / "shop.db"
        path.parent.mkdir()
        copy_sqlite(step, path)
        begun = time.monotonic()
        shutil.copy(path, path.with_name("whole.db"))
        upgrade_database(str(path.with_name("whole.db")))
        took = time.monotonic() - begun
        for _ in range(kills):
            child = os.fork()
            if child == 0:
                upgrade_database(str(path))
                os._exit(0)
            time.sleep(chance.uniform(0, took))
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            found = version_of(path)
            if found == version:
                midway += 1
            elif found != versions[-1]:
                raise SystemExit(f"from {version}: the schema is {found}")
            if with_json_all(rows_of(str(path), old)) != before:
                raise SystemExit(f"from {version}: rows are not as they were")
        upgrade_database(str(path))
        if with_json_all(rows_of(str(path), old)) != before:
            raise SystemExit(f"from {version}: rows are not as they were after the upgrade")
        with open_database(str(path)) as database, database.reading() as session:
            for check in CHECKS:
                for fault in look(session, check) if check.name in OF_THE_FILE else ():
                    raise SystemExit(f"from {version}: {check.name}: {fault.text}")
        shutil.rmtree(path.parent)
    told = f"{len(versions) - 1} older schemas, {kills} kills from each, {midway} of them before the end"
    print(f"seed {seed}: {told}; all rows there", flush=True)
    return midway


if __name__ == "__main__":
    words = [*sys.argv[1:], *("1", "3")[len(sys.argv) - 1 :]]
    with tempfile.TemporaryDirectory() as name:
        run(Path(name), int(words[0]), int(words[1]))
