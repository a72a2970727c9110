"""What on file refers to an entry of a list: such an entry is retired, never removed."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, Table, func, inspect, select
from sqlalchemy.orm import Session


def references(session: Session, record: Any, named_in: str = "") -> tuple[str, ...]:
    """In words, how many rows of each table refer to a record: "jobs (3)".

    Args:
        session: an open session.
        record: of any table; what goes with it does not count.
        named_in: columns of this name refer to it by its name.
    """
    from shopquote.records.tables import metadata  # all tables: any may refer to it

    mapper = inspect(type(record))
    # What goes with the record, such as a bender's formers, is no reason to keep it.
    own = {mapper.local_table, *(one.target for one in mapper.relationships if one.cascade.delete)}
    found = []
    for table in metadata.sorted_tables:
        for column, value in _referring(table, mapper.local_table, record, named_in):
            count = 0
            if table not in own:
                count = session.scalar(select(func.count()).select_from(table).where(column == value)) or 0
            if count:
                found.append(f"{table.name.replace('_', ' ')} ({count})")
    return tuple(found)


def _referring(table: Table, to: Any, record: Any, named_in: str) -> Iterator[tuple[Column[Any], Any]]:
    """The columns of a table that may refer to a record, and what stands there when they do."""
    for column in table.columns:
        if any(key.column.table is to for key in column.foreign_keys):
            yield column, record.id
        elif named_in and column.name == named_in:
            yield column, record.name
