"""What is known of a bar is put right on it and all that was cut of it: its heat, and its certificate.

The heat that was typed as the bars came is not changed: the delivery keeps it, and both stand beside one
another. The caller opens a writing session and commits it.
"""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.orders import ReceivedBar
from shopquote.records.rack import RackPiece
from shopquote.services.rack.rack import note_move
from shopquote.services.rack.rack_on_file import find_piece
from shopquote.services.shop.certificates import keep_certificate, refuse_unless_kind

HEAT_MENDED = "heat"
CERTIFIED = "certificate"


def mend_heats(session: Session, codes: Sequence[str], heat: str, reason: str) -> Sequence[RackPiece]:
    """The bars that these pieces are of, with all that was cut from them, are of another heat than was typed.

    Raises:
        NotFoundError: no such piece.
        InputError: no reason, no heat number, or a piece is of this heat already.
    """
    if not reason.strip():
        raise InputError("To put a heat right needs a reason: --reason TEXT.")
    right = HEAT.read(heat, Notation())
    mended: dict[int, RackPiece] = {}
    for code in codes:
        piece = find_piece(session, code)
        if piece.id in mended:
            continue
        if right == piece.heat:
            raise InputError(f"Piece {piece.code} is of heat {right or 'nobody knows'} already.")
        for one in bar_of(session, piece):
            note = f"{one.heat or '-'} to {right or '-'}: {reason.strip()}"
            note_move(session, one, HEAT_MENDED, note=note)
            one.heat = right
            one.version += 1
            mended[one.id] = one
    session.flush()
    return tuple(mended.values())


def certify_bars(
    session: Session, codes: Sequence[str], file: Path, folder: Path, *, kind: str = "", at: datetime
) -> Sequence[RackPiece]:
    """A certificate that came after its bars, or a better copy of it.

    Args:
        session: an open writing session.
        codes: pieces of these bars, also of such as are used.
        file: the certificate as it came; a copy is kept in `folder`, `Database.certificates`.
        kind: type as in EN 10204; empty: as the order asked.
        at: now.

    Returns:
        All pieces of bars of the same heat, section and grade that came with those named.

    Raises:
        NotFoundError: no such piece.
        InputError: no such type, a piece that no delivery brought, or a file that cannot be kept.
    """
    refuse_unless_kind(kind)
    certified: dict[int, RackPiece] = {}
    for code in codes:
        piece = find_piece(session, code)
        came = piece.received_bar
        if came is None:
            raise InputError(
                f"Piece {piece.code} came with no delivery on file; a certificate is kept with its delivery.",
                hint="shopquote receive ORDER puts a delivery on file.",
            )
        of_it = (ReceivedBar.receipt_id == came.receipt_id, ReceivedBar.heat == came.heat,
                 ReceivedBar.section_key == came.section_key, ReceivedBar.grade == came.grade)  # fmt: skip
        bars = session.scalars(select(ReceivedBar).where(*of_it)).all()
        asked = came.receipt.order.certificate_kind
        paper = keep_certificate(session, file, folder, kind=kind or asked, heat=piece.heat, at=at)
        pieces = session.scalars(
            select(RackPiece)
            .where(RackPiece.received_bar_id.in_([bar.id for bar in bars]))
            .order_by(RackPiece.id)
        )
        for one in pieces:
            if one.id not in certified:
                before = one.received_bar.certificate if one.received_bar else None
                note_move(
                    session, one, CERTIFIED, note=f"{before.file_name if before else '-'} to {file.name}"
                )
                certified[one.id] = one
        for bar in bars:
            bar.certificate = paper
    session.flush()
    return tuple(certified.values())


def certificates_of(pieces: Sequence[RackPiece]) -> list[str]:
    """File names of the certificates that came with the bars of these pieces."""
    bars = [piece.received_bar for piece in pieces]
    papers = [bar.certificate.file_name for bar in bars if bar is not None and bar.certificate is not None]
    return list(dict.fromkeys(papers))


def bar_of(session: Session, piece: RackPiece) -> Sequence[RackPiece]:
    """All pieces of the bar that a piece is of, the bar as it came first."""
    top = piece
    while top.parent is not None:
        top = top.parent
    family = [top]
    fresh = [top.id]
    # A generation a step: a bar is cut a few times over at most, so that few questions are asked.
    while fresh:
        cut = session.scalars(
            select(RackPiece).where(RackPiece.parent_id.in_(fresh)).order_by(RackPiece.id)
        ).all()
        family += cut
        fresh = [one.id for one in cut]
    return family
