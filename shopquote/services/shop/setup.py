"""Set a shop up: its details, and usual sections, grades, benders, saws and standards to start from.

The price list, its suppliers and their names are invented, and are marked so
wherever they are shown. Begin at `set_up`.
"""

from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.standards import STARTING_STANDARDS
from shopquote.errors import InputError, NotFoundError
from shopquote.invented import shop as invented
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.records.base import Base
from shopquote.records.benders import BenderRow
from shopquote.records.materials import GradeRow, StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.records.shop import PAPERS, UNITS, Saw, Shop, TaxRow
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.logo import logo_place
from shopquote.services.shop.new_shop import STARTING_POLICY, starting_saws
from shopquote.services.shop.new_shop import ShopDetails as ShopDetails
from shopquote.services.shop.shop_on_file import bender_row, grade_row, without_idle_zeros


def own_details(details: ShopDetails) -> ShopDetails:
    """Beside a name of the shop's own nothing of the invented shop's address."""
    one, names = ShopDetails(), ("address", "email")
    own: dict[str, Any] = {name: "" for name in names if getattr(details, name) == getattr(one, name)}
    return details if details.is_invented else replace(details, **own)


# Field of the shop's details and how it is asked for, in the terminal and on the page.
QUESTIONS = (
    ("name", "Name of the shop"),
    ("address", "Address (lines apart by ;)"),
    ("email", "E-mail"),
    ("phone", "Telephone"),
    ("tax_number", "Tax number"),
    ("currency", "Currency, three letters"),
    ("units", "Unit of lengths, mm or in"),
    ("locale", "Language and country of dates and numbers, such as en_GB, en_US, de_DE"),
    ("paper", "Paper, A4 or Letter"),
    ("logo_path", "Logo file for quotes, or none"),
    ("tax_name", "Name of the tax on quotes"),
    ("tax_percent", "Its rate in per cent"),
    ("margin_pct", "Margin wanted, per cent of the price"),
    ("deposit_pct", "Deposit asked for, per cent"),
    ("quote_valid_days", "Days that a quote is valid"),
    ("lead_time", "Usual lead time"),
)


@dataclass(frozen=True)
class SetUp:
    """What setting up left on file, and whether the shop was there before."""

    shop: Shop
    was_there: bool
    stock_items: int
    standards: int
    grades: int
    benders: int


def set_up(session: Session, details: ShopDetails | None = None, *, on: date, own: bool = False) -> SetUp:
    """Create the shop with all that it starts from; on a shop that is there, only change its details.

    Lists that the shop has made its own are never touched: grades and standards
    that a newer program brings are added beside them.

    Args:
        session: open and writing; the caller commits.
        details: the shop's own; None keeps what is on file, or takes an invented shop's.
        on: the day that the starting prices count from.
        own: start with no invented supplier, price or bender.

    Raises:
        InputError: a detail cannot be used.
    """
    given = own_details(details or details_on_file(session))
    _refuse_bad_details(given)
    shop = session.get(Shop, 1)
    was_there = shop is not None
    if shop is None:
        shop = _new_shop(given)
        session.add(shop)
        session.add(TaxRow(name=given.tax_name, percent=given.tax_percent, is_default=True))
        session.add_all(
            Saw(name=name, is_default=place == 0, **lengths)
            for place, (name, lengths) in enumerate(starting_saws(given.units).items())
        )
        if not own:
            put_starting_lists(session, given.currency.upper(), on)
    else:
        _change_details(session, shop, given)
    _add_new_grades(session)
    _add_new_standards(session)
    session.flush()
    counts = (_count(session, table) for table in (StockItem, StandardRow, GradeRow, BenderRow))
    return SetUp(shop, was_there, *counts)


def put_starting_lists(session: Session, currency: str, on: date) -> None:
    """Put invented suppliers with their prices, and usual benders, on file beside what is there."""
    there = set(session.scalars(select(BenderRow.name)))
    session.add_all(bender_row(bender) for bender in STARTING_BENDERS if bender.name not in there)
    if not session.scalar(select(func.count(Supplier.id)).where(Supplier.invented)):
        _add_price_list(session, currency, on)


