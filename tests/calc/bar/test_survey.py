"""Many parts at once answer what each of them answers alone."""

from dataclasses import replace
from datetime import date
from random import Random

import pytest

from shopquote.calc.bar.benders import BendTest
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.bar.survey import LACKS, PlainPart, survey
from shopquote.calc.job import DIMS, PartSpec
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError

BARS = ["round 8", "round 12", "square 16", "flat 40 x 6", "tube 26.9 x 2.6", "hex 19", "angle 30 x 30 x 3"]
RADII = [10, 12, 16, 24, 25, 30, 33, 40, 60, 75, 100]


def a_shape(random, bends):
    words = []
    for number in range(bends):
        if random.random() < 0.9 or not number:
            words.append(f"leg {random.choice([30, 60, 120, 250, 400.5])}")
        if number and random.random() < 0.3:
            words.append(f"turn {random.choice([90, 180, 270])}")
        angle = random.choice([-1, 1]) * random.choice([15, 30, 45, 60, 90, 120, 135])
        words.append(f"bend {angle} r {random.choice(RADII)}")
    return "; ".join([*words, f"leg {random.choice([20, 200, 300])}"])


def test_a_survey_agrees_with_every_part_alone(bending_shop):
    random = Random(7)
    tested = BendTest(
        date(2026, 3, 1), parse_section("round 12", "mm"), "S275", Length.from_mm(24), 90, over_bend=94
    )
    shop = replace(bending_shop, bend_tests=(tested,))
    asked = [
        (
            random.choice(BARS),
            random.choice(["S275", "304", "6061-T6"]),
            random.choice(DIMS),
            a_shape(random, bends),
        )
        for bends in [1, 2, 3, 4, 5, 6] * 24
    ]
    plain = [
        PlainPart(parse_section(bar, "mm"), STARTING_GRADES[grade], parse_shape(shape, "mm"), dims)
        for bar, grade, dims, shape in asked
    ]
    found = survey(plain, shop)
    first, checked = 0, 0
    names = [bender.name for bender in shop.benders]
    for number, (bar, grade, dims, shape) in enumerate(asked):
        bends = shape.count("bend")
        rows = slice(first, first + bends)
        first += bends
        try:
            alone = analyse_part(PartSpec("A", "a", 1, bar, grade, dims=dims, shape=shape), "mm", shop)
        except CannotMakeError as error:
            assert bool(found.too_short[number]) == ("too short" in error.message)
            continue
        checked += 1
        assert not found.too_short[number]
        assert abs(found.developed_nm[number] - alone.developed.nm) <= 1
        assert [mark.mark.start.nm for mark in alone.bends] == pytest.approx(
            list(found.start_nm[rows]), abs=2
        )
        assert [mark.mark.end.nm for mark in alone.bends] == pytest.approx(list(found.end_nm[rows]), abs=2)
        chosen = [None if place < 0 else names[place] for place in found.chosen[rows]]
        assert chosen == [bend.bender for bend in alone.bends]
        for bend, place, pulls in zip(alone.bends, found.chosen[rows], found.pull_to[rows], strict=True):
            if place >= 0:
                assert pulls[place] == pytest.approx(bend.over_bend_to, rel=1e-12)
    assert checked > 60


def test_what_lacks_is_counted_by_bender(bending_shop):
    part = PlainPart(
        parse_section("round 25", "mm"),
        STARTING_GRADES["S275"],
        parse_shape("leg 300; bend 90 r 25; leg 300", "mm"),
    )
    found = survey([part, part], bending_shop)
    assert set(found.lacking(0)) <= set(LACKS)
    assert found.lacking(0)["moment"] == 2
    assert found.lacking(0)["bar-too-large"] == 2


def test_a_survey_takes_only_legs_bends_and_turns(bending_shop):
    section, grade = parse_section("round 12", "mm"), STARTING_GRADES["S275"]
    with pytest.raises(CannotMakeError, match="a part has 'ring'"):
        survey([PlainPart(section, grade, parse_shape("ring d 300", "mm"))], bending_shop)
    with pytest.raises(CannotMakeError, match="has no bend"):
        survey([PlainPart(section, grade, parse_shape("leg 300", "mm"))], bending_shop)
