"""How good and how fast cut plans are, beside general solvers given the same problem.

    python tests/bench/bench_cut.py [FOLDER] [--jobs N] [--first SEED] [--seconds S] [--parts a,b]

FOLDER holds files of the plain problem: number of lengths, bar length, then a line `length count`
for each; beside them optima.tsv (instance, lower, best). Without it, instances come from the published
generators: uniform 20..100 in bars of 150, and triplets in bars of 1000.
Jobs of a shop are made here from a seed. Seeds 0 to 999 are for tuning; reports begin at 1000.
Times are seconds of the clock, and of the processor in brackets. On a busy machine say --processor: the
planner's deadlines then count its own processor seconds, as they would pass on a free one.
"""

import argparse
import os
import random
import statistics
import sys
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from time import monotonic, process_time

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[2]))


from shopquote.calc.takeoff import work as work_module
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.units import Length
from tests.referees.feasible import faults_of_plan
from tests.referees.whole_set import fewest_by_arc_flow, fewest_by_cp_sat, first_fit_decreasing

mm = Length.from_mm
PARTS = ("jobs", "credit", "nested", "large", "open", "referees", "saved")
SHOP_SAW = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(0))
CREDIT_SAW = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50))
NESTING_SAW = replace(CREDIT_SAW, nest_mitres=True)
HANDY = [100, 150, 200, 250, 300, 450, 600, 900, 1200]


def shop_job(seed):
    """5-40 lengths, 20-500 pieces, 2-3 stock lengths, 0-8 rack pieces; every third with mitres."""
    draw = random.Random(seed)
    number, total = draw.randint(5, 40), draw.randint(20, 500)
    lengths = [draw.randint(60, 2900) if draw.random() < 0.7 else draw.choice(HANDY) for _ in range(number)]
    pieces = [
        Piece(f"P{i}", mm(length), max(1, round(total * draw.random() * 2 / number)))
        for i, length in enumerate(lengths)
    ]
    stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]
    if draw.random() < 0.5:
        stocks.append(StockBar(mm(7500), Decimal("31.20")))
    rack = [RackBar(f"R{i}", mm(draw.randint(500, 4000))) for i in range(draw.randint(0, 8))]
    if seed % 3 == 0:  # every third job has mitred pieces
        pieces = [replace(p, mitres=draw.choice([(0, 0), (45, 45), (45, 0), (22.5, 22.5)])) for p in pieces]
    return pieces, stocks, rack


def nested_job(seed):
    """The mitred shop job of a seed, of a bar 40 mm deep, so that its mitres can be cut into each other."""
    pieces, stocks, rack = shop_job(3 * seed)
    return [replace(piece, depth=mm(40)) for piece in pieces], stocks, rack


def large_job(seed):
    """200 lengths, 10,000 pieces."""
    draw = random.Random(seed)
    counts = [draw.randint(1, 99) for _ in range(200)]
    counts[0] += max(0, 10_000 - sum(counts))
    pieces = [Piece(f"P{i}", mm(draw.randint(60, 2900)), count) for i, count in enumerate(counts)]
    return pieces, [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))], []


def uniform(seed, number):
    """Published generator: lengths uniform 20..100 in bars of 150."""
    draw = random.Random(seed)
    return gathered([draw.randint(20, 100) for _ in range(number)], 150)


