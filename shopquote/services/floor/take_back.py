"""Take back what was logged on a job by mistake; what it said stays readable, with the reason.

Begin at `strike_entry`. The caller opens a writing session and commits it.
"""

from datetime import datetime
from decimal import Decimal

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.records.jobs import Job
from shopquote.records.logs import Invoice, Payment, StruckEntry, TimeEntry
from shopquote.records.rack import BarUse, RackMove, RackPiece
from shopquote.services.floor.bill_log import refuse_other_price
from shopquote.services.floor.delivery_note import DELIVERY
from shopquote.services.floor.log import Logged
from shopquote.services.floor.log_list import PAYMENT, LogRow, logged_so_far
from shopquote.services.floor.time_log import add_to_sum
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import note_move

# What of a closed job may be taken back: it changes none of the figures that the closing holds. An invoice
# only where the price stays.
STRUCK_WHEN_CLOSED = (PAYMENT, DELIVERY, "invoice")


def strike_entry(session: Session, number: str, which: int, reason: str, *, at: datetime) -> Logged:
    """Strike entry `which` of the job's list: it no longer counts, a rack piece lies on the rack again.

    Raises:
        NotFoundError: no such job or entry.
        InputError: no reason, a closed job, an invoice with payments or credits, or an offcut of the piece
            that is not free any more.
    """
    job = find_job(session, number)
    if not reason.strip():
        raise InputError("To take an entry back needs a reason: --reason TEXT.")
    # Looked up by its place in the list that the person sees; struck rows have none.
    return strike(session, job, _row(session, job, which), reason, at=at)


def strike(session: Session, job: Job, row: LogRow, reason: str, *, at: datetime) -> Logged:
    """Strike a row of the job's list, for a reason.

    Raises:
        InputError: a closed job whose figures it would change, an invoice with payments or credits, or an
            offcut of the piece that is not free any more.
    """
    if job.state == "closed" and row.kind not in STRUCK_WHEN_CLOSED:
        raise InputError(
            f"{job.number} is closed; its figures stand.",
            hint=f'Open it again first: shopquote close {job.number} --reopen "why"',
        )
    entry = session.get_one(row.table, row.id)
    if isinstance(entry, Invoice):
        if job.state == "closed":
            refuse_other_price(session, job, -entry.amount, entry.kind)
        _refuse_where_referred_to(session, job, entry)
    note = ""
    if isinstance(entry, TimeEntry):
        add_to_sum(session, entry, sign=-1)
    if isinstance(entry, BarUse):
        note = _bars_back(session, job, entry)
    else:
        session.delete(entry)
    session.add(
        StruckEntry(
            job_id=job.id, day=row.day, kind=row.kind, what=row.what, person=row.person, minutes=row.minutes,
            cost=row.cost, struck_at=at, reason=reason.strip(),
        )
    )  # fmt: skip
    session.flush()
    minutes = row.minutes or Decimal(0)
    return Logged(job.number, f"taken back: {row.kind}, {row.what}", -row.cost, -minutes, note)


def _refuse_where_referred_to(session: Session, job: Job, paper: Invoice) -> None:
    for name, refers in (("payments", Payment.invoice_id), ("credits", Invoice.lowers_id)):
        if session.scalar(select(refers).where(refers == paper.id).limit(1)):
            raise InputError(
                f"Invoice {paper.number} has {name}; take them back first.",
                hint=f"Their numbers: shopquote log {job.number}",
            )


def _row(session: Session, job: Job, which: int) -> LogRow:
    rows = [row for row in logged_so_far(session, job.number).rows if row.number]
    found = next((row for row in rows if row.number == which), None)
    if found is None:
        there = f"1 to {len(rows)}" if rows else "none"
        raise NotFoundError(
            f"{job.number} has no entry {which}; there are {there}.",
            hint=f"See their numbers: shopquote log {job.number}",
        )
    return found


def _bars_back(session: Session, job: Job, use: BarUse) -> str:
    """Bars that were not used after all; returns what a person must still do."""
    piece = use.rack_piece
    if piece is None:
        session.delete(use)
        return (
            "What came back of these bars still lies on the rack: shopquote rack list."
            if use.returned
            else ""
        )
    children = session.scalars(select(RackPiece).where(RackPiece.parent_id == piece.id)).all()
    # All are looked at before anything is changed: what came back may have gone on to other jobs.
    for child in children:
        _refuse_in_use(session, piece, child)
    shared = session.scalars(select(BarUse).where(BarUse.rack_piece_id == piece.id)).all()
    others = [one.job.number for one in shared if one.job.state == "closed"]
    if others:
        raise InputError(f"Piece {piece.code} was cut for {', '.join(others)} too, which is closed.")
    # One cut served several jobs: each bore its share, and none of them had the bar now.
    for one in shared:
        session.delete(one)
    for child in children:
        session.execute(delete(RackMove).where(RackMove.piece_id == child.id))
        session.delete(child)
    session.flush()
    owner = piece.used_job_id
    piece.used_job_id = None
    piece.used_job = None
    piece.promised_job_id = owner
    piece.state = "promised" if owner is not None else "free"
    # Somebody who read the piece before must not store over this.
    piece.version += 1
    gone = f"; {', '.join(child.code for child in children)} never was" if children else ""
    note_move(
        session, piece, "taken back", job_id=job.id, length=piece.length, note=f"not cut after all{gone}"
    )
    return f"{piece.code} lies on the rack again, promised as before{gone}."


def _refuse_in_use(session: Session, piece: RackPiece, child: RackPiece) -> None:
    cut = session.scalar(select(RackPiece.id).where(RackPiece.parent_id == child.id).limit(1))
    if child.state != "free" or cut is not None:
        raise InputError(
            f"{child.code}, which came back of {piece.code}, is {child.state}; take that back first.",
            hint=f"Its history: shopquote rack trace {child.code}",
        )
