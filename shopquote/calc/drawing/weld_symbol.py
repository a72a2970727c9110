"""The symbol of a weld: ISO 2553 (system A) with the first angle, AWS A2.4 with the third.

Drawn for a weld on the arrow's side: by ISO on the solid line with its dashed one below, by AWS below the
line. Sizes in the job's own words. Millimetres of paper. Begin at `draw_weld_symbol`.
"""

from shopquote.calc.drawing.model import Arc, Drawing, Point
from shopquote.calc.drawing.pencil import Pencil
from shopquote.calc.drawing.space import Projection
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.job import WeldSpec

GLYPH_MM = 4.0
LEADER: tuple[Point, Point] = ((-7.0, -6.0), (0.0, 0.0))
TAIL_MM = 3.0
DASHED_MM = 1.4
AIR_MM = 1.4


def draw_weld_symbol(weld: WeldSpec, projection: Projection, *, size: float = 3.5) -> Drawing:
    """Arrow, line, the sign with its size before and its length after, its process behind."""
    iso = projection == "first angle"
    pencil = Pencil(1.0, size)
    up = 1.0 if iso else -1.0
    before = f"z{weld.leg.text}" if iso and weld.kind == "fillet" else weld.leg.text
    after = f"{weld.count} × {weld.length.text}" if iso else f"{weld.length.text} ({weld.count})"
    x = 3.0
    at_text = up * (size * 0.35 + 1.2)
    pencil.text(before, (x + text_width(before, size) / 2, at_text), layer="notes")
    x += text_width(before, size) + AIR_MM
    _sign(pencil, weld, x, up)
    x += GLYPH_MM + AIR_MM
    pencil.text(after, (x + text_width(after, size) / 2, at_text), layer="notes")
    end = x + text_width(after, size) + 2.0
    pencil.line(((0.0, 0.0), (end, 0.0)), "thin", "notes")
    if iso:
        pencil.line(((0.0, -DASHED_MM), (end, -DASHED_MM)), "dashed", "notes")
    pencil.line(LEADER, "thin", "notes")
    pencil.arrow(LEADER[0], 3.8504, "notes")  # along the leader, down and to the left
    for way in (1, -1):
        pencil.line(((end, 0.0), (end + TAIL_MM, way * TAIL_MM)), "thin", "notes")
    pencil.text(weld.process, (end + TAIL_MM + 1.0 + text_width(weld.process, size) / 2, 0.0), layer="notes")
    return pencil.done()


def _sign(pencil: Pencil, weld: WeldSpec, x: float, up: float) -> None:
    """A fillet's triangle, upright leg first; the V of a groove; the box of a plug; the ring of a spot."""
    right, high = x + GLYPH_MM, up * GLYPH_MM
    if weld.kind == "fillet":
        pencil.line(((x, 0.0), (x, high), (right, 0.0)), "thin", "notes", closed=True)
    elif weld.kind == "groove":
        pencil.line(((x, high), ((x + right) / 2, 0.0), (right, high)), "thin", "notes")
    elif weld.kind == "plug":
        pencil.line(((x, 0.0), (x, high), (right, high), (right, 0.0)), "thin", "notes")
    else:
        pencil.arc(Arc(((x + right) / 2, high / 2), GLYPH_MM / 2, 0.0, 360.0, "thin", "notes"))
