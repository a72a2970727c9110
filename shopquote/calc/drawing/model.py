"""The elements of a drawing: lines, arcs and texts in millimetres on paper, y up.

A drawing has its scale, by which writers of real sizes (DXF) divide. Pens are those of ISO 128-2 (two widths,
about 1 to 2); layers are named so that readers can hide them.
"""

from collections.abc import Iterator
from math import atan2, cos, radians, sin
from typing import Literal

from shopquote.calc.frozen import dataclass

Point = tuple[float, float]
Pen = Literal["thick", "thin", "chain", "dashed", "none"]
Fill = Literal["none", "black", "white", "grey"]
# Arrangement of views (ISO 5456-2), which follows from the shop's paper size.
Projection = Literal["first angle", "third angle"]
Layer = Literal["part", "centre", "sizes", "marks", "holes", "notes"]

# Two widths, as ISO 128 asks of a drawing, here about 2 to 1.
THICK_MM, THIN_MM = 0.6, 0.25
SAME_PLACE_MM = 0.05  # points closer than this on paper count as one
PEN_MM: dict[Pen, float] = {
    "thick": THICK_MM, "thin": THIN_MM, "chain": 0.18, "dashed": THIN_MM, "none": 0.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """Straight strokes through points, or an area where closed and filled.

    A `curve` consists of arcs through points 1, 2, 3, then 3, 4, 5 and so on.
    """

    points: tuple[Point, ...]
    pen: Pen = "thin"
    layer: Layer = "part"
    closed: bool = False
    fill: Fill = "none"
    curve: bool = False

    def arcs(self) -> Iterator[tuple[Point, Point, float]]:
        """Both ends of each arc of a curve with its sweep in radians, positive to the left."""
        for (ax, ay), (bx, by), (cx, cy) in zip(
            self.points[0:-2:2], self.points[1:-1:2], self.points[2::2], strict=True
        ):
            # The angle at the circle is half of that at its centre (Euclid III.20).
            cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
            yield (ax, ay), (cx, cy), 2 * atan2(cross, (bx - ax) * (cx - bx) + (by - ay) * (cy - by))


@dataclass(frozen=True, slots=True)
class DrawnArc:
    """Part of a circle from `start` degrees over a signed `sweep`; 360 is a whole circle."""

    centre: Point
    radius: float
    start: float
    sweep: float
    pen: Pen = "thin"
    layer: Layer = "part"

    def at(self, degrees: float) -> Point:
        """The point at an angle from `start`, in degrees with the sweep's sign."""
        angle = radians(self.start + degrees)
        return self.centre[0] + self.radius * cos(angle), self.centre[1] + self.radius * sin(angle)


@dataclass(frozen=True, slots=True)
class DrawnText:
    """A text centred at a point; `angle` in degrees, `size` the height of the type in mm."""

    text: str
    at: Point
    size: float
    angle: float = 0.0
    bold: bool = False
    layer: Layer = "notes"


Item = Line | DrawnArc | DrawnText


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing: its items, its scale (paper over part), and its bounding box."""

    items: tuple[Item, ...]
    scale: float
    low: Point
    high: Point

    @property
    def width(self) -> float:
        """Width of the bounding box in mm."""
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        """Height of the bounding box in mm."""
        return self.high[1] - self.low[1]

    def texts(self) -> Iterator[DrawnText]:
        """Its texts, in the order in which they were drawn."""
        return (item for item in self.items if isinstance(item, DrawnText))
