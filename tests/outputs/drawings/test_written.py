"""What is written of a drawing: SVG that reads, DXF that other programs open, PDF at full size."""

import io
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from pypdf import PdfReader

from shopquote.calc.drawing.full_size import OVERLAP_MM, draw_full_size, tiles
from shopquote.calc.drawing.part import draw_part
from shopquote.errors import CannotMakeError, InputError
from shopquote.outputs.drawings.dxf import dxf
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.papers.full_size_paper import CHECK_MM, WINDOW_MM, typeset_full_size
from shopquote.services.jobs.drawn import part_of_drawing, shape_of_drawing
from tests.calc.drawing.parts import part

HOOK = "leg 90; bend 90 r 24; leg 85; bend -90 r 24; leg 80"


def test_svg_is_well_formed_and_keeps_what_was_typed_as_text() -> None:
    spec, answer = part(HOOK)
    text = svg(draw_part(spec, answer, "mm").finished, title='<b>"hook" & eye</b>')
    root = ElementTree.fromstring(text)
    assert root[0].text == '<b>"hook" & eye</b>'
    assert root.get("width", "").endswith("mm")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_dxf_is_sound_says_its_unit_and_has_the_parts_own_size(unit) -> None:
    shape = HOOK if unit == "mm" else "leg 6; bend 90 r 1; leg 5"
    spec, answer = part(shape, "round 12 mm", unit)
    text = dxf(draw_part(spec, answer, unit, breaks=False).finished, unit)
    document = ezdxf.read(io.StringIO(text))
    assert not document.audit().errors
    assert document.header["$INSUNITS"] == {"mm": 4, "in": 1}[unit]
    one = 1.0 if unit == "mm" else 25.4
    radii = {round(arc.dxf.radius * one, 6) for arc in document.modelspace().query('ARC[layer=="part"]')}
    inside = {"mm": 24.0, "in": 25.4}[unit]
    assert radii == {inside, inside + 12.0}
    assert text == dxf(draw_part(spec, answer, unit, breaks=False).finished, unit)


def test_a_dxf_of_ours_reads_back_as_the_same_words(tmp_path: Path) -> None:
    spec, answer = part(HOOK)
    path = tmp_path / "hook.dxf"
    path.write_text(dxf(draw_part(spec, answer, "mm", breaks=False).finished, "mm"))
    assert shape_of_drawing(path, "round 12") == HOOK
    assert shape_of_drawing(path, "round 12", dims="tangent") != HOOK


def test_a_polyline_with_bulges_is_read_and_a_ring_is_a_circle(tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    # A bulge is tan(sweep / 4): 0.41421356 is a quarter circle (DXF reference, LWPOLYLINE).
    points = [(0, 0, 0), (100, 0, 0.4142135623730951), (130, 30, 0), (130, 90, 0)]
    document.modelspace().add_lwpolyline(points, format="xyb", dxfattribs={"layer": "bar"})
    document.saveas(tmp_path / "poly.dxf")
    read = shape_of_drawing(tmp_path / "poly.dxf", "round 12", dims="centre")
    assert read == "leg 130; bend 90 r 24; leg 90"
    ring = ezdxf.new(units=4)
    ring.modelspace().add_circle((5, 5), 106)
    ring.saveas(tmp_path / "ring.dxf")
    assert shape_of_drawing(tmp_path / "ring.dxf", "round 12") == "ring d 212 centre"


def test_circles_on_the_line_are_holes_of_its_legs(tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0), (100, 0, 0.4142135623730951), (130, 30, 0), (130, 90, 0)], format="xyb")
    for place, radius in (((20, 0), 2.5), ((60, 0), 2.5), ((128, 70), 3), ((400, 400), 5)):
        space.add_circle(place, radius)
    document.saveas(tmp_path / "plate.dxf")
    part = part_of_drawing(tmp_path / "plate.dxf", "square 12", dims="outside")
    # By hand: the bend's inside radius is 30 - 6, so the second leg begins 36 before its tangent point at 30
    # and the hole at 70 lies 40 beyond that; 2 to the left of the line that runs up.
    assert part.shape == "leg 136; bend 90 r 24; leg 96"
    assert [str(hole) for hole in part.holes] == [
        '{ dia = 5, leg = 1, at = [20, 60], face = "left" }',
        '{ dia = 6, leg = 2, at = [76], across = 2, face = "left" }',
    ]
    assert part.circles_left == 1


