"""The demo: six sample jobs taken through an invented shop, from job file to the review of a closed job.

`make_demo` is the entry point. Every step calls the service that the user's command calls; nothing is
calculated here, and only the demo's own database is written.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.errors import InputError
from shopquote.records.engine import copy_sqlite
from shopquote.records.places import sample_jobs_folder
from shopquote.services.buying.arrivals import Arrival
from shopquote.services.buying.orders import OrderWish, PlacedOrders, order_for_jobs
from shopquote.services.buying.orders_on_file import find_order
from shopquote.services.buying.receive import ReceivedOrder, receive_order
from shopquote.services.buying.shelving import Delivery
from shopquote.services.floor.bar_log import log_bars
from shopquote.services.floor.bill_log import log_bought, log_invoice
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.floor.floor_sheet import FloorSheet
from shopquote.services.floor.log import log_scrap
from shopquote.services.floor.time_log import log_minutes
from shopquote.services.jobs.job_list import list_jobs
from shopquote.services.jobs.jobs import add_jobs
from shopquote.services.quotes.quotes_on_file import answer_quote, make_quote
from shopquote.services.review.close import close_job
from shopquote.services.review.job_review import JobReview
from shopquote.services.review.review_answer import ReviewAnswer, ReviewWish, answer_review
from shopquote.services.shop.database import Database, open_database
from shopquote.services.shop.new_shop import set_up

# Days before the day of the demo. Quotes are valid for some weeks, and work comes after the answer: the order
# and the distances of a small shop's month.
SET_UP_BEFORE = timedelta(days=30)
FIRST_QUOTE_BEFORE = timedelta(days=21)
FIRST_WORK_BEFORE = timedelta(days=12)
# Finished jobs in the second database: enough for a review of many jobs to learn from, few enough to be made
# in seconds.
EARLIER_JOBS = 80

FINISHED = "fire_grate"
WON = ("coat_hooks", "shelf_brackets", "stair_hand_rail")


@dataclass(frozen=True)
class DemoJob:
    """State of one sample job at the end of the demo; `price` is the net price of its quote, if quoted."""

    name: str
    number: str
    title: str
    customer: str
    sets: int
    state: str
    price: Decimal | None


@dataclass(frozen=True)
class Demo:
    """All results of the demo, to be shown and written; `earlier` is the review of the two invented years."""

    currency: str
    jobs: tuple[DemoJob, ...]
    quotes: tuple[QuoteDocument, ...]
    placed: PlacedOrders
    received: tuple[ReceivedOrder, ...]
    floor: tuple[FloorSheet, ...]
    review: JobReview
    answer: ReviewAnswer
    earlier: ReviewAnswer | None = None


def sample_job_files() -> dict[str, Path]:
    """The sample job files by name, sorted; the folders `logged` and `expected` beside them are left out.

    Raises:
        InputError: the program was installed without them.
    """
    found = {path.stem: path for path in sorted(sample_jobs_folder().glob("*.toml"))}
    if not found:
        raise InputError(
            f"There are no sample jobs in {sample_jobs_folder()}.", hint="Install shopquote again."
        )
    return found


def make_demo(folder: Path, *, at: datetime) -> tuple[Demo, Path]:
    """Make the demo's database `folder`/demo.db with the demo in it; returns the demo and that path.

    A copy, two_years.db, holds two invented years of jobs besides. Both are made under other names and
    renamed when complete, so that an earlier demo stays until then.

    Raises:
        InputError: the folder cannot be made or written to.
        DatabaseError: the database cannot be used.
    """
    path, making = folder / "demo.db", folder / "demo-in-the-making.db"
    years, filling = two_years(path), folder / "two-years-in-the-making.db"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for old in (making, filling):
            _remove(old)
    except OSError as error:
        raise InputError(f"{folder}: cannot be used as the demo's folder: {error.strerror}.") from error
    try:
        with open_database(str(making), create=True) as database:
            demo = run_demo(database, at=at)
        copy_sqlite(making, filling)
        with open_database(str(filling)) as database:
            demo = replace(demo, earlier=_earlier_years(database, at))
        for made, place in ((making, path), (filling, years)):
            _remove(place)
            made.replace(place)
    finally:
        for old in (making, filling):
            _remove(old)
    return demo, path


def two_years(database: Path) -> Path:
    """The path of the database with the two invented years, beside the demo's own."""
    return database.with_name("two_years.db")


def _earlier_years(database: Database, at: datetime) -> ReviewAnswer:
    """Add two invented years of jobs to a database, and review all finished jobs."""
    from shopquote.invented.history import build_history

    with database.session() as session:
        build_history(session, jobs=EARLIER_JOBS, seed=1, until=at.date())
    with database.reading() as session:
        return answer_review(session, ReviewWish(every_group=True), today=at.date())


def _remove(database: Path) -> None:
    """Delete a SQLite file with its write-ahead log and shared-memory file."""
    for ending in ("", "-wal", "-shm"):
        database.with_name(database.name + ending).unlink(missing_ok=True)


