"""How each kind of value is shown in every kind of table: terminal, sheet, line of text, JSON, CSV.

A `Look` holds what each writer needs. Money is rounded here, once, so that a figure is the same
everywhere. None is an empty cell in all of them.
"""

from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import currency_digits, round_money
from shopquote.calc.units import (
    KG_PER,
    MASS_UNITS,
    NM_PER_INCH,
    Length,
    Unit,
    show_bar,
    show_length,
    show_mark,
)
from shopquote.reading.kinds.kind import Notation


def _as_said(words: str) -> str:
    return words


@dataclass(frozen=True, slots=True)
class Setting:
    """The currency and length unit of a table, and the language of its reader.

    `currency` is needed where there is money: it has as many digits as that prints. `says` translates a
    heading or phrase from English, `decimal` is the decimal sign.
    """

    currency: str = ""
    unit: Unit = "mm"
    says: Callable[[str], str] = _as_said
    decimal: str = "."

    @property
    def words(self) -> dict[str, str]:
        """Values for the names in braces that a heading may have: currency, unit, mass, unit of a run."""
        return {"currency": self.currency, "unit": self.unit, "mass": MASS_UNITS[self.unit],
                "run": "ft" if self.unit == "in" else "m"}  # fmt: skip


def setting_of(notation: Notation) -> Setting:
    """The currency and unit of a shop's own tables."""
    return Setting(notation.currency, notation.unit)


@dataclass(frozen=True, slots=True)
class Look:
    """How one kind of value is drawn.

    `text` is for people, `data` for programs. A worksheet holds `cell` (if None, the text) in the number
    format `number`. Figures are aligned to the right.
    """

    text: Callable[[Any, Setting], str]
    data: Callable[[Any, Setting], object]
    cell: Callable[[Any, Setting], object] | None = None
    number: Callable[[Setting], str] = lambda setting: "General"
    figure: bool = True

    def shown(self, value: object, setting: Setting) -> str:
        """The value as text for people; empty for None."""
        text = "" if value is None else self.text(value, setting)
        return text.replace(".", setting.decimal) if self.figure and setting.decimal != "." else text

    def plain(self, value: object, setting: Setting) -> object:
        """The value for JSON and CSV."""
        return None if value is None else self.data(value, setting)

    def held(self, value: object, setting: Setting) -> object:
        """The value for a worksheet's cell."""
        return None if value is None else (self.cell or self.text)(value, setting)


def price_text(price: Decimal) -> str:
    """A price of a bar or of a kg with two to four decimals.

    >>> price_text(Decimal("2.72260000")), price_text(Decimal(5))
    ('2.7226', '5.00')
    """
    whole, _, places = f"{price:.4f}".partition(".")
    return f"{whole}.{places.rstrip('0').ljust(2, '0')}"


def whole_minutes(minutes: Decimal | float) -> int:
    """Minutes as every sheet shows them: whole, half up.

    >>> whole_minutes(Decimal("112.5"))
    113
    """
    return int(Decimal(str(minutes)).quantize(Decimal(1), ROUND_HALF_UP))


def json_number(value: Decimal) -> int | float:
    """A `Decimal` as the int or float that JSON can hold."""
    return int(value) if value == value.to_integral_value() else float(value)


def money_format(currency: str) -> str:
    """The number format of a sheet with the currency's number of decimals; the heading names the currency.

    >>> money_format("JPY")
    '#,##0'
    """
    digits = currency_digits(currency)
    return "#,##0" + ("." + "0" * digits if digits else "")


def _same(value: Any, setting: Setting) -> Any:
    return value


def _word(value: Any, setting: Setting) -> str:
    return str(value)


def _amount(value: Any, setting: Setting) -> Decimal:
    assert setting.currency, "a table of money must be told its currency"
    return round_money(Decimal(value), setting.currency)


def _amount_text(value: Any, setting: Setting) -> str:
    return f"{_amount(value, setting):f}"


def _each(value: Any, setting: Setting) -> str:
    """A price with the currency's decimals, or with all of its own if it has more."""
    exact, printed = Decimal(value), _amount(value, setting)
    return f"{printed if printed == exact else exact:f}"


