"""Kill a working process at random moments, again and again, and look at what is left.

A child process quotes, orders, receives, promises, cuts, brings back, logs, cancels, and adds bars and
customers on the page, as fast as it can and writes down what it was told is done. It is killed (SIGKILL) at
a random moment. Then `shopquote db check` must find nothing wrong, and all that was written down must be
there. By hand:

    python -m tests.bench.kill_rack DATABASE 200 [SEED]

DATABASE is a shop that was set up; it is filled with what the child does. `kill_server` kills the server
of a PostgreSQL database as well.
"""

import importlib
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import cache
from itertools import count
from pathlib import Path
from unittest.mock import patch

from sqlalchemy import func, select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError, ShopquoteError
from shopquote.page.app import create_app
from shopquote.records.history import HistoryEntry
from shopquote.records.jobs import Job
from shopquote.records.logs import TimeEntry
from shopquote.records.orders import Order
from shopquote.records.quotes import Quote
from shopquote.records.rack import RackPiece
from shopquote.services.buying.arrivals import Arrival
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.orders_on_file import cancel_order
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.shelving import Delivery
from shopquote.services.floor.scans import scan_lines
from shopquote.services.floor.time_log import log_minutes
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quotes_on_file import make_quote
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.safe.checks import CHECKS
from shopquote.services.shop import database as shop_database
from shopquote.services.shop.database import open_database
from tests.page.conftest import HOST, Browser

DAY = date(2026, 3, 2)
SECTION = parse_section("round 12", "mm")
LONGEST_LIFE = 0.5
LONGEST_START = 3.0
WARMING = 60


def work(
    url: str, done: int, rng: random.Random, steps: Sequence[Callable], rounds: Iterable[int] | None = None
) -> None:
    """Do things, for ever if no rounds are said; each is written down only when it is said to be stored."""
    with open_database(url) as database, tempfile.TemporaryDirectory() as folder:
        certificate = Path(folder) / "cert.pdf"
        moment = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
        for _ in rounds or count():
            moment += timedelta(minutes=1)
            certificate.write_bytes(rng.randbytes(50_000))
            step = rng.choice(steps)
            try:
                words = step(database, rng, moment, certificate)
            except InputError:
                continue
            for word in words:
                os.write(done, f"{word}\n".encode())


def _ask(database, rng, moment, certificate):
    length = Measure.parse(rng.choice(["350", "1450", "2900"]), "mm")
    part = PartSpec("A", "rod", rng.randint(1, 6), "round 12", "S275", length=length)
    with database.session() as session:
        number = add_job(session, JobSpec("rods", "Orla Fennimore", 1, "mm", parts=(part,)), at=moment).number
    return [f"job {number}"]


def _add(database, rng, moment, certificate):
    with database.session() as session:
        pieces = add_pieces(
            session, SECTION, "round 12", "S275", Measure.parse("3000", "mm"), cost=Decimal("3.30"), on=DAY
        )
    return [f"piece {piece.code}" for piece in pieces]


def _order(database, rng, moment, certificate):
    with database.reading() as session:
        jobs = session.scalars(select(Job.number).order_by(Job.id.desc()).limit(4)).all()
    if not jobs:
        return []
    placed = order_for_jobs(database, [rng.choice(jobs)], OrderWish(), on=DAY, seconds=0.5)
    return [f"order {number}" for number in placed.numbers]


def _receive(database, rng, moment, certificate):
    with database.session() as session:
        order = _open_order(session, rng)
        if order is None:
            return []
        line = rng.choice(order.lines)
        arrival = Arrival(line.position, max(1, line.count - line.received), None, "H1", certificate)
        received = receive_order(
            session, order.number, [arrival], Delivery(), certificates=database.certificates, at=moment
        )
    return [f"piece {piece.code}" for piece in received.pieces]


def _open_order(session, rng):
    orders = session.scalars(
        select(Order).where(Order.state.in_(("placed", "part received"))).order_by(Order.id.desc()).limit(5)
    ).all()
    return rng.choice(orders) if orders else None


def _promise(database, rng, moment, certificate):
    with database.session() as session:
        code = session.scalar(select(RackPiece.code).where(RackPiece.state == "free").limit(1))
        job = session.scalar(select(Job.number).order_by(Job.id.desc()).limit(1))
        if code is None or job is None:
            return []
        promise_pieces(session, [code], job)
    return [f"piece {code}"]


def _cut(database, rng, moment, certificate):
    with database.session() as session:
        piece = session.scalar(select(RackPiece).where(RackPiece.state == "promised").limit(1))
        if piece is None:
            return []
        back = Measure.parse(str(rng.randint(50, 300)), "mm")
        job = piece.promised_job.number
        used = use_bar(session, piece.code, job, returned=[back], used_on=DAY)
    return [f"used {used.code}", *(f"piece {code}" for code in used.returned)]


def _scan(database, rng, moment, certificate):
    with database.session() as session:
        codes = session.scalars(select(RackPiece.code).where(RackPiece.state == "promised").limit(2)).all()
        lines = [line for code in codes for line in (code, str(rng.randint(50, 300)))]
        sawn = scan_lines(session, lines, on=DAY, at=moment)
    return [
        word
        for piece in sawn
        for word in (f"used {piece.used.code}", *(f"piece {code}" for code in piece.used.returned))
    ]


def _cancel(database, rng, moment, certificate):
    if rng.random() < 0.7:
        return []
    with database.session() as session:
        order = _open_order(session, rng)
        if order is None:
            return []
        cancel_order(session, order.number, "changed")
    return [f"order {order.number}"]


