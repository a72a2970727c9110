"""Texts with control characters, which a terminal or spreadsheet would act on.

All input refuses them now; older versions of the program did not.
"""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, ColumnElement, String, Table, Text, cast, func, or_, select, update
from sqlalchemy.orm import Session

from shopquote.calc.numbers import OBEYED, is_obeyed, plain_ends, shown
from shopquote.records.tables import metadata
from shopquote.services.safe.checks.found import MOST_LINES, Cure, Found, bare_table

# Tables of sealed papers and of past events are never rewritten; what shows them escapes such characters.
_STANDS = ("quote", "joint_quote", "order", "closing", "history", "struck", "floor_entries", "drafts")


def may_hold_typed_text(column: Column[Any]) -> bool:
    """Whether a column holds text that people typed and that is not part of a sealed paper."""
    held = column.table.name
    return isinstance(column.type, String) and not held.startswith(_STANDS)


def texts_are_shown(session: Session) -> Iterator[Found]:
    """No text holds control characters, escape sequences or marks that turn the writing direction."""
    for held in metadata.sorted_tables:
        for one in held.c:
            if may_hold_typed_text(one):
                yield from _obeyed_in(session, held, one.name)


def _obeyed_in(session: Session, held: Table, name: str) -> Iterator[Found]:
    bare = bare_table(held)
    stored = cast(bare.c[name], Text)
    rows = session.execute(
        select(bare.c.id, stored).where(_holds_obeyed(session, stored)).limit(MOST_LINES)
    ).all()
    for row, text in rows:
        if isinstance(text, str) and is_obeyed(plain_ends(text)):
            yield Found(
                f"{held.name} row {row}, {name}: {shown(text)[:60]!r} holds control characters",
                _written_out(held, row, name, text),
                "they are written out",
            )


def _holds_obeyed(session: Session, stored: ColumnElement[str]) -> ColumnElement[bool]:
    lone_return = func.replace(stored, "\r\n", "").like("%\r%")
    if session.get_bind().dialect.name == "sqlite":
        return or_(stored.op("GLOB", is_comparison=True)(f"*[{OBEYED}]*"), lone_return)
    return or_(stored.op("~", is_comparison=True)(f"[{OBEYED}]"), lone_return)


def _written_out(held: Table, row: int, name: str, text: str) -> Cure:
    def cure(session: Session) -> None:
        session.execute(update(held).where(held.c.id == row).values({name: shown(text)}))

    return cure
