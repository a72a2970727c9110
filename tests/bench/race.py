"""Two people take the same thing at the same moment, again and again: one of them has it, never both.

    python -m tests.bench.race DATABASE SECONDS [SEED]

DATABASE is a shop that was just set up, a file or a server's; it is filled with what is taken. Two processes
meet before each race. They race for a free rack piece, for the last bar of an order's line and for a number
of a quote; how many races were run of each, and how many were won by both or by none, is told.
"""

import multiprocessing
import random
import sys
import time
from collections import Counter
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import text

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.services.buying.arrivals import Arrival
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.shelving import Delivery
from shopquote.services.jobs.jobs import add_job
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.safe.checks import CHECKS, faults_of
from shopquote.services.shop.database import Database, next_number, open_database

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)
RACERS = 2
AT_ONCE = 200
KINDS = ("rack piece", "order line", "quote number")
# A race changes the order's line by hand, so that one bar is open again: its paper says less then.
NOT_OF_A_RACE = ("orders are as they were sealed", "orders add up")


def prepare(url: str) -> tuple[list[str], str]:
    """A job for each racer, and an order to receive on; their numbers."""
    part = PartSpec("A", "rod", 2, "round 12", "S275", length=Measure.parse("5800", "mm"))
    with open_database(url) as database:
        with database.session() as session:
            jobs = [
                add_job(session, JobSpec(f"race {i}", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT).number
                for i in range(RACERS)
            ]
        (order,) = order_for_jobs(database, jobs[:1], OrderWish(), on=DAY).numbers
    return jobs, order


def get_ready(database: Database, kind: str, order: str, free: list[str]) -> str:
    """What is raced for next, and its name; some hundred pieces at a time come to those that are free."""
    with database.session() as session:
        if kind == "rack piece":
            if not free:
                bar, length = parse_section("round 12", "mm"), Measure.parse("3000", "mm")
                came = add_pieces(session, bar, "round 12", "S275", length, count=AT_ONCE, on=DAY)
                free += [piece.code for piece in came]
            return free.pop()
        if kind == "order line":
            open_again = "(SELECT id FROM orders WHERE number = :number)"
            session.execute(
                text(f"UPDATE order_lines SET count = received + 1 WHERE order_id = {open_again}"),
                {"number": order},
            )
            session.execute(
                text("UPDATE orders SET state = 'part received' WHERE number = :number"), {"number": order}
            )
            return order
    return "Q"


def take(database: Database, kind: str, name: str, job: str) -> str:
    """Try to take it; what was had, nothing where another was first."""
    try:
        with database.session() as session:
            if kind == "rack piece":
                return promise_pieces(session, [name], job)[0].code
            if kind == "order line":
                arrival = Arrival(1, 1, None, "H1", None)
                received = receive_order(
                    session, name, [arrival], Delivery(), certificates=database.certificates, at=AT
                )
                return received.pieces[0].code
            return next_number(session, name)
    except InputError:
        return ""


def race(url: str, me: int, jobs: list[str], order: str, end: float, seed: int, tools: Any) -> None:
    """One racer's life; what it had of each race goes into the queue at its end."""
    barrier, told, had = tools
    chance = random.Random(seed)  # the same for all: they agree on what is next
    free: list[str] = []
    mine: list[tuple[str, str, str]] = []
    with open_database(url) as database:
        while True:
            kind = chance.choice(KINDS)
            if me == 0:
                going = time.monotonic() < end
                told.value = get_ready(database, kind, order, free).encode() if going else b""
            barrier.wait()
            name = told.value.decode()
            if not name:
                break
            mine.append((kind, name, take(database, kind, name, jobs[me])))
            barrier.wait()
    had.put((me, mine))


def run(url: str, seconds: float, seed: int) -> int:
    """Race for so long; how many races both or nobody won."""
    jobs, order = prepare(url)
    fork = multiprocessing.get_context("fork")
    tools = (fork.Barrier(RACERS), fork.Array("c", 40), fork.Queue())
    end = time.monotonic() + seconds
    racers = [
        fork.Process(target=race, args=(url, me, jobs, order, end, seed, tools)) for me in range(RACERS)
    ]
    for racer in racers:
        racer.start()
    answers = dict(tools[2].get() for _ in racers)
    for racer in racers:
        racer.join()
    counts: Counter[str] = Counter()
    wrong = 0
    numbers: list[str] = []
    firsts: Counter[int] = Counter()
    for races in zip(*(answers[me] for me in range(RACERS)), strict=True):
        kind, name, _ = races[0]
        counts[kind] += 1
        won = [answer for *_, answer in races if answer]
        if kind == "quote number":
            numbers += won
            fault = len(won) != RACERS
        else:
            firsts[next(me for me in range(RACERS) if races[me][2]) if won else -1] += 1
            fault = len(won) != 1
        if fault:
            wrong += 1
            print(f"seed {seed}, {kind} {name}: {races}")
    wrong += len(numbers) - len(set(numbers))
    with open_database(url) as database, database.reading() as session:
        for check in CHECKS:
            if check.name not in NOT_OF_A_RACE:
                for found in faults_of(session, check):
                    wrong += 1
                    print(f"{check.name}: {found.text}")
    told = ", ".join(f"{kind} {count}" for kind, count in counts.items())
    who = ", ".join(f"{count} by racer {me}" for me, count in sorted(firsts.items()))
    print(f"{date.today()}, seed {seed}: {sum(counts.values())} races ({told}), {wrong} faults; won {who}")
    return wrong


if __name__ == "__main__":
    words = [*sys.argv[1:], *("", "60", "1")[len(sys.argv) - 1 :]]
    sys.exit(1 if run(words[0], float(words[1]), int(words[2])) else 0)
