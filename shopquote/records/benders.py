"""The shop's benders, their formers, and the bend tests that it made."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.units import Length
from shopquote.records.base import Base, Number, above_zero


class BenderRow(Base):
    """A bender. `details` holds the fields of `calc.bar.benders.Bender` that are not formers, as text."""

    __tablename__ = "benders"

    name: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str] = mapped_column(default="")
    details: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    note: Mapped[str] = mapped_column(default="")

    formers: Mapped[list["FormerRow"]] = relationship(
        back_populates="bender", cascade="all, delete-orphan", order_by="FormerRow.radius"
    )


class FormerRow(Base):
    """A former of one bender; `details` holds its other fields as text."""

    __tablename__ = "formers"
    __table_args__ = (UniqueConstraint("bender_id", "radius"), above_zero("radius"))

    bender_id: Mapped[int] = mapped_column(ForeignKey("benders.id", ondelete="CASCADE"))
    radius: Mapped[Length]
    details: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)

    bender: Mapped[BenderRow] = relationship(back_populates="formers")


class BendTest(Base):
    """A test bend as measured: what a bar of known length became when it was bent.

    `pulled_to` is the angle under load, `angle` what was left after release.
    """

    __tablename__ = "bend_tests"
    __table_args__ = (Index("ix_bend_tests_section_key_grade", "section_key", "grade"),)

    made_on: Mapped[date]
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    bend_axis: Mapped[str] = mapped_column(default="easy")
    bender: Mapped[str] = mapped_column(default="")
    former_radius: Mapped[Length]
    pulled_to: Mapped[Number | None]
    angle: Mapped[Number]
    inside_radius: Mapped[Length | None]
    flat_length: Mapped[Length | None]
    leg_a: Mapped[Length | None]
    leg_b: Mapped[Length | None]
    details: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    note: Mapped[str] = mapped_column(default="")
