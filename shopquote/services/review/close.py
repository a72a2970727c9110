"""Close a finished job: its figures are fixed and stay on file, even if it is reopened.

The caller opens a writing session and commits it. Begin at `close_job`.
"""

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.variance import Variance, add_up
from shopquote.errors import InputError
from shopquote.records.closings import ASSUMED_BETWEEN, Closing, ClosingLine
from shopquote.records.jobs import Job
from shopquote.records.rack import RackPiece
from shopquote.services.floor.time_log import running_timers
from shopquote.services.jobs.job_states import STATES_ASKED, move_job
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.review.job_review import JobReview, missing_of, quote_of, work_out, write_snapshot
from shopquote.services.review.missing import Missing
from shopquote.services.shop.shop_on_file import refuse_ahead

# The reason on bars that closing books as used, by which a person can find and undo them.
SAWN_UNLOGGED = "taken as sawn on closing: nobody logged it"


def close_job(
    session: Session, number: str, *, on: date, at: datetime, nothing: Collection[str] = ()
) -> JobReview:
    """Fix a job's figures; a started job is finished first.

    What the quote plans and nobody logged counts as quoted, and is marked as assumed: unlogged work was not
    free. Bars that lie promised to the job count as sawn.

    Args:
        session: open and writing; the caller commits.
        number: of the job.
        on: the day of closing.
        at: the present moment.
        nothing: names, as of `missing_of`, of missing entries that really cost nothing.

    Raises:
        NotFoundError: no such job, or a name in `nothing` is not missing.
        InputError: the job is not started or finished, has no quote, a timer still runs on it, or the day is
            in the future.
    """
    job = find_job(session, number)
    refuse_ahead(on, at.date())
    if job.state not in ("started", "finished"):
        raise InputError(
            f"{job.number} is {job.state}; only a started or finished job can be closed.", hint=_way(job)
        )
    running = running_timers(session, job=job)
    if running:
        entry = running[0]
        person = f" --person {entry.person!r}" if entry.person else ""
        raise InputError(
            f"A timer of {entry.person or 'somebody'} still runs on {job.number}, {entry.operation}.",
            hint=f"Stop it first: shopquote log {job.number} --stop{person}",
        )
    # Before the bars are booked as sawn: until then they count as missing, which decides what is booked.
    missing = missing_of(session, job).without(nothing)
    _saw_bars(session, job, missing, on)
    # With the answer of before the booking: what was taken as sawn still counts as not logged.
    review = work_out(session, job, closing=missing)
    # A started job passes through finished, so that its history has every state.
    for state in ("closed",) if job.state == "finished" else ("finished", "closed"):
        move_job(job, state, at=at)
    session.flush()
    return _store(session, job, review, on, at)


def reopen_job(session: Session, number: str, reason: str, *, on: date, at: datetime) -> Job:
    """Reopen a closed job for late entries; the figures of its closing stay on file.

    Raises:
        NotFoundError: no such job.
        InputError: the job is not closed, no reason is given, or the day is in the future.
    """
    job = find_job(session, number)
    refuse_ahead(on, at.date())
    if job.state != "closed":
        raise InputError(f"{job.number} is {job.state}, not closed.")
    if not reason.strip():
        raise InputError(f"Opening {job.number} again needs a reason.")
    standing = session.scalars(
        select(Closing).where(Closing.job_id == job.id, Closing.reopened_on.is_(None))
    ).all()
    # Marked, not deleted: somebody was paid or informed by these figures.
    for closing in standing:
        closing.reopened_on = on
        closing.reason = reason.strip()
    move_job(job, "finished", at=at, reason=reason.strip())
    session.flush()
    return job


def _saw_bars(session: Session, job: Job, missing: Missing, on: date) -> None:
    """Book bars promised to the job alone as sawn, if nobody logged their material: somebody forgot to."""
    names = {
        (row.section_key, row.grade): f"{row.section_text} {row.grade}"
        for row in quote_of(session, job).materials
    }
    ready = session.scalars(
        select(RackPiece).where(RackPiece.promised_job_id == job.id).order_by(RackPiece.id)
    ).all()
    for piece in ready:
        shared = any(share.job_id != job.id for share in piece.shares)
        # A shared bar is left: other jobs may not have sawn their part of it yet.
        if not shared and names.get((piece.section_key, piece.grade)) in missing.material:
            use_bar(session, piece.code, job.number, used_on=on, reason=SAWN_UNLOGGED)


def _store(session: Session, job: Job, review: JobReview, on: date, at: datetime) -> JobReview:
    # Reopened closings count too: each can be printed again by its number.
    number = len(session.scalars(select(Closing.id).where(Closing.job_id == job.id)).all()) + 1
    # The state and the number go into the sealed text, so that a print of it says what it is.
    kept = _as_closed(review, on, number)
    closing = closing_row(kept, job.id)
    closing.closed_on, closing.closed_at = on, at
    session.add(closing)
    session.flush()
    return kept


def closing_row(review: JobReview, job_id: int, text: str | None = None) -> Closing:
    """New rows of a closed job's review, without its day, not yet in a session; `text` is its stored text if
    made.
    """
    total = review.total
    closing = Closing(
        job_id=job_id, price=review.price, cost_estimated=total.estimated, cost_actual=total.actual,
        minutes_estimated=total.minutes_estimated, minutes_actual=total.minutes_actual,
        snapshot=text or write_snapshot(review), assumed=ASSUMED_BETWEEN.join(review.assumed),
    )  # fmt: skip
    closing.lines = [_line(row) for row in closing_lines(review)]
    return closing


def _as_closed(review: JobReview, on: date, number: int) -> JobReview:
    return replace(review, state="closed", closed_on=on.isoformat(), done_on=on.isoformat(), closing=number)


def closing_lines(review: JobReview) -> list[Variance]:
    """Cost lines that a closing stores in columns: labour by operation, each other category as one."""
    lines = [line for line in review.lines if line.category == "labour"]
    for name in CATEGORIES:
        rows = [line for line in review.lines if line.category == name]
        # Only labour is reviewed by operation; of the other categories only sums are queried.
        if name != "labour" and rows:
            lines.append(add_up(rows, name, ""))
    return lines


def _line(row: Variance) -> ClosingLine:
    # Rounded to the column's step; the stored text keeps all digits.
    step = Decimal("0.000001")
    return ClosingLine(
        category=row.category, operation=row.name if row.category == "labour" else "",
        estimated=row.estimated, actual=row.actual, minutes_estimated=row.minutes_estimated.quantize(step),
        minutes_actual=row.minutes_actual.quantize(step), part_quantity=row.quantity, part_time=row.time,
        part_rate=row.rate, part_price=row.price,
    )  # fmt: skip


def _way(job: Job) -> str | None:
    if job.state == "closed":
        return f'Open it again with a reason: shopquote close {job.number} --reopen "why"'
    if job.state in (*STATES_ASKED, "won"):
        return f"Log what was done on it first: shopquote log {job.number} --operation NAME --minutes M"
    return None
