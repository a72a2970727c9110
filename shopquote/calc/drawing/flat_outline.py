"""Draws the outline of a plane part: both faces, sawn ends, centre line, break lines and twists.

`outline` lays the part out; `finished` adds dimensions and notes. Begin at `draw_outline`.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, pi, radians

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.ends import Mitres
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import Word
from shopquote.calc.drawing.end_profile import Profile, end_profile, thread_lines, threaded_mm
from shopquote.calc.drawing.model import DrawnArc, Point
from shopquote.calc.drawing.outline import Stretch, cut_back, faces_of, length_of
from shopquote.calc.drawing.pencil import Pencil, away
from shopquote.calc.drawing.weld_symbol import DrawnWeld
from shopquote.calc.drawing.worked import DrawnEnds, DrawnHole, EndHoles
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import Dims
from shopquote.calc.units import Unit

# Points along a left and a right face.
Faces = tuple[list[Point], list[Point]]
_PLAIN: Faces = ([], [])
TWIST_STROKE_MM = 2.5
BROKEN_ROOM = 0.3  # greatest share of a shortened straight that a worked end may take
WELD_MM = 1.5  # half the least length of the stroke at a weld


@dataclass(frozen=True, slots=True)
class FlatPart:
    """What a drawing needs of a part whose bends lie in one plane; depth in that plane in mm.

    `welds_at`: positions of splice welds as shares of the length.
    """

    runs: tuple[Run, ...]
    words: tuple[Word, ...]
    section: Section
    depth: float
    dims: Dims
    ends: tuple[End, End]
    unit: Unit
    length_text: str = ""
    holes: tuple[DrawnHole, ...] = ()
    mitres: Mitres | None = None
    end_holes: EndHoles = ((), ())
    welds: tuple[DrawnWeld, ...] = ()
    welds_at: tuple[float, ...] = ()

    @property
    def told_ends(self) -> DrawnEnds:
        """Its ends as seen in this view: a mitre is sawn across the larger side of the bar."""
        in_plane = abs(self.section.height_mm - self.depth) < 1e-6
        return DrawnEnds(self.ends, self.mitres, in_plane, self.unit, self.end_holes)


def faces(part: FlatPart, stretches: Sequence[Stretch], factor: float) -> tuple[list[Point], list[Point]]:
    """Points along the left and the right face, mitred ends included."""
    left: list[Point] = []
    right: list[Point] = []
    for stretch in stretches:
        to_left, to_right = (face * factor for face in faces_of(stretch, part.depth))
        for x, y, heading in points_on(stretch):
            left.append(away((x, y), heading + pi / 2, to_left))
            right.append(away((x, y), heading - pi / 2, to_right))
    start, finish = stretches[0].start[2], stretches[-1].end[2]
    mitres = part.told_ends.degrees()
    height = part.depth * factor
    left[0], right[0] = cut_back(left[0], right[0], start, mitres[0], height)
    left[-1], right[-1] = cut_back(left[-1], right[-1], finish + pi, mitres[1], height)
    return left, right


def points_on(stretch: Stretch) -> Iterator[tuple[float, float, float]]:
    """Points along a stretch; on an arc every few degrees."""
    if stretch.centre is None:
        yield from stretch.points
        return
    x, y, heading = stretch.start
    side = pi / 2 if stretch.angle > 0 else -pi / 2
    radius = ((x - stretch.centre[0]) ** 2 + (y - stretch.centre[1]) ** 2) ** 0.5
    steps = max(2, int(abs(stretch.angle) / 4))
    for step in range(steps + 1):
        turned = heading + radians(stretch.angle * step / steps)
        yield (*away(stretch.centre, turned - side, radius), turned)


def _sharp_face(pencil: Pencil, stretch: Stretch, outer: Sequence[Point], at: int, last: int) -> None:
    """Draw the outer face of a sharp corner: both faces are extended until they meet."""
    begun, ended = outer[at], outer[last]
    chord = hypot(ended[0] - begun[0], ended[1] - begun[1])
    corner = away(begun, stretch.start[2], chord / 2 / cos(radians(abs(stretch.angle)) / 2))
    pencil.line((begun, corner, ended), "thick", ink=None)


def draw_outline(pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float) -> None:
    """Draw faces, sawn ends, centre line, break lines and twists of stretches at a scale of `factor`."""
    left, right = faces(part, drawn, factor)
    count = [len(list(points_on(stretch))) for stretch in drawn]
    worked = _worked_ends(part, drawn, factor)
    at, mitred = 0, any(part.told_ends.degrees())
    for stretch, points in zip(drawn, count, strict=True):
        last = at + points - 1
        if stretch.run.kind == "corner":
            _sharp_face(pencil, stretch, right if stretch.angle > 0 else left, at, last)
        elif stretch.centre is not None:
            _arc_faces(pencil, part, stretch, factor)
        else:
            own = (left[at : last + 1], right[at : last + 1])
            begun, ended = (worked[0] if at == 0 else _PLAIN), (worked[1] if stretch is drawn[-1] else _PLAIN)
            _straight_faces(pencil, own, begun, ended, curve=stretch.is_spiral and not mitred)
        at += points
    for sawn, (one, other) in zip(((left[0], right[0]), (left[-1], right[-1])), worked, strict=True):
        _across(pencil, one or sawn[:1], other or sawn[1:])
    pencil.keep(
        ((a, b, d, c), "part") for (a, b), (c, d) in zip(pairwise(left), pairwise(right), strict=True)
    )
    _threads(pencil, part, drawn, factor)
    _splices(pencil, part, drawn, factor)
    _middle(pencil, part, drawn, factor)


def _middle(pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float) -> None:
    """Draw centre line, break lines and twists."""
    for stretch in drawn:
        _centre_line(pencil, stretch)
        if stretch.broken:
            _break_marks(pencil, stretch, part.depth * factor / 2)
        if stretch.run.kind == "twist":
            half = part.depth * factor / 2
            twist_strokes(pencil, stretch.start, length_of(stretch), half, stretch.run.angle)


def _worked_ends(part: FlatPart, drawn: Sequence[Stretch], factor: float) -> list[Faces]:
    """For each end its left and right face from the tip inwards; empty where it is only sawn."""
    found: list[Faces] = []
    profiles = [end_profile(part.section, part.depth, end) for end in part.ends]
    for place, (stretch, inwards) in enumerate(zip((drawn[0], drawn[-1]), (1, -1), strict=True)):
        profile, other = profiles[place], profiles[1 - place]
        # A straight piece has room for both its ends.
        room = length_of(stretch) - (other[-1][0] * factor if other and len(drawn) == 1 else 0.0)
        shown = profile and not part.ends[place].mitre and _has_room(part, stretch, profile, room, factor)
        found.append(_laid(profile, stretch, inwards, factor) if shown else _PLAIN)
    return found


def _has_room(part: FlatPart, stretch: Stretch, profile: Profile, room: float, factor: float) -> bool:
    """Whether a worked end fits into a plain straight as it is drawn."""
    middle = stretch.left_mm is None or abs(stretch.left_mm - part.depth / 2) < 1e-6
    straight = stretch.centre is None and stretch.run.kind == "straight"
    reach = profile[-1][0] * factor
    return straight and middle and reach <= room * (BROKEN_ROOM if stretch.broken else 1) + 1e-9


def _laid(profile: Profile, stretch: Stretch, inwards: int, factor: float) -> Faces:
    """A profile's points on paper, along the left and the right face."""
    x, y, heading = stretch.start if inwards > 0 else stretch.end
    left: list[Point] = []
    right: list[Point] = []
    for place, half in profile:
        spot = away((x, y), heading, inwards * place * factor)
        left.append(away(spot, heading + pi / 2, half * factor))
        right.append(away(spot, heading - pi / 2, half * factor))
    return left, right


