"""The history: what a writing session changed, in words, before and after, with who did it.

A session is watched while it is open (`watch`), and the entries are put in before it commits: either
both the change and its entry are on file, or neither. To have another table told, name it in `TOLD`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import event, inspect, select
from sqlalchemy.orm import Session

from shopquote.calc.snapshot import seal_of
from shopquote.calc.units import Length
from shopquote.records.benders import BenderRow, BendTestRow, KRuleRow
from shopquote.records.closings import Closing
from shopquote.records.history import HistoryEntry
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.logs import (
    BarUse,
    BoughtUse,
    Invoice,
    OutsideBill,
    ScrapNote,
    StruckEntry,
    TimeEntry,
)
from shopquote.records.materials import GradeRow, StockItem, StockPrice
from shopquote.records.orders import Certificate, Order, OrderJob, OrderLine, Receipt
from shopquote.records.people import Customer, Supplier
from shopquote.records.quotes import Quote
from shopquote.records.rack import RackPiece
from shopquote.records.shop import Saw, Shop, TaxRate
from shopquote.records.standards import StandardRow
from shopquote.services.shop.clock import now
from shopquote.services.shop.doing import Deed

# A list of thousands is one deed; the first of its changes are told, the rest counted.
MOST_TOLD = 200
LONGEST_VALUE = 80

# What each table's rows are called; a row of another table is told by none, or by the row it belongs to.
TOLD: dict[type[Any], Callable[[Any], str]] = {
    Job: lambda row: f"job {row.number}",
    JobRevision: lambda row: f"revision {row.revision}: {row.title}, {row.sets} sets",
    Quote: lambda row: f"quote {row.number} revision {row.revision}, {_said(row.total)} {row.currency}",
    Order: lambda row: f"{row.kind} {row.number} revision {row.revision}, {_said(row.total)} {row.currency}",
    OrderLine: lambda row: f"line {row.position}, {row.count} x {row.section_text} {row.grade}",
    Receipt: lambda row: f"delivery of {row.received_on}",
    RackPiece: lambda row: f"rack piece {row.code}, {row.section_text} {row.grade} {_said(row.length)}",
    TimeEntry: lambda row: (
        f"{_said(row.minutes)} min of {row.operation} on {row.worked_on} by {row.person or 'somebody'}"
    ),
    BarUse: lambda row: f"{row.count} x {row.section_text} {_said(row.length)}, {_said(row.cost)}",
    BoughtUse: lambda row: f"{row.name}, {_said(row.cost)}",
    OutsideBill: lambda row: f"bill for {row.name}, {_said(row.amount)}",
    Invoice: lambda row: f"{row.kind} {row.number}, {_said(row.amount)}",
    ScrapNote: lambda row: f"scrapped {row.count} of {row.mark}",
    Closing: lambda row: f"closing of {row.closed_on}, {_said(row.price)}, cost {_said(row.cost_actual)}",
    StruckEntry: lambda row: f"{row.kind} taken back: {row.what} ({row.reason})",
    Certificate: lambda row: f"certificate {row.file_name}",
    Customer: lambda row: f"customer {row.name}",
    Supplier: lambda row: f"supplier {row.name}",
    StockItem: lambda row: f"stock {row.section_text} {row.grade}",
    StockPrice: lambda row: f"price {_said(row.price)} a {row.basis} from {row.valid_from}",
    StandardRow: lambda row: f"standard {row.name} {_said(row.value)} {row.unit} from {row.since}",
    GradeRow: lambda row: f"grade {row.name}",
    BenderRow: lambda row: f"bender {row.name}",
    KRuleRow: lambda row: "neutral-axis rule",
    BendTestRow: lambda row: f"bend test of {row.made_on}",
    Saw: lambda row: f"saw {row.name}",
    TaxRate: lambda row: f"tax {row.name}",
    Shop: lambda row: "house rules",
}  # fmt: skip
# Rows that come with one that is told already.
_WITH_ANOTHER = (OrderLine, StockPrice)
# Columns that say nothing to a person.
_SILENT = frozenset({"id", "version", "snapshot", "seal", "loads", "source", "accepted_from", "column_map"})


@dataclass
class Watched:
    """What a session has changed so far."""

    deed: Deed
    new: dict[int, Any] = field(default_factory=dict)
    changed: dict[int, tuple[Any, dict[str, tuple[Any, Any]]]] = field(default_factory=dict)
    gone: list[tuple[str, str]] = field(default_factory=list)


def watch(session: Session, deed: Deed) -> Watched:
    """Look at a session's changes from now on."""
    watched = Watched(deed)

    @event.listens_for(session, "before_flush")
    def note(session: Session, _context: Any, _instances: Any) -> None:
        for row in session.new:
            if type(row) in TOLD:
                watched.new[id(row)] = row
        for row in session.dirty:
            if type(row) in TOLD and id(row) not in watched.new:
                _note_changes(watched, row)
        for row in session.deleted:
            if (
                type(row) in TOLD
                and type(row) not in _WITH_ANOTHER
                and watched.new.pop(id(row), None) is None
            ):
                jobs = jobs_of(session, row) or [""]
                watched.gone += [(job, f"gone: {TOLD[type(row)](row)}") for job in jobs]

    return watched


