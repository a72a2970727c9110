"""Bending moment of a section, elastic to fully plastic.

Millimetres, N mm and MPa; stress is elastic-perfectly-plastic at the flow stress
given. Closed forms for round, square, flat, tube and box; a general numeric section
for the rest and to check the closed forms by. Begin at `bend_section`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import asin, cos, pi, radians, sin, sqrt, tan

from shopquote.calc.bar.sections import Section
from shopquote.calc.job import BendAxis

# How near to a whole quarter (or sixth) of a turn a section counts as lying square, degrees.
SQUARE_ON = 1e-6


@dataclass(frozen=True, slots=True)
class Piece:
    """Width of a section as a function of the distance from its centroid, over one smooth stretch.

    Distances in mm, positive towards the outside of the bend. `straight`: the width changes evenly,
    so that few points integrate it exactly.
    """

    low: float
    high: float
    width: Callable[[float], float]
    straight: bool = False


Profile = tuple[Piece, ...]


@dataclass(frozen=True)
class BendSection:
    """A section as it lies in a bend, with all that bending needs of it.

    depth_mm in the plane of the bend, width_mm across it; centroid_mm from the inner
    face; inertia mm4; plastic and elastic section moduli mm3. `square_on` is false where the
    section is rolled so that none of its faces lies on the former.
    """

    section: Section
    axis: BendAxis
    roll: float
    depth_mm: float
    width_mm: float
    centroid_mm: float
    inertia_mm4: float
    plastic_mm3: float
    elastic_mm3: float
    square_on: bool

    @property
    def outer_mm(self) -> float:
        """Outer fibre's distance from the centroid, mm."""
        return self.depth_mm - self.centroid_mm

    def moment_nmm(self, stress_mpa: float, e_mpa: float, radius_mm: float) -> float:
        """Moment that holds the bar at a centre-line radius, N mm.

        Fibres nearer to the neutral axis than c = stress x radius / E are elastic.
        """
        return stress_mpa * self.unit_moment_mm3(stress_mpa * radius_mm / e_mpa)

    def unit_moment_mm3(self, elastic_mm: float) -> float:
        """Moment over flow stress, mm3, with an elastic core of half depth `elastic_mm`.

        Goes from the plastic modulus at 0 to inertia / elastic_mm once the core fills the section.
        """
        if not self.square_on or self.section.kind in ("hex", "angle"):
            return numeric_moment(section_profile(self.section, self.axis, self.roll), elastic_mm)
        size = self.section.sizes_mm
        if self.section.kind == "round":
            return round_moment(size[0] / 2, elastic_mm)
        if self.section.kind == "tube":
            bore = size[0] / 2 - size[1]
            return round_moment(size[0] / 2, elastic_mm) - round_moment(bore, elastic_mm)
        whole = rectangle_moment(self.width_mm, self.depth_mm / 2, elastic_mm)
        if self.section.kind == "box":
            wall = 2 * size[2]
            return whole - rectangle_moment(self.width_mm - wall, (self.depth_mm - wall) / 2, elastic_mm)
        return whole


def rectangle_moment(width: float, half: float, elastic: float) -> float:
    """Moment over flow stress of a rectangle, mm3: b (h^2 - c^2 / 3), h half the depth.

    Source: elastic-perfectly-plastic bending, textbook mechanics.
    """
    if elastic >= half:
        return 2 / 3 * width * half**3 / elastic
    return width * (half * half - elastic * elastic / 3)


def round_moment(radius: float, elastic: float) -> float:
    """Moment over flow stress of a round, mm3; limits d^3/6 and pi d^3/32.

    Source: integral of the same stresses over a circle, derived.
    """
    if elastic >= radius:
        return pi / 4 * radius**4 / elastic
    if elastic < 1e-4 * radius:
        # The core's share of the moment is below 1e-8 here and its formula loses digits.
        return 4 / 3 * radius**3 * (1 - 0.5 * (elastic / radius) ** 2)
    rest = radius * radius - elastic * elastic
    core = radius**4 / 4 * asin(elastic / radius)
    core -= elastic * sqrt(rest) * (radius * radius - 2 * elastic * elastic) / 4
    return 2 * (core / elastic + 2 / 3 * rest * sqrt(rest))


