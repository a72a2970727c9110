"""Set a new shop up: store its details, and grades, benders, saws, standards and prices to start from.

The rows come from `setup`. The starting price list and its suppliers are invented, and are marked so wherever
they are shown. Begin at `set_up`.
"""

from dataclasses import fields
from datetime import date
from decimal import Decimal

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.benders import Bender
from shopquote.calc.bar.starting_benders import STARTING_BENDERS, starting_benders
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.standards import STARTING_STANDARDS, Standard
from shopquote.errors import NotFoundError
from shopquote.reading import kinds
from shopquote.records.base import Base
from shopquote.records.benders import BenderRow
from shopquote.records.materials import GradeRow, StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.records.shop import Saw, Shop, TaxRow
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.setup import (
    ShopDetails,
    own_details,
    refuse_bad_details,
    starting_bar_rows,
    starting_saws,
    starting_shop_row,
    starting_supplier_rows,
    starting_tax_row,
)
from shopquote.services.shop.shop_on_file import bender_row, grade_row, shop_unit


@dataclass(frozen=True)
class SetUp:
    """The shop's row, whether it existed before, and how many entries the lists have now.

    `new_standards` are standards that an existing shop lacked, because a newer program introduced them.
    """

    shop: Shop
    was_there: bool
    stock_items: int
    standards: int
    grades: int
    benders: int
    new_standards: tuple[Standard, ...] = ()


def set_up(session: Session, details: ShopDetails | None = None, *, on: date, own: bool = False) -> SetUp:
    """Create the shop with all its starting lists; of an existing shop, change only the details.

    Entries that the shop has changed are never overwritten: grades and standards that a newer program
    introduced are added beside them.

    Args:
        session: open and writing; the caller commits.
        details: the shop's own; None keeps what is on file, or takes the invented shop's.
        on: the day from which the starting prices apply.
        own: start with no invented supplier, price or bender.

    Raises:
        InputError: a detail cannot be used.
    """
    given = own_details(details or details_on_file(session))
    refuse_bad_details(given)
    shop = session.get(Shop, 1)
    was_there = shop is not None
    if shop is None:
        shop = Shop(**starting_shop_row(given))
        session.add(shop)
        session.add(TaxRow(**starting_tax_row(given)))
        session.add_all(
            Saw(name=name, is_default=place == 0, **lengths)
            for place, (name, lengths) in enumerate(starting_saws(given.units).items())
        )
        if not own:
            put_starting_lists(session, given.currency.upper(), on)
    else:
        _change_details(session, shop, given)
    _add_new_grades(session)
    new = _not_on_file(session)
    session.add_all(_standard_row(standard) for standard in new)
    session.flush()
    bars, standards, grades, benders = (
        _count(session, table) for table in (StockItem, StandardRow, GradeRow, BenderRow)
    )
    return SetUp(shop, was_there, bars, standards, grades, benders, new if was_there else ())


def standards_not_on_file(session: Session) -> tuple[Standard, ...]:
    """Standards that this program uses at their starting value because the shop has none on file.

    A newer program introduces some, which changes prices. Empty where no shop is set up.
    """
    return _not_on_file(session) if session.get(Shop, 1) is not None else ()


def put_starting_lists(session: Session, currency: str, on: date) -> None:
    """Add the invented suppliers with prices, and the usual benders, to what is on file; once each."""
    there = set(map(kinds.name_key, session.scalars(select(BenderRow.name))))
    for bender, metric in zip(_usual_benders(session), STARTING_BENDERS, strict=True):
        # In sizes of either unit it is the same bender.
        if not {kinds.name_key(one.name) for one in (bender, metric)} & there:
            session.add(bender_row(bender))
    if not session.scalar(select(func.count(Supplier.id)).where(Supplier.invented)):
        _add_price_list(session, currency, on)


def benders_to_start_from(session: Session) -> tuple[str, ...]:
    """Names of the usual benders, if the shop has no bender on file; else empty."""
    if _count(session, BenderRow):
        return ()
    return tuple(bender.name for bender in _usual_benders(session))


def _usual_benders(session: Session) -> tuple[Bender, ...]:
    """The benders that a shop starts from, in sizes of its own unit."""
    return starting_benders(shop_unit(session))


