"""Corrections that a person makes to their own floor entries of the same day: minutes, pieces, or removal.

The caller opens a writing session and commits it.
"""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.reading.kinds import count, read_typed
from shopquote.records.base import Base
from shopquote.records.logs import ScrapNote, TimeEntry
from shopquote.records.page import FloorEntry
from shopquote.records.rack import BarUse
from shopquote.services.floor.entries import pieces_among, source_of
from shopquote.services.floor.log import (
    check_pieces,
    log_scrap,
    open_for_log,
    person_on_file,
    plain_number,
    told_pieces,
)
from shopquote.services.floor.log_list import logged_so_far
from shopquote.services.floor.take_back import strike
from shopquote.services.floor.time_log import correct_minutes, running_timers
from shopquote.services.shop.shop_on_file import shop_notation

MISTAKE = "entered by mistake"


def mend_entry(
    session: Session, key: str, person: str, typed: Mapping[str, str], *, at: datetime
) -> FloorEntry:
    """Correct a stopped operation: minutes, good pieces, spoilt pieces and their reason.

    Fields that `typed` lacks or leaves empty keep their value. The entry notes each change with the value
    before.

    Raises:
        NotFoundError: no such entry of this person.
        InputError: it is of another day, was taken back, is not a stop, spoilt pieces without a reason, a
            reason without spoilt pieces, or something typed that cannot be used.
    """
    entry = _own(session, key, person, at)
    row = _minutes_of(session, entry)
    if row is None:
        raise InputError("This entry has no minutes or pieces; it can be taken back.")
    told = []
    was = row.minutes
    if typed.get("minutes", "").strip():
        limits = count(least=1, most=24 * 60)
        minutes = Decimal(read_typed("Minutes", limits, typed["minutes"], shop_notation(session)))
        if minutes != was:
            correct_minutes(session, row, minutes, at=at)
            told.append(f"{plain_number(was)} to {minutes:f} min")
    reason = typed.get("reason", "").strip()
    if typed.get("good", "").strip() and entry.mark:
        told += _mend_good(session, entry, pieces_among(session, typed, "good"), at)
    if (typed.get("spoilt", "").strip() or reason) and entry.mark:
        told += _mend_spoilt(session, entry, _spoilt(session, entry, typed), reason, at)
    if told:
        _note(entry, ", ".join(told), at)
        entry.answer = _words(session, entry, row)
        session.flush()
    return entry


def take_back_entry(session: Session, key: str, person: str, *, at: datetime) -> FloorEntry:
    """Take back an entry: its minutes and pieces no longer count, and its bar lies on the rack again.

    Raises:
        NotFoundError: no such entry of this person.
        InputError: it is of another day or was taken back already, its operation was stopped since, its job
            is closed, or what came back of the bar is no longer free.
    """
    entry = _own(session, key, person, at)
    for record in _records_of(session, entry):
        rows = logged_so_far(session, entry.job.number).rows
        # Struck by the log's own function, which checks the closing and keeps the entry readable in the log.
        row = next(row for row in rows if row.table is type(record) and row.id == record.id)
        strike(session, entry.job, row, MISTAKE, at=at)
    entry.photo = None
    # The content stays readable but for the good pieces: `good_pieces` adds them up from here.
    entry.content = {**entry.content, "good": "", "back-of": entry.answer}
    _note(entry, "taken back", at)
    entry.answer = f"taken back: {entry.answer}"
    session.flush()
    return entry


def can_be_mended(entry: FloorEntry) -> bool:
    """Whether an entry still counts and so can be corrected or taken back."""
    return "back-of" not in entry.content


def _own(session: Session, key: str, person: str, at: datetime) -> FloorEntry:
    own = (FloorEntry.key == key, FloorEntry.person == person_on_file(session, person))
    entry = session.scalar(select(FloorEntry).where(*own))
    if entry is None:
        raise NotFoundError("This entry is not on file.")
    # After the day the office may have used the figures already.
    if entry.entered_at.astimezone().date() != at.astimezone().date():
        raise InputError("This entry is of another day: the office can put it right.")
    if not can_be_mended(entry):
        raise InputError("This entry was taken back already.")
    return entry


