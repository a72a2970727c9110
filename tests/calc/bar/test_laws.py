"""Laws that hold for every part, tried on many made at random (repeatably)."""

from dataclasses import replace
from datetime import date
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopquote.calc.bar.benders import BendTest, KRule
from shopquote.calc.bar.develop import bend_allowance_mm
from shopquote.calc.bar.neutral_axis import measured_k, setback_mm
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import DIMS, PartSpec
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError
from shopquote.services.shop.starting import starting_shop

SHOP = starting_shop()

# Long legs and turned planes, so that most parts can be made.
ANGLES = st.one_of(st.integers(5, 175), st.integers(-175, -5))
RADII = st.sampled_from([12, 16, 24, 30, 40, 60.5])
TURNS = st.sampled_from([0, 20, 35, 90, -60, 180])
ROUNDS = st.sampled_from(["round 12", "round 10", "tube 26.9 x 2.6"])
BARS = st.one_of(ROUNDS, st.just("square 12"))
LEGS = st.integers(200, 900)


@st.composite
def shapes(draw, most=4):
    words = [f"leg {draw(LEGS)}"]
    for number in range(draw(st.integers(1, most))):
        if number and (turn := draw(TURNS)):
            words.append(f"turn {turn}")
        words += [f"bend {draw(ANGLES)} r {draw(RADII)}", f"leg {draw(LEGS)}"]
    return words


def worked(bar, words, shop=SHOP, dims="outside"):
    try:
        return analyse_part(PartSpec("A", "a", 1, bar, "S275", dims=dims, shape="; ".join(words)), "mm", shop)
    except CannotMakeError as error:
        # Only a bar that meets itself may be refused; the legs are long enough for all setbacks.
        assert "runs into itself" in error.message
        return None


@given(ROUNDS, shapes(), st.sampled_from(DIMS))
def test_reversing_a_part_keeps_its_length_mass_and_forces(bar, words, dims):
    # Rounds only: a square whose plane is turned lies on a face at one end and not at the other.
    there, back = worked(bar, words, dims=dims), worked(bar, words[::-1], dims=dims)
    if there is None or back is None:
        assert (there is None) == (back is None)
        return
    assert abs(there.developed.nm - back.developed.nm) <= 1
    assert there.mass_kg == pytest.approx(back.mass_kg)
    assert [bend.over_bend_to for bend in there.bends] == [bend.over_bend_to for bend in reversed(back.bends)]
    marks = [there.developed.nm - bend.mark.end.nm for bend in reversed(there.bends)]
    assert marks == pytest.approx([bend.mark.start.nm for bend in back.bends], abs=2)


@given(BARS, shapes(), st.integers(-170, 170).filter(bool))
def test_turning_a_part_as_a_whole_keeps_everything(bar, words, turn):
    if bar.startswith("square"):
        turn = 90
    plain, turned = worked(bar, words), worked(bar, [f"turn {turn}", *words])
    if plain is None or turned is None:
        assert (plain is None) == (turned is None)
        return
    assert turned.developed == plain.developed
    assert turned.envelope_mm == pytest.approx(plain.envelope_mm)
    assert [replace(bend, word=bend.word - 1) for bend in turned.bends] == list(plain.bends)
    assert turned.centreline_mm == plain.centreline_mm


@given(BARS, shapes(), st.integers(0, 10), st.integers(1, 199))
def test_splitting_a_leg_changes_nothing(bar, words, which, at):
    legs = [place for place, word in enumerate(words) if word.startswith("leg")]
    place = legs[which % len(legs)]
    length = int(words[place].split()[1])
    split = [*words[:place], f"leg {at}", f"leg {length - at}", *words[place + 1 :]]
    whole, parted = worked(bar, words), worked(bar, split)
    if whole is None or parted is None:
        assert (whole is None) == (parted is None)
        return
    assert parted.developed == whole.developed
    assert [bend.mark for bend in parted.bends] == [bend.mark for bend in whole.bends]
    assert parted.envelope_mm == pytest.approx(whole.envelope_mm)


@given(st.floats(1, 400), st.floats(1.001, 3), st.floats(1, 100), st.floats(1.01, 1.7), st.floats(0.2, 0.6))
def test_length_of_a_bend_grows_with_radius_angle_and_k(radius, more, angle, wider, k):
    def length(r, a, depth):
        shop = replace(SHOP, k_rules=(KRule("fixed K", k=depth),))
        words = ["leg 100", f"bend {a:.6f} r {r:.6f}", "leg 100"]
        return analyse_part(
            PartSpec("A", "a", 1, "round 12", "S275", dims="tangent", shape="; ".join(words)), "mm", shop
        ).developed.nm

    base = length(radius, angle, k)
    assert length(radius * more, angle, k) > base
    assert length(radius, angle * wider, k) > base
    assert length(radius, angle, k + 0.1) > base


