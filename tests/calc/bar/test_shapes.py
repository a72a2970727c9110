from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.shape_words import Arc, Bend, Helix, Leg, Ring, Scroll, Taper, Turn, Twist
from shopquote.calc.bar.shapes import MOST_WORDS, SHAPE_WORDS, parse_shape
from shopquote.calc.units import Measure
from shopquote.errors import InputError, ShopquoteError


def mm(text):
    return Measure.parse(text, "mm")


def test_every_word_of_a_shape_is_read():
    text = (
        "leg 300; bend -90 r 24; arc 45 r 1 m gap 2; turn 30; helix d 90 pitch 40 turns 5; twist 2 over 200"
    )
    assert parse_shape(text, "mm") == (
        Leg(mm("300")), Bend(-90.0, mm("24")), Arc(45.0, mm("1 m"), gap=mm("2")), Turn(30.0),
        Helix(mm("90"), mm("40"), 5.0), Twist(2.0, mm("200")),
    )  # fmt: skip
    assert parse_shape("ring d 300 outside lap 50", "mm") == (Ring(mm("300"), "outside", mm("50")),)
    assert parse_shape("scroll from 15 to 75 turns -2.5", "mm") == (Scroll(mm("15"), mm("75"), -2.5),)
    assert parse_shape("taper 100 to 0; leg 5", "mm") == (Taper(mm("100"), mm("0")), Leg(mm("5")))


def test_lengths_of_a_shape_are_kept_as_typed_and_mixed_in_units():
    leg, bend, long = parse_shape("leg 2-7/16; bend 90 r 12 mm; leg 7' 6-1/2\"", "in")
    assert leg.length.text == "2-7/16"
    assert bend.radius.length.mm == 12
    assert long.length.length.inches == 90.5


def test_a_comma_may_stand_before_decimals_of_angles_and_turns_too():
    """It was read in lengths alone, in long words alone: the same figure differed by its place."""
    assert parse_shape("leg 120,5; bend 67,5 r 24; leg 80", "mm") == (
        Leg(mm("120,5")), Bend(67.5, mm("24")), Leg(mm("80")),
    )  # fmt: skip
    assert parse_shape("scroll from 15 to 75 turns -2,5", "mm") == (Scroll(mm("15"), mm("75"), -2.5),)


def test_angles_and_turns_are_read_with_a_fraction_wherever_they_are_typed():
    for typed in ("22.5", "22,5", "22-1/2", "22 1/2", "22½", "22½°", "22.5 deg"):
        assert parse_shape(f"leg 40; bend {typed} r 24; turn -{typed}; leg 80", "mm")[1:3] == (
            Bend(22.5, mm("24")), Turn(-22.5),
        )  # fmt: skip
        assert [parse_end(f"mitre {sign}{typed}", "mm").mitre for sign in ("", "-")] == [
            Decimal("22.5"), Decimal("-22.5"),
        ]  # fmt: skip
    for typed in ("1.5", "1-1/2", "1 1/2", "1½"):
        assert parse_shape(f"twist -{typed} over 200", "mm") == (Twist(-1.5, mm("200")),)
        assert parse_shape(f"helix d 90 pitch 40 turns {typed}", "mm") == (Helix(mm("90"), mm("40"), 1.5),)
    for typed in ("1-3/2", "1/0", "1-1/2 in", "--1/2", "1/2/3"):
        with pytest.raises(InputError, match="a number of turns"):
            parse_shape(f"twist {typed} over 200", "mm")


