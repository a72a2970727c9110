"""Collisions during one bend, between the held and the swinging side of the bar, former and bench.

Coordinates are the bender's, which bends to the left: x along the bar towards the swinging side, y to the
inside of the bend, z up. Float mm. Begin at `sides_of`, then `what_is_hit`.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import ceil, cos, radians, sin
from typing import Literal

from shopquote.calc.bar.benders import Bender
from shopquote.calc.bar.centreline import Frame, Vector, dot
from shopquote.calc.bar.collide import Segment, segment_distance
from shopquote.calc.bar.develop import Run
from shopquote.calc.frozen import dataclass

End = Literal["start", "finish"]

SWEEP_STEP = 15.0  # degrees between the positions at which a swinging leg is checked
# A coil is pulled through several turns; after so many checked positions (one turn) they repeat.
MOST_LOOKS = 24
NEAR = 0.98  # ratio of the distance of two legs to the bar's depth below which they collide


@dataclass(frozen=True, slots=True)
class Step:
    """One curve to be made: index of its run, its bender, and the angle to pull to in degrees."""

    run: int
    bender: Bender
    former_mm: float
    pull_to: float
    depth_mm: float
    how: str = "former"
    torsion: float = 0.0

    @property
    def works_by(self) -> str:
        """How the bender works for this curve: "rolls" if rolled, else the bender's own way."""
        return "rolls" if self.how == "rolls" else "hand" if self.how == "by hand" else self.bender.works_by


Line = list[Vector]


def sides_of(
    runs: Sequence[Run], step: Step, frames: Sequence[Frame], points: Sequence[Sequence[Vector]], end: End
) -> tuple[list[Line], list[Line]]:
    """Points of the held and the swinging side, run by run outward, in the bender's coordinates.

    Coordinates of the held side are from where the bend begins, of the swinging side from where it ends.
    """
    at = step.run
    frame = frames[at]
    finish = points[at][-1]
    sense = 1.0 if runs[at].angle > 0 else -1.0
    before = [list(reversed(line)) for line in reversed(points[:at])]
    after = [list(line) for line in points[at + 1 :]]
    ahead = _axes(frame, sense, forward=True)
    back = _axes(frame, sense, forward=False)
    if end == "start":
        return _seen(before, frame.point, ahead), _seen(after, finish, ahead)
    return _seen(after, finish, back), _seen(before, frame.point, back)


Axes = tuple[Vector, Vector, Vector]


def _axes(frame: Frame, sense: float, *, forward: bool) -> Axes:
    way = 1.0 if forward else -1.0
    along = _scaled(frame.along, way)
    inward = _scaled(frame.inward, sense)
    up = _scaled(frame.across, sense * way)
    return along, inward, up


def _scaled(vector: Vector, factor: float) -> Vector:
    return (vector[0] * factor, vector[1] * factor, vector[2] * factor)


def _seen(lines: Sequence[Line], origin: Vector, axes: Axes) -> list[Line]:
    def seen(point: Vector) -> Vector:
        away = (point[0] - origin[0], point[1] - origin[1], point[2] - origin[2])
        return (dot(away, axes[0]), dot(away, axes[1]), dot(away, axes[2]))

    joined: list[Line] = []
    for line in lines:
        if len(line) == 2 and joined and len(joined[-1]) == 2:
            # Consecutive straights are joined, bends not yet made among them, to save checks.
            joined[-1] = [joined[-1][0], seen(line[1])]
        else:
            joined.append([seen(point) for point in line])
    return joined


