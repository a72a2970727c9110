"""Rows drawn by the thousand, numbered here and stored in bulk."""

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
    """Gives out ids and keeps rows by table until they are stored."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.rows: dict[Any, list[dict[str, Any]]] = {}
        self.ids: dict[Any, int] = {}

    def next_number(self, count: int) -> int:
        """First of a block of numbers that neither a job nor a quote has: a quote takes its job's number."""
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
        """Keep a row until `store`; returns the id that it will have."""
        if table not in self.ids:
            self.ids[table] = self.session.scalar(select(func.max(table.id))) or 0
        self.ids[table] += 1
        self.rows.setdefault(table, []).append({"id": self.ids[table], **values})
        return self.ids[table]

    def store(self) -> None:
        """Write all rows that are kept."""
        # Parents first: the order in which the tables refer to each other.
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
            for start in range(0, len(rows), 5_000):
                self.session.execute(insert(table), rows[start : start + 5_000])
            if rows and self.session.get_bind().dialect.name == "postgresql":
                self._count_on(table)

    def _count_on(self, table: Any) -> None:
        """Ids were given out here: tell PostgreSQL's own counter where to go on."""
        sequence = func.pg_get_serial_sequence(table.__tablename__, "id")
        self.session.execute(select(func.setval(sequence, self.ids[table])))
