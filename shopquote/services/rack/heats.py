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
        asked = came.receipt.order.certificate_kind
        paper = keep_certificate(session, file, folder, kind=kind or asked, heat=piece.heat, at=at)
        # The same content may be on file already, without its type or with another.
        paper.kind = kind or paper.kind
        for bar, pieces in _came_with(session, piece, came.receipt_id).items():
            before = bar.certificate
            _row_of(session, bar, pieces).certificate = paper
            for one in pieces:
                if one.id not in certified:
                    told = f"{before.file_name if before else '-'} to {paper.file_name}"
                    note_move(session, one, CERTIFIED, note=told)
                    certified[one.id] = one
        session.flush()
    return tuple(certified.values())


def _came_with(session: Session, piece: RackPiece, receipt_id: int) -> dict[ReceivedBar, list[RackPiece]]:
    """The pieces of a delivery that are of the piece's heat, as it is known now, by the row they came in."""
    query = select(RackPiece, ReceivedBar).join(RackPiece.received_bar).order_by(RackPiece.id)
    query = query.where(
        ReceivedBar.receipt_id == receipt_id, RackPiece.heat == piece.heat,
        RackPiece.section_key == piece.section_key, RackPiece.grade == piece.grade,
    )  # fmt: skip
    found: dict[ReceivedBar, list[RackPiece]] = {}
    for one, bar in session.execute(query):
        found.setdefault(bar, []).append(one)
    return found


def _row_of(session: Session, bar: ReceivedBar, pieces: Sequence[RackPiece]) -> ReceivedBar:
    """The delivery's row of these bars alone: parted where others in it are of another heat by now."""
    count = sum(one.parent_id is None for one in pieces)
    if count == bar.count:
        return bar
    parted = ReceivedBar(
        receipt=bar.receipt, order_line=bar.order_line, section_key=bar.section_key,
        section_text=bar.section_text, grade=bar.grade, length=bar.length, length_text=bar.length_text,
        count=count, heat=bar.heat, charged=bar.charged,
    )  # fmt: skip
    bar.count -= count
    session.add(parted)
    for one in pieces:
        one.received_bar = parted
    return parted


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
