"""How true told ranges and chances of loss are after a shop has learned from its jobs.

Run: python -m tests.bench.bench_ranges [--shops 120] [--first 20000] [--sizes 10,30,100,300]

Shops as `bench_learning` has them; each quote to come is told its cost with a standard deviation as the
price does it, and judged on what the job really takes (`tests/troubled_shop.py`, `real_costs`). To reach:
8-in-10 ranges hold 75 to 85 %, chance of loss within 3 points of the truth in ten bins of equal size. Bins
are over the quotes of all shops: one shop is off by what its few jobs could not tell.

What ten bins can ask of whom. Half of the shops got a jig half-way that halves fit-up. Who is not told
whether one came weighs both, and is right on average over shops with and without: in the one half he
must tell too much, in the other too little, until the log shows it. So the line
that judges is that of as many shops with as without ("either"), for each kind of log and size, over all
sizes and over all; the halves stand above. Owners know that they made a jig: "told" is the half with one
where they say so (`review --learn-since fit-up=DATE`), and must hold by itself.

The worst of ten bins is never 0. Beside it stand its error (bootstrap over shops), what one who knows all
true minutes shows by the same losses in bins of his own, and what chance alone makes of it where quotes of a
shop are off together as ours are (the worst bin of resampled shops about their mean).
"""

import argparse
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shopquote.calc.pricing.priced_quote import chance_over
from tests.troubled_shop import (
    HOUR,
    JOB,
    ON_LABOUR,
    PEOPLE,
    TOGETHER,
    WORK,
    Shop,
    real_costs,
    told_costs,
    troubled_shop,
)

MARGINS = np.array([0.02, 0.05, 0.1, 0.15, 0.2, 0.3])
BINS, RESAMPLED = 10, 1_000


class Judged:
    """Quotes of some shops, a row a shop: told and true chance of a loss, the losses, ranges that held."""

    def __init__(self, told: np.ndarray, true: np.ndarray, lost: np.ndarray, held: np.ndarray) -> None:
        self.told, self.true, self.lost, self.held = told, true, lost, held

    @staticmethod
    def joined(cells: Sequence["Judged"]) -> "Judged":
        """All of them as one, as many shops of each as the smallest has."""
        least = min(len(cell.told) for cell in cells)
        fields = ("told", "true", "lost", "held")
        return Judged(*(np.concatenate([getattr(cell, name)[:least] for cell in cells]) for name in fields))


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--shops", type=int, default=120, help="of each kind")
    words.add_argument("--first", type=int, default=20_000, help="seed of the first shop")
    words.add_argument("--sizes", default="10,30,100,300")
    wish = words.parse_args()
    first, every = wish.first, []
    for troubled in (True, False):
        kind, sizes = "troubled" if troubled else "clean", []
        for jobs in map(int, wish.sizes.split(",")):
            head = f"{kind:8} {jobs:4} jobs"
            halves = []
            for change in (False, True):
                # No shop twice: shops of one seed have one truth.
                seeds, first = range(first, first + wish.shops), first + wish.shops
                halves.append(judged(jobs, seeds, troubled=troubled, change=change))
                show(f"{head} {'jig' if change else 'no jig'}", halves[-1])
            show(f"{head} told", judged(jobs, seeds, troubled=troubled, change=True, say=True), judges=True)
            sizes.append(Judged.joined(halves))
            show(f"{head} either", sizes[-1], judges=True)
        every.append(Judged.joined(sizes))
        show(f"{kind:8} all sizes", every[-1], judges=True)
    show("all shops", Judged.joined(every), judges=True)


def judged(jobs: int, seeds: range, *, troubled: bool, change: bool, say: bool = False) -> Judged:
    """Shops of one kind; with `say` their owners tell of the jig."""
    rows = []
    for seed in seeds:
        shop = troubled_shop(jobs, seed, troubled=troubled, change=change)
        cost, deviation = told_costs(with_jig_told(shop, jobs) if say else shop)
        real, others = real_costs(shop, seed, troubled=troubled), shop.next.others
        prices = cost[:, None] / (1 - MARGINS)
        told = [
            [chance_over(price, sure, whole - sure, off) for price in asked]
            for asked, sure, whole, off in zip(prices, others, cost, deviation, strict=True)
        ]
        held = np.abs(real - cost) <= 1.2816 * deviation
        rows.append((told, true_chances(shop, prices, troubled=troubled), real[:, None] > prices, held))
    return Judged(*(np.array([row[place] for row in rows]).reshape(len(rows), -1) for place in range(4)))


