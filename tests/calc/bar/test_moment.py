"""Section moduli and elastic-plastic moments against tables, quadrature and hand sums."""

from itertools import pairwise
from math import cos, pi, radians, sin, sqrt, tan

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from shopquote.calc.bar.moment import bend_section, lying, section_profile
from shopquote.calc.bar.plastic import numeric_moment
from shopquote.calc.bar.sections import parse_section


def bar(text, axis="easy", roll=0.0):
    return bend_section(parse_section(text, "mm"), axis, roll)


# Plastic and elastic modulus, mm3: d3/6 and pi d3/32, a3/4 and a3/6, b t2/4 (piping-designer) and b t2/6,
# (D3 - di3)/6; figures derived by hand.
MODULI = [
    ("round 12", "easy", 288.0, 169.646), ("square 12", "easy", 432.0, 288.0),
    ("flat 50 x 6", "easy", 450.0, 300.0),
    ("flat 50 x 6", "hard", 3750.0, 2500.0), ("tube 26.9 x 2.6", "easy", 1541.0, 1101.7),
]  # fmt: skip


@pytest.mark.parametrize(("text", "axis", "plastic", "elastic"), MODULI)
def test_section_moduli(text, axis, plastic, elastic):
    section = bar(text, axis)
    assert section.plastic_mm3 == pytest.approx(plastic, rel=1e-3)
    assert section.elastic_mm3 == pytest.approx(elastic, rel=1e-3)


def test_shape_factors_of_round_and_rectangle():
    # 1.698 and 1.5, textbook (derived).
    assert bar("round 20").plastic_mm3 / bar("round 20").elastic_mm3 == pytest.approx(1.698, abs=5e-4)
    assert bar("flat 50 x 6").plastic_mm3 / bar("flat 50 x 6").elastic_mm3 == pytest.approx(1.5)


def test_plastic_moments_of_the_trade_table():
    # Fy 250: round 12 72.0 N m, square 12 108, flat 50 x 6 112.5 easy and 937.5 hard (derived).
    assert 250 * bar("round 12").plastic_mm3 / 1000 == pytest.approx(72.0, rel=1e-3)
    assert 250 * bar("square 12").plastic_mm3 / 1000 == pytest.approx(108.0, rel=1e-3)
    assert 250 * bar("flat 50 x 6").plastic_mm3 / 1000 == pytest.approx(112.5, rel=1e-3)
    assert 250 * bar("flat 50 x 6", "hard").plastic_mm3 / 1000 == pytest.approx(937.5, rel=1e-3)
    inch = bend_section(parse_section("round 1", "in"))
    # Round 1 in of A36 (36 ksi): 6000 lbf in.
    assert inch.plastic_mm3 / 25.4**3 * 36_000 == pytest.approx(6000, rel=1e-3)


def corners(text, axis):
    """Corners of the straight-sided sections about their centroid, worked out apart from the program."""
    section = parse_section(text, "mm")
    size = section.sizes_mm
    if section.kind == "hex":
        radius = size[0] / sqrt(3)
        return [(radius * cos(radians(60 * k)), radius * sin(radians(60 * k))) for k in range(6)]
    long, short, wall = size
    depth, width = (short, long) if axis == "easy" else (long, short)
    shape = [(0, 0), (width, 0), (width, wall), (wall, wall), (wall, depth), (0, depth)]
    area = wall * (width + depth - wall)
    x = (width * wall * width / 2 + (depth - wall) * wall * wall / 2) / area
    y = (width * wall * wall / 2 + (depth - wall) * wall * (wall + depth) / 2) / area
    return [(px - x, py - y) for px, py in shape]


def width_at(shape, level):
    found = []
    for (x1, y1), (x2, y2) in zip(shape, shape[1:] + shape[:1], strict=True):
        if (y1 > level) != (y2 > level):
            found.append(x1 + (level - y1) * (x2 - x1) / (y2 - y1))
    found.sort()
    return sum(b - a for a, b in zip(found[::2], found[1::2], strict=True))


def turned(shape, roll):
    c, s = cos(radians(roll)), sin(radians(roll))
    return [(x * c - y * s, x * s + y * c) for x, y in shape]


def referee(shape, core):
    """Moment over flow stress by scipy, axis where the forces balance."""
    levels = sorted({round(y, 9) for _, y in shape})

    def integral(function, axis):
        points = sorted({*levels, axis - core, axis, axis + core})
        points = [p for p in points if levels[0] <= p <= levels[-1]]
        return sum(
            quad(lambda y: function(y) * width_at(shape, y), a, b, limit=200)[0] for a, b in pairwise(points)
        )

    def stress(axis):
        return lambda y: max(-1.0, min(1.0, (y - axis) / core))

    axis = brentq(lambda a: integral(stress(a), a), levels[0], levels[-1], xtol=1e-12)
    return integral(lambda y: stress(axis)(y) * y, axis)


@pytest.mark.parametrize("core", [0.5, 3.0, 9.0, 25.0])
@pytest.mark.parametrize(
    ("text", "axis", "roll"),
    [
        ("hex 19", "easy", 0),
        ("hex 19", "easy", 30),
        ("angle 50 x 30 x 5 sharp", "easy", 0),
        ("angle 50 x 30 x 5 sharp", "hard", 0),
    ],
)
def test_elastic_plastic_moments_of_hex_and_angle_against_scipy(text, axis, roll, core):
    section = bar(text, axis, roll)
    assert section.unit_moment_mm3(core) == pytest.approx(
        referee(turned(corners(text, axis), roll), core), rel=1e-6
    )