def _quote(database, rng, moment, certificate):
    with database.session() as session:
        number = session.scalar(select(Job.number).order_by(Job.id.desc()).limit(1))
        if number is None:
            return []
        quote = make_quote(session, number, DAY)
    return [f"quote {quote.number}/{quote.revision}"]


def _log(database, rng, moment, certificate):
    with database.session() as session:
        number = session.scalar(select(Job.number).order_by(Job.id.desc()).limit(1))
        if number is None:
            return []
        minutes = Decimal(rng.randint(1, 90))
        log_minutes(session, number, "welding", minutes, on=DAY, today=DAY, at=moment)
        session.flush()
        entry = session.scalar(select(func.max(TimeEntry.id)))
    return [f"minutes {entry}"]


def _page(database, rng, moment, certificate):
    """A bar goes on the rack by the page's own form; the page tells its code."""
    if database not in _BROWSERS:
        _BROWSERS.clear()
        _BROWSERS[database] = Browser(create_app(database, hosts=frozenset({HOST}))).let_in("office")
    office = _BROWSERS[database]
    done = office.post("/rack", {"bar": "round 12", "grade": "S275", "length": "2500", "count": "1"})
    if done.status_code != 303:
        raise SystemExit(f"the page answers {done.status_code}")
    told = office.get("/rack").text
    return [f"piece {code}" for code in re.findall(r"On the rack: (R-\d+)\.", told)]


_BROWSERS: dict = {}
STEPS = (
    _ask, _add, _order, _receive, _receive, _promise, _cut, _scan, _cancel, _quote, _log, _page, _page,
)  # fmt: skip


def look(url: str, done: set[str], *, whole: bool) -> None:
    """All that was confirmed is there, and nothing is wrong.

    Raises:
        SystemExit: something was lost or is wrong.
    """
    with open_database(url) as database, database.reading() as session:
        for check in CHECKS:
            if "schema" in check.name and not whole:
                continue  # no step could change it, and it takes long
            faults = list(check.find_faults(session))
            if faults:
                raise SystemExit(f"{check.name}: {faults}")
        there = {f"job {number}" for number in session.scalars(select(Job.number))}
        there |= {f"order {number}" for number in session.scalars(select(Order.number))}
        there |= {f"history {entry}" for entry in session.scalars(select(HistoryEntry.id))}
        there |= {f"minutes {entry}" for entry in session.scalars(select(TimeEntry.id))}
        there |= {
            f"quote {number}/{step}" for number, step in session.execute(select(Quote.number, Quote.revision))
        }
        for code, state in session.execute(select(RackPiece.code, RackPiece.state)):
            there.add(f"piece {code}")
            if state == "used":
                there.add(f"used {code}")
        lost = done - there
        if lost:
            raise SystemExit(f"lost: {sorted(lost)}")
        halves = [
            path.name
            for path in database.certificates.glob("*")
            if path.suffix == ".pdf" and not path.stat().st_size
        ]
        if halves:
            raise SystemExit(f"half-written certificates: {halves}")


def _await_work(notes: Path, longest: float) -> None:
    """Wait until the child has written something down."""
    size = notes.stat().st_size
    end = time.monotonic() + longest
    while notes.stat().st_size == size and time.monotonic() < end:
        time.sleep(0.005)


@contextmanager
def _warm_engines() -> Iterator[None]:
    """One engine for each database, so that a child inherits the statements that its parent compiled.

    No connection goes through a fork: whoever closes a database lets go of them.
    """
    with patch.object(shop_database, "make_engine", cache(shop_database.make_engine)):
        yield


def kill_again_and_again(
    url: str,
    times: int,
    seed: int = 1,
    *,
    kill: Callable[[int, int], None] | None = None,
    steps: Sequence[Callable] = STEPS,
) -> int:
    """Kill a working child so many times, looking after each; returns how many things were confirmed.

    `kill` is called with the child and the number of the kill, where it is not the child alone that dies.
    """
    rng = random.Random(seed)
    for name in ("highspy", "numpy", "shopquote.calc.takeoff.plan", "shopquote.calc.bar.part"):
        importlib.import_module(name)  # so that the child spends its life working
    with open_database(url) as database:
        create_app(database, hosts=frozenset({HOST}))  # its rooms are loaded with it
    with _warm_engines(), tempfile.NamedTemporaryFile() as notes:
        look(url, set(), whole=False)
        pen = os.open(notes.name, os.O_WRONLY | os.O_APPEND)
        work(url, pen, random.Random(seed), steps, range(WARMING))
        _BROWSERS.clear()
        for number in range(times):
            child = os.fork()
            if child == 0:
                try:
                    work(url, pen, random.Random(seed * 10_000 + number), steps)
                except ShopquoteError as error:
                    os.write(2, f"{error}\n".encode())
                finally:
                    os._exit(3)
            if number % 5:  # every fifth dies while it starts, the others at work
                _await_work(Path(notes.name), LONGEST_START)
            time.sleep(rng.uniform(0.0, LONGEST_LIFE))
            if kill is not None:
                kill(child, number)
            else:
                os.kill(child, signal.SIGKILL)
            _, status = os.waitpid(child, 0)
            if not os.WIFSIGNALED(status) and kill is None:
                raise SystemExit(f"the child ended by itself: {status}")
            done = set(Path(notes.name).read_text(encoding="utf-8").splitlines())
            look(url, done, whole=number == times - 1)
    return len(done)


if __name__ == "__main__":
    began = time.monotonic()
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    confirmed = kill_again_and_again(sys.argv[1], int(sys.argv[2]), seed)
    took = time.monotonic() - began
    print(f"seed {seed}: {sys.argv[2]} kills, {confirmed} things confirmed, none lost, {took:.0f} s")
