"""Standards: minutes, rates and factors, dated, with their history."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, Number, at_least

# The day on which a standard counts that has always counted.
ALWAYS = date(1900, 1, 1)


class StandardRow(Base):
    """One figure from a day on. Of one name, the newest that is not after the day asked counts.

    `accepted_from` keeps what the logged jobs said when a suggestion was accepted.
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
