"""The table of standards: time standards, rates and factors, each dated, with their history."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, Number, at_least

# `since` of a standard that holds for any day.
ALWAYS = date(1900, 1, 1)


class StandardRow(Base):
    """The value of a standard from a day on. For a given day the newest row of a name not after it counts.

    `accepted_from` has the figures of the logged jobs, where the value is an accepted suggestion.
    """

    __tablename__ = "standards"
    __table_args__ = (UniqueConstraint("name", "since"), at_least("spread_pct", 0))

    name: Mapped[str]
    value: Mapped[Number]
    unit: Mapped[str]
    source: Mapped[str] = mapped_column(default="")
    since: Mapped[date] = mapped_column(default=ALWAYS)
    spread_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    accepted_from: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
