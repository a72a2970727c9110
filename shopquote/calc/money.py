"""Money: Decimal in one currency, rounded half up once, at a printed line.

Rates and unit costs keep up to 4 decimals; amounts on a printed line keep the
currency's own digits, and a total is the sum of its rounded lines.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from shopquote.errors import InputError

# Prices per kilogram or metre have hundredths of a cent, so that a whole bar's price is right to the cent.
RATE_DIGITS = 4

# The currency where no shop is on file, and the first answer that setting up offers.
USUAL_CURRENCY = "EUR"

# Digits of currencies that do not have 2: ISO 4217, list one of 2017 and an earlier one, as a public data set
# of them has it.
_MINOR_DIGITS = {
    "BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0, "RWF": 0,
    "UGX": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
    "BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3, "CLF": 4,
}  # fmt: skip


def currency_digits(currency: str) -> int:
    """Digits after the point of a currency's printed amounts.

    >>> currency_digits("EUR"), currency_digits("JPY")
    (2, 0)
    """
    return _MINOR_DIGITS.get(currency.upper(), 2)


def money_step(currency: str) -> Decimal:
    """The least amount that a currency prints.

    >>> money_step("EUR"), money_step("JPY")
    (Decimal('0.01'), Decimal('1'))
    """
    return Decimal(1).scaleb(-currency_digits(currency))


def round_money(amount: Decimal, currency: str) -> Decimal:
    """An amount as printed on a line, rounded half up.

    >>> round_money(Decimal("2.345"), "EUR"), round_money(Decimal("2.345"), "KWD")
    (Decimal('2.35'), Decimal('2.345'))
    """
    return amount.quantize(money_step(currency), ROUND_HALF_UP)


def round_money_up(amount: Decimal, currency: str) -> Decimal:
    """The smallest printable amount that is not below `amount`."""
    return amount.quantize(money_step(currency), ROUND_CEILING)


def round_money_down(amount: Decimal, currency: str) -> Decimal:
    """The largest printable amount that is not above `amount`."""
    return amount.quantize(money_step(currency), ROUND_FLOOR)


def round_rate(rate: Decimal) -> Decimal:
    """A rate or unit cost as stored: 4 decimals, half up."""
    return rate.quantize(Decimal(1).scaleb(-RATE_DIGITS), ROUND_HALF_UP)


def price_at_margin(cost: Decimal, margin_pct: Decimal) -> Decimal:
    """Price that leaves `margin_pct` per cent of the PRICE over `cost`, unrounded.

    Raises:
        InputError: the margin is 100 % or more, or below -100 %.

    Source: price = cost / (1 - margin), an identity.

    >>> price_at_margin(Decimal(75), Decimal(25)) == 100
    True
    """
    if not Decimal(-100) <= margin_pct < Decimal(100):
        raise InputError(f"Margin is {margin_pct} %; it must be from -100 % to below 100 % of the price.")
    return cost / (1 - margin_pct / 100)


def margin_of_price(price: Decimal, cost: Decimal) -> Decimal:
    """Margin in per cent of the price; the inverse of `price_at_margin`.

    Raises:
        InputError: the price is zero or negative.

    >>> margin_of_price(Decimal(100), Decimal(75)) == 25
    True
    """
    if price <= 0:
        raise InputError(f"Price is {price}; a margin needs a price above zero.")
    return (price - cost) / price * 100


def share_out(total: int, weights: dict[int, int]) -> dict[int, int]:
    """Split a total into whole parts in proportion to weights, by key; the parts add up to it exactly.

    The method of largest remainders: parts are rounded down and the rest goes, one each, to the largest
    remainders, of equal ones to the first. Where all weights are 0 the parts are equal.

    >>> share_out(100, {1: 1, 2: 1, 3: 1})
    {1: 34, 2: 33, 3: 33}
    """
    whole = sum(weights.values())
    if not whole:
        weights = dict.fromkeys(weights, 1)
        whole = len(weights)
    parts = {key: total * weight // whole for key, weight in weights.items()}
    rest = total - sum(parts.values())
    # sorted is stable, so equal remainders stay in the order of the weights.
    by_remainder = sorted(weights, key=lambda key: -(total * weights[key] % whole))
    for key in by_remainder[:rest]:
        parts[key] += 1
    return parts