@pytest.mark.parametrize(
    "content", [b"", b"no drawing", b"\x00" * 400, b"0\nSECTION\n2\nENTITIES\n0\nLINE\n"]
)
def test_what_is_no_drawing_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "bad.dxf"
    path.write_bytes(content)
    with pytest.raises(InputError):
        shape_of_drawing(path, "round 12")


def test_tiles_cover_the_drawing_and_overlap() -> None:
    spec, answer = part("leg 600; bend 90 r 100; leg 500")
    drawing = draw_full_size(spec, answer, "mm")
    sheets = list(tiles(drawing, 190, 255))
    assert min(s.left for s in sheets) <= drawing.low[0] and min(s.bottom for s in sheets) <= drawing.low[1]
    assert max(s.left + s.width for s in sheets) >= drawing.high[0]
    assert max(s.bottom + s.height for s in sheets) >= drawing.high[1]
    first, second = (next(s for s in sheets if s.name == name) for name in ("A1", "A2"))
    assert first.left + first.width - second.left == pytest.approx(OVERLAP_MM)


def test_a_part_in_space_has_no_template_and_says_why() -> None:
    spec, answer = part("leg 200; bend 60 r 24; leg 150; turn 35; bend -100 r 40; leg 220")
    with pytest.raises(CannotMakeError, match="bends in space"):
        draw_full_size(spec, answer, "mm")


@pytest.mark.skipif(not shutil.which("pdftocairo"), reason="poppler is not here")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_check_bar_and_the_part_are_at_full_size_in_the_pdf(tmp_path: Path, paper: str) -> None:
    """Read back by another program (poppler): the bar to 0.1 mm, a ring's diameter to 0.1 mm."""
    spec, answer = part("ring d 120")
    pdf = tmp_path / "ring.pdf"
    pdf.write_bytes(typeset_full_size(draw_full_size(spec, answer, "mm"), "ring", "ring", paper))
    subprocess.run(["pdftocairo", "-png", "-r", "254", "-singlefile", pdf, tmp_path / "ring"], check=True)
    from PIL import Image

    picture = Image.open(tmp_path / "ring.png").convert("L")
    width, height = picture.size
    assert width == pytest.approx({"A4": 2100, "Letter": 2159}[paper], abs=2)
    rows = picture.load()
    # The check bar is the only filled thing below the window: the longest run of black there.
    low = max(_longest_black(rows, width, y) for y in range(int(height * 0.88), height))
    assert low / 10 == pytest.approx(CHECK_MM[paper], abs=0.1)
    # The ring's widest row; outside diameter with its strokes of 0.6 mm: 120 + 2 x 12 + 0.6.
    widest = max(_black_span(rows, width, y) for y in range(110, int(height * 0.86)))
    assert widest / 10 == pytest.approx(144.6, abs=0.15)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("title", ["J-0001 A full size", "Railing of the village hall by the river " * 5])
@pytest.mark.parametrize("told", [(), ("pitch at centre: 40 mm; the gap to the true curve is 0.4 mm",) * 4])
def test_every_sheet_is_one_page_however_long_its_words(
    paper: str, title: str, told: tuple[str, ...]
) -> None:
    spec, answer = part("leg 300; bend 90 r 50; leg 400")
    drawing = draw_full_size(spec, answer, "mm")
    pages = PdfReader(io.BytesIO(typeset_full_size(drawing, title, "hook", paper, told))).pages
    assert len(pages) == len(list(tiles(drawing, *WINDOW_MM[paper])))
    for page in pages:
        # An older reader sees blanks within words.
        read = "".join(page.extract_text().split())
        expected = ("print at 100 %", title, *told)
        assert all("".join(words.split()) in read for words in expected)


def _longest_black(rows, width: int, y: int) -> int:
    longest = run = 0
    for x in range(width):
        run = run + 1 if rows[x, y] < 128 else 0
        longest = max(longest, run)
    return longest


def _black_span(rows, width: int, y: int) -> int:
    black = [x for x in range(110, width - 110) if rows[x, y] < 128]
    return black[-1] - black[0] + 1 if black else 0


def test_text_in_svg_is_escaped_everywhere() -> None:
    spec, answer = part("leg 90; bend 90 r 24; leg 85")
    assert not re.search(r"<script|onload", svg(draw_part(spec, answer, "mm").finished, title="<script>"))
