from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shopquote.calc.units import (
    LONGEST_NM,
    Length,
    Measure,
    parse_length,
    show_inches,
    show_length,
    show_mark,
    show_mm,
)
from shopquote.errors import InputError

lengths = st.integers(0, LONGEST_NM).map(Length)


# 1 in = 25.4 mm exactly: the international inch of 1959 (nist.gov/pml/wmd/metric/length.cfm).
@pytest.mark.parametrize(
    ("typed", "unit", "nanometres"),
    [
        ("450", "mm", 450_000_000),
        ("450", "in", 11_430_000_000),
        ("33.5", "mm", 33_500_000),
        ("5/8", "in", 15_875_000),
        ("2-7/16", "in", 61_912_500),
        ("2 7/16", "in", 61_912_500),
        ("2\u00bd", "in", 63_500_000),
        ("1\u20444", "in", 6_350_000),
        ("7' 6-1/2\"", "mm", 2_298_700_000),
        ("7'-6 1/2\"", "mm", 2_298_700_000),
        ("7\u2032 6\u2033", "mm", 2_286_000_000),
        ("7 ft 6", "mm", 2_286_000_000),
        ("6''", "mm", 152_400_000),
        ("12 mm", "in", 12_000_000),
        ("2 ft", "mm", 609_600_000),
        ("1.25 m", "mm", 1_250_000_000),
        ("4 cm", "in", 40_000_000),
        ("1/64", "in", 396_875),
        (" 450\u00a0mm ", "in", 450_000_000),
        (".5 in.", "mm", 12_700_000),
    ],
)
def test_lengths_read_as_people_type_them(typed, unit, nanometres):
    assert parse_length(typed, unit).nm == nanometres


@pytest.mark.parametrize(
    "typed",
    [
        "", " ", "long", "-5", "5 6", "1,250", "5/0", "2-16/7", "1e3", "5 yards", "6\" 7'", "1' 2' 3",
        "7'-", "2 ft -", "5 mm 3 mm", "\u0663", "nan", "inf", "0x10", "2--1/2", "1/2/3", "5 mmm",
        "4" * 61, "100000001",
    ],
)  # fmt: skip
def test_what_is_not_a_length_is_refused(typed):
    with pytest.raises(InputError, match=r"length|100 km|may mean"):
        parse_length(typed, "mm")


@given(lengths, st.sampled_from(["mm", "in"]), st.sampled_from(["mm", "in"]))
def test_shown_exactly_reads_back_to_the_same_length(length, unit, reading_unit):
    assert parse_length(show_length(length, unit, exact=True), reading_unit) == length


@given(st.integers(0, 10**6), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))
def test_fractions_of_an_inch_read_back_and_are_exact(parts, denominator):
    length = Length.from_inches(Fraction(parts, denominator))
    assert parse_length(show_inches(length, denominator), "mm") == length
    assert length.inches == Fraction(parts, denominator)


@given(st.integers(0, LONGEST_NM // 2).map(Length))
def test_sheets_round_to_the_nearest_step(length):
    shown = parse_length(show_length(length, "mm"), "in")
    assert abs(shown.nm - length.nm) <= 500_000
    assert abs(parse_length(show_mark(length, "mm"), "in").nm - length.nm) <= 250_000
    sixteenth = parse_length(show_length(length, "in"), "mm")
    assert abs(sixteenth.nm - length.nm) <= 25_400_000 // 32


@given(st.text(max_size=70))
@example("1,250")
@example("1" * 60)
@example("9" * 30 + "/" + "1" * 29)
def test_any_text_is_a_length_or_an_input_error(text):
    try:
        length = parse_length(text, "mm")
    except InputError:
        return
    assert 0 <= length.nm <= LONGEST_NM


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999999999", "-1", "1e-999999"])
def test_a_bare_number_beyond_any_length_is_refused_at_once(number):
    with pytest.raises(InputError, match="length"):
        Measure.parse(Decimal(number), "mm")


def test_a_measure_keeps_the_words_it_was_typed_in():
    assert Measure.parse("2-7/16 ", "in") == Measure("2-7/16", Length(61_912_500))
    assert Measure.parse(Decimal("33.50"), "mm").text == "33.50"
    assert Measure.parse(450, "mm").text == "450"
    assert Measure.parse(0.1, "mm").length == Length.from_mm("0.1")


def test_long_lengths_on_sheets_never_turn_into_exponents():
    assert show_mm(Length.from_mm("1234567.5"), Fraction(1, 2)) == "1234567.5 mm"
    assert show_mark(Length.from_mm("12345678.26"), "mm") == "12345678.5 mm"


def test_halves_round_up_on_sheets():
    assert show_length(Length.from_mm("450.5"), "mm") == "451 mm"
    assert show_inches(Length.from_inches(Fraction(1, 32)), 16) == "1/16 in"
    assert show_inches(Length.from_inches(-Fraction(39, 16)), 16) == "-2-7/16 in"


def test_lengths_add_and_multiply_exactly():
    third = Length.from_mm("33.3")
    assert third + third - third == third
    assert 3 * third == third * 3 == Length.from_mm("99.9")
    assert Length.from_mm(0.1).mm == Decimal("0.1")
    assert not Length(0)
