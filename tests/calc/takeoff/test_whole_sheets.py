"""Pieces of sheet from whole sheets: bands and pieces by hand, and what is kept whatever the sizes."""

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import PartSpec
from shopquote.calc.takeoff.takeoff import bands_of, group_pieces
from shopquote.calc.takeoff.whole_sheets import Band, band_of, sheets_for, sheets_full
from shopquote.calc.units import Length, Measure
from shopquote.services.shop.starting import starting_shop

SHOP = starting_shop()
SHEET = parse_section("sheet 1000 x 3", "mm")
TWO_METRES = Length.from_mm(2000)
SOLD = (SHEET, TWO_METRES)
LIPPED = "leg 40; bend 90 r 6; leg 200; bend 90 r 6; leg 40"


def mm(value):
    return Measure(str(value), Length.from_mm(value))


def item(mark, width, count, length=None, shape=None, **more):
    size = {"shape": shape} if shape else {"length": mm(length)}
    part = PartSpec(mark, "plate", count, "sheet 3", "S275", width=mm(width), **size, **more)
    return analyse_part(part, "mm", SHOP), part, count, "J-0001"


def sold(*widths):
    return {("sheet 3", "S275"): [(parse_section(f"sheet {w} x 3", "mm"), TWO_METRES) for w in widths]}


def test_a_bent_piece_lies_along_the_rolling_and_a_flat_one_the_way_that_takes_less():
    # 8 of 120 go side by side on 1000, 40 are left; 20 pieces are 3 bands, the last with 4.
    band = band_of(*item("A", 120, 20, shape=LIPPED), SOLD)
    assert (band.bands, band.each, band.beside.mm, band.rest.mm) == (3, 8, 40, 1000 - 4 * 120)
    assert band.along.mm_float == pytest.approx(266.7, abs=0.05)
    # Rolled across: 3 of 266.7 side by side, in bands of 120.
    band = band_of(*item("A", 120, 20, shape=LIPPED, rolled="across"), SOLD)
    assert (band.bands, band.each, band.along.mm) == (7, 3, 120)
    # 260 x 490: 3 across in bands of 490 (7 x 490), or 2 across in bands of 260 (10 x 260): the second.
    band = band_of(*item("B", 260, 20, 490), SOLD)
    assert (band.bands, band.each, band.along.mm, band.across.mm) == (10, 2, 260, 490)
    assert "shear 10 bands of 260 mm off sheet 1000 x 3 mm, then each into 2 of 490 mm" in band.words("mm")


def test_a_spliced_piece_lies_on_the_sheet_as_what_it_is_welded_from():
    assert band_of(*item("A", 300, 2, 3500), SOLD) is None
    band = band_of(*item("A", 300, 2, 3500, splice=True), SOLD)
    assert (band.along.mm, band.across.mm, band.bands, band.each) == (1750, 300, 2, 3)


def test_a_width_that_is_sold_stays_and_others_share_the_sheet_that_wastes_least():
    parts = [item("A", 120, 60, shape=LIPPED), item("B", 250, 20, 310)]
    assert not sheets_for(parts[:1], sold(120, 1000))
    assert not sheets_for(parts[:1], sold(100))
    few = [item("A", 120, 7, shape=LIPPED)]
    assert [sheet.key for sheet, _ in sheets_for(few, sold(200, 1000)).values()] == ["sheet 200 x 3"]
    sheets = sheets_for(parts, sold(300, 1000))
    assert {sheet.key for sheet, _ in sheets.values()} == {"sheet 1000 x 3"} and len(sheets) == 2
    # Other bars of the job stay as they are.
    rod = PartSpec("R", "rod", 1, "round 12", "S275", length=mm(300))
    mixed = [(analyse_part(rod, "mm", SHOP), rod, 4, "J-0001"), *parts]
    assert sheets_for(mixed, sold(300, 1000)) == sheets
    (bar, _, _), (section, _, pieces) = group_pieces(mixed, sheets)
    assert bar.key == "round 12"
    # 8 bands of 266.7 and 5 of 310: 3684 mm, which two sheets of 2 m hold.
    assert section == SHEET and [(piece.mark, piece.count) for piece in pieces] == [("A", 8), ("B", 5)]
    # Once a job has sheets they go on being used, whatever would now be chosen.
    held = frozenset({("sheet 1000 x 3", "S275")})
    assert {sheet.key for sheet, _ in sheets_for(few, sold(200, 1000), held).values()} == {"sheet 1000 x 3"}


