"""The centre line in space against numeric integration of its curvature."""

from dataclasses import replace
from itertools import pairwise
from math import cos, dist, hypot, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp, trapezoid

from shopquote.calc.bar.centreline import add, dot, times, trace
from shopquote.calc.bar.moment import section_hull
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import PartSpec
from shopquote.errors import CannotMakeError
from shopquote.services.shop.starting import starting_shop


def walked(pieces):
    """End of a curve from curvature and turns alone: dT/ds = k N, solved numerically.

    A piece is (length, curvature at its start, at its end, torsion) or ("turn", degrees).
    """
    point, along, inward = np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0])
    for piece in pieces:
        across = np.cross(along, inward)
        if piece[0] == "turn":
            angle = radians(piece[1])
            inward = inward * np.cos(angle) + across * np.sin(angle)
            continue
        length, curvature, torsion = piece

        def slope(s, state, curvature=curvature, torsion=torsion):
            t, n, b = state[3:6], state[6:9], state[9:12]
            k = curvature(s) if callable(curvature) else curvature
            return np.concatenate([t, k * n, -k * t + torsion * b, -torsion * n])

        start = np.concatenate([point, along, inward, across])
        end = solve_ivp(slope, (0, length), start, rtol=1e-11, atol=1e-11).y[:, -1]
        point, along, inward = end[:3], end[3:6], end[6:9]
    return point


def test_a_bent_part_in_space_ends_where_its_curvature_leads(work_out):
    shape = (
        "leg 200; bend 90 r 24; leg 300; turn 35; bend 60 r 44; leg 150; turn -80; bend -120 r 24; leg 220"
    )
    answer = work_out("round 12", shape, dims="tangent")
    end = walked([
        (200, 0, 0), (radians(90) * 30, 1 / 30, 0), (300, 0, 0), ("turn", 35), (radians(60) * 50, 1 / 50, 0),
        (150, 0, 0), ("turn", -80), (radians(120) * 30, -1 / 30, 0), (220, 0, 0),
    ])  # fmt: skip
    assert answer.centreline_mm[-1] == pytest.approx(tuple(end), abs=1e-6)


def test_a_helix_ends_where_its_curvature_and_torsion_lead(work_out):
    radius, pitch, turns = 50, 40, 2.3
    rise = pitch / (2 * pi)
    total = turns * hypot(2 * pi * radius, pitch)
    size = radius**2 + rise**2
    answer = work_out("round 10", "leg 60; helix d 90 pitch 40 turns 2.3; leg 80")
    end = walked([(60, 0, 0), (total, radius / size, rise / size), (80, 0, 0)])
    assert answer.centreline_mm[-1] == pytest.approx(tuple(end), abs=1e-6)


def test_a_scroll_ends_where_its_curvature_leads(work_out):
    b = 60 / (5 * pi)
    # Curvature of r = a + b t by arc length: step through the angle, which is the same curve.
    steps = np.linspace(0, 5 * pi, 200_001)
    radii = 15 + b * steps
    heading = steps - np.arctan2(b, radii)
    heading -= heading[0]
    speed = np.hypot(radii, b)
    x = trapezoid(speed * np.cos(heading), steps)
    y = trapezoid(speed * np.sin(heading), steps)
    answer = work_out("round 8", "scroll from 15 to 75 turns 2.5")
    assert answer.centreline_mm[-1][:2] == pytest.approx((x, y), abs=1e-5)


def test_chords_of_the_centre_line_add_up_to_the_developed_length(work_out):
    shape = "leg 200; bend 90 r 24; leg 300; turn 35; arc 60 r 644; helix d 90 pitch 40 turns 3; leg 50"
    answer = work_out("round 12", shape)
    points = answer.centreline_mm
    chords = sum(dist(a, b) for a, b in pairwise(points))
    assert chords == pytest.approx(answer.developed.mm_float, rel=1e-3)
    assert chords < answer.developed.mm_float


def test_envelope_of_a_bracket_is_its_outside_size(work_out):
    assert work_out("round 12", "leg 100; bend 90 r 25; leg 60").envelope_mm == pytest.approx((100, 60, 12))
    assert work_out("flat 40 x 6", "leg 100; bend 90 r 18; leg 60").envelope_mm == pytest.approx(
        (100, 60, 40)
    )
    on_edge = work_out("flat 40 x 6", "leg 400; bend 90 r 160; leg 360", bend_axis="hard")
    assert on_edge.envelope_mm == pytest.approx((400, 360, 6))


def test_envelope_of_a_half_turn_reaches_the_outermost_face(work_out):
    answer = work_out("round 12", "leg 300; bend 180 r 24; leg 300")
    assert answer.envelope_mm == pytest.approx((300, 72, 12))


def test_turning_a_part_as_a_whole_changes_nothing(work_out):
    shape = "leg 200; bend 90 r 30; leg 300; turn 90; bend 60 r 30; leg 250"
    plain, turned = work_out("round 12", shape), work_out("round 12", f"turn 73; {shape}")
    assert turned.developed == plain.developed
    assert turned.envelope_mm == pytest.approx(plain.envelope_mm)
    assert turned.centre_of_gravity_mm == pytest.approx(plain.centre_of_gravity_mm)
    mirrored = work_out("round 12", shape.replace("bend 90", "bend -90").replace("bend 60", "bend -60"))
    assert mirrored.envelope_mm == pytest.approx(plain.envelope_mm)


def test_a_flat_turned_before_its_first_bend_is_bent_the_hard_way(work_out):
    turned = work_out("flat 25 x 5", "leg 300; turn 90; bend 90 r 100; leg 300")
    hard = work_out("flat 25 x 5", "leg 300; bend 90 r 100; leg 300", bend_axis="hard")
    assert turned.developed == hard.developed
    assert turned.envelope_mm == pytest.approx(hard.envelope_mm)
    assert turned.bends[0].moment_nm == pytest.approx(hard.bends[0].moment_nm)