def numeric_moment(profile: Profile, elastic: float) -> float:
    """Moment over flow stress of any section, mm3, by quadrature; its axis by balance of forces."""
    axis = _neutral_axis(profile, elastic)

    def stress(y: float) -> float:
        if elastic <= 0:
            return 1.0 if y > axis else -1.0
        return max(-1.0, min(1.0, (y - axis) / elastic))

    cuts = (axis - elastic, axis, axis + elastic)
    return _integrate(profile, lambda y: stress(y) * y, cuts)


def _neutral_axis(profile: Profile, elastic: float) -> float:
    low, high = profile[0].low, profile[-1].high
    if _is_symmetric(profile):
        return 0.0

    def force(axis: float) -> float:
        def stress(y: float) -> float:
            if elastic <= 0:
                return 1.0 if y > axis else -1.0
            return max(-1.0, min(1.0, (y - axis) / elastic))

        return _integrate(profile, stress, (axis - elastic, axis, axis + elastic))

    at_low, at_high = force(low), force(high)
    middle = low
    for _ in range(60):
        # False position; the end that stays is halved so that both ends close in.
        middle = low + (high - low) * at_low / (at_low - at_high)
        value = force(middle)
        if abs(value) <= 1e-13 * (abs(at_low) + abs(at_high)) or high - low <= 1e-13 * (abs(low) + abs(high)):
            break
        if value > 0:
            low, at_low, at_high = middle, value, at_high / 2
        else:
            high, at_high, at_low = middle, value, at_low / 2
    return middle


def _is_symmetric(profile: Profile) -> bool:
    low, high = profile[0].low, profile[-1].high
    if abs(low + high) > 1e-9 * (high - low):
        return False
    return all(
        abs(_width_at(profile, share * high) - _width_at(profile, -share * high)) <= 1e-9 * (high - low)
        for share in (0.137, 0.391, 0.613, 0.877, 0.977)
    )


def _width_at(profile: Profile, y: float) -> float:
    return sum(piece.width(y) for piece in profile if piece.low <= y < piece.high)


# Nodes on -1 to 1 and weights of three points: exact for the cubes that straight pieces give.
GAUSS_3 = ((-sqrt(0.6), 5 / 9), (0.0, 8 / 9), (sqrt(0.6), 5 / 9))


@lru_cache(maxsize=1)
def _gauss() -> tuple[tuple[float, float], ...]:
    """Nodes and weights of Gauss-Legendre quadrature on 0 to 1, 40 points."""
    count = 40
    nodes = []
    for index in range(count):
        x = cos(pi * (index + 0.75) / (count + 0.5))
        for _ in range(20):
            before, value = 1.0, x
            for order in range(2, count + 1):
                before, value = value, ((2 * order - 1) * x * value - (order - 1) * before) / order
            slope = count * (x * value - before) / (x * x - 1)
            step = value / slope
            x -= step
            if abs(step) < 1e-15:
                break
        nodes.append(((1 + x) / 2, 1 / ((1 - x * x) * slope * slope)))
    return tuple(nodes)


def _integrate(profile: Profile, weight: Callable[[float], float], cuts: Sequence[float] = ()) -> float:
    """Integral of weight(y) x width(y) over a section.

    y runs as a cosine over each stretch, which takes the root out of a round's ends.
    """
    total = 0.0
    for piece in profile:
        inner = sorted(cut for cut in cuts if piece.low < cut < piece.high)
        edges = [piece.low, *inner, piece.high]
        for low, high in pairwise(edges):
            middle, half = (low + high) / 2, (high - low) / 2
            if piece.straight:
                for share, gain in GAUSS_3:
                    y = middle + half * share
                    total += half * gain * weight(y) * piece.width(y)
                continue
            part = 0.0
            for share, gain in _gauss():
                angle = pi * share
                y = middle - half * cos(angle)
                part += gain * weight(y) * piece.width(y) * sin(angle)
            total += part * pi * half
    return total


