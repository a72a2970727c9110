"""Clocks that go back, change for summer or stand in another zone: nothing is lost or doubled.

The clock of the whole process is a fake one, its zone too.
"""

import os
import shutil
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine
from sqlalchemy import select
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.errors import InputError
from shopquote.records.logs import TimeEntry
from shopquote.records.people import Customer
from shopquote.services.floor.time_log import start_timer, stop_timer
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import next_number
from shopquote.services.shop.doing import at_the_command_line
from shopquote.services.shop.history import last_history
from tests.test_docs import ROOT

pytestmark = pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of a process cannot be set here")
LONDON, AUCKLAND, LIMA = ZoneInfo("Europe/London"), ZoneInfo("Pacific/Auckland"), ZoneInfo("America/Lima")


@pytest.fixture(autouse=True)
def zone_of_the_machine():
    """The zone as it was, whatever a test sets."""
    held = os.environ.get("TZ")
    yield
    os.environ.pop("TZ", None) if held is None else os.environ.update(TZ=held)
    time.tzset()


# Begun, ended, minutes that went by.
TIMED = [
    # Summer begins: from 1:00 the clock goes to 2:00. Summer ends: from 2:00 back to 1:00.
    (datetime(2030, 3, 31, 0, 30, tzinfo=LONDON), datetime(2030, 3, 31, 2, 30, tzinfo=LONDON), 60),
    (datetime(2030, 10, 27, 0, 30, tzinfo=LONDON), datetime(2030, 10, 27, 2, 30, tzinfo=LONDON), 180),
    # The laptop has flown: 8:00 in Auckland is 15:00 of the day before in Lima.
    (datetime(2030, 6, 4, 8, 0, tzinfo=AUCKLAND), datetime(2030, 6, 3, 16, 30, tzinfo=LIMA), 90),
]


def test_a_timer_counts_what_went_by(any_shop, make_job):
    with any_shop.session() as session:
        make_job(session, state="started")
    for begun, ended, _ in TIMED:
        with time_machine.travel(begun, tick=False), any_shop.session() as session:
            start_timer(session, "J-0001", "welding", person="Wyn", at=now(), on=now().date())
        with time_machine.travel(ended, tick=False), any_shop.session() as session:
            stop_timer(session, "J-0001", person="Wyn", at=now())
    with any_shop.reading() as session:
        entries = session.scalars(select(TimeEntry).order_by(TimeEntry.id)).all()
    assert [(entry.minutes, entry.worked_on) for entry in entries] == [
        (Decimal(minutes), begun.date()) for begun, _, minutes in TIMED
    ]


def test_the_same_moment_is_read_in_any_zone(any_database):
    with (
        time_machine.travel(datetime(2030, 1, 1, 9, 0, tzinfo=AUCKLAND), tick=False),
        at_the_command_line(["customers"]),
        any_database.session() as session,
    ):
        session.add(Customer(name="Orla Fennimore"))
    with time_machine.travel(datetime(2030, 1, 1, 9, 0, tzinfo=LIMA)), any_database.reading() as session:
        (entry,) = last_history(session, 9)
        assert entry.at == datetime(2029, 12, 31, 20, 0, tzinfo=UTC)
        assert entry.at.astimezone().date() == date(2029, 12, 31)


def test_numbers_and_the_history_go_on_while_the_clock_goes_back(any_shop):
    numbers = []
    at = datetime(2030, 5, 1, 12, 0, tzinfo=LONDON)
    for step in range(4):
        with (
            time_machine.travel(at - step * timedelta(days=400), tick=False),
            at_the_command_line(["customers"]),
            any_shop.session() as session,
        ):
            numbers.append(next_number(session, "Q"))
            session.add(Customer(name=f"customer {step}"))
    assert numbers == sorted(numbers) and len(set(numbers)) == 4
    with any_shop.reading() as session:
        told = [entry.what for entry in last_history(session, 9)]
        assert told == [f"new: customer customer {step}" for step in range(4)]
        assert not [found for result in run_checks(session) for found in result.found]


def test_a_timer_over_which_the_clock_was_set_back_is_asked_about(any_shop, make_job):
    begun = datetime(2030, 6, 4, 8, 0, tzinfo=LONDON)
    with any_shop.session() as session:
        make_job(session, state="started")
    for minutes in (None, Decimal(45)):
        with time_machine.travel(begun, tick=False), any_shop.session() as session:
            start_timer(session, "J-0001", "welding", person="Wyn", at=now(), on=now().date())
        back = begun - (timedelta(hours=2) if minutes else timedelta(seconds=20))
        with time_machine.travel(back, tick=False), any_shop.session() as session:
            if minutes:
                with pytest.raises(InputError, match="it was set back meanwhile"):
                    stop_timer(session, "J-0001", person="Wyn", at=now())
            stop_timer(session, "J-0001", person="Wyn", at=now(), minutes=minutes)
    with any_shop.reading() as session:
        # A clock that is put right by seconds is asked about by nobody.
        assert list(session.scalars(select(TimeEntry.minutes))) == [Decimal("0.01"), Decimal(45)]
        assert not [one.found for one in run_checks(session) if one.name == "entries add up" and one.found]


# A job's whole life at the command line. An answer comes no earlier than its quote, money than its invoice.
NO_EARLIER = ("accepted", "--paid")
LIFE = (
    ("job", "add", "sample_jobs/coat_hooks.toml"),
    ("quote", "J-0001", "--out", "papers"),
    ("quotes", "accepted", "J-0001"),
    ("order", "J-0001", "--out", "papers"),
    ("receive", "O-0001"),
    ("log", "J-0001", "--operation", "bending", "--minutes", "30"),
    ("rack", "use", "R-0001", "--job", "J-0001", "--back", "1 m"),
    ("rack", "return", "R-0001", "0.2 m"),
    ("log", "J-0001", "--operation", "sawing", "--minutes", "12"),
    ("deliver", "J-0001", "--sets", "10", "--out", "papers"),
    ("log", "J-0001", "--invoice", "1001", "--amount", "100"),
    ("log", "J-0001", "--paid", "1001"),
    ("quote", "J-0001", "--again", "--out", "papers"),
    ("deliver", "J-0001", "--out", "papers"),
    ("close", "J-0001"),
    ("close", "J-0001", "--reopen", "late minutes"),
    ("log", "J-0001", "--operation", "welding", "--minutes", "3"),
    ("close", "J-0001"),
    ("review", "J-0001", "--out", "papers"),
)


@pytest.mark.parametrize("back", [timedelta(hours=25), timedelta(days=40)])
def test_a_clock_that_goes_back_at_every_command_leaves_sound_records(any_shop, back, tmp_path, monkeypatch):
    shutil.copytree(ROOT / "sample_jobs", tmp_path / "sample_jobs")
    monkeypatch.chdir(tmp_path)
    url = any_shop.url.render_as_string(hide_password=False)
    address = url if "postgresql" in url else any_shop.url.database
    at = datetime(2030, 5, 1, 12, 0, tzinfo=LONDON)
    for words in LIFE:
        if set(NO_EARLIER) & set(words):
            with time_machine.travel(at, tick=False):
                done = CliRunner().invoke(app, ["--db", address, *words])
            assert done.exit_code == 3 and "before" in done.output, done.output
            at += back
        with time_machine.travel(at, tick=False):
            done = CliRunner().invoke(app, ["--db", address, *words])
        assert done.exit_code == 0, (words, done.output)
        at -= back
    with any_shop.reading() as session:
        assert not [found for result in run_checks(session) for found in result.found]
