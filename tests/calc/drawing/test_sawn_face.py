"""The face that a mitre saws: its length and area by 1 / cos of the mitre, read back from the DXF."""

import io
from decimal import Decimal
from itertools import pairwise
from math import cos, pi, radians

import ezdxf
import pytest

from shopquote.calc.bar.end_words import End
from shopquote.calc.drawing.sawn_face import APART_MM, draw_sawn_faces
from shopquote.outputs.drawings.dxf import dxf
from tests.calc.drawing.parts import part

MITRE = (End("mitre", Decimal(45)), End())


def faces_of(bar: str, ends=MITRE) -> list[tuple[float, float]]:
    """Width and height of the section and of each face, by the boxes of the file's lines."""
    spec, answer = part(None, bar, length=500, ends=ends)
    document = ezdxf.read(io.StringIO(dxf(draw_sawn_faces(spec, answer), "mm")))
    assert not document.audit().errors
    found: dict[bool, list[tuple[float, float]]] = {False: [], True: []}
    for line in document.modelspace().query('LWPOLYLINE[layer=="part"]'):
        for x, y in line.get_points("xy"):
            found[x > 8 + APART_MM / 2].append((x, y))
    return [tuple(max(one) - min(one) for one in zip(*points, strict=True)) for points in found.values()]


@pytest.mark.parametrize("bar", ["round 8", "square 8"])
def test_a_face_is_the_section_drawn_out_across_the_larger_side(bar: str) -> None:
    section, face = faces_of(bar)
    assert section == pytest.approx((8, 8), abs=0.01)
    assert face == pytest.approx((8 / cos(radians(45)), 8), abs=0.01)


def test_the_face_of_a_round_is_an_ellipse() -> None:
    """Area of an ellipse: pi a b; by the trapezoids of the points and the arcs' own segments."""
    spec, answer = part(None, "round 20", length=500, ends=MITRE)
    *_, line = [item for item in draw_sawn_faces(spec, answer).items if getattr(item, "curve", False)]
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(line.points)) / 2
    assert abs(area) == pytest.approx(pi * 10 * 10 / cos(radians(45)), rel=0.003)


def test_square_ends_have_no_face() -> None:
    spec, answer = part(None, "round 20", length=500)
    assert draw_sawn_faces(spec, answer) is None