def benders_to_start_from(session: Session) -> tuple[str, ...]:
    """Names of usual benders, where the shop has none of its own."""
    return () if _count(session, BenderRow) else tuple(bender.name for bender in STARTING_BENDERS)


def store_bender(session: Session, typed: str) -> None:
    """Put a usual bender on file as the shop's own; `NotFoundError` where none has this name."""
    wanted = kinds.name_key(typed)
    found = next((bender for bender in STARTING_BENDERS if kinds.name_key(bender.name) == wanted), None)
    if found is None:
        names = "; ".join(bender.name for bender in STARTING_BENDERS)
        raise NotFoundError(f"{typed[:60]!r} is none of {names}.")
    row = bender_row(found)
    row.note = "usual figures, taken over at set-up: measure your own"
    session.add(row)
    session.flush()


def details_on_file(session: Session) -> ShopDetails:
    """What the shop says of itself now; the invented shop's details before it is set up."""
    shop = session.get(Shop, 1)
    if shop is None:
        return ShopDetails()
    tax = session.scalar(select(TaxRow).order_by(TaxRow.is_default.desc(), TaxRow.id).limit(1))
    own = {
        field.name: getattr(shop, field.name) for field in fields(ShopDetails) if hasattr(shop, field.name)
    }
    own["margin_pct"] = ShopDetails.margin_pct if shop.margin_pct is None else shop.margin_pct
    if tax is not None:
        own |= {"tax_name": tax.name, "tax_percent": tax.percent}
    return ShopDetails(**own)


def detail_text(value: object) -> str:
    """A detail as it is shown and typed on one line; lines of an address are parted by a semicolon."""
    return f"{without_idle_zeros(value):f}" if isinstance(value, Decimal) else str(value).replace("\n", "; ")


def detail_from_text(name: str, text: str) -> Any:
    """A detail from its typed text, checked.

    Raises:
        InputError: it cannot be used.
    """
    usual = getattr(ShopDetails(), name)
    value: str | int | Decimal
    if isinstance(usual, Decimal):
        value = kinds.percent().read(text, Notation())
    elif isinstance(usual, int):
        value = kinds.count().read(text, Notation())
    else:
        value = "\n".join(part.strip() for part in text.split(";")).strip()
    if name == "logo_path":
        value = logo_place("" if str(value).casefold() == "none" else str(value))
    if name == "email":
        value = kinds.read_typed("E-mail", kinds.MAIL, value, Notation())
    changes: dict[str, Any] = {name: value}
    _refuse_bad_details(replace(ShopDetails(), **changes))
    return value


def _refuse_bad_details(details: ShopDetails) -> None:
    if not details.name.strip():
        raise InputError("The shop needs a name.")
    if details.units not in UNITS:
        raise InputError(f"Units are {details.units!r}; expected mm or in.")
    if details.paper not in PAPERS:
        raise InputError(f"Paper is {details.paper!r}; expected A4 or Letter.")
    if not (len(details.currency) == 3 and details.currency.isascii() and details.currency.isalpha()):
        raise InputError(f"Currency is {details.currency!r}; expected three letters such as EUR or USD.")
    try:
        kinds.LOCALE.read(details.locale, Notation())
    except InputError as error:
        raise InputError(f"Language is {details.locale!r}; expected {kinds.LOCALE.expected}.") from error
    if details.quote_valid_days < 1:
        raise InputError(f"Quotes are valid for {details.quote_valid_days} days; expected at least 1.")
    for word, value, most in (
        ("Tax", details.tax_percent, 100),
        ("Deposit", details.deposit_pct, 100),
        ("Margin", details.margin_pct, Decimal("99.99")),
    ):
        if not 0 <= value <= most:
            raise InputError(f"{word} is {value} %; expected 0 to {most}.")


