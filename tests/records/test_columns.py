"""Lengths, money and numbers are stored exactly, and what would have to be rounded is refused."""

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError

from shopquote.calc.units import Length
from shopquote.records.columns import NotStorable, scaled_integer
from shopquote.records.jobs import StateChange
from shopquote.records.people import Customer, Supplier
from shopquote.records.quotes import Quote
from shopquote.records.rack import RackPiece
from shopquote.records.shop import Saw, Shop, TaxRow
from shopquote.services.shop.setup import ShopDetails, starting_shop_row

# What Numeric(20,4) on SQLite gave back wrongly, tried on SQLAlchemy 2.0 and 2.1: see records/columns.py.
HARD_FOR_FLOATS = [Decimal("12345678901234.5678"), Decimal("0.1"), Decimal("0.3"), Decimal("1.0001")]


@pytest.mark.parametrize("amount", HARD_FOR_FLOATS)
def test_money_comes_back_exactly(any_database, amount):
    with any_database.session() as session:
        session.add(Supplier(name="a", delivery_charge=amount))
    with any_database.reading() as session:
        assert session.scalar(select(Supplier.delivery_charge)) == amount


def test_sums_in_sql_are_exact(any_database):
    with any_database.session() as session:
        for number, amount in enumerate(("0.1", "0.2")):
            session.add(Supplier(name=str(number), delivery_charge=Decimal(amount)))
    with any_database.reading() as session:
        total = session.scalar(select(func.sum(Supplier.delivery_charge)))
        assert total == Decimal("0.3")
        assert session.scalar(select(func.count()).where(Supplier.delivery_charge * 3 == Decimal("0.6"))) == 1


@pytest.mark.parametrize("wrong", [Decimal("1.00005"), 1.5, "1.5", Decimal("NaN"), Decimal("Infinity"), True])
def test_what_money_cannot_hold_exactly_is_refused(session, wrong):
    session.add(Supplier(name="a", delivery_charge=wrong))
    with pytest.raises(NotStorable, match=r"stored|number"):
        session.flush()


@given(st.decimals(min_value=-(10**11), max_value=10**11, places=4))
def test_scaled_integer_keeps_every_digit(value):
    assert Decimal(scaled_integer(value, 4)) == value * 10000


@given(st.decimals(min_value=-(10**6), max_value=10**6, allow_nan=False))
def test_scaled_integer_is_exact_or_refuses(value):
    try:
        assert Decimal(scaled_integer(value, 6)).scaleb(-6) == value
    except NotStorable:
        assert value != round(value, 6)


@pytest.mark.parametrize("nm", [1, 396_875, 2_540, 100_000_000_000_000])
def test_lengths_come_back_to_the_nanometre(any_database, nm):
    length = Length(nm)
    with any_database.session() as session:
        session.add(Saw(name="a", kerf=length, trim=length, grip=length))
    with any_database.reading() as session:
        assert session.scalar(select(Saw.kerf)) == length
        assert session.scalar(select(Saw.kerf * 2)) == length * 2
        assert session.scalar(select(func.sum(Saw.kerf))) == length


def test_a_bare_number_is_no_length(session):
    session.add(Saw(name="a", kerf=3, trim=Length(0), grip=Length(0)))
    with pytest.raises(NotStorable, match="takes a Length"):
        session.flush()


def test_times_are_kept_in_utc_and_sort_as_text(any_database, make_job):
    west = timezone(timedelta(hours=-5))
    moments = [datetime(2026, 3, 1, 23, 0, tzinfo=west), datetime(2026, 3, 2, 3, 59, 59, 5, tzinfo=UTC)]
    with any_database.session() as session:
        asked = make_job(session)
        asked.state_changes += [StateChange(to_state="quoted", at=moment) for moment in moments]
    with any_database.reading() as session:
        query = select(StateChange.at).where(StateChange.to_state == "quoted").order_by(StateChange.at)
        stored = session.scalars(query).all()
    assert stored == sorted(moments)


