from math import acos, pi, sin

import pytest

from shopquote.calc.bar.outline import root_radius
from shopquote.calc.bar.sections import parse_section
from shopquote.errors import InputError

# kg/m at 7850. Round: engineeringtoolbox, constructionfield and midlandrapid tables; square 25: a public
# mild steel square bar example; flats: an open table of EN 10058; round 40 of 304: a public weight chart.
KG_PER_M = [
    ("round 6", 7850, "0.222"), ("round 8", 7850, "0.395"), ("round 10", 7850, "0.617"),
    ("round 12", 7850, "0.888"), ("round 16", 7850, "1.58"), ("round 20", 7850, "2.47"),
    ("round 25", 7850, "3.85"), ("round 40", 7850, "9.86"), ("square 25", 7850, "4.91"),
    ("flat 40 x 5", 7850, "1.57"), ("flat 50 x 5", 7850, "1.96"), ("flat 80 x 8", 7850, "5.02"),
    ("flat 100 x 8", 7850, "6.28"), ("flat 150 x 10", 7850, "11.8"), ("flat 250 x 15", 7850, "29.4"),
    ("round 40", 8000, "10.05"),
]  # fmt: skip


@pytest.mark.parametrize(("bar", "density", "printed"), KG_PER_M)
def test_mass_per_metre_matches_the_tables_to_the_last_digit(bar, density, printed):
    mass = parse_section(bar, "mm").mass_per_m(density)
    assert mass == pytest.approx(float(printed), abs=0.51 * 10 ** -len(printed.split(".")[1]))


# lb/ft of ASTM A615 bars as printed by concreteconstruction.net, "Rebar size and weights".
LB_PER_FT = [("3/8", 0.376), ("1/2", 0.668), ("5/8", 1.043), ("3/4", 1.502), ("7/8", 2.044), ("1", 2.670)]


@pytest.mark.parametrize(("size", "printed"), LB_PER_FT)
def test_inch_rounds_weigh_what_astm_bars_weigh(size, printed):
    kg_per_m = parse_section(f"round {size}", "in").mass_per_m(7850)
    assert kg_per_m * 0.3048 / 0.45359237 == pytest.approx(printed, rel=0.005)


# lincolnmachine.com prints 3.396 a2 for squares and 3.396 w t for flats (0.283 lb/in3), lb/ft.
@pytest.mark.parametrize(
    ("bar", "printed"), [("square 1", 3.396), ("flat 1 x 1/8", 0.4245), ("flat 2 x 1/2", 3.396)]
)
def test_inch_squares_and_flats_weigh_what_a_public_formula_says(bar, printed):
    assert parse_section(bar, "in").mass_per_m(7850) * 0.3048 / 0.45359237 == pytest.approx(
        printed, rel=0.005
    )


def test_a_bar_typed_in_inches_is_the_same_bar_in_millimetres():
    assert parse_section("flat 2 x 1/4", "in") == parse_section("flat 6.35 x 50.8", "mm")
    assert parse_section("FLAT 2x1/4 in", "mm").key == "flat 50.8 x 6.35"


def test_a_unit_behind_the_last_size_is_the_unit_of_all():
    assert parse_section("flat 50 x 6 mm", "in").key == "flat 50 x 6"
    for text in ("50 x 6 flat", "50x6 mm flat bar", "50 x 6 FL"):
        assert parse_section(text, "mm") == parse_section("flat 50 x 6", "mm"), text
    assert parse_section("20 x 10 half round", "mm").key == "half-round 20 x 10"
    assert parse_section("tube 1-1/2 in x 3", "mm").key == "tube 38.1 x 3"


def test_a_name_is_told_in_the_unit_of_the_job():
    assert parse_section('flat 2" x 1/4"', "mm").name("in") == "flat 2 x 1/4 in"
    assert parse_section("round 12", "mm").name("in") == "round 12 mm"


