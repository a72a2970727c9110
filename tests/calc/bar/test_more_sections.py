"""Pipe, tee, ribbed bar, sheet and mesh against the masses of their standards."""

from dataclasses import replace
from datetime import date
from math import dist, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.benders import BendTest
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.drawing.flat_outline import faces, points_on
from shopquote.calc.drawing.outline import lay_out
from shopquote.calc.drawing.part import flat_part
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.errors import CannotMakeError, InputError
from shopquote.services.shop.starting import starting_shop

# Section, kg/m, share that a table's rounding and rolling radii may differ by.
MASSES = [
    ("pipe 8 medium", 0.641, 0.01),  # EN 10255, plain ends: a tube maker's page (tuspipe.com)
    ("pipe 15 medium", 1.21, 0.01),
    ("pipe 20 heavy", 1.87, 0.01),
    ("pipe DN25 medium", 2.41, 0.01),
    ("pipe 32 medium", 3.10, 0.01),
    ("pipe 40 heavy", 4.38, 0.01),
    ("pipe 50 heavy", 6.19, 0.01),
    ("pipe 1 in sch 40", 2.50, 0.01),  # ASME B36.10M: walls of open tables of pipe
    ("pipe 2 in schedule 80", 7.48, 0.01),
    ("ribbed 8", 0.395, 0.002),  # EN 10080 nominal masses
    ("ribbed 10", 0.617, 0.002),
    ("ribbed 16", 1.58, 0.002),
    ("ribbed 25", 3.85, 0.002),
    ("tee 40 x 40 x 5", 2.96, 0.02),  # EN 10055 in a public section library; its flanges taper by 2 %
    ("tee 50 x 50 x 6", 4.44, 0.025),
    ("sheet 1000 x 3", 23.55, 1e-9),  # 7.85 kg for each mm of a square metre
    ("wire 4", 0.0986, 0.001),
]


@pytest.mark.parametrize("bar, kg, share", MASSES)
def test_a_metre_has_the_mass_of_its_standard(bar, kg, share):
    assert parse_section(bar, "mm").mass_per_m(7850) == pytest.approx(kg, rel=share)


def test_number_three_ribbed_bar_of_inch_lists():
    # ASTM A615: No. 3 is 0.376 lb/ft.
    assert parse_section("ribbed 3/8", "in").mass_per_m(7850) / 0.45359237 * 0.3048 == pytest.approx(
        0.376, rel=0.005
    )


def test_pipe_is_the_tube_that_it_is():
    assert parse_section("pipe 25 medium", "mm").key == "tube 33.7 x 3.2"
    with pytest.raises(InputError, match="in no table"):
        parse_section("pipe 27 medium", "mm")


def test_sheet_takes_the_width_of_its_part(work_out):
    answer = work_out("plate 10", length="200", width=Measure.parse("150", "mm"))
    assert answer.section.key == "sheet 150 x 10"
    assert answer.mass_kg == pytest.approx(0.15 * 0.2 * 78.5)
    with pytest.raises(InputError, match="sheet has no width"):
        work_out("sheet 3", length="200")


def test_a_tray_folds_as_sheet_does(work_out):
    # DIN 6935 at r/s = 2: k = 0.65 + 0.5 lg 2 = 0.8005 (excelution.at/2019/08), by hand each 90 takes 6.689
    # off 3 mm with r 6.
    answer = work_out(
        "sheet 3", "leg 40; bend 90 r 6; leg 200; bend 90 r 6; leg 40", width=Measure.parse("120", "mm")
    )
    assert answer.developed.mm_float == pytest.approx(280 - 2 * 6.689, abs=0.002)


@given(st.integers(3, 40), st.integers(3, 40), st.sampled_from([3, 4, 5]))
def test_mesh_weighs_its_wires(across, along, wire):
    width, length = across * 50, along * 50
    section = parse_section(f"mesh {width} x 50 x 50 x {wire}", "mm")
    wires = (across + 1) * length + along * width  # one cross wire a pitch
    assert section.area_mm2 * length == pytest.approx(wires * 3.141592653589793 / 4 * wire**2)


def test_mesh_is_not_bent(work_out):
    with pytest.raises(CannotMakeError, match="flat pieces only"):
        work_out("mesh 50 x 50 x 4", "leg 300; bend 90 r 20; leg 300", width=Measure.parse("500", "mm"))


def test_rebar_is_bent_to_its_mandrel(work_out):
    # EN 1992-1-1 table 8.1N: mandrel 4 d, so inside radius 2 d up to 16 mm.
    codes = {
        radius: {
            p.code
            for p in work_out("ribbed 12", f"leg 200; bend 90 r {radius}; leg 200", grade="B500B").problems
        }
        for radius in (24, 20)
    }
    assert "radius-too-tight" in codes[20] and "radius-too-tight" not in codes[24]
    assert Length.from_mm(12) == parse_section("rebar 12", "mm").sizes[0]


def ring_of_angle(toes, shape="ring d 800"):
    part = PartSpec("A", "ring", 1, "angle 40 x 40 x 4", "S275", shape=shape, toes=toes)
    return analyse_part(part, "mm", starting_shop())