def with_jig_told(shop: Shop, jobs: int) -> Shop:
    """The shop whose owner says from which job on fit-up has a jig."""
    tables = tuple(
        replace(table, new_pace=sum(int(name[2:]) < jobs // 2 for name in table.jobs))
        if table.operation == "fit-up"
        else table
        for table in shop.tables
    )
    return replace(shop, tables=tables)


def true_chances(shop: Shop, prices: np.ndarray, *, troubled: bool) -> np.ndarray:
    """Chance of a loss for one who knows all true minutes and how jobs lie about them, shape of `prices`.

    Where set-ups may be shared, a mixture of jobs that share theirs and jobs that do not.
    """
    paces, shares = np.array(PEOPLE).T
    people = float(shares @ paces**2 / (shares @ paces) ** 2) if troubled else 1.0
    chances = np.zeros(prices.shape)
    for shared, weight in ((False, 1 - TOGETHER), (True, TOGETHER)) if troubled else ((False, 1.0),):
        mean = variance = np.zeros(len(prices))
        for name, minutes in shop.next.minutes.items():
            taken = np.zeros(len(prices))
            if shared:
                taken = np.minimum(shop.next.counts[name][:, 0] * shop.set_up[name], 0.9 * minutes)
            money = (minutes - taken) * shop.next.rates[name] * ON_LABOUR
            spread = WORK**2 + HOUR**2 * 60 / np.maximum(minutes, 1e-9)
            mean = mean + money
            variance = variance + money**2 * (np.exp(np.minimum(spread, 50)) * people - 1)
        # What a whole job lies off, all of its work shares.
        common = np.exp(JOB**2)
        variance = common * variance + (common - 1) * mean**2
        rows = zip(prices, shop.next.others, mean, np.sqrt(variance), strict=True)
        chances += weight * np.array(
            [[chance_over(price, sure, whole, off) for price in asked] for asked, sure, whole, off in rows]
        )
    return chances


def show(kind: str, cell: Judged, *, judges: bool = False) -> None:
    """One line: how many of 100 ranges held, the worst bin, and the told chance with its error bin by bin."""
    told, off, sums = bins(cell.told, cell.lost)
    drawn = resampled(sums)
    worst, held = np.max(np.abs(off)), 100 * np.mean(cell.held)
    error, alone = np.std(np.max(np.abs(drawn), axis=1)), np.mean(np.max(np.abs(drawn - off), axis=1))
    knows = np.max(np.abs(bins(cell.true, cell.lost)[1]))
    verdict = "  MISSES" if judges and (not 75 <= held <= 85 or worst > 3) else ""
    by_bin = " ".join(f"{chance:.0f}{more:+.1f}" for chance, more in zip(told, off, strict=True))
    print(
        f"{kind:24}: held {held:.1f} %, worst bin {worst:.1f} +- {error:.1f} (who knows {knows:.1f}, chance "
        f"alone {alone:.1f}): {by_bin}{verdict}", flush=True,
    )  # fmt: skip


def bins(chance: np.ndarray, lost: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ten bins of equal size by told chance, in per cent: mean told, real less told; and sums by shop."""
    order = np.argsort(chance, axis=None, kind="stable")
    place = np.empty(chance.size, dtype=int)
    for number, rows in enumerate(np.array_split(order, BINS)):
        place[rows] = number
    place = place.reshape(chance.shape) + BINS * np.arange(len(chance))[:, None]
    sums = np.array([
        np.bincount(place.ravel(), values.ravel(), BINS * len(chance)).reshape(-1, BINS)
        for values in (np.ones(chance.shape), chance, lost - chance)
    ])  # fmt: skip
    count, told, off = np.sum(sums, axis=1)
    return 100 * told / count, 100 * off / count, sums


def resampled(sums: np.ndarray) -> np.ndarray:
    """Real less told by bin, in per cent, of shops drawn anew: quotes of one shop are off together."""
    shops = sums.shape[1]
    drawn = np.random.default_rng(1).multinomial(shops, np.full(shops, 1 / shops), RESAMPLED).astype(float)
    return np.asarray(100 * (drawn @ sums[2]) / np.maximum(drawn @ sums[0], 1))


if __name__ == "__main__":
    main()
