"""Every kind of value: what it takes, what it refuses, and that what was shown reads back everywhere."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest
from babel.localedata import locale_identifiers
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.units import LONGEST_NM, Length, Measure
from shopquote.errors import InputError, Misread, TwoReadings
from shopquote.reading import kinds
from shopquote.reading.cells import NumberText, cell_text
from shopquote.reading.job_sizes import Ends, Sizes
from shopquote.reading.kinds import Notation

EN, US, DE, FR, CH, IN = (
    Notation("mm", locale, currency)
    for locale, currency in (
        ("en_GB", "GBP"), ("en_US", "USD"), ("de_DE", "EUR"), ("fr_FR", "EUR"), ("de_CH", "CHF"),
        ("en_IN", "INR"),
    )
)  # fmt: skip
NOWHERE = Notation()

notations = st.builds(
    Notation, st.sampled_from(["mm", "in"]), st.sampled_from(["", *sorted(locale_identifiers())]),
    st.sampled_from(["EUR", "GBP", "USD", "CHF", "JPY", "KWD", "SEK", "INR"]),
)  # fmt: skip
decimals = st.decimals(0, 10**8, places=4)


# Marks as in CLDR, which Babel carries.
@pytest.mark.parametrize(
    ("typed", "notation", "value"),
    [
        ("1,250", EN, "1250"), ("1,250", US, "1250"), ("1,250", DE, "1.25"), ("1,250", FR, "1.25"),
        ("1.250", EN, "1.25"), ("1.250", FR, "1.25"), ("1.250", NOWHERE, "1.25"), ("1.250", CH, "1.25"),
        ("1 250", DE, "1250"), ("1\u202f250", EN, "1250"), ("1'250", EN, "1250"),
        ("1\u2019250.5", CH, "1250.5"),
        ("1320,5", EN, "1320.5"), ("1.250,50", EN, "1250.50"), ("1,250.50", DE, "1250.50"),
        ("1,250,000", DE, "1250000"), ("1,25,000", IN, "125000"), ("0,125", EN, "0.125"), (".5", DE, "0.5"),
        (NumberText("1.250"), DE, "1.250"), (Decimal("1.250"), DE, "1.250"), (1.25, DE, "1.25"),
        (1250, DE, "1250"),
    ],
)  # fmt: skip
def test_a_number_is_read_by_the_locale_of_the_shop_where_it_may_mean_two(typed, notation, value):
    assert kinds.number().read(typed, notation) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "notation"), [("1,250", NOWHERE), ("1,250", CH), ("1.250", DE), ("12.500", DE)]
)
def test_a_number_that_stays_unsure_is_refused_with_both_readings(typed, notation):
    whole = typed.replace(",", "").replace(".", "")
    for kind in (
        kinds.number(),
        kinds.money(),
        kinds.percent(10**6),
        kinds.count(),
        kinds.MINUTES,
        kinds.MEASURE,
    ):
        with pytest.raises(TwoReadings) as told:
            kind.read(typed, notation)
        assert whole in told.value.expected
        assert f"{Decimal(typed.replace(',', '.')).normalize():f}" in told.value.message


@pytest.mark.parametrize(
    "typed",
    ["", "x", "1,2,3", "12,34,567", "1..2", "1e3", "nan", "1 25", "--1", "\u0661", "9" * 41, True, None],
)
def test_what_is_no_number_is_refused_in_every_locale(typed):
    for notation in (EN, DE, FR, CH, NOWHERE):
        with pytest.raises(Misread):
            kinds.number().read(typed, notation)


@pytest.mark.parametrize(
    ("typed", "notation", "value"),
    [("£48", EN, "48"), ("48.50 GBP", EN, "48.50"), ("1.250,50 €", DE, "1250.50"), ("€ 12", FR, "12"),
     ("$1,250", US, "1250"), ("CHF 1'250", CH, "1250"), ("48", NOWHERE, "48")],
)  # fmt: skip
def test_an_amount_may_carry_the_currency_of_the_shop(typed, notation, value):
    assert kinds.money().read(typed, notation) == Decimal(value)


@pytest.mark.parametrize(("typed", "notation"), [("$48", EN), ("48 EUR", EN), ("£48", DE), ("£48", NOWHERE)])
def test_an_amount_in_other_money_is_refused(typed, notation):
    with pytest.raises(Misread, match="expected an amount"):
        kinds.money().read(typed, notation)


@pytest.mark.parametrize(
    ("typed", "notation", "value"),
    [("90", EN, 90), ("7,5", EN, "7.5"), ("1:30", EN, 90), ("1.5 h", EN, 90), ("1,5 h", DE, 90),
     ("20 min", EN, 20), ("1,250", EN, 1250), ("1,250", DE, "1.25"), (time(1, 30), EN, 90),
     (timedelta(hours=26), EN, 1560), (time(0, 7, 30), EN, "7.5"), (cell_text(time(0, 7, 30)), EN, "7.5"),
     (timedelta(hours=25, seconds=90), EN, "1501.5"),
     (cell_text(timedelta(hours=25, seconds=90)), EN, "1501.5"),
     (timedelta(seconds=5399.9996), EN, 90)],
)  # fmt: skip
def test_minutes_and_amounts_read_alike(typed, notation, value):
    assert kinds.MINUTES.read(typed, notation) == Decimal(value)
    if isinstance(typed, str) and not {" ", ":"} & set(typed):
        assert kinds.money().read(typed, notation) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "notation", "day"),
    [("2026-04-03", EN, date(2026, 4, 3)), ("2026-04-03 00:00:00", EN, date(2026, 4, 3)),
     ("3.4.2026", EN, date(2026, 4, 3)), ("03/04/2026", EN, date(2026, 4, 3)),
     ("03/04/2026", US, date(2026, 3, 4)), ("25/04/2026", US, date(2026, 4, 25)),
     ("04/04/2026", NOWHERE, date(2026, 4, 4)), (datetime(2026, 4, 3, 12), EN, date(2026, 4, 3))],
)  # fmt: skip
def test_a_day_is_read_in_the_order_of_the_locale(typed, notation, day):
    assert kinds.DAY.read(typed, notation) == day


@pytest.mark.parametrize(
    "typed",
    ["1999-12-31", "2101-01-01", "26-04-03",
     "3.4.26", "03/04/26", "0206-04-03", "2026-02-30", "2026-04-03x", "20260403",
     date(1926, 4, 3), 46000, "", None],
)  # fmt: skip
def test_a_day_no_shop_can_mean_is_refused(typed):
    with pytest.raises(Misread, match="2000 to 2100"):
        kinds.DAY.read(typed, EN)


def test_a_day_that_stays_unsure_is_refused_with_both_readings():
    with pytest.raises(TwoReadings, match="2026-03-04 or 2026-04-03"):
        kinds.DAY.read("03/04/2026", NOWHERE)


@pytest.mark.parametrize(
    ("typed", "notation", "mm"),
    [("1,250", EN, "1250"), ("1,250 mm", DE, "1.25"), ("33,5", EN, "33.5"), ("1 250", EN, "1250"),
     ("1 1/2 in", EN, "38.1"), ("1,25 m", FR, "1250"), ("7' 6-1/2\"", CH, "2298.7"), ("6 m", DE, "6000")],
)  # fmt: skip
def test_a_length_is_read_by_the_same_rule(typed, notation, mm):
    assert kinds.length().read(typed, notation) == Length.from_mm(mm)


def test_feet_in_a_shop_that_parts_thousands_by_an_apostrophe_are_refused_where_unsure():
    with pytest.raises(TwoReadings, match="1250 or 1 ft 250 in"):
        kinds.length().read("1'250", CH)
    # A Swiss shop's job file is read as any other: there 1'250 was a leg of 1 ft and 250 in.
    for notation in (EN, DE, replace(CH, portable=True)):
        with pytest.raises(TwoReadings, match="1250 or 1 ft 250 in"):
            kinds.length().read("1’250", notation)


def test_words_of_a_length_are_kept_as_typed_unless_only_the_shop_can_read_them():
    assert kinds.MEASURE.read("33,5", EN) == Measure("33,5", Length.from_mm("33.5"))
    assert kinds.MEASURE.read("1,250", EN) == Measure("1250", Length.from_mm(1250))
    assert kinds.MEASURE.read("1,250", DE) == Measure("1.250", Length.from_mm("1.25"))


def test_lengths_in_a_list_are_parted_by_semicolons_or_a_comma_and_a_blank():
    assert [one.text for one in kinds.measures("6100; 6150, 6.2 m", EN)] == ["6100", "6150", "6.2 m"]
    with pytest.raises(TwoReadings, match=r"6100; 6150 or 6100\.6150"):
        kinds.measures("6100,6150", EN)


def test_a_decimal_comma_of_the_shop_is_one_within_a_list_of_lengths():
    assert [one.mm for one in kinds.LENGTHS.read("5985,5, 6,0 m; 12,25", DE)] == [
        Decimal("5985.5"), 6000, Decimal("12.25")
    ]  # fmt: skip
    for text in ("6100,6150", "6,150"):
        with pytest.raises(TwoReadings):
            kinds.LENGTHS.read(text, DE)


def test_a_bar_of_fractions_without_a_unit_is_refused_in_a_shop_that_measures_in_millimetres():
    """Stored as half a millimetre, the bar was on nobody's list and its price a guess from wire."""
    for text in ("round 1/2", "flat 1-1/2 x 1/4", "angle 2 x 2 x 1/8"):
        with pytest.raises(TwoReadings, match=f"{text} in or "):
            kinds.BAR.read(text, Notation("mm"))
        with pytest.raises(TwoReadings):
            kinds.SECTION.read(text, Notation("mm"))
        assert (
            kinds.BAR.read(f"{text} in", Notation("mm")).value == kinds.BAR.read(text, Notation("in")).value
        )


