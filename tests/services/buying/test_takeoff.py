"""Takeoff of jobs on file: prices of bars, rack pieces, several jobs together, the command."""

import json
import re
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from sqlalchemy import select
from typer.testing import CliRunner

from shopquote.calc.takeoff.takeoff import group_pieces
from shopquote.calc.units import Length, Measure
from shopquote.cli.app import app
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.tables.cut_tables import print_takeoff
from shopquote.reading.job_file import read_job_text
from shopquote.records.materials import StockItem, StockPrice
from shopquote.services.buying.available_bars import rack_bars
from shopquote.services.buying.offers_on_file import listed_bars
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.takeoff import items_of_job, take_off_job
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.shop.lists import read_list, set_entry
from shopquote.services.shop.new_shop import details_on_file, set_up
from shopquote.services.shop.shop_on_file import grades_on_file, saw_settings
from shopquote.services.shop.values import section_of
from tests.listed_stock import stock_bars
from tests.referees.feasible import faults_of_plan

TODAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
JOB = """
format = 1
[job]
title = "Hooks"
customer = "Invented Customer"
sets = 4
units = "mm"
[[part]]
mark = "A"
name = "straight"
per_set = 3
bar = "round 12"
grade = "S275"
length = 812.5
[[part]]
mark = "B"
name = "hook"
per_set = 2
bar = "round 12"
grade = "S275"
shape = "leg 300; bend 90 r 24; leg 200"
"""


def add(session, text=JOB):
    return add_job(session, read_job_text(text, "hooks.toml"), at=AT).number


def test_a_job_is_planned_over_the_stock_on_file(shop):
    with shop.session() as session:
        number = add(session)
        found = take_off_job(session, [number], on=TODAY)
        saw = saw_settings(session)
    (material,) = found.materials
    assert (material.section.key, material.grade.name, material.pieces) == ("round 12", "S275", 20)
    left = material.net.nm + material.kerf.nm + material.trim.nm + material.kept.nm + material.scrap.nm
    assert left == material.bought.nm + material.rack.nm
    assert found.purchase.proven and found.purchase.cuts_proven
    assert all(bar.trim == saw.trim for bar in material.plan.bars)


def test_two_jobs_share_what_they_cost_together(shop):
    with shop.session() as session:
        numbers = [add(session), add(session, JOB.replace("sets = 4", "sets = 1"))]
        found = take_off_job(session, numbers, on=TODAY)
    together = found.purchase.cost.quantize(Decimal("0.01"))
    bars = sum(material.plan.cost for material in found.materials)
    assert together == (bars + sum(found.purchase.deliveries.values())).quantize(Decimal("0.01"))
    assert [share.owner for share in found.shares] == numbers
    assert sum(share.bears for share in found.shares) == together
    owners = {owner for bar in found.materials[0].plan.bars for _, _, _, owner in bar.pieces}
    assert owners == set(numbers)


INCHES = JOB.replace('units = "mm"', 'units = "in"').replace('"round 12"', '"round 12 mm"').replace(
    "length = 812.5", 'length = "12-7/16"'
).replace("leg 300; bend 90 r 24; leg 200", "leg 12; bend 90 r 1; leg 8")  # fmt: skip


@pytest.mark.parametrize("first", [0, 1])
def test_bars_that_jobs_of_both_units_share_are_in_the_shops_unit_and_pieces_in_their_jobs(
    shop, first, capsys
):
    """In whatever order the jobs are named; a job named twice is one job."""
    with shop.session() as session:
        numbers = [add(session), add(session, INCHES)]
        found = take_off_job(session, [numbers[first], numbers[1 - first], numbers[first].lower()], on=TODAY)
        plans = [plan_for_jobs(session, jobs, on=TODAY) for jobs in (numbers, numbers[::-1])]
        alone = take_off_job(session, numbers[1:], on=TODAY)
    assert (found.unit, alone.unit) == ("mm", "in") and set(found.jobs) == set(numbers)
    assert sum(material.pieces for material in found.materials) == 2 * (12 + 8)
    assert plans[0].cost == plans[1].cost and plans[0].lines == plans[1].lines
    print_takeoff(found)
    said = " ".join(capsys.readouterr().out.split())
    assert f"A of {numbers[0]} 812.5 mm" in said and f"A of {numbers[1]} 12-7/16 in" in said
    assert re.search(r"bars? of 6000 mm", said) and "kerf" in said and " bar of 236" not in said


def test_a_shop_of_inches_shares_its_bars_in_inches(shop):
    with shop.session() as session:
        set_up(session, replace(details_on_file(session), units="in"), on=TODAY)
        found = take_off_job(session, [add(session), add(session, INCHES)], on=TODAY)
    assert found.unit == "in"


