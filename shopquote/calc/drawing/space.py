"""Drawing of a part that bends in space: three views in first or third angle, and an oblique picture.

Views are as in ISO 5456-2. Legs are lettered in the picture and their lengths listed in a schedule, since an
oblique leg is seen in its true length in no view. Millimetres of the part and of paper. Begin at
`draw_space`.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import atan2, cos, hypot, pi, radians, sin, sqrt
from typing import Literal

from shopquote.calc.bar.centreline import Stop, add, dot, times, trace
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.moment import section_corners
from shopquote.calc.bar.sections import Section
from shopquote.calc.drawing.model import Drawing, DrawnArc, Point, Projection
from shopquote.calc.drawing.pencil import Pencil
from shopquote.calc.drawing.scales import best_scale
from shopquote.calc.drawing.weld_symbol import DrawnWeld, note_weld
from shopquote.calc.drawing.worked import DrawnEnds, DrawnHole
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis
from shopquote.calc.lettering import counting_letter
from shopquote.calc.units import Length, Unit, show_length

Vector = tuple[float, float, float]
# A viewing direction: the paper's right and up as vectors in the part's coordinates.
Look = tuple[Vector, Vector]

FRONT: Look = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
FROM_ABOVE: Look = ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0))
FROM_LEFT: Look = ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
FROM_RIGHT: Look = ((0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
_C, _S = cos(radians(30)), sin(radians(30))
OBLIQUE: Look = ((_C, 0.0, -_C), (_S, 1.0, _S))

BETWEEN_MM = 20.0  # between two views, room for a size included
ROUND_POINTS = 24  # round a bar seen from its end
SEEN_END_ON = 0.02  # length on paper of a unit vector along the bar below which it is seen from its end


@dataclass(frozen=True, slots=True)
class SpacePart:
    """What the views of a part in space need."""

    runs: tuple[Run, ...]
    section: Section
    axis: BendAxis
    unit: Unit
    holes: tuple[DrawnHole, ...] = ()
    told: DrawnEnds | None = None
    welds: tuple[DrawnWeld, ...] = ()


def draw_space(
    part: SpacePart, room: tuple[float, float], projection: Projection, *, size: float = 3.5
) -> tuple[Drawing, str]:
    """Draw the three views and the oblique picture within `room` in mm; gives also their scale in words."""
    stops = trace(part.runs, part.section)
    reach = part.section.height_mm
    spans = {look: _span(stops, look, reach) for look in (FRONT, FROM_ABOVE, FROM_LEFT, OBLIQUE)}
    wide = spans[FRONT][0] + max(spans[FROM_LEFT][0], spans[OBLIQUE][0])
    tall = spans[FRONT][1] + max(spans[FROM_ABOVE][1], spans[OBLIQUE][1])
    scale = best_scale((wide, tall), (room[0] - 2 * BETWEEN_MM, room[1] - 2 * BETWEEN_MM))
    pencil = Pencil(scale.factor, size)
    front_w, front_h = (mm * scale.factor for mm in spans[FRONT])
    side_w = spans[FROM_LEFT][0] * scale.factor
    top_h = spans[FROM_ABOVE][1] * scale.factor
    right = front_w / 2 + BETWEEN_MM
    above = front_h / 2 + BETWEEN_MM
    first = projection == "first angle"
    # In first angle the view from the left stands on the right and that from above below; in third angle a
    # view stands on the side that it is seen from.
    view = _View(pencil, part, stops, scale.factor)
    view.draw(FRONT, (0.0, 0.0), sizes="both")
    view.draw(FROM_LEFT if first else FROM_RIGHT, (right + side_w / 2, 0.0), sizes="wide")
    view.draw(FROM_ABOVE, (0.0, (-1 if first else 1) * (above + top_h / 2)), sizes="none")
    picture_w, picture_h = (mm * scale.factor for mm in spans[OBLIQUE])
    place = (right + picture_w / 2, (-1 if first else 1) * (above + max(top_h, picture_h) / 2))
    view.draw(OBLIQUE, place, sizes="letters")
    return pencil.done(), scale.words


def draw_symbol(projection: Projection) -> Drawing:
    """The symbol of the projection method (ISO 5456-2): a truncated cone in two views."""
    pencil = Pencil(1.0, 3.5)
    first = projection == "first angle"
    cone, rings = (0.0, 12.0) if first else (12.0, 0.0)
    pencil.line(((cone - 4, -1.5), (cone + 4, -3), (cone + 4, 3), (cone - 4, 1.5)), "thick", closed=True)
    for radius in (1.5, 3.0):
        pencil.arc(DrawnArc((rings, 0.0), radius, 0.0, 360.0, "thick"))
    pencil.line(((-5.5, 0), (17.5, 0)), "chain", "centre", ink=None)
    pencil.line(((rings, -4), (rings, 4)), "chain", "centre", ink=None)
    return pencil.done()


def flattened(point: Vector, look: Look) -> Point:
    """A point of the part projected onto the paper."""
    right, up = look
    return (
        point[0] * right[0] + point[1] * right[1] + point[2] * right[2],
        point[0] * up[0] + point[1] * up[1] + point[2] * up[2],
    )


def _span(stops: Sequence[Stop], look: Look, reach: float) -> tuple[float, float]:
    xs, ys = zip(*(flattened(stop.point, look) for stop in stops), strict=True)
    return max(xs) - min(xs) + reach, max(ys) - min(ys) + reach


def _extent(edges: Sequence[Sequence[Point]]) -> tuple[Point, Point]:
    xs, ys = zip(*(point for edge in edges for point in edge), strict=True)
    return (min(xs), min(ys)), (max(xs), max(ys))


@dataclass(frozen=True, slots=True)
class Slant:
    """A mitred end: unit vectors towards its long point and into the bar, set-back of the short point in mm.

    `high`, `low`: extent of the section in mm towards the long point and away from it.
    """

    long: Vector
    into: Vector
    back_mm: float
    high: float
    low: float

    def sawn(self, offset: Vector) -> Vector:
        """A point of the section, as an offset from the bar's end, moved along the bar onto the sawn face."""
        share = (self.high - dot(offset, self.long)) / (self.high - self.low)
        return add(offset, times(self.into, share * self.back_mm))


