"""Tables of customers and suppliers."""

from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, false
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, Money, above_zero, at_least


class Customer(Base):
    """A customer, with what papers to them need."""

    __tablename__ = "customers"

    name: Mapped[str] = mapped_column(unique=True)
    address: Mapped[str] = mapped_column(default="")
    email: Mapped[str] = mapped_column(default="")
    phone: Mapped[str] = mapped_column(default="")
    # Of papers to them, such as de_DE; empty: the shop's own.
    locale: Mapped[str] = mapped_column(default="", server_default="")
    tax_exempt: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(default="")
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())


class Supplier(Base):
    """A supplier of bars. Delivery is free for goods worth `free_from` or more, where that is set.

    `column_map` records which column of the supplier's price list means what, for the next list.
    """

    __tablename__ = "suppliers"
    __table_args__ = (
        above_zero("exchange_rate"),
        at_least("delivery_charge", 0),
        at_least("lead_days", 0),
        at_least("cut_charge", 0),
        at_least("certificate_charge", 0),
    )

    name: Mapped[str] = mapped_column(unique=True)
    address: Mapped[str] = mapped_column(default="")
    email: Mapped[str] = mapped_column(default="")
    phone: Mapped[str] = mapped_column(default="")
    # Of papers to them, such as de_DE; empty: the shop's own.
    locale: Mapped[str] = mapped_column(default="", server_default="")
    currency: Mapped[str] = mapped_column(default="EUR")
    # Units of the shop's currency for one unit of the supplier's.
    exchange_rate: Mapped[Money] = mapped_column(default=Decimal(1))
    delivery_charge: Mapped[Money] = mapped_column(default=Decimal(0))
    free_from: Mapped[Money | None]
    lead_days: Mapped[int] = mapped_column(default=0)
    # Charge for a cut; None: the supplier does not saw bars to length.
    cut_charge: Mapped[Money | None]
    certificate_kind: Mapped[str] = mapped_column(default="")
    # Charge for each order that asks for a certificate.
    certificate_charge: Mapped[Money] = mapped_column(default=Decimal(0), server_default="0")
    column_map: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    invented: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(default="")
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())
