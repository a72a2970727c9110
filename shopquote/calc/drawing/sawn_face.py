"""The section of a bar and the sawn face of a mitre, both at real size, for DXF.

A mitre is sawn across the larger side of its bar, so the face is the section stretched along that side by 1 /
cos of the mitre. Begin at `draw_sawn_faces`.
"""

from collections.abc import Iterator
from math import cos, degrees, radians

from shopquote.calc.bar.outline import Contour
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.drawing.model import Drawing, DrawnArc, Point
from shopquote.calc.drawing.pencil import Pencil
from shopquote.calc.job import PartSpec
from shopquote.calc.units import show_angle

# Distance in mm between the faces in one file.
APART_MM = 10.0
# Points of the arcs that approximate a stretched arc, a piece of an ellipse; they deviate by micrometres.
STEPS = 48


def draw_sawn_faces(part: PartSpec, answer: PartAnswer) -> Drawing | None:
    """The section, then the face of each different mitre; None where both ends are square."""
    mitres = dict.fromkeys(abs(float(end.mitre)) for end in part.ends if end.kind == "mitre")
    if not mitres:
        return None
    outline = answer.section.outline()
    left, right, low, high = outline.limits()
    wide, tall = right - left, high - low
    pencil, at = Pencil(1.0), 0.0
    for mitre in (0.0, *mitres):
        longer = 1 / cos(radians(mitre))
        across, up = (longer, 1.0) if wide >= tall else (1.0, longer)
        for contour in (outline.outer, *outline.bores):
            for points, is_curve in _drawn_out(contour, (at - left * across, -low * up), across, up):
                pencil.line(points, "thick", ink=None, curve=is_curve)
        words = f"sawn at {show_angle(mitre)}" if mitre else "section"
        pencil.text(words, (at + wide * across / 2, -5.0))
        at += wide * across + APART_MM
    return pencil.done()


def _drawn_out(contour: Contour, to: Point, across: float, up: float) -> Iterator[tuple[list[Point], bool]]:
    """Each edge moved and stretched: a line as its ends, an arc as points on its piece of an ellipse."""
    for edge in contour:
        if edge.centre is None:
            places = [edge.start, edge.end]
        else:
            arc = DrawnArc(edge.centre, edge.radius, degrees(edge.from_angle), 0.0)
            sweep = degrees(edge.sweep)
            places = [arc.at(sweep * step / STEPS) for step in range(STEPS + 1)]
        yield [(to[0] + x * across, to[1] + y * up) for x, y in places], edge.centre is not None
