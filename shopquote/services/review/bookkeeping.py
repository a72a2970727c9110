"""Postings for the bookkeeper: quotes won, invoices, credits, payments, bills and bars received.

Amounts are exact to the cent, as recorded, in the currency of the quote, the order or the shop.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.errors import InputError
from shopquote.records.jobs import Job
from shopquote.records.logs import Invoice, OutsideBill, Payment
from shopquote.records.orders import Order, Receipt
from shopquote.records.quotes import Quote
from shopquote.services.shop.shop_on_file import the_shop


@dataclass(frozen=True, slots=True)
class Posting:
    """One document of the books; `net` is before tax, negative for a credit.

    `tax` and `total` are None if only the net amount is on file. `partner` is the customer or supplier; `job`
    is empty for bars, which may be for several jobs. `due` is an invoice's due day, if stated.
    """

    day: date
    kind: str
    number: str
    job: str
    partner: str
    text: str
    net: Decimal
    tax: Decimal | None
    total: Decimal | None
    currency: str
    due: date | None = None


def postings(session: Session, since: date, until: date) -> list[Posting]:
    """All postings from `since` to `until`, both included, by day; within a day quotes first, bars last.

    Raises:
        InputError: the last day is before the first.
    """
    if until < since:
        raise InputError(f"The last day {until} is before the first day {since}.")
    found = [
        *_quotes_won(session, since, until),
        *_invoices(session, since, until),
        *_payments(session, since, until),
        *_bills(session, since, until),
        *_bars(session, since, until),
    ]
    # Stable: within a day the kinds keep the order above, in which money moves.
    return sorted(found, key=lambda one: one.day)


def _quotes_won(session: Session, since: date, until: date) -> Iterator[Posting]:
    query = (
        select(Quote)
        .where(Quote.state == "accepted", Quote.decided_on.between(since, until))
        .options(joinedload(Quote.job).joinedload(Job.customer), joinedload(Quote.job_revision))
        .order_by(Quote.decided_on, Quote.id)
    )
    for quote in session.scalars(query):
        net, tax, total = (round_money(sum_, quote.currency) for sum_ in (quote.net, quote.tax, quote.total))
        yield Posting(
            quote.decided_on or quote.issued_on, "quote won", f"{quote.number} r{quote.revision}",
            quote.job.number, quote.job.customer.name, quote.job_revision.title, net, tax, total,
            quote.currency,
        )  # fmt: skip


def _invoices(session: Session, since: date, until: date) -> Iterator[Posting]:
    currency = the_shop(session).currency
    query = (
        select(Invoice)
        .where(Invoice.invoiced_on.between(since, until))
        .options(joinedload(Invoice.job).joinedload(Job.customer))
        .order_by(Invoice.invoiced_on, Invoice.id)
    )
    for paper in session.scalars(query):
        amount = round_money(paper.amount, currency)
        yield Posting(
            paper.invoiced_on, paper.kind, paper.number, paper.job.number, paper.job.customer.name,
            paper.note, -amount if paper.kind == "credit" else amount, None, None, currency,
            paper.due_on,
        )  # fmt: skip


def _payments(session: Session, since: date, until: date) -> Iterator[Posting]:
    currency = the_shop(session).currency
    query = (
        select(Payment)
        .where(Payment.paid_on.between(since, until))
        .options(joinedload(Payment.invoice).joinedload(Invoice.job).joinedload(Job.customer))
        .order_by(Payment.paid_on, Payment.id)
    )
    for paid in session.scalars(query):
        job = paid.invoice.job
        yield Posting(
            paid.paid_on, "payment", paid.invoice.number, job.number, job.customer.name, paid.note,
            round_money(paid.amount, currency), None, None, currency,
        )  # fmt: skip


def _bills(session: Session, since: date, until: date) -> Iterator[Posting]:
    currency = the_shop(session).currency
    query = (
        select(OutsideBill)
        .where(OutsideBill.billed_on.between(since, until))
        .options(joinedload(OutsideBill.job), joinedload(OutsideBill.billed_by))
        .order_by(OutsideBill.billed_on, OutsideBill.id)
    )
    for bill in session.scalars(query):
        partner = bill.supplier or (bill.billed_by.name if bill.billed_by else "")
        text = ": ".join(filter(None, (bill.name, bill.note)))
        yield Posting(
            bill.billed_on, "bill", "", bill.job.number, partner, text, round_money(bill.amount, currency),
            None, None, currency,
        )  # fmt: skip


def _bars(session: Session, since: date, until: date) -> Iterator[Posting]:
    query = (
        select(Receipt)
        .where(Receipt.received_on.between(since, until))
        .options(joinedload(Receipt.order).joinedload(Order.supplier), selectinload(Receipt.bars))
        .order_by(Receipt.received_on, Receipt.id)
    )
    for receipt in session.scalars(query):
        order = receipt.order
        charged = receipt.charged_total
        if charged is None:  # stored by an older version, which recorded only the bars' prices
            charged = sum((bar.charged * bar.count for bar in receipt.bars), Decimal(0))
        text = ": ".join(filter(None, (receipt.reference, receipt.note)))
        yield Posting(
            receipt.received_on, "bars received", order.number, "", order.supplier.name, text,
            round_money(charged, order.currency), None, None, order.currency,
        )  # fmt: skip