def _straight_faces(pencil: Pencil, own: Faces, begun: Faces, ended: Faces, *, curve: bool) -> None:
    """Draw both faces of a straight or spiral, with worked ends in place of its own end points."""
    for face, first, after in zip(own, begun, ended, strict=True):
        between = face[bool(first) : len(face) - bool(after)]
        pencil.line((*first, *between, *reversed(after)), "thick", ink=None, curve=curve)


def _across(pencil: Pencil, left: Sequence[Point], right: Sequence[Point]) -> None:
    """Draw the tip of an end, and an edge across the bar wherever its size changes in a step."""
    pencil.line((left[0], right[0]), "thick", ink=None)
    across = [hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(left, right, strict=True)]
    for at in range(1, len(left)):
        # In a step the face's point moves straight across the bar; in a taper it moves along it too.
        step = hypot(left[at][0] - left[at - 1][0], left[at][1] - left[at - 1][1])
        if abs(abs(across[at] - across[at - 1]) / 2 - step) < 1e-6 and step > 0:
            pencil.line((left[at], right[at]), "thick", ink=None)


def _threads(pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float) -> None:
    """Draw the root lines of threads."""
    for end, stretch, inwards in zip(part.ends, (drawn[0], drawn[-1]), (1, -1), strict=True):
        lines = thread_lines(end, part.depth)
        if lines is None or stretch.centre is not None or end.mitre:
            continue
        # On a shortened straight the end of the thread must still be seen.
        half, long = lines[0] * factor, min(lines[1] * factor, length_of(stretch) * 0.9)
        x, y, heading = stretch.start if inwards > 0 else stretch.end
        foot = away((x, y), heading, inwards * long)
        for side in (pi / 2, -pi / 2):
            stroke = (away((x, y), heading + side, half), away(foot, heading + side, half))
            pencil.line(stroke, "thin", ink=None)
        across = threaded_mm(end, part.depth) * factor / 2
        pencil.line([away(foot, heading + side * pi / 2, across) for side in (1, -1)], "thin", ink=None)