def test_case_blanks_and_a_last_semicolon_do_not_matter():
    assert parse_shape("  LEG 30 ;Bend 90R24;\n leg 40;", "mm") == parse_shape(
        "leg 30; bend 90 r 24; leg 40", "mm"
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("leg 3; bned 90 r 24", r"word 2: found 'bned', expected one of leg, .*; did you mean 'bend'\?"),
        ("bend 90 radius 24", r"found 'radius', expected 'bend ANGLE r R'; did you mean 'r'\?"),
        ("bend ninety r 24", "found 'ninety', expected 'bend ANGLE r R'"),
        ("bend 90", "expected 'bend ANGLE r R'"),
        ("bend nan r 24", "found 'nan'"),
        ("bend inf r 24", "found 'inf'"),
        ("bend 0 r 24", "an angle other than 0"),
        ("bend 22,125 r 24", "22125 or 22.125, written so that it means only one"),
        ("leg 1,250", "1250 or 1.25, written so that it means only one"),
        ("bend 90 r 22,125", "22125 or 22.125, written so that it means only one"),
        ("bend 361 r 24", "from -360 to 360"),
        ("bend 90 r 0", "a length above 0"),
        ("bend 90 r -4", "a length above 0"),
        ("bend 90 r 1000000000000", "up to 100 km"),
        ("bend 90 r 1e12", "expected 'bend ANGLE r R'"),
        ("bend 90 r 5 r 6", "'r' twice"),
        ("leg", "expected 'leg L'"),
        ("leg -3", "a length above 0"),
        ("leg ४", "expected 'leg L'|a length such as"),
        ("leg 3;;leg 4", "word 2: found nothing"),
        ("turn 90", "only turns"),
        ("leg 3; taper 20 to 2; leg 3", "a taper as the first or the last word"),
        ("leg 3; ring d 30; leg 3", "a ring alone"),
        ("helix d 30 pitch 10 turns 0", "turns above 0"),
        ("helix d 30 pitch 10 turns 1000", "at most 200"),
        ("arc 90 r 1000 hits 2.5", "a whole number of hits"),
        ("", "found nothing"),
        ("; ".join(["leg 1"] * 10_000), "characters|words"),
        ("leg 1;" * 500, f"found 500 words, expected at most {MOST_WORDS}"),
    ],
)
def test_a_faulty_shape_is_answered_with_word_found_expected_and_nearest(text, says):
    with pytest.raises(InputError, match=says):
        parse_shape(text, "mm")


def test_all_mistakes_of_a_shape_are_told_at_once():
    with pytest.raises(InputError) as caught:
        parse_shape("lge 3; bend 90 r x; leg 4; turn up", "mm")
    assert [fault.key for fault in caught.value.faults] == ["shape, word 1", "shape, word 2", "shape, word 4"]
    assert caught.value.faults[0].nearest == "leg"


LENGTHS = st.sampled_from(["3", "5/8", "7' 6-1/2\"", "12 mm", "nan", "-1", "1e9", "", "x", "½", "٣", "1/0"])
JOINTS = st.sampled_from(
    ["r", "d", "to", "from", "turns", "pitch", "over", "gap", "hits", "lap", "outside", ";", "; "]
)
WORDS = st.one_of(st.sampled_from(SHAPE_WORDS), LENGTHS, JOINTS, st.text(max_size=6))


@given(st.lists(WORDS, max_size=25))
def test_whatever_is_typed_ends_in_a_shape_or_in_one_message(words):
    try:
        parse_shape(" ".join(words), "mm")
    except ShopquoteError as error:
        assert error.exit_code == 3
        assert error.message


@pytest.mark.parametrize("of", ["inside", "centre", "outside"])
def test_a_scroll_says_what_its_radii_are_measured_to(work_out, of):
    (told,) = work_out("round 12", f"scroll from 20 to 70 turns 1.25 {of}; leg 200").shape_notes
    assert f"R 20 to 70 {of}, 1.25 turns" in told
    assert ("to the centre line" in told) == (of != "centre")


def test_a_twist_tells_its_sources_and_the_shops_own_measure(work_out, bending_shop):
    shape = "leg 200; twist 2 over 150; leg 200"
    answer = work_out("square 12", shape)
    (told,) = answer.floor_notes
    # sqrt(150^2 + (4 pi)^2 12^2 / 6) - 150, by hand.
    assert "none is added" in told and "12.1 mm" in told
    # Sources are for whoever asks why; on the floor's papers they take room.
    why = " ".join(answer.why)
    assert "Googerty" in why and "Shop Practice" in why and told in why
    assert "Googerty" not in told and "Shop Practice" not in told
    own = replace(bending_shop, twist_loss_pct=Decimal(2))
    answer = work_out("square 12", shape, shop=own)
    assert "the shop's own measure adds 2 %" in answer.shape_notes[0] and answer.developed.mm == 553
