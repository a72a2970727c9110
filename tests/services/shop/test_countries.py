"""What a new shop is offered by its country: paper, unit, currency, tax and the form of its days."""

from datetime import date
from decimal import Decimal

import pytest

from shopquote.errors import InputError
from shopquote.outputs.quote_words import LANGUAGES
from shopquote.reading import kinds
from shopquote.reading.kinds import Notation
from shopquote.services.shop.countries import machine_locale, usual_in
from shopquote.services.shop.new_shop import details_on_file, set_up
from shopquote.services.shop.setup import ShopDetails, asked_of_a_new_shop, in_its_country

# Paper and unit: Unicode Technical Standard 35, part 6, measurement data. Currency: ISO 4217, list one.
# Rates: a public table of 2025 of standard rates in the EU and the UK. None: by state, or moved.
COUNTRIES = [
    ("en_GB", "GBP", "mm", "A4", "VAT", 20),
    ("en_US", "USD", "in", "Letter", "Sales tax", None),
    ("en_CA", "CAD", "mm", "Letter", "GST", None),
    ("es_MX", "MXN", "mm", "Letter", "IVA", None),
    ("de_DE", "EUR", "mm", "A4", "MwSt.", 19),
    ("de_CH", "CHF", "mm", "A4", "MwSt.", None),
    ("fr_FR", "EUR", "mm", "A4", "TVA", 20),
    ("es-ES", "EUR", "mm", "A4", "IVA", 21),
    ("sv_SE", "SEK", "mm", "A4", "moms", 25),
    ("fi_FI", "EUR", "mm", "A4", "ALV", None),
]


@pytest.mark.parametrize(("locale", "currency", "units", "paper", "tax", "percent"), COUNTRIES)
def test_a_new_shop_is_offered_what_is_usual_in_its_country(locale, currency, units, paper, tax, percent):
    offered = in_its_country(ShopDetails(), locale)
    assert (offered.currency, offered.units, offered.paper, offered.tax_name) == (currency, units, paper, tax)
    assert offered.tax_percent == (None if percent is None else Decimal(percent))


def test_a_tax_that_is_not_known_is_asked_for_and_never_guessed(session):
    """At every door: details whose rate nobody told are refused, and nothing is stored."""
    offered = in_its_country(ShopDetails(name="Weir Forge"), "en_US")
    with pytest.raises(InputError, match="No rate of tax is known"):
        set_up(session, offered, on=date(2026, 3, 2))
    assert details_on_file(session) == ShopDetails()


@pytest.mark.parametrize("locale", [row[0] for row in COUNTRIES if "-" not in row[0]])
def test_the_computers_own_country_is_offered_first(locale, monkeypatch):
    monkeypatch.setenv("LC_ALL", f"{locale}.UTF-8")
    assert asked_of_a_new_shop(ShopDetails()) == in_its_country(ShopDetails(), locale)


@pytest.mark.parametrize("named", ["C", "C.UTF-8", "POSIX", "xx_YY", "%%"])
def test_a_computer_that_names_no_country_leaves_the_usual_one(named, monkeypatch):
    for name in ("LC_ALL", "LC_TIME", "LC_CTYPE", "LANG"):
        monkeypatch.setenv(name, named)
    assert machine_locale() is None and asked_of_a_new_shop(ShopDetails()).locale == ShopDetails.locale


@pytest.mark.parametrize("passed_over", ["LC_ALL", "LC_TIME", "LC_CTYPE"])
def test_a_setting_without_a_country_does_not_hide_one_that_names_it(passed_over, monkeypatch):
    """Python itself sets LC_CTYPE to C.UTF-8 where the named locale is not installed (PEP 538)."""
    for name in ("LC_ALL", "LC_TIME", "LC_CTYPE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv(passed_over, "C.UTF-8")
    monkeypatch.setenv("LANG", "de_DE@euro")
    assert machine_locale() == "de_DE"


def test_a_language_without_its_country_tells_no_currency_and_no_rate():
    assert (usual_in("de").currency, usual_in("de").tax_percent, usual_in("de").tax_name) == (
        None, None, "MwSt.",
    )  # fmt: skip


def test_days_are_read_in_the_countrys_order():
    """CLDR: month first in the United States, day first in Britain and Germany."""
    for locale, typed in (("en_US", "03/02/2026"), ("en_GB", "02/03/2026"), ("de_DE", "2.3.2026")):
        assert kinds.DAY.read(typed, Notation(locale=locale)) == date(2026, 3, 2)


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_of_papers_has_its_word_for_the_tax(language):
    others = {usual_in(one).tax_name for one in LANGUAGES if one != language}
    assert usual_in(language).tax_name not in others
