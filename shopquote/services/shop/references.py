"""Count what on file refers to an entry of a list: such an entry can be retired, not removed."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, Table, func, inspect, select
from sqlalchemy.orm import Session


def references(session: Session, record: Any, named_in: str = "") -> tuple[str, ...]:
    """How many rows of each table refer to a record, in words such as "jobs (3)".

    Args:
        session: an open session.
        record: a row of any table; rows that are deleted with it do not count.
        named_in: name of columns, in any table, that refer to it by its name; empty for none.
    """
    from shopquote.records.tables import metadata  # all tables: any may refer to it

    mapper = inspect(type(record))
    # Rows deleted with the record, such as a bender's formers, are no reason to keep it.
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
    """Columns of a table that may refer to a record, each with the value that does."""
    for column in table.columns:
        if any(key.column.table is to for key in column.foreign_keys):
            yield column, record.id
        elif named_in and column.name == named_in:
            yield column, record.name
