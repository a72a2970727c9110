"""Drawings that are not whole: what is no line is passed over, a broken line is told."""

from pathlib import Path

import pytest

from shopquote.errors import InputError
from shopquote.reading.dxf_lines import read_dxf


def drawing(path: Path, *entities: str) -> Path:
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{''.join(entities)}0\nENDSEC\n0\nEOF\n", encoding="ascii")
    return path


LINE = "0\nLINE\n8\nbar\n10\n0.0\n20\n0.0\n11\n100.0\n21\n0.0\n"


def test_what_no_reader_knows_is_passed_over(tmp_path):
    found = read_dxf(drawing(tmp_path / "odd.dxf", "0\nLIITIES\n", LINE), "mm", layer="bar")
    assert [piece.q for piece in found.pieces] == [(100.0, 0.0)]


@pytest.mark.parametrize(
    "entity", ["0\nLWPOLYLINE\n8\nbar\n90\n3\n10\n1e999\n20\nx\n", "0\nARC\n8\nbar\n40\nnan\n"]
)
def test_a_broken_line_is_told_with_its_file(tmp_path, entity):
    path = drawing(tmp_path / "broken.dxf", entity)
    with pytest.raises(InputError, match=r"broken\.dxf"):
        read_dxf(path, "mm", layer="bar")


@pytest.mark.parametrize("text", ["", "0\nSECTION\n2\n", f"0\nSECTION\n2{'9' * 400}", "0\n", "\x00" * 40])
def test_whatever_the_library_stumbles_over_is_told_with_the_file(tmp_path, text):
    path = tmp_path / "broken.dxf"
    path.write_text(text, encoding="ascii")
    with pytest.raises(InputError, match=r"broken\.dxf"):
        read_dxf(path, "mm")


@pytest.mark.parametrize(
    ("sweep", "above"), [(60.0, True), (60.0, False), (328.38161893609737, True), (300.0, False)]
)
@pytest.mark.parametrize("start", [0.0, 37.3, 250.0])
def test_an_arc_runs_through_its_own_ends_drawn_from_above_or_below(tmp_path, sweep, above, start):
    """A mirrored arc has its extrusion turned over, its x to the left (DXF reference, object coordinates)."""
    arc = f"0\nARC\n8\nbar\n10\n10.0\n20\n3.0\n40\n5.0\n50\n{start}\n51\n{(start + sweep) % 360}\n"
    below = "" if above else "210\n0.0\n220\n0.0\n230\n-1.0\n"
    (piece,) = read_dxf(drawing(tmp_path / "arc.dxf", arc + below), "mm", layer="bar").pieces
    assert piece.sweep == pytest.approx(sweep if above else -sweep)
    assert piece.centre == pytest.approx((10.0 if above else -10.0, 3.0))
    assert piece.radius == pytest.approx(5.0)
    assert piece.on_arc(1.0) == pytest.approx(piece.q)