def test_a_ring_of_angle_is_cut_by_its_centroid_whichever_way_its_toes_lie():
    # EN 10056-1: the centroid of 40 x 40 x 4 lies 11.2 mm from the heel. Toes out the heel is the inner face
    # and the neutral line lies 11.2 beyond it; toes in the toes are, and it lies 40 - 11.2.
    out, inside = ring_of_angle("out"), ring_of_angle("in")
    assert out.developed.mm_float == pytest.approx(pi * (800 + 2 * 11.2), abs=0.5)
    assert inside.developed.mm_float == pytest.approx(pi * (800 + 2 * 28.8), abs=0.5)
    # One bar to buy, and the two warn of what their standing leg does.
    assert out.section.key == inside.section.key and out.mass_kg < inside.mass_kg
    told = [next(p.message for p in one.problems if p.code == "angle-buckles") for one in (out, inside)]
    assert "heel inside" in told[0] and "toes inside" in told[1] and "crushed" in told[1]


def test_an_angle_turned_over_keeps_its_metal_and_its_second_moment():
    plain = parse_section("angle 60 x 40 x 5", "mm")
    over = replace(plain, toes_in=True)
    for axis in ("easy", "hard"):
        one, other = bend_section(plain, axis), bend_section(over, axis)
        assert (one.depth_mm, one.width_mm) == (other.depth_mm, other.width_mm)
        assert other.centroid_mm == pytest.approx(one.depth_mm - one.centroid_mm)
        assert other.inertia_mm4 == pytest.approx(one.inertia_mm4)
        assert other.plastic_mm3 == pytest.approx(one.plastic_mm3)


def test_toes_are_of_angle_and_tee_alone():
    with pytest.raises(InputError, match="toes = in is for angle and tee"):
        spec = PartSpec("A", "ring", 1, "round 12", "S275", shape="ring d 300", toes="in")
        analyse_part(spec, "mm", starting_shop())


@pytest.mark.parametrize("bar", ["angle 40 x 40 x 4", "tee 40 x 40 x 5", "half round 20 x 10"])
@pytest.mark.parametrize("back", ["arc -90 r 300", "turn 180; arc 90 r 300"])
def test_a_bar_bent_back_has_its_other_face_inside(work_out, bar, back):
    # The same metal lies outside in one bend and inside in the other: together two radii and one depth.
    answer = work_out(bar, f"leg 300; arc 90 r 300; leg 300; {back}; leg 100")
    depth = answer.section.depth_mm("easy")
    assert answer.developed.mm_float == pytest.approx(700 + pi / 2 * (600 + depth), abs=0.01)
    k, back_k = (bend.k for bend in answer.bends)
    assert k + back_k == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("toes", ["out", "in"])
@pytest.mark.parametrize(
    "shape", ["leg 300; arc 90 r 200; leg 300; arc -60 r 150; leg 99", "leg 90; arc -90 r 99; leg 9"]
)
def test_the_faces_of_a_lopsided_bar_are_drawn_without_a_step(work_out, toes, shape):
    part = PartSpec("A", "", 1, "angle 40 x 40 x 4", "S275", shape=shape, toes=toes)
    answer = work_out("angle 40 x 40 x 4", shape, toes=toes)
    stretches = lay_out(answer.runs)
    left, right = faces(flat_part(part, answer, "mm"), stretches, 1.0)
    ends = [len(list(points_on(stretch))) for stretch in stretches]
    joints = [sum(ends[: count + 1]) for count in range(len(ends) - 1)]
    for face in (left, right):
        assert all(dist(face[at - 1], face[at]) < 1e-6 for at in joints)


@pytest.mark.parametrize("bar", ["angle 50 x 30 x 5", "half round 20 x 10"])
@pytest.mark.parametrize(
    "first", ["bend -90", "turn 180; bend 90", "turn 90; turn 90; bend 90", "turn 180; bend -90"]
)
def test_a_lopsided_bar_is_as_large_whichever_way_its_only_bend_goes(work_out, bar, first):
    # Its legs are measured outside, so that they are its overall size.
    answer = work_out(bar, f"leg 100; {first} r 60; leg 200")
    assert answer.envelope_mm[:2] == pytest.approx((100, 200), abs=0.01)


@pytest.mark.parametrize("turns", [0.5, 1, 1.5])
@pytest.mark.parametrize("way", ["", "-"])
def test_half_twists_before_the_first_bend_turn_no_lopsided_bar_over(work_out, turns, way):
    answer = work_out(
        "angle 50 x 30 x 5", f"leg 100; twist {turns} over 50; leg 250; bend {way}90 r 60; leg 200"
    )
    assert answer.envelope_mm[:2] == pytest.approx((400, 200), abs=0.01)


def test_measured_pulls_are_of_the_face_that_lay_inside(work_out, bending_shop):
    shape = "leg 300; bend 90 r 100; leg 300; bend -90 r 100; leg 300"
    tested = BendTest(
        date(2026, 1, 5),
        parse_section("angle 40 x 40 x 4", "mm"),
        "S275",
        Length.from_mm(100),
        90,
        over_bend=99,
    )
    answer = work_out("angle 40 x 40 x 4", shape, shop=replace(bending_shop, bend_tests=(tested,)))
    heel, toes = answer.bends
    assert "measured" in heel.over_bend_source and "measured" not in toes.over_bend_source
