"""Outlines of sections: closed contours of lines and arcs, from which area, perimeter and width follow.

Float mm. x runs across the bend, y outward from the former. A contour has the metal on its left, so that
bores run clockwise. Begin at `rounded` and `profile_of`.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import acos, atan2, ceil, cos, floor, hypot, pi, radians, sin, sqrt

from shopquote.calc.bar.plastic import Profile, WidthStretch
from shopquote.calc.frozen import dataclass

Point = tuple[float, float]

# For hulls an arc is divided into chords of at most this angle (radians): at most 0.1 % of its radius short
# in oblique directions, exact along x and y.
CHORD = radians(5)
# Chords of an arc in drawings; enough at the scale of a part.
DRAWN_STEPS = 12


@dataclass(frozen=True, slots=True)
class Edge:
    """A straight edge, or an arc about `centre` that turns by `sweep` (radians, left positive)."""

    start: Point
    end: Point
    centre: Point | None = None
    radius: float = 0.0
    sweep: float = 0.0

    @property
    def from_angle(self) -> float:
        """Direction in radians from an arc's centre to its start."""
        assert self.centre is not None
        return atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])

    def points(self) -> list[Point]:
        """Its start, and for an arc points along it, for drawings."""
        if self.centre is None:
            return [self.start]
        (x, y), first = self.centre, self.from_angle
        angles = [first + self.sweep * step / DRAWN_STEPS for step in range(DRAWN_STEPS)]
        return [(x + self.radius * cos(angle), y + self.radius * sin(angle)) for angle in angles]


Contour = tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Outline:
    """One outer contour and its bores."""

    outer: Contour
    bores: tuple[Contour, ...] = ()

    @property
    def area(self) -> float:
        """Area of metal in mm2, by Green's theorem."""
        return abs(_area(self.outer)) - sum(abs(_area(bore)) for bore in self.bores)

    @property
    def perimeter(self) -> float:
        """Length of the outer contour in mm."""
        return sum(_length(edge) for edge in self.outer)

    def limits(self) -> tuple[float, float, float, float]:
        """Least and most x, least and most y."""
        points = [*_hull_points(self.outer)]
        across = [(x - r, x + r) for x, _, r in points]
        outward = [(y - r, y + r) for _, y, r in points]
        return (
            min(low for low, _ in across), max(high for _, high in across),
            min(low for low, _ in outward), max(high for _, high in outward),
        )  # fmt: skip

    def turned_over(self) -> "Outline":
        """The outline with x and y exchanged: the section bent about its other axis."""
        return Outline(_exchanged(self.outer), tuple(map(_exchanged, self.bores)))

    def upside_down(self) -> "Outline":
        """The outline mirrored in y and moved back to y = 0: the other face inside, as an angle's toes."""
        low, high = self.limits()[2:]
        return Outline(
            _flipped(self.outer, low + high), tuple(_flipped(bore, low + high) for bore in self.bores)
        )

    def hull(self, origin: Point) -> tuple[tuple[float, float, float], ...]:
        """Circles (x, y, radius) relative to `origin` whose convex hull is that of the outer contour."""
        return tuple((x - origin[0], y - origin[1], r) for x, y, r in _hull_points(self.outer))


def circle(radius: float, middle: Point) -> Contour:
    """A whole circle."""
    start = (middle[0] + radius, middle[1])
    return (Edge(start, start, middle, radius, 2 * pi),)


def rounded(corners: Sequence[Point], radii: Sequence[float]) -> Contour:
    """A polygon, metal on its left, with a fillet at each corner; radius 0 leaves it sharp."""
    count = len(corners)
    arcs = [
        _fillet(corners[at - 1], corners[at], corners[(at + 1) % count], radii[at]) for at in range(count)
    ]
    edges: list[Edge] = []
    for at, arc in enumerate(arcs):
        if arc.centre is not None:
            edges.append(arc)
        edges.append(Edge(arc.end, arcs[(at + 1) % count].start))
    return tuple(edge for edge in edges if edge.centre is not None or edge.start != edge.end)


def rectangle(width: float, depth: float, radius: float = 0.0, inset: float = 0.0) -> Contour:
    """A rectangle centred on x = 0 standing on y = 0, with corner radius; `inset` shrinks it on all sides."""
    side, top = width / 2 - inset, depth - inset
    return rounded(((-side, inset), (side, inset), (side, top), (-side, top)), (radius,) * 4)


def _fillet(before: Point, corner: Point, after: Point, radius: float) -> Edge:
    if radius <= 0:
        return Edge(corner, corner)
    back, on = _towards(corner, before), _towards(corner, after)
    between = acos(max(-1.0, min(1.0, back[0] * on[0] + back[1] * on[1])))
    taken = radius * cos(between / 2) / sin(between / 2)
    half = (back[0] + on[0], back[1] + on[1])
    away = radius / sin(between / 2) / hypot(*half)
    centre = (corner[0] + half[0] * away, corner[1] + half[1] * away)
    # With the metal on the left, a left turn is a convex corner.
    left = back[0] * on[1] - back[1] * on[0] < 0
    return Edge(
        (corner[0] + back[0] * taken, corner[1] + back[1] * taken),
        (corner[0] + on[0] * taken, corner[1] + on[1] * taken),
        centre, radius, (pi - between) * (1 if left else -1),
    )  # fmt: skip


