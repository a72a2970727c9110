"""`db check` is silent on what the services do, and finds each thing that cannot be true."""

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import text

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Measure
from shopquote.records.orders import Order, Receipt, ReceivedBar
from shopquote.records.people import Supplier
from shopquote.records.quotes import Quote, QuoteCost, QuoteLineRow
from shopquote.services.rack.rack import add_pieces, promise_pieces, release_promises, scrap_piece
from shopquote.services.rack.rack_on_file import find_piece
from shopquote.services.rack.rack_uses import correct_length, return_offcut, use_bar
from shopquote.services.safe.checks import CHECKS, run_checks

DAY = date(2026, 3, 2)
ROUND = parse_section("round 12", "mm")


def mm(words: str) -> Measure:
    return Measure.parse(words, "mm")


def make_busy(database, make_job) -> None:
    """Every kind of thing happens on a rack."""
    with database.session() as session:
        make_job(session, "J-0001", state="won")
        add_pieces(session, ROUND, "round 12", "S275", mm("6000"), count=6, cost=Decimal("6.13"), on=DAY)
        promise_pieces(session, ["R-0001", "R-0002"], "J-0001")
        release_promises(session, codes=["R-0002"])
        use_bar(session, "R-0001", "J-0001", returned=[mm("1250"), mm("333.3")], used_on=DAY)
        return_offcut(session, "R-0001", mm("40"), on=DAY)
        use_bar(session, "R-0003", "J-0001", used_on=DAY, kind="scrap", reason="bent twice")
        scrap_piece(session, "R-0004", "rust")
        correct_length(session, find_piece(session, "R-0005"), mm("5990"), "measured")
        promise_pieces(session, ["R-0006"], "J-0001")


def faults(database) -> dict[str, tuple[str, ...]]:
    with database.reading() as session:
        found = {result.name: result.faults for result in run_checks(session) if result.faults}
    found.pop("running numbers are not behind", None)  # the jobs of these tests name their own numbers
    return found


def change(database, statement: str) -> None:
    with database.session() as session:
        session.execute(text(statement))


def test_a_busy_rack_is_sound(any_database, make_job):
    make_busy(any_database, make_job)
    assert faults(any_database) == {}


ALL_BAR = "all bar is accounted for"


@pytest.mark.parametrize(
    ("statement", "check"),
    [
        ("UPDATE rack_pieces SET length = length + 1 WHERE code = 'R-0002'", ALL_BAR),
        ("DELETE FROM rack_moves WHERE kind = 'added' AND piece_id = 2", ALL_BAR),
        ("UPDATE rack_pieces SET state = 'free' WHERE code = 'R-0003'", ALL_BAR),
        ("DELETE FROM bar_uses", ALL_BAR),
        ("UPDATE bar_uses SET cost = cost + 1", ALL_BAR),
        (
            "UPDATE bar_uses SET returned = returned + 1 WHERE returned IS NOT NULL",
            "all bar is accounted for",
        ),
        (
            "UPDATE rack_pieces SET length = 7000000000 WHERE parent_id IS NOT NULL",
            "all bar is accounted for",
        ),
        (
            # By the order in which it was put down: the moment may be that of a clock set back.
            "UPDATE rack_moves SET id = -id WHERE kind = 'used'",
            "deliveries lie on the rack",
        ),
        ("UPDATE jobs SET state = 'lost'", "no piece is promised twice"),
        ("UPDATE jobs SET revision = 2", "jobs have their newest revision"),
    ],
)
def test_what_cannot_be_true_is_found(database, make_job, statement, check):
    make_busy(database, make_job)
    change(database, statement)
    assert check in faults(database)


@pytest.mark.parametrize(
    ("cost", "line", "part", "check"),
    [
        ("70", "100", "70", None),
        ("70", "100.01", "70", "printed quotes add up"),
        ("70", "100", "70.0001", "costs add up"),
    ],
)
def test_a_quote_that_does_not_add_up_is_found(any_database, make_job, cost, line, part, check):
    with any_database.session() as session:
        job = make_job(session, state="quoted")
        quote = Quote(
            job=job,
            job_revision=job.revisions[0],
            number="Q-0001",
            revision=1,
            issued_on=DAY,
            valid_until=DAY,
            currency="EUR",
            net=Decimal(100),
            tax=Decimal(20),
            total=Decimal(120),
            cost=Decimal(cost),
            margin_pct=Decimal(30),
            snapshot="",
        )
        price = Decimal(line)
        quote.lines.append(
            QuoteLineRow(position=1, text="hooks", quantity=Decimal(1), unit_price=price, amount=price)
        )
        quote.costs.append(QuoteCost(category="material", amount=Decimal(part)))
        session.add(quote)
    assert list(faults(any_database)) == ([check] if check else [])


def test_a_bar_that_arrived_and_is_nowhere_is_found(any_database):
    with any_database.session() as session:
        order = Order(number="O-0001", supplier=Supplier(name="a"), placed_on=DAY, currency="EUR")
        receipt = Receipt(order=order, received_on=DAY)
        bar = {"section_key": "round 12", "section_text": "round 12", "grade": "S275"}
        receipt.bars.append(ReceivedBar(**bar, length=mm("6000").length, count=3))
        session.add(receipt)
    told = faults(any_database)["deliveries lie on the rack"]
    assert told == ("delivery row 1, round 12: 3 bars arrived, 0 became rack pieces",)


def test_every_check_has_a_name_of_its_own():
    assert len({check.name for check in CHECKS}) == len(CHECKS)