def test_centre_of_gravity_of_a_bracket_by_hand(work_out):
    # Legs 63 and 23 mm and a quarter circle of radius 31 whose centroid lies 2 R / pi from its centre.
    answer = work_out("round 12", "leg 100; bend 90 r 25; leg 60")
    arc, reach = pi / 2 * 31, 2 * 31 / pi
    total = 63 + arc + 23
    x = (63 * 31.5 + arc * (63 + reach) + 23 * (63 + 31)) / total
    y = (0 + arc * (31 - reach) + 23 * (31 + 11.5)) / total
    assert answer.centre_of_gravity_mm == pytest.approx((x, y, 0), abs=2e-3)


def test_a_ring_balances_in_its_middle(work_out):
    assert work_out("round 12", "ring d 300").centre_of_gravity_mm == pytest.approx((0, 156, 0), abs=1e-6)


def spun(vector, axis, angle):
    """A vector turned about a unit axis (Rodrigues)."""
    c, s = cos(angle), sin(angle)
    return vector * c + np.cross(axis, vector) * s + axis * np.dot(axis, vector) * (1 - c)


def walked_corners(words, size, steps=400):
    """Corners of a flat carried along a part in small rigid turns, apart from the program."""
    at, along, inward = np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0])
    deep, wide = inward * size[0], np.cross(along, inward) * size[1]
    corners = []

    def here():
        corners.extend(at + deep * a + wide * b for a in (-0.5, 0.5) for b in (-0.5, 0.5))

    here()
    for kind, amount, *radius in words:
        if kind == "leg":
            at = at + along * amount
            here()
        elif kind == "turn":
            inward = spun(inward, along, radians(amount))
        else:
            depth = abs(np.dot(deep, inward)) + abs(np.dot(wide, inward))
            axis = np.cross(along, inward) * (1 if amount > 0 else -1)
            middle = at + inward * (1 if amount > 0 else -1) * (radius[0] + depth / 2)
            turn = radians(abs(amount)) / steps
            for _ in range(steps):
                at = middle + spun(at - middle, axis, turn)
                along, inward = spun(along, axis, turn), spun(inward, axis, turn)
                deep, wide = spun(deep, axis, turn), spun(wide, axis, turn)
                here()
    return np.array(corners)


@pytest.mark.parametrize(
    "words",
    [
        [("leg", 200), ("bend", 90, 60), ("leg", 180), ("turn", 90), ("bend", -60, 100), ("leg", 250)],
        [("leg", 150), ("bend", 135, 100), ("leg", 170), ("turn", -90), ("bend", 30, 60), ("leg", 200)],
        [("leg", 300), ("bend", 30, 60), ("leg", 200), ("turn", 180), ("bend", 90, 60), ("leg", 160)],
    ],
)
@pytest.mark.parametrize(("axis", "size"), [("easy", (6, 50)), ("hard", (50, 6))])
def test_envelope_of_a_flat_in_space_holds_every_corner(work_out, words, axis, size):
    shape = "; ".join(f"{k} {a} r {r[0]}" if r else f"{k} {a}" for k, a, *r in words)
    answer = work_out("flat 50 x 6", shape, dims="tangent", bend_axis=axis)
    corners = walked_corners(words, size)
    assert np.ptp(corners, axis=0) == pytest.approx(answer.envelope_mm, abs=0.01)


SHOP = starting_shop()


@settings(max_examples=25, deadline=None)
@given(
    bar=st.sampled_from(("angle 40 x 40 x 4", "angle 60 x 30 x 5", "tee 40 x 40 x 5", "half-round 30 x 12")),
    toes=st.sampled_from(("out", "in")),
    turns=st.lists(st.integers(-12, 12).map(lambda number: 30 * number), min_size=3, max_size=3),
    angles=st.lists(st.sampled_from((60, -60)), min_size=3, max_size=3),
)
def test_a_lopsided_bar_is_drawn_as_each_bend_is_reckoned(bar, toes, turns, angles):
    # The face that the section shows to a curve's inside, and the one outside, by its own outline turned in
    # space, against depth and centroid from which the bend's length and marks follow.
    words = "; ".join(
        f"{f'turn {turn}; ' if turn else ''}leg 300; arc {angle} r 400 rolled"
        for turn, angle in zip(turns, angles, strict=True)
    )
    part = PartSpec("A", "bent", 1, bar, "S235", shape=words, dims="tangent", toes=toes)
    if toes == "in" and bar.startswith("half"):
        part = replace(part, toes="out")
    try:
        answer = analyse_part(part, "mm", SHOP)
    except CannotMakeError:  # crosses itself
        return
    hull = section_hull(answer.section, "easy")
    stops = trace(answer.runs, answer.section)
    for index, run in enumerate(answer.runs):
        if run.bending is None:
            continue
        stop = next(stop for stop in stops if stop.run == index)
        inside = stop.inward if run.angle >= 0 else times(stop.inward, -1.0)
        c, s = cos(radians(stop.roll)), sin(radians(stop.roll))
        outward = add(times(stop.inward, -c), times(stop.across, -s))
        sideways = add(times(stop.across, c), times(stop.inward, -s))
        across, out = dot(sideways, inside), dot(outward, inside)
        inner = max(x * across + y * out + r for x, y, r in hull)
        outer = max(r - x * across - y * out for x, y, r in hull)
        assert abs(inner - run.bending.centroid_mm) < 0.05
        assert abs(outer - (run.bending.depth_mm - run.bending.centroid_mm)) < 0.05
