"""What was charged against what was ordered, and the changed prices on the supplier list."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.buying.prices import price_for_basis, read_basis
from shopquote.calc.money import round_rate
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.orders import Order, OrderLine, ReceivedBar


def price_difference(bar: ReceivedBar) -> Decimal:
    """What one bar was charged beyond its order; 0 where nothing was agreed."""
    ordered = bar.order_line.unit_price if bar.order_line is not None else None
    return Decimal(0) if ordered is None else bar.charged - ordered


def mean_difference(bars: Sequence[ReceivedBar]) -> Decimal | None:
    """The mean of the differences of a line, a bar; None where no bar came."""
    count = sum(bar.count for bar in bars)
    if not count:
        return None
    return round_rate(sum((price_difference(bar) * bar.count for bar in bars), Decimal(0)) / count)


def update_prices(session: Session, order: Order, bars: Sequence[ReceivedBar], on: date) -> tuple[int, ...]:
    """Put changed prices on the supplier's list, valid from this day; the old ones stay as history."""
    updated: dict[int, int] = {}
    for bar in bars:
        line = bar.order_line
        assert line is not None
        if line.stock_item_id is None or line.cut or not price_difference(bar) or bar.length != line.length:
            continue
        item = session.get(StockItem, line.stock_item_id)
        if item is None or item.id in updated.values():
            continue
        _change_step(item, line, bar.charged, on)
        updated[line.position] = item.id
    return tuple(updated)


def _change_step(item: StockItem, line: OrderLine, charged: Decimal, on: date) -> None:
    """The list as it stands with the price of one step changed; the same day's list is corrected."""
    held = [price for price in item.prices if price.valid_from <= on]
    newest = max((price.valid_from for price in held), default=None)
    steps = sorted((p for p in held if p.valid_from == newest), key=lambda price: price.break_kg)
    mass = line.mass_kg or Decimal(0)
    step = next((p for p in reversed(steps) if p.break_kg <= mass), steps[0] if steps else None)
    if step is None:
        item.prices.append(StockPrice(price=charged, basis="bar", valid_from=on))
        return
    changed = price_for_basis(charged, read_basis(step.basis), item.length, mass / line.count)
    if newest == on:
        step.price = changed
        return
    for old in steps:
        item.prices.append(
            StockPrice(
                price=changed if old is step else old.price, basis=old.basis, break_kg=old.break_kg,
                valid_from=on, invented=old.invented and old is not step,
            )
        )  # fmt: skip
