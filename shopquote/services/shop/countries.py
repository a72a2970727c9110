"""What is usual in a country (currency, unit of bar, paper size, sales tax), offered when a shop is set up.

Only defaults of the questions at set-up: calculations use what the shop then has on file. Begin at
`usual_in`; `machine_locale` is the language and country that this computer is set to.
"""

import os
from dataclasses import fields
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Unit
from shopquote.errors import InputError
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation

# Letter paper: Unicode Technical Standard 35, part 6, measurement data (paperSize US-Letter).
_LETTER = frozenset(["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"])
# Inches: the same table (measurementSystem US); that Puerto Rico buys the mainland's bar is from memory.
_INCHES = frozenset(("US", "PR"))

# Standard rates of value added tax, per cent, of countries where two public tables, of 2014 and of 2025,
# agree. Where the rate changed between them (EE, FI, GR, LU, RO, SK) it may change again, so the shop is
# asked. US and CA are left out: their rates differ by state and province.
_VAT = {
    rate: codes.split()
    for rate, codes in {
        18: "MT", 19: "CY DE", 20: "AT BG FR GB", 21: "BE CZ ES LT LV NL", 22: "IT SI",
        23: "IE PL PT", 25: "DK HR SE", 27: "HU",
    }.items()
}  # fmt: skip
_VAT_OF = {code: Decimal(rate) for rate, codes in _VAT.items() for code in codes}

# Name of the tax on papers, by country, else by language; from memory; no public page found.
_TAX_IN = {"US": "Sales tax", "PR": "Sales tax", **dict.fromkeys(("AU", "CA", "IN", "NZ", "SG"), "GST")}
_TAX_SAID = {
    "en": "VAT", "de": "MwSt.", "fr": "TVA", "es": "IVA", "it": "IVA", "pt": "IVA", "nl": "btw",
    "da": "moms", "sv": "moms", "nb": "mva", "fi": "ALV", "pl": "VAT", "cs": "DPH", "sk": "DPH",
}  # fmt: skip


@dataclass(frozen=True)
class Usual:
    """What is usual in a country, as fields of `ShopDetails`; None is not known and must be asked."""

    currency: str | None = None
    units: Unit = "mm"
    paper: str = "A4"
    tax_name: str = "VAT"
    tax_percent: Decimal | None = None


# Fields of `ShopDetails` whose default depends on the country.
FOLLOWING = tuple(one.name for one in fields(Usual))


def usual_in(locale: str) -> Usual:
    """What is usual in the country of a locale; of a locale without a country only the name of the tax.

    Raises:
        InputError: not a locale.

    >>> usual_in("en_US").paper, usual_in("en_US").tax_percent, usual_in("de_DE").tax_percent
    ('Letter', None, Decimal('19'))
    """
    from babel import Locale
    from babel.numbers import get_territory_currencies

    known = Locale.parse(kinds.LOCALE.read(locale, Notation()).replace("-", "_"))
    country = known.territory or ""
    currencies = get_territory_currencies(country) if country else []
    return Usual(
        currencies[0] if currencies else None,
        "in" if country in _INCHES else "mm",
        "Letter" if country in _LETTER else "A4",
        _TAX_IN.get(country) or _TAX_SAID.get(known.language, "VAT"),
        _VAT_OF.get(country),
    )


def machine_locale() -> str | None:
    """Language and country of this computer's settings, such as en_GB; None where they name no country.

    POSIX's order for the category of days. A setting that names no country (C, C.UTF-8, a language alone)
    is passed over: programs set LC_CTYPE so, and this asks only what to offer.
    """
    for name in ("LC_ALL", "LC_TIME", "LANG", "LC_CTYPE"):
        found = os.environ.get(name, "").partition(".")[0].partition("@")[0]
        try:
            if found.count("_") == 1:
                return kinds.LOCALE.read(found, Notation())
        except InputError:
            continue
    return None
