"""The log of a job, entry by entry, with entries that were taken back."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.units import Unit, show_length
from shopquote.reading.kinds.lengths import bar_as_typed
from shopquote.records.jobs import Job
from shopquote.records.logs import (
    BoughtUse,
    Invoice,
    JobDelivery,
    OutsideBill,
    Payment,
    ScrapNote,
    StruckEntry,
    TimeEntry,
)
from shopquote.records.rack import BarUse
from shopquote.services.floor.delivery_note import DELIVERY, deliveries_of, what_went
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import shop_currency, shop_unit

PAYMENT, BARS = "payment", "bars"
# Tables with a column of the job's id; a payment belongs to a job through its invoice.
Entry = TypeVar("Entry", TimeEntry, BarUse, BoughtUse, ScrapNote, OutsideBill, Invoice)


@dataclass(frozen=True, slots=True)
class LogRow:
    """One entry of a job's log: day, what it is, minutes and cost; credits are negative.

    `number` is its place in the list, by which it is taken back; None if that was done already.
    """

    day: date
    kind: str
    what: str
    person: str = ""
    minutes: Decimal | None = None
    cost: Decimal = Decimal(0)
    note: str = ""
    table: type[Any] = StruckEntry
    id: int = 0
    number: int | None = None


@dataclass(frozen=True, slots=True)
class JobLog:
    """All entries of a job, by day."""

    job: str
    state: str
    currency: str
    rows: tuple[LogRow, ...]


def logged_so_far(session: Session, number: str) -> JobLog:
    """All entries of a job.

    Raises:
        NotFoundError: no such job.
    """
    job = find_job(session, number)
    rows = [*_time_rows(session, job), *_thing_rows(session, job), *_paper_rows(session, job)]
    # Stable sort: entries of one day keep the order above, so that numbers do not change between two calls.
    rows.sort(key=lambda row: row.day)
    rows = [replace(row, number=place) for place, row in enumerate(rows, start=1)]
    # After the numbering: what was taken back has no number by which it could be taken back again.
    rows += _struck_rows(session, job)
    return JobLog(job.number, job.state, shop_currency(session), tuple(rows))


def _of_job(session: Session, table: type[Entry], job: Job) -> Iterator[Entry]:
    """A job's rows of one table, in the order entered."""
    return iter(session.scalars(select(table).where(table.job_id == job.id).order_by(table.id)))


def _time_rows(session: Session, job: Job) -> Iterator[LogRow]:
    for entry in _of_job(session, TimeEntry, job):
        running = entry.started_at is not None and entry.ended_at is None
        yield LogRow(
            entry.worked_on, "rework" if entry.kind == "rework" else "minutes", entry.operation,
            person=entry.person, minutes=None if running else entry.minutes, cost=entry.cost,
            note="timer runs" if running else entry.reason, table=TimeEntry, id=entry.id,
        )  # fmt: skip


def _thing_rows(session: Session, job: Job) -> Iterator[LogRow]:
    """Bars, bought items, subcontract work and scrapped pieces."""
    unit, currency = shop_unit(session), shop_currency(session)
    for use in _of_job(session, BarUse, job):
        cost = use.cost - use.credit
        brought = (
            f"with {round_money(use.delivery, currency)} for delivery" if use.delivery is not None else ""
        )
        note = ", ".join(filter(None, (brought, use.reason)))
        what = bar_words(use, unit)
        yield LogRow(use.used_on, BARS, what, cost=cost, note=note, table=BarUse, id=use.id)
    for item in _of_job(session, BoughtUse, job):
        what = f"{item.count.normalize():f} x {item.name}"
        yield LogRow(item.used_on, "bought", what, cost=item.cost, table=BoughtUse, id=item.id)
    for bill in _of_job(session, OutsideBill, job):
        yield LogRow(
            bill.billed_on, "outside", bill.name, cost=bill.amount, note=bill.supplier, table=OutsideBill,
            id=bill.id,
        )  # fmt: skip
    for scrap in _of_job(session, ScrapNote, job):
        yield LogRow(
            scrap.scrapped_on, "scrap", f"{scrap.count} x {scrap.mark}", person=scrap.person,
            note=scrap.reason, table=ScrapNote, id=scrap.id,
        )  # fmt: skip


def bar_words(use: BarUse, unit: Unit) -> str:
    """Bars used, in words; a job's part of a shared bar was never typed, so its length is rounded."""
    typed, shown = use.length_text, show_length(use.length, unit)
    length = bar_as_typed(typed, use.length, unit) if typed else shown
    return f"{use.count} x {use.section_text} {use.grade}, {length}"


def _paper_rows(session: Session, job: Job) -> Iterator[LogRow]:
    """Deliveries, invoices, credits and payments."""
    for one in deliveries_of(session, job):
        yield LogRow(one.delivered_on, DELIVERY, what_went(one), table=JobDelivery, id=one.id)
    for paper in _of_job(session, Invoice, job):
        # Stored above zero for both kinds, as printed on the paper.
        amount = -paper.amount if paper.kind == "credit" else paper.amount
        due = f"due {paper.due_on}" if paper.due_on else ""
        lowers = f"of invoice {paper.lowers.number}" if paper.lowers is not None else ""
        words = ", ".join(filter(None, (due, lowers, paper.note)))
        yield LogRow(
            paper.invoiced_on, paper.kind, paper.number, cost=amount, note=words, table=Invoice, id=paper.id
        )
    for paid in session.scalars(
        select(Payment).join(Payment.invoice).where(Invoice.job_id == job.id).order_by(Payment.id)
    ):
        yield LogRow(
            paid.paid_on, PAYMENT, paid.invoice.number, cost=paid.amount, note=paid.note, table=Payment,
            id=paid.id,
        )  # fmt: skip


def _struck_rows(session: Session, job: Job) -> list[LogRow]:
    """Entries that were taken back; they count for nothing and stay readable."""
    query = select(StruckEntry).where(StruckEntry.job_id == job.id).order_by(StruckEntry.id)
    return [
        LogRow(
            struck.day, f"{struck.kind}, taken back", struck.what, struck.person,
            struck.minutes and struck.minutes.quantize(Decimal("0.01")), struck.cost,
            f"{struck.struck_at.date()}: {struck.reason}",
        )
        for struck in session.scalars(query)
    ]  # fmt: skip