def what_is_hit(
    step: Step, run: Run, held: Sequence[Line], swung: Sequence[Line], up: float, laps: bool
) -> str:
    """What is hit while the bend is pulled, in words; "" for nothing."""
    radius = step.former_mm + step.depth_mm / 2
    still = _pieces(held, lambda point: point)
    reason = _machine(step, _away(held, still), radius, up)
    if reason:
        return f"cannot be set: a leg already bent meets {reason}"
    bent_legs = len(held) > 1 or len(swung) > 1
    if not bent_legs and abs(run.angle) <= 180:
        return ""
    total = abs(step.pull_to)
    wound = (run.centre_mm + run.centre_end_mm) / 2
    count = min(MOST_LOOKS, max(1, ceil(total / SWEEP_STEP)))
    for number in range(1, count + 1):
        moved = _pieces(swung, _swing(wound, total * number / count, total, run.flat_mm))
        reason = _machine(step, _away(swung, moved), radius, up)
        if reason:
            return f"cannot be pulled: the swinging leg meets {reason}"
        if not laps and _legs_meet(still, moved, step.depth_mm):
            return "cannot be pulled: the swinging leg meets the held one"
    return ""


def _swing(radius: float, angle: float, total: float, flat_mm: float) -> Callable[[Vector], Vector]:
    """The motion of points of the swinging side when the bend is pulled to an angle.

    The bar winds round the former; the part not yet wound is straight.
    """
    c, s = cos(radians(angle)), sin(radians(angle))
    rest = flat_mm * (1 - angle / total)
    x0, y0 = radius * s, radius * (1 - c)

    def moved(point: Vector) -> Vector:
        x, y = point[0] + rest, point[1]
        return (x0 + x * c - y * s, y0 + x * s + y * c, point[2])

    return moved


def _pieces(lines: Sequence[Line], moved: Callable[[Vector], Vector]) -> list[Segment]:
    found = []
    for number, line in enumerate(lines):
        points = [moved(point) for point in line]
        for a, b in pairwise(points):
            step = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
            length = dot(step, step) ** 0.5
            if length > 1e-9:
                found.append(Segment(a, b, _scaled(step, 1 / length), 0.0, length, number))
    return found


def _away(lines: Sequence[Line], pieces: Sequence[Segment]) -> list[Segment]:
    """Pieces beyond the straight in which the bend itself lies."""
    first_bent = next((number for number, line in enumerate(lines) if len(line) > 2), len(lines))
    return [piece for piece in pieces if piece.run >= first_bent]


def _machine(step: Step, pieces: Sequence[Segment], radius: float, up: float) -> str:
    """What of the former or the bench the pieces hit, in words; "" for nothing."""
    room = max(step.former_mm, step.bender.clear_radius.mm_float) + step.depth_mm / 2 * NEAR
    bench = step.bender.bench_radius.mm_float
    for piece in pieces:
        away, height = _from_centre(piece, radius)
        if away < room and abs(height) < step.depth_mm:
            return "the former"
        if bench and away < bench and height * up < -step.depth_mm:
            return "the bench"
    return ""


def _from_centre(piece: Segment, radius: float) -> tuple[float, float]:
    """Least distance in mm of a piece from the former's axis, and its height there."""
    x, y = piece.start[0], piece.start[1] - radius
    dx, dy = piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]
    square = dx * dx + dy * dy
    share = 0.0 if square < 1e-18 else min(1.0, max(0.0, -(x * dx + y * dy) / square))
    away = ((x + share * dx) ** 2 + (y + share * dy) ** 2) ** 0.5
    return away, piece.start[2] + share * (piece.end[2] - piece.start[2])


def _legs_meet(still: Sequence[Segment], moved: Sequence[Segment], depth: float) -> bool:
    if not still:
        return False
    ends = [point for piece in still for point in (piece.start, piece.end)]
    low = [min(point[axis] for point in ends) - depth for axis in range(3)]
    high = [max(point[axis] for point in ends) + depth for axis in range(3)]
    # The straights on both sides of the bend (run 0 of each) always touch.
    return any(
        segment_distance(other, piece)[0] < depth * NEAR
        for piece in moved
        if _reaches(piece, low, high)
        for other in still
        if piece.run or other.run
    )


def _reaches(piece: Segment, low: Sequence[float], high: Sequence[float]) -> bool:
    """Whether a piece may intersect a box, by its bounding box."""
    a, b = piece.start, piece.end
    return all(
        max(a[axis], b[axis]) >= low[axis] and min(a[axis], b[axis]) <= high[axis] for axis in range(3)
    )
