"""The database itself: its pages, foreign keys, schema, and values that do not fit their column's kind."""

from collections.abc import Iterator
from functools import cache
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    ColumnElement,
    Date,
    Integer,
    LargeBinary,
    Select,
    Table,
    and_,
    func,
    or_,
    select,
    text,
)
from sqlalchemy.orm import Session
from sqlalchemy.types import TypeDecorator

from shopquote.records.schema import newest_version, stored_version
from shopquote.records.tables import metadata
from shopquote.services.safe.checks.found import MOST_LINES, Found, bare_table

RESTORE = "see what a backup has: shopquote db restore BACKUP --db other.db"


def file_is_sound(session: Session) -> Iterator[Found]:
    """SQLite's own integrity check; PostgreSQL verifies its pages itself."""
    if session.get_bind().dialect.name == "sqlite":
        for (line,) in session.execute(text("PRAGMA integrity_check")):
            if line != "ok":
                of_index = " index " in str(line)
                yield Found(
                    str(line),
                    _build_indexes_again if of_index else None,
                    "its indexes are built again from the rows",
                    RESTORE,
                )


def _build_indexes_again(session: Session) -> None:
    session.execute(text("REINDEX"))


def references_are_whole(session: Session) -> Iterator[Found]:
    """Every foreign key refers to an existing row; PostgreSQL enforces that always."""
    if session.get_bind().dialect.name == "sqlite":
        for name, row, parent, _number in session.execute(text("PRAGMA foreign_key_check")):
            yield Found(f"{name} row {row} refers to a row of {parent} that is not there", helps=RESTORE)


def schema_is_known(session: Session) -> Iterator[Found]:
    """The schema version, tables and columns are those of this program."""
    version = stored_version(session.connection())
    if version != newest_version():
        yield Found(
            f"schema is {version}, this program needs {newest_version()}", helps="shopquote db upgrade"
        )
    written = _schema_as_written(session)
    if written is not None and written in _KNOWN_SCHEMAS:
        return
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    differences = compare_metadata(MigrationContext.configure(session.connection()), metadata)
    if not differences and written is not None:
        _KNOWN_SCHEMAS.add(written)
    for difference in differences:
        yield Found(f"schema differs from the program's: {difference}")


# Schemas that this process has compared and found right: the comparison takes two thirds of a whole check,
# and a cure runs the checks twice.
_KNOWN_SCHEMAS: set[tuple[tuple[str, ...], ...]] = set()


def _schema_as_written(session: Session) -> tuple[tuple[str, ...], ...] | None:
    """The text of all CREATE statements, by which a schema is recognised; None for PostgreSQL."""
    if session.get_bind().dialect.name != "sqlite":
        return None
    words = text("SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master ORDER BY type, name")
    return tuple(tuple(row) for row in session.execute(words))


def values_are_of_their_kind(session: Session) -> Iterator[Found]:
    """No text in a column for numbers and the like: SQLite stores any value anywhere, PostgreSQL does not."""
    if session.get_bind().dialect.name != "sqlite":
        return
    for held in metadata.sorted_tables:
        if session.scalar(_any_wrong(held)) is None:
            continue
        bare = bare_table(held)
        for one in held.c:
            wrong = _is_wrong(one, bare.c[one.name])
            for (row,) in session.execute(select(bare.c.id).where(wrong).limit(MOST_LINES)).all():
                yield Found(f"{held.name} row {row}, {one.name}: holds no {_kind(one)}", helps=RESTORE)


@cache
def _any_wrong(held: Table) -> Select[tuple[int]]:
    """The id of one row of a table that has a value of a wrong kind, in one query over all columns."""
    bare = bare_table(held)
    return select(bare.c.id).where(or_(*(_is_wrong(one, bare.c[one.name]) for one in held.c))).limit(1)


def _is_wrong(one: Column[Any], value: Any) -> ColumnElement[bool]:
    kind = func.typeof(value)
    # SQLite stores JSON as text, so its storage class says nothing: the content must parse.
    if isinstance(one.type, JSON):
        return and_(value.is_not(None), func.json_valid(value) == 0)
    if isinstance(one.type, Boolean):
        return and_(value.is_not(None), value.not_in((0, 1)))
    if isinstance(one.type, LargeBinary):
        return kind.not_in(("blob", "null"))
    return kind.not_in((_stored(one), "null"))


def _stored(one: Column[Any]) -> str:
    kind = one.type.impl_instance if isinstance(one.type, TypeDecorator) else one.type
    return "integer" if isinstance(kind, Integer | BigInteger) else "text"


def _kind(one: Column[Any]) -> str:
    if isinstance(one.type, JSON):
        return "list that can be read"
    if isinstance(one.type, Boolean):
        return "yes or no"
    if isinstance(one.type, Date):
        return "day"
    return {"integer": "whole number", "text": "text"}[_stored(one)]