FORGOTTEN = ("1/2", "5/8", "2-7/16", "1 1/2", "\u00bd", "2\u00bd")


@pytest.mark.parametrize("typed", FORGOTTEN)
def test_a_length_of_fractions_without_a_unit_is_refused_where_lengths_are_in_millimetres(typed):
    """Half a millimetre of weld, or a hole of 0.6 mm, was priced without a word."""
    lengths = (kinds.MEASURE, kinds.TYPED_LENGTH, kinds.length(), kinds.LENGTHS, kinds.OFFSET)
    for kind in (*lengths, kinds.SIGNED_MEASURE, kinds.WELD_SIZE):
        with pytest.raises(TwoReadings, match=rf"{typed} in or [\d.]+ mm"):
            kind.read(typed, Notation("mm"))
        kind.read(f"{typed} in", Notation("mm"))
        kind.read(typed, Notation("in"))
    for kind, text in ((kinds.WELD_SIZE, "a{}"), (kinds.SIGNED_MEASURE, "-{}"), (kinds.LENGTHS, "40; {}")):
        with pytest.raises(TwoReadings, match=f"{typed} in"):
            kind.read(text.format(typed), Notation("mm"))


@pytest.mark.parametrize("typed", FORGOTTEN)
def test_fractions_without_a_unit_in_shapes_and_ends_are_refused_in_millimetres(typed):
    for kind, text in (
        (kinds.SHAPE, "leg 300; bend 90 r {}; leg 200"), (kinds.SHAPE, "leg {0}; bend 90 r 24; leg {0}"),
        (kinds.SHAPE, "leg 90; eye d {}"), (kinds.SHAPE, "ring d 200 lap {}"), (kinds.END, "chamfer {}"),
        (kinds.END, "thread M12 x {}"), (kinds.END, "turn 16 x {}"), (kinds.END, "point {} to 0"),
    ):  # fmt: skip
        with pytest.raises(Misread, match=f"'{typed}' may mean {typed} in or .* mm"):
            kind.read(text.format(typed), Notation("mm"))
        kind.read(text.format(f"{typed} in"), Notation("mm"))
        kind.read(text.format(typed), Notation("in"))


