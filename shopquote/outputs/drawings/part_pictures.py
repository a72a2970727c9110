"""A small picture of a part: its centreline, as thick as the bar, filling the frame.

PNG bytes, made with Pillow. Flat shapes are seen from above their plane, others
from a corner, so that every leg shows.
"""

from collections.abc import Sequence
from io import BytesIO
from math import cos, hypot, radians, sin

Point = tuple[float, float, float]

WIDTH, HEIGHT = 210, 120
# Drawn larger and scaled down, so that slanting edges are smooth.
_FINER = 2
# Greyscale, so that the file is small and prints as it looks.
_STEEL, _EDGE, _PAPER = 128, 40, 255
_FLAT_MM = 0.5


def part_picture(
    line_mm: Sequence[Point],
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
    placed, scale = _fitted(_seen(line_mm), depth_mm, *big)
    points = _without_doubles(placed)
    bar = min(max(depth_mm * scale, 5.0 * _FINER), height * _FINER * 0.22)
    picture = Image.new("L", big, _PAPER)
    pen = ImageDraw.Draw(picture)
    for thickness, colour in ((bar + 2 * _FINER, _EDGE), (bar - _FINER, _STEEL)):
        pen.line(points, fill=colour, width=max(1, round(thickness)), joint="curve")
    for first, degrees in twists:
        _twist_strokes(pen, placed[first], placed[first + 1], bar, degrees)
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


def _twist_strokes(  # type: ignore[no-untyped-def]
    pen, start: tuple[float, float], end: tuple[float, float], bar: float, degrees: float
) -> None:
    """Draw a stroke across the bar for each quarter turn, as far as strokes stay apart."""
    length = hypot(end[0] - start[0], end[1] - start[1])
    count = min(max(2, round(abs(degrees) / 90)), int(length / (4 * _FINER)))
    if count < 1:
        return
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    lean = min(length / count * 0.4, bar / 2) * (-1 if degrees < 0 else 1)
    for number in range(count):
        middle = length * (number + 0.5) / count
        ends = [
            (
                start[0] + along[0] * (middle + side * lean) - along[1] * side * bar / 2,
                start[1] + along[1] * (middle + side * lean) + along[0] * side * bar / 2,
            )
            for side in (-1, 1)
        ]
        pen.line(ends, fill=_EDGE, width=_FINER)


def _seen(line_mm: Sequence[Point]) -> list[tuple[float, float]]:
    """The line projected: from above if it lies in x-y, else seen from a corner."""
    if max(point[2] for point in line_mm) - min(point[2] for point in line_mm) < _FLAT_MM:
        return [(x, y) for x, y, _ in line_mm]
    slant = radians(30)
    return [(x * cos(slant) - z * cos(slant), y + (x + z) * sin(slant)) for x, y, z in line_mm]


def _fitted(
    points: Sequence[tuple[float, float]], depth_mm: float, width: int, height: int
) -> tuple[list[tuple[float, float]], float]:
    """The points scaled into the frame, with the scale in pixels per mm."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    left, top = min(xs), max(ys)
    wide, tall = max(xs) - left, top - min(ys)
    if tall > wide * 1.2:  # turn a tall part on its side, so that it fills the frame
        return _fitted([(y, -x) for x, y in points], depth_mm, width, height)
    room_x, room_y = width * 0.86, height * 0.74
    scale = min(room_x / (wide + depth_mm), room_y / (tall + depth_mm))
    shift_x, shift_y = (width - wide * scale) / 2, (height - tall * scale) / 2
    return [((x - left) * scale + shift_x, (top - y) * scale + shift_y) for x, y in points], scale


def _without_doubles(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points without those equal to the one before; at least two."""
    kept: list[tuple[float, float]] = []
    for x, y in points:
        if not kept or hypot(x - kept[-1][0], y - kept[-1][1]) > 0.5:
            kept.append((x, y))
    return kept if len(kept) > 1 else [*kept, (kept[0][0] + 1, kept[0][1])]