@lru_cache(maxsize=512)
def section_profile(section: Section, axis: BendAxis, roll: float = 0.0) -> Profile:
    """Width over depth of a section as it lies in the bend, measured from its centroid."""
    size = section.sizes_mm
    if section.kind in ("round", "tube"):
        profile = _circle(size[0] / 2)
        if section.kind == "tube":
            return _less(profile, _circle(size[0] / 2 - size[1]))
        return profile
    outer = section_corners(section, axis)
    profile = _polygon_profile(outer, roll)
    if section.kind == "box":
        wall = size[2]
        depth, width = section.depth_mm(axis) / 2 - wall, section.width_mm(axis) / 2 - wall
        bore = ((-width, -depth), (width, -depth), (width, depth), (-width, depth))
        return _less(profile, _polygon_profile(bore, roll))
    return profile


def _circle(radius: float) -> Profile:
    return (Piece(-radius, radius, lambda y: 2 * sqrt(max(0.0, radius * radius - y * y))),)


def _less(outer: Profile, inner: Profile) -> Profile:
    """A profile with a bore taken out, cut where either changes."""
    edges = sorted({edge for piece in (*outer, *inner) for edge in (piece.low, piece.high)})
    pieces = []
    for low, high in pairwise(edges):
        middle = (low + high) / 2
        out = next(piece.width for piece in outer if piece.low <= middle <= piece.high)
        bore = next((piece.width for piece in inner if piece.low <= middle <= piece.high), None)
        straight = all(piece.straight for piece in (*outer, *inner))
        pieces.append(Piece(low, high, out if bore is None else _difference(out, bore), straight))
    return tuple(pieces)


def _difference(outer: Callable[[float], float], inner: Callable[[float], float]) -> Callable[[float], float]:
    return lambda y: outer(y) - inner(y)


Point = tuple[float, float]


@lru_cache(maxsize=512)
def section_corners(section: Section, axis: BendAxis) -> tuple[Point, ...]:
    """Corners (across, outward) about the centroid; the inner face lies at the bottom."""
    depth, width = section.depth_mm(axis), section.width_mm(axis)
    if section.kind == "hex":
        # Across flats in the plane of the bend.
        radius = section.sizes_mm[0] / sqrt(3)
        return tuple((radius * cos(radians(60 * k)), radius * sin(radians(60 * k))) for k in range(6))
    if section.kind == "angle":
        # Heel inside: one leg lies on the former, the other stands outward.
        wall, base = section.sizes_mm[2], section.centroid_mm(axis)
        side = _angle_side(section, axis)
        corners = ((0.0, 0.0), (width, 0.0), (width, wall), (wall, wall), (wall, depth), (0.0, depth))
        return tuple((x - side, y - base) for x, y in corners)
    return (
        (-width / 2, -depth / 2), (width / 2, -depth / 2), (width / 2, depth / 2), (-width / 2, depth / 2)
    )  # fmt: skip


def _angle_side(section: Section, axis: BendAxis) -> float:
    depth, width, wall = section.depth_mm(axis), section.width_mm(axis), section.sizes_mm[2]
    lying, standing = width * wall, (depth - wall) * wall
    return (lying * width / 2 + standing * wall / 2) / (lying + standing)