def test_a_time_without_a_zone_is_refused(session, make_job):
    make_job(session).state_changes.append(StateChange(to_state="quoted", at=datetime(2026, 3, 1)))
    with pytest.raises(NotStorable, match="time zone"):
        session.flush()


@pytest.mark.parametrize(
    "change",
    [
        {"length": Length(0)},
        {"state": "lost"},
        {"state": "promised"},
        {"cost": Decimal(-1)},
        {"promised_job_id": 1},
    ],
)
def test_the_database_itself_refuses_an_impossible_rack_piece(any_database, change, make_job, make_piece):
    with pytest.raises(IntegrityError), any_database.session() as session:
        make_job(session)
        make_piece(session, **change)


def test_a_rack_code_is_given_once(any_database, make_piece):
    with pytest.raises(IntegrityError), any_database.session() as session:
        make_piece(session, code="R-1")
        make_piece(session, code="R-1")


def test_a_reference_to_nothing_is_refused(any_database, make_piece):
    with pytest.raises(IntegrityError), any_database.session() as session:
        make_piece(session, parent_id=99)
        session.flush()


def test_margin_and_markup_exclude_each_other(any_database):
    with pytest.raises(IntegrityError), any_database.session() as session:
        session.add(Shop(**starting_shop_row(ShopDetails()) | {"markup_pct": Decimal(30)}))


def test_there_is_one_shop(any_database):
    with pytest.raises(IntegrityError), any_database.session() as session:
        session.add(Shop(**starting_shop_row(ShopDetails()) | {"id": 2}))


def test_names_are_given_once(any_database):
    with pytest.raises(IntegrityError), any_database.session() as session:
        session.add_all([Customer(name="a"), Customer(name="a")])


def test_negative_tax_is_refused(any_database):
    with pytest.raises(IntegrityError), any_database.session() as session:
        session.add(TaxRow(name="a", percent=Decimal(-1)))


def test_removing_a_job_removes_what_is_only_its_own(any_database, make_job):
    with any_database.session() as session:
        asked = make_job(session)
        asked.state_changes.append(StateChange(to_state="asked", at=datetime(2026, 3, 1, tzinfo=UTC)))
        session.flush()
        session.delete(asked)
    with any_database.reading() as session:
        assert session.scalar(select(func.count()).select_from(StateChange)) == 0


def test_rows_say_what_they_are():
    assert repr(RackPiece(id=3, made_on=date(2026, 3, 2))) == "<RackPiece 3>"


def test_arithmetic_in_sql_keeps_its_unit(any_database):
    with any_database.session() as session:
        session.add(Supplier(name="a", delivery_charge=Decimal("1.25"), cut_charge=Decimal("0.5")))
        session.add(Saw(name="a", kerf=Length(3), trim=Length(10), grip=Length(7)))
    with any_database.reading() as session:
        charges = select(
            Supplier.delivery_charge * 4,
            Supplier.delivery_charge + Supplier.cut_charge,
            Supplier.delivery_charge - Decimal("0.25"),
            func.sum(Supplier.delivery_charge * Supplier.lead_days),
        ).group_by(Supplier.id)
        assert session.execute(charges).one() == (Decimal(5), Decimal("1.75"), Decimal(1), Decimal(0))
        lengths = select(Saw.kerf * 2, Saw.trim - Saw.kerf, func.max(Saw.grip))
        lengths = lengths.group_by(Saw.id)
        assert session.execute(lengths).one() == (Length(6), Length(7), Length(7))


def test_a_quote_whose_total_is_not_net_and_tax_is_refused(any_database, make_job):
    day = date(2026, 3, 2)
    money = {"net": Decimal(100), "tax": Decimal(20), "total": Decimal("120.01"), "cost": Decimal(70)}
    with pytest.raises(IntegrityError, match="total_adds_up"), any_database.session() as session:
        job = make_job(session)
        quote = Quote(job=job, job_revision=job.revisions[0], number="Q-0001", revision=1, **money)
        quote.issued_on = quote.valid_until = day
        quote.currency, quote.margin_pct, quote.snapshot = "EUR", Decimal(30), ""
        session.add(quote)
