"""Read suppliers' lists for a day. Begin at `listed_bars`."""

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, Select, select
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload

from shopquote.calc.bar.grades import Grade, find_grade, mass_of_bar
from shopquote.calc.bar.sections import Section
from shopquote.calc.buying.prices import Basis
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.buying.offers import ListedBar, guessed, listed, prices_on
from shopquote.services.shop.shop_on_file import grades_on_file
from shopquote.services.shop.values import section_of

if TYPE_CHECKING:
    from shopquote.records.orders import OrderLine

# Conditions that an item may still be ordered.
ON_SALE = (~StockItem.retired, ~Supplier.retired)


def _on_sale(*which: ColumnElement[bool]) -> Select[StockItem]:
    """Select items that may be ordered and meet `which`, with their supplier, longest first."""
    return (
        select(StockItem)
        .join(StockItem.supplier)
        .where(*which, *ON_SALE)
        .options(contains_eager(StockItem.supplier))
        .order_by(StockItem.length.desc(), Supplier.name)
    )


def listed_bars(
    session: Session, section: Section, grade: Grade, on: date, *, supplier: str | None = None
) -> tuple[ListedBar, ...]:
    """Listed bars of a section and grade on a day, longest first; of one supplier if named."""
    query = _on_sale(StockItem.section_key == section.key, StockItem.grade == grade.name)
    if supplier is not None:
        query = query.where(Supplier.name == supplier)
    # Prices in the same statement: an item has few, and another statement for each bar takes 0.5 ms.
    items = session.scalars(query.options(joinedload(StockItem.prices))).unique()
    return listed(items, section, grade, on)


def guessed_bars(session: Session, section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """For a size that no supplier lists: bars of the nearest size priced by mass; see `offers.guessed`."""
    family = [name for name, other in grades_on_file(session).items() if other.family == grade.family]
    query = _on_sale(StockItem.grade.in_({*family, grade.name})).options(selectinload(StockItem.prices))
    return guessed(session.scalars(query), section, grade, on)


@dataclass(frozen=True, slots=True)
class ListPrice:
    """A listed price for an order line: as listed with its basis, and per bar or sawn piece."""

    price: Decimal
    basis: Basis
    each: Decimal


def item_price(
    session: Session, line: "OrderLine", *, count: int | None = None, on: date | None = None
) -> ListPrice | None:
    """The listed price of an order line, in the supplier's currency; None if its item or price is gone.

    Args:
        session: an open session.
        line: the order line.
        count: number of bars, which decides the price step by mass; None: as ordered.
        on: day of the price list; None: the day of the order.
    """
    item = session.get(StockItem, line.stock_item_id) if line.stock_item_id is not None else None
    if item is None or line.mass_kg is None:
        return None
    prices, valid_from = prices_on(item.prices, on or line.order.placed_on)
    mass = mass_of_bar(
        section_of(item.section_key), find_grade(item.grade, grades_on_file(session)), item.length
    )
    listed = ListedBar(item, item.supplier, mass, prices, valid_from)
    mass_kg = line.mass_kg if count is None else line.mass_kg * count / line.count
    at, each = listed.price_at(mass_kg), listed.unit_price(mass_kg)
    if at is None or each is None:
        return None
    if not line.cut:
        return ListPrice(*at, each)
    # A sawn piece is charged by its share of the bar, plus the supplier's charge per cut.
    share = Decimal(line.length.nm) / Decimal(item.length.nm)
    each = round_rate(each * share + (item.supplier.cut_charge or 0))
    return ListPrice(each, "bar", each)