def test_what_was_stored_before_such_fractions_were_refused_is_read_as_it_was():
    row = SimpleNamespace(at=["1/2", "-2-7/16", "30"], end_a="square", end_a_mitre=Decimal(0), end_b="square")
    row.end_a_work, row.end_b_mitre, row.end_b_work = "chamfer 1/2", Decimal(0), ""
    at = Sizes(9, signed=True).load("at", row, "mm")
    assert [(one.text, one.length.mm_float) for one in at] == [
        ("1/2", 0.5),
        ("-2-7/16", -2.4375),
        ("30", 30.0),
    ]
    assert Ends().load("ends", row, "mm")[0].forms[0].mm(0) == 0.5


def test_feet_and_inches_and_fractions_of_nothing_are_sure():
    for typed in ("7' 6-1/2\"", "2 ft 3/4", '5/8"', "1-1/4 in"):
        assert (
            kinds.MEASURE.read(typed, Notation("mm")).length
            == kinds.MEASURE.read(typed, Notation("in")).length
        )


def test_a_unit_behind_sizes_that_are_joined_is_that_of_both():
    """As of bars: of "turn 5/8 x 1 in" the diameter was five eighths of a millimetre."""
    for kind, text, whole in (
        (kinds.END, "turn 5/8 x 1 in", "turn 5/8 in x 1 in"),
        (kinds.END, "head 3/4x1/4\"", "head 3/4 in x 1/4 in"),
        (kinds.END, "point 2 in to 3/4 x 1/8 in", "point 2 in to 3/4 in x 1/8 in"),
        (kinds.SHAPE, "ellipse 4 x 2 in", "ellipse 4 in x 2 in"),
        (kinds.SHAPE, "collar 1 x 1/2 in", "collar 1 in x 1/2 in"),
    ):  # fmt: skip
        assert _sizes_nm(kind, text) == _sizes_nm(kind, whole)


