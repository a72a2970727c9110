"""Pipe, tee, ribbed bar, sheet and mesh against the masses of their standards."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Length, Measure
from shopquote.errors import CannotMakeError, InputError

# Section, kg/m, share that a table's rounding and rolling radii may differ by.
MASSES = [
    ("pipe 15 medium", 1.21, 0.01),  # EN 10255, plain ends, from memory
    ("pipe DN25 medium", 2.41, 0.01),
    ("pipe 50 heavy", 6.19, 0.01),
    ("pipe 1 in sch 40", 2.50, 0.01),  # ASME B36.10, from memory
    ("pipe 2 in schedule 80", 7.48, 0.01),
    ("ribbed 8", 0.395, 0.002),  # EN 10080 nominal masses
    ("ribbed 10", 0.617, 0.002),
    ("ribbed 16", 1.58, 0.002),
    ("ribbed 25", 3.85, 0.002),
    ("tee 40 x 40 x 5", 2.96, 0.02),  # EN 10055, from memory; its flanges taper by 2 %
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
    # DIN 6935 at r/s = 2, from memory: k 0.8005, each 90 takes 6.689 off 3 mm with r 6.
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
