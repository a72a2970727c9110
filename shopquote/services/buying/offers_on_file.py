"""Suppliers' lists on file, read for a day. Begin at `listed_bars`."""

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, Select, select
from sqlalchemy.orm import Session, contains_eager, selectinload

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

ON_SALE = (~StockItem.retired, ~Supplier.retired)


def _on_sale(*which: ColumnElement[bool]) -> Select[StockItem]:
    """Items that may still be ordered, with their prices, the longest first."""
    return (
        select(StockItem)
        .join(StockItem.supplier)
        .where(*which, *ON_SALE)
        .options(selectinload(StockItem.prices), contains_eager(StockItem.supplier))
        .order_by(StockItem.length.desc(), Supplier.name)
    )


def listed_bars(
    session: Session, section: Section, grade: Grade, on: date, *, supplier: str | None = None
) -> tuple[ListedBar, ...]:
    """What suppliers list of a section and grade on a day, the longest bars first."""
    query = _on_sale(StockItem.section_key == section.key, StockItem.grade == grade.name)
    if supplier is not None:
        query = query.where(Supplier.name == supplier)
    return listed(session.scalars(query), section, grade, on)


def guessed_bars(session: Session, section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """Bars that are on nobody's list: as the nearest bar is sold, see `offers.guessed`."""
    family = [name for name, other in grades_on_file(session).items() if other.family == grade.family]
    query = _on_sale(StockItem.grade.in_({*family, grade.name}))
    return guessed(session.scalars(query), section, grade, on)


@dataclass(frozen=True, slots=True)
class ListPrice:
    """What a list asks for an order line: the price by its basis, and for one bar or sawn piece."""

    price: Decimal
    basis: Basis
    each: Decimal


def item_price(
    session: Session, line: "OrderLine", *, count: int | None = None, on: date | None = None
) -> ListPrice | None:
    """The list's price of an order line, in the supplier's currency; None without one.

    Args:
        session: an open session.
        line: the line.
        count: how many of it, for the price step that their mass reaches; as ordered if left out.
        on: day of the list; the order's if left out.
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
    share = Decimal(line.length.nm) / Decimal(item.length.nm)
    each = round_rate(each * share + (item.supplier.cut_charge or 0))
    return ListPrice(each, "bar", each)
