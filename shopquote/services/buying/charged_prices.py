"""Prices charged at delivery against those ordered, and the corrected prices on the supplier's list."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.buying.prices import price_for_basis, read_basis
from shopquote.calc.money import round_rate
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.orders import Order, OrderLine, ReceivedBar
from shopquote.services.shop.values import prices_in_force


def price_difference(bar: ReceivedBar) -> Decimal:
    """How much more one bar was charged than ordered; 0 where no price was agreed."""
    ordered = bar.order_line.unit_price if bar.order_line is not None else None
    return Decimal(0) if ordered is None else bar.charged - ordered


def mean_difference(bars: Sequence[ReceivedBar]) -> Decimal | None:
    """Mean of `price_difference` over a line's bars; None if none was received."""
    count = sum(bar.count for bar in bars)
    if not count:
        return None
    return round_rate(sum((price_difference(bar) * bar.count for bar in bars), Decimal(0)) / count)


def update_prices(session: Session, order: Order, bars: Sequence[ReceivedBar], on: date) -> tuple[int, ...]:
    """Put changed prices on the supplier's list from this day on; old prices stay on file.

    Returns:
        Positions of the order lines whose list price was changed.
    """
    updated: dict[int, int] = {}
    for bar in bars:
        line = bar.order_line
        assert line is not None
        # A sawn piece's price includes the cutting charge, and a bar of another length another mass: neither
        # tells the list price. Of several charges for one list item the first counts.
        if line.stock_item_id is None or line.cut or not price_difference(bar) or bar.length != line.length:
            continue
        item = session.get(StockItem, line.stock_item_id)
        if item is None or item.id in updated.values():
            continue
        _change_step(item, line, bar.charged, on)
        updated[line.position] = item.id
    return tuple(updated)


def _change_step(item: StockItem, line: OrderLine, charged: Decimal, on: date) -> None:
    """Change the price step that the line's mass reaches, in a copy of the newest list dated `on`.

    All steps are copied, because only steps of the newest date apply. A list already dated `on` is changed in
    place.
    """
    steps = prices_in_force(item.prices, on)
    mass = line.mass_kg or Decimal(0)
    step = next((p for p in reversed(steps) if p.break_kg <= mass), steps[0] if steps else None)
    if step is None:
        item.prices.append(StockPrice(price=charged, basis="bar", valid_from=on))
        return
    changed = price_for_basis(charged, read_basis(step.basis), item.length, mass / line.count)
    if step.valid_from == on:
        step.price, step.invented = changed, False
        return
    for old in steps:
        item.prices.append(
            StockPrice(
                price=changed if old is step else old.price, basis=old.basis, break_kg=old.break_kg,
                valid_from=on, invented=old.invented and old is not step,
            )
        )  # fmt: skip
