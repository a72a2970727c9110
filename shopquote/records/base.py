"""The declarative base of all tables: names of constraints, column types by Python type, common checks."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from sqlalchemy import JSON, CheckConstraint, MetaData, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, validates

from shopquote.calc.snapshot import seal_of
from shopquote.calc.units import Length
from shopquote.records.columns import LengthColumn, MoneyColumn, NumberColumn, TimeColumn

Money = Annotated[Decimal, MoneyColumn]
Number = Annotated[Decimal, NumberColumn]

# Constraints are named, since a migration can drop or change only one whose name it knows.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Base of all tables; each has a whole-number `id`."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[Mapping[Any, Any]] = {
        Money: MoneyColumn(),
        Number: NumberColumn(),
        Length: LengthColumn(),
        datetime: TimeColumn(),
        str: Text(),
        dict[str, Any]: JSON(),
        list[Any]: JSON(),
    }

    id: Mapped[int] = mapped_column(primary_key=True, sort_order=-1)

    def __repr__(self) -> str:
        """Class and id, without loading anything else."""
        return f"<{type(self).__name__} {self.id}>"


class Sealed:
    """Mixin of a table whose `snapshot` never changes: `seal` is its digest, set whenever the snapshot is."""

    seal: Mapped[str] = mapped_column(default=lambda row: seal_of(_snapshot(row)), server_default="")

    @validates("snapshot")
    def _seal_snapshot(self, _key: str, text: str) -> str:
        self.seal = seal_of(text)
        return text


def _snapshot(row: Any) -> str:
    """The snapshot of a row that is being inserted; "" where it has none."""
    return row.get_current_parameters().get("snapshot") or ""


def one_of(column: str, words: Sequence[str]) -> CheckConstraint:
    """The check that a column holds one of these fixed words."""
    quoted = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f'"{column}" IN ({quoted})', name=f"{column}_word")


def at_least(column: str, least: int) -> CheckConstraint:
    """The check that a column, in its stored unit, is not below `least`; NULL passes."""
    return CheckConstraint(f'"{column}" >= {least}', name=f"{column}_least")


def above_zero(column: str) -> CheckConstraint:
    """The check that a column is above zero; NULL passes."""
    return CheckConstraint(f'"{column}" > 0', name=f"{column}_above_zero")
