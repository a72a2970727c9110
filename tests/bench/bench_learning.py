"""How near the next quotes come to their true cost after a shop has learned from its jobs.

Run: python tests/bench/bench_learning.py [--shops 12] [--first 0] [--sizes 10,30,60,100,300] [--histories 0]

Shops whose truth is known (`tests/troubled_shop.py`), with clean logs and with the
troubles of real ones, with and without a jig that halves fit-up half-way. Judged on
150 quotes to come by their true cost. Peers in the same run: nothing learned, one
ratio an operation, ridge (relative errors, standards within 30 %). To reach: never
worse than nothing or the ratio at any size; at 300 jobs with troubles at most 4 %,
with a jig 5 %; with clean logs 2 and 3 %. Numbers are mean absolute errors of a job's
cost in per cent, in brackets that of all jobs together; at the end learned less nothing and less the ratio
with one standard error over the shops, and in how many shops it was worse. With `--histories` so many
invented histories from the database are judged too.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.troubled_shop import Quotes, Shop, learned_values, mean_error_pct, ratio_values, troubled_shop

Values = Mapping[str, np.ndarray]


def ridge_values(shop: Shop) -> dict[str, np.ndarray]:
    """Relative least squares of each operation, drawn to the standards by a spread of 30 %."""
    values = dict(shop.now)
    for table in shop.tables:
        size = table.counts @ table.now
        rows = table.counts * table.now / size[:, None]
        matrix = np.vstack([rows, np.eye(len(table.now))]) / 0.3
        target = np.concatenate([table.minutes / size - 1, np.zeros(len(table.now))]) / 0.3
        change = np.linalg.lstsq(matrix, target, rcond=None)[0]
        values[table.operation] = table.now * np.maximum(0, 1 + change)
    return values


PEERS: dict[str, Callable[[Shop], Values]] = {
    "nothing": lambda shop: shop.now,
    "ratio": ratio_values,
    "ridge": ridge_values,
    "learned": learned_values,
}
MOST = {(True, False): 4, (True, True): 5, (False, False): 2, (False, True): 3}


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--shops", type=int, default=12)
    words.add_argument("--first", type=int, default=0, help="seed of the first shop")
    words.add_argument("--sizes", default="10,30,60,100,300")
    words.add_argument("--histories", type=int, default=0)
    wish = words.parse_args()
    for (troubled, change), most in MOST.items():
        for jobs in map(int, wish.sizes.split(",")):
            shops = [
                troubled_shop(jobs, seed, troubled=troubled, change=change)
                for seed in range(wish.first, wish.first + wish.shops)
            ]
            kind = f"{'troubled' if troubled else 'clean':8} {'jig' if change else '':3} {jobs:4} jobs"
            judge(kind, shops, most if jobs >= 300 else None)
    for jobs in map(int, wish.sizes.split(",")):
        if wish.histories:
            shops = [history_shop(jobs, seed) for seed in range(1, wish.histories + 1)]
            judge(f"invented history {jobs:4} jobs", shops, 2 if jobs >= 300 else None)


def judge(kind: str, shops: list[Shop], most: float | None) -> None:
    """One line: each peer's error, and what it misses."""
    told, means, by_shop = [], {}, {}
    for name, values_of in PEERS.items():
        errors, off = [], []
        for shop in shops:
            values = values_of(shop)
            errors.append(mean_error_pct(shop, values))
            off.append(100 * (np.sum(shop.next.costs(values)) / np.sum(shop.next.true_costs()) - 1))
        means[name], by_shop[name] = np.mean(errors), np.array(errors)
        told.append(f"{name} {np.mean(errors):5.2f} ({np.mean(off):+5.1f})")
    misses = means["learned"] > min(means["nothing"], means["ratio"]) or (most and means["learned"] > most)
    for name in ("nothing", "ratio"):
        less = by_shop["learned"] - by_shop[name]
        bar = np.std(less, ddof=1) / np.sqrt(len(less)) if len(less) > 1 else np.nan
        told.append(f"less {name} {np.mean(less):+.1f}±{bar:.1f}, worse in {np.sum(less > 0)} of {len(less)}")
    print(f"{kind}: {'  '.join(told)}{'  MISSES' if misses else ''}", flush=True)


def history_shop(jobs: int, seed: int) -> Shop:
    """The invented history of a database; the last third of a larger one is what is to come."""
    from bench_review import TODAY, fill

    from shopquote.calc.pricing.standards import starting_book
    from shopquote.services.review.work_done import work_tables

    ahead = max(60, jobs // 2)
    with tempfile.TemporaryDirectory() as folder:
        database, history = fill(f"{folder}/h.db", jobs + ahead, None, seed=seed)
        with database.reading() as session:
            tables = work_tables(session, on=TODAY).tables
        database.close()
    names = sorted({name for table in tables for name in table.jobs})
    place = {name: row for row, name in enumerate(names)}
    counts, minutes, past = {}, {}, []
    for table in tables:
        rows = np.array([place[name] for name in table.jobs])
        full = np.zeros((len(names), len(table.now)))
        full[rows] = table.counts
        truth = np.array([history.truth[name] for name in table.standards])
        counts[table.operation] = full[jobs:]
        minutes[table.operation] = full[jobs:] @ truth
        past.append(table.rows(rows < jobs))
    book = starting_book()
    rates = {table.operation: float(book.value(f"rate.{table.operation}")) / 60 for table in tables}
    labour = sum(minutes[name] * rates[name] for name in minutes)
    quotes = Quotes(counts, minutes, np.asarray(0.6 * labour), rates)
    return Shop(
        tuple(table for table in past if len(table.jobs)),
        quotes,
        {table.operation: table.standards for table in tables},
        {table.operation: table.now for table in tables},
    )


if __name__ == "__main__":
    main()
