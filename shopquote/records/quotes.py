"""Tables of issued quotes: snapshots of what was offered, line by line, which are never recalculated."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.pricing.priced_quote import HOWS
from shopquote.calc.units import Length
from shopquote.records.base import Base, Money, Number, Sealed, at_least, one_of
from shopquote.records.jobs import Job, JobRevision

QUOTE_STATES = ("sent", "accepted", "declined", "expired", "replaced")
MINUTE_KINDS = ("set-up", "run")


class Quote(Sealed, Base):
    """One revision of a job's quote. `snapshot` is JSON text with all that is needed to print it again."""

    __tablename__ = "quotes"
    __table_args__ = (
        UniqueConstraint("job_id", "revision"),
        UniqueConstraint("number", "revision"),
        Index("ix_quotes_state_issued_on", "state", "issued_on"),
        # Finds the quote of each job that a review counts, by its state and newest revision.
        Index("ix_quotes_job_id_state_revision", "job_id", "state", "revision"),
        one_of("state", QUOTE_STATES),
        CheckConstraint("net + tax = total", name="total_adds_up"),
        at_least("revision", 1),
    )

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id"), index=True)
    number: Mapped[str]
    revision: Mapped[int]
    state: Mapped[str] = mapped_column(default="sent")
    issued_on: Mapped[date]
    issued_at: Mapped[datetime | None]
    valid_until: Mapped[date]
    decided_on: Mapped[date | None]
    reason: Mapped[str] = mapped_column(default="")
    currency: Mapped[str]
    net: Mapped[Money]
    tax: Mapped[Money]
    total: Mapped[Money]
    cost: Mapped[Money]
    # Of its cost of material what is for deliveries: many jobs are added up without their texts.
    deliveries: Mapped[Money] = mapped_column(server_default="0")
    margin_pct: Mapped[Number]
    # Standard deviation of the cost in per cent; None for quotes from before it was calculated.
    spread_pct: Mapped[Number | None]
    snapshot: Mapped[str]

    job: Mapped[Job] = relationship()
    job_revision: Mapped[JobRevision] = relationship()
    lines: Mapped[list["QuoteLineRow"]] = relationship(
        cascade="all, delete-orphan", order_by="QuoteLineRow.position"
    )
    breaks: Mapped[list["QuoteBreak"]] = relationship(
        cascade="all, delete-orphan", order_by="QuoteBreak.sets"
    )
    minutes: Mapped[list["QuoteMinutes"]] = relationship(
        cascade="all, delete-orphan", order_by="QuoteMinutes.id"
    )
    operations: Mapped[list["QuoteOperation"]] = relationship(
        cascade="all, delete-orphan", order_by="QuoteOperation.id"
    )
    costs: Mapped[list["QuoteCost"]] = relationship(cascade="all, delete-orphan", order_by="QuoteCost.id")
    materials: Mapped[list["QuoteMaterial"]] = relationship(
        cascade="all, delete-orphan", order_by="QuoteMaterial.id"
    )


class QuoteLineRow(Base):
    """A printed line; `amount` is rounded to the currency's digits."""

    __tablename__ = "quote_lines"
    __table_args__ = (UniqueConstraint("quote_id", "position"),)

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    position: Mapped[int]
    text: Mapped[str]
    quantity: Mapped[Number]
    unit_price: Mapped[Money]
    amount: Mapped[Money]
    reason: Mapped[str] = mapped_column(default="")


class QuoteBreak(Base):
    """The price at another number of sets."""

    __tablename__ = "quote_breaks"
    __table_args__ = (UniqueConstraint("quote_id", "sets"), at_least("sets", 1))

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    sets: Mapped[int]
    unit_price: Mapped[Money]
    total: Mapped[Money]


class QuoteMinutes(Base):
    """Estimated minutes of one labour line: `quantity` units of a standard, at a rate per hour.

    minutes = quantity x value x factor, or quantity / value x factor where `how` is "over".
    """

    __tablename__ = "quote_minutes"
    __table_args__ = (
        # A covering index: the sums of a review are read from it without touching the table.
        Index("ix_quote_minutes_sums", "quote_id", "operation", "minutes", "cost"),
        Index("ix_quote_minutes_standard", "standard"),
        one_of("kind", MINUTE_KINDS),
        one_of("how", HOWS),
    )

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    operation: Mapped[str]
    standard: Mapped[str] = mapped_column(default="")
    kind: Mapped[str] = mapped_column(default="run")
    quantity: Mapped[Number] = mapped_column(default=Decimal(0))
    how: Mapped[str] = mapped_column(default="times")
    value: Mapped[Number] = mapped_column(default=Decimal(0))
    factor: Mapped[Number] = mapped_column(default=Decimal(1))
    minutes: Mapped[Number]
    rate: Mapped[Money] = mapped_column(default=Decimal(0))
    cost: Mapped[Money] = mapped_column(default=Decimal(0))


class QuoteOperation(Base):
    """The sums of a quote's minutes of one operation and of their cost.

    A review of many jobs reads these instead of `QuoteMinutes`; `db check` compares the two.
    """

    __tablename__ = "quote_operations"
    __table_args__ = (UniqueConstraint("quote_id", "operation"),)

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    operation: Mapped[str]
    minutes: Mapped[Number]
    cost: Mapped[Money] = mapped_column(default=Decimal(0))


class QuoteCost(Base):
    """Estimated cost of one category; the categories add up to the quote's cost."""

    __tablename__ = "quote_costs"
    __table_args__ = (UniqueConstraint("quote_id", "category"),)

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    category: Mapped[str]
    amount: Mapped[Money]


class QuoteMaterial(Base):
    """Bars of one section and grade in the estimate.

    `bought` is their total length, `net` that of the pieces.
    """

    __tablename__ = "quote_materials"
    __table_args__ = (Index("ix_quote_materials_quote_id", "quote_id"),)

    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id", ondelete="CASCADE"))
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    bought: Mapped[Length]
    net: Mapped[Length]
    bars: Mapped[int] = mapped_column(default=0)
    mass_kg: Mapped[Number] = mapped_column(default=Decimal(0))
    cost: Mapped[Money]