def slants(part: SpacePart, stops: Sequence[Stop]) -> tuple[Slant | None, Slant | None]:
    """The mitres of both ends in space.

    A mitre is sawn across the larger side of the bar as it lies at that end, or in the plane of the bend
    where both are equal. As in the drawing of a plane part, a positive mitre has its long point on the inside
    of a left bend.
    """
    start = _slant(part, stops[0], 0, stops[0].along)
    return start, _slant(part, stops[-1], 1, times(stops[-1].along, -1.0))


def _slant(part: SpacePart, stop: Stop, place: Literal[0, 1], into: Vector) -> Slant | None:
    told = part.told
    if told is None or told.mitres is None or not told.mitres.back_mm[place]:
        return None
    offsets = _section_at(part, stop)
    reaches = []
    for way in (stop.inward, stop.across):
        along = [dot(offset, way) for offset in offsets]
        reaches.append((max(along) - min(along), way))
    # Sides that are equal but for rounding leave it to the plane of the bend.
    wider = reaches[1][0] > reaches[0][0] + 1e-6
    long = times(reaches[wider][1], 1.0 if told.ends[place].mitre > 0 else -1.0)
    along = [dot(offset, long) for offset in offsets]
    return Slant(long, into, told.mitres.back_mm[place], max(along), min(along))


