"""A disk without room, another program's database, and days that have not come."""

import errno
import os
import shutil
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import exc, text

from shopquote.errors import DatabaseError, InputError
from shopquote.files import disk_told, set_aside
from shopquote.records.copies import copy_file
from shopquote.records.engine import copy_sqlite, make_quiet_engine
from shopquote.services.safe.backup import back_up, restore
from shopquote.services.shop import database as databases
from shopquote.services.shop.database import open_database, upgrade_database
from shopquote.services.shop.shop_on_file import day_typed, refuse_ahead


def test_on_a_full_disk_reading_works_and_writing_names_the_disk(shop, tmp_path, monkeypatch):
    path = tmp_path / "full.db"
    copy_sqlite(Path(shop.url.database), path)
    first = iter([True])
    really = databases._version_in

    def full(engine, where):
        if next(first, False):  # as SQLite says when it cannot make its index of the log
            with databases.driver_errors_in_words(where):
                raise exc.OperationalError("", {}, sqlite3.OperationalError("disk I/O error"))
        return really(engine, where)

    monkeypatch.setattr(databases, "_version_in", full)
    with open_database(str(path)) as database:
        with database.reading() as session:
            assert session.scalar(text("SELECT count(*) FROM shop")) == 1
        with pytest.raises(DatabaseError) as caught, database.session():
            pass
    assert "the disk is /" in str(caught.value) and "MB free" in str(caught.value)
    assert not path.with_name("full.db-shm").exists()


def test_a_log_that_is_not_empty_is_read_too(shop, tmp_path):
    path = Path(shop.url.database)
    with shop.session() as session:
        session.execute(text("INSERT INTO counters (letter, last) VALUES ('Z', 7)"))
    copy = tmp_path / "logged.db"
    for tail in ("", "-wal"):
        copy.with_name(copy.name + tail).write_bytes(path.with_name(path.name + tail).read_bytes())
    engine = make_quiet_engine(copy)
    with engine.begin() as connection:
        assert connection.scalar(text("SELECT last FROM counters WHERE letter = 'Z'")) == 7
    engine.dispose()


def test_a_database_on_a_full_disk_is_copied_to_another(shop, tmp_path, monkeypatch):
    path = tmp_path / "full.db"
    copy_sqlite(Path(shop.url.database), path)
    really = sqlite3.connect

    class Full:
        def execute(self, _: str) -> None:
            raise sqlite3.OperationalError("disk I/O error")  # as SQLite says of its index of the log

        def close(self) -> None:
            pass

    def connect(place, **how):
        return Full() if place == path else really(place, **how)

    monkeypatch.setattr(sqlite3, "connect", connect)
    copy_file(path, tmp_path / "copy.db")
    with closing(really(tmp_path / "copy.db")) as copy:
        assert copy.execute("SELECT count(*) FROM shop").fetchone() == (1,)
    assert not path.with_name("full.db-shm").exists()


def test_files_that_find_no_room_name_the_disk(tmp_path):
    with pytest.raises(InputError, match="has no room; the disk is /"), set_aside(tmp_path):
        raise OSError(errno.ENOSPC, "No space left on device")
    with pytest.raises(FileNotFoundError), set_aside(tmp_path):
        raise FileNotFoundError(errno.ENOENT, "gone")


def test_the_disk_is_told_of_a_file_that_is_not_there_yet(tmp_path):
    assert disk_told(tmp_path / "a" / "b").startswith("the disk is /")


@pytest.mark.parametrize(
    "made",
    ["CREATE TABLE albums (id INTEGER)",
     "CREATE TABLE albums (id INTEGER); CREATE TABLE alembic_version (version_num TEXT);"
     "INSERT INTO alembic_version VALUES ('a3f9')"],
)  # fmt: skip
def test_another_program_s_database_is_refused_and_left_as_it_is(tmp_path, made):
    path = tmp_path / "music.db"
    with closing(sqlite3.connect(path)) as other:
        other.executescript(made)
    before = path.read_bytes()
    with pytest.raises(DatabaseError, match="tables of another program \\(albums"):
        upgrade_database(str(path))
    with closing(sqlite3.connect(path)) as other:
        assert "jobs" not in str(other.execute("SELECT name FROM sqlite_master").fetchall())
    assert len(path.read_bytes()) == len(before)


def test_a_day_that_has_not_come_is_refused_with_the_reason(shop):
    today = date(2026, 3, 2)
    with pytest.raises(InputError) as caught:
        refuse_ahead(date(2026, 3, 3), today)
    assert "has not come yet" in caught.value.message and "prices and rates of its own day" in str(
        caught.value
    )
    with shop.reading() as session:
        with pytest.raises(InputError):
            day_typed(session, "--on", "2027-01-01", today)
        assert day_typed(session, "--on", "2027-01-01", today, ahead=True) == date(2027, 1, 1)
        assert day_typed(session, "--on", "2026-03-02", today) == today


@pytest.fixture
def backed_up(shop, tmp_path):
    """A backup with a counter Z, and a database in whose log it is a counter Y."""
    path = tmp_path / "here.db"
    with shop.session() as session:
        session.execute(text("INSERT INTO counters (letter, last) VALUES ('Z', 7)"))
    back_up(str(shop.url.database), tmp_path / "backup.zip", at=datetime(2026, 3, 2, tzinfo=UTC))
    copy_sqlite(Path(shop.url.database), path)
    log = sqlite3.connect(path, isolation_level=None)
    log.execute("PRAGMA journal_mode = WAL")
    log.execute("PRAGMA wal_autocheckpoint = 0")
    log.execute("UPDATE counters SET letter = 'Y' WHERE letter = 'Z'")
    yield tmp_path / "backup.zip", path  # the log stays, as where the page is being served
    log.close()


def letters(path):
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as held:
        return {letter for (letter,) in held.execute("SELECT letter FROM counters")} & {"Y", "Z"}


def test_a_restore_that_finds_no_room_names_the_disk_and_leaves_nothing_behind(backed_up, monkeypatch):
    backup, path = backed_up
    there = sorted(path.parent.iterdir())

    def full(source, target):
        Path(target).write_bytes(b"half")
        raise OSError(errno.ENOSPC, "No space left on device", str(source))

    monkeypatch.setattr(shutil, "copy2", full)
    with pytest.raises(DatabaseError, match=r"here\.db cannot be written: No space.*; the disk is /"):
        restore(backup, str(path), replace=True)
    assert sorted(path.parent.iterdir()) == there
    assert letters(path) == {"Y"}


def test_a_restore_killed_at_any_step_leaves_the_old_database_whole_or_the_new_one(backed_up, monkeypatch):
    backup, path = backed_up
    steps = [(os, "link"), (Path, "replace"), (Path, "unlink"), (shutil, "copy2"), (os, "fsync")]
    left = set()
    for killed_at in range(1, 20):
        done = 0

        def counted(really, killed_at=killed_at):
            def step(*words, **how):
                nonlocal done
                done += str(path) in " ".join(map(str, words))
                if done == killed_at:
                    raise KeyboardInterrupt
                return really(*words, **how)

            return step

        with monkeypatch.context() as patch:
            for where, name in steps:
                patch.setattr(where, name, counted(getattr(where, name)))
            with suppress(KeyboardInterrupt):
                restore(backup, str(path), replace=True)
        left.add(found := "".join(letters(path)))
        assert found in ("Y", "Z"), killed_at
        if found == "Z":
            break
    assert left == {"Y", "Z"} and killed_at > 3
    kept = [one for one in path.parent.glob("here.before-restore-*.db") if letters(one) == {"Y"}]
    assert kept
