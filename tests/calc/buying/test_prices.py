"""Prices by bar, kilogram, hundredweight, metre and foot."""

from decimal import Decimal

import pytest

from shopquote.calc.buying.prices import BASES, bar_price, price_for_basis, read_basis
from shopquote.calc.units import Length
from shopquote.errors import InputError

SIX_METRES = Length.from_mm(6000)
# 12 mm round steel, 0.888 kg/m (EN 10060 row, as in the section tables), 6 m.
MASS = Decimal("0.888") * 6


@pytest.mark.parametrize(
    "price, basis, expected",
    [
        ("7.10", "bar", "7.1000"),
        ("1.25", "kg", "6.6600"),  # 1.25 x 5.328
        ("1.10", "m", "6.6000"),
        ("0.33", "ft", "6.4961"),  # 6000 / 304.8 = 19.68504 ft
        ("56.00", "cwt", "6.5779"),  # 5.328 / 45.359237 x 56 = 6.57794
    ],
)
def test_price_of_a_bar_by_each_basis(price, basis, expected):
    assert bar_price(Decimal(price), basis, SIX_METRES, MASS) == Decimal(expected)


def test_us_hundredweight_is_100_pounds():
    # International pound 0.45359237 kg exactly; a 100 lb bar costs one cwt price.
    assert bar_price(Decimal("61.50"), "cwt", SIX_METRES, Decimal("45.359237")) == Decimal("61.5000")


@pytest.mark.parametrize("basis", BASES)
def test_price_for_basis_undoes_bar_price(basis):
    cost = bar_price(Decimal("12.3400"), basis, SIX_METRES, MASS)
    assert abs(price_for_basis(cost, basis, SIX_METRES, MASS) - Decimal("12.34")) < Decimal("0.001")


@pytest.mark.parametrize("word, basis", [("each", "bar"), ("Metre", "m"), ("CWT", "cwt"), (" ft. ", "ft")])
def test_words_of_price_lists(word, basis):
    assert read_basis(word) == basis


def test_unknown_basis_names_the_nearest_word():
    with pytest.raises(InputError, match="'kgg'"):
        read_basis("kgg")
