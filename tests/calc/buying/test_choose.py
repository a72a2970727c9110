"""Supplier choice against counting every choice out, and against CP-SAT."""

import itertools
import random
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.buying.buying_plan import BarKind, Need, Offer, PriceStep, SupplierTerms, Want, Way
from shopquote.calc.buying.choose import choose_suppliers, cut_offer, market_of
from shopquote.calc.buying.market import (
    MOST_GOODS,
    BlockChoice,
    Limits,
    Multipliers,
    RoundCache,
    first_choices,
    scale_of,
)
from shopquote.calc.buying.master import WantMaster
from shopquote.calc.buying.search import exact_bound
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError

KIND = BarKind("round 12", "S275", Length.from_mm(6000))


def kind(mm: int, section: str = "round 12") -> BarKind:
    return BarKind(section, "S275", Length.from_mm(mm))


def offer(code, supplier, price, *, of=KIND, mass_g=5328, bundle=1, limit=None, more=()):
    steps = (PriceStep(0, Decimal(price)), *(PriceStep(g, Decimal(p)) for g, p in more))
    return Offer(code, supplier, of, mass_g, steps, bundle, limit)


def want(*ways: tuple[tuple[BarKind, int], ...], name="round 12 S275") -> Want:
    return Want(name, tuple(Way(f"way {i}", tuple(Need(*n) for n in way)) for i, way in enumerate(ways)))


# --- hand-worked cases -------------------------------------------------------------------------


def test_two_orders_only_when_the_second_delivery_pays():
    flat = kind(6000, "flat 40 x 6")
    offers = [
        offer("n1", "Near", "7.00"),
        offer("n2", "Near", "12.00", of=flat),
        offer("f2", "Far", "10.00", of=flat),
    ]
    terms = [SupplierTerms("Near", Decimal(15)), SupplierTerms("Far", Decimal(25))]

    def buy(flats):
        wants = [want(((KIND, 3),)), want(((flat, flats),), name="flat")]
        return choose_suppliers(wants, offers, terms)

    # 12 flats: the far supplier saves 24 and costs 25 more for its delivery; 13 save 26.
    assert buy(12).suppliers == ("Near",)
    assert buy(13).suppliers == ("Far", "Near")
    assert buy(13).cost == 3 * 7 + 15 + 13 * 10 + 25


def test_one_more_bar_is_bought_when_it_brings_the_price_step():
    # 100 kg step at 5.328 kg a bar begins with the 19th bar: 18 x 7.00 = 126.00, 19 x 6.50 = 123.50.
    plan = choose_suppliers([want(((KIND, 18),))], [offer("a", "A", "7.00", more=[(100_000, "6.50")])], [])
    assert [(p.count, p.unit_price) for p in plan.purchases] == [(19, Decimal("6.5"))]
    assert plan.cost == Decimal("123.5") and plan.proven


def test_whole_bundles_are_bought():
    plan = choose_suppliers([want(((KIND, 11),))], [offer("a", "A", "7.00", bundle=5)], [])
    assert plan.purchases[0].count == 15


def test_free_delivery_is_reached_with_a_dearer_bar():
    offers = [offer("a", "A", "9.00"), offer("b", "B", "8.90")]
    terms = [SupplierTerms("A", Decimal(30), Decimal(90)), SupplierTerms("B", Decimal(30))]
    plan = choose_suppliers([want(((KIND, 10),))], offers, terms)
    assert plan.deliveries == {"A": 0} and plan.cost == 90


def test_one_more_bar_than_needed_makes_the_delivery_free():
    # 39 x 6.30 = 245.70 and 18.00 for the delivery, 263.70; 40 x 6.30 = 252.00, delivered free from 250.
    terms = [SupplierTerms("A", Decimal(18), Decimal(250))]
    plan = choose_suppliers([want(((KIND, 39),))], [offer("a", "A", "6.30")], terms)
    assert plan.cost == 252 and plan.proven
    (extra,) = plan.extras
    assert (extra.count, extra.saves, extra.free_delivery) == (1, Decimal("11.70"), True)


def test_bars_beyond_a_bundle_or_a_price_step_are_told_apart():
    bundled = choose_suppliers([want(((KIND, 11),))], [offer("a", "A", "7.00", bundle=5)], [])
    stepped = choose_suppliers([want(((KIND, 18),))], [offer("a", "A", "7.00", more=[(100_000, "6.50")])], [])
    assert [(e.count, e.saves, e.bundle) for e in bundled.extras] == [(4, None, True)]
    assert [(e.count, e.saves, e.price_step) for e in stepped.extras] == [(1, Decimal("2.50"), True)]


