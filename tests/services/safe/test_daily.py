"""A copy of each day of use: made before the next day's first change, kept as the shop says, restored.

The clock is a fake one for the whole process, on both kinds of database.
"""

import os
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import time_machine
from sqlalchemy import select, text

from shopquote.records.engine import copy_sqlite
from shopquote.records.people import Customer
from shopquote.services.safe import daily
from shopquote.services.safe.backup import restore
from shopquote.services.safe.daily import copies, copy_the_day_before, warning_of_old_copy
from shopquote.services.shop.database import open_database
from shopquote.services.shop.database_places import sqlite_path
from shopquote.services.shop.doing import at_the_command_line


@pytest.fixture
def use(any_shop):
    """A function that uses the shop on a day: a customer of that day's name is put on file."""

    def on(day: date, hour: int = 12) -> None:
        at = datetime(day.year, day.month, day.day, hour).astimezone()
        with (
            time_machine.travel(at, tick=False),
            at_the_command_line(["customers"], before=copy_the_day_before),
            any_shop.session() as session,
        ):
            if session.scalar(select(Customer).where(Customer.name == day.isoformat())) is None:
                session.add(Customer(name=day.isoformat()))
        path = sqlite_path(any_shop.url)
        for file in (path, path.with_name(path.name + "-wal")) if path else ():
            if file.exists():  # the disk has a clock of its own
                os.utime(file, (at.timestamp(), at.timestamp()))

    return on


def names(where: str) -> list[str]:
    with open_database(where) as database, database.reading() as session:
        return list(session.scalars(select(Customer.name).order_by(Customer.name)))


def names_in(database) -> list[str]:
    with database.reading() as session:
        return list(session.scalars(select(Customer.name).order_by(Customer.name)))


def test_each_day_of_use_is_kept_as_it_ended_and_can_be_restored(use, any_shop, tmp_path):
    start = date(2030, 3, 29)  # over a change of the clocks
    for i in range(3):
        use(start + timedelta(days=i))
        use(start + timedelta(days=i))  # again on the same day: no second copy
    held = copies(any_shop)
    # Of the day before too: the shop's file was last written on another day.
    days = [copy.day for copy in held if copy.day >= start]
    assert days == [start + timedelta(days=i) for i in range(2)]
    for i, copy in enumerate(copy for copy in held if copy.day >= start):
        target = tmp_path / f"again{i}.db"
        assert restore(copy.path, str(target)).faults == 0
        assert names(str(target))[-1] == (start + timedelta(days=i)).isoformat()


@pytest.mark.parametrize("any_shop", ["sqlite"], indirect=True)  # what is let go is files on both
def test_as_many_are_kept_as_the_shop_says_and_the_first_of_each_month(use, any_shop):
    with any_shop.session() as session:
        session.execute(text("UPDATE shop SET backups_kept = 2"))
    for day in (date(2030, 1, 30), date(2030, 2, 3), date(2030, 2, 4), date(2030, 2, 5), date(2030, 2, 6)):
        use(day)
    kept = [copy.day for copy in copies(any_shop) if copy.day.year == 2030]
    assert kept == [date(2030, 1, 30), date(2030, 2, 3), date(2030, 2, 4), date(2030, 2, 5)]
    use(date(2030, 2, 7))
    assert [copy.day.day for copy in copies(any_shop) if copy.day.year == 2030] == [30, 3, 5, 6]
    with any_shop.session() as session:
        session.execute(text("UPDATE shop SET backups_kept = 0"))
    use(date(2030, 2, 9))
    assert copies(any_shop)[-1].day == date(2030, 2, 6)


def test_what_stands_in_the_way_is_told_with_the_age_and_stops_nobody(use, any_shop, capsys):
    use(date(2030, 1, 1))
    folder = daily.copies_folder(any_shop)
    if folder.exists():
        for path in folder.iterdir():
            path.unlink()
        folder.rmdir()
    folder.write_text("in the way", encoding="utf-8")
    use(date(2030, 1, 2))
    told = capsys.readouterr().err
    assert "no copy of 2030-01-01 could be kept" in told and "there is none yet" in told
    assert "2030-01-02" in names_in(any_shop)
    assert "no copy of a day of use yet" in warning_of_old_copy(any_shop)
    with time_machine.travel(datetime(2030, 1, 2, 18).astimezone(), tick=False):
        assert warning_of_old_copy(any_shop) == ""  # it may be the first day of all


def test_a_clock_that_went_back_makes_no_copy_and_loses_nothing(use, any_shop):
    use(date(2030, 1, 5))
    before = copies(any_shop)
    use(date(2030, 1, 3))
    assert copies(any_shop) == before
    assert {"2030-01-03", "2030-01-05"} <= set(names_in(any_shop))


def test_a_database_kept_beside_by_a_cure_or_an_upgrade_is_restored_like_a_backup(shop, tmp_path):
    with shop.session() as session:
        session.add(Customer(name="kept"))
    beside = tmp_path / "shop.before-upgrade-from-0001.db"
    copy_sqlite(Path(shop.url.database), beside)
    assert restore(beside, str(tmp_path / "again.db")).faults == 0
    assert "kept" in names(str(tmp_path / "again.db"))
