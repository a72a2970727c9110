"""Tables of the people who work in the shop, and of days off."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, Number, at_least


class PersonRow(Base):
    """A person who works in the shop: `hours` a week, spread evenly over the first `days` of the week.

    `operations` are those that the person does; empty: all.
    """

    __tablename__ = "people"
    __table_args__ = (at_least("hours", 0), at_least("days", 1))

    name: Mapped[str] = mapped_column(unique=True)
    hours: Mapped[Number]
    days: Mapped[int] = mapped_column(default=5)
    operations: Mapped[list[Any]] = mapped_column(JSON, default=list)
    note: Mapped[str] = mapped_column(default="")


class DaysOffRow(Base):
    """Days off from `first` to `last`, both counted, of one person or, where `person` is "", of all."""

    __tablename__ = "days_off"
    __table_args__ = (UniqueConstraint("first", "person"), CheckConstraint("last >= first", name="in_order"))

    first: Mapped[date]
    last: Mapped[date]
    person: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
