"""What each part of the cut planner buys: each is switched off in turn, and the same jobs planned again.

    python -m tests.bench.bench_ablation [--first SEED] [--jobs N] [--parts KIND,…] [--only NAME,…]
                                         [--set NAME=VALUE]…

Kinds of jobs: `plain` and `credit`, those of `bench_cut` (every third with mitres) without and with credited
offcuts; `mitred`, those with mitres, credited; `nested`, with mitres cut into each other too; `large`, many
pieces or stopped early; `open`, plain problems of the published generators. With --set, as
`gap.MOST_SHORT=4000`, constants are tried in place of parts.
Work is counted, so that the figures are the same at any load. Only jobs in which a part had anything to do
are planned again: on all others it cannot matter. For each part: jobs that lose (or win) "proven", what plans
cost more, what the gaps grow by, what the rack bars used are worth more, and the work that it takes.
A part that buys neither proofs nor money shall go. SEED is the day's time if left out, and is printed.
"""

import argparse
import ast
import random
import time
from collections import defaultdict
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal

from shopquote.calc.takeoff import best, bounds, dive, exchange, generate, plan, refill, search
from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.proof import gap, list_program, list_search, listing
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import Length
from tests.bench.bench_cut import (
    CREDIT_SAW,
    NESTING_SAW,
    SHOP_SAW,
    gathered,
    large_job,
    nested_job,
    shop_job,
    triplets,
    uniform,
)

mm = Length.from_mm


def _answering(value):
    return lambda *args, **kwargs: value


def _stuck(self, node):
    node.stuck = True


def _plain_bound(self, node, prices, reduced):
    self.bound_by(node, prices, reduced)


def _first_of_equals(problem, best, work):
    return best


@dataclass(frozen=True)
class Part:
    """Something to switch off: (owner, name, what stands in its place) each; the first is watched for use."""

    name: str
    swaps: tuple


PARTS = (
    Part("dives", ((dive.Dives, "dive", _answering(None)),)),
    Part("tails of dives", ((dive.Dives, "_search_tail", _answering(True)),)),
    Part("pairs of bars", ((exchange.Exchange, "sweep", _answering(False)),)),
    Part("several bars", ((refill.Refill, "better", lambda self, solution, *args: solution),)),
    Part("kept bars first", ((search.Search, "_split_kept", _answering(None)),)),
    Part("restarts", ((dive.Dives, "restart", _answering(None)),)),
    Part("more columns a round", ((generate.Generation, "_more_columns", _answering(0)),)),
    Part("lowered prices", ((bounds.Bounds, "raise_bound", _plain_bound),)),
    Part("bound by length", ((bounds.Bounds, "by_length", _answering(False)),)),
    Part("purchases struck out", ((search.Search, "by_totals", _answering(False)),)),
    Part("ties", ((plan, "better_among_equals", _first_of_equals),)),
    Part("counts of patterns", ((gap.Gap, "by_lists", _answering(False)),)),
    Part("short lists", ((gap.Gap, "_longest_short_list", None), (gap, "MOST_SHORT", 0))),
    Part("rounding cuts", ((list_search.ListSearch, "_cut", _answering(False)),)),
    Part("dives over lists", ((list_program.ListProgram, "_dive", _answering(None)),)),
    Part("looking ahead", ((list_search.ListSearch, "_row_or_pattern", None), (list_search, "LOOKED_AT", 1))),
    Part(
        "dives by chance",
        ((gap.Gap, "dive_again", _answering(False)), (search.Search, "dive_and_try_again", _answering(None))),
    ),
    Part("lists where all counts are whole", ((gap.Gap, "list_out", _stuck),)),
    Part("the solver's proposal", ((list_program.ListProgram, "propose", _answering(None)),)),
    Part("pairs of sizes", ((list_search.ListSearch, "_pair", _answering(None)),)),
    Part("prices to list by", ((listing.Lister, "_prices_against", _answering(None)),)),
)
MODULES = (
    best, bounds, dive, exchange, gap, generate, list_program, list_search, listing, plan, refill, search,
)  # fmt: skip


def constant(text):
    """A constant with another value, as a part that every job has to do with."""
    place, value = text.split("=")
    module, name = place.split(".")
    owner = next(one for one in MODULES if one.__name__.endswith(f".{module}"))
    return Part(text, ((search.Search, "run", None), (owner, name, ast.literal_eval(value))))


@contextmanager
def switched_off(part: Part):
    """The planner without a part."""
    before = [(owner, name, getattr(owner, name)) for owner, name, _ in part.swaps]
    try:
        for owner, name, instead in part.swaps:
            if instead is not None:
                setattr(owner, name, instead)
        yield
    finally:
        for owner, name, value in before:
            setattr(owner, name, value)


@contextmanager
def watched(used: set[str], parts):
    """The whole planner; the names of the parts that were called are added to `used`."""
    before = []
    for part in parts:
        owner, name, _ = part.swaps[0]
        original = getattr(owner, name)
        before.append((owner, name, original))

        def noted(*args, _called=original, _name=part.name, **kwargs):
            used.add(_name)
            return _called(*args, **kwargs)

        setattr(owner, name, noted)
    try:
        yield
    finally:
        for owner, name, original in reversed(before):
            setattr(owner, name, original)


