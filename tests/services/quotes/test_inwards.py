"""The quote holds what the shop will pay: bars and deliveries as `order` buys them, by a house rule."""

import random
from collections import defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from unittest.mock import patch

import pytest
from sqlalchemy import select

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.money import round_money
from shopquote.calc.units import Measure
from shopquote.outputs.books.order_book import order_sums
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.purchase import PurchasePlan, plan_purchase
from shopquote.services.buying.takeoff import take_off_job
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.rack.rack import add_pieces
from shopquote.services.shop.shop_on_file import the_shop
from shopquote.services.shop.values import section_of

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
D = Decimal
BARS = ("round 12", "square 12", "flat 40 x 5", "round 8", "box 40 x 40 x 3", "angle 40 x 40 x 4")


def random_job(rng: random.Random) -> JobSpec:
    """A job of straight pieces of one to four sections."""
    bars = rng.sample(BARS, rng.randint(1, 4))
    parts = tuple(
        PartSpec(
            f"P{i}", f"piece {i}", rng.randint(1, 8), rng.choice(bars), "S275",
            length=Measure.parse(str(rng.randint(80, 2900)), "mm"),
        )
        for i in range(rng.randint(1, 6))
    )  # fmt: skip
    return JobSpec("job", "Orla Fennimore", rng.randint(1, 12), "mm", parts=parts)


def quoted_and_bought(database, spec: JobSpec) -> tuple[Decimal, Decimal]:
    """Material in the quote, and what `order` would cost with its deliveries."""
    with database.session() as session:
        number = add_job(session, spec, at=AT).number
        material = sum(material_lines(draft_quote(session, number, DAY).document).values())
        plan = plan_for_jobs(session, [number], on=DAY)
        # What an order prints: each line to the cent, then the deliveries.
        lines = sum(round_money(line.unit_price * line.count, "EUR") for line in plan.lines)
        session.rollback()
    return material, lines + sum(plan.deliveries.values())


def change_market(session, rng: random.Random) -> None:
    """Deliveries and certificates charged, pieces sawn, bundles, few bars, price steps, at random."""
    for supplier in session.scalars(select(Supplier)):
        supplier.delivery_charge = D(rng.choice([0, 15, 25, 40]))
        supplier.free_from = rng.choice([None, D(150), D(300), D(500)])
        supplier.certificate_kind, supplier.certificate_charge = "3.1", D(rng.choice([0, 12, 20]))
        supplier.cut_charge = rng.choice([None, D("1.2")])
    for item in session.scalars(select(StockItem)):
        item.bundle, item.limit = rng.choice([None, None, 2, 5]), rng.choice([None, None, None, 4])
        step = {"price": item.prices[-1].price * D("0.92"), "break_kg": D(rng.choice([30, 60]))}
        if len(item.prices) == 1 and rng.random() < 0.4:
            item.prices.append(StockPrice(basis=item.prices[0].basis, valid_from=DAY, **step))
    session.flush()


def of_three_doors(session, spec: JobSpec) -> tuple[PurchasePlan, PurchasePlan, PurchasePlan]:
    """What takeoff, quote and order would buy for a job."""
    number = add_job(session, spec, at=AT).number
    made: list[PurchasePlan] = []

    def kept(*given, **named) -> PurchasePlan:
        made.append(plan_purchase(*given, **named))
        return made[-1]

    with patch("shopquote.services.buying.purchase.plan_purchase", kept):
        draft_quote(session, number, DAY)
    taken = take_off_job(session, [number], on=DAY).purchase
    return taken, made[0], plan_for_jobs(session, [number], on=DAY)


def bought(plan: PurchasePlan) -> tuple[object, ...]:
    """What is bought where, at which price, with which deliveries, and all that it costs."""
    lines = sorted((line.listed.code, line.count, line.unit_price) for line in plan.lines)
    return (lines, plan.picks, dict(plan.deliveries), plan.cost)


@pytest.mark.parametrize("seed", [3, 5])
def test_takeoff_quote_and_order_buy_the_same_in_any_market(shop, seed):
    rng = random.Random(seed)
    with shop.trial() as session:
        change_market(session, rng)
        taken, quoted, ordered = of_three_doors(session, random_job(rng))
    assert bought(taken) == bought(quoted) == bought(ordered)
    assert ordered.cost > 0


@pytest.mark.parametrize("seed", range(8))
def test_quoted_material_is_at_least_what_the_order_costs(shop, seed):
    material, cost = quoted_and_bought(shop, random_job(random.Random(seed)))
    assert material >= cost > 0


