"""Snapshots: dataclasses to plain values and back, over changes of the classes."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import pytest

from shopquote.calc.snapshot import Snapshot, from_plain, to_plain
from shopquote.calc.units import Length
from shopquote.errors import InputError


@dataclass(frozen=True)
class Inner:
    length: Length
    word: str = "one"


@dataclass(frozen=True)
class Outer:
    price: Decimal
    day: date | None
    inners: tuple[Inner, ...]
    pair: tuple[int, Decimal]
    share: float = 0.0


HELD = Outer(
    Decimal("12.50"), date(2026, 3, 2), (Inner(Length(5)), Inner(Length(7), "two")), (3, Decimal("0.10")), 1.5
)


def test_a_value_comes_back_exactly():
    back = from_plain(Outer, to_plain(HELD))
    assert back == HELD
    assert str(back.price) == "12.50"


def test_a_field_that_is_new_takes_its_default_and_one_that_went_is_left_out():
    plain = to_plain(HELD)
    del plain["share"]
    plain["gone"] = [1, 2]
    assert from_plain(Outer, plain).share == 0.0


def test_none_stays_none():
    assert from_plain(Outer, to_plain(HELD) | {"day": None}).day is None


@pytest.mark.parametrize("spoilt", [{"price": "x"}, {"day": "yesterday"}, {"pair": [1]}])
def test_a_spoilt_value_is_refused(spoilt):
    with pytest.raises(InputError, match="stored Outer"):
        from_plain(Outer, to_plain(HELD) | spoilt)


@pytest.mark.parametrize("text", ["{", "[" * 100_000, "9" * 5000])
def test_a_text_that_is_no_json_is_refused(text):
    with pytest.raises(InputError, match="stored outer cannot be read"):
        Snapshot("outer", Outer).read(text)
