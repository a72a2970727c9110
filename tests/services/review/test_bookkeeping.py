"""The book-keeper's rows: each paper once, on its day, to the cent, and safe to open."""

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.outputs.tables.bookkeeping_tables import postings_csv, postings_json
from shopquote.records.logs import Invoice, OutsideBill, Payment
from shopquote.records.orders import Order, Receipt
from shopquote.records.people import Supplier
from shopquote.services.jobs.jobs import add_job, find_job
from shopquote.services.quotes.quotes_on_file import answer_quote, make_quote
from shopquote.services.review.bookkeeping import postings

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
D = Decimal


@pytest.fixture
def books(shop):
    """A shop with a quote won, an invoice, a credit, a bill and a delivery, in March 2026."""
    part = PartSpec("A", "piece", 2, "round 12", "S275", length=Measure.parse("410", "mm"))
    with shop.session() as session:
        number = add_job(session, JobSpec("Pegs", "Orla Fennimore", 3, "mm", parts=(part,)), at=AT).number
        make_quote(session, number, DAY)
        answer_quote(session, number, "accepted", date(2026, 3, 4))
        job = find_job(session, number).id
        supplier = session.query(Supplier).first()
        session.add_all(
            [
                Invoice(job_id=job, number="2026-11", invoiced_on=date(2026, 3, 20), amount=D("81.50")),
                Invoice(
                    job_id=job, number="2026-11", invoiced_on=date(2026, 3, 31), amount=D("4.05"),
                    kind="credit", note="=2+3",
                ),
                Payment(
                    invoice=Invoice(
                        job_id=job, number="2026-12", invoiced_on=date(2026, 4, 1), due_on=date(2026, 5, 1),
                        amount=D("20"),
                    ),
                    paid_on=date(2026, 4, 30), amount=D("12.5"),
                ),
                OutsideBill(
                    job_id=job, name="galvanising", supplier="+Dipper", amount=D("35.1"),
                    billed_on=date(2026, 3, 12),
                ),
                Receipt(
                    order=Order(
                        number="O-0001", supplier=supplier, placed_on=DAY, currency="EUR", snapshot="{}"
                    ),
                    received_on=date(2026, 3, 10), reference="D 77", charged_total=D("24.30"),
                ),
            ]
        )  # fmt: skip
    return shop


def rows_of(shop, since, until):
    with shop.reading() as session:
        return postings(session, since, until)


def test_each_paper_stands_once_on_its_day(books):
    rows = rows_of(books, date(2026, 3, 1), date(2026, 3, 31))
    assert [(row.day.day, row.kind, row.number) for row in rows] == [
        (4, "quote won", "Q-0001 r1"), (10, "bars received", "O-0001"), (12, "bill", ""),
        (20, "invoice", "2026-11"), (31, "credit", "2026-11"),
    ]  # fmt: skip
    won = rows[0]
    assert won.net + won.tax == won.total
    assert [(row.net, row.total) for row in rows[1:]] == [
        (D("24.30"), None), (D("35.10"), None), (D("81.50"), None), (D("-4.05"), None),
    ]  # fmt: skip
    april = rows_of(books, date(2026, 4, 1), date(2026, 4, 30))
    assert [(row.kind, row.number, row.net, row.due) for row in april] == [
        ("invoice", "2026-12", D("20.00"), date(2026, 5, 1)), ("payment", "2026-12", D("12.50"), None),
    ]  # fmt: skip
    # Both ends are inside; what is not of the time stays out.
    assert [row.kind for row in rows_of(books, date(2026, 3, 12), date(2026, 3, 20))] == ["bill", "invoice"]


def test_the_csv_is_exact_and_no_text_becomes_a_formula(books):
    rows = rows_of(books, date(2026, 3, 1), date(2026, 3, 31))
    head, *cells = csv.reader(io.StringIO(postings_csv(rows)))
    assert head == [
        "day",
        "kind",
        "number",
        "job",
        "partner",
        "text",
        "net",
        "tax",
        "total",
        "currency",
        "due",
    ]
    assert cells[2][4:7] == ["'+Dipper", "galvanising", "35.10"]
    assert cells[4] == [
        "2026-03-31", "credit", "2026-11", "J-0001", "Orla Fennimore", "'=2+3", "-4.05", "", "", "EUR", "",
    ]  # fmt: skip
    assert str(postings_json(rows)[4]["net"]) == "-4.05"


def test_days_in_the_wrong_order_are_refused(books):
    with pytest.raises(InputError, match="before the first day"):
        rows_of(books, date(2026, 3, 2), date(2026, 3, 1))
