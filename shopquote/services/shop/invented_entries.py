"""Invented entries on file, to try the program with: refuse to order from them, list them, remove them.

Begin at `drop_invented`.
"""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError
from shopquote.records.benders import BenderRow
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.shop.invented_words import INVENTED_WORD
from shopquote.services.shop.shop_on_file import the_shop


@dataclass(frozen=True, slots=True)
class Dropped:
    """How many invented suppliers, bars and benders were removed, and suppliers kept because orders name
    them.
    """

    suppliers: int
    bars: int
    benders: int
    kept: tuple[str, ...]


def refuse_invented_suppliers(session: Session, suppliers: Iterable[Supplier]) -> None:
    """Refuse to order from an invented supplier, unless the shop is the invented one.

    Raises:
        InputError: one of the suppliers is invented, and the shop is not.
    """
    names = sorted({supplier.name for supplier in suppliers if supplier.invented})
    if names and not the_shop(session).invented:
        raise InputError(
            f"{', '.join(names)} is invented, to try the program with; nothing can be ordered there.",
            hint="Put your own suppliers and prices on file (shopquote suppliers, stock), "
            "and take the invented ones out: shopquote setup --drop-invented",
        )


def invented_benders(session: Session, names: Iterable[str | None]) -> tuple[str, ...]:
    """Those of the named benders that are invented starting entries; None among the names is skipped."""
    wanted = {name for name in names if name}
    if not wanted:
        return ()
    query = select(BenderRow.name).where(BenderRow.name.in_(wanted), BenderRow.note.startswith(INVENTED_WORD))
    return tuple(session.scalars(query))


def has_invented(session: Session) -> bool:
    """Whether a shop with its own name still has invented suppliers or benders on its lists."""
    suppliers = select(Supplier.id).where(Supplier.invented)
    benders = select(BenderRow.id).where(BenderRow.note.startswith(INVENTED_WORD))
    return not the_shop(session).invented and any(
        session.scalars(query.limit(1)).first() is not None for query in (suppliers, benders)
    )


def drop_invented(session: Session) -> Dropped:
    """Remove all invented suppliers, bars and benders; suppliers and bars that orders name stay.

    Args:
        session: open and writing; the caller commits.

    Raises:
        InputError: the shop itself is the invented one.
    """
    if the_shop(session).invented:
        raise InputError(
            "The shop itself is the invented one; its entries stay with it.",
            hint="Give the shop its own name first: shopquote setup",
        )
    from shopquote.records.orders import Order, OrderLine  # a quote asks here for benders alone

    ordered = set(session.scalars(select(Order.supplier_id)))
    lines = set(session.scalars(select(OrderLine.stock_item_id).where(OrderLine.stock_item_id.is_not(None))))
    kept, suppliers, bars = [], 0, 0
    for supplier in session.scalars(select(Supplier).where(Supplier.invented).order_by(Supplier.name)):
        for item in session.scalars(select(StockItem).where(StockItem.supplier_id == supplier.id)):
            if item.id in lines:
                continue
            session.delete(item)
            bars += 1
        if supplier.id in ordered:
            kept.append(supplier.name)
            continue
        # The bars first: they refer to their supplier.
        session.flush()
        session.delete(supplier)
        suppliers += 1
    benders = session.scalars(select(BenderRow).where(BenderRow.note.startswith(INVENTED_WORD))).all()
    for bender in benders:
        session.delete(bender)
    session.flush()
    return Dropped(suppliers, bars, len(benders), tuple(kept))