def _sizes_nm(kind, text):
    read = kind.read(text, Notation("mm"))
    if kind is kinds.END:
        return [size.length.nm for form in read.forms for size in form.sizes]
    return [
        (word.__class__, [getattr(getattr(word, name), "length", None) for name in word.__slots__])
        for word in read.value
    ]


@pytest.mark.parametrize("typed", ["pipe 25", "pipe DN25", "Pipe dn 25", "pipe 15"])
def test_pipe_whose_wall_is_not_said_is_refused_with_both_readings(typed):
    for notation in (Notation("mm"), Notation("in")):
        with pytest.raises(TwoReadings, match=r"pipe \d+ medium .* or pipe \d+ heavy"):
            kinds.BAR.read(typed, notation)
        assert kinds.BAR.read(f"{typed} medium", notation).value.startswith("tube ")


def test_a_fraction_that_became_a_day_is_told_as_such():
    with pytest.raises(Misread, match=r"the date 2026-05-08.*formatted as text"):
        kinds.MEASURE.read(date(2026, 5, 8), EN)


def test_names_grades_and_heats_are_made_equal():
    assert kinds.GRADE.key("S 275") == kinds.GRADE.key("s275") == kinds.GRADE.key("S-275")
    assert kinds.NAME.key("Tarnside  supply") == kinds.NAME.key("TARNSIDE Supply ")
    assert kinds.HEAT.read(" ab 123", EN) == kinds.HEAT.read("AB123", EN) == "AB123"
    assert kinds.word(("welding", "fit-up")).read("Fit-UP", EN) == "fit-up"
    fine = [kinds.THREAD.read(typed, EN) for typed in ("m 12 X 1.25", "M12x1.25")]
    assert {kinds.THREAD.key(one) for one in fine} == {"M12 x 1.25"}
    assert kinds.WELD_SIZE.read("a4", EN).length == kinds.WELD_SIZE.read("A = 4", EN).length


@pytest.mark.parametrize(
    "value",
    [Decimal("1e999999999"), Decimal("1e-999999999"), Decimal("NaN"), Decimal("-Infinity"), float("inf"),
     float("nan"), "9" * 5000, "1e999999999"],
)  # fmt: skip
def test_a_number_beyond_any_use_is_refused_at_once(value):
    every = (kinds.number(), kinds.money(), kinds.percent(), kinds.count(), kinds.MINUTES, kinds.MEASURE)
    for kind in every:
        with pytest.raises(Misread):
            kind.read(value, EN)
        with pytest.raises(Misread):
            kind.read(10**5000, EN)


@pytest.mark.parametrize("typed", ["ja", "Oui", "yes", "X", True, NumberText("1")])
def test_yes_in_the_languages_of_quotes(typed):
    assert kinds.YES_NO.read(typed, EN) is True


# --- the law: reading what was shown gives the same value -----------------------------------------