def test_pieces_promised_to_the_job_come_before_free_ones(shop):
    with shop.session() as session:
        number = add(session)
        section = section_of("round 12")
        mm = Measure.parse("3000 mm", "mm")
        codes = [p.code for p in add_pieces(session, section, "round 12", "S275", mm, count=6, on=TODAY)]
        shorter = add_pieces(
            session, section, "round 12", "S275", Measure.parse("2700 mm", "mm"), count=3, on=TODAY
        )
        promise_pieces(session, codes[3:], number)
        (material,) = take_off_job(session, [number], on=TODAY).materials
        rack = rack_bars(session, material.section, material.grade, [number])
        ((_, _, pieces),) = group_pieces(items_of_job(session, number))
        saw = saw_settings(session)
        stock = stock_bars(session, material.section, material.grade, TODAY)
    used = {bar.rack_piece for bar in material.plan.bars if bar.rack_piece}
    assert used >= set(codes[3:]), (used, [p.code for p in shorter])
    priced = [bar for bar in stock if bar.price is not None]
    assert faults_of_plan(pieces, priced, rack, saw, material.plan) == []
    left = material.net.nm + material.kerf.nm + material.trim.nm + material.kept.nm + material.scrap.nm
    assert left == material.bought.nm + material.rack.nm


def test_of_a_shared_piece_a_job_takes_only_its_own_part(shop):
    with shop.session() as session:
        number, other = add(session), add(session, JOB.replace("Hooks", "Gate"))
        bar = Measure.parse("6000 mm", "mm")
        (piece,) = add_pieces(session, section_of("round 12"), "round 12", "S275", bar, on=TODAY)
        mm = Measure.parse("812.5 mm", "mm").length
        promise_pieces(session, [piece.code], number, load=[(number, "A", mm, 3), (other, "A", mm, 4)])
        saw = saw_settings(session)
        grade = grades_on_file(session)["S275"]
        (mine,) = rack_bars(session, section_of("round 12"), grade, [number])
        (both,) = rack_bars(session, section_of("round 12"), grade, [number, other])
    # Four pieces of the other's with a kerf each are not this job's to take.
    assert mine.length.nm == 6_000_000_000 - 4 * (812_500_000 + saw.kerf.nm)
    assert both.length.mm == 6000


def test_bars_on_order_are_told_beside_the_plan(shop):
    with shop.session() as session:
        number = add(session)
    (document,) = order_for_jobs(shop, [number], OrderWish(), on=TODAY).documents
    bought = sum(line.count for line in document.lines)
    with shop.reading() as session:
        besides = take_off_job(session, [number], on=TODAY).besides
    assert sum(held.count for held in besides) == bought
    assert {(held.bar, held.grade, held.where) for held in besides} == {
        ("round 12", "S275", "on order, O-0001")
    }


def test_a_job_not_on_file_is_said(shop):
    with shop.reading() as session, pytest.raises(NotFoundError, match="J-9999"):
        take_off_job(session, ["J-9999"], on=TODAY)


def price(basis, amount, day, break_kg=0):
    return StockPrice(basis=basis, price=Decimal(amount), valid_from=day, break_kg=Decimal(break_kg))


def listed(session, *prices):
    """The bars of round 12 that are listed once a supplier has one of 6 m at these prices."""
    wanted = select(StockItem).where(StockItem.section_key == "round 12", StockItem.grade == "S275")
    item = session.scalars(wanted).first()
    item.length, item.prices, item.supplier.exchange_rate = Length.from_mm(6000), list(prices), Decimal(1)
    session.flush()
    bars = listed_bars(session, section_of("round 12"), grades_on_file(session)["S275"], TODAY)
    session.rollback()
    return next(bar for bar in bars if bar.item is item)


def test_the_newest_price_not_after_the_day_counts_at_the_smallest_quantity(shop):
    prices = [
        price("kg", "1.10", date(2025, 1, 1)),
        price("kg", "1.30", date(2026, 1, 1), 500),
        price("kg", "1.40", date(2026, 1, 1)),
        price("kg", "9.99", date(2027, 1, 1)),
    ]
    with shop.session() as session:
        assert listed(session, *prices).price_at(Decimal(0)) == (Decimal("1.40"), "kg")
    with shop.session() as session:
        assert listed(session, price("kg", "9.99", date(2027, 1, 1))).price_at(Decimal(0)) is None


