"""Tables of the rack.

Every bar and offcut in the shop, what happened to each, and the bars that jobs used.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.units import Length
from shopquote.records.base import Base, Money, above_zero, at_least, one_of
from shopquote.records.jobs import Job
from shopquote.records.orders import ReceivedBar

RACK_STATES = ("free", "promised", "used", "scrapped")
BAR_KINDS = ("work", "rework", "scrap")


class RackPiece(Base):
    """One bar or offcut.

    `cost` is the cost of its present length; `parent_id` the piece that it was cut from.

    `promised_job_id` is set if and only if its state is "promised".
    """

    __tablename__ = "rack_pieces"
    __table_args__ = (
        Index("ix_rack_pieces_state_section_key_grade_length", "state", "section_key", "grade", "length"),
        Index("ix_rack_pieces_heat", "heat"),
        one_of("state", RACK_STATES),
        above_zero("length"),
        at_least("cost", 0),
        CheckConstraint("(state = 'promised') = (promised_job_id IS NOT NULL)", name="promised_to_a_job"),
    )

    code: Mapped[str] = mapped_column(unique=True)
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    length: Mapped[Length]
    length_text: Mapped[str] = mapped_column(default="")
    heat: Mapped[str] = mapped_column(default="")
    place: Mapped[str] = mapped_column(default="")
    cost: Mapped[Money] = mapped_column(default=Decimal(0))
    state: Mapped[str] = mapped_column(default="free")
    promised_job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"), index=True)
    used_job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"), index=True)
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("rack_pieces.id"), index=True)
    received_bar_id: Mapped[int | None] = mapped_column(ForeignKey("received_bars.id"), index=True)
    made_on: Mapped[date]
    note: Mapped[str] = mapped_column(default="")
    version: Mapped[int] = mapped_column(default=0)

    shares: Mapped[list["RackPieceJob"]] = relationship(
        back_populates="piece", cascade="all, delete-orphan", order_by="RackPieceJob.id"
    )
    promised_job: Mapped[Job | None] = relationship(foreign_keys=[promised_job_id])
    used_job: Mapped[Job | None] = relationship(foreign_keys=[used_job_id])
    parent: Mapped["RackPiece | None"] = relationship(remote_side="RackPiece.id")
    received_bar: Mapped[ReceivedBar | None] = relationship()


class RackPieceJob(Base):
    """A job's share in a promised or used piece from which parts of several jobs are cut.

    The job that the piece is promised to has a row too; `length` is the total length of its parts in the
    piece.
    """

    __tablename__ = "rack_piece_jobs"
    __table_args__ = (UniqueConstraint("rack_piece_id", "job_id"), at_least("length", 0))

    rack_piece_id: Mapped[int] = mapped_column(ForeignKey("rack_pieces.id", ondelete="CASCADE"))
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    length: Mapped[Length]
    # Parts to be cut from the piece for the job: [[mark, length in nm, count], ...].
    pieces: Mapped[list[Any]] = mapped_column(JSON, default=list)

    piece: Mapped[RackPiece] = relationship(back_populates="shares")
    job: Mapped[Job] = relationship()


class RackMove(Base):
    """An event in the life of a piece, such as a promise or a cut.

    `length` is how much of it was concerned.
    """

    __tablename__ = "rack_moves"
    __table_args__ = (Index("ix_rack_moves_piece_id", "piece_id"), Index("ix_rack_moves_job_id", "job_id"))

    piece_id: Mapped[int] = mapped_column(ForeignKey("rack_pieces.id"))
    kind: Mapped[str]
    job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"))
    at: Mapped[datetime]
    length: Mapped[Length | None]
    note: Mapped[str] = mapped_column(default="")

    piece: Mapped[RackPiece] = relationship()


class BarUse(Base):
    """Bars used on a job. `returned` is the length that went back to the rack, `credit` its value.

    `delivery` is the part of the cost of typed bars that was charged to bring them, None where nobody said;
    the cost of a rack piece holds its share already.
    """

    __tablename__ = "bar_uses"
    __table_args__ = (
        # Entries that were not read from a sheet have no source, and NULLs never clash with each other.
        UniqueConstraint("job_id", "source"),
        one_of("kind", BAR_KINDS),
        above_zero("length"),
        at_least("count", 1),
    )

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    length: Mapped[Length]
    length_text: Mapped[str] = mapped_column(default="")
    count: Mapped[int]
    cost: Mapped[Money]
    delivery: Mapped[Money | None]
    used_on: Mapped[date]
    rack_piece_id: Mapped[int | None] = mapped_column(ForeignKey("rack_pieces.id"), index=True)
    returned: Mapped[Length | None]
    credit: Mapped[Money] = mapped_column(default=Decimal(0))
    kind: Mapped[str] = mapped_column(default="work")
    reason: Mapped[str] = mapped_column(default="")
    source: Mapped[str | None]

    job: Mapped[Job] = relationship()
    rack_piece: Mapped[RackPiece | None] = relationship()
