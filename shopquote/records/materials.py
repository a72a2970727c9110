"""Grades, the bars that suppliers sell, and their prices over time."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.units import ZERO, Length
from shopquote.records.base import Base, Money, Number, above_zero, at_least, one_of
from shopquote.records.people import Supplier

PRICE_BASES = ("bar", "kg", "lb", "cwt", "m", "ft")


class GradeRow(Base):
    """A grade with the properties that bending and weighing need; `sources` has their sources by column."""

    __tablename__ = "grades"
    __table_args__ = (above_zero("density_kg_m3"), above_zero("yield_mpa"), above_zero("tensile_mpa"))

    name: Mapped[str] = mapped_column(unique=True)
    family: Mapped[str]
    density_kg_m3: Mapped[Number]
    yield_mpa: Mapped[Number]
    tensile_mpa: Mapped[Number]
    e_gpa: Mapped[Number]
    elongation_pct: Mapped[Number]
    reduction_of_area_pct: Mapped[Number | None]
    min_radius_ratio: Mapped[Number]
    cold_bend: Mapped[bool] = mapped_column(default=True)
    # Usual and greatest strengths; None: estimated from the minimum (`yield_mpa`, `tensile_mpa`).
    yield_usual_mpa: Mapped[Number | None]
    yield_most_mpa: Mapped[Number | None]
    tensile_usual_mpa: Mapped[Number | None]
    tensile_most_mpa: Mapped[Number | None]
    paper: Mapped[str] = mapped_column(default="", server_default="")
    paper_hollow: Mapped[str] = mapped_column(default="", server_default="")
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())
    sources: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    own: Mapped[bool] = mapped_column(default=False)


class StockItem(Base):
    """A bar of one length that a supplier sells. Bars are matched by `section_key`, the exact size."""

    __tablename__ = "stock_items"
    __table_args__ = (
        UniqueConstraint("supplier_id", "section_key", "grade", "length"),
        Index("ix_stock_items_section_key_grade", "section_key", "grade"),
        above_zero("length"),
        at_least("limit", 0),
        at_least("bundle", 1),
        CheckConstraint('"tolerance" >= 0 AND "tolerance" < "length"', name="tolerance_below_length"),
    )

    supplier_id: Mapped[int] = mapped_column(ForeignKey("suppliers.id"))
    section_key: Mapped[str]
    section_text: Mapped[str]
    grade: Mapped[str]
    length: Mapped[Length]
    length_text: Mapped[str] = mapped_column(default="")
    limit: Mapped[int | None]
    bundle: Mapped[int | None]
    # How much shorter than `length` a bar may be delivered; plans use the bar only up to that.
    tolerance: Mapped[Length] = mapped_column(default=ZERO, server_default="0")
    # In the supplier's words, such as "EN 10060" and "hot rolled".
    standard: Mapped[str] = mapped_column(default="")
    condition: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())

    supplier: Mapped[Supplier] = relationship()
    prices: Mapped[list["StockPrice"]] = relationship(
        back_populates="item",
        cascade="all, delete-orphan",
        order_by="[StockPrice.valid_from, StockPrice.break_kg]",
    )


class StockPrice(Base):
    """A price in the supplier's currency per `basis`, valid from a day on and from a mass of `break_kg` on.

    Older prices are kept as the history.
    """

    __tablename__ = "stock_prices"
    __table_args__ = (
        UniqueConstraint("stock_item_id", "valid_from", "break_kg"),
        one_of("basis", PRICE_BASES),
        at_least("price", 0),
        at_least("break_kg", 0),
    )

    stock_item_id: Mapped[int] = mapped_column(ForeignKey("stock_items.id", ondelete="CASCADE"))
    price: Mapped[Money]
    basis: Mapped[str]
    break_kg: Mapped[Number] = mapped_column(default=Decimal(0))
    valid_from: Mapped[date]
    invented: Mapped[bool] = mapped_column(default=False)

    item: Mapped[StockItem] = relationship(back_populates="prices")
