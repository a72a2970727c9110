"""The history: entries that say in words what a writing session changed, and who did it.

`watch` listens to a session while it is open; `write_down` adds the entries before it commits, so that a
change and its entry are stored together or not at all. A table's changes are told where `TOLD` names it.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Result, event, inspect, select
from sqlalchemy.orm import ORMExecuteState, Session, object_session

from shopquote.calc.money import round_money
from shopquote.calc.snapshot import seal_of
from shopquote.calc.units import Length, Unit, show_bar
from shopquote.reading.kinds.lengths import bar_as_typed
from shopquote.records.history import HistoryEntry
from shopquote.services.shop.clock import now
from shopquote.services.shop.doing import Deed

WATCHED = "watched"
_A_JOB = re.compile(r"\bJ-[0-9]{4,9}\b", re.ASCII)
# Entries written per session: an import of thousands tells its first changes and counts the rest.
MOST_TOLD = 200
# Characters of a value that an entry quotes; its row has the whole text.
LONGEST_VALUE = 80
_NOTHING = "nothing"

# How an entry names a row, by table. Tables that are not named here get no entries, or their changes are in
# the entry of the row that they belong to. Keyed by table name, not by class: every command that writes
# imports this module, and few need the classes of all tables.
TOLD: dict[str, Callable[[Any], str]] = {
    "jobs": lambda row: f"job {row.number}",
    "job_revisions": lambda row: f"revision {row.revision}: {row.title}, {row.sets} sets",
    "quotes": lambda row: f"quote {row.number} revision {row.revision}, {_amount(row)}",
    "orders": lambda row: f"{row.kind} {row.number} revision {row.revision}, {_amount(row)}",
    "order_lines": lambda row: f"line {row.position}, {row.count} x {row.section_text} {row.grade}",
    "receipts": lambda row: f"delivery of {row.received_on}",
    "rack_pieces": lambda row: f"rack piece {row.code}, {row.section_text} {row.grade} {_long(row)}",
    "time_entries": lambda row: (
        f"{_said(row.minutes)} min of {row.operation} on {row.worked_on} by {row.person or 'somebody'}"
    ),
    "bar_uses": lambda row: f"{row.count} x {row.section_text} {_long(row)}, {_said(row.cost)}",
    "bought_uses": lambda row: f"{row.name}, {_said(row.cost)}",
    "outside_bills": lambda row: f"bill for {row.name}, {_said(row.amount)}",
    "invoices": lambda row: f"{row.kind} {row.number}, {_said(row.amount)}",
    "payments": lambda row: f"payment of {row.paid_on}, {_said(row.amount)}",
    "job_deliveries": lambda row: f"delivery note {row.number} of {row.delivered_on}",
    "scrap_notes": lambda row: f"scrapped {row.count} of {row.mark}",
    "closings": lambda row: f"closing of {row.closed_on}, {_said(row.price)}, cost {_said(row.cost_actual)}",
    "struck_entries": lambda row: f"{row.kind} taken back: {row.what} ({row.reason})",
    "certificates": lambda row: f"certificate {row.file_name}",
    "customers": lambda row: f"customer {row.name}",
    "suppliers": lambda row: f"supplier {row.name}",
    "stock_items": lambda row: f"stock {row.section_text} {row.grade}",
    "stock_prices": lambda row: f"price {_said(row.price)} a {row.basis} from {row.valid_from}",
    "standards": lambda row: f"standard {row.name} {_said(row.value)} {row.unit} from {row.since}",
    "grades": lambda row: f"grade {row.name}",
    "benders": lambda row: f"bender {row.name}",
    "k_rules": lambda row: "neutral-axis rule",
    "people": lambda row: f"person {row.name}, {_said(row.hours)} hours a week",
    "days_off": lambda row: f"days off {row.first} to {row.last} {row.person}".rstrip(),
    "bend_tests": lambda row: f"bend test of {row.made_on}",
    "saws": lambda row: f"saw {row.name}",
    "tax_rates": lambda row: f"tax {row.name}",
    "shop": lambda row: "house rules",
}  # fmt: skip
# Rows that are added and deleted together with a row that has an entry of its own.
_WITH_ANOTHER = ("order_lines", "stock_prices")
# Columns whose values mean nothing to a person: no entry quotes them.
_SILENT = frozenset({"id", "version", "snapshot", "seal", "loads", "source", "accepted_from", "column_map"})


@dataclass
class Watched:
    """What a session has changed so far.

    `new` has added rows by id(); `changed` has changed rows by id(), each with (value before, value after) by
    column; `said` has entries in words, as (job number or "", words). `unit` is the shop's once it was asked.
    """

    deed: Deed
    new: dict[int, Any] = field(default_factory=dict)
    changed: dict[int, tuple[Any, dict[str, tuple[Any, Any]]]] = field(default_factory=dict)
    said: list[tuple[str, str]] = field(default_factory=list)
    unit: Unit | None = None


def watch(session: Session, deed: Deed) -> Watched:
    """Record a session's changes from now on: of mapped objects, and of statements that write many rows."""
    watched = session.info[WATCHED] = Watched(deed)
    event.listen(session, "do_orm_execute", lambda state: _note_many(watched, state))
    event.listen(session, "before_flush", lambda session, *_: _note_rows(watched, session))
    return watched


