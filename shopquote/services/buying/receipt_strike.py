"""Take back a delivery that was recorded by mistake; what it said stays readable, with the reason.

The caller opens a writing session and commits it. Begin at `strike_receipt`.
"""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError, NotFoundError
from shopquote.records.logs import StruckEntry
from shopquote.records.orders import Order, Receipt, ReceivedBar
from shopquote.records.rack import RackMove, RackPiece
from shopquote.services.buying.orders_on_file import find_order


@dataclass(frozen=True, slots=True)
class DeliveryOnFile:
    """A delivery of an order: its number there, its bars with their rack codes, and pieces that forbid its
    removal.
    """

    which: int
    receipt: Receipt
    bars: tuple[tuple[ReceivedBar, tuple[str, ...]], ...]
    held_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StruckReceipt:
    """Result of taking a delivery back: the order's number and state, its bars in words, codes removed."""

    order: str
    state: str
    what: str
    codes: tuple[str, ...]


def deliveries(session: Session, order: Order) -> list[DeliveryOnFile]:
    """The deliveries of an order, oldest first, numbered from 1."""
    found = []
    for which, receipt in enumerate(_receipts(session, order), start=1):
        pieces = _pieces(session, receipt)
        codes = {
            bar.id: tuple(
                piece.code for piece in pieces if piece.received_bar_id == bar.id and piece.parent_id is None
            )
            for bar in receipt.bars
        }
        bars = tuple((bar, codes[bar.id]) for bar in receipt.bars)
        found.append(DeliveryOnFile(which, receipt, bars, _held_by(pieces)))
    return found


def _receipts(session: Session, order: Order) -> Sequence[Receipt]:
    return session.scalars(select(Receipt).where(Receipt.order_id == order.id).order_by(Receipt.id)).all()


def _pieces(session: Session, receipt: Receipt) -> Sequence[RackPiece]:
    ids = [bar.id for bar in receipt.bars]
    query = select(RackPiece).where(RackPiece.received_bar_id.in_(ids)).order_by(RackPiece.id)
    return session.scalars(query).all()


def strike_receipt(session: Session, number: str, which: int, reason: str, *, at: datetime) -> StruckReceipt:
    """Take back delivery `which` of an order, counted from 1: its bars leave the rack and are open again.

    Prices that it put on a supplier's list stay.

    Raises:
        NotFoundError: no such order or delivery.
        InputError: no reason given, or a bar of it was cut or scrapped.
    """
    order = find_order(session, number)
    if not reason.strip():
        raise InputError("To take a delivery back needs a reason: --reason TEXT.")
    receipts = _receipts(session, order)
    if not 1 <= which <= len(receipts):
        there = f"1 to {len(receipts)}" if receipts else "none"
        raise NotFoundError(f"{order.number} has no delivery {which}; there are {there}.")
    receipt = receipts[which - 1]
    pieces = _pieces(session, receipt)
    _refuse_used(order, which, pieces)
    what = ", ".join(
        f"{bar.count} x {bar.section_text} {bar.grade}" + (f" heat {bar.heat}" if bar.heat else "")
        for bar in receipt.bars
    )
    _expect_again(order, receipt)
    codes = tuple(piece.code for piece in pieces)
    # Moves refer to their piece, so they go first.
    session.execute(delete(RackMove).where(RackMove.piece_id.in_([piece.id for piece in pieces])))
    for piece in pieces:
        session.delete(piece)
    session.flush()
    paid = receipt.charged_total or Decimal(0)
    session.add(
        StruckEntry(
            order_id=order.id, day=receipt.received_on, kind="delivery", what=what, cost=paid, struck_at=at,
            reason=reason.strip(),
        )
    )  # fmt: skip
    session.delete(receipt)
    order.state = "part received" if any(line.received for line in order.lines) else "placed"
    session.flush()
    return StruckReceipt(order.number, order.state, what, codes)


def _expect_again(order: Order, receipt: Receipt) -> None:
    """Expect the bars of a delivery again, and what it said would not come; not what was cancelled apart."""
    for bar in receipt.bars:
        if bar.order_line is not None:
            bar.order_line.received -= bar.count
    for line in order.lines if receipt.last else ():
        line.cancelled = 0


def _refuse_used(order: Order, which: int, pieces: Sequence[RackPiece]) -> None:
    if touched := _held_by(pieces):
        raise InputError(
            f"Delivery {which} of {order.number} cannot be taken back: {', '.join(touched[:5])}.",
            hint="Take back what was logged of these bars first: shopquote log JOB --strike N",
        )


def _held_by(pieces: Sequence[RackPiece]) -> tuple[str, ...]:
    """Pieces of a delivery that were cut or scrapped since, in words."""
    return tuple(
        f"{piece.code} is {piece.state}"
        for piece in pieces
        if piece.state not in ("free", "promised") or piece.parent_id
    )


def struck_receipts(session: Session, order: Order) -> tuple[str, ...]:
    """Deliveries of an order that were taken back, a line each."""
    rows = session.scalars(
        select(StruckEntry).where(StruckEntry.order_id == order.id).order_by(StruckEntry.id)
    )
    return tuple(
        f"Taken back on {row.struck_at.date()}, a delivery of {row.day}: {row.what}; {row.reason}"
        for row in rows
    )
