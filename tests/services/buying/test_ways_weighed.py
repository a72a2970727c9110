"""Only ways that may be cheapest get a cut plan; the purchase costs what it costs over all of them."""

import random
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import partial
from itertools import product
from types import SimpleNamespace

import pytest

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.buying.choose import choose_suppliers
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings
from shopquote.calc.takeoff.whole_bars import PricedLength, least_cost
from shopquote.calc.units import ZERO, Length
from shopquote.errors import CannotMakeError
from shopquote.services.buying import purchase, purchase_ways, ways_weighed
from shopquote.services.buying.offers import ListedBar
from shopquote.services.buying.purchase import plan_purchase
from shopquote.services.buying.purchase_ways import SectionMarket
from shopquote.services.buying.wanted import Wanted

D, mm = Decimal, Length.from_mm
DAY = date(2026, 3, 2)
SAW = SawSettings(mm(2), mm(5))
BOOKS = SimpleNamespace(shop=SimpleNamespace(currency="EUR"))
S275 = STARTING_GRADES["S275"]


@pytest.mark.parametrize("seed", range(300))
def test_least_of_whole_bars_by_trying_all_numbers(seed):
    rng = random.Random(seed)
    bars = [
        PricedLength(rng.randint(1, 12), rng.randint(1, 30), rng.choice([None, rng.randint(0, 6)]))
        for _ in range(rng.randint(1, 3))
    ]
    need = rng.randint(1, 30)
    costs = []
    for counts in product(*(range(max(-(-need // bar.room), bar.alone or 0) + 1) for bar in bars)):
        used = [(bar, n) for bar, n in zip(bars, counts, strict=True) if n]
        alone_too_few = len(used) == 1 and (used[0][0].alone is None or used[0][1] < used[0][0].alone)
        if sum(bar.room * n for bar, n in used) >= need and not alone_too_few:
            costs.append(sum(bar.price * n for bar, n in used))
    assert least_cost(need, bars) == min(costs, default=None)


@pytest.mark.parametrize("seed", range(100))
def test_least_of_bars_at_one_price_a_metre_ends_and_is_never_too_much(seed):
    # To the cent, nearly every mixture of lengths costs the same: to try all of them took minutes.
    rng = random.Random(seed)
    lengths = rng.sample([2000, 3000, 3660, 4000, 5000, 6000, 6100, 7500, 12000], 5)
    metre, waste = rng.randint(100, 2000), rng.choice([0, 2, 10])
    bars = [PricedLength(each - waste, round(metre * each / 1000) * 100, 0) for each in lengths]
    need = rng.randint(100_000, 5_000_000)
    whole = min(-(-need // bar.room) * bar.price for bar in bars)
    least = min(Fraction(need * bar.price, bar.room) for bar in bars)
    assert least <= least_cost(need, bars) <= whole


def supplier(rng, name):
    """Delivery free from an amount, or never; pieces sawn by some."""
    return SimpleNamespace(
        name=name,
        delivery_charge=D(rng.choice([0, 12, 35])),
        free_from=rng.choice([None, D(60), D(250)]),
        certificate_kind="3.1",
        certificate_charge=D(rng.choice([0, 0, 4])),
        exchange_rate=D(1),
        cut_charge=rng.choice([None, None, D("1.20"), D("0.05")]),
    )


def market(rng, section, suppliers, codes):
    """Up to three lengths, each from some of the suppliers, in bundles, few, or with a price step by mass."""
    listed = []
    for length in rng.sample([3000, 4500, 6000], rng.randint(1, 3)):
        for seller in rng.sample(suppliers, rng.randint(1, len(suppliers))):
            price = round(D(length) / 1000 * D(rng.randint(80, 120)) / 100, 2)
            steps = [(D(0), price, "bar")]
            steps += [(D(40), round(price * D("0.9"), 2), "bar")] if rng.random() < 0.3 else []
            item = SimpleNamespace(
                id=next(codes), section_key=section.key, grade="S275", length=mm(length), tolerance=ZERO,
                length_text="", limit=rng.choice([None, None, 9]), bundle=rng.choice([1, 1, 1, 4]),
            )  # fmt: skip
            listed.append(ListedBar(item, seller, D(length) / 1000, tuple(steps), DAY))
    found = SectionMarket(tuple(listed))
    found.offers.update({bar.code: (bar.offer(), bar) for bar in listed})
    return found


def case(seed):
    """One to three materials of some pieces each, now and then with bars on the rack."""
    rng = random.Random(seed)
    suppliers = [supplier(rng, name) for name in ("Far Bars", "Near Bars", "Third Yard")[: rng.randint(1, 3)]]
    codes = iter(range(1, 100))
    wanted, markets = [], {}
    for text in rng.sample(["round 12", "square 12", "flat 40 x 6"], rng.randint(1, 3)):
        section = parse_section(text, "mm")
        lengths = rng.sample(range(150, 2900), rng.randint(1, 4))
        pieces = tuple(Piece(f"P{i}", mm(nm), rng.randint(1, 8)) for i, nm in enumerate(lengths))
        free = (RackBar("R1", mm(rng.randint(500, 4000))),) if rng.random() < 0.2 else ()
        wanted.append(Wanted(section, S275, pieces, (), free))
        markets[wanted[-1].name] = market(rng, section, suppliers, codes)
    return wanted, markets


@pytest.mark.parametrize("seed", range(60))
def test_a_purchase_costs_what_it_costs_over_all_ways(seed, monkeypatch):
    counts, plan_cuts = {}, purchase_ways.plan_cuts

    def counted(*asked, **named):
        counts[most] = counts.get(most, 0) + 1
        return plan_cuts(*asked, **named)

    monkeypatch.setattr(purchase_ways, "plan_cuts", counted)
    # Few choices need more, and then a bound below the cost is left.
    monkeypatch.setattr(purchase, "choose_suppliers", partial(choose_suppliers, most_work=1_000_000))
    costs, bounds = [], []
    for most in (0, ways_weighed.MOST_SUPPLIERS):  # with 0 every way is planned
        monkeypatch.setattr(ways_weighed, "MOST_SUPPLIERS", most)
        purchase_ways._plan_made_before.cache_clear()
        wanted, markets = case(seed)
        try:
            bought = plan_purchase(BOOKS, wanted, SAW, on=DAY, markets=markets)
        except CannotMakeError:
            continue  # a piece is longer than any bar, or the few bars do not suffice
        costs.append(bought.cost)
        bounds.append(bought.bound)
        for name, bound in bought.bounds.items():
            plan = bought.taken[name].plan
            assert plan is None or bound <= plan.cost
    every, worth = (counts.get(most, 0) for most in counts)
    assert len(costs) != 1
    assert not costs or (max(bounds) <= min(costs) and (costs != bounds or costs[0] == costs[1]))
    assert worth <= every
