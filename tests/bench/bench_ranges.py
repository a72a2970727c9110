"""How true told ranges and chances of loss are after a shop has learned from its jobs.

Run: python -m tests.bench.bench_ranges [--shops 6] [--first 20000] [--sizes 10,30,100,300]

Shops as `bench_learning` has them; each quote to come is told its cost with a standard deviation as the
price does it, and judged on what the job really takes (`tests/troubled_shop.py`, `real_costs`). To reach:
8-in-10 ranges hold 75 to 85 %, chance of loss within 3 points of the truth in ten bins of equal size. Bins
are over the quotes of all shops: one shop is off by what its few jobs could not tell. Shops of 10 and 30 jobs
differ, so that a bin is known to 1.5 points with some 150 and 60 of them; with fewer the line says so.
"""

import argparse
from typing import NamedTuple

import numpy as np

from shopquote.calc.pricing.priced_quote import chance_over
from tests.troubled_shop import real_costs, told_costs, troubled_shop

MARGINS = (0.02, 0.05, 0.1, 0.15, 0.2, 0.3)


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--shops", type=int, default=6)
    words.add_argument("--first", type=int, default=20_000, help="seed of the first shop")
    words.add_argument("--sizes", default="10,30,100,300")
    wish = words.parse_args()
    for troubled, change in ((True, False), (True, True), (False, False), (False, True)):
        for jobs in map(int, wish.sizes.split(",")):
            kind = f"{'troubled' if troubled else 'clean':8} {'jig' if change else '':3} {jobs:4} jobs"
            judge(kind, jobs, range(wish.first, wish.first + wish.shops), troubled, change)


class Bin(NamedTuple):
    """A tenth of all told chances: the mean told and the real one, in per cent, with its standard error."""

    told: float
    real: float
    error: float


def judge(kind: str, jobs: int, seeds: range, troubled: bool, change: bool) -> None:
    """One line: how many of 100 the ranges held, and the told chance beside the real one in each bin."""
    held, bins = judged(jobs, seeds, troubled=troubled, change=change)
    worst, unsure = max(abs(row.told - row.real) for row in bins), max(row.error for row in bins)
    if not 75 <= held <= 85 or worst > 3:
        verdict = "  MISSES"
    else:
        verdict = "" if unsure <= 1.5 else "  too few shops to say"
    print(
        f"{kind}: held {held:.1f} %, chance of loss off by at most {worst:.1f} points, known to "
        f"{unsure:.1f}: {' '.join(f'{row.told:.0f}/{row.real:.0f}' for row in bins)}{verdict}", flush=True,
    )  # fmt: skip


def judged(jobs: int, seeds: range, *, troubled: bool, change: bool) -> tuple[float, list[Bin]]:
    """Per cent of the ranges that held, and ten bins of equal size over all quotes of all shops."""
    inside, told, lost, shops = [], [], [], []
    for seed in seeds:
        shop = troubled_shop(jobs, seed, troubled=troubled, change=change)
        cost, deviation = told_costs(shop)
        real = real_costs(shop, seed, troubled=troubled)
        inside += list(np.abs(real - cost) <= 1.2816 * deviation)
        for margin in MARGINS:
            price = cost / (1 - margin)
            others = shop.next.others
            told += [
                chance_over(at, sure, whole - sure, off)
                for at, sure, whole, off in zip(price, others, cost, deviation, strict=True)
            ]
            lost += list(real > price)
            shops += [seed - seeds.start] * len(cost)
    chance, real_ones, owner = np.array(told), np.array(lost, dtype=float), np.array(shops)
    bins = []
    for rows in np.array_split(np.argsort(chance, kind="stable"), 10):
        # Quotes of one shop are off together: the shops, not the quotes, tell how sure a bin is.
        off = real_ones[rows] - chance[rows]
        apart = np.bincount(owner[rows], weights=off - np.mean(off))
        error = np.sqrt(np.sum(apart**2)) / len(rows)
        bins.append(Bin(*(100 * float(x) for x in (np.mean(chance[rows]), np.mean(real_ones[rows]), error))))
    return 100 * float(np.mean(inside)), bins


if __name__ == "__main__":
    main()
