"""What setting up asks a shop for, and the rows that a new shop starts with. Loads no table.

Only this module and the demo know the invented shop. Rows are dictionaries by column name, used by
`new_shop`, which stores them, and by pricing without a database. Begin at `starting_shop_row`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from typing import Any

from shopquote.calc.bar.benders import PLANNING_IN, PLANNING_MM, SHARINGS, USUAL_ARC_GAP
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import USUAL_CURRENCY
from shopquote.calc.pricing import terms as usual
from shopquote.calc.units import UNITS, ZERO, Length, Unit, parse_length
from shopquote.errors import InputError
from shopquote.invented import shop as invented
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.services.shop.countries import FOLLOWING, machine_locale, usual_in
from shopquote.services.shop.logo import logo_place
from shopquote.services.shop.values import without_idle_zeros


@dataclass(frozen=True)
class ShopDetails:
    """A shop's details as asked for at set-up; the defaults are the invented shop's.

    `tax_percent` is the shop's own to state: rates change and differ by place. None means not stated yet.
    """

    name: str = invented.NAME
    address: str = invented.ADDRESS
    email: str = invented.EMAIL
    phone: str = ""
    tax_number: str = ""
    currency: str = USUAL_CURRENCY
    units: Unit = "mm"
    locale: str = "en_GB"
    paper: str = "A4"
    logo_path: str = ""
    tax_name: str = "VAT"
    tax_percent: Decimal | None = Decimal(20)
    margin_pct: Decimal = Decimal(30)
    deposit_pct: Decimal = Decimal(40)
    quote_valid_days: int = 21
    lead_time: str = usual.USUAL_LEAD_TIME
    terms: str = usual.USUAL_TERMS
    delivery_term: str = usual.USUAL_DELIVERY
    included: str = usual.USUALLY_INCLUDED
    excluded: str = usual.USUALLY_EXCLUDED

    @property
    def is_invented(self) -> bool:
        """Whether the shop still bears the invented shop's name."""
        return self.name == ShopDetails.name


_NO_RATE = "No rate of tax is known for that country; type the one that you charge, or 0 for none."


def asked_of_a_new_shop(details: ShopDetails) -> ShopDetails:
    """The details to offer a new shop, for the country that this computer is set to."""
    return in_its_country(details, machine_locale() or details.locale)


def in_its_country(details: ShopDetails, locale: str) -> ShopDetails:
    """The details with this locale and what is usual in its country: currency, unit, paper and tax."""
    usual = {name: getattr(usual_in(locale), name) for name in FOLLOWING}
    if usual["currency"] is None:
        del usual["currency"]
    return replace(details, locale=locale, **usual)


def own_details(details: ShopDetails) -> ShopDetails:
    """The details, without the invented shop's address and e-mail where the shop has a name of its own."""
    one, names = ShopDetails(), ("address", "email")
    own: dict[str, Any] = {name: "" for name in names if getattr(details, name) == getattr(one, name)}
    return details if details.is_invented else replace(details, **own)


# Fields of the details in the order in which terminal and page ask for them, with the question.
QUESTIONS = (
    ("name", "Name of the shop"),
    ("address", "Address (lines apart by ;)"),
    ("email", "E-mail"),
    ("phone", "Telephone"),
    ("tax_number", "Tax number"),
    ("locale", "Language and country of dates and numbers, such as en_GB, en_US, de_DE"),
    ("currency", "Currency, three letters"),
    ("units", "Unit of lengths, mm or in"),
    ("paper", "Paper, A4 or Letter"),
    ("logo_path", "Logo file for quotes, or none"),
    ("tax_name", "Name of the tax on quotes"),
    ("tax_percent", "Its rate in per cent, 0 for none"),
    ("margin_pct", "Margin wanted, per cent of the price"),
    ("deposit_pct", "Deposit asked for, per cent"),
    ("quote_valid_days", "Days that a quote is valid"),
    ("lead_time", "Usual lead time"),
)


def detail_text(value: object) -> str:
    """A detail as shown and typed on one line; lines of an address are separated by semicolons."""
    if value is None:
        return ""
    return f"{without_idle_zeros(value):f}" if isinstance(value, Decimal) else str(value).replace("\n", "; ")


def detail_from_text(name: str, text: str) -> Any:
    """A detail's value from its typed text.

    Raises:
        InputError: it cannot be used.
    """
    usual = getattr(ShopDetails(), name)
    value: str | int | Decimal
    if name == "tax_percent" and not text.strip():
        raise InputError(_NO_RATE)
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
    refuse_bad_details(replace(ShopDetails(), **changes))
    return value


