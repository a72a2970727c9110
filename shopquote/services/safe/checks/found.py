"""A fault, a check and its result, and what the checks share."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sqlalchemy import Table, TableClause, column, select, table, update
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass

# Faults of each kind that a check lists at a time; the rest shows once these are mended.
MOST_LINES = 20

# Rows of a long table in memory at a time: each quote carries its whole sealed text.
AT_ONCE = 200

# Key in `session.info` of the folder of certificate files; without it the files are not checked.
CERTIFICATES = "certificates"

Cure = Callable[[Session], None]


@dataclass(frozen=True)
class Found:
    """One fault in words. `cure` mends it where there is one right answer, and `cured` says how it then is.

    `helps` is the command for a person where the program cannot know what is right.
    """

    text: str
    cure: Cure | None = None
    cured: str = ""
    helps: str = ""

    @property
    def line(self) -> str:
        """The fault, followed by its cure or by the command that helps."""
        if self.cure is not None:
            return f"{self.text} [--cure: {self.cured}]"
        return f"{self.text} [{self.helps}]" if self.helps else self.text


@dataclass(frozen=True)
class Check:
    """A rule that must hold, in plain words, and the function that finds its faults."""

    name: str
    find_faults: Callable[[Session], Iterable[Found]]


@dataclass(frozen=True)
class CheckResult:
    """The faults that a check found, empty if the rule holds; `mended` has a line for each fault cured."""

    name: str
    found: tuple[Found, ...]
    mended: tuple[str, ...] = ()

    @property
    def faults(self) -> tuple[str, ...]:
        """A line for each fault."""
        return tuple(fault.line for fault in self.found)


def in_blocks(session: Session, table: Any) -> Iterator[Any]:
    """All rows of a table in the order of their ids, AT_ONCE in memory at a time."""
    last = 0
    rows = select(table).order_by(table.id).limit(AT_ONCE)
    while block := session.scalars(rows.where(table.id > last)).all():
        last = block[-1].id
        yield from block
        # Or the session would keep every row of the table until its end.
        session.expunge_all()


def bare_table(held: Table) -> TableClause:
    """A table without its column types: damaged values come as stored instead of failing to convert."""
    return table(held.name, *(column(one.name) for one in held.c))


def put(table: Any, row: int, **values: Any) -> Cure:
    """A cure that sets columns of one row, without touching objects that the session has loaded."""

    def cure(session: Session) -> None:
        session.execute(
            update(table).where(table.id == row).values(**values).execution_options(synchronize_session=False)
        )

    return cure
