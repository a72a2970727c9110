from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.money import (
    currency_digits,
    margin_of_price,
    price_at_margin,
    round_money,
    round_money_down,
    round_money_up,
    round_rate,
)
from shopquote.errors import InputError

amounts = st.decimals("0.0001", "999999999", places=4)


# Margin against markup: margin 20 % of the price is markup 25 % on cost, 25 is 33.3, 30 is 42.9, 40 is 66.7,
# 50 is 100 (trade tables of margin and markup; identity u = m / (1 - m)).
@pytest.mark.parametrize(
    ("margin", "markup"), [("20", "25.0"), ("25", "33.3"), ("30", "42.9"), ("40", "66.7"), ("50", "100.0")]
)
def test_margin_on_price_matches_the_printed_markup_on_cost(margin, markup):
    price = price_at_margin(Decimal(100), Decimal(margin))
    assert (price - 100).quantize(Decimal("0.1")) == Decimal(markup)


@given(amounts, st.decimals("-50", "99", places=2))
def test_margin_of_a_price_is_the_margin_it_was_made_with(cost, margin):
    assert abs(margin_of_price(price_at_margin(cost, margin), cost) - margin) < Decimal("1e-15")


@pytest.mark.parametrize("margin", ["100", "150", "-101"])
def test_a_margin_of_the_whole_price_is_refused(margin):
    with pytest.raises(InputError, match="below 100 %"):
        price_at_margin(Decimal(1), Decimal(margin))


def test_a_price_of_nothing_has_no_margin():
    with pytest.raises(InputError, match="above zero"):
        margin_of_price(Decimal(0), Decimal(1))


def test_amounts_round_half_up_once_in_the_currency_s_own_digits():
    assert round_money(Decimal("2.345"), "EUR") == Decimal("2.35")
    assert round_money(Decimal("-2.345"), "EUR") == Decimal("-2.35")
    assert round_money(Decimal("2.5"), "JPY") == Decimal(3)
    assert str(round_money(Decimal(2), "KWD")) == "2.000"
    assert round_rate(Decimal("0.12345")) == Decimal("0.1235")
    assert currency_digits("gbp") == 2


@given(amounts, st.sampled_from(["EUR", "JPY", "KWD"]))
def test_rounding_up_or_down_never_goes_past_and_less_than_one_coin_away(amount, currency):
    coin = Decimal(1).scaleb(-currency_digits(currency))
    assert 0 <= round_money_up(amount, currency) - amount < coin
    assert 0 <= amount - round_money_down(amount, currency) < coin
    assert abs(round_money(amount, currency) - amount) <= coin / 2
