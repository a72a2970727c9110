"""What a check finds, and what may be done about it."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sqlalchemy import Table, TableClause, column, select, table, update
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass

# Of each kind of fault; a check that finds more tells the rest once these are mended.
MOST_LINES = 20

# Rows of a long table that are in memory at a time.
AT_ONCE = 200

# Where a session finds the folder of certificate files; none is looked for without it.
CERTIFICATES = "certificates"

Cure = Callable[[Session], None]


@dataclass(frozen=True)
class Found:
    """One fault in words. `cure` mends it where there is one right answer, and `cured` says how.

    `helps` is the command for a person where the program cannot know what is right.
    """

    text: str
    cure: Cure | None = None
    cured: str = ""
    helps: str = ""

    @property
    def line(self) -> str:
        """The fault with what can be done about it."""
        if self.cure is not None:
            return f"{self.text} [--cure: {self.cured}]"
        return f"{self.text} [{self.helps}]" if self.helps else self.text


@dataclass(frozen=True)
class Check:
    """One thing that must hold, in plain words, and how to look for its faults."""

    name: str
    find_faults: Callable[[Session], Iterable[Found]]


@dataclass(frozen=True)
class CheckResult:
    """What a check found; nothing is good. `mended` is what was cured on the way, a line each."""

    name: str
    found: tuple[Found, ...]
    mended: tuple[str, ...] = ()

    @property
    def faults(self) -> tuple[str, ...]:
        """A line for each fault."""
        return tuple(fault.line for fault in self.found)


def in_blocks(session: Session, table: Any) -> Iterator[Any]:
    """All rows of a table by id, some at a time: ten years of them need no more memory than a month."""
    last = 0
    rows = select(table).order_by(table.id).limit(AT_ONCE)
    while block := session.scalars(rows.where(table.id > last)).all():
        last = block[-1].id
        yield from block
        session.expunge_all()


def bare_table(held: Table) -> TableClause:
    """A table with its columns as they are stored: a value of a wrong kind never reaches its reader."""
    return table(held.name, *(column(one.name) for one in held.c))


def put(table: Any, row: int, **values: Any) -> Cure:
    """A cure that writes values into one row."""

    def cure(session: Session) -> None:
        session.execute(
            update(table).where(table.id == row).values(**values).execution_options(synchronize_session=False)
        )

    return cure
