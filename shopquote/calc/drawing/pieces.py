"""The pieces of a drawn line: strokes, arcs, and recognised curves of changing radius.

Millimetres, headings in radians; a left turn is positive. Begin at `ChainPiece`.
"""

from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, radians, sin
from typing import Literal

from shopquote.calc.drawing.model import Point
from shopquote.calc.frozen import dataclass

CurveKind = Literal["scroll", "volute", "closed"]


@dataclass(frozen=True, slots=True)
class DrawnCurve:
    """A curve of changing radius: radii at its start and finish, turns, headings at both, points on it.

    Of a `closed` one only the points are known.
    """

    kind: CurveKind
    points: tuple[Point, ...]
    start: float = 0.0
    finish: float = 0.0
    turns: float = 0.0
    headings: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class ChainPiece:
    """A line, an arc with its centre and signed sweep in degrees, or a curve, from p to q."""

    p: Point
    q: Point
    centre: Point | None = None
    sweep: float = 0.0
    curve: DrawnCurve | None = None

    def turned(self) -> "ChainPiece":
        """The same line or arc in the opposite direction."""
        return ChainPiece(self.q, self.p, self.centre, -self.sweep)

    @property
    def is_straight(self) -> bool:
        """Whether it is a line."""
        return self.centre is None and self.curve is None

    @property
    def length(self) -> float:
        """Length of a line or arc in mm."""
        return apart(self.p, self.q)

    @property
    def radius(self) -> float:
        """Radius of an arc in mm; 0 for a line."""
        return apart(self.p, self.centre) if self.centre else 0.0

    def heading(self, at_end: bool = False) -> float:
        """Direction in radians at its start, or at its end."""
        if self.curve is not None:
            return self.curve.headings[1 if at_end else 0]
        if self.centre is None:
            return atan2(self.q[1] - self.p[1], self.q[0] - self.p[0])
        x, y = self.q if at_end else self.p
        side = pi / 2 if self.sweep > 0 else -pi / 2
        return atan2(y - self.centre[1], x - self.centre[0]) + side

    def turn_to(self, after: "ChainPiece") -> float:
        """Change of direction in degrees, -180 to 180, from its end to the start of the next piece."""
        return (degrees(after.heading() - self.heading(at_end=True)) + 180) % 360 - 180

    def on_arc(self, share: float) -> Point:
        """The point of an arc at a share of its sweep, 0 to 1."""
        assert self.centre is not None
        x, y = self.centre
        angle = atan2(self.p[1] - y, self.p[0] - x) + radians(self.sweep) * share
        return x + self.radius * cos(angle), y + self.radius * sin(angle)

    def strokes(self) -> list[tuple[Point, Point]]:
        """The piece as straight strokes, to find crossings."""
        if self.curve is not None:
            return list(pairwise(self.curve.points))
        if self.centre is None:
            return [(self.p, self.q)]
        steps = max(2, int(abs(self.sweep) / 10))
        return list(pairwise(self.on_arc(step / steps) for step in range(steps + 1)))


def apart(a: Point, b: Point) -> float:
    """Distance of two points in mm."""
    return hypot(a[0] - b[0], a[1] - b[1])