def triplets(seed, number):
    """Published generator: three pieces fill a bar of 1000: 380..490, 250 to half the rest, the rest."""
    draw = random.Random(seed)
    lengths = []
    for _ in range(number // 3):
        first = draw.randint(380, 490)
        second = draw.randint(250, (1000 - first) // 2)
        lengths += [first, second, 1000 - first - second]
    return gathered(lengths, 1000)


def gathered(lengths, capacity):
    sizes = sorted(set(lengths), reverse=True)
    return sizes, [lengths.count(size) for size in sizes], capacity


def read_file(path):
    numbers = [int(word) for word in path.read_text().split()]
    return numbers[2::2], numbers[3::2], numbers[1]


def plain_plan(instance, seconds):
    """The plain problem as a cut list: fewest bars of one length, no kerf."""
    sizes, demands, capacity = instance
    pieces = [Piece(str(i), mm(w), d) for i, (w, d) in enumerate(zip(sizes, demands, strict=True))]
    return plan_cuts(pieces, [StockBar(mm(capacity), Decimal(1))], [], SawSettings(mm(0)), seconds=seconds)


class Clock:
    """Seconds of the clock and of the processor."""

    def __enter__(self):
        self.wall, self.cpu = monotonic(), process_time()
        return self

    def __exit__(self, *_):
        self.wall, self.cpu = monotonic() - self.wall, process_time() - self.cpu


def times(clocks):
    walls, cpus = [c.wall for c in clocks], [c.cpu for c in clocks]
    return (
        f"median {statistics.median(walls):.2f} s ({statistics.median(cpus):.2f}), "
        f"longest {max(walls):.2f} s ({max(cpus):.2f})"
    )


def verdict(name, share, goal):
    print(f"  {'reached' if share >= goal else 'MISSED '}: {name}: {share:.1%}, to reach {goal:.0%}")


def run_jobs(title, jobs, saw, seconds):
    print(f"\n{title}: {len(jobs)} jobs, {seconds:g} s each")
    clocks, gaps, proven = [], [], 0
    for seed, (pieces, stocks, rack) in jobs:
        with Clock() as clock:
            plan = plan_cuts(pieces, stocks, rack, saw, seconds=seconds)
        clocks.append(clock)
        assert not faults_of_plan(pieces, stocks, rack, saw, plan), f"seed {seed}"
        gap = float(plan.gap / plan.cost) if plan.cost else 0.0
        gaps.append(gap)
        proven += plan.proven
        if not plan.proven:
            print(f"    not proven: seed {seed}, gap {gap:.4%}, {clock.wall:.2f} s ({clock.cpu:.2f})")
    print(f"  proven {proven} of {len(jobs)}; {times(clocks)}")
    print(f"  gap: mean {statistics.mean(gaps):.4%}, largest {max(gaps):.4%}")
    over = (
        max(clock.cpu if work_module.monotonic is process_time else clock.wall for clock in clocks) - seconds
    )
    print(f"  beyond the deadline by at most {max(0.0, over):.2f} s")
    return proven / len(jobs), gaps


def part_jobs(args):
    jobs = [(seed, shop_job(seed)) for seed in range(args.first, args.first + args.jobs)]
    share, _ = run_jobs("Shop jobs, no offcut value", jobs, SHOP_SAW, 2.0)
    verdict("proven in 2 s", share, 0.99)
    _, gaps = run_jobs("The same, stopped early", jobs, SHOP_SAW, 0.15)
    verdict("plan and bound in 0.15 s (gap below 5 %)", sum(gap < 0.05 for gap in gaps) / len(gaps), 0.99)


def part_credit(args):
    jobs = [(seed, shop_job(seed)) for seed in range(args.first, args.first + args.jobs)]
    run_credited("Shop jobs, offcuts credited 50 %", jobs, CREDIT_SAW)


def part_nested(args):
    jobs = [(seed, nested_job(seed)) for seed in range(args.first, args.first + args.jobs)]
    run_credited("Mitred shop jobs, nested, offcuts credited 50 %", jobs, NESTING_SAW)


def run_credited(title, jobs, saw):
    _, gaps = run_jobs(title, jobs, saw, 2.0)
    verdict("gap at most 0.01 % in 2 s", sum(gap <= 0.0001 for gap in gaps) / len(gaps), 0.99)
    share, _ = run_jobs("The same, longer", jobs, saw, 10.0)
    verdict("proven in 10 s", share, 0.90)


def part_large(args):
    jobs = [(seed, large_job(seed)) for seed in range(args.first, args.first + 3)]
    _, gaps = run_jobs("200 lengths, 10,000 pieces", jobs, SHOP_SAW, 3.0)
    verdict("gap at most 0.01 % in 3 s", sum(gap <= 0.0001 for gap in gaps) / len(gaps), 1.0)


def open_set(args):
    """(name, instance, best known or None)."""
    if args.folder is None:
        made = [(f"uniform {n} {s}", uniform(s, n)) for n in (120, 250, 500) for s in range(4)]
        made += [(f"triplets {n} {s}", triplets(s, n)) for n in (60, 120, 249) for s in range(4)]
        return [(name, instance, None) for name, instance in made]
    table = (Path(args.folder) / "optima.tsv").read_text().splitlines()[1:]
    best = {row.split("\t")[0]: tuple(int(n) for n in row.split("\t")[1:3]) for row in table}
    return [(name, read_file(Path(args.folder) / name), best[name]) for name in sorted(best)]


def part_open(args):
    for title, chosen, seconds, goal in (
        ("Open benchmark files", lambda name: not name.startswith(("201_", "402_")), args.seconds, 1.0),
        ("Augmented classes, 201 pieces", lambda name: name.startswith("201_"), 6 * args.seconds, 1.0),
        ("Augmented classes, 402 pieces", lambda name: name.startswith("402_"), 6 * args.seconds, 0.75),
    ):
        rows = [row for row in open_set(args) if chosen(row[0])]
        if not rows:
            continue
        print(f"\n{title}: {len(rows)} instances, {seconds:g} s each")
        clocks, proven, over = [], 0, 0
        for name, instance, best in rows:
            with Clock() as clock:
                plan = plain_plan(instance, seconds)
            clocks.append(clock)
            proven += plan.proven
            over += best is not None and plan.cost > best[1]
            assert best is None or (plan.bound <= best[1] and plan.cost >= best[0]), name
            if not plan.proven:
                print(f"    not proven: {name}: {plan.cost}, bound {float(plan.bound):g}, best known {best}")
        print(f"  proven {proven} of {len(rows)}; {over} a bar or more over the best known; {times(clocks)}")
        verdict(f"proven in {seconds:g} s", proven / len(rows), goal)


def part_referees(args):
    seconds = args.referees
    rows = [row for row in open_set(args) if not row[0].startswith(("201_", "402_"))]
    rows = rows[:: max(1, len(rows) // args.sample)]
    print(f"\nSide by side on {len(rows)} instances, {seconds:g} s each: processor seconds to proof")
    print(f"  {'instance':32} {'planner':>18} {'CP-SAT':>18} {'HiGHS arc-flow':>18}")
    ratios = {"CP-SAT": [], "HiGHS arc-flow": []}
    count = dict.fromkeys(("planner", *ratios), 0)
    for name, instance, _ in rows:
        with Clock() as own:
            plan = plain_plan(instance, seconds)
        cells = [f"{plan.cost} {own.cpu:7.2f} s" if plan.proven else f"{plan.cost} open"]
        count["planner"] += plan.proven
        for who, solve in (("CP-SAT", fewest_by_cp_sat), ("HiGHS arc-flow", fewest_by_arc_flow)):
            with Clock() as clock:
                bars, _, proven = solve(*instance, seconds)
            count[who] += proven
            cells.append(f"{bars} {clock.cpu:7.2f} s" if proven else f"{bars} open")
            if plan.proven:  # an open referee counts with the processor time it had: it needs more
                ratios[who].append(clock.cpu / max(own.cpu, 1e-3))
            if plan.proven and proven and bars != plan.cost:
                print(f"  {who} disagrees on {name}: {bars} against {plan.cost}")
        print(f"  {name:32} " + " ".join(f"{cell:>18}" for cell in cells), flush=True)
    print(f"  proven: {count}")
    for who, values in ratios.items():
        median = statistics.median(values) if values else 0.0
        word = "reached" if median >= 10 else "MISSED "
        print(f"  {word}: median {median:.1f} times faster to proof than {who}")


def part_saved(args):
    jobs = [shop_job(seed) for seed in range(args.first, args.first + args.jobs)]
    saved = []
    for pieces, stocks, rack in jobs:
        plan = plan_cuts(pieces, stocks, rack, SHOP_SAW, seconds=1.0)
        simple = cost_first_fit(pieces, stocks, rack, SHOP_SAW)
        saved.append(float(1 - Fraction(plan.cost) / simple))
    print(
        f"\nAgainst first-fit decreasing on {len(jobs)} shop jobs (the cheapest single length, rack first):"
    )
    print(f"  saved: mean {statistics.mean(saved):.1%}, median {statistics.median(saved):.1%}")
    for sizes, demands, capacity in (uniform(1, 250), triplets(1, 249)):
        plan = plain_plan((sizes, demands, capacity), 5.0)
        simple = first_fit_decreasing(sizes, demands, capacity)
        print(f"  fewest bars: {plan.cost}, first-fit decreasing {simple}")


def cost_first_fit(pieces, stocks, rack, saw):
    """Longest first into the first bar with room: rack bars, then the length that comes out cheapest."""
    lengths = sorted((p.length.nm for p in pieces for _ in range(p.count)), reverse=True)
    lost = saw.trim.nm - saw.kerf.nm
    costs = []
    for stock in stocks:
        room = [bar.length.nm - lost for bar in sorted(rack, key=lambda bar: bar.length)]
        bought = 0
        for length in lengths:
            need = length + saw.kerf.nm
            at = next((i for i, left in enumerate(room) if left >= need), None)
            if at is None:
                if stock.length.nm - lost < need:
                    break
                room.append(stock.length.nm - lost)
                bought += 1
                at = len(room) - 1
            room[at] -= need
        else:
            costs.append(bought * Fraction(stock.price))
    return min(costs)


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", nargs="?")
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--referees", type=float, default=20.0)
    parser.add_argument("--sample", type=int, default=20)
    parser.add_argument("--parts", default=",".join(PARTS))
    parser.add_argument("--processor", action="store_true")
    args = parser.parse_args()
    if args.processor:
        work_module.monotonic = process_time
        print("Deadlines count processor seconds")
    print(f"Load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    plan_cuts([Piece("A", mm(700), 9), Piece("B", mm(450), 7)], [StockBar(mm(2000))], [], SHOP_SAW)  # imports
    for part in args.parts.split(","):
        globals()[f"part_{part}"](args)


if __name__ == "__main__":
    main()
