"""A heat that was typed wrong is put right on the bar and all that was cut of it.

What was typed as the bars came is not changed: the delivery keeps it, and both stand beside one another.
The caller opens a writing session and commits it.
"""

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.rack import RackPiece
from shopquote.services.rack.rack import note_move
from shopquote.services.rack.rack_on_file import find_piece

HEAT_MENDED = "heat"


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