def _new_shop(details: ShopDetails) -> Shop:
    return Shop(
        id=1,
        name=details.name.strip(),
        address=details.address,
        email=details.email,
        phone=details.phone,
        tax_number=details.tax_number,
        currency=details.currency.upper(),
        units=details.units,
        locale=details.locale,
        paper=details.paper,
        logo_path=details.logo_path,
        quote_valid_days=details.quote_valid_days,
        lead_time=details.lead_time,
        terms=details.terms,
        deposit_pct=details.deposit_pct,
        delivery_term=details.delivery_term,
        included=details.included,
        excluded=details.excluded,
        invented=details.is_invented,
        margin_pct=details.margin_pct,
        **STARTING_POLICY,
    )


# The tax has a table of its own; a shop that prices by markup keeps doing so.
_NOT_ON_SHOP = {"tax_name", "tax_percent", "margin_pct"}


def _change_details(session: Session, shop: Shop, details: ShopDetails) -> None:
    for field in fields(details):
        if field.name not in _NOT_ON_SHOP:
            setattr(shop, field.name, getattr(details, field.name))
    if shop.markup_pct is None:
        shop.margin_pct = details.margin_pct
    shop.currency = details.currency.upper()
    shop.invented = details.is_invented
    _set_default_tax(session, details.tax_name, details.tax_percent)


def _set_default_tax(session: Session, name: str, percent: Decimal) -> None:
    rates = {rate.name: rate for rate in session.scalars(select(TaxRow))}
    for rate in rates.values():
        rate.is_default = False
    if name in rates:
        rates[name].percent, rates[name].is_default = percent, True
    else:
        session.add(TaxRow(name=name, percent=percent, is_default=True))


def _add_new_grades(session: Session) -> None:
    there = set(session.scalars(select(GradeRow.name)))
    session.add_all(grade_row(grade) for name, grade in STARTING_GRADES.items() if name not in there)


def _add_new_standards(session: Session) -> None:
    there = set(session.scalars(select(StandardRow.name)))
    session.add_all(
        StandardRow(
            name=standard.name,
            value=standard.value,
            unit=standard.unit,
            source=standard.source,
            since=standard.since or ALWAYS,
            spread_pct=standard.spread_pct,
        )
        for standard in STARTING_STANDARDS
        if standard.name not in there
    )


def _add_price_list(session: Session, currency: str, on: date) -> None:
    suppliers = {
        one.name: Supplier(
            name=one.name,
            address=one.address,
            currency=currency,
            delivery_charge=one.delivery_charge,
            free_from=one.free_from,
            lead_days=one.lead_days,
            cut_charge=one.cut_charge,
            certificate_kind=one.certificate_kind,
            invented=True,
            note=invented.NOTE,
        )
        for one in invented.SUPPLIERS
    }
    session.add_all(suppliers.values())
    session.flush()
    # Some six hundred bars: as rows of their own they are written in a third of the time that objects take.
    bars = tuple(invented.price_list())
    rows = [_stock_row(suppliers[bar.supplier].id, bar) for bar in bars]
    new = insert(StockItem).returning(StockItem.id, sort_by_parameter_order=True)
    ids = session.scalars(new, rows).all()
    prices = [row for key, bar in zip(ids, bars, strict=True) for row in _price_rows(key, bar, on)]
    session.execute(insert(StockPrice), prices)


def _stock_row(supplier_id: int, bar: invented.InventedBar) -> dict[str, Any]:
    return {
        "supplier_id": supplier_id,
        "section_key": bar.section.key,
        "section_text": bar.section.name(bar.unit),
        "grade": bar.grade.name,
        "length": bar.length.length,
        "length_text": bar.length.text,
        "bundle": bar.bundle,
        "standard": bar.standard,
        "condition": bar.condition,
        "note": invented.NOTE,
    }


def _price_rows(item_id: int, bar: invented.InventedBar, on: date) -> list[dict[str, Any]]:
    return [
        {
            "stock_item_id": item_id,
            "price": price,
            "basis": bar.basis,
            "break_kg": from_kg,
            "valid_from": on,
            "invented": True,
        }
        for from_kg, price in bar.prices
    ]


def _count(session: Session, table: type[Base]) -> int:
    return session.scalar(select(func.count()).select_from(table)) or 0