def _towards(start: Point, end: Point) -> Point:
    length = hypot(end[0] - start[0], end[1] - start[1])
    return ((end[0] - start[0]) / length, (end[1] - start[1]) / length)


def _area(contour: Contour) -> float:
    total = 0.0
    for edge in contour:
        if edge.centre is None:
            total += (edge.start[0] * edge.end[1] - edge.end[0] * edge.start[1]) / 2
            continue
        first, (x, y), r = edge.from_angle, edge.centre, edge.radius
        last = first + edge.sweep
        total += (
            r * r * edge.sweep + r * x * (sin(last) - sin(first)) - r * y * (cos(last) - cos(first))
        ) / 2
    return total


def _length(edge: Edge) -> float:
    if edge.centre is None:
        return hypot(edge.end[0] - edge.start[0], edge.end[1] - edge.start[1])
    return edge.radius * abs(edge.sweep)


def _flipped(contour: Contour, twice_middle: float) -> Contour:
    """The contour mirrored in y and reversed, so that the metal stays on its left."""
    return tuple(
        Edge(
            (edge.end[0], twice_middle - edge.end[1]),
            (edge.start[0], twice_middle - edge.start[1]),
            edge.centre and (edge.centre[0], twice_middle - edge.centre[1]),
            edge.radius,
            edge.sweep,
        )
        for edge in reversed(contour)
    )


def _exchanged(contour: Contour) -> Contour:
    def over(point: Point) -> Point:
        return (point[1], point[0])

    return tuple(
        Edge(
            over(edge.end), over(edge.start), None if edge.centre is None else over(edge.centre),
            edge.radius, edge.sweep,
        )
        for edge in reversed(contour)
    )  # fmt: skip


def _hull_points(contour: Contour) -> list[tuple[float, float, float]]:
    """Circles whose convex hull is the contour's: a whole circle, or corners and points on arcs."""
    found = []
    for edge in contour:
        if edge.centre is not None and edge.sweep >= 2 * pi - 1e-9:
            return [(*edge.centre, edge.radius)]
        found.append((*edge.start, 0.0))
        if edge.centre is None or edge.sweep <= 0:
            continue
        first, last = edge.from_angle, edge.from_angle + edge.sweep
        steps = ceil(edge.sweep / CHORD)
        angles = {first + edge.sweep * step / steps for step in range(1, steps)}
        for angle in sorted(angles | set(_quarters(first, last))):
            x, y = edge.centre[0] + edge.radius * cos(angle), edge.centre[1] + edge.radius * sin(angle)
            found.append((x, y, 0.0))
    return found


def _quarters(first: float, last: float) -> list[float]:
    """Multiples of a quarter turn between two angles: where an arc is furthest in x or y."""
    return [step * pi / 2 for step in range(ceil(first / (pi / 2)), floor(last / (pi / 2)) + 1)]


@dataclass(frozen=True, slots=True)
class _Side:
    """A piece of contour that is monotonic in y, as x of y; `straight`: linear."""

    low: float
    high: float
    x_at: Callable[[float], float]
    straight: bool


def profile_of(outline: Outline, origin: Point, roll: float = 0.0) -> Profile:
    """The width of metal as a function of depth from `origin`, with the outline rolled by `roll` degrees."""
    sides = [
        side
        for contour in (outline.outer, *outline.bores)
        for edge in contour
        for side in _sides(edge, origin, radians(roll))
    ]
    levels = sorted({level for side in sides for level in (side.low, side.high)})
    size = levels[-1] - levels[0]
    distinct = [levels[0]]
    for level in levels[1:]:
        if level - distinct[-1] > 1e-9 * size:
            distinct.append(level)
    return tuple(_piece(sides, low, high) for low, high in pairwise(distinct))


def _piece(sides: Sequence[_Side], low: float, high: float) -> WidthStretch:
    middle = (low + high) / 2
    crossed = sorted(
        (side for side in sides if side.low < middle < side.high), key=lambda side: side.x_at(middle)
    )
    lefts = [side.x_at for side in crossed[::2]]
    rights = [side.x_at for side in crossed[1::2]]

    def width(y: float) -> float:
        if len(lefts) == 1:
            return rights[0](y) - lefts[0](y)  # most stretches are one strip of metal
        return sum(right(y) for right in rights) - sum(left(y) for left in lefts)

    if not all(side.straight for side in crossed):
        return WidthStretch(low, high, width)
    # Straight sides change evenly: two levels tell the width at all others.
    start, slope = width(low), (width(high) - width(low)) / (high - low)
    return WidthStretch(low, high, lambda y: start + slope * (y - low), straight=True)