def test_the_certificate_of_an_order_is_in_the_quote_by_the_same_rule(shop):
    with shop.session() as session:
        for supplier in session.scalars(select(Supplier)):
            supplier.certificate_kind, supplier.certificate_charge = "3.1", D("12.50")
    document = put(shop)
    (paper,) = (text for text in material_lines(document) if text.startswith("certificate from"))
    assert material_lines(document)[paper] == D("12.50")
    material, cost = quoted_and_bought(shop, random_job(random.Random(3)))
    assert material >= cost > 0
    with shop.session() as session:
        number = add_job(session, random_job(random.Random(3)), at=AT).number
    orders = order_for_jobs(shop, [number], OrderWish(), on=DAY).documents
    assert sum(order.total for order in orders) == cost
    told = [dict(order_sums(order)) for order in orders]
    assert all(sums["Certificate"] == D("12.50") for sums in told)
    assert all(sums["Goods"] + sums["Delivery"] + D("12.50") == sums["Total"] for sums in told)


def put(database, length="1400", count=5, **policy):
    part = PartSpec("A", "rod", count, "round 12", "S275", length=Measure.parse(length, "mm"))
    spec = JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,))
    with database.session() as session:
        own = the_shop(session)
        for name, value in policy.items():
            setattr(own, name, value)
        number = add_job(session, spec, at=AT).number
        return draft_quote(session, number, DAY).document


def material_lines(document) -> dict[str, Decimal]:
    """Bars and deliveries; what is added for spoilt pieces left out."""
    lines: defaultdict[str, Decimal] = defaultdict(Decimal)
    for line in document.estimate.costs:
        if line.category == "material" and not line.base:
            lines[line.text] += line.amount  # bars of one length from two suppliers, or at two prices
    return lines


def test_whole_to_the_job_charges_bars_and_deliveries(shop):
    document = put(shop)
    (charge,) = document.charges
    lines = material_lines(document)
    assert lines[charge.text] == charge.amount > 0
    assert any("charged to the job in full; nothing is left out" in note for note in document.estimate.notes)


def test_by_share_leaves_out_what_is_kept(shop):
    whole, shared = put(shop), put(shop, inwards="share")
    kept = sum(b.count * b.price * b.offcut.mm / b.stock.mm for b in shared.materials[0].plan.bars if b.kept)
    assert kept > 0
    bought = sum(b.count * b.price for b in shared.materials[0].plan.bars)
    (charge,) = shared.charges
    expected = bought - kept + charge.amount * (bought - kept) / bought
    assert abs(sum(material_lines(shared).values()) - expected) < D("0.03")
    left = sum(material_lines(whole).values()) - sum(material_lines(shared).values())
    assert any(f"{left} is left out" in note for note in shared.estimate.notes), shared.estimate.notes


def test_a_usual_charge_takes_the_place_of_deliveries(shop):
    document = put(shop, inwards="usual", usual_inwards=D(5))
    (charge,) = document.charges
    lines = material_lines(document)
    assert charge.text not in lines and lines["usual charge for deliveries"] == 5
    assert any(f"{charge.amount - 5:.2f} is left out" in note for note in document.estimate.notes)


def test_rack_bars_are_charged_at_cost_where_the_shop_says_so(shop):
    with shop.session() as session:
        (piece,) = add_pieces(
            session, section_of("round 12"), "round 12", "S275", Measure.parse("7000 mm", "mm"), on=DAY,
            cost=D("20.00"),
        )  # fmt: skip
    at_cost = put(shop, count=4, rack_basis="cost")
    today = put(shop, count=4, rack_basis="today")
    (bar,) = at_cost.materials[0].plan.bars
    assert bar.rack_piece == piece.code
    used = bar.stock.mm - (bar.offcut.mm if bar.kept else 0)
    assert abs(sum(material_lines(at_cost).values()) - D(20) * used / 7000) < D("0.02")
    assert material_lines(today) != material_lines(at_cost)


def test_what_the_supplier_saws_takes_no_minutes_at_our_saw(shop):
    document = put(shop, length="900", count=1)
    material = document.materials[0]
    sawn = replace(
        material, plan=replace(material.plan, bars=tuple(replace(b, sawn=True) for b in material.plan.bars))
    )
    assert document.estimate.by_operation["sawing"] > 0
    from shopquote.calc.pricing.estimate import estimate_job
    from shopquote.calc.pricing.standards import StandardsBook
    from shopquote.services.jobs.part import work_out_parts
    from shopquote.services.shop.shop_on_file import bending_shop

    part = PartSpec("A", "rod", 1, "round 12", "S275", length=Measure.parse("900", "mm"))
    spec = JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,))
    with shop.reading() as session:
        answers = work_out_parts(spec, bending_shop(session))
    book = StandardsBook(document.standards)
    estimate = estimate_job(spec, answers, [sawn], book, document.policy, 1)
    set_up = {line.kind for line in estimate.minutes if line.operation == "sawing"}
    assert set_up <= {"set-up"}
