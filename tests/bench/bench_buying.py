"""How near the supplier choice comes to the cheapest, and what it takes. By hand:

    python -m tests.bench.bench_buying [SEED] [CASES]

Invents markets (several lengths and suppliers a material, price steps, bundles, limits, deliveries free
from an amount, pieces sawn to length) and prints gap and processor seconds. Aims: about 30 wants with 530
offers within 0.1 % in 10 s, about 300 wants with 13,500 offers within 1 % in 60 s; and of CASES small
cases (10,000 if left out) none whose cost or bound differs from CP-SAT's optimum. The seed is the day's
time if left out, and is printed.
"""

import random
import sys
import time
from decimal import Decimal

from shopquote.calc.buying.buying_plan import BarKind, Need, Offer, PriceStep, SupplierTerms, Want, Way
from shopquote.calc.buying.choose import choose_suppliers
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError
from tests.calc.buying.test_choose import by_cp_sat, random_case

LENGTHS_MM = (2000, 3000, 4000, 6000, 7500, 12000)


def market(rng: random.Random, wants: int, suppliers: int, per_want: int):
    """Wants with their ways, offers and delivery terms of one invented market."""
    terms = [
        SupplierTerms(
            f"s{s}", Decimal(rng.randint(15, 60)), rng.choice([None, Decimal(rng.randint(4, 60) * 25)])
        )
        for s in range(suppliers)
    ]
    level = {term.name: rng.uniform(0.93, 1.07) for term in terms}
    found, offers = [], []
    for w in range(wants):
        kg_per_m, per_kg = rng.choice([0.4, 0.9, 1.6, 2.5, 3.9, 6.3]), rng.uniform(1.1, 1.9)
        section = f"bar {w}"
        metres = rng.uniform(4, 150)
        lengths = rng.sample(LENGTHS_MM, rng.randint(2, 4))
        needs = {}
        for mm in lengths:
            needs[mm] = max(1, round(metres * rng.uniform(1.0, 1.25) * 1000 / mm))
        ways = [
            Way(f"{mm} mm", (Need(BarKind(section, "S275", Length.from_mm(mm)), n),))
            for mm, n in needs.items()
        ]
        short, long = min(lengths), max(lengths)
        if needs[long] > 1:
            mixed = (
                Need(BarKind(section, "S275", Length.from_mm(long)), needs[long] - 1),
                Need(BarKind(section, "S275", Length.from_mm(short)), 1),
            )
            ways.append(Way("mixed", mixed))
        sawn = rng.randint(350, 1900)
        piece = BarKind(section, "S275", Length.from_mm(sawn))
        if rng.random() < 0.5:
            ways.append(Way("sawn", (Need(piece, max(1, round(metres * 1000 / sawn))),)))
        kinds = sorted({need.kind for way in ways for need in way.needs})
        left = per_want
        while left > 0:
            kind = rng.choice(kinds)
            term = rng.choice(terms)
            mass = kg_per_m * float(kind.length.mm) / 1000
            price = mass * per_kg * level[term.name] * rng.uniform(0.95, 1.06)
            if kind is piece:
                price += 1.5
            steps = [PriceStep(0, Decimal(f"{price:.4f}"))]
            for kg in (100, 500, 1000)[: rng.choice([0, 0, 1, 2, 3])]:
                price *= rng.uniform(0.94, 0.99)
                steps.append(PriceStep(kg * 1000, Decimal(f"{price:.4f}")))
            offers.append(
                Offer(
                    f"{w}-{left}", term.name, kind, max(1, round(mass * 1000)), tuple(steps),
                    bundle=rng.choice([1, 1, 1, 1, 5, 10]),
                    limit=rng.choice([None, None, None, rng.randint(3, 60)]),
                )
            )  # fmt: skip
            left -= 1
        for kind in kinds:  # somebody sells each without a limit
            mass = kg_per_m * float(kind.length.mm) / 1000
            offers.append(
                Offer(
                    f"{w}-{kind.length.nm}", rng.choice(terms).name, kind, max(1, round(mass * 1000)),
                    (PriceStep(0, Decimal(f"{mass * per_kg * 1.1 + 1:.4f}")),),
                )
            )  # fmt: skip
        found.append(Want(section, tuple(ways)))
    return found, offers, terms


def measure(seed: int, wants: int, suppliers: int, per_want: int) -> None:
    """One market: gap in per cent and processor seconds."""
    case = market(random.Random(seed), wants, suppliers, per_want)
    start = time.process_time()
    plan = choose_suppliers(*case)
    gap = float((plan.cost - plan.bound) / plan.cost * 100)
    print(
        f"  seed {seed}: {wants} wants, {len(case[1])} offers: cost {plan.cost}, gap {gap:.3f} %, "
        f"{time.process_time() - start:.1f} s of the processor, {plan.nodes} nodes"
    )


def against_cp_sat(seed: int, cases: int) -> None:
    """Small random cases: how many have another cost or bound than CP-SAT's optimum."""
    wrong = open_ones = bought = 0
    for number in range(cases):
        rng = random.Random(f"{seed} {number}")
        case = random_case(rng, suppliers=4, most=rng.choice([5, 12, 40]), offers=rng.randint(3, 10))
        expected = by_cp_sat(*case)
        try:
            plan = choose_suppliers(*case)
        except CannotMakeError:
            wrong += expected is not None
            continue
        bought += 1
        open_ones += not plan.proven
        if (
            expected is None
            or plan.bound > expected
            or (plan.proven and plan.cost != expected)
            or plan.cost < expected
        ):
            wrong += 1
            print(
                f"  false: seed {seed} case {number}: "
                f"cost {plan.cost}, bound {plan.bound}, cheapest {expected}"
            )
    print(f"  {cases} small cases, {bought} that can be bought: {wrong} false, {open_ones} not proven")


def main() -> None:
    """Measure and print."""
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else int(time.time())
    cases = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    print(f"Seed {seed}")
    for i in range(3):
        measure(seed + i, 30, 6, 14)
    measure(seed, 300, 9, 41)
    against_cp_sat(seed, cases)


if __name__ == "__main__":
    main()