def _size(value: Length, setting: Setting) -> str:
    return show_length(value, setting.unit).rsplit(" ", 1)[0]


def _mark(value: Length, setting: Setting) -> str:
    return show_mark(value, setting.unit).rsplit(" ", 1)[0]


def _mass(value: Any, setting: Setting, step: str = "0.1") -> Decimal:
    """Kilograms in the unit of the setting, to a step."""
    return (Decimal(value) / KG_PER[setting.unit]).quantize(Decimal(step), ROUND_HALF_UP)


def _more_or_less(value: Length, setting: Setting) -> str:
    size = show_length(Length(abs(value.nm)), setting.unit, exact=True).rsplit(" ", 1)[0]
    return f"{'-' if value.nm < 0 else '+'}{size}"


def _run_text(value: Length, setting: Setting) -> str:
    """A length of bar in metres or feet, as it is bought and counted."""
    inches = setting.unit == "in"
    return f"{value.nm / (12 * NM_PER_INCH):.1f}" if inches else f"{value.nm / 1e9:.2f}"


def _number(value: Any, setting: Setting) -> object:
    return json_number(value) if isinstance(value, Decimal) else value


def _degrees(value: float, setting: Setting) -> str:
    """Degrees to half a degree, as a bender can be read."""
    return f"{round(value * 2) / 2:g}°"


def _fixed(number: str) -> Callable[[Setting], str]:
    return lambda setting: number


TEXT = Look(_word, _same, _same, figure=False)
WORDS = Look(
    lambda value, setting: ", ".join(map(str, value)), lambda value, setting: list(value), figure=False
)
# Texts in a column of figures, such as "1.25 per kg".
FIGURE = Look(_word, _same)
DAY = Look(lambda value, setting: value.isoformat(), _same, _same, _fixed("yyyy-mm-dd"), figure=False)
COUNT = Look(_word, _same, _same, _fixed("#,##0"))
MONEY = Look(_amount_text, _amount_text, _amount, lambda setting: money_format(setting.currency))
# An amount more or less, with its sign.
CHANGE = Look(lambda value, setting: f"{_amount(value, setting):+f}", lambda value, setting: f"{value:f}")
# The price of one bar, kg or metre, which may have more digits than an amount.
PRICE = Look(
    lambda value, setting: _each(value, setting),
    _each,
    lambda value, setting: Decimal(value),
    _fixed("#,##0.00##"),
)
LENGTH = Look(lambda value, setting: show_length(value, setting.unit), _same)
EXACT_LENGTH = Look(lambda value, setting: show_length(value, setting.unit, exact=True), _same)
BAR_LENGTH = Look(lambda value, setting: show_bar(value, setting.unit), _same)
# Sizes and bend marks below a heading that names the unit.
SIZE = Look(_size, _same)
MARK = Look(_mark, _same)
# A deviation of a length, with its sign.
DIFFERENCE = Look(_more_or_less, lambda value, setting: value)
# Bars laid end to end, in the unit of `run`.
RUN = Look(_run_text, lambda value, setting: value)
MASS = Look(lambda value, setting: f"{_mass(value, setting):f}", _same, _mass, _fixed("#,##0.0"))
# Of one part.
FINE_MASS = Look(lambda value, setting: f"{_mass(value, setting, '0.001'):f}", _same)
MINUTES = Look(
    lambda value, setting: str(whole_minutes(value)), _number, lambda value, setting: whole_minutes(value),
    _fixed("#,##0"),
)  # fmt: skip
EXACT_MINUTES = Look(lambda value, setting: f"{value:.2f}", _number, _same, _fixed("#,##0.00"))
HOURS = Look(lambda value, setting: f"{value:.1f}", _number, _same, _fixed("#,##0.0"))
PERCENT = Look(
    lambda value, setting: f"{value} %", _same, lambda value, setting: float(value), _fixed('0.0" %"')
)
NUMBER = Look(lambda value, setting: f"{value:f}", _same, _same, _fixed("#,##0.######"))
DEGREES = Look(_degrees, _same)
YES = Look(lambda value, setting: "yes" if value else "", _same, figure=False)
