"""What is logged on a job, entry by entry, and what was taken back of it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import show_length
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
from shopquote.services.floor.log import shop_currency
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import shop_unit

PAYMENT = "payment"


@dataclass(frozen=True, slots=True)
class LogRow:
    """One thing on file for a job: day, what it is, minutes and cost; a credit is negative.

    `number` is its place in the list, by which it is taken back; None where it was taken back already.
    """

    day: date
    kind: str
    what: str
    person: str
    minutes: Decimal | None
    cost: Decimal
    note: str
    table: type[Any] = StruckEntry
    id: int = 0
    number: int | None = None


@dataclass(frozen=True, slots=True)
class JobLog:
    """All that is logged on a job, by day."""

    job: str
    state: str
    currency: str
    rows: tuple[LogRow, ...]


def logged_so_far(session: Session, number: str) -> JobLog:
    """All that is logged on a job.

    Raises:
        NotFoundError: no such job.
    """
    job = find_job(session, number)
    rows = [*_time_rows(session, job), *_thing_rows(session, job)]
    # By day and, within it, as entered: the sort keeps the order of equal days, so numbers stay.
    rows.sort(key=lambda row: row.day)
    rows = [replace(row, number=place) for place, row in enumerate(rows, start=1)]
    rows += _struck_rows(session, job)
    return JobLog(job.number, job.state, shop_currency(session), tuple(rows))


def _time_rows(session: Session, job: Job) -> list[LogRow]:
    query = select(TimeEntry).where(TimeEntry.job_id == job.id).order_by(TimeEntry.id)
    rows = []
    for entry in session.scalars(query):
        running = entry.started_at is not None and entry.ended_at is None
        note = "timer runs" if running else entry.reason
        rows.append(
            LogRow(
                entry.worked_on,
                "rework" if entry.kind == "rework" else "minutes",
                entry.operation,
                entry.person,
                None if running else entry.minutes,
                entry.cost,
                note,
                TimeEntry,
                entry.id,
            )
        )
    return rows


def _thing_rows(session: Session, job: Job) -> list[LogRow]:
    rows = []
    unit = shop_unit(session)
    for use in session.scalars(select(BarUse).where(BarUse.job_id == job.id).order_by(BarUse.id)):
        # A job's part of a shared bar was never typed: it is shown as on sheets, not to the nanometre.
        length = use.length_text or show_length(use.length, unit)
        what = f"{use.count} x {use.section_text} {use.grade}, {length}"
        rows.append(
            LogRow(use.used_on, "bars", what, "", None, use.cost - use.credit, use.reason, BarUse, use.id)
        )
    for item in session.scalars(select(BoughtUse).where(BoughtUse.job_id == job.id).order_by(BoughtUse.id)):
        what = f"{item.count.normalize():f} x {item.name}"
        rows.append(LogRow(item.used_on, "bought", what, "", None, item.cost, "", BoughtUse, item.id))
    for bill in session.scalars(
        select(OutsideBill).where(OutsideBill.job_id == job.id).order_by(OutsideBill.id)
    ):
        rows.append(
            LogRow(
                bill.billed_on,
                "outside",
                bill.name,
                "",
                None,
                bill.amount,
                bill.supplier,
                OutsideBill,
                bill.id,
            )
        )
    for note in session.scalars(select(ScrapNote).where(ScrapNote.job_id == job.id).order_by(ScrapNote.id)):
        what = f"{note.count} x {note.mark}"
        rows.append(
            LogRow(
                note.scrapped_on,
                "scrap",
                what,
                note.person,
                None,
                Decimal(0),
                note.reason,
                ScrapNote,
                note.id,
            )
        )
    for one in deliveries_of(session, job):
        rows.append(
            LogRow(one.delivered_on, DELIVERY, what_went(one), "", None, Decimal(0), "", JobDelivery, one.id)
        )
    for paper in session.scalars(select(Invoice).where(Invoice.job_id == job.id).order_by(Invoice.id)):
        # Stored above zero either way, as it stands on the paper.
        amount = -paper.amount if paper.kind == "credit" else paper.amount
        due = f"due {paper.due_on}" if paper.due_on else ""
        lowers = f"of invoice {paper.lowers.number}" if paper.lowers is not None else ""
        words = ", ".join(filter(None, (due, lowers, paper.note)))
        rows.append(
            LogRow(paper.invoiced_on, paper.kind, paper.number, "", None, amount, words, Invoice, paper.id)
        )
    for paid in session.scalars(
        select(Payment).join(Payment.invoice).where(Invoice.job_id == job.id).order_by(Payment.id)
    ):
        rows.append(
            LogRow(
                paid.paid_on, PAYMENT, paid.invoice.number, "", None, paid.amount, paid.note, Payment, paid.id
            )
        )
    return rows


def _struck_rows(session: Session, job: Job) -> list[LogRow]:
    """What was taken back: it counts for nothing, and stays readable."""
    query = select(StruckEntry).where(StruckEntry.job_id == job.id).order_by(StruckEntry.id)
    return [
        LogRow(
            struck.day, f"{struck.kind}, taken back", struck.what, struck.person,
            struck.minutes and struck.minutes.quantize(Decimal("0.01")), struck.cost,
            f"{struck.struck_at.date()}: {struck.reason}",
        )
        for struck in session.scalars(query)
    ]  # fmt: skip