ROUND_SIDED = [("round 12", "easy"), ("tube 26.9 x 2.6", "easy")]
STRAIGHT_SIDED = [
    ("square 12", "easy"),
    ("flat 50 x 6", "easy"),
    ("flat 50 x 6", "hard"),
    ("box 40 x 20 x 2", "hard"),
]


@pytest.mark.parametrize("share", [1e-6, 1e-3, 0.05, 0.3, 0.7, 0.95, 1.0, 3.0])
@pytest.mark.parametrize(("text", "axis"), ROUND_SIDED + STRAIGHT_SIDED)
def test_closed_forms_and_the_numeric_section_agree_to_a_millionth(text, axis, share):
    section = bar(text, axis)
    core = share * section.depth_mm / 2
    profile = section_profile(section.section, section.axis)
    assert section.unit_moment_mm3(core) == pytest.approx(numeric_moment(profile, core), rel=1e-6)


@pytest.mark.parametrize("core", [0.4, 2.5, 5.9])
def test_the_round_against_scipy(core):
    def part(y):
        return 2 * min(1.0, y / core) * 2 * sqrt(36 - y * y) * y

    expected = quad(part, 0, core)[0] + quad(part, core, 6)[0]
    assert bar("round 12").unit_moment_mm3(core) == pytest.approx(expected, rel=1e-7)


def test_a_rolled_square_is_as_deep_as_its_diagonal():
    section = bar("square 12", roll=45)
    assert section.depth_mm == pytest.approx(12 * sqrt(2))
    assert not section.square_on
    # A square on its corner: I the same, Z = sqrt(2) a3 / 6 = 0.2357 a3 (textbook, derived).
    assert section.inertia_mm4 == pytest.approx(12**4 / 12, rel=1e-9)
    assert section.plastic_mm3 == pytest.approx(sqrt(2) / 6 * 12**3, rel=1e-6)


def test_a_quarter_roll_changes_easy_and_hard():
    flat = parse_section("flat 50 x 6", "mm")
    assert lying(flat, "easy", 90) == ("hard", 0.0, True)
    assert lying(flat, "hard", 270) == ("easy", 0.0, True)
    assert lying(parse_section("round 12", "mm"), "easy", 33) == ("easy", 0.0, True)
    assert lying(parse_section("hex 12", "mm"), "easy", 60) == ("easy", 0.0, True)
    assert bar("flat 50 x 6", roll=90) == bar("flat 50 x 6", "hard")


def test_hex_inertia_is_the_textbook_one():
    # 5 sqrt(3) / 16 s4, s = D tan 30 (derived), the same about every axis.
    side = 19 * tan(radians(30))
    assert bar("hex 19").inertia_mm4 == pytest.approx(5 * sqrt(3) / 16 * side**4)
    assert bar("hex 19", roll=30).inertia_mm4 == pytest.approx(bar("hex 19").inertia_mm4, rel=1e-9)


# EN 10219 mill table, cm4 and cm3; the angle, cm4 and cm, by a public section library's table of EN 10365.
def test_moduli_of_hollow_sections_and_angles_with_their_radii():
    for sizes, inertia, plastic in (("40 x 40 x 3", 9.32, 5.72), ("50 x 50 x 5", 27.04, 13.70)):
        box = bar(f"box {sizes}")
        assert box.inertia_mm4 / 1e4 == pytest.approx(inertia, abs=5.1e-3)
        assert box.plastic_mm3 / 1e3 == pytest.approx(plastic, abs=5.1e-3)
        assert bar(f"box {sizes}", roll=90) == box
    angle = bar("angle 50 x 50 x 5")
    assert angle.inertia_mm4 / 1e4 == pytest.approx(11.0, abs=0.06)
    assert angle.centroid_mm / 10 == pytest.approx(1.40, abs=6e-3)


# Hot-finished square boxes (EN 10210-2) as a public section library prints them: kg/m, cm4, cm3.
@pytest.mark.parametrize(
    ("sizes", "mass", "inertia", "plastic"),
    [
        ("40 x 40 x 4", 4.39, 11.8, 7.44), ("50 x 50 x 5", 6.85, 28.9, 14.5),
        ("60 x 60 x 8", 12.5, 69.7, 30.4), ("80 x 80 x 6.3", 14.2, 162, 49.7),
        ("100 x 100 x 10", 27.4, 462, 116),
    ],
)  # fmt: skip
def test_hot_finished_boxes_with_their_own_corners(sizes, mass, inertia, plastic):
    box = bar(f"box {sizes} EN 10210")
    within = 4e-3  # three figures
    assert parse_section(f"box {sizes} EN 10210", "mm").mass_per_m(7850) == pytest.approx(mass, rel=within)
    assert box.inertia_mm4 / 1e4 == pytest.approx(inertia, rel=within)
    assert box.plastic_mm3 / 1e3 == pytest.approx(plastic, rel=within)


def test_a_half_round_bends_as_the_textbook_says():
    # I about the centroid (pi/8 - 8/(9 pi)) r4; on edge pi/8 r4 (textbook).
    assert bar("half-round 40 x 20").inertia_mm4 == pytest.approx((pi / 8 - 8 / (9 * pi)) * 20**4)
    assert bar("half-round 40 x 20", "hard").inertia_mm4 == pytest.approx(pi / 8 * 20**4)
    assert bar("half-round 40 x 20", "hard").plastic_mm3 == pytest.approx(40**3 / 12, rel=1e-6)