def test_two_wants_of_one_kind_are_refused():
    with pytest.raises(InputError, match="one want"):
        choose_suppliers([want(((KIND, 1),)), want(((KIND, 2),), name="b")], [offer("a", "A", "6")], [])


def test_a_clock_that_a_person_set_is_told():
    offers = [offer(f"{s}{i}", f"s{s}", "7.00", limit=3) for s in range(3) for i in range(3)]
    terms = [SupplierTerms(f"s{s}", Decimal(9), Decimal(50)) for s in range(3)]
    hurried = choose_suppliers([want(((KIND, 13),))], offers, terms, seconds=0.0)
    assert hurried.cut_short or hurried.proven
    assert not choose_suppliers([want(((KIND, 13),))], offers, terms).cut_short


def test_cut_lengths_beat_full_bars_for_few_pieces():
    full = offer("a", "A", "18.00")
    piece = cut_offer(full, Length.from_mm(500), Decimal("2.00"))
    # 500 of 6000 mm at 18.00 is 1.50, and 2.00 for the cut: 3.50 each; a bar is worth 5.14 of them.
    assert piece.steps[0].price == Decimal("3.5000")

    def way(pieces):
        wants = [want(((KIND, 1),), ((kind(500), pieces),))]
        return choose_suppliers(wants, [full, piece], []).ways["round 12 S275"]

    assert way(5) == "way 1"
    assert way(6) == "way 0"


def test_a_limit_sends_the_rest_to_another_supplier():
    offers = [offer("a", "A", "6.00", limit=4), offer("b", "B", "7.00")]
    plan = choose_suppliers([want(((KIND, 6),))], offers, [])
    assert {p.offer.supplier: p.count for p in plan.purchases} == {"A": 4, "B": 2}


def test_an_item_nobody_sells_is_named():
    with pytest.raises(CannotMakeError, match=r"round 12 S275: 3 of 6000 mm needed, 2 offered"):
        choose_suppliers([want(((KIND, 3),))], [offer("a", "A", "6.00", limit=2)], [])


def test_too_fine_a_price_is_refused():
    with pytest.raises(InputError, match="4 decimals"):
        choose_suppliers([want(((KIND, 3),))], [offer("a", "A", "6.00001")], [])


def test_nothing_wanted_costs_nothing():
    plan = choose_suppliers([], [offer("a", "A", "6")], [SupplierTerms("A", Decimal(9))])
    assert plan.cost == 0 and plan.purchases == () and plan.proven


# --- counted out -------------------------------------------------------------------------------