def refuse_bad_details(details: ShopDetails) -> None:
    """Check all details.

    Raises:
        InputError: one of them cannot be used.
    """
    if not details.name.strip():
        raise InputError("The shop needs a name.")
    if details.units not in UNITS:
        raise InputError(f"Units are {details.units!r}; expected mm or in.")
    if details.paper not in usual.PAPERS:
        raise InputError(f"Paper is {details.paper!r}; expected A4 or Letter.")
    if not (len(details.currency) == 3 and details.currency.isascii() and details.currency.isalpha()):
        raise InputError(f"Currency is {details.currency!r}; expected three letters such as EUR or USD.")
    try:
        kinds.LOCALE.read(details.locale, Notation())
    except InputError as error:
        raise InputError(f"Language is {details.locale!r}; expected {kinds.LOCALE.expected}.") from error
    if details.quote_valid_days < 1:
        raise InputError(f"Quotes are valid for {details.quote_valid_days} days; expected at least 1.")
    if details.tax_percent is None:
        raise InputError(_NO_RATE)
    for word, value, most in (
        ("Tax", details.tax_percent, 100),
        ("Deposit", details.deposit_pct, 100),
        ("Margin", details.margin_pct, Decimal("99.99")),
    ):
        if not 0 <= value <= most:
            raise InputError(f"{word} is {value} %; expected 0 to {most}.")


def starting_saws(unit: Unit) -> dict[str, dict[str, Length]]:
    """Kerf, trim, grip and least kept length of a new shop's saws, by name; the first is the default."""
    # Kerf, squaring cut and vise grip of small saws: common practice, no source.
    if unit == "in":
        bandsaw = ("1/16", "3/8", "2", "12")
        cold_saw = ("3/32", "3/8", "3", "12")
    else:
        bandsaw = ("1.6", "10", "50", "300")
        cold_saw = ("2.5", "10", "80", "300")
    names = ("kerf", "trim", "grip", "keep_min")
    return {
        name: {what: parse_length(text, unit) for what, text in zip(names, texts, strict=True)}
        for name, texts in (("band saw", bandsaw), ("cold saw", cold_saw))
    }


# House rules of a new shop beside its details; the figures are common practice, no source.
_STARTING_POLICY: Mapping[str, Any] = {
    "page_address": "",
    "payment_days": None,
    "markup_pct": None,
    "overhead_pct": Decimal(10),
    "overhead_per_month": None,
    "contingency_pct": Decimal(2),
    "scrap_pct": Decimal(1),
    "minimum_order": Decimal(60),
    "material_basis": "bought",
    "net_share_pct": Decimal(0),
    "credit_offcuts": False,
    "rack_charge_pct": Decimal(100),
    "rack_basis": "today",
    "rack_worth_pct": Decimal(100),
    "inwards": "whole",
    "usual_inwards": Decimal(0),
    "bought_markup_pct": Decimal(25),
    "outside_markup_pct": Decimal(15),
    "learning": "none",
    "quote_lines": "set",
    "bend_datum": "start",
    "hand_pull_n": Decimal(250),
    "twist_loss_pct": Decimal(0),
    "forge_loss_pct": Decimal(0),
    "arc_gap": USUAL_ARC_GAP,
    "small_bends": SHARINGS[0],
    "formers_along": False,
    "planning_mm": PLANNING_MM,
    "planning_in": PLANNING_IN,
    "backups_kept": 14,
}
_OF_TAX = ("tax_name", "tax_percent")


def starting_shop_row(details: ShopDetails) -> dict[str, Any]:
    """All columns of a new shop's row."""
    told = {one.name: getattr(details, one.name) for one in fields(ShopDetails) if one.name not in _OF_TAX}
    told |= {"name": details.name.strip(), "currency": details.currency.upper()}
    return {"id": 1, **told, **_STARTING_POLICY, "invented": details.is_invented}


def starting_tax_row(details: ShopDetails) -> dict[str, Any]:
    """All columns of a new shop's one tax."""
    return {"name": details.tax_name, "percent": details.tax_percent, "is_default": True, "retired": False}


def starting_supplier_rows(currency: str) -> Iterator[dict[str, Any]]:
    """Columns of each invented supplier, which sells in the shop's currency."""
    for one in invented.SUPPLIERS:
        yield {
            **{told.name: getattr(one, told.name) for told in fields(one)},
            "currency": currency,
            "email": "",
            "phone": "",
            "locale": "",
            "exchange_rate": Decimal(1),
            "certificate_charge": Decimal(0),
            "column_map": {},
            "invented": True,
            "note": invented.NOTE,
            "retired": False,
        }


def starting_bar_rows(on: date) -> Iterator[tuple[str, dict[str, Any], Iterator[dict[str, Any]]]]:
    """Each listed bar: its supplier's name, the bar's columns, and the columns of each of its prices.

    `on` is the day from which the prices apply.
    """
    names: dict[tuple[str, str], str] = {}  # a section's name is made once, not for each of its lengths
    for bar in invented.price_list():
        key = bar.section.key
        if (key, bar.unit) not in names:
            names[key, bar.unit] = bar.section.name(bar.unit)
        row = {
            "section_key": key,
            "section_text": names[key, bar.unit],
            "grade": bar.grade.name,
            "length": bar.length.length,
            "length_text": bar.length.text,
            "bundle": bar.bundle,
            "limit": None,
            "tolerance": ZERO,
            "standard": bar.standard,
            "condition": bar.condition,
            "note": invented.NOTE,
            "retired": False,
        }
        yield bar.supplier, row, _starting_prices(bar, on)


def _starting_prices(bar: invented.InventedBar, on: date) -> Iterator[dict[str, Any]]:
    for from_kg, price in bar.prices:
        yield {"price": price, "basis": bar.basis, "break_kg": from_kg, "valid_from": on, "invented": True}
