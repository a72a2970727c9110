"""Table rows with ids given out here, collected and inserted in bulk.

The ORM would take minutes to insert the tens of thousands of rows of an invented history one by one.
"""

from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from shopquote.records.jobs import Job, JobRevision, LabourLine, PartBend, PartRow, StateChange, WeldRow
from shopquote.records.logs import BoughtUse, Invoice, MinuteSum, Payment, TimeEntry
from shopquote.records.quotes import (
    Quote,
    QuoteCost,
    QuoteLineRow,
    QuoteMaterial,
    QuoteMinutes,
    QuoteOperation,
)
from shopquote.records.rack import BarUse
from shopquote.records.shop import Counter


class BulkRows:
    """Gives out ids and collects rows by table until `store` inserts them.

    `rows` holds the values of each table's rows not yet stored, `ids` the last id given out for each table.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.rows: dict[Any, list[dict[str, Any]]] = {}
        self.ids: dict[Any, int] = {}

    def next_number(self, count: int) -> int:
        """The first of `count` consecutive running numbers that are free for jobs and for quotes alike.

        A quote takes the number of its job, so both counters move on together.
        """
        held = {row.letter: row for row in self.session.scalars(select(Counter))}
        for letter in ("J", "Q"):
            if letter not in held:
                held[letter] = Counter(letter=letter, last=0)
                self.session.add(held[letter])
        first = max(held["J"].last, held["Q"].last) + 1
        held["J"].last = held["Q"].last = first + count - 1
        self.session.flush()
        return first

    def add(self, table: Any, **values: Any) -> int:
        """Collect a row until `store`; returns the id that it will have."""
        if table not in self.ids:
            self.ids[table] = self.session.scalar(select(func.max(table.id))) or 0
        self.ids[table] += 1
        self.rows.setdefault(table, []).append({"id": self.ids[table], **values})
        return self.ids[table]

    def store(self) -> None:
        """Insert all collected rows and forget them."""
        # Parents first: a row's foreign keys must refer to rows that are already there.
        for table in (
            Job,
            StateChange,
            JobRevision,
            PartRow,
            PartBend,
            WeldRow,
            LabourLine,
            Quote,
            QuoteLineRow,
            QuoteCost,
            QuoteMaterial,
            QuoteMinutes,
            QuoteOperation,
            TimeEntry,
            MinuteSum,
            BarUse,
            BoughtUse,
            Invoice,
            Payment,
        ):
            rows = self.rows.pop(table, [])
            # In blocks: a driver builds the parameters of one statement in memory.
            for start in range(0, len(rows), 5_000):
                self.session.execute(insert(table), rows[start : start + 5_000])
            if rows and self.session.get_bind().dialect.name == "postgresql":
                self._count_on(table)

    def _count_on(self, table: Any) -> None:
        """Set PostgreSQL's id sequence to the last id given out here, or its next own id would collide."""
        sequence = func.pg_get_serial_sequence(table.__tablename__, "id")
        self.session.execute(select(func.setval(sequence, self.ids[table])))