def store_bender(session: Session, typed: str) -> None:
    """Add one of the usual benders to the shop's list as its own.

    Raises:
        NotFoundError: none has this name.
    """
    wanted = kinds.name_key(typed)
    usual = _usual_benders(session)
    found = next((bender for bender in usual if kinds.name_key(bender.name) == wanted), None)
    if found is None:
        names = "; ".join(bender.name for bender in usual)
        raise NotFoundError(f"{typed[:60]!r} is none of {names}.")
    row = bender_row(found)
    row.note = "usual figures, taken over at set-up: measure your own"
    session.add(row)
    session.flush()


def details_on_file(session: Session) -> ShopDetails:
    """The shop's details on file; the invented shop's before it is set up."""
    shop = session.get(Shop, 1)
    if shop is None:
        return ShopDetails()
    tax = session.scalar(select(TaxRow).order_by(TaxRow.is_default.desc(), TaxRow.id).limit(1))
    own = {
        field.name: getattr(shop, field.name) for field in fields(ShopDetails) if hasattr(shop, field.name)
    }
    # A shop that prices by markup has no margin: the question then offers the usual one.
    own["margin_pct"] = ShopDetails.margin_pct if shop.margin_pct is None else shop.margin_pct
    if tax is not None:
        own |= {"tax_name": tax.name, "tax_percent": tax.percent}
    return ShopDetails(**own)


# Stored apart: the tax in its own table, and the margin only if the shop does not price by markup.
_NOT_ON_SHOP = {"tax_name", "tax_percent", "margin_pct"}


def _change_details(session: Session, shop: Shop, details: ShopDetails) -> None:
    for field in fields(details):
        if field.name not in _NOT_ON_SHOP:
            setattr(shop, field.name, getattr(details, field.name))
    if shop.markup_pct is None:
        shop.margin_pct = details.margin_pct
    shop.currency = details.currency.upper()
    shop.invented = details.is_invented
    assert details.tax_percent is not None  # as `refuse_bad_details` has seen
    _set_default_tax(session, details.tax_name, details.tax_percent)


def _set_default_tax(session: Session, name: str, percent: Decimal) -> None:
    rates = {kinds.name_key(rate.name): rate for rate in session.scalars(select(TaxRow))}
    for rate in rates.values():
        rate.is_default = False
    known = rates.get(kinds.name_key(name))
    if known is not None:
        known.percent, known.is_default = percent, True
    else:
        session.add(TaxRow(name=name, percent=percent, is_default=True))


def _add_new_grades(session: Session) -> None:
    there = set(map(kinds.grade_key, session.scalars(select(GradeRow.name))))
    new = (grade for name, grade in STARTING_GRADES.items() if kinds.grade_key(name) not in there)
    session.add_all(map(grade_row, new))


def _not_on_file(session: Session) -> tuple[Standard, ...]:
    there = set(session.scalars(select(StandardRow.name)))
    return tuple(standard for standard in STARTING_STANDARDS if standard.name not in there)


def _standard_row(standard: Standard) -> StandardRow:
    return StandardRow(
        name=standard.name,
        value=standard.value,
        unit=standard.unit,
        source=standard.source,
        since=standard.since or ALWAYS,
        spread_pct=standard.spread_pct,
    )


def _add_price_list(session: Session, currency: str, on: date) -> None:
    suppliers = {row["name"]: Supplier(**row) for row in starting_supplier_rows(currency)}
    session.add_all(suppliers.values())
    session.flush()
    # Some six hundred bars: inserted as plain rows they take a third of the time that mapped objects take.
    bars = tuple(starting_bar_rows(on))
    rows = [{"supplier_id": suppliers[supplier].id, **row} for supplier, row, _ in bars]
    new = insert(StockItem).returning(StockItem.id, sort_by_parameter_order=True)
    ids = session.scalars(new, rows).all()
    prices = [
        {"stock_item_id": key, **price} for key, (_, _, each) in zip(ids, bars, strict=True) for price in each
    ]
    session.execute(insert(StockPrice), prices)


def _count(session: Session, table: type[Base]) -> int:
    return session.scalar(select(func.count()).select_from(table)) or 0
