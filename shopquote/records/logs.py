"""Tables of what a job really took: minutes, bought items, bills, scrap, invoices, deliveries.

Bars used are in `rack`. `source`, where a table has it, names the row of the sheet that an entry was read
from, unique within a job, so that a sheet read twice counts once.
"""

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
    """Minutes of one person at one operation on one day; 0 while the timer still runs.

    `rate` is the rate per hour on that day; `cost` was rounded when the entry was logged.
    """

    __tablename__ = "time_entries"
    __table_args__ = (
        UniqueConstraint("job_id", "source"),
        # A covering index: the sums of one job and of `db check` are read from it without touching the table.
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
    """The sums of a job's time entries of one operation and kind, updated with every entry.

    A review of many jobs reads these instead of the entries; `db check` compares the two.
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
    """A bill for subcontract work on a job."""

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
    # Stored, since the shop's terms of payment may change later; None: no due date was given.
    due_on: Mapped[date | None]
    amount: Mapped[Money]
    kind: Mapped[str] = mapped_column(default="invoice")
    note: Mapped[str] = mapped_column(default="")
    # The invoice that a credit reduces; None where it was not said.
    lowers_id: Mapped[int | None] = mapped_column(ForeignKey("invoices.id"), index=True)

    job: Mapped[Job] = relationship()
    lowers: Mapped["Invoice | None"] = relationship(remote_side="Invoice.id")


class Payment(Base):
    """Money received for an invoice; without tax, as the invoice's amount is."""

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
    """One delivery of a job to its customer, numbered within the job as on its delivery note."""

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
    """Pieces of a part, or of a bought item, which has no mark, in a delivery; `what` is its name."""

    __tablename__ = "job_delivery_lines"
    __table_args__ = (at_least("count", 1),)

    delivery_id: Mapped[int] = mapped_column(ForeignKey("job_deliveries.id"), index=True)
    mark: Mapped[str]
    what: Mapped[str]
    count: Mapped[int]

    delivery: Mapped[JobDelivery] = relationship(back_populates="lines")


class StruckEntry(Base):
    """An entry that was struck out: what it said, and why it no longer counts.

    `kind` and `what` are as the list of the job's entries showed them; `order_id` is set for a receipt.
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
