import pytest

from shopquote.calc.bar.sections import parse_section
from shopquote.errors import InputError

# kg/m at 7850. Round: engineeringtoolbox, constructionfield and midlandrapid tables; square 25: a public
# mild steel square bar example; flats: from memory of EN 10058; round 40 of 304: a public weight chart.
KG_PER_M = [
    ("round 6", 7850, "0.222"), ("round 8", 7850, "0.395"), ("round 10", 7850, "0.617"),
    ("round 12", 7850, "0.888"), ("round 16", 7850, "1.58"), ("round 20", 7850, "2.47"),
    ("round 25", 7850, "3.85"), ("round 40", 7850, "9.86"), ("square 25", 7850, "4.91"),
    ("flat 25 x 6", 7850, "1.18"), ("flat 40 x 6", 7850, "1.88"), ("flat 50 x 10", 7850, "3.93"),
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
    assert parse_section("tube 1-1/2 in x 3", "mm").key == "tube 38.1 x 3"


def test_a_name_is_told_in_the_unit_of_the_job():
    assert parse_section('flat 2" x 1/4"', "mm").name("in") == "flat 2 x 1/4 in"
    assert parse_section("round 12", "mm").name("in") == "round 12 mm"


def test_hollow_and_angle_areas():
    # By hand: pi/4 (26.9^2 - 21.7^2); 40*20 - 36*16; 5 (50 + 30 - 5).
    assert parse_section("tube 26.9 x 2.6", "mm").area_mm2 == pytest.approx(198.486, abs=1e-3)
    assert parse_section("box 40 x 20 x 2", "mm").area_mm2 == pytest.approx(224)
    assert parse_section("angle 50 x 30 x 5", "mm").area_mm2 == pytest.approx(375)
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
    assert parse_section("angle 50 x 30 x 5", "mm").centroid_mm("easy") == pytest.approx(7.5)


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
    ],
)
def test_a_faulty_section_is_answered_with_one_clear_message(text, says):
    with pytest.raises(InputError, match=says):
        parse_section(text, "mm")
