"""Whether as many good pieces were made as a job asks for, by what the floor counted and spoilt."""

from collections.abc import Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.job import OPERATIONS
from shopquote.records.jobs import Job
from shopquote.records.logs import ScrapNote
from shopquote.services.floor.delivery_note import left_to_deliver
from shopquote.services.floor.entries import good_pieces
from shopquote.services.floor.log import pieces_to_make


def short_of_good(session: Session, job: Job) -> tuple[str, ...]:
    """What says that good pieces are missing, in words, by mark; nothing where all is delivered.

    A shop that counts nothing and spoils nothing is not asked. What the last operation counted stands.
    """
    good = _last_counts(good_pieces(session, job))
    spoilt = _spoilt(session, job)
    if not (good or spoilt):
        return ()
    if not left_to_deliver(session, job):
        return ()
    told = (_doubt(mark, count, good, spoilt) for mark, count in pieces_to_make(session, job).items())
    return tuple(words for words in told if words)


def _doubt(mark: str, asked: int, good: Mapping[str, tuple[int, str]], spoilt: Mapping[str, int]) -> str:
    lost = f", {spoilt[mark]} spoilt" if mark in spoilt else ""
    if mark in good:
        count, operation = good[mark]
        return f"{mark}: {count} of {asked} good at {operation}{lost}" if count < asked else ""
    return f"{mark}: no good piece counted of {asked}{lost}" if good or lost else ""


def _last_counts(counted: list[tuple[str, str, int]]) -> dict[str, tuple[int, str]]:
    """By mark, how many were good at the last operation that counted them, and which that is."""
    latest: dict[str, tuple[int, str]] = {}
    for mark, operation, count in sorted(counted, key=lambda row: _place(row[1])):
        latest[mark] = (count, operation)
    return latest


def _place(operation: str) -> int:
    return OPERATIONS.index(operation) if operation in OPERATIONS else -1


def _spoilt(session: Session, job: Job) -> dict[str, int]:
    query = select(ScrapNote.mark, func.sum(ScrapNote.count)).where(ScrapNote.job_id == job.id)
    return {mark: int(count) for mark, count in session.execute(query.group_by(ScrapNote.mark))}