def _note_many(watched: Watched, state: ORMExecuteState) -> Result[Any] | None:
    """Execute a bulk INSERT, UPDATE or DELETE and note how many rows; None leaves other statements alone."""
    table = getattr(getattr(state.statement, "table", None), "name", "")
    if not (state.is_insert or state.is_update or state.is_delete) or table not in TOLD:
        return None
    verb = "new" if state.is_insert else "changed" if state.is_update else "gone"
    given = state.parameters
    # A bulk statement bypasses the session's new and dirty sets, so `_note_rows` never sees its rows. It is
    # executed here because only its result tells the number of rows.
    result: Result[Any] = state.invoke_statement()
    count = len(given) if isinstance(given, list) else getattr(result, "rowcount", -1)
    watched.said.append(("", f"{verb}: {count if count >= 0 else 'some'} rows of {_column(table)}"))
    return result


def _note_rows(watched: Watched, session: Session) -> None:
    """Note the rows that a session is about to flush."""
    for row in session.new:
        if row.__tablename__ in TOLD:
            watched.new[id(row)] = row
    for row in session.dirty:
        if row.__tablename__ in TOLD and id(row) not in watched.new:
            _note_changes(watched, row)
    for row in session.deleted:
        told = row.__tablename__ in TOLD and row.__tablename__ not in _WITH_ANOTHER
        if told and watched.new.pop(id(row), None) is None:
            watched.said += _entries_of_row(session, row, f"gone: {_called(row)}")


def say(session: Session, what: str) -> None:
    """Add an entry in words of the caller's own, once for each job number that the words name."""
    watched = session.info.get(WATCHED)
    if watched is not None:
        watched.said += [(job, what) for job in dict.fromkeys(_A_JOB.findall(what)) or [""]]


def _note_changes(watched: Watched, row: Any) -> None:
    held = watched.changed.setdefault(id(row), (row, {}))[1]
    for column in inspect(type(row)).column_attrs:
        if column.key in _SILENT:
            continue
        change = inspect(row).attrs[column.key].history
        if change.has_changes() and change.added:
            # A session may flush several times: keep the first value before and the last value after.
            before = held[column.key][0] if column.key in held else (change.deleted or [None])[0]
            held[column.key] = (before, change.added[0])


def write_down(session: Session, watched: Watched) -> None:
    """Add the entries of a session's changes to it, each sealed with the one before; the caller commits."""
    session.flush()
    told = list(_entries(session, watched))
    if len(told) > MOST_TOLD:
        told = [*told[:MOST_TOLD], ("", f"and {len(told) - MOST_TOLD} more such changes")]
    deed, at = watched.deed, now()
    # Each seal hashes the one before it, so that an entry changed or removed later shows. No two sessions can
    # read the same last seal: there is one writer at a time.
    seal = session.scalar(select(HistoryEntry.seal).order_by(HistoryEntry.id.desc()).limit(1)) or ""
    for job, what in told:
        entry = HistoryEntry(at=at, door=deed.door, who=deed.who, words=deed.words, job=job, what=what)
        entry.seal = seal = entry_seal(seal, entry)
        session.add(entry)  # they are put in in this order
    session.flush()


def entry_seal(before: str, entry: HistoryEntry) -> str:
    """SHA-256 of an entry's contents and of `before`, the seal of the entry that it follows."""
    at = entry.at.timestamp()
    return seal_of(
        "\n".join((before, f"{at:.6f}", entry.door, entry.who, entry.words, entry.job, entry.what))
    )