# Without what a text may not hold, and as every reader leaves it: nothing blank at its ends.
texts = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=60).map(str.strip)
KINDS = {
    "number": (kinds.number(decimals=4), decimals),
    "money": (kinds.money(), decimals),
    "percent": (kinds.percent(10**8), decimals),
    "minutes": (kinds.MINUTES, st.decimals(0, 100_000, places=4)),
    "count": (kinds.count(), st.integers(0, 10**9)),
    "day": (kinds.DAY, st.dates(date(2000, 1, 1), date(2100, 12, 31))),
    "length": (kinds.length(), st.integers(0, LONGEST_NM).map(Length)),
    "offset": (kinds.OFFSET, st.integers(-LONGEST_NM, LONGEST_NM).map(Length)),
    "lengths": (kinds.LENGTHS, st.lists(st.integers(0, LONGEST_NM).map(Length), max_size=4).map(tuple)),
    "yes or no": (kinds.YES_NO, st.booleans()),
    "thread": (
        kinds.THREAD,
        st.sampled_from(["M12", "M12 x 1.25", "M8 x 0.75", "1/2-13 UNC", "G 1/2"]).map(
            lambda typed: kinds.THREAD.read(typed, NOWHERE)
        ),
    ),
    "text": (kinds.text(60, lines=True), texts),
    "names": (kinds.names(6, 60), st.lists(texts.filter(bool), max_size=6).map(tuple)),
}
# What keeps a person's words is read in the unit of its job, wherever it is read again.
WORDS = {
    "shape": (kinds.SHAPE, ["leg 300; bend 90 r 24; leg 600", "250 90r36 300", "ring d 200", "leg 1-1/2 in"]),
    "end": (kinds.END, ["square", "mitre -45", "thread M12 x 40 + chamfer 2", "point 100 to 20 x 5"]),
    "weld size": (kinds.WELD_SIZE, ["a4", "z6", "6", "z 1/4 in", "5.5"]),
}


@pytest.mark.parametrize("name", WORDS)
@given(data=st.data(), shown_by=notations, read_by=notations)
def test_words_that_were_shown_read_back_in_the_unit_of_their_job(name, data, shown_by, read_by):
    kind, typed = WORDS[name]
    value = kind.read(data.draw(st.sampled_from(typed)), shown_by)
    assert kind.read(kind.text(value, shown_by), read_by.within(shown_by.unit)) == value


@pytest.mark.parametrize("name", KINDS)
@given(data=st.data(), shown_by=notations, read_by=notations)
def test_what_was_shown_reads_back_in_every_locale(name, data, shown_by, read_by):
    kind, values = KINDS[name]
    value = data.draw(values)
    cell = kind.show(value, shown_by)
    assert kind.read(cell, read_by) == value
    assert kind.read(cell_text(cell), read_by) == value
    assert kind.or_nothing.read(kind.or_nothing.text(value, shown_by), read_by) == (
        value if cell != "" else None
    )


@given(st.integers(1, LONGEST_NM), notations, notations)
def test_a_length_with_its_words_reads_back_in_every_locale(nanometres, typed_by, read_by):
    typed = kinds.TYPED_LENGTH.read(kinds.length().show(Length(nanometres), typed_by), typed_by)
    again = kinds.TYPED_LENGTH.read(kinds.TYPED_LENGTH.show(typed, read_by), read_by)
    assert again.value == typed.value == Length(nanometres)


@given(st.text(max_size=40), notations)
def test_any_text_is_a_value_or_a_misread(text, notation):
    for kind in (
        *(kind for kind, _ in [*KINDS.values(), *WORDS.values()]),
        kinds.BAR,
        kinds.GRADE,
        kinds.NAME,
        kinds.HEAT,
    ):
        try:
            kind.read(text, notation)
        except Misread as error:
            assert error.expected and error.found


def test_a_cell_beyond_what_a_csv_field_holds_is_no_list_of_names():
    # A csv field of over 131,072 characters is an error of Python's own csv module.
    long = "x" * 140_000
    with pytest.raises(Misread, match="up to 6 texts"):
        kinds.names(6, 60).read(long, NOWHERE)
    assert kinds.names_parted(long) == [long]


@pytest.mark.parametrize("text", ["{", "[1]", "[" * 30_000, "9" * 5000])
def test_facts_that_are_no_json_table_are_misread(text):
    with pytest.raises(Misread, match="facts as JSON"):
        kinds.FACTS.read(text, NOWHERE)


@pytest.mark.parametrize("typed", [("$5", "3 USD"), ("US$5", "USD 3", "$1"), ("7", "5 EUR", "€3")])
def test_code_and_signs_of_one_currency_are_one(typed):
    notation = Notation(currency=kinds.one_currency(typed))
    assert all(kinds.money().read(text, notation) > 0 for text in typed)


def test_amounts_in_two_currencies_are_refused():
    with pytest.raises(InputError, match=r"in [$] and in €"):
        kinds.one_currency(("$5", "€3"))