@given(BARS, shapes(most=6))
@settings(max_examples=40)
def test_what_is_answered_always_hangs_together(bar, words):
    answer = worked(bar, words)
    if answer is None:
        return
    assert 0 <= answer.cut.nm - answer.developed.nm < 100_000
    places = [
        place.nm for bend in answer.bends for place in (bend.mark.start, bend.mark.centre, bend.mark.end)
    ]
    assert places == sorted(places)
    assert answer.bends[-1].mark.end.mm_float + answer.straights_mm[-1] == pytest.approx(
        answer.developed.mm_float, abs=1e-4
    )
    assert answer.mass_kg == pytest.approx(
        answer.section.area_mm2 * answer.developed.mm_float * 7.85e-6,
        rel=1e-8,  # developed is rounded to 1 nm
    )
    steps = [step.bend for step in answer.bend_order]
    trapped = any(problem.code == "traps-the-bar" for problem in answer.problems)
    assert trapped or sorted(steps) == list(range(1, len(answer.bends) + 1))
    for bend in answer.bends:
        assert abs(bend.over_bend_to) > abs(bend.angle)
        assert bend.moment_nm > 0
    size = answer.envelope_mm
    longest = max(answer.straights_mm)
    assert max(size) >= longest / 3**0.5


@st.composite
def tight_shapes(draw):
    """Planar parts of short legs, about half of which meet themselves."""
    words = [f"leg {draw(st.integers(60, 260))}"]
    for _ in range(draw(st.integers(2, 5))):
        words += [
            f"bend {draw(st.sampled_from([45, 60, 90, 120, 150, -45, -90]))} r 24",
            f"leg {draw(st.integers(60, 260))}",
        ]
    return words


def walked(words, radius):
    """Points of a planar part 1 mm apart, turned through by small steps of its own angle."""
    x = y = heading = 0.0
    points = [(x, y, 0.0)]
    for word in words:
        kind, size = word.split()[:2]
        length = float(size) if kind == "leg" else abs(radians(float(size))) * radius
        bend = 0.0 if kind == "leg" else (1 if float(size) > 0 else -1) / radius
        count = max(1, round(length))
        for _ in range(count):
            heading += bend * length / count / 2
            x, y = x + cos(heading) * length / count, y + sin(heading) * length / count
            heading += bend * length / count / 2
            points.append((x, y, 0.0))
    return points


def nearest_of_itself(points, tightest):
    """Least distance of a line to itself further on, found by brute force on points 1 mm apart."""
    line = np.array(points)
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate(([0.0], np.cumsum(steps)))
    places = np.linspace(0, along[-1], int(along[-1]) + 1)
    dense = np.column_stack([np.interp(places, along, line[:, axis]) for axis in range(3)])
    apart = np.linalg.norm(dense[:, None, :] - dense[None, :, :], axis=2)
    far = np.abs(places[:, None] - places[None, :]) > np.pi * tightest
    return apart[far].min() if far.any() else np.inf


@given(tight_shapes())
@settings(max_examples=40)
def test_a_bar_is_refused_or_warned_about_exactly_when_it_meets_itself(words):
    part = PartSpec("A", "a", 1, "round 12", "S275", dims="tangent", shape="; ".join(words))
    try:
        answer = analyse_part(part, "mm", SHOP)
    except CannotMakeError as error:
        assert "runs into itself" in error.message
        assert nearest_of_itself(walked(words, 30), 30) < 12
        return
    codes = {problem.code for problem in answer.problems}
    nearest = nearest_of_itself(answer.centreline_mm, 30)
    if codes & {"laps-itself", "end-meets-bar", "hook-crosses"}:
        assert nearest < 12
    else:
        assert nearest > 12 * 0.95


@given(st.floats(20, 150), st.floats(12, 80), st.floats(6, 20), st.floats(0.3, 0.6), st.floats(150, 400))
def test_a_test_piece_gives_back_the_k_that_it_was_bent_with(angle, radius, size, k, leg):
    section = parse_section(f"square {size:.3f}", "mm")
    depth, radius = section.depth_mm(), round(radius, 3)
    setback = setback_mm(angle, radius, depth)
    flat = 2 * (leg - setback) + bend_allowance_mm(angle, radius, depth, k)
    test = BendTest(
        date(2026, 3, 1),
        section,
        "S275",
        Length.from_mm(radius),
        angle,
        flat_length=Length.from_mm(flat),
        leg_1=Length.from_mm(leg),
        leg_2=Length.from_mm(leg),
    )
    assert measured_k(test) == pytest.approx(k, abs=1e-5)
