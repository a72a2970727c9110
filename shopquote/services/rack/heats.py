"""Correct the heat, or add the certificate, of a bar and of all pieces cut from it.

The delivery keeps the heat that was entered when the bars were received, so that both can be shown. The
caller opens a writing session and commits it.
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
    """Set the right heat on the bars that these pieces belong to, and on everything cut from them.

    Returns:
        All pieces that were changed.

    Raises:
        NotFoundError: no such piece.
        InputError: no reason given, not a heat number, or a piece has this heat already.
    """
    if not reason.strip():
        raise InputError("To put a heat right needs a reason: --reason TEXT.")
    right = HEAT.read(heat, Notation())
    mended: dict[int, RackPiece] = {}
    for code in codes:
        piece = find_piece(session, code)
        if piece.id in mended:
            continue
        # Of several codes of one bar only the first is looked at: its whole bar was mended with it.
        if right == piece.heat:
            raise InputError(f"Piece {piece.code} is of heat {right or 'nobody knows'} already.")
        for one in bar_of(session, piece):
            # The move keeps the old heat: papers printed before name it.
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
    """Attach a certificate that arrived after its bars, or a better copy of one.

    Args:
        session: an open writing session.
        codes: pieces of these bars, used ones included.
        file: the certificate as received; a copy is kept in `folder`, `Database.certificates`.
        folder: where certificates are kept.
        kind: type by EN 10204; empty: the type that the order asked for.
        at: the present moment.

    Returns:
        All pieces of the same delivery, heat, section and grade as those named.

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
        paper = keep_certificate(session, file, folder, kind=kind, asked=asked, heat=piece.heat, at=at)
        for bar, pieces in _came_with(session, piece, came.receipt_id).items():
            before = bar.certificate
            _row_of(session, bar, pieces).certificate = paper
            for one in pieces:
                # Two codes of one bar certify it once.
                if one.id not in certified:
                    told = f"{before.file_name if before else '-'} to {paper.file_name}"
                    note_move(session, one, CERTIFIED, note=told)
                    certified[one.id] = one
        session.flush()
    return tuple(certified.values())


def _came_with(session: Session, piece: RackPiece, receipt_id: int) -> dict[ReceivedBar, list[RackPiece]]:
    """Pieces of a delivery with the present heat, section and grade of `piece`, by the delivery's row."""
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
    """A row of the delivery for these bars alone.

    If other bars of the row now have another heat, the row is split: a row has one certificate.
    """
    count = sum(one.parent_id is None for one in pieces)
    if count == bar.count:
        return bar
    # Only some bars of the delivery row have this heat: they get a row of their own with their certificate.
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
    """File names of the certificates that belong to the bars of these pieces, each once."""
    bars = [piece.received_bar for piece in pieces]
    papers = [bar.certificate.file_name for bar in bars if bar is not None and bar.certificate is not None]
    return list(dict.fromkeys(papers))


def bar_of(session: Session, piece: RackPiece) -> Sequence[RackPiece]:
    """All pieces of the bar that a piece was cut from, the bar as received first."""
    top = piece
    while top.parent is not None:
        top = top.parent
    family = [top]
    fresh = [top.id]
    # One query per generation of cuts; a bar is cut a few times over at most.
    while fresh:
        cut = session.scalars(
            select(RackPiece).where(RackPiece.parent_id.in_(fresh)).order_by(RackPiece.id)
        ).all()
        family += cut
        fresh = [one.id for one in cut]
    return family
