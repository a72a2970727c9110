"""How long quoting takes; run it by hand: python tests/bench/bench_quote.py

Wishes, on a small machine: 200 part types with 10 quantities and both workbooks 5 s; a 40-part job from
the command line 1.5 s (its imports: bench_start); what-if 0.3 s; 1,000 stored quotes listed 0.2 s
above start-up.
"""

import os
import subprocess
import sys
import tempfile
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from time import perf_counter

from shopquote.calc.job import BoughtSpec, FinishSpec, HoleSpec, JobSpec, PartSpec, WeldSpec
from shopquote.calc.units import Measure

DAY = date(2026, 3, 3)
NOON = datetime(2026, 3, 3, 12, tzinfo=UTC)
BARS = (
    "round 12",
    "round 16",
    "square 12",
    "flat 40 x 6",
    "flat 30 x 5",
    "square 16",
    "round 10",
    "flat 50 x 8",
)


def mm(value: int) -> Measure:
    """Millimetres as typed."""
    return Measure.parse(str(value), "mm")


def job_of(parts: int, breaks: tuple[int, ...]) -> JobSpec:
    """A job of so many part types over eight bars, every second one bent."""
    made = []
    for n in range(parts):
        bar = BARS[n % len(BARS)]
        bent = n % 2 == 0 and bar.startswith("round")
        shape = f"leg {150 + n}; bend 90 r 40; leg {250 + 2 * n}; bend 45 r 40; leg 120" if bent else None
        length = None if bent else mm(200 + 7 * n)
        holes = (HoleSpec(mm(9), 2),) if bar.startswith("flat") else ()
        made.append(
            PartSpec(f"P{n}", f"part {n}", 1 + n % 3, bar, "S275", shape=shape, length=length, holes=holes)
        )
    return JobSpec(
        "Bench job", "Nobody", 10, "mm", breaks=breaks, parts=tuple(made),
        welds=(WeldSpec("fillet", mm(5), mm(40), parts, "MAG"),),
        bought=(BoughtSpec("M8 bolt", 4, Decimal("0.42")),), finish=FinishSpec("paint", 1),
    )  # fmt: skip


def timed(what: str, work, limit: float) -> object:  # type: ignore[no-untyped-def]
    """Run, print the time beside the wish, return the result."""
    start, busy = perf_counter(), _busy()
    result = work()
    taken, worked = perf_counter() - start, _busy() - busy
    verdict = "ok" if taken <= limit else "OVER"
    print(f"{what:50} {taken:7.3f} s ({worked:.3f} s of processor)  wish {limit:g} s  {verdict}")
    return result


def _busy() -> float:
    """Processor time of this process and its children: what the wish means on a busy machine."""
    now = os.times()
    return now.user + now.system + now.children_user + now.children_system


def main() -> None:
    """Measure all."""
    from sqlalchemy import insert

    from shopquote.outputs.books.estimate_book import write_estimate_book
    from shopquote.outputs.books.quote_book import write_quote_book
    from shopquote.records.quotes import Quote
    from shopquote.services.jobs.jobs import add_job
    from shopquote.services.quotes.quote_changes import what_if
    from shopquote.services.quotes.quotes_on_file import list_quotes, make_quote
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.new_shop import set_up

    folder = Path(tempfile.mkdtemp())
    url = str(folder / "bench.db")
    database = open_database(url, create=True)
    with database.session() as session:
        set_up(session, on=DAY)
        large = add_job(session, job_of(200, (1, 2, 3, 5, 8, 12, 20, 30, 50, 80)), at=NOON).number
        small = add_job(session, job_of(40, (1, 10, 50)), at=NOON).number

    def quote_large() -> object:
        with database.session() as session:
            document = make_quote(session, large, DAY)
        write_quote_book(document, folder)
        write_estimate_book(document, folder)
        return document

    timed("200 part types, 10 quantities, both workbooks", quote_large, 5)

    def ask() -> object:
        with database.reading() as session:
            return what_if(session, large, DAY, {"margin": "40", "rate.welding": "70"})

    timed("what-if beside the quote of 200 part types", ask, 0.3)
    command = [sys.executable, "-m", "shopquote.cli.app", "quote", small, "--db", url, "--out", str(folder)]
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": ""}

    def run(words: list[str]) -> object:
        return subprocess.run(words, check=True, capture_output=True, env=environment)

    run(command)
    timed("shopquote quote of 40 parts, whole process", lambda: run(command), 1.5)
    with database.session() as session:
        row = session.query(Quote).first()
        held = {
            c.name: getattr(row, c.name) for c in Quote.__table__.columns if c.name not in ("id", "number")
        }
        session.execute(
            insert(Quote), [held | {"number": f"Q-{n:05d}", "revision": n} for n in range(2000, 3000)]
        )

    def list_all() -> object:
        with database.reading() as session:
            return list_quotes(session, DAY)

    timed("1,000 stored quotes listed", list_all, 0.2)


if __name__ == "__main__":
    main()