@pytest.mark.parametrize(("mesh", "along"), [("mesh 50 x 50 x 5", 400), ("mesh 100 x 50 x 5", 950)])
def test_mesh_is_turned_only_where_its_pitches_are_alike(mesh, along):
    # 400 x 950 on 1000: 20 bands of 400, or 10 of 950 with two each; turned, the pitches change places.
    part = PartSpec("M", "infill", 20, mesh, "S235", width=mm(400), length=mm(950))
    wide = parse_section(mesh.replace("mesh", "mesh 1000 x"), "mm")
    band = band_of(analyse_part(part, "mm", SHOP), part, 20, "J-0001", (wide, TWO_METRES))
    assert band.along.mm == along


def test_a_mitred_piece_beside_square_ones_of_its_width_is_not_sheared_in_bands():
    square, mitred = item("A", 120, 6, 300), item("B", 120, 6, 300, ends=(parse_end("mitre 45", "mm"), End()))
    sheets = sheets_for([square, mitred], sold(1000))
    (wide, _, bands), (strip, _, pieces) = group_pieces([square, mitred], sheets)
    assert wide == SHEET and [piece.mark for piece in bands] == ["A"]
    assert strip.key == "sheet 120 x 3" and [(one.mark, one.count, one.length.mm) for one in pieces] == [
        ("B", 6, 300)
    ]


@given(st.integers(20, 1000), st.integers(20, 1900), st.integers(1, 300))
def test_every_piece_lies_on_the_sheet_and_none_on_another(width, length, count):
    answer, part, _, owner = item("A", width, 1, length)
    (band,) = bands_of([(answer, part, count, owner)], {(f"sheet {width} x 3", "S275"): SOLD})
    assert {band.along.mm, band.across.mm} == {width, length}
    assert band.each * band.across.nm + band.beside.nm == SHEET.sizes[0].nm and band.beside.nm >= 0
    assert (band.bands - 1) * band.each < count <= band.bands * band.each
    # No other way to lay bands takes fewer sheets, nor of as many less.
    ways = [(a, ceil(count / (1000 // w))) for a, w in ((length, width), (width, length)) if w <= 1000]
    taken = min((ceil(bands / (2000 // a)), bands * a) for a, bands in ways)
    assert (sheets_full([band], TWO_METRES), band.bands * band.along.mm) == taken


def test_a_piece_is_turned_where_it_is_longer_than_the_sheet_and_a_band_lies_in_one_sheet():
    # 2400 along does not go on a sheet of 2 m; 900 does, across a sheet 2500 wide.
    wide = (parse_section("sheet 2500 x 3", "mm"), TWO_METRES)
    band = band_of(*item("A", 900, 5, 2400), wide)
    assert (band.along.mm, band.across.mm) == (900, 2400)
    assert band_of(*item("A", 900, 5, 2400), SOLD) is None
    # 5 bands of 900 go two to a sheet of 2 m: three sheets and not the two and a quarter of their length.
    assert sheets_full([band], TWO_METRES) == 3


@given(st.lists(st.tuples(st.integers(100, 2000), st.integers(1, 12)), min_size=1, max_size=5))
def test_bands_are_counted_into_sheets_one_by_one(wanted):
    bands = [Band("A", "J", SHEET, count, 1, Length.from_mm(a), *[Length(0)] * 3) for a, count in wanted]
    rooms = []
    for along in sorted((a for a, count in wanted for _ in range(count)), reverse=True):
        place = next((at for at, room in enumerate(rooms) if room >= along), None)
        rooms = [*rooms, 2000 - along] if place is None else rooms
        if place is not None:
            rooms[place] -= along
    least = ceil(sum(a * count for a, count in wanted) / 2000)
    # As one by one, the longest first: what is left of sheets may be filled in another order.
    assert least <= sheets_full(bands, TWO_METRES) <= max(len(rooms), ceil(11 / 9 * least) + 1)