def _splices(pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float) -> None:
    """Draw the splice welds of a straight piece; those of a bent one are on its straight bar."""
    (x, y, heading), whole = drawn[0].start, length_of(drawn[0])
    for share in part.welds_at if len(drawn) == 1 else ():
        spot = away((x, y), heading, share * whole)
        half = max(part.depth * factor / 2, WELD_MM)
        pencil.line([away(spot, heading + side * pi / 2, half) for side in (1, -1)], "thick", ink=None)
        pencil.note_at(spot, "W", [heading + lean for lean in (1.2, -1.2, 1.9, -1.9)], (4.0, 6.0, 9.0))


def _arc_faces(pencil: Pencil, part: FlatPart, stretch: Stretch, factor: float) -> None:
    assert stretch.centre is not None
    inside = stretch.run.inside_mm * factor
    start = stretch.start[2] - (pi / 2 if stretch.angle > 0 else -pi / 2)
    for radius in (inside, inside + part.depth * factor):
        # A bend of inside radius 0 has a corner on its inner face, and no arc.
        if radius > 0:
            pencil.arc(DrawnArc(stretch.centre, radius, start * 180 / pi, stretch.angle, "thick"), ink=None)


def _centre_line(pencil: Pencil, stretch: Stretch) -> None:
    points = tuple((x, y) for x, y, _ in stretch.points)
    if stretch.centre is None:
        pencil.line(points, "chain", "centre", ink=None, curve=stretch.is_spiral)
        return
    (x, y), centre = points[0], stretch.centre
    radius = ((x - centre[0]) ** 2 + (y - centre[1]) ** 2) ** 0.5
    start = (stretch.start[2] - (pi / 2 if stretch.angle > 0 else -pi / 2)) * 180 / pi
    pencil.arc(DrawnArc(centre, radius, start, stretch.angle, "chain", "centre"), ink=None)


def _break_marks(pencil: Pencil, stretch: Stretch, half: float) -> None:
    """Draw the break lines of a shortened straight: two slanted strokes with a gap (ISO 128)."""
    (x1, y1, heading), (x2, y2, _) = stretch.start, stretch.end
    middle, tall = ((x1 + x2) / 2, (y1 + y2) / 2), half + 1.6
    strokes = [
        [
            away(away(middle, heading, gap + lean), heading + pi / 2, rise)
            for rise, lean in ((-tall, -0.8), (tall, 0.8))
        ]
        for gap in (-1.1, 1.1)
    ]
    pencil.line([*strokes[0], *reversed(strokes[1])], "none", closed=True, fill="white", ink=None)
    for stroke in strokes:
        pencil.line(stroke, "thin")


def twist_strokes(
    pencil: Pencil, start: tuple[float, float, float], length: float, half: float, degrees: float
) -> None:
    """Draw `twist_lines` on paper: the twist `length` mm long, its faces `half` mm from its middle."""
    for line in twist_lines(start, length, half, degrees):
        pencil.line(line, ink=None)


def twist_lines(
    start: tuple[float, float, float],
    length: float,
    half: float,
    degrees: float,
    apart: float = TWIST_STROKE_MM,
) -> Iterator[tuple[Point, Point]]:
    """Strokes from face to face along a twist, slanted by its hand.

    `start` is the point (x, y) and the heading in radians; `length` that of the twist, `half` the distance to
    each face and `apart` that of strokes, in mm on paper, or all in pixels of a picture.
    """
    x, y, heading = start
    count = max(4, int(length / apart))
    way = 1 if degrees > 0 else -1
    for number in range(count):
        foot = away((x, y), heading, length * number / count)
        head = away((x, y), heading, length * (number + 1) / count)
        yield away(foot, heading - pi / 2, way * half), away(head, heading + pi / 2, way * half)
