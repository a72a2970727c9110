"""How true told ranges and chances of loss are after a shop has learned from its jobs.

Run: python -m tests.bench.bench_ranges [--shops 6] [--first 20000] [--sizes 10,30,100,300]

Shops as `bench_learning` has them; each quote to come is told its cost with a standard deviation as the
price does it, and judged on what the job really takes (`tests/troubled_shop.py`, `real_costs`). To reach:
8-in-10 ranges hold 75 to 85 %, chance of loss within 3 points of the truth in ten bins of equal size.
"""

import argparse

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


def judge(kind: str, jobs: int, seeds: range, troubled: bool, change: bool) -> None:
    """One line: how many of 100 the ranges held, and the told chance beside the real one in each bin."""
    inside, told, lost = [], [], []
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
    chance, real_ones = np.array(told), np.array(lost)
    bins = [
        (100 * np.mean(chance[rows]), 100 * np.mean(real_ones[rows]))
        for rows in np.array_split(np.argsort(chance, kind="stable"), 10)
    ]
    held, worst = 100 * np.mean(inside), max(abs(a - b) for a, b in bins)
    miss = "" if 75 <= held <= 85 and worst <= 3 else "  MISSES"
    print(
        f"{kind}: held {held:.0f} %, chance of loss off by at most {worst:.0f} points: "
        f"{' '.join(f'{a:.0f}/{b:.0f}' for a, b in bins)}{miss}", flush=True,
    )  # fmt: skip


if __name__ == "__main__":
    main()