def _note_changes(watched: Watched, row: Any) -> None:
    held = watched.changed.setdefault(id(row), (row, {}))[1]
    for column in inspect(type(row)).column_attrs:
        if column.key in _SILENT:
            continue
        change = inspect(row).attrs[column.key].history
        if change.has_changes() and change.added:
            before = held[column.key][0] if column.key in held else (change.deleted or [None])[0]
            held[column.key] = (before, change.added[0])


def write_down(session: Session, watched: Watched) -> None:
    """Put the entries of what a session changed into it; the caller commits."""
    session.flush()
    told = list(_entries(session, watched))
    if len(told) > MOST_TOLD:
        told = [*told[:MOST_TOLD], ("", f"and {len(told) - MOST_TOLD} more such changes")]
    deed, at = watched.deed, now()
    seal = session.scalar(select(HistoryEntry.seal).order_by(HistoryEntry.id.desc()).limit(1)) or ""
    for job, what in told:
        entry = HistoryEntry(at=at, door=deed.door, who=deed.who, words=deed.words, job=job, what=what)
        entry.seal = seal = entry_seal(seal, entry)
        session.add(entry)  # they are put in in this order
    session.flush()


def entry_seal(before: str, entry: HistoryEntry) -> str:
    """The seal of an entry that follows one with the seal `before`."""
    at = entry.at.timestamp()
    return seal_of(
        "\n".join((before, f"{at:.6f}", entry.door, entry.who, entry.words, entry.job, entry.what))
    )


def _entries(session: Session, watched: Watched) -> Iterator[tuple[str, str]]:
    for row in watched.new.values():
        if type(row) not in _WITH_ANOTHER:
            for job in jobs_of(session, row) or [""]:
                yield job, f"new: {TOLD[type(row)](row)}"
    for row, changes in watched.changed.values():
        words = [
            f"{_column(name)} {_value(session, name, old)} -> {_value(session, name, new)}"
            for name, (old, new) in changes.items()
            if old != new
        ]
        if words:
            for job in jobs_of(session, row) or [""]:
                yield job, f"{TOLD[type(row)](row)}: {', '.join(words)}"
    yield from watched.gone


def jobs_of(session: Session, row: Any) -> list[str]:
    """Numbers of the jobs that a row is about."""
    if isinstance(row, Job):
        return [row.number]
    if isinstance(row, JobRevision) and row.job is not None:
        return [row.job.number]
    if isinstance(row, RackPiece):
        return _numbers(session, row.promised_job_id, row.used_job_id)
    order_id = {Order: "id", OrderLine: "order_id", Receipt: "order_id"}.get(type(row))
    if order_id is not None:
        query = select(Job.number).join(OrderJob).where(OrderJob.order_id == getattr(row, order_id))
        return list(session.scalars(query.order_by(Job.number)))
    return _numbers(session, getattr(row, "job_id", None))


def _numbers(session: Session, *ids: int | None) -> list[str]:
    found = (session.get(Job, one) for one in dict.fromkeys(ids) if one is not None)
    return [job.number for job in found if job is not None]


def _column(name: str) -> str:
    return name.removesuffix("_id").replace("_", " ")


def _value(session: Session, name: str, value: Any) -> str:
    if name.endswith("job_id") and value is not None:
        return ", ".join(_numbers(session, value)) or "nothing"
    return _said(value)


def _said(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, Length):
        return f"{value.mm.normalize():f} mm"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, datetime):
        return f"{value.astimezone():%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    text = " ".join(str(value).split())
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def job_history(session: Session, number: str) -> list[HistoryEntry]:
    """What was done to a job, oldest first, also one that was taken off file since."""
    query = select(HistoryEntry).where(HistoryEntry.job == number).order_by(HistoryEntry.id)
    return list(session.scalars(query))


def last_history(session: Session, count: int) -> list[HistoryEntry]:
    """The last entries of the whole shop, oldest first."""
    query = select(HistoryEntry).order_by(HistoryEntry.id.desc()).limit(count)
    return list(session.scalars(query))[::-1]
