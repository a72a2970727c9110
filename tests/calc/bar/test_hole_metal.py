"""Metal of slots, blind holes, counterbores and holes along the bar, by closed forms."""

from dataclasses import replace
from math import asin, pi, radians, sqrt, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.holes import hole_volume_mm3
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import HoleSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError
from shopquote.services.shop.starting import starting_shop


def of(bar, length_mm=200.0, **fields):
    hole = HoleSpec(
        **{
            key: Measure.parse(str(value), "mm") if key in ("dia", "slot", "deep", "counterbore") else value
            for key, value in fields.items()
        }
    )
    return hole_volume_mm3(parse_section(bar, "mm"), hole, "Part A", Say(), "easy", length_mm)


CONE = pi / 12 * 100 * 5 / tan(radians(59))  # of a 118 degree drill of 10


@given(st.integers(4, 20), st.integers(1, 60))
def test_a_slot_in_a_flat_takes_its_rectangle_and_its_round_ends(dia, longer):
    assert of("flat 60 x 8", dia=dia, slot=dia + longer) == pytest.approx(
        (pi / 4 * dia**2 + longer * dia) * 8, rel=1e-4
    )


def test_a_slot_in_a_round_follows_its_depth():
    # Metal through a round of 20 so far beside its axis is 2 sqrt(100 - x^2): integral by hand from -3 to 3.
    plane = 2 * (3 * sqrt(91) / 2 + 50 * asin(0.3)) * 2
    assert of("round 20", dia=6, slot=26) - of("round 20", dia=6) == pytest.approx(20 * plane, rel=1e-4)


def test_a_blind_hole_is_as_deep_as_it_says():
    assert of("square 25", dia=10, deep=15) == pytest.approx(pi / 4 * 100 * 15 + CONE)
    assert of("square 25", dia=10, along=True, deep=40) == pytest.approx(pi / 4 * 100 * 40 + CONE)


def test_a_hole_along_the_bar_goes_through_all_of_it():
    # M10 is drilled 8.5 (ISO 2306): through 200 mm and not through 17.
    assert of("round 17", thread="M10", along=True) == pytest.approx(pi / 4 * 8.5**2 * 200)


def test_a_counterbore_sinks_the_head_of_a_socket_screw():
    # ISO 4762: the head of M6 is 10 wide and 6 high; the hole 6.6, so that it is sunk by 6.6.
    more = of("flat 50 x 12", dia=6.6, counterbore=11) - of("flat 50 x 12", dia=6.6)
    assert more == pytest.approx(pi / 4 * (11**2 - 6.6**2) * 6.6)


def test_a_drifted_hole_takes_no_metal():
    assert of("flat 25 x 10", dia=8, drifted=True) == 0


@pytest.mark.parametrize(
    "bar, fields, told",
    [
        ("flat 40 x 8", {"dia": 10, "slot": 10}, "no longer than its hole"),
        ("flat 40 x 8", {"dia": 10, "deep": 8}, "goes through"),
        ("flat 40 x 8", {"dia": 10, "counterbore": 9}, "no wider than its hole"),
        ("flat 40 x 8", {"dia": 10, "counterbore": 45}, "leaves no metal"),
        ("flat 40 x 8", {"dia": 10, "along": True}, "finds no metal round it"),
        ("tube 42.4 x 2.6", {"dia": 10, "along": True}, "finds no metal round it"),
        ("round 30", {"dia": 10, "along": True, "deep": 250}, "along a piece of 200 mm"),
    ],
)
def test_what_contradicts_the_hole_is_refused(bar, fields, told):
    with pytest.raises(CannotMakeError, match=told):
        of(bar, **fields)


def test_a_countersink_has_its_own_size_or_twice_the_hole():
    def taken(**more):
        hole = HoleSpec(dia=Measure.parse(6, "mm"), **more)
        return hole_volume_mm3(parse_section("flat 40 x 8", "mm"), hole, "Part A", Say())

    plain = taken()
    # The frustum of a 90 degree countersink from 6 to 11, 2.5 deep, less the hole in it, by hand.
    frustum = pi * 2.5 / 3 * (5.5**2 + 5.5 * 3 + 3**2) - pi * 3**2 * 2.5
    assert taken(countersink=Measure.parse(11, "mm")) - plain == pytest.approx(frustum)
    assert taken(countersunk=True) == taken(countersink=Measure.parse(12, "mm"))
    with pytest.raises(CannotMakeError, match="no wider than its hole"):
        taken(countersink=Measure.parse(5, "mm"))


def test_a_hole_in_a_flattened_end_finds_the_width_that_it_was_flattened_to():
    # 12 round spread to 28, so 4.04 thick; flattened to 6, so 18.85 wide: a hole of 11 in each, by hand.
    ends = (parse_end("spread 30 to 28", "mm"), parse_end("flatten 30 to 6", "mm"))
    at = (Measure.parse("14", "mm"), Measure.parse("286", "mm"))
    hole = HoleSpec(dia=Measure.parse("13", "mm"), count=2, at=at)
    tie = PartSpec("A", "tie", 1, "round 12", "S275", length=Measure.parse("300", "mm"), ends=ends)
    answers = [analyse_part(part, "mm", starting_shop()) for part in (tie, replace(tie, holes=(hole,)))]
    area = pi / 4 * 12**2
    taken = pi / 4 * 13**2 * (area / 28 + 6) * 7850e-9
    assert answers[0].mass_kg - answers[1].mass_kg == pytest.approx(taken, rel=1e-3)
    assert not answers[1].problems
    middle = replace(hole, at=at[:1], count=1, leg=1)
    with pytest.raises(CannotMakeError, match="leaves no metal in a bar 12 mm wide"):
        moved = replace(middle, at=(Measure.parse("150", "mm"),))
        analyse_part(replace(tie, holes=(moved,)), "mm", starting_shop())
