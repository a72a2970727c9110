"""Tables of supplier orders, requests for prices, receipts and certificates."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.units import Length
from shopquote.records.base import Base, Money, Number, Sealed, above_zero, at_least, one_of
from shopquote.records.jobs import Job
from shopquote.records.materials import PRICE_BASES
from shopquote.records.people import Supplier

ORDER_STATES = ("asked", "placed", "part received", "received", "cancelled", "replaced")
# States of an order whose bars are still to come, of one that is still open, of one whose bars were bought.
ON_ORDER = ("placed", "part received")
OPEN_STATES = ("asked", *ON_ORDER)
BOUGHT_STATES = (*ON_ORDER, "received")
ORDER_KINDS = ("order", "ask")


class Order(Sealed, Base):
    """One revision of an order to one supplier. `snapshot` is JSON text from which it is printed again.

    `note` is for the supplier. `reason`, why it was changed or cancelled, is for the shop alone.
    """

    __tablename__ = "orders"
    __table_args__ = (
        UniqueConstraint("number", "revision"),
        Index("ix_orders_state_placed_on", "state", "placed_on"),
        one_of("state", ORDER_STATES),
        one_of("kind", ORDER_KINDS),
        at_least("revision", 1),
    )

    number: Mapped[str]
    revision: Mapped[int] = mapped_column(default=1)
    replaces_id: Mapped[int | None] = mapped_column(ForeignKey("orders.id"), index=True)
    supplier_id: Mapped[int] = mapped_column(ForeignKey("suppliers.id"), index=True)
    kind: Mapped[str] = mapped_column(default="order")
    state: Mapped[str] = mapped_column(default="placed")
    placed_on: Mapped[date]
    due_on: Mapped[date | None]
    currency: Mapped[str]
    goods: Mapped[Money] = mapped_column(default=Decimal(0))
    delivery: Mapped[Money] = mapped_column(default=Decimal(0))
    total: Mapped[Money] = mapped_column(default=Decimal(0))
    place: Mapped[str] = mapped_column(default="")
    reference: Mapped[str] = mapped_column(default="")
    certificate_kind: Mapped[str] = mapped_column(default="")
    marking: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    reason: Mapped[str] = mapped_column(default="", server_default="")
    snapshot: Mapped[str] = mapped_column(default="")

    supplier: Mapped[Supplier] = relationship()
    lines: Mapped[list["OrderLine"]] = relationship(
        back_populates="order", cascade="all, delete-orphan", order_by="OrderLine.position"
    )
    jobs: Mapped[list["OrderJob"]] = relationship(cascade="all, delete-orphan", order_by="OrderJob.id")

    @property
    def certificate(self) -> str:
        """The EN 10204 type of certificate ordered, such as "3.1", named as in an `OrderDocument`."""
        return self.certificate_kind


class OrderLine(Base):
    """Bars of one section, grade and length; with `cut` the supplier saws them to that length."""

    __tablename__ = "order_lines"
    __table_args__ = (
        UniqueConstraint("order_id", "position"),
        Index("ix_order_lines_section_key_grade", "section_key", "grade"),
        above_zero("length"),
        at_least("count", 1),
        at_least("received", 0),
        at_least("cancelled", 0),
        one_of("basis", PRICE_BASES),
    )

    order_id: Mapped[int] = mapped_column(ForeignKey("orders.id", ondelete="CASCADE"))
    position: Mapped[int]
    stock_item_id: Mapped[int | None] = mapped_column(ForeignKey("stock_items.id", ondelete="SET NULL"))
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    standard: Mapped[str] = mapped_column(default="")
    condition: Mapped[str] = mapped_column(default="")
    length: Mapped[Length]
    length_text: Mapped[str] = mapped_column(default="")
    tolerance: Mapped[str] = mapped_column(default="")
    cut: Mapped[bool] = mapped_column(default=False)
    count: Mapped[int]
    received: Mapped[int] = mapped_column(default=0)
    # Of a part received order, the bars that were cancelled or that its last delivery left out.
    cancelled: Mapped[int] = mapped_column(default=0)
    price: Mapped[Money | None]
    basis: Mapped[str | None]
    unit_price: Mapped[Money | None]
    amount: Mapped[Money | None]
    mass_kg: Mapped[Number | None]
    # For each bar in turn the list of pieces cut from it: [job number, mark, length in nm, count].
    loads: Mapped[list[Any]] = mapped_column(JSON, default=list)

    order: Mapped[Order] = relationship(back_populates="lines")
    jobs: Mapped[list["OrderLineJob"]] = relationship(
        cascade="all, delete-orphan", order_by="OrderLineJob.id"
    )

    @property
    def open(self) -> int:
        """How many bars are still expected."""
        return max(0, self.count - self.received - self.cancelled)

    @property
    def bar(self) -> str:
        """The section as ordered, under the name that lines of an `OrderDocument` have."""
        return self.section_text


class OrderLineJob(Base):
    """How many bars of a line are for a job; 0 where the job only shares bars counted for another.

    `length` is the total length of the job's pieces to be cut from the line.
    """

    __tablename__ = "order_line_jobs"
    __table_args__ = (UniqueConstraint("order_line_id", "job_id"), at_least("count", 0))

    order_line_id: Mapped[int] = mapped_column(ForeignKey("order_lines.id", ondelete="CASCADE"))
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    count: Mapped[int]
    length: Mapped[Length] = mapped_column(default=Length(0))

    job: Mapped[Job] = relationship()


class OrderJob(Base):
    """A job's share of an order's total."""

    __tablename__ = "order_jobs"
    __table_args__ = (UniqueConstraint("order_id", "job_id"),)

    order_id: Mapped[int] = mapped_column(ForeignKey("orders.id", ondelete="CASCADE"))
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    share: Mapped[Money] = mapped_column(default=Decimal(0))

    job: Mapped[Job] = relationship()


class Receipt(Base):
    """One delivery received for an order.

    `reference` is the number of the supplier's delivery note; `last` if it was said that nothing more comes.
    """

    __tablename__ = "receipts"

    order_id: Mapped[int] = mapped_column(ForeignKey("orders.id"), index=True)
    received_on: Mapped[date]
    received_at: Mapped[datetime | None]
    reference: Mapped[str] = mapped_column(default="")
    charged_total: Mapped[Money | None]
    note: Mapped[str] = mapped_column(default="")
    last: Mapped[bool] = mapped_column(default=False)

    order: Mapped[Order] = relationship()
    bars: Mapped[list["ReceivedBar"]] = relationship(
        back_populates="receipt", cascade="all, delete-orphan", order_by="ReceivedBar.id"
    )


class Certificate(Base):
    """A certificate, whose file is kept beside the database under its SHA-256.

    `kind` is its EN 10204 type.
    """

    __tablename__ = "certificates"

    sha256: Mapped[str] = mapped_column(unique=True)
    file_name: Mapped[str]
    kind: Mapped[str] = mapped_column(default="")
    heat: Mapped[str] = mapped_column(default="")
    added_at: Mapped[datetime | None]


class ReceivedBar(Base):
    """Bars of one length and heat that were received; `charged` is the amount charged per bar."""

    __tablename__ = "received_bars"
    __table_args__ = (
        Index("ix_received_bars_heat", "heat"),
        Index("ix_received_bars_receipt_id", "receipt_id"),
        Index("ix_received_bars_order_line_id", "order_line_id"),
        above_zero("length"),
        at_least("count", 1),
    )

    receipt_id: Mapped[int] = mapped_column(ForeignKey("receipts.id", ondelete="CASCADE"))
    order_line_id: Mapped[int | None] = mapped_column(ForeignKey("order_lines.id"))
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    length: Mapped[Length]
    length_text: Mapped[str] = mapped_column(default="")
    count: Mapped[int]
    heat: Mapped[str] = mapped_column(default="")
    certificate_id: Mapped[int | None] = mapped_column(ForeignKey("certificates.id"), index=True)
    charged: Mapped[Money] = mapped_column(default=Decimal(0))

    receipt: Mapped[Receipt] = relationship(back_populates="bars")
    order_line: Mapped[OrderLine | None] = relationship()
    certificate: Mapped[Certificate | None] = relationship()