def _sides(edge: Edge, origin: Point, roll: float) -> list[_Side]:
    if edge.centre is None:
        (x0, y0), (x1, y1) = _rolled(edge.start, origin, roll), _rolled(edge.end, origin, roll)
        if abs(y1 - y0) <= 1e-12 * (abs(x1 - x0) + abs(y1 - y0)):
            return []
        slope = (x1 - x0) / (y1 - y0)
        return [_Side(min(y0, y1), max(y0, y1), lambda y: x0 + slope * (y - y0), straight=True)]
    first = edge.from_angle + roll
    turns = sorted({first, first + edge.sweep, *_flat_points(first, first + edge.sweep)})
    middle = _rolled(edge.centre, origin, roll)
    return [side for start, end in pairwise(turns) if (side := _arc_side(middle, edge.radius, start, end))]


def _flat_points(first: float, last: float) -> list[float]:
    """Angles between two at which a circle's tangent is horizontal: odd quarter turns."""
    low, high = sorted((first, last))
    start = ceil((low - pi / 2) / pi)
    found = []
    while (angle := pi / 2 + start * pi) < high:
        if angle > low:
            found.append(angle)
        start += 1
    return found


def _arc_side(middle: Point, radius: float, start: float, end: float) -> _Side | None:
    low, high = sorted((middle[1] + radius * sin(start), middle[1] + radius * sin(end)))
    if high - low <= 1e-12 * radius:
        return None
    sign = 1.0 if cos((start + end) / 2) > 0 else -1.0

    def x_at(y: float) -> float:
        return middle[0] + sign * sqrt(max(0.0, radius * radius - (y - middle[1]) ** 2))

    return _Side(low, high, x_at, straight=False)


def _rolled(point: Point, origin: Point, roll: float) -> Point:
    x, y = point[0] - origin[0], point[1] - origin[1]
    if roll == 0:
        return (x, y)
    return (x * cos(roll) - y * sin(roll), x * sin(roll) + y * cos(roll))


def corner_radii(rule: str, wall: float) -> tuple[float, float]:
    """Outer and inner corner radius in mm of a hollow section, by its product standard.

    Sources: EN 10219-2 (outer 2T to 6 mm, 2.5T to 10, 3T above; inner the outer less T) by a mill's table;
    EN 10210-2 (1.5T, 1T) by the masses and moduli of a public section library; A500 (2T, T), the Canadian
    institute of steel construction's handbook as told on its page on corner radii.
    """
    if rule != "EN 10219":
        outer, inner = {"sharp": (0.0, 0.0), "EN 10210": (1.5, 1.0), "A500": (2.0, 1.0)}[rule]
        return outer * wall, inner * wall
    outer = (2.0 if wall <= 6 else 2.5 if wall <= 10 else 3.0) * wall
    return outer, outer - wall


# Root radius of equal angles by their leg, and of unequal ones by both legs, mm: EN 10056-1 by the table of a
# public section library, which quotes a mill's catalogue; equal ones by that of another too.
_ROOTS = (
    (20, 3.5), (25, 3.5), (30, 5), (35, 5), (40, 6), (45, 7), (50, 7), (60, 8), (65, 9), (70, 9), (75, 9),
    (80, 10), (90, 11), (100, 12), (120, 13), (130, 14), (140, 15), (150, 16), (160, 17), (180, 18),
    (200, 18),
)  # fmt: skip
_UNEQUAL_ROOTS: dict[tuple[float, float], float] = {
    (30, 20): 4, (40, 20): 4, (40, 25): 4, (45, 30): 4.5, (50, 30): 5, (60, 30): 5, (60, 40): 6, (65, 50): 6,
    (70, 50): 7, (75, 50): 7, (80, 40): 7, (80, 60): 8, (100, 50): 8, (100, 65): 10, (100, 75): 10,
    (120, 80): 11, (125, 75): 11, (135, 65): 11, (150, 75): 12, (150, 90): 12, (150, 100): 12,
    (200, 100): 15, (200, 150): 15,
}  # fmt: skip


def root_radius(legs: tuple[float, float]) -> float:
    """Root radius of a hot-rolled angle, mm; of a size that is not in the standard that of the nearest one
    by its mean leg, equal or unequal as it is itself. The toes have half of it.

    >>> root_radius((50, 50)), root_radius((40, 60)), root_radius((70, 45))
    (7, 6, 6)
    """
    long, short = max(legs), min(legs)
    if (listed := _UNEQUAL_ROOTS.get((long, short))) is not None:
        return listed
    mean = (long + short) / 2
    roots = _ROOTS if long == short else tuple((sum(pair) / 2, root) for pair, root in _UNEQUAL_ROOTS.items())
    if mean < roots[0][0]:
        # A smaller angle keeps the proportion of the smallest in the standard.
        return roots[0][1] / roots[0][0] * mean
    return min(roots, key=lambda row: (abs(row[0] - mean), row[0]))[1]