def _entries(session: Session, watched: Watched) -> Iterator[tuple[str, str]]:
    for row in watched.new.values():
        if row.__tablename__ not in _WITH_ANOTHER:
            yield from _entries_of_row(session, row, f"new: {_called(row)}")
    for row, changes in watched.changed.values():
        words = [
            _changed(_column(name), _value(session, name, old), _value(session, name, new))
            for name, (old, new) in changes.items()
            if old != new
        ]
        if words:
            yield from _entries_of_row(session, row, f"{_called(row)}: {', '.join(words)}")
    yield from watched.said


def _called(row: Any) -> str:
    return TOLD[row.__tablename__](row)


def _entries_of_row(session: Session, row: Any, what: str) -> list[tuple[str, str]]:
    """One (job number, words) for each job that a row concerns; one with an empty number where it concerns
    none.
    """
    return [(job, what) for job in jobs_of(session, row) or [""]]


def jobs_of(session: Session, row: Any) -> list[str]:
    """Numbers of the jobs that a row belongs to; of an order, of all jobs that it buys for."""
    table = row.__tablename__
    if table == "jobs":
        return [row.number]
    if table == "job_revisions" and row.job is not None:
        return [row.job.number]
    if table == "payments":
        return _numbers(session, row.invoice.job_id)
    if table == "rack_pieces":
        return _numbers(session, row.promised_job_id, row.used_job_id)
    order_id = {"orders": "id", "order_lines": "order_id", "receipts": "order_id"}.get(table)
    if order_id is not None:
        return _numbers_of_order(session, getattr(row, order_id))
    return _numbers(session, getattr(row, "job_id", None))


def _numbers(session: Session, *ids: int | None) -> list[str]:
    wanted = [one for one in dict.fromkeys(ids) if one is not None]
    if not wanted:
        return []
    from shopquote.records.jobs import Job

    found = (session.get(Job, one) for one in wanted)
    return [job.number for job in found if job is not None]


def _numbers_of_order(session: Session, order_id: int) -> list[str]:
    from shopquote.records.jobs import Job
    from shopquote.records.orders import OrderJob

    query = select(Job.number).join(OrderJob).where(OrderJob.order_id == order_id)
    return list(session.scalars(query.order_by(Job.number)))


def _column(name: str) -> str:
    return name.removesuffix("_id").replace("_", " ")


def _changed(column: str, old: str, new: str) -> str:
    """A change in words; a value that was empty before is not told as one.

    >>> _changed("state", "sent", "accepted"), _changed("decided on", "nothing", "2026-11-29")
    ('state sent -> accepted', 'decided on 2026-11-29')
    >>> _changed("phone", "0123", "nothing")
    'phone 0123 removed'
    """
    if old == _NOTHING:
        return f"{column} {new}"
    return f"{column} {old} removed" if new == _NOTHING else f"{column} {old} -> {new}"


def _value(session: Session, name: str, value: Any) -> str:
    if name.endswith("job_id") and value is not None:
        return ", ".join(_numbers(session, value)) or _NOTHING
    return show_bar(value, _unit(session)) if isinstance(value, Length) else _said(value)


def _long(row: Any) -> str:
    """A bar's length as typed, else in the shop's unit."""
    session = object_session(row)
    return bar_as_typed(row.length_text, row.length, "mm" if session is None else _unit(session))


def _unit(session: Session) -> Unit:
    """The unit of the shop's own lists; millimetres while the shop is being set up."""
    from shopquote.records.shop import Shop

    watched: Watched = session.info[WATCHED]
    if watched.unit is None:
        with session.no_autoflush:
            watched.unit = session.scalar(select(Shop.units))
    return watched.unit or "mm"


def _amount(row: Any) -> str:
    """The total of a quote or order, rounded to its currency's digits."""
    return f"{round_money(row.total, row.currency):f} {row.currency}"


def _said(value: Any) -> str:
    if value is None or value == "":
        return _NOTHING
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
    """Entries about a job number, oldest first; they stay when the job is removed."""
    query = select(HistoryEntry).where(HistoryEntry.job == number).order_by(HistoryEntry.id)
    return list(session.scalars(query))


def last_history(session: Session, most: int) -> list[HistoryEntry]:
    """The newest `most` entries of the shop, oldest first."""
    query = select(HistoryEntry).order_by(HistoryEntry.id.desc()).limit(most)
    return list(session.scalars(query))[::-1]