def counted_out(wants, offers, terms) -> Decimal | None:
    """The cheapest by trying every count of every offer and every way. Shares no code with the choice."""
    terms = {term.name: term for term in terms}
    best = None
    most = []
    for item in offers:
        need = sum(
            max(sum(n.count for n in way.needs if n.kind == item.kind) for way in w.ways) for w in wants
        )
        top = max(
            [-(-need // item.bundle)] + [-(-s.from_g // (item.mass_g * item.bundle)) for s in item.steps]
        )
        term = terms.get(item.supplier)
        if term and term.free_from is not None:  # more bars cost more than the delivery that they save
            top += int(term.delivery_charge / min(s.price for s in item.steps) / item.bundle)
        top *= item.bundle if need else 0  # what nobody wants is not bought to fill an order up
        most.append(min(top, item.limit) if item.limit is not None else top)
    for counts in itertools.product(
        *(range(0, m + 1, item.bundle) for item, m in zip(offers, most, strict=True))
    ):
        have: dict = {}
        goods: dict = {}
        for item, count in zip(offers, counts, strict=True):
            if not count:
                continue
            price = None
            for step in item.steps:
                if count * item.mass_g >= step.from_g:
                    price = step.price
            if price is None:
                break
            have[item.kind] = have.get(item.kind, 0) + count
            goods[item.supplier] = goods.get(item.supplier, 0) + price * count
        else:
            for ways in itertools.product(*(w.ways for w in wants)):
                needs: dict = {}
                for way in ways:
                    for need in way.needs:
                        needs[need.kind] = needs.get(need.kind, 0) + need.count
                if any(have.get(k, 0) < n for k, n in needs.items()):
                    continue
                cost = Decimal(0)
                for name, amount in goods.items():
                    cost += amount
                    term = terms.get(name)
                    cost += term.certificate_charge if term else 0
                    if term and (term.free_from is None or amount < term.free_from):
                        cost += term.delivery_charge
                best = cost if best is None else min(best, cost)
    return best


def random_case(rng: random.Random, *, suppliers: int, most: int, offers: int):
    kinds = [kind(6000), kind(3000), kind(500), kind(6000, "flat 40 x 6")]
    items = []
    for i in range(offers):
        of = rng.choice(kinds)
        mass = 300 if of.length.mm == 500 else 5000
        more = ()
        price = rng.randint(300, 900)
        if rng.random() < 0.4:
            more = ((mass * rng.randint(2, most), Decimal(price * rng.randint(70, 110) // 100) / 100),)
        items.append(
            Offer(
                f"o{i}",
                f"s{rng.randrange(suppliers)}",
                of,
                mass,
                (
                    PriceStep(rng.choice([0, 0, mass * 2]), Decimal(price) / 100),
                    *(PriceStep(g, p) for g, p in more if g > mass * 2),
                ),
                bundle=rng.choice([1, 1, 1, 2, 3]),
                limit=rng.choice([None, None, rng.randint(1, most)]),
            )
        )
    wants = [
        want(
            ((kinds[0], rng.randint(1, most)),),
            ((kinds[1], rng.randint(1, most)),),
            ((kinds[2], 4),),
            name="r",
        ),
    ]
    if rng.random() < 0.6:
        wants.append(want(((kinds[3], rng.randint(1, most)),), name="f"))
    terms = [
        SupplierTerms(
            f"s{s}",
            Decimal(rng.choice([0, 5, 12, 20])),
            rng.choice([None, Decimal(rng.randint(5, 40)), Decimal(rng.randint(5, 40))]),
        )
        for s in range(suppliers)
    ]
    # Asked for also where the delivery is free.
    terms = [replace(term, certificate_charge=Decimal(rng.choice([0, 0, 7]))) for term in terms]
    return wants, items, terms


@pytest.mark.parametrize("seed", range(120))
def test_choice_equals_counting_every_choice_out(seed):
    wants, items, terms = random_case(random.Random(seed), suppliers=3, most=5, offers=4)
    expected = counted_out(wants, items, terms)
    if expected is None:
        with pytest.raises(CannotMakeError):
            choose_suppliers(wants, items, terms)
        return
    plan = choose_suppliers(wants, items, terms)
    assert plan.cost == expected
    assert plan.bound == expected


# --- CP-SAT as a second opinion on larger cases --------------------------------------------------


def by_cp_sat(wants, offers, terms) -> Decimal | None:
    """The same question put to OR-tools CP-SAT in whole cents, formulated by count and element."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    need_of: dict = {}
    cost, goods, busy = [], {}, {}
    top = {}
    for w, item in enumerate(wants):
        picks = [model.new_bool_var(f"w{w}_{a}") for a in range(len(item.ways))]
        model.add_exactly_one(picks)
        for pick, way in zip(picks, item.ways, strict=True):
            for need in way.needs:
                need_of.setdefault(need.kind, []).append(need.count * pick)
        for k in {n.kind for way in item.ways for n in way.needs}:
            top[k] = top.get(k, 0) + max(sum(n.count for n in way.needs if n.kind == k) for way in item.ways)
    have: dict = {}
    for item in offers:
        need = top.get(item.kind, 0)
        steps = [-(-s.from_g // (item.mass_g * item.bundle)) for s in item.steps]
        # Far more than could ever pay: every step, the whole need, and goods that make the delivery free.
        free_from = next((t.free_from or 0 for t in terms if t.name == item.supplier), 0)
        fill = int(free_from / min(s.price for s in item.steps) / item.bundle) + 1
        most = -(-need // item.bundle) + max(steps) + fill if need else 0
        if item.limit is not None:
            most = min(most, item.limit // item.bundle)
        table = [(0, 0)]
        for bundles in range(1, most + 1):
            price = None
            for step in item.steps:
                if bundles * item.bundle * item.mass_g >= step.from_g:
                    price = step.price
            if price is not None:
                table.append((bundles, int(price * 100) * item.bundle * bundles))
        bundles = model.new_int_var(0, most, item.code)
        amount = model.new_int_var(0, max(a for _, a in table), f"{item.code} amount")
        model.add_allowed_assignments([bundles, amount], table)
        have.setdefault(item.kind, []).append(item.bundle * bundles)
        goods.setdefault(item.supplier, []).append(amount)
        busy.setdefault(item.supplier, []).append(bundles)
        cost.append(amount)
    for k, needs in need_of.items():
        model.add(sum(have.get(k, [])) >= sum(needs))
    for term in terms:
        if term.name not in goods:
            continue
        used, pays = model.new_bool_var(""), model.new_bool_var("")
        for bundles in busy[term.name]:
            model.add(bundles == 0).only_enforce_if(used.negated())
        if term.free_from is None:
            model.add(pays == used)
        else:
            free = model.new_bool_var("")
            model.add(sum(goods[term.name]) >= int(term.free_from * 100)).only_enforce_if(free)
            model.add(pays >= used - free)
        cost += [int(term.delivery_charge * 100) * pays, int(term.certificate_charge * 100) * used]
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL
    return Decimal(round(solver.objective_value)) / 100


@pytest.mark.parametrize("seed", range(25))
def test_choice_equals_cp_sat(seed):
    wants, items, terms = random_case(random.Random(1000 + seed), suppliers=4, most=40, offers=10)
    expected = by_cp_sat(wants, items, terms)
    if expected is None:
        with pytest.raises(CannotMakeError):
            choose_suppliers(wants, items, terms)
        return
    plan = choose_suppliers(wants, items, terms)
    assert plan.cost == expected
    assert plan.bound == expected


# --- the bound is true whatever the multipliers ---------------------------------------------------


@given(st.data())
def test_any_multipliers_give_a_true_bound(data):
    wants, items, terms = random_case(
        random.Random(data.draw(st.integers(0, 400))), suppliers=2, most=4, offers=4
    )
    market = market_of(wants, items, terms)
    scale = scale_of(market)
    goods = [data.draw(st.integers(0, MOST_GOODS * scale)) for _ in market.suppliers]
    fees = {
        (m, slot, s): data.draw(st.integers(0, supplier.charge * scale))
        for m in range(len(market.blocks))
        for slot in range(2)
        for s, supplier in enumerate(market.suppliers)
    }
    bound, _, _ = exact_bound(market, Multipliers(scale, goods, fees), Limits(), RoundCache())
    cheapest = counted_out(wants, items, terms)
    assert cheapest is None or bound <= cheapest * 10_000


def test_pivots_are_counted_once():
    """What a programme took is told when it is asked for, and not again before the next one."""
    market = market_of(*random_case(random.Random(5), suppliers=4, most=40, offers=10))
    master = WantMaster(market, scale_of(market))
    choices: list[BlockChoice | None] = [c for _, c, _ in first_choices(market, Limits(), 1, RoundCache())]
    pivots = 0
    for _ in range(9):
        master.add(choices)
        mixture = master.solve()
        pivots += master.spent()
        assert master.spent() == 0
        choices = exact_bound(market, mixture.multipliers, Limits(), RoundCache())[1]
    assert pivots > 0


def test_solver_prints_nothing(capfd):
    choose_suppliers([want(((KIND, 3),))], [offer("a", "A", "6.00")], [])
    assert capfd.readouterr() == ("", "")


def test_an_order_filled_up_to_a_free_delivery_is_not_searched_for_minutes():
    """Twelve other kinds add up to what is lacking in endless ways: next to nothing is left to save."""
    lengths = [81, 246, 253, 273, 293, 407, 511, 620, 663, 1230, 1353, 2274]
    kinds = [BarKind("round 16", "S275", Length.from_mm(mm)) for mm in lengths]
    cents = [195, 225, 226, 230, 233, 254, 273, 293, 300, 403, 426, 593]
    offers = [
        Offer(f"b{n}", "B", kind, 500, (PriceStep(0, Decimal(price) / 100 + Decimal(n) / 10_000),))
        for n, (kind, price) in enumerate(zip(kinds, cents, strict=True))
    ]
    wants = [Want("round 16", (Way("bars", (Need(KIND, 48),)),), tuple(kinds))]
    terms = [SupplierTerms("B", Decimal(35), Decimal(500))]
    plan = choose_suppliers(wants, [offer("a", "B", "9.8488"), *offers], terms)
    assert 500 <= plan.cost < Decimal("500.25") and plan.bound >= 500
    assert plan.nodes < 1000
    assert plan.deliveries == {"B": 0}
