"""`Pencil` builds a drawing and places dimensions and notes where they overlap least.

Every item is also kept as a convex box. A dimension or note is tried at several places and drawn at the one
with the least penalty. The choice depends on the drawing alone, so that a part is always drawn the same way.
Millimetres on paper, y up, angles in radians. Begin at `Pencil`.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, radians, sin
from typing import Literal

from shopquote.calc.drawing.boxes import Box, BoxShape, shapes_overlap
from shopquote.calc.drawing.model import (
    PEN_MM,
    Drawing,
    DrawnArc,
    DrawnText,
    Fill,
    Item,
    Layer,
    Line,
    Pen,
    Point,
)
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import show_angle

Ink = Literal["text", "part", "line"]
Inked = tuple[Box, Ink]

# Ratio of the height of capitals to the type size of Fira Sans Condensed; and the space kept round a text.
CAP = 0.7
AIR_MM = 0.5
# By ISO 129-1: length of filled arrowheads, extension lines beyond the dimension line, gap before them; in
# mm.
ARROW_MM, BEYOND_MM, GAP_MM = 3.0, 1.8, 1.0
ARC_STEP_DEG = 6.0

# Penalties for one kind of item on another: text on text is worst, since it cannot be read.
_BAD: dict[Ink, dict[Ink, float]] = {
    "text": {"text": 60.0, "part": 30.0, "line": 14.0},
    "part": {"text": 30.0, "part": 0.0, "line": 5.0},
    "line": {"text": 14.0, "part": 5.0, "line": 2.0},
}


def away(point: Point, angle: float, distance: float) -> Point:
    """The point at a distance in a direction (radians)."""
    return point[0] + cos(angle) * distance, point[1] + sin(angle) * distance


def strip(p: Point, q: Point, half: float) -> Box:
    """The box round the line from p to q, `half` its thickness to each side."""
    length = hypot(q[0] - p[0], q[1] - p[1]) or 1e-9
    x, y = -(q[1] - p[1]) / length * half, (q[0] - p[0]) / length * half
    return (p[0] + x, p[1] + y), (q[0] + x, q[1] + y), (q[0] - x, q[1] - y), (p[0] - x, p[1] - y)


def text_box(text: str, at: Point, size: float, angle: float = 0.0, air: float = AIR_MM) -> Box:
    """The corners of a text centred at a point."""
    w, h = text_width(text, size) / 2 + air, size * CAP / 2 + air
    c, s = cos(angle), sin(angle)
    corners = ((-w, -h), (w, -h), (w, h), (-w, h))
    return tuple((at[0] + x * c - y * s, at[1] + x * s + y * c) for x, y in corners)


def readable(angle: float) -> float:
    """A direction in radians, reversed if needed so that text along it is read from below or the right."""
    angle = (angle + pi) % (2 * pi) - pi
    return angle if -pi / 2 + 1e-6 < angle <= pi / 2 + 1e-6 else angle + pi


@dataclass(frozen=True, slots=True)
class Place:
    """A candidate place: its own penalty, the boxes that it would cover, and the function that draws it."""

    dislike: float
    ink: Callable[[], Iterable[Inked]]
    draw: Callable[[], None]


class Pencil:
    """A drawing being made; `done` gives the finished one."""

    def __init__(self, scale: float = 1.0, size: float = 3.5) -> None:
        self.scale, self.size = scale, size
        self._items: list[Item] = []
        self._ink: list[tuple[BoxShape, Ink]] = []
        self._low, self._high = [float("inf")] * 2, [float("-inf")] * 2

    def done(self) -> Drawing:
        """The drawing as made so far."""
        low = (self._low[0], self._low[1]) if self._items else (0.0, 0.0)
        high = (self._high[0], self._high[1]) if self._items else (0.0, 0.0)
        return Drawing(tuple(self._items), self.scale, low, high)

    def line(
        self, points: Sequence[Point], pen: Pen = "thin", layer: Layer = "part", *,
        closed: bool = False, fill: Fill = "none", ink: Ink | None = "line", curve: bool = False,
    ) -> None:  # fmt: skip
        """Draw strokes, or arcs through points; without `ink` other items may be placed over them."""
        self._add(Line(tuple(points), pen, layer, closed, fill, curve), points)
        if ink:
            # Thinner lines are still visible, and a text on one would be hard to read.
            half = max(PEN_MM[pen], 0.2) / 2
            ring = [*points, points[0]] if closed else points
            self.keep((strip(p, q, half), ink) for p, q in pairwise(ring))

    def arc(self, arc: DrawnArc, ink: Ink | None = "line") -> None:
        """Draw part of a circle."""
        steps = max(2, int(abs(arc.sweep) / ARC_STEP_DEG))
        points = [arc.at(arc.sweep * step / steps) for step in range(steps + 1)]
        self._add(arc, points)
        if ink:
            self.keep((strip(p, q, 0.15), ink) for p, q in pairwise(points))

    def text(
        self, text: str, at: Point, *, angle: float = 0.0, size: float | None = None,
        bold: bool = False, layer: Layer = "notes",
    ) -> None:  # fmt: skip
        """Draw a text centred at a point."""
        size = size or self.size
        box = text_box(text, at, size, angle)
        self._add(DrawnText(text, at, size, degrees(angle), bold, layer), box)
        self.keep([(box, "text")])

    def arrow(self, tip: Point, angle: float, layer: Layer = "sizes") -> None:
        """Draw a filled arrowhead that points in the direction `angle`."""
        back = away(tip, angle, -ARROW_MM)
        points = (
            tip,
            away(back, angle + pi / 2, ARROW_MM / 6),
            away(back, angle - pi / 2, ARROW_MM / 6),
        )
        self.line(points, "none", layer, closed=True, fill="black", ink=None)

    def keep(self, inked: Iterable[Inked]) -> None:
        """Reserve boxes without drawing anything."""
        for box, ink in inked:
            self._ink.append((BoxShape(box), ink))

    def best(self, places: Iterable[Place]) -> None:
        """Draw the candidate with the least penalty; of equal ones the first."""
        chosen, least = None, float("inf")
        for place in places:
            # Its boxes are not made where its own penalty is too large already.
            disturbs = self._disturbance(place, least) if place.dislike < least else least
            if disturbs < least:
                chosen, least = place, disturbs
        if chosen is not None:
            chosen.draw()

    def _disturbance(self, place: Place, enough: float) -> float:
        """The penalty of a candidate; adding up stops at `enough`, where it will not be chosen."""
        total = place.dislike
        for box, ink in place.ink():
            if total >= enough:
                break
            shape, bad = BoxShape(box), _BAD[ink]
            left, bottom, right, top = shape.frame
            for other, what in self._ink:
                l2, b2, r2, t2 = other.frame
                # Upright frames first: most pairs are far apart.
                if left < r2 and l2 < right and bottom < t2 and b2 < top and shapes_overlap(shape, other):
                    total += bad[what]
        return total

    def _add(self, item: Item, points: Iterable[Point]) -> None:
        self._items.append(item)
        for point in points:
            for axis in (0, 1):
                self._low[axis] = min(self._low[axis], point[axis])
                self._high[axis] = max(self._high[axis], point[axis])

    # Sizes and notes ------------------------------------------------------------------------------------

    def size_between(
        self, p: Point, q: Point, text: str, along: float, *,
        sides: Sequence[int] = (1, -1), offsets: Sequence[float] = (8, 14.5, 21, 27.5, 34, 40.5),
    ) -> None:  # fmt: skip
        """Draw a linear dimension from p to q, measured along a direction, with its text above its line."""
        self.best(
            self._linear(p, q, text, along, side, offset, place)
            for side in sides
            for offset in offsets
            for place in (0, 1, -1)
        )

    def size_of_box(self, low: Point, high: Point, text: str, *, upright: bool) -> None:
        """Draw the width of a box below or above it, or if `upright` its height left or right of it."""
        along = pi / 2 if upright else 0.0
        near, far = (low[0], high[1]), (high[0], low[1])
        sides = ((low, near, 1), (far, high, -1)) if upright else ((low, far, -1), (near, high, 1))
        self.best(
            self._linear(p, q, text, along, side, offset, place)
            for number, (p, q, side) in enumerate(sides)
            for offset in range(9 + 7 * number, 45, 7)
            for place in (0, 1, -1)
        )

    def _linear(
        self, p: Point, q: Point, text: str, along: float, side: int, offset: float, place: int
    ) -> Place:
        gap = abs((q[0] - p[0]) * cos(along) + (q[1] - p[1]) * sin(along))
        half, tight = text_width(text, self.size) / 2, gap < 3 * ARROW_MM
        fits = half * 2 + 2 < gap - (0 if tight else 2 * ARROW_MM)
        # Best is the text between the arrows; beside them it is read as well, across them hardly.
        cramped = 9 if place else 0 if fits else 60

        # Laid out once, for its boxes and its drawing; most places are given up before either.
        @cache
        def laid() -> _LaidSize:
            return _lay_size(p, q, along + side * pi / 2, offset, half, place, tight, self.size)

        def ink() -> Iterator[Inked]:
            size = laid()
            yield text_box(text, size.spot, self.size, size.turned), "text"
            for stroke in size.strokes:
                yield strip(*stroke, 0.2), "line"

        def draw() -> None:
            size = laid()
            for stroke in size.strokes:
                self.line(stroke, layer="sizes")
            for end, way in zip(size.ends, (0, pi) if tight else (pi, 0), strict=True):
                self.arrow(end, size.line + way)
            self.text(text, size.spot, angle=size.turned, layer="sizes")

        # Of free places the nearest, and on the first side: small enough never to outweigh an overlap.
        return Place(offset * 0.12 + cramped + (0.6 if side < 0 else 0), ink, draw)

    def note_at(
        self, tip: Point, text: str, ways: Sequence[float], lengths: Sequence[float] = (6, 9, 13, 18, 24)
    ) -> None:
        """Draw a note with an arrow on `tip`; `ways` are possible directions of its leader."""
        self.best(self._note(tip, text, way, length) for way in ways for length in lengths)

    def _note(self, tip: Point, text: str, way: float, length: float) -> Place:
        knee = away(tip, way, length)
        # An upright leader, whose cosine is 0 but for rounding, has its text on the right.
        side = 1 if cos(way) >= -1e-9 else -1
        spot = (knee[0] + side * (text_width(text, self.size) / 2 + 1.2), knee[1])

        def draw() -> None:
            self.line((tip, knee), layer="sizes")
            self.arrow(tip, way + pi)
            self.text(text, spot, layer="sizes")

        def ink() -> Iterator[Inked]:
            yield text_box(text, spot, self.size), "text"
            yield strip(away(tip, way, 0.3), knee, 0.15), "line"

        return Place(length * 0.15, ink, draw)

    def letter_at(self, letter: str, middle: Point, way: float, off: float) -> None:
        """Draw a bold letter beside a line, on the side with the least penalty."""

        def place(side: float, more: float) -> Place:
            spot = away(middle, way + side, off + more)
            ink: tuple[Inked, ...] = ((text_box(letter, spot, self.size), "text"),)
            return Place(more * 0.2, lambda: ink, lambda: self.text(letter, spot, bold=True, layer="sizes"))

        self.best(place(side, more) for more in (0.0, 2.0, 4.0, 7.0) for side in (0.0, pi, pi / 2, -pi / 2))

    def angle_at(self, apex: Point, heading: float, angle: float, least: float) -> None:
        """Draw the angle of bend at a corner in degrees, from the first leg's extension to the second leg."""
        text = show_angle(abs(angle))
        # The text in the middle of the arc, else just beyond either end of it.
        middles = (0.5, -0.15, 1.15)
        self.best(
            self._angle(apex, heading, angle, text, least + more, middle)
            for more in (5, 8, 11, 15, 20, 26, 33)
            for middle in middles
        )

    def _angle(
        self, apex: Point, heading: float, angle: float, text: str, radius: float, middle: float
    ) -> Place:
        turned = radians(angle)
        way = heading + turned * middle
        off = text_width(text, self.size) / 2 * abs(cos(way)) + self.size * CAP / 2 * abs(sin(way)) + 1.2
        spot = away(apex, way, radius + off)
        arc = DrawnArc(apex, radius, degrees(heading), angle, layer="sizes")
        tail = (away(apex, heading, GAP_MM), away(apex, heading, radius + BEYOND_MM))
        # An arrow on an arc points along the chord of its own length.
        lean = ARROW_MM / 2 / radius * (1 if angle > 0 else -1)
        square = pi / 2 if angle > 0 else -pi / 2

        def draw() -> None:
            self.arc(arc)
            self.line(tail, layer="sizes")
            self.arrow(arc.at(0), heading - square + lean)
            self.arrow(arc.at(angle), heading + turned + square - lean)
            self.text(text, spot, layer="sizes")

        def ink() -> Iterator[Inked]:
            steps = 12
            points = [arc.at(angle * step / steps) for step in range(1, steps)]
            yield text_box(text, spot, self.size), "text"
            yield strip(*tail, 0.1), "line"
            for p, q in pairwise(points):
                yield strip(p, q, 0.1), "line"

        return Place(radius * 0.1 + (middle != 0.5), ink, draw)