@dataclass(frozen=True)
class Outcome:
    """What a plan came to: `value` is that of the rack bars used, in money; `effort` the work in seconds."""

    proven: bool
    cost: Decimal
    gap: Decimal
    value: Decimal
    bars: int
    effort: float


def outcome(job, saw, work):
    pieces, stocks, rack = job
    found = plan_cuts(pieces, stocks, rack, saw, work=work)
    rate = min(Decimal(stock.price) / stock.length.mm for stock in stocks)
    value = sum((bar.stock.mm * rate for bar in found.bars if bar.rack_piece), Decimal(0))
    return Outcome(found.proven, found.cost, found.gap, value, found.bars_used, found.work / A_SECOND)


def full_bars(seed):
    """67 bars of 2500 cut into three without a rest: the optimum is known, and hard to find."""
    draw = random.Random(seed)
    lengths = []
    for _ in range(67):
        first, second = sorted(draw.sample(range(400, 2100), 2))
        if second - first < 50:
            second = first + 50
        lengths += [first, second - first, 2500 - second]
    return gathered(lengths, 2500)


def jobs_of(kind, first, number):
    """(job, saw, work) of a kind."""
    if kind in ("plain", "credit"):
        saw, work = (SHOP_SAW, 2) if kind == "plain" else (CREDIT_SAW, 4)
        return [(shop_job(seed), saw, work * A_SECOND) for seed in range(first, first + number)]
    if kind == "mitred":
        seeds = range(first - first % 3, first + 3 * number, 3)
        return [(shop_job(seed), CREDIT_SAW, 2 * A_SECOND) for seed in seeds]
    if kind == "nested":
        return [(nested_job(seed), NESTING_SAW, 2 * A_SECOND) for seed in range(first, first + number)]
    if kind == "large":  # 200 lengths and 10,000 pieces, and shop jobs stopped early
        early = [(shop_job(seed), SHOP_SAW, A_SECOND // 10) for seed in range(first, first + number)]
        return [(large_job(first), SHOP_SAW, 2 * A_SECOND), *early]
    made = []
    for seed in range(first, first + max(1, number // 5)):
        instances = (
            uniform(seed, 120), uniform(seed, 250), triplets(seed, 60), triplets(seed, 201), full_bars(seed)
        )  # fmt: skip
        for sizes, demands, capacity in instances:
            pieces = [Piece(str(i), mm(w), d) for i, (w, d) in enumerate(zip(sizes, demands, strict=True))]
            stock = [StockBar(mm(capacity), Decimal(1))]
            made.append(((pieces, stock, []), SawSettings(mm(0)), 4 * A_SECOND))
    return made


def run(kind, first, number, parts):
    """Print the table of one kind of jobs."""
    jobs = jobs_of(kind, first, number)
    whole, used = [], defaultdict(list)
    for place, job in enumerate(jobs):
        mine: set[str] = set()
        with watched(mine, parts):
            whole.append(outcome(*job))
        for name in mine:
            used[name].append(place)
    cost = sum(entry.cost for entry in whole)
    proven = sum(entry.proven for entry in whole)
    effort = sum(entry.effort for entry in whole)
    print(
        f"\n{kind}: {len(jobs)} jobs from seed {first}: {proven} proven, cost {cost:.2f}, work {effort:.1f}"
    )
    print("  without                  used in  proven      cost      gaps     rack  bars    work")
    for part in parts:
        places = used[part.name]
        if not places:
            continue
        pairs = []
        with switched_off(part):
            for place in places:
                try:
                    pairs.append((whole[place], outcome(*jobs[place])))
                except Exception as error:
                    print(f"  {part.name}: job {place}: {error!r}")
        print(
            f"  {part.name:24} {len(places):7} "
            f"{sum(b.proven - a.proven for a, b in pairs):+7} "
            f"{sum((b.cost - a.cost for a, b in pairs), Decimal(0)):+9.2f} "
            f"{sum((b.gap - a.gap for a, b in pairs), Decimal(0)):+9.2f} "
            f"{sum((b.value - a.value for a, b in pairs), Decimal(0)):+8.2f} "
            f"{sum(b.bars - a.bars for a, b in pairs):+5} "
            f"{sum(b.effort - a.effort for a, b in pairs):+7.1f}",
            flush=True,
        )


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=int(time.time()) % 1_000_000)
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--parts", default="plain,credit,large,open")
    parser.add_argument("--only", default="")
    parser.add_argument("--set", action="append", default=[])
    args = parser.parse_args()
    only = {name for name in args.only.split(",") if name}
    parts = [constant(text) for text in args.set] or [p for p in PARTS if not only or p.name in only]
    for kind in args.parts.split(","):
        run(kind, args.first, args.jobs, parts)


if __name__ == "__main__":
    main()