def _records_of(session: Session, entry: FloorEntry) -> list[Base]:
    """Records that an entry made."""
    if entry.kind == "start":
        # The timer with its moment: the person may have started the same operation again since.
        running = running_timers(session, job=entry.job, person=entry.person)
        timers = [timer for timer in running if timer.started_at == entry.entered_at]
        if not timers:
            raise InputError("This operation was stopped meanwhile: mend or take back its stop.")
        return list(timers)
    if entry.kind == "sawn":
        its = (BarUse.job_id == entry.job_id, BarUse.source == source_of(entry.key))
        used = session.scalar(select(BarUse).where(*its))
        if used is None:
            raise InputError("This sawing is not on file any more: the office has taken it back.")
        return [used]
    return [one for one in (_minutes_of(session, entry), _scrap_of(session, entry)) if one is not None]


def _minutes_of(session: Session, entry: FloorEntry) -> TimeEntry | None:
    its = (TimeEntry.job_id == entry.job_id, TimeEntry.source == source_of(entry.key))
    return session.scalar(select(TimeEntry).where(*its))


def _scrap_of(session: Session, entry: FloorEntry) -> ScrapNote | None:
    its = (ScrapNote.job_id == entry.job_id, ScrapNote.source == source_of(entry.key))
    return session.scalar(select(ScrapNote).where(*its))


def _mend_good(session: Session, entry: FloorEntry, good: int, at: datetime) -> list[str]:
    was = pieces_among(session, entry.content, "good")
    if good == was:
        return []
    open_for_log(session, entry.job.number, at)
    check_pieces(session, entry.job, entry.mark, good, "good", was=was)
    entry.content = {**entry.content, "good": str(good)}
    return [f"{was} to {good} good"]


def _spoilt(session: Session, entry: FloorEntry, typed: Mapping[str, str]) -> int:
    """Spoilt pieces as typed; if only another reason is typed, those on file."""
    if typed.get("spoilt", "").strip():
        return pieces_among(session, typed, "spoilt")
    row = _scrap_of(session, entry)
    if row is None:
        raise InputError("Say how many were spoilt too: none are on file for this entry.")
    return row.count


def _mend_spoilt(session: Session, entry: FloorEntry, spoilt: int, reason: str, at: datetime) -> list[str]:
    row = _scrap_of(session, entry)
    was = 0 if row is None else row.count
    if spoilt == was and (row is None or reason in ("", row.reason)):
        return []
    open_for_log(session, entry.job.number, at)
    if row is not None and spoilt == was:
        # Changed in place, without `log_scrap`: its check of the count may fail after a later revision.
        row.reason = reason
    elif row is not None:
        reason = reason or row.reason
        # Deleted and logged anew rather than changed: `log_scrap` checks the new count.
        session.delete(row)
        session.flush()
    if spoilt and spoilt != was:
        day = entry.entered_at.astimezone().date()
        log_scrap(
            session, entry.job.number, entry.mark, spoilt, on=day, today=at.astimezone().date(), at=at,
            reason=reason, person=entry.person, source=source_of(entry.key), was=was,
        )  # fmt: skip
    entry.content = {**entry.content, "spoilt": str(spoilt), "reason": reason}
    return [f"{was} to {spoilt} spoilt" if spoilt != was else f"spoilt: {reason}"]


def _note(entry: FloorEntry, told: str, at: datetime) -> None:
    said = f"{told}, {at.astimezone():%H:%M}"
    entry.mended = "; ".join(filter(None, (entry.mended.rstrip("; "), said)))


def _words(session: Session, entry: FloorEntry, row: TimeEntry) -> str:
    """The entry's present content, in the words in which it was first answered."""
    said = [f"{row.operation}, {plain_number(row.minutes)} min"]
    if good := pieces_among(session, entry.content, "good"):
        said.append(told_pieces(session, entry.job, entry.mark, good, "good"))
    if (scrap := _scrap_of(session, entry)) is not None:
        said.append(told_pieces(session, entry.job, entry.mark, scrap.count, "scrapped"))
    return "; ".join(said)
