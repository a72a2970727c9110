"""What a job really took: minutes, bought items, bills, scrap, and what was invoiced; its bars: `rack`."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.records.base import Base, Money, Number, above_zero, at_least, one_of
from shopquote.records.jobs import Job
from shopquote.records.people import Supplier

WORK_KINDS = ("work", "rework")
INVOICE_KINDS = ("invoice", "credit")


class TimeEntry(Base):
    """Minutes of one person at one operation on one day; `minutes` are zero while the timer runs.

    `rate` is money per hour on that day and `cost` was rounded when it was logged.
    `source` names the sheet's row that it came from, so that a row counts once.
    """

    __tablename__ = "time_entries"
    __table_args__ = (
        UniqueConstraint("job_id", "source"),
        # Covers the sums of one job and of `db check`, so that they never touch the table itself.
        Index("ix_time_entries_sums", "job_id", "operation", "kind", "minutes", "cost"),
        Index("ix_time_entries_worked_on", "worked_on"),
        one_of("kind", WORK_KINDS),
        at_least("minutes", 0),
    )

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    operation: Mapped[str]
    minutes: Mapped[Number]
    worked_on: Mapped[date]
    person: Mapped[str] = mapped_column(default="")
    kind: Mapped[str] = mapped_column(default="work")
    reason: Mapped[str] = mapped_column(default="")
    started_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    rate: Mapped[Money] = mapped_column(default=Decimal(0))
    cost: Mapped[Money] = mapped_column(default=Decimal(0))
    source: Mapped[str | None]
    note: Mapped[str] = mapped_column(default="")

    job: Mapped[Job] = relationship()


class MinuteSum(Base):
    """What a job's time entries of one operation and kind add up to, kept by whoever writes an entry.

    A review of many jobs reads these instead of the entries; `db check` compares them.
    """

    __tablename__ = "minute_sums"
    __table_args__ = (UniqueConstraint("job_id", "operation", "kind"), one_of("kind", WORK_KINDS))

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    operation: Mapped[str]
    kind: Mapped[str]
    minutes: Mapped[Number]
    cost: Mapped[Money]

    job: Mapped[Job] = relationship()


class BoughtUse(Base):
    """Bought items used on a job; `cost` is the total of the row."""

    __tablename__ = "bought_uses"
    __table_args__ = (UniqueConstraint("job_id", "source"),)

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    name: Mapped[str]
    count: Mapped[Number] = mapped_column(default=Decimal(1))
    cost: Mapped[Money]
    used_on: Mapped[date]
    source: Mapped[str | None]

    job: Mapped[Job] = relationship()


class OutsideBill(Base):
    """What somebody else charged for work on a job."""

    __tablename__ = "outside_bills"
    __table_args__ = (UniqueConstraint("job_id", "source"),)

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    name: Mapped[str]
    supplier: Mapped[str] = mapped_column(default="")
    supplier_id: Mapped[int | None] = mapped_column(ForeignKey("suppliers.id"))
    amount: Mapped[Money]
    billed_on: Mapped[date]
    note: Mapped[str] = mapped_column(default="")
    source: Mapped[str | None]

    job: Mapped[Job] = relationship()
    billed_by: Mapped[Supplier | None] = relationship()


class Invoice(Base):
    """An invoice or a credit to the customer; both amounts are positive."""

    __tablename__ = "invoices"
    __table_args__ = (
        UniqueConstraint("number", "kind"),
        one_of("kind", INVOICE_KINDS),
        at_least("amount", 0),
    )

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    number: Mapped[str]
    invoiced_on: Mapped[date]
    # Kept, for the shop's days of payment may change later; None: nobody said when it is to be paid.
    due_on: Mapped[date | None]
    amount: Mapped[Money]
    kind: Mapped[str] = mapped_column(default="invoice")
    note: Mapped[str] = mapped_column(default="")
    # Of a credit, the invoice that it lowers; None where nobody said which.
    lowers_id: Mapped[int | None] = mapped_column(ForeignKey("invoices.id"), index=True)

    job: Mapped[Job] = relationship()
    lowers: Mapped["Invoice | None"] = relationship(remote_side="Invoice.id")


class Payment(Base):
    """Money that came in for an invoice; before tax, as the invoice's own amount."""

    __tablename__ = "payments"
    __table_args__ = (above_zero("amount"),)

    invoice_id: Mapped[int] = mapped_column(ForeignKey("invoices.id"), index=True)
    paid_on: Mapped[date]
    amount: Mapped[Money]
    note: Mapped[str] = mapped_column(default="")

    invoice: Mapped[Invoice] = relationship()


class ScrapNote(Base):
    """Pieces of one mark that were scrapped, and why."""

    __tablename__ = "scrap_notes"
    __table_args__ = (UniqueConstraint("job_id", "source"), at_least("count", 1))

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    mark: Mapped[str]
    count: Mapped[int]
    scrapped_on: Mapped[date]
    reason: Mapped[str] = mapped_column(default="")
    person: Mapped[str] = mapped_column(default="")
    source: Mapped[str | None]

    job: Mapped[Job] = relationship()


class JobDelivery(Base):
    """One delivery of a job to its customer, numbered in the job as on its note."""

    __tablename__ = "job_deliveries"
    __table_args__ = (UniqueConstraint("job_id", "number"), at_least("number", 1))

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    number: Mapped[int]
    delivered_on: Mapped[date]

    job: Mapped[Job] = relationship()
    lines: Mapped[list["JobDeliveryLine"]] = relationship(
        cascade="all, delete-orphan", order_by="JobDeliveryLine.id", back_populates="delivery"
    )


class JobDeliveryLine(Base):
    """Pieces of a mark that went out, or of a bought item, which has no mark."""

    __tablename__ = "job_delivery_lines"
    __table_args__ = (at_least("count", 1),)

    delivery_id: Mapped[int] = mapped_column(ForeignKey("job_deliveries.id"), index=True)
    mark: Mapped[str]
    what: Mapped[str]
    count: Mapped[int]

    delivery: Mapped[JobDelivery] = relationship(back_populates="lines")


class StruckEntry(Base):
    """An entry that was taken back: what it said, in words and figures, and why it does not count.

    `kind` and `what` as the list of the job's entries showed them; `order_id` is set for a receipt.
    """

    __tablename__ = "struck_entries"

    job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"), index=True)
    order_id: Mapped[int | None] = mapped_column(ForeignKey("orders.id"), index=True)
    day: Mapped[date]
    kind: Mapped[str]
    what: Mapped[str]
    person: Mapped[str] = mapped_column(default="")
    minutes: Mapped[Number | None]
    cost: Mapped[Money] = mapped_column(default=Decimal(0))
    struck_at: Mapped[datetime]
    reason: Mapped[str]
