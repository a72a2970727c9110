"""Clocks that go back, change for summer or stand in another zone: nothing is lost or doubled.

The clock of the whole process is a fake one, its zone too.
"""

import os
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine
from sqlalchemy import select

from shopquote.records.logs import TimeEntry
from shopquote.records.people import Customer
from shopquote.services.floor.time_log import start_timer, stop_timer
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import next_number
from shopquote.services.shop.doing import at_the_command_line
from shopquote.services.shop.history import last_history

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