@dataclass(frozen=True, slots=True)
class _LaidSize:
    """The layout of a linear dimension: ends, direction, dimension and extension lines, place of its text."""

    ends: tuple[Point, Point]
    line: float
    strokes: tuple[tuple[Point, Point], ...]
    spot: Point
    turned: float


def _lay_size(
    p: Point, q: Point, normal: float, offset: float, half: float, place: int, tight: bool, size: float
) -> _LaidSize:
    c, s = cos(normal), sin(normal)
    high, other = p[0] * c + p[1] * s, q[0] * c + q[1] * s
    level = max(high, other) + offset
    a = p[0] + c * (level - high), p[1] + s * (level - high)
    b = q[0] + c * (level - other), q[1] + s * (level - other)
    line = atan2(b[1] - a[1], b[0] - a[0])
    turned = readable(line)
    ends, middle = _size_line(a, b, line, half, place, tight=tight)
    spot = away(middle, turned + pi / 2, size * CAP / 2 + 0.9)
    feet = ((away(point, normal, GAP_MM), away(end, normal, BEYOND_MM)) for point, end in ((p, a), (q, b)))
    return _LaidSize((a, b), line, (ends, *feet), spot, turned)


def _size_line(
    a: Point, b: Point, line: float, half: float, place: int, *, tight: bool
) -> tuple[tuple[Point, Point], Point]:
    """Ends of the dimension line from a to b, and where its text is: between them, or beyond b or a.

    `half` is half the text's width; with `tight` the arrows come from outside.
    """
    beyond = 5.0 if tight else 0.0
    start, end = away(a, line, -beyond), away(b, line, beyond)
    if place == 0:
        return (start, end), ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    middle = away(b if place > 0 else a, line, place * (half + (ARROW_MM + 1.5 if tight else 1.5)))
    far = away(middle, line, place * half)
    return ((start, far) if place > 0 else (far, end)), middle