def test_hollow_and_angle_areas():
    # By hand: pi/4 (26.9^2 - 21.7^2); 40*20 - 36*16; 5 (50 + 30 - 5), corners sharp.
    assert parse_section("tube 26.9 x 2.6", "mm").area_mm2 == pytest.approx(198.486, abs=1e-3)
    assert parse_section("box 40 x 20 x 2 sharp", "mm").area_mm2 == pytest.approx(224)
    assert parse_section("angle 50 x 30 x 5 sharp", "mm").area_mm2 == pytest.approx(375)
    assert parse_section("hex 10", "mm").area_mm2 == pytest.approx(86.6025, abs=1e-4)


def test_outside_surface_per_millimetre():
    assert parse_section("round 12", "mm").perimeter_mm == pytest.approx(37.699, abs=1e-3)
    assert parse_section("flat 50 x 6", "mm").perimeter_mm == 112
    assert parse_section("square 12", "mm").perimeter_mm == 48


def test_a_flat_lies_its_easy_or_its_hard_way():
    flat = parse_section("flat 50 x 6", "mm")
    assert (flat.depth_mm("easy"), flat.width_mm("easy")) == (6, 50)
    assert (flat.depth_mm("hard"), flat.width_mm("hard")) == (50, 6)


def test_the_centroid_of_an_angle_lies_nearer_to_its_heel():
    # By hand: (50*5*2.5 + 25*5*17.5) / 375.
    assert parse_section("angle 50 x 30 x 5 sharp", "mm").centroid_mm("easy") == pytest.approx(7.5)


# EN 10219 mill table, kg/m, and the area formula of EN 10219-2 worked by hand for the last five.
BOX_KG_PER_M = [
    ("25 x 25 x 2", 1.36), ("30 x 30 x 2", 1.68), ("30 x 30 x 3", 2.36), ("40 x 40 x 3", 3.30),
    ("40 x 40 x 4", 4.20), ("50 x 50 x 3", 4.25), ("50 x 50 x 5", 6.56), ("60 x 60 x 5", 8.13),
    ("20 x 20 x 2", 1.050), ("30 x 30 x 2", 1.678), ("40 x 40 x 3", 3.303), ("50 x 50 x 5", 6.560),
    ("100 x 100 x 5", 14.41),
]  # fmt: skip


@pytest.mark.parametrize(("sizes", "printed"), BOX_KG_PER_M)
def test_a_box_weighs_what_its_rounded_corners_leave(sizes, printed):
    assert parse_section(f"box {sizes}", "mm").mass_per_m(7850) == pytest.approx(printed, abs=5.1e-3)


@pytest.mark.parametrize("wall, rule", [(4, 2.0), (6, 2.0), (8, 2.5), (10, 2.5), (12, 3.0)])
def test_the_corners_of_a_box_widen_with_its_wall(wall, rule):
    # EN 10219-2: outer radius 2T to 6 mm, 2.5T to 10, 3T above; A = 2T(B+H-2T) - (4-pi)(Ro2-Ri2).
    outer, inner = rule * wall, (rule - 1) * wall
    area = 2 * wall * (240 - 2 * wall) - (4 - pi) * (outer**2 - inner**2)
    assert parse_section(f"box 120 x 120 x {wall}", "mm").area_mm2 == pytest.approx(area)
    hot = 2 * wall * (240 - 2 * wall) - (4 - pi) * ((1.5 * wall) ** 2 - wall**2)
    assert parse_section(f"RHS 120 x 120 x {wall} EN 10210", "mm").area_mm2 == pytest.approx(hot)
    american = 2 * wall * (240 - 2 * wall) - (4 - pi) * ((2 * wall) ** 2 - wall**2)
    assert parse_section(f"box 120 x 120 x {wall} ASTM A500", "mm").area_mm2 == pytest.approx(american)


