"""A small picture of a part for a customer: the bar along its centre line, without dimensions.

Plane parts are seen from above their plane, others obliquely. Begin at `draw_picture`.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import atan2, hypot, pi

from shopquote.calc.drawing.flat_outline import twist_strokes
from shopquote.calc.drawing.model import SAME_PLACE_MM, Drawing, Point
from shopquote.calc.drawing.pencil import Pencil, away
from shopquote.calc.drawing.space import OBLIQUE, flattened

FLAT_MM = 0.5  # a part that leaves its plane by less is drawn as plane
THINNEST_MM = 1.2  # least thickness of the bar on paper, so that a long rail is more than a hairline


def draw_picture(
    line_mm: Sequence[tuple[float, float, float]],
    depth_mm: float,
    room: tuple[float, float],
    twists: Sequence[tuple[int, float]] = (),
) -> Drawing:
    """Draw the bar within `room` in mm; `line_mm` are at least two points along its centre line.

    `twists`: index of the point at which a twist begins (it ends at the next) and its degrees, drawn as
    strokes across the bar that slant by its hand.
    """
    placed, scale = laid_out(line_mm, depth_mm, room)
    points = _apart(placed)
    half = max(depth_mm * scale, THINNEST_MM) / 2
    headings = [atan2(q[1] - p[1], q[0] - p[0]) for p, q in pairwise(points)]
    headings.append(headings[-1])
    left = [away(point, way + pi / 2, half) for point, way in zip(points, headings, strict=True)]
    right = [away(point, way - pi / 2, half) for point, way in zip(points, headings, strict=True)]
    pencil = Pencil(scale)
    pencil.line([*left, *reversed(right)], "thin", closed=True, fill="grey", ink=None)
    for first, degrees in twists:
        (x, y), (end_x, end_y) = placed[first : first + 2]
        heading = atan2(end_y - y, end_x - x)
        twist_strokes(pencil, (x, y, heading), hypot(end_x - x, end_y - y), half, degrees)
    return pencil.done()


def laid_out(
    line_mm: Sequence[tuple[float, float, float]],
    depth_mm: float,
    room: tuple[float, float],
    largest: float = 1.0,
) -> tuple[list[Point], float]:
    """The centre line as it is seen in every picture of a part, within `room` mm (or pixels), and its scale.

    The scale is mm of the picture to a mm of the part, `largest` times at most.
    """
    depths = [z for _, _, z in line_mm]
    flat = max(depths) - min(depths) < FLAT_MM
    seen = [(x, y) if flat else flattened((x, y, z), OBLIQUE) for x, y, z in line_mm]
    xs, ys = [x for x, _ in seen], [y for _, y in seen]
    wide, tall = max(xs) - min(xs) + depth_mm, max(ys) - min(ys) + depth_mm
    if tall > wide * 1.2:  # a tall part lies down, so that it fills the room
        seen, wide, tall = [(y, -x) for x, y in seen], tall, wide
    scale = min(room[0] / wide, room[1] / tall, largest)
    return [(x * scale, y * scale) for x, y in seen], scale


def _apart(points: Sequence[Point]) -> list[Point]:
    """The points without those too close to the previous one; at least two."""
    kept = [points[0]]
    for point in points[1:]:
        if hypot(point[0] - kept[-1][0], point[1] - kept[-1][1]) > SAME_PLACE_MM:
            kept.append(point)
    return kept if len(kept) > 1 else [*kept, (kept[0][0] + 1, kept[0][1])]
