"""Take back an entry of a job's log; what it said stays readable, with the reason.

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
from shopquote.services.floor.log_list import BARS, PAYMENT, LogRow, bar_words, logged_so_far
from shopquote.services.floor.time_log import add_to_sum
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import note_move
from shopquote.services.shop.shop_on_file import shop_unit

# Kinds of entry of a closed job that may be taken back, as they change no figure of its closing; an invoice
# only if the job's price stays.
STRUCK_WHEN_CLOSED = (PAYMENT, DELIVERY, "invoice")


def strike_entry(session: Session, number: str, which: int, reason: str, *, at: datetime) -> Logged:
    """Take back entry `which` of the job's log: it no longer counts, and a rack piece lies on the rack again.

    Raises:
        NotFoundError: no such job or entry.
        InputError: no reason, a closed job, an invoice with payments or credits, or an offcut of the piece
            that is no longer free.
    """
    job = find_job(session, number)
    if not reason.strip():
        raise InputError("To take an entry back needs a reason: --reason TEXT.")
    return strike(session, job, _row(session, job, which), reason, at=at)


def strike(session: Session, job: Job, row: LogRow, reason: str, *, at: datetime) -> Logged:
    """Take back a row of the job's log, for a reason.

    Raises:
        InputError: a closed job whose figures would change, an invoice with payments or credits, or an offcut
            of the piece that is no longer free.
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
        note = _bars_back(session, job, entry, reason.strip(), at)
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


def _bars_back(session: Session, job: Job, use: BarUse, reason: str, at: datetime) -> str:
    """Undo a use of bars; returns a note on what a person must still do."""
    piece = use.rack_piece
    if piece is None:
        session.delete(use)
        return (
            "What came back of these bars still lies on the rack: shopquote rack list."
            if use.returned
            else ""
        )
    children = session.scalars(select(RackPiece).where(RackPiece.parent_id == piece.id)).all()
    # Check all before changing any: offcuts may be in use for other jobs.
    for child in children:
        _refuse_in_use(session, piece, child)
    shared = session.scalars(select(BarUse).where(BarUse.rack_piece_id == piece.id)).all()
    others = [one.job.number for one in shared if one.job.state == "closed"]
    if others:
        raise InputError(f"Piece {piece.code} was cut for {', '.join(others)} too, which is closed.")
    # A cut shared by several jobs is undone for all of them, and stays readable in the log of each.
    unit = shop_unit(session)
    for one in shared:
        if one.job_id != job.id:
            session.add(
                StruckEntry(
                    job_id=one.job_id, day=one.used_on, kind=BARS, what=bar_words(one, unit), struck_at=at,
                    cost=one.cost - one.credit, reason=f"{reason} (taken back with {job.number})",
                )
            )  # fmt: skip
        session.delete(one)
    for child in children:
        # The moves refer to the offcut, so they go before it.
        session.execute(delete(RackMove).where(RackMove.piece_id == child.id))
        session.delete(child)
    session.flush()
    owner = piece.used_job_id
    # Both the column and the loaded relationship: the session would write the old job back.
    piece.used_job_id = None
    piece.used_job = None
    piece.promised_job_id = owner
    piece.state = "promised" if owner is not None else "free"
    piece.version += 1  # whoever read the piece before must not store over this
    gone = f"; {', '.join(child.code for child in children)} never was" if children else ""
    note_move(
        session, piece, "taken back", job_id=job.id, length=piece.length, note=f"not cut after all{gone}"
    )
    return f"{piece.code} lies on the rack again, promised as before{gone}."


def _refuse_in_use(session: Session, piece: RackPiece, child: RackPiece) -> None:
    cut = session.scalar(select(RackPiece.id).where(RackPiece.parent_id == child.id).limit(1))
    # Undoing the bar would take away an offcut that another job already counts on.
    if child.state != "free" or cut is not None:
        raise InputError(
            f"{child.code}, which came back of {piece.code}, is {child.state}; take that back first.",
            hint=f"Its history: shopquote rack trace {child.code}",
        )
