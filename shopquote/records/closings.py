"""Closings of jobs: the figures as they stood, kept even when a job is reopened."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.records.base import Base, Money, Number, Sealed
from shopquote.records.jobs import Job

# Separates the assumptions of a closing; they hold names of bars, which have no semicolon.
ASSUMED_BETWEEN = "; "


class Closing(Sealed, Base):
    """One closing of a job.

    `price` is invoices less credits, or the quoted price where nothing was invoiced.
    """

    __tablename__ = "closings"
    __table_args__ = (Index("ix_closings_job_id", "job_id"), Index("ix_closings_closed_on", "closed_on"))

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    closed_on: Mapped[date]
    closed_at: Mapped[datetime | None]
    reopened_on: Mapped[date | None]
    reason: Mapped[str] = mapped_column(default="")
    price: Mapped[Money]
    cost_estimated: Mapped[Money]
    cost_actual: Mapped[Money]
    minutes_estimated: Mapped[Number] = mapped_column(default=Decimal(0))
    minutes_actual: Mapped[Number] = mapped_column(default=Decimal(0))
    snapshot: Mapped[str] = mapped_column(default="")
    # Figures taken from the quote because nothing was logged, as words joined by `ASSUMED_BETWEEN`.
    assumed: Mapped[str] = mapped_column(default="")

    job: Mapped[Job] = relationship()
    lines: Mapped[list["ClosingLine"]] = relationship(cascade="all, delete-orphan", order_by="ClosingLine.id")


class ClosingLine(Base):
    """One category or operation of a closing, with the four parts of its variance.

    `part_quantity` + `part_time` + `part_rate` + `part_price` = `actual` - `estimated`. `operation` is "" for
    a whole category.
    """

    __tablename__ = "closing_lines"
    __table_args__ = (
        # A covering index: the sums of a review are read from it without touching the table.
        Index(
            "ix_closing_lines_sums", "closing_id", "category", "estimated", "actual", "minutes_estimated",
            "minutes_actual",
        ),
    )  # fmt: skip

    closing_id: Mapped[int] = mapped_column(ForeignKey("closings.id", ondelete="CASCADE"))
    category: Mapped[str]
    operation: Mapped[str] = mapped_column(default="")
    estimated: Mapped[Money]
    actual: Mapped[Money]
    minutes_estimated: Mapped[Number] = mapped_column(default=Decimal(0))
    minutes_actual: Mapped[Number] = mapped_column(default=Decimal(0))
    part_quantity: Mapped[Money] = mapped_column(default=Decimal(0))
    part_time: Mapped[Money] = mapped_column(default=Decimal(0))
    part_rate: Mapped[Money] = mapped_column(default=Decimal(0))
    part_price: Mapped[Money] = mapped_column(default=Decimal(0))