def _polygon_profile(corners: Sequence[Point], roll: float) -> Profile:
    turned = [_rolled(point, roll) for point in corners]
    levels = sorted(y for _, y in turned)
    size = levels[-1] - levels[0]
    distinct = [levels[0]]
    for level in levels[1:]:
        if level - distinct[-1] > 1e-9 * size:
            distinct.append(level)
    pieces = []
    for low, high in pairwise(distinct):
        inset = (high - low) * 1e-6
        at_low, at_high = _span(turned, low + inset), _span(turned, high - inset)
        slope = (at_high - at_low) / (high - low - 2 * inset)
        pieces.append(Piece(low, high, _line(at_low, slope, low + inset), straight=True))
    return tuple(pieces)


def _line(start: float, slope: float, origin: float) -> Callable[[float], float]:
    return lambda y: start + slope * (y - origin)


def _rolled(point: Point, roll: float) -> Point:
    if roll == 0:
        return point
    turn = radians(roll)
    return (point[0] * cos(turn) - point[1] * sin(turn), point[0] * sin(turn) + point[1] * cos(turn))


def _span(corners: Sequence[Point], level: float) -> float:
    """Width of metal of a polygon at one level."""
    crossings = []
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (y1 > level) != (y2 > level):
            crossings.append(x1 + (level - y1) * (x2 - x1) / (y2 - y1))
    crossings.sort()
    return sum(right - left for left, right in zip(crossings[::2], crossings[1::2], strict=True))


def lying(section: Section, axis: BendAxis, roll: float) -> tuple[BendAxis, float, bool]:
    """How a rolled section lies: the axis that now holds, what roll is left, whether a face lies square on.

    >>> from shopquote.calc.bar.sections import parse_section
    >>> lying(parse_section("flat 50 x 6", "mm"), "easy", 90.0)
    ('hard', 0.0, True)
    """
    if section.kind in ("round", "tube"):
        return axis, 0.0, True
    step = 60.0 if section.kind == "hex" else 90.0
    quarters = round(roll / step)
    left = roll - quarters * step
    other: BendAxis = "hard" if axis == "easy" else "easy"
    now = other if step == 90.0 and quarters % 2 and section.has_axes else axis
    if abs(left) <= SQUARE_ON:
        return now, 0.0, True
    return now, round(left, 9), False


@lru_cache(maxsize=2048)
def bend_section(section: Section, axis: BendAxis = "easy", roll: float = 0.0) -> BendSection:
    """A section as it lies in a bend, rolled by so many degrees against the bend axis."""
    axis, left, square_on = lying(section, axis, roll)
    depth, width, centroid = section.depth_mm(axis), section.width_mm(axis), section.centroid_mm(axis)
    profile = section_profile(section, axis, left)
    if not square_on:
        across = section_profile(section, axis, left + 90)
        depth, centroid = profile[-1].high - profile[0].low, -profile[0].low
        width = across[-1].high - across[0].low
    inertia = _closed_inertia(section, depth, width) if square_on else None
    if inertia is None:
        inertia = _integrate(profile, lambda y: y * y)
    made = BendSection(
        section, axis, left, depth, width, centroid, inertia, 0.0, inertia / max(centroid, depth - centroid),
        square_on,
    )  # fmt: skip
    plastic = made.unit_moment_mm3(1e-9 * depth)
    return BendSection(
        section, axis, left, depth, width, centroid, inertia, plastic, made.elastic_mm3, square_on
    )


def _closed_inertia(section: Section, depth: float, width: float) -> float | None:
    size = section.sizes_mm
    if section.kind == "round":
        return pi / 64 * size[0] ** 4
    if section.kind == "tube":
        return pi / 64 * (size[0] ** 4 - (size[0] - 2 * size[1]) ** 4)
    if section.kind in ("square", "flat"):
        return width * depth**3 / 12
    if section.kind == "box":
        wall = 2 * size[2]
        return (width * depth**3 - (width - wall) * (depth - wall) ** 3) / 12
    if section.kind == "hex":
        side = size[0] * tan(radians(30))
        return 5 * sqrt(3) / 16 * side**4
    return None
