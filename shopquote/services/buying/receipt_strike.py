"""Take back a delivery that was put on file by mistake; what it said stays readable, with the reason.

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
from shopquote.records.orders import Order, Receipt
from shopquote.records.rack import RackMove, RackPiece
from shopquote.services.buying.orders_on_file import find_order


@dataclass(frozen=True, slots=True)
class StruckReceipt:
    """A delivery that no longer counts: the order as it stands now and the rack codes that are gone."""

    order: str
    state: str
    what: str
    codes: tuple[str, ...]


def strike_receipt(session: Session, number: str, which: int, reason: str, *, at: datetime) -> StruckReceipt:
    """Take back delivery `which` of an order, its first being 1: its bars leave the rack and are open again.

    Prices that it put on a supplier's list stay.

    Raises:
        NotFoundError: no such order or delivery.
        InputError: no reason, or a bar of it was cut, scrapped or stands in a cut already.
    """
    order = find_order(session, number)
    if not reason.strip():
        raise InputError("To take a delivery back needs a reason: --reason TEXT.")
    receipts = session.scalars(select(Receipt).where(Receipt.order_id == order.id).order_by(Receipt.id)).all()
    if not 1 <= which <= len(receipts):
        there = f"1 to {len(receipts)}" if receipts else "none"
        raise NotFoundError(f"{order.number} has no delivery {which}; there are {there}.")
    receipt = receipts[which - 1]
    pieces = session.scalars(
        select(RackPiece)
        .where(RackPiece.received_bar_id.in_([bar.id for bar in receipt.bars]))
        .order_by(RackPiece.id)
    ).all()
    _refuse_used(order, which, pieces)
    what = ", ".join(
        f"{bar.count} x {bar.section_text} {bar.grade}" + (f" heat {bar.heat}" if bar.heat else "")
        for bar in receipt.bars
    )
    for bar in receipt.bars:
        if bar.order_line is not None:
            bar.order_line.received -= bar.count
    codes = tuple(piece.code for piece in pieces)
    for piece in pieces:
        session.execute(delete(RackMove).where(RackMove.piece_id == piece.id))
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


def _refuse_used(order: Order, which: int, pieces: Sequence[RackPiece]) -> None:
    touched = [piece for piece in pieces if piece.state not in ("free", "promised") or piece.parent_id]
    if touched:
        names = ", ".join(f"{piece.code} is {piece.state}" for piece in touched[:5])
        raise InputError(
            f"Delivery {which} of {order.number} cannot be taken back: {names}.",
            hint="Take back what was logged of these bars first: shopquote log JOB --strike N",
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