def _section_at(part: SpacePart, stop: Stop) -> list[Vector]:
    """Corners of the section as offsets from the centre line; for round bar points on its circle."""
    if not part.section.form.step:
        radius = part.section.sizes_mm[0] / 2 * stop.scale
        turns = (2 * pi * step / ROUND_POINTS for step in range(ROUND_POINTS))
        return [
            add(times(stop.inward, radius * cos(turn)), times(stop.across, radius * sin(turn)))
            for turn in turns
        ]
    c, s = cos(radians(stop.roll)), sin(radians(stop.roll))
    outward = add(times(stop.inward, -c), times(stop.across, -s))
    sideways = add(times(stop.across, c), times(stop.inward, -s))
    return [
        add(times(sideways, x * stop.scale), times(outward, y * stop.scale))
        for x, y in section_corners(part.section, part.axis)
    ]


class _View:
    """Draws several views of the bar on the same paper."""

    def __init__(self, pencil: Pencil, part: SpacePart, stops: Sequence[Stop], factor: float) -> None:
        self.pencil, self.part, self.stops, self.factor = pencil, part, stops, factor
        self.start, self.finish = slants(part, stops)

    def draw(self, look: Look, centre: Point, sizes: Literal["both", "wide", "none", "letters"]) -> None:
        edges = self._edges(look)
        low, high = _extent(edges)
        shift = centre[0] - (low[0] + high[0]) / 2, centre[1] - (low[1] + high[1]) / 2
        for edge in edges:
            self.pencil.line([(x + shift[0], y + shift[1]) for x, y in edge], "thick", ink="part")
        left, bottom = low[0] + shift[0], low[1] + shift[1]
        right, top = high[0] + shift[0], high[1] + shift[1]
        if sizes in ("both", "wide"):
            self._size((left, bottom), (right, bottom), 0.0, -1)
        if sizes == "both":
            self._size((left, bottom), (left, top), pi / 2, 1)
        if sizes == "letters":
            self._letters(look, shift)
            self._worked(look, shift)

    def _size(self, p: Point, q: Point, along: float, side: int) -> None:
        span = hypot(q[0] - p[0], q[1] - p[1]) / self.factor
        # In brackets, as ISO 129-1 has sizes that follow from others.
        text = f"({show_length(Length.from_mm(span), self.part.unit)})"
        self.pencil.size_between(p, q, text, along, sides=(side,), offsets=(7, 9, 11, 13))

    def _letters(self, look: Look, shift: Point) -> None:
        """Draw the letter of every leg beside it, in order along the bar."""
        letter = 0
        for index, run in enumerate(self.part.runs):
            if run.is_curve:
                continue
            ends = [self._at(stop, look) for stop in self.stops if stop.run == index]
            (x1, y1), (x2, y2) = ends[0], ends[-1]
            middle = (x1 + x2) / 2 + shift[0], (y1 + y2) / 2 + shift[1]
            way = atan2(y2 - y1, x2 - x1) + pi / 2
            off = self.part.section.height_mm * self.factor / 2 + 4.0
            self.pencil.letter_at(counting_letter(letter), middle, way, off)
            letter += 1

    def _worked(self, look: Look, shift: Point) -> None:
        """Draw notes of each kind of hole and of the work on the ends."""
        ways = [pi / 4 + turn * pi / 4 for turn in (0, 2, 4, 6, 1, 3, 5, 7)]
        noted: set[tuple[int, int]] = set()
        for hole in self.part.holes:
            if (hole.mark.kind, hole.mark.leg) not in noted:
                noted.add((hole.mark.kind, hole.mark.leg))
                x, y = self._on_bar(hole.mark.at.mm_float, look)
                self.pencil.note_at((x + shift[0], y + shift[1]), hole.words, ways)
        for place, stop in ((0, self.stops[0]), (1, self.stops[-1])):
            words = self.part.told.words(place) if self.part.told else ""
            if words:
                x, y = self._at(stop, look)
                self.pencil.note_at((x + shift[0], y + shift[1]), words, ways)
        for weld in self.part.welds:
            ends = [self._at(stop, look) for stop in self.stops if stop.run == weld.run]
            (x, y), (far_x, far_y) = ends[0], ends[-1]
            if weld.spot == "leg":
                x, y = (x + far_x) / 2, (y + far_y) / 2
            elif weld.spot == "bend":
                x, y = ends[len(ends) // 2]
            elif weld.spot == "finish":
                x, y = far_x, far_y
            note_weld(self.pencil, (x + shift[0], y + shift[1]), weld.sign, ways)

    def _on_bar(self, flat_mm: float, look: Look) -> Point:
        """A position on the straight bar as a point on paper of the finished part."""
        at = 0.0
        for index, run in enumerate(self.part.runs):
            if flat_mm <= at + run.flat_mm or index == len(self.part.runs) - 1:
                ends = [self._at(stop, look) for stop in self.stops if stop.run == index]
                share = (flat_mm - at) / run.flat_mm if run.flat_mm else 0.0
                (x1, y1), (x2, y2) = ends[0], ends[-1]
                # On a curve the nearest traced point will do: it only places a note's arrow.
                if run.is_curve:
                    return ends[min(len(ends) - 1, int(share * len(ends)))]
                return x1 + (x2 - x1) * share, y1 + (y2 - y1) * share
            at += run.flat_mm
        raise AssertionError("a part has runs")

    def _at(self, stop: Stop, look: Look) -> Point:
        return self._on_paper(stop.point, look)

    def _on_paper(self, point: Vector, look: Look) -> Point:
        x, y = flattened(point, look)
        return x * self.factor, y * self.factor

    def _edges(self, look: Look) -> list[list[Point]]:
        """The visible lines of the bar: both sides of a round one, the edges of any other, and its ends."""
        if not self.part.section.form.step:
            return self._round_edges(look)
        corners = [self._corners(stop, look) for stop in self.stops]
        corners[0] = self._corners(self.stops[0], look, self.start)
        corners[-1] = self._corners(self.stops[-1], look, self.finish)
        along = [list(edge) for edge in zip(*corners, strict=True)]
        ends = [[*corners[at], corners[at][0]] for at in (0, -1)]
        return [*along, *ends]

    def _corners(self, stop: Stop, look: Look, slant: Slant | None = None) -> list[Point]:
        offsets = _section_at(self.part, stop)
        if slant is not None:
            offsets = [slant.sawn(offset) for offset in offsets]
        return [self._on_paper(add(stop.point, offset), look) for offset in offsets]

    def _round_edges(self, look: Look) -> list[list[Point]]:
        radius = self.part.section.sizes_mm[0] / 2
        sides: list[list[Point]] = [[], []]
        edges: list[list[Point]] = []
        for number, stop in enumerate(self.stops):
            slant = self.start if number == 0 else self.finish if number == len(self.stops) - 1 else None
            dx, dy = flattened(stop.along, look)
            if slant is not None or hypot(dx, dy) < SEEN_END_ON:
                face = self._corners(stop, look, slant)
                edges.append([*face, face[0]])
            if hypot(dx, dy) < SEEN_END_ON:
                continue
            # The contour of a round bar is perpendicular to the bar and to the viewing direction.
            aside = _square_to(stop.along, look)
            for side, way in zip(sides, (1.0, -1.0), strict=True):
                offset = times(aside, way * radius * stop.scale)
                placed = slant.sawn(offset) if slant is not None else offset
                side.append(self._on_paper(add(stop.point, placed), look))
        left, right = sides
        if left:
            ends = [[left[at], right[at]] for at, cut in ((0, self.start), (-1, self.finish)) if cut is None]
            edges += [left, right, *ends]
        return [edge for edge in edges if any(p != q for p, q in pairwise(edge))]


def _square_to(along: Vector, look: Look) -> Vector:
    """The unit vector in the plane of the paper to the left of a direction as seen."""
    dx, dy = flattened(along, look)
    right, up = look
    seen = add(times(right, -dy / dot(right, right)), times(up, dx / dot(up, up)))
    return times(seen, 1 / sqrt(dot(seen, seen)))
