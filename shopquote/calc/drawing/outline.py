"""Layout of a plane part: centre line and faces as exact lines and arcs. Begin at `lay_out`.

Millimetres of the part. x is along the longest leg, so that the part lies as on a bench.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import cos, hypot, pi, radians, sin, tan
from typing import Literal

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.plane_curves import curve_of
from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.pencil import away
from shopquote.calc.frozen import dataclass

# Tolerance in degrees within which the bends of a part lie in one plane.
FLAT_DEG = 1e-6
# Sweep in degrees of the arcs by which a curve of changing radius is drawn; they deviate by some nanometres.
ARC_STEP = 3.0

Side = Literal[-1, 1]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One run of the part in its plane.

    `points` are (x, y, heading in radians) along its centre line: both ends of a straight; many of a spiral,
    where every second ends an arc. An arc also has `centre` and the signed `angle` in degrees. `broken`:
    drawn shorter than it is. `left_mm`: distance of the left face from the centre line, None where that is
    half the depth.
    """

    run: Run
    points: tuple[tuple[float, float, float], ...]
    angle: float = 0.0
    centre: Point | None = None
    broken: bool = False
    left_mm: float | None = None

    @property
    def is_spiral(self) -> bool:
        """Whether it is a curve of changing radius."""
        return len(self.points) > 2

    @property
    def start(self) -> tuple[float, float, float]:
        """Where it begins: x, y, and heading in radians."""
        return self.points[0]

    @property
    def end(self) -> tuple[float, float, float]:
        """Where it ends: x, y, and heading in radians."""
        return self.points[-1]


def is_flat(runs: Sequence[Run]) -> bool:
    """Whether all bends of a part lie in one plane: no coils, and turns by multiples of 180 degrees only."""
    seen_curve = False
    for run in runs:
        if run.kind == "helix":
            return False
        if seen_curve and abs((run.turn + 90) % 180 - 90) > FLAT_DEG:
            return False
        seen_curve = seen_curve or run.is_curve
    return True


def lay_out(runs: Sequence[Run], *, broken_at: float | None = None) -> tuple[Stretch, ...]:
    """The part with its longest straight along x; straights over `broken_at` mm are shortened to that."""
    straights = [(run.true_mm, index) for index, run in enumerate(runs) if not run.is_curve]
    laid = tuple(_walk(runs, 0.0, broken_at))
    if straights and len(runs) > 1:
        longest = max(straights, key=lambda found: (found[0], -found[1]))[1]
        laid = tuple(_walk(runs, -laid[longest].start[2], broken_at))
    return tuple(_with_faces(laid))


def _with_faces(laid: Sequence[Stretch]) -> Iterator[Stretch]:
    """The stretches with `left_mm`; a straight's faces continue those of the curve next to it."""
    curves = [(at, stretch) for at, stretch in enumerate(laid) if stretch.run.bending is not None]
    for at, stretch in enumerate(laid):
        if curves:
            _, near = min(curves, key=lambda found: abs(found[0] - at))
            stretch = replace(stretch, left_mm=_left_of(near))
        yield stretch


def _left_of(curve: Stretch) -> float:
    assert curve.run.bending is not None
    lie = curve.run.bending
    return lie.centroid_mm if curve.angle >= 0 else lie.depth_mm - lie.centroid_mm


def _walk(runs: Sequence[Run], heading: float, broken_at: float | None) -> Iterator[Stretch]:
    x, y, sense, seen_curve = 0.0, 0.0, 1.0, False
    for run in runs:
        # After a half turn left is right; a turn before the first curve only rolls the section.
        if seen_curve and abs((run.turn + 90) % 360 - 90) > 90:
            sense = -sense
        seen_curve = seen_curve or run.is_curve
        if run.kind in ("scroll", "ellipse", "volute"):
            stretch = _spiral(run, (x, y, heading), sense)
        elif run.is_curve:
            stretch = _curve(run, (x, y, heading), sense)
        else:
            short = broken_at is not None and run.kind == "straight" and run.true_mm > broken_at
            length = broken_at if short and broken_at is not None else run.true_mm
            end = away((x, y), heading, length)
            stretch = Stretch(run, ((x, y, heading), (*end, heading)), broken=short)
        yield stretch
        x, y, heading = stretch.end


def _curve(run: Run, start: tuple[float, float, float], sense: float) -> Stretch:
    x, y, heading = start
    angle = run.angle * sense
    side = pi / 2 if angle > 0 else -pi / 2
    centre = away((x, y), heading + side, run.centre_mm)
    turned = heading + radians(angle)
    end = away(centre, turned - side, run.centre_mm)
    return Stretch(run, (start, (*end, turned)), angle=angle, centre=centre)


def _spiral(run: Run, start: tuple[float, float, float], sense: float) -> Stretch:
    """A curve of changing radius by its own formula, tangent to the previous stretch."""
    x, y, heading = start
    curve, way = curve_of(run), (1.0 if run.angle > 0 else -1.0) * sense
    steps = 2 * max(1, int(abs(run.angle) / ARC_STEP))
    points = []
    for step in range(steps + 1):
        t = radians(abs(run.angle)) * step / steps
        ahead, deep = curve.point(t)
        c, s = cos(heading), sin(heading)
        points.append(
            (x + ahead * c - way * deep * s, y + ahead * s + way * deep * c, heading + way * curve.heading(t))
        )
    return Stretch(run, tuple(points), angle=run.angle * sense)


def faces_of(stretch: Stretch, depth: float) -> tuple[float, float]:
    """Distances of the left and the right face from the centre line, in mm of the part."""
    left = depth / 2 if stretch.left_mm is None else stretch.left_mm
    return left, depth - left


def outer_face(stretch: Stretch, depth: float) -> float:
    """Distance in mm from the centre line to the outer face of a curve; of a straight to the right face."""
    left, right = faces_of(stretch, depth)
    return right if stretch.angle >= 0 else left


def cut_back(left: Point, right: Point, heading: float, mitre: float, height: float) -> tuple[Point, Point]:
    """Both corners of a mitred end, of which the right one is cut back (for a negative mitre the left one).

    `heading` in radians, `mitre` in degrees off square, `height` of the bar as it is drawn, mm.
    """
    back = height * tan(radians(abs(mitre)))
    if mitre >= 0:
        return left, away(right, heading, back)
    return away(left, heading, back), right


def moved(stretches: Sequence[Stretch], factor: float) -> tuple[Stretch, ...]:
    """Stretches scaled by a factor; their runs keep the part's own sizes."""
    return tuple(
        replace(
            s,
            points=tuple((x * factor, y * factor, h) for x, y, h in s.points),
            centre=(s.centre[0] * factor, s.centre[1] * factor) if s.centre else None,
        )
        for s in stretches
    )


def length_of(stretch: Stretch) -> float:
    """Length in mm of a straight as drawn."""
    (x1, y1, _), (x2, y2, _) = stretch.start, stretch.end
    return hypot(x2 - x1, y2 - y1)