# kg/m of equal angles and their root radius, the toes half of it: European sizes (EN 10056-1, EN 10365) as
# the table of a public section library prints them. Three figures.
@pytest.mark.parametrize(
    ("sizes", "printed", "root"),
    [
        ("25 x 25 x 3", 1.12, 3.5), ("30 x 30 x 3", 1.36, 5), ("35 x 35 x 4", 2.09, 5),
        ("40 x 40 x 4", 2.42, 6), ("45 x 45 x 4.5", 3.06, 7), ("50 x 50 x 5", 3.77, 7),
        ("60 x 60 x 6", 5.42, 8), ("65 x 65 x 7", 6.83, 9), ("70 x 70 x 7", 7.38, 9),
        ("75 x 75 x 8", 8.99, 9), ("80 x 80 x 8", 9.63, 10), ("90 x 90 x 9", 12.2, 11),
        ("100 x 100 x 10", 15.0, 12), ("120 x 120 x 12", 21.6, 13), ("130 x 130 x 10", 19.8, 14),
        ("150 x 150 x 15", 33.8, 16), ("180 x 180 x 14", 38.3, 18),
    ],
)  # fmt: skip
def test_an_angle_weighs_what_its_root_and_toes_leave(sizes, printed, root):
    angle = parse_section(f"angle {sizes}", "mm")
    assert angle.mass_per_m(7850) == pytest.approx(printed, abs=5.1e-3 if printed < 10 else 0.051)
    assert root_radius(angle.sizes_mm[:2]) == root


# cm2 of unequal angles and their root radius, EN 10056-1, as the table of a public section library prints
# them, from a mill's catalogue and a public reference page. Three figures.
@pytest.mark.parametrize(
    ("sizes", "printed", "root"),
    [
        ("30 x 20 x 3", 1.43, 4), ("40 x 25 x 4", 2.46, 4), ("45 x 30 x 4", 2.87, 4.5),
        ("50 x 30 x 5", 3.78, 5), ("60 x 30 x 5", 4.28, 5), ("60 x 40 x 5", 4.79, 6),
        ("65 x 50 x 5", 5.54, 6), ("75 x 50 x 6", 7.19, 7), ("80 x 40 x 6", 6.89, 7),
        ("80 x 60 x 7", 9.38, 8), ("100 x 50 x 6", 8.71, 8), ("100 x 65 x 7", 11.2, 10),
        ("100 x 75 x 8", 13.5, 10), ("120 x 80 x 8", 15.5, 11), ("125 x 75 x 10", 19.1, 11),
        ("135 x 65 x 8", 15.5, 11), ("150 x 75 x 9", 19.6, 12), ("150 x 100 x 10", 24.2, 12),
        ("200 x 100 x 10", 29.2, 15), ("200 x 150 x 12", 40.8, 15),
    ],
)  # fmt: skip
def test_an_unequal_angle_has_the_area_and_the_root_of_its_table(sizes, printed, root):
    angle = parse_section(f"angle {sizes}", "mm")
    # 45 x 30 is printed 0.008 above what its own radii leave.
    assert angle.area_mm2 / 100 == pytest.approx(printed, abs=9e-3 if printed < 10 else 0.051)
    assert root_radius(angle.sizes_mm[:2]) == root


# Areas of EN 10365 parallel flange channels, cm2, as several public section libraries print them.
@pytest.mark.parametrize(
    ("sizes", "area"),
    [
        ("80 x 50 x 4 x 7", 10.1),
        ("100 x 55 x 4.5 x 7.5", 12.5),
        ("160 x 70 x 5.5 x 9.5", 21.7),
        ("200 x 80 x 6 x 11", 29.0),
    ],
)
def test_a_channel_has_the_area_of_its_table(sizes, area):
    assert parse_section(f"channel {sizes}", "mm").area_mm2 / 100 == pytest.approx(area, rel=0.02)


