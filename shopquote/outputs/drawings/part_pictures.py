"""A small picture of a part: its centreline, as thick as the bar, filling the frame.

PNG bytes, made with Pillow. The bar lies, and is twisted, as `calc.drawing.picture` says, on paper too.
"""

from collections.abc import Sequence
from io import BytesIO
from math import atan2, hypot, inf

from shopquote.calc.drawing.flat_outline import twist_lines
from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.picture import laid_out

WIDTH, HEIGHT = 210, 120
# Drawn larger and scaled down, so that slanting edges are smooth.
_FINER = 2
# Greyscale, so that the file is small and prints as it looks.
_STEEL, _EDGE, _PAPER = 128, 40, 255
_STROKES_APART = 6  # of a twist, pixels


def part_picture(
    line_mm: Sequence[tuple[float, float, float]],
    depth_mm: float,
    width: int = WIDTH,
    height: int = HEIGHT,
    twists: Sequence[tuple[int, float]] = (),
) -> bytes:
    """PNG of a bar along a centreline.

    Args:
        line_mm: points along the bar, mm; at least two.
        depth_mm: size of the bar in the plane of its bends.
        width: of the picture, pixels.
        height: of the picture, pixels.
        twists: the point that a twist begins at (it ends at the next) and its degrees; drawn as strokes
            across the bar that slant by its hand.
    """
    from PIL import Image, ImageDraw

    big = (width * _FINER, height * _FINER)
    room = big[0] * 0.86, big[1] * 0.74
    laid, scale = laid_out(line_mm, depth_mm, room, inf)
    placed = _in_the_middle(laid, *big)
    points = _without_doubles(placed)
    bar = min(max(depth_mm * scale, 5.0 * _FINER), height * _FINER * 0.22)
    picture = Image.new("L", big, _PAPER)
    pen = ImageDraw.Draw(picture)
    for thickness, colour in ((bar + 2 * _FINER, _EDGE), (bar - _FINER, _STEEL)):
        pen.line(points, fill=colour, width=max(1, round(thickness)), joint="curve")
    for first, degrees in twists:
        (x, y), (end_x, end_y) = laid[first : first + 2]
        start, length = (x, y, atan2(end_y - y, end_x - x)), hypot(end_x - x, end_y - y)
        for line in twist_lines(start, length, bar / 2, degrees, _STROKES_APART * _FINER):
            pen.line(_in_the_middle(line, *big, of=laid), fill=_EDGE, width=_FINER)
    _square_ends(pen, points, bar)
    held = BytesIO()
    picture.reduce(_FINER).save(held, "PNG", compress_level=3)
    return held.getvalue()


def _square_ends(pen, points: Sequence[tuple[float, float]], bar: float) -> None:  # type: ignore[no-untyped-def]
    """Draw an edge across each sawn end."""
    for end, inner in ((points[0], points[1]), (points[-1], points[-2])):
        length = hypot(end[0] - inner[0], end[1] - inner[1]) or 1.0
        across = (-(end[1] - inner[1]) / length * bar / 2, (end[0] - inner[0]) / length * bar / 2)
        pen.line(
            [(end[0] - across[0], end[1] - across[1]), (end[0] + across[0], end[1] + across[1])],
            fill=_EDGE,
            width=_FINER,
        )


def _in_the_middle(
    points: Sequence[Point], width: int, height: int, *, of: Sequence[Point] | None = None
) -> list[Point]:
    """Points in the frame, whose y runs down, so that `of`, else they themselves, stand in its middle."""
    xs, ys = zip(*(of or points), strict=True)
    right, down = (width - min(xs) - max(xs)) / 2, (height + min(ys) + max(ys)) / 2
    return [(x + right, down - y) for x, y in points]


def _without_doubles(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points without those equal to the one before; at least two."""
    kept: list[tuple[float, float]] = []
    for x, y in points:
        if not kept or hypot(x - kept[-1][0], y - kept[-1][1]) > 0.5:
            kept.append((x, y))
    return kept if len(kept) > 1 else [*kept, (kept[0][0] + 1, kept[0][1])]
