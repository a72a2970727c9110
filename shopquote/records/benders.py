"""Tables of the shop's benders, their formers, its neutral-axis rules and its bend tests."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.bar.benders import MARKS_AT, NEUTRAL_AXIS_RULES, WORKS_BY
from shopquote.calc.job import BEND_AXES
from shopquote.calc.units import Length
from shopquote.records.base import Base, Number, above_zero, at_least, one_of


class BenderRow(Base):
    """A bender; the columns are the fields of `calc.bar.benders.Bender`.

    `pins` are diameters in nanometres.
    """

    __tablename__ = "benders"
    __table_args__ = (
        one_of("mark_at", MARKS_AT),
        one_of("works_by", WORKS_BY),
        above_zero("largest_moment_nm"),
        above_zero("opening"),
        above_zero("width"),
        at_least("lever", 0),
    )

    name: Mapped[str] = mapped_column(unique=True)
    largest_moment_nm: Mapped[Number]
    opening: Mapped[Length]
    width: Mapped[Length]
    lever: Mapped[Length]
    smallest_leg: Mapped[Length]
    smallest_between: Mapped[Length]
    largest_angle: Mapped[Number]
    works_by: Mapped[str] = mapped_column(default="draw", server_default="draw")
    mark_at: Mapped[str]
    mark_offset: Mapped[Length]
    clear_radius: Mapped[Length]
    pins: Mapped[list[Any]] = mapped_column(JSON, default=list)
    arc_step: Mapped[Length]
    powered: Mapped[bool] = mapped_column(default=False)
    friction_pct: Mapped[Number]
    rolls_to: Mapped[Length | None]
    bench_radius: Mapped[Length] = mapped_column(default=Length(0))
    both_ways: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(default="")
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())

    formers: Mapped[list["FormerRow"]] = relationship(
        back_populates="bender", cascade="all, delete-orphan", order_by="FormerRow.radius"
    )


class FormerRow(Base):
    """A former, die or pin of one bender; `largest` is the greatest depth of bar that it takes."""

    __tablename__ = "formers"
    __table_args__ = (UniqueConstraint("bender_id", "radius", "name"), at_least("radius", 0))

    bender_id: Mapped[int] = mapped_column(ForeignKey("benders.id", ondelete="CASCADE"))
    radius: Mapped[Length]
    name: Mapped[str] = mapped_column(default="")
    largest: Mapped[Length | None]

    bender: Mapped[BenderRow] = relationship(back_populates="formers")


class KRuleRow(Base):
    """A neutral-axis rule and the bars for which it holds; an empty column means all."""

    __tablename__ = "k_rules"
    __table_args__ = (one_of("rule", NEUTRAL_AXIS_RULES), at_least("k", 0))

    rule: Mapped[str]
    k: Mapped[Number] = mapped_column(default=Decimal("0.5"))
    grade: Mapped[str] = mapped_column(default="")
    family: Mapped[str] = mapped_column(default="")
    section_kind: Mapped[str] = mapped_column(default="")
    former_radius: Mapped[Length | None]
    source: Mapped[str] = mapped_column(default="")


class BendTestRow(Base):
    """A test bend as measured; the columns are the fields of `calc.bar.benders.BendTest`."""

    __tablename__ = "bend_tests"
    __table_args__ = (
        Index("ix_bend_tests_section_key_grade", "section_key", "grade"),
        one_of("bend_axis", BEND_AXES),
    )

    made_on: Mapped[date]
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    bend_axis: Mapped[str] = mapped_column(default="easy")
    former_radius: Mapped[Length]
    angle: Mapped[Number]
    flat_length: Mapped[Length | None]
    leg_1: Mapped[Length | None]
    leg_2: Mapped[Length | None]
    inside_radius: Mapped[Length | None]
    over_bend: Mapped[Number | None]
    note: Mapped[str] = mapped_column(default="")