def test_a_half_round_is_half_of_its_round():
    half = parse_section("half round 40 x 20", "mm")
    assert half.area_mm2 == pytest.approx(parse_section("round 40", "mm").area_mm2 / 2)
    # Centroid of a half circle 4 r / 3 pi over its flat; skin a half circle and its chord (textbook).
    assert half.centroid_mm() == pytest.approx(4 * 20 / (3 * pi))
    assert half.perimeter_mm == pytest.approx(pi * 20 + 40)
    # A lower rise is a segment: r2/2 (a - sin a), r = 29, half angle acos(21/29) for 40 x 8.
    low, angle = parse_section("half-round 40 x 8", "mm"), 2 * acos(21 / 29)
    assert low.area_mm2 == pytest.approx(29**2 / 2 * (angle - sin(angle)))


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("Rd 12", "round 12"), ("Ø12", "round 12"), ("Round bar Ø12", "round 12"),
        ("round dia. 12", "round 12"), ("CHS Ø 42.4 x 2.6", "tube 42.4 x 2.6"), ("rebar Ø10", "ribbed 10"),
        ("Sq 12", "square 12"), ("Fl 50x6", "flat 50 x 6"),
        ("CHS 42.4 x 2.6", "tube 42.4 x 2.6"), ("SHS 40 x 40 x 3", "box 40 x 40 x 3"),
        ("shs 40x3", "box 40 x 40 x 3"),
        ("RHS 60 x 40 x 4", "box 60 x 40 x 4"), ("L 50 x 50 x 5", "angle 50 x 50 x 5"),
        ("L 50x5", "angle 50 x 50 x 5"),
        ("RHS 60 x 40 x 4 EN10210", "box 60 x 40 x 4 EN 10210"),
        ("box 40 x 40 x 3 EN 10219", "box 40 x 40 x 3"),
        ("half round 40 x 20", "half-round 40 x 20"), ("half-round 2 x 1 in", "half-round 50.8 x 25.4"),
        ("PFC 100 x 50 x 5 x 8.5", "channel 100 x 50 x 5 x 8.5"),
        ("box 2 x 2 x 1/8 in A500", "box 50.8 x 50.8 x 3.175 A500"),
    ],
)  # fmt: skip
def test_usual_aliases_are_read(typed, key):
    section = parse_section(typed, "mm")
    assert section.key == key
    assert parse_section(key, "mm") == section and parse_section(section.name("in"), "mm") == section


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("rond 12", "did you mean 'round'|Did you mean 'round'"),
        ("flat 50", "has 1 size; expected 'flat W x T'"),
        ("round", "has 0 sizes"),
        ("round 0", "above 0"),
        ("round -3", "not a length"),
        ("round nan", "not a length"),
        ("round 1e3", "not a length"),
        ("round 2000", "at most 1000 mm"),
        ("tube 20 x 10", "leaves no bore"),
        ("box 40 x 20 x 10", "leaves no bore"),
        ("angle 40 x 20 x 20", "not below the shorter leg"),
        ("round " + "9" * 200, "longer than"),
        ("", "is not a section"),
        ("half-round 40 x 30", "rises at most half its width"),
        ("channel 100 x 50 x 60 x 8", "web of 60 mm is not below"),
        ("channel 100 x 50 x 5 x 50", "leave no web"),
        ("flat 50 x 6 EN 10210", "not a length"),
        ("CHS 40", "expected 'tube D x wall'"),
        ("Vierkant 12", "Did you mean 'square'"),
        ("Flachstahl 40 x 8", "Did you mean 'flat'"),
        ("Rohr 42.4 x 3.2", "Did you mean 'tube'"),
        ("carré 12", "Did you mean 'square'"),
        ("redondo 12", "Did you mean 'round'"),
    ],
)
def test_a_faulty_section_is_answered_with_one_clear_message(text, says):
    with pytest.raises(InputError, match=says):
        parse_section(text, "mm")


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("square tube 40 x 3", "box 40 x 40 x 3"), ("rectangular tube 60 x 40 x 3", "box 60 x 40 x 3"),
        ("SQ TUBE 2 x 2 x 1/8 in", "box 50.8 x 50.8 x 3.175"), ("round bar 12", "round 12"),
        ("Flat bar 50 x 10", "flat 50 x 10"), ("Half-Round 40 x 20", "half-round 40 x 20"),
    ],
)  # fmt: skip
def test_names_of_several_words_are_read(typed, key):
    assert parse_section(typed, "mm").key == key


def test_a_tube_of_three_sizes_is_told_to_be_a_box():
    with pytest.raises(InputError, match="a rectangular tube is 'box W x H x wall'"):
        parse_section("tube 1 x 1 x 1/8", "in")


def test_a_size_in_decimals_of_an_inch_is_named_in_inches():
    assert parse_section("round 0.55", "in").name("in") == "round 0.55 in"
    assert parse_section("round 14 mm", "in").name("in") == "round 14 mm"
