"""Nothing invented in a real quote or order: said where a figure rests on it, refused, and taken out."""

from datetime import UTC, date, datetime

import pytest
from sqlalchemy import select
from typer.testing import CliRunner

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.cli.app import app
from shopquote.errors import CannotMakeError, InputError
from shopquote.records.benders import BenderRow
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.takeoff import take_off_job
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quotes_on_file import make_quote
from shopquote.services.shop.invented_entries import drop_invented
from shopquote.services.shop.shop_on_file import the_shop

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def job(shop):
    part = PartSpec("A", "rod", 4, "round 12", "S275", length=Measure.parse("900", "mm"))
    with shop.session() as session:
        return add_job(session, JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT).number


def name_the_shop(shop):
    with shop.session() as session:
        own = the_shop(session)
        own.name, own.invented = "Penhallow Ironwork", False


def test_a_quote_and_a_takeoff_say_what_is_invented(shop, job):
    with shop.session() as session:
        document = make_quote(session, job, DAY)
        supplier = document.materials[0].plan.bars[0].supplier
        assert any("Invented prices" in line and supplier in line for line in document.invented)
        assert any("Invented rates" in line and "rate.sawing" in line for line in document.invented)
        assert set(document.invented) <= set(document.estimate.notes)
        assert any(supplier in line for line in take_off_job(session, [job], on=DAY).purchase.invented)


def test_own_prices_are_not_called_invented(shop, job):
    with shop.session() as session:
        for supplier in session.scalars(select(Supplier)):
            supplier.invented = False
        assert take_off_job(session, [job], on=DAY).purchase.invented == ()


def test_a_real_order_to_an_invented_supplier_is_refused(shop, job):
    name_the_shop(shop)
    with pytest.raises(InputError, match="is invented") as caught:
        order_for_jobs(shop, [job], OrderWish(), on=DAY)
    assert "--drop-invented" in caught.value.hint
    assert order_for_jobs(shop, [job], OrderWish(ask=True), on=DAY).numbers  # asking costs nothing


def test_what_is_invented_is_taken_out_of_a_shop_of_its_own(shop, job):
    name_the_shop(shop)
    with shop.session() as session:
        dropped = drop_invented(session)
        assert dropped.suppliers == 3 and dropped.bars and dropped.benders and not dropped.kept
        assert session.scalar(select(Supplier)) is session.scalar(select(StockItem)) is None
        assert session.scalar(select(BenderRow)) is None
        with pytest.raises(CannotMakeError, match="No supplier on file lists round 12 mm S275"):
            take_off_job(session, [job], on=DAY)


def test_a_supplier_that_orders_name_stays(shop, job):
    with shop.session() as session:
        session.flush()
    order_for_jobs(shop, [job], OrderWish(), on=DAY)  # while the shop is still the invented one
    name_the_shop(shop)
    with shop.session() as session:
        dropped = drop_invented(session)
        (kept,) = dropped.kept
        assert session.scalar(select(Supplier.name)) == kept


def test_the_invented_shop_keeps_its_entries(shop):
    with shop.session() as session, pytest.raises(InputError, match="invented one"):
        drop_invented(session)


def test_a_shop_may_start_empty(tmp_path):
    where = str(tmp_path / "own.db")
    done = CliRunner().invoke(app, ["--db", where, "setup", "--yes", "--own", "--json"])
    assert done.exit_code == 0, done.stderr
    assert '"stock_items": 0' in done.stdout and '"benders": 0' in done.stdout
    refused = CliRunner().invoke(app, ["--db", where, "setup", "--drop-invented"])
    assert refused.exit_code == 3 and "invented one" in refused.stderr
