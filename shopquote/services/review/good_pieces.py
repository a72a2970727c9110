"""Whether a job has as many good pieces as it asks for, by counts and scrap entered on the floor."""

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
    """Marks with too few good pieces, in words; empty if all is delivered or the floor counts nothing.

    Of several operations that counted a mark, the last in the order of work decides.
    """
    good = _last_counts(good_pieces(session, job))
    spoilt = _spoilt(session, job)
    if not (good or spoilt):
        return ()
    # What was delivered was good enough, whatever was counted.
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
    """By mark, the good pieces at the last operation that counted them, and that operation."""
    latest: dict[str, tuple[int, str]] = {}
    # In the order of the work, so that the last operation's count stays: pieces may be spoilt at each.
    for mark, operation, count in sorted(counted, key=lambda row: _place(row[1])):
        latest[mark] = (count, operation)
    return latest


def _place(operation: str) -> int:
    return OPERATIONS.index(operation) if operation in OPERATIONS else -1


def _spoilt(session: Session, job: Job) -> dict[str, int]:
    query = select(ScrapNote.mark, func.sum(ScrapNote.count)).where(ScrapNote.job_id == job.id)
    return {mark: int(count) for mark, count in session.execute(query.group_by(ScrapNote.mark))}