def run_demo(database: Database, *, at: datetime) -> Demo:
    """Play the last month of the invented shop into an empty database.

    Raises:
        DatabaseError: the database cannot be used.
    """
    today = at.date()
    files = sample_job_files()
    with database.session() as session:
        set_up(session, on=today - SET_UP_BEFORE)
        added = add_jobs(session, list(files.values()), at=at - FIRST_QUOTE_BEFORE)
        numbers = {name: job.number for name, job in zip(files, added, strict=True)}
    log = sample_jobs_folder() / "logged" / f"{FINISHED}.toml"
    first, review = _finished_job(database, numbers[FINISHED], log, at)
    quotes = (first, *_quote_the_rest(database, numbers, today))
    won = [numbers[name] for name in WON]
    placed = order_for_jobs(database, won, OrderWish(certificate="2.2"), on=today)
    received = _receive_first(database, placed, at)
    with database.reading() as session:
        floor = tuple(floor_sheet(session, number, at=at) for number in won)
        answer = answer_review(session, ReviewWish((numbers[FINISHED],)), today=today)
        jobs = _where_they_stand(session, numbers)
    return Demo(review.currency, jobs, quotes, placed, received, floor, review, answer)


def _finished_job(
    database: Database, number: str, log: Path, at: datetime
) -> tuple[QuoteDocument, JobReview]:
    """Quote, win, work on and close the one job whose actual minutes and bars came with the sample."""
    first_day = at.date() - FIRST_WORK_BEFORE
    with database.session() as session:
        document = make_quote(session, number, at.date() - FIRST_QUOTE_BEFORE)
        answer_quote(session, number, "accepted", at.date() - FIRST_QUOTE_BEFORE + timedelta(days=2))
        log_what_it_took(session, number, log, first_day=first_day, at=at)
        return document, close_job(session, number, on=at.date(), at=at)


def log_what_it_took(session: Session, number: str, log: Path, *, first_day: date, at: datetime) -> None:
    """Log a sample job's minutes, bars, bought items, scrap and invoice from its TOML file in `logged`.

    `day` in a row of the file counts from 1 on `first_day`; a row without it is logged on that day.

    Raises:
        InputError: the file cannot be read, or a row in it cannot be used.
    """
    try:
        tables = tomllib.loads(log.read_text(encoding="utf-8"), parse_float=Decimal)
    except (OSError, ValueError) as error:
        raise InputError(f"{log}: cannot be read as what a job took: {error}.") from error

    def days(row: Mapping[str, Any]) -> dict[str, Any]:
        on = first_day + timedelta(days=int(row.get("day", 1)) - 1)
        return {"on": on, "today": at.date(), "at": at}

    for row in tables.get("time", ()):
        rework = row.get("kind") == "rework"
        log_minutes(
            session, number, row["operation"], Decimal(row["minutes"]), person=row.get("person", ""),
            rework=rework, reason=row.get("reason", ""), **days(row),
        )  # fmt: skip
    for row in tables.get("bar", ()):
        log_bars(
            session, number, row["section"], row["grade"], row["length"], row["count"],
            cost=Decimal(row["cost"]), **days(row),
        )  # fmt: skip
    for row in tables.get("bought", ()):
        log_bought(session, number, row["name"], Decimal(row["cost"]), **days(row))
    for row in tables.get("scrap", ()):
        log_scrap(session, number, row["mark"], row["count"], reason=row["reason"], **days(row))
    for row in tables.get("invoice", ()):
        log_invoice(session, number, row["number"], Decimal(row["amount"]), **days(row))


def _quote_the_rest(database: Database, numbers: Mapping[str, str], today: date) -> tuple[QuoteDocument, ...]:
    """Quote the open jobs; the customers of those in WON accept at once."""
    documents = []
    for name, number in numbers.items():
        if name == FINISHED:
            continue
        with database.session() as session:
            documents.append(make_quote(session, number, today))
            if name in WON:
                answer_quote(session, number, "accepted", today)
    return tuple(documents)


def _where_they_stand(session: Session, numbers: Mapping[str, str]) -> tuple[DemoJob, ...]:
    by_number = {line.job: line for line in list_jobs(session)}
    return tuple(
        DemoJob(name, line.job, line.title, line.customer, line.sets, line.state, line.price)
        for name, number in numbers.items()
        for line in (by_number[number],)
    )


def _receive_first(database: Database, placed: PlacedOrders, at: datetime) -> tuple[ReceivedOrder, ...]:
    """Receive the first order complete, with a heat number for each line; the other orders stay open."""
    if not placed.numbers:
        return ()
    with database.session() as session:
        number = placed.numbers[0]
        lines = find_order(session, number).lines
        arrivals = [Arrival(line.position, line.count, heat=f"INV-{70410 + line.position}") for line in lines]
        delivery = Delivery(reference="DN-2291 (invented)", place="bay 1")
        return (
            receive_order(session, number, arrivals, delivery, certificates=database.certificates, at=at),
        )
