"""The rack: pieces are added, promised, moved, scrapped and found again.

Every function takes an open writing session (`Database.session()`). There is one at a time over all
processes, so that what is read here stays true until the caller commits, and no piece is promised or used
twice.

Laws: a piece has one origin (received, cut from another piece, or added by hand) and one state; lengths cut
from a piece never exceed it. Begin at `add_pieces` and `promise_pieces`; bars are used in `rack_uses`, found
and listed in `rack_on_file`.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.sections import Section
from shopquote.calc.money import round_rate
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.jobs import Job
from shopquote.records.rack import RackMove, RackPiece, RackPieceJob
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.jobs.promises import Released, free_promised, give_up_bars
from shopquote.services.rack.rack_on_file import LIVE, find_piece, place_on_file
from shopquote.services.shop import clock
from shopquote.services.shop.database import next_number

# --- adding -----------------------------------------------------------------------------------


def add_pieces(
    session: Session,
    section: Section,
    section_text: str,
    grade: str,
    length: Measure,
    *,
    count: int = 1,
    heat: str = "",
    place: str = "",
    cost: Decimal = Decimal(0),
    note: str = "",
    on: date | None = None,
    code: str = "",
) -> tuple[RackPiece, ...]:
    """Add bars that no delivery brought, each under a code of its own; `cost` is per bar.

    A single piece may bring its `code` from another rack; the caller then advances the running number.

    Raises:
        InputError: no length, count below 1 or over 10 000, cost below zero, or not a heat number.
    """
    if length.length.nm <= 0:
        raise InputError(f"Length is {length.text!r}; a piece needs a length above zero.")
    if not 1 <= count <= 10_000:
        raise InputError(f"Count is {count}; expected 1 to 10000.")
    if cost < 0:
        raise InputError(f"Cost is {cost}; expected at least 0.")
    place = place_on_file(session, place)
    pieces = tuple(
        new_piece(
            session,
            RackPiece(
                code=code, promised_job=None, section_key=section.key, section_text=section_text, grade=grade,
                length=length.length,
                length_text=length.text, heat=HEAT.read(heat, Notation()), place=place,
                cost=round_rate(cost), note=note, made_on=on or clock.now().date(),
            ),
            "added",
        )
        for _ in range(count)
    )  # fmt: skip
    session.flush()
    return pieces


def new_piece(session: Session, piece: RackPiece, kind: str, *, job_id: int | None = None) -> RackPiece:
    """Store a piece under its own code or the next one, and note the move that brought it."""
    # Stored at once: the move below needs the piece's id.
    piece.code = piece.code or next_number(session, "R")
    piece.state = piece.state or "free"
    session.add(piece)
    session.flush()
    note_move(session, piece, kind, job_id=job_id, length=piece.length)
    return piece


# --- promises ---------------------------------------------------------------------------------


def promise_pieces(
    session: Session,
    codes: Sequence[str],
    job_number: str,
    *,
    load: Sequence[tuple[str, str, Length, int]] = (),
) -> tuple[RackPiece, ...]:
    """Promise free pieces to a job: all of them or, with an error, none.

    `load` says what will be cut from each piece, as (job number, mark, length, count); empty where unknown. A
    piece that is promised to this job already stays so.

    Raises:
        InputError: the job is over, or a piece is promised to another job, used or scrapped.
        NotFoundError: a piece or job is not on file.
    """
    job = find_job(session, job_number)
    if job.state in STATES_OVER:
        raise InputError(f"Job {job.number} is {job.state}; nothing can be promised to it.")
    # Check all before promising any: an error leaves every piece as it was.
    pieces = tuple(find_piece(session, code) for code in dict.fromkeys(codes))
    for piece in pieces:
        # Promising again to its own job is no fault: an order planned anew does so with each of its bars.
        if piece.state != "free" and piece.promised_job_id != job.id:
            raise InputError(why_not_free(session, piece))
    for piece in pieces:
        if piece.state == "free":
            piece.state = "promised"
            piece.promised_job = job
            piece.promised_job_id = job.id
            piece.version += 1
            note_move(session, piece, "promised", job_id=job.id)
        share_piece(session, piece, load)
    session.flush()
    return pieces


def share_piece(session: Session, piece: RackPiece, load: Iterable[tuple[str, str, Length, int]]) -> None:
    """Record which job will cut what from a piece, replacing earlier records; `load` as of `promise_pieces`.

    Raises:
        NotFoundError: a job is not on file.
    """
    wanted: dict[int, list[list[Any]]] = {}
    for number, mark, length, count in load:
        wanted.setdefault(find_job(session, number).id, []).append([mark, length.nm, count])
    # The job it is promised to has a share even if no cuts are known: it bears the cost.
    if piece.promised_job_id is not None:
        wanted.setdefault(piece.promised_job_id, [])
    old = {share.job_id: share for share in piece.shares}
    for job_id, pieces in wanted.items():
        share = old.pop(job_id, None)
        if share is None:
            share = RackPieceJob(job_id=job_id)
            piece.shares.append(share)
        # Without kerfs: cost, kerfs and rest are shared out in proportion to these lengths.
        share.length = Length(sum(nm * count for _, nm, count in pieces))
        share.pieces = pieces
    # The load given is the whole plan of the piece: jobs that it no longer names lose their share.
    for share in old.values():
        piece.shares.remove(share)


def release_promises(session: Session, job_number: str | None = None, codes: Sequence[str] = ()) -> Released:
    """Free the named pieces, or all that are promised to a job; returns what became of them.

    Of all that are promised to a job, a piece with cuts of another job goes over to that one.

    Raises:
        InputError: a named piece is not promised, or to another job than the named one.
        NotFoundError: the job or a piece is not on file.
    """
    job = None if job_number is None else find_job(session, job_number)
    pieces = [find_piece(session, code) for code in dict.fromkeys(codes)]
    for piece in pieces:
        if piece.state != "promised":
            raise InputError(f"Piece {piece.code} is {piece.state}, not promised.")
        if job is not None and piece.promised_job_id != job.id:
            raise InputError(f"Piece {piece.code} is not promised to {job.number}.")
    if job is not None and not pieces:
        return give_up_bars(session, job)
    free_promised(session, pieces)
    return Released(tuple(piece.code for piece in pieces))


# --- leaving and moving -----------------------------------------------------------------------


def scrap_piece(session: Session, code: str, reason: str, *, kind: str = "scrapped") -> RackPiece:
    """Take a free piece off the rack as scrapped, sold or lost; `kind` is the word of the noted move.

    Raises:
        InputError: promised, used or scrapped already.
        NotFoundError: no such piece.
    """
    piece = find_piece(session, code)
    if piece.state != "free":
        raise InputError(
            why_not_free(session, piece),
            hint=f"Release it first: shopquote rack release {piece.code}"
            if piece.state == "promised"
            else None,
        )
    piece.state = "scrapped"
    piece.version += 1
    note_move(session, piece, kind, length=piece.length, note=reason)
    session.flush()
    return piece


def find_again(session: Session, piece: RackPiece, note: str) -> None:
    """Put a piece that a count had written off as lost back on the rack, free, with its heat and cost.

    Raises:
        InputError: it was not written off as lost.
    """
    if not was_lost(session, piece):
        raise InputError(why_not_free(session, piece))
    piece.state = "free"
    piece.version += 1
    note_move(session, piece, "found", length=piece.length, note=note)
    session.flush()


def was_lost(session: Session, piece: RackPiece) -> bool:
    """Whether a piece was written off because a count did not find it."""
    # The piece's state is "scrapped" in any case; only its last move says why.
    last = select(RackMove.kind).where(RackMove.piece_id == piece.id).order_by(RackMove.id.desc()).limit(1)
    return piece.state == "scrapped" and session.scalar(last) == "lost"


def move_piece(session: Session, code: str, place: str) -> RackPiece:
    """Change the place where a piece lies.

    Raises:
        InputError: it is not on the rack any more.
        NotFoundError: no such piece.
    """
    piece = find_piece(session, code)
    if piece.state not in LIVE:
        raise InputError(f"Piece {piece.code} is {piece.state}; it is not on the rack.")
    place = place_on_file(session, place)
    note_move(session, piece, "moved", note=f"{piece.place or '-'} to {place or '-'}")
    piece.place = place
    piece.version += 1
    session.flush()
    return piece


# --- helpers ----------------------------------------------------------------------------------


def why_not_free(session: Session, piece: RackPiece) -> str:
    """Message for a piece that cannot be taken: promised, used or scrapped, and for which job."""
    owner_id = piece.promised_job_id or piece.used_job_id
    owner = session.get(Job, owner_id) if owner_id is not None else None
    if piece.state == "promised" and owner is not None:
        return f"Piece {piece.code} is promised to job {owner.number}."
    if piece.state == "used" and owner is not None:
        return f"Piece {piece.code} was used for job {owner.number}."
    return f"Piece {piece.code} is {piece.state}."


def note_move(
    session: Session,
    piece: RackPiece,
    kind: str,
    *,
    job_id: int | None = None,
    length: Length | None = None,
    note: str = "",
) -> None:
    """Add a move to the history of a piece."""
    session.add(
        RackMove(piece_id=piece.id, kind=kind, job_id=job_id, at=clock.now(), length=length, note=note)
    )