@pytest.mark.parametrize(
    ("basis", "amount", "expected"),
    [
        ("bar", "7.00", "7.00"),
        ("m", "1.20", "7.20"),  # 6 m at 1.20
        ("kg", "2.00", "10.65"),  # 6 m of round 12 weigh 5.327 kg (0.8878 kg/m at 7850 kg/m3, derived)
    ],
)
def test_a_bar_costs_what_its_basis_says(shop, basis, amount, expected):
    with shop.session() as session:
        bar = listed(session, price(basis, amount, date(2020, 1, 1)))
        assert bar.unit_price(bar.mass_kg).quantize(Decimal("0.01")) == Decimal(expected)
        assert bar.mass_kg == Decimal("5.326885")


def test_the_command_prints_the_agreed_json(shop):
    with shop.session() as session:
        number = add(session)
    result = CliRunner().invoke(app, ["takeoff", number, "--db", str(shop.url), "--json"])
    assert result.exit_code == 0, result.output
    (material,) = json.loads(result.stdout)["materials"]
    assert {"bar", "grade", "pieces", "net_mm", "bought_mm", "mass_kg", "from_rack", "plan"} <= set(material)
    assert {"bars", "bars_used", "cost", "bound", "gap", "proven", "seconds"} <= set(material["plan"])
    shown = CliRunner().invoke(app, ["takeoff", number, "--db", str(shop.url)])
    assert "proven the cheapest" in shown.stdout and "round 12" in shown.stdout
    assert CliRunner().invoke(app, ["takeoff", "J-9999", "--db", str(shop.url)]).exit_code == 4


def test_the_proof_of_a_takeoff_says_that_it_is_about_the_cuts_alone(shop, tmp_path):
    with shop.session() as session:
        number = add(session)
    path = tmp_path / "proof.json"
    words = ["takeoff", number, "--db", str(shop.url), "--proof", str(path)]
    assert "It is about the cuts, each length at the lowest price" in CliRunner().invoke(app, words).stdout
    read = json.loads(CliRunner().invoke(app, ["proof", str(path), "--json"]).stdout)
    assert read["good"] and "deliveries, price steps and bundles of a purchase are not in it" in read["about"]


def test_the_plan_passes_the_independent_check(shop):
    with shop.session() as session:
        number = add(session)
        ((section, grade, pieces),) = group_pieces(items_of_job(session, number))
        stock = stock_bars(session, section, grade, TODAY)
        rack = rack_bars(session, section, grade, [number])
        saw = saw_settings(session)
        (material,) = take_off_job(session, [number], on=TODAY).materials
    priced = [bar for bar in stock if bar.price is not None] or stock
    assert faults_of_plan(pieces, priced, rack, saw, material.plan) == []


EXACT = """
format = 1
[job]
title = "Rails"
customer = "Invented Customer"
sets = 1
units = "mm"
[[part]]
mark = "A"
name = "rail"
per_set = 3
bar = "round 12"
grade = "S275"
length = LENGTH
"""


def test_takeoff_quote_and_order_leave_what_bars_may_lack(shop):
    supplier = "Quillmoor Bar Yard (invented)"
    with shop.session() as session:
        saw = saw_settings(session)
        # Three pieces with two kerfs and the trim fill 6 m to the last millimetre.
        length = (Measure.parse("6000 mm", "mm").length - saw.trim - saw.grip - saw.kerf * 2).mm / 3
        number = add(session, EXACT.replace("LENGTH", f"{length.quantize(Decimal('0.1'), 'ROUND_FLOOR')}"))
        plan = take_off_job(session, [number], on=TODAY).purchase
        (words,) = plan.tight
        assert "1 bar must be all of 6000 mm" in words
        notes = draft_quote(session, number, TODAY).document.estimate.notes
        assert words in notes
        for item in session.scalars(select(StockItem).where(StockItem.section_key == "round 12")).all():
            row = [item.supplier.name, "round 12", item.grade, item.length_text, "tolerance=10"]
            set_entry(session, "stock", row, on=TODAY)
        (material,) = take_off_job(session, [number], on=TODAY).materials
        assert material.bought.mm > 6000
        assert all(bar.spare.nm >= 0 and bar.tolerance.mm == 10 for bar in material.plan.bars)
        with pytest.raises(InputError, match="less than its length"):
            set_entry(session, "stock", [supplier, "round 12", "S275", "6 m", "tolerance=6000"], on=TODAY)


def test_a_shop_says_whether_its_saw_nests_mitres(shop):
    with shop.session() as session:
        assert not saw_settings(session).nest_mitres
        name = read_list(session, "saws").entries[0]["name"]
        set_entry(session, "saws", [name, "nest_mitres=yes"], on=TODAY)
    with shop.reading() as session:
        assert saw_settings(session).nest_mitres
