"""Holes, ends and welds in the drawing of a plane part.

A hole is drawn as a circle or from the side as hidden lines, depending on the face it is drilled from.
Millimetres on paper, y up; `depth` is that of the bar as drawn. Begin at `draw_holes`, `note_ends` and
`note_welds`.
"""

from collections.abc import Iterator, Sequence
from math import hypot, pi, radians

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.ends import Mitres
from shopquote.calc.bar.holes import drill_mm
from shopquote.calc.bar.part_answer import HoleMark
from shopquote.calc.drawing.model import DrawnArc, Point
from shopquote.calc.drawing.outline import Stretch, faces_of, length_of, outer_face
from shopquote.calc.drawing.pencil import Pencil, away
from shopquote.calc.drawing.weld_symbol import DrawnWeld, note_weld
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Length, Unit, show_angle, show_length

# Holes along the bar: those in its start, those in its finish end.
EndHoles = tuple[tuple[HoleSpec, ...], tuple[HoleSpec, ...]]
# Greatest number of holes with dimensions; more are dimensioned in the table only, which is then easier to
# read.
MOST_PLACES = 8
SIZE_OFFSETS = (5.5, 11.0, 16.5, 22.0, 27.5, 33.0)
CROSS_MM = 1.4
SMALLEST_MM = 0.4
FAR_MM = (6.0, 9.0, 13.0, 18.0, 24.0, 31.0, 39.0)  # possible lengths of the leader of a note on an end


@dataclass(frozen=True, slots=True)
class DrawnHole:
    """One hole with its mark on the straight bar, its position as typed, and whether it is seen face on."""

    mark: HoleMark
    spec: HoleSpec
    text: str
    face_on: bool

    @property
    def words(self) -> str:
        """Letter, count and size of its kind."""
        size = f"Ø {self.spec.dia.text}" if self.spec.dia is not None else self.spec.thread
        count = f"{self.spec.count} x " if self.spec.count > 1 else ""
        return f"{self.mark.letter}: {count}{' '.join([size, *self.spec.sized_works])}"


@dataclass(frozen=True, slots=True)
class DrawnEnds:
    """Both ends of a piece; `in_plane`: mitres are seen as slanted edges."""

    ends: tuple[End, End]
    mitres: Mitres | None
    in_plane: bool
    unit: Unit
    holes: EndHoles = ((), ())

    def degrees(self) -> tuple[float, float]:
        """The mitres as seen, in degrees off square."""
        if not self.in_plane:
            return 0.0, 0.0
        first, last = (float(end.mitre) if end.kind == "mitre" else 0.0 for end in self.ends)
        # A bar turned over between its ends shows the finish end's other side.
        turned = self.mitres is not None and abs(self.mitres.roll) > 90
        return first, -last if turned else last

    def words(self, place: int, *, alone: bool = False) -> str:
        """The note of one end: its mitre with its short point, then its other work.

        alone: the piece is straight, so that its short face has a dimension of its own.
        """
        end = self.ends[place]
        told = [*map(str, end.forms), *map(_in_end, self.holes[place])]
        if end.kind != "mitre" or self.mitres is None:
            return " + ".join(told)
        back = show_length(Length.from_mm(self.mitres.back_mm[place]), self.unit)
        way = "" if self.in_plane else " across the width"
        short = "" if alone and self.in_plane else f", short point {back} back"
        sawn = f"mitre {show_angle(abs(float(end.mitre)))}{way}{short}"
        return " + ".join([sawn, *told])


def _in_end(hole: HoleSpec) -> str:
    size = f"Ø {hole.dia.text}" if hole.dia is not None else hole.thread
    return f"{size} in the end, {f'{hole.deep.text} deep' if hole.deep is not None else 'through'}"


def draw_holes(pencil: Pencil, holes: Sequence[DrawnHole], drawn: Sequence[Stretch], depth: float) -> None:
    """Draw every hole with letter, size and position as typed; where there are many, with its letter only."""
    noted: set[tuple[int, int]] = set()
    placed: set[tuple[int, str]] = set()
    seen = outline_holes(pencil, holes, drawn, depth)
    for hole, stretch, x in seen:
        leg = hole.mark.leg
        if len(seen) <= MOST_PLACES and (leg, hole.text) not in placed:
            placed.add((leg, hole.text))
            _size(pencil, hole, stretch, x, depth * pencil.scale)
    crowd = len({(hole.mark.kind, hole.mark.leg) for hole, _, _ in seen}) > MOST_PLACES
    for hole, stretch, x in seen:
        if (hole.mark.kind, hole.mark.leg) not in noted:
            noted.add((hole.mark.kind, hole.mark.leg))
            words = hole.mark.letter if crowd else hole.words
            _note(pencil, hole, stretch, x, depth * pencil.scale, words)


def outline_holes(
    pencil: Pencil, holes: Sequence[DrawnHole], drawn: Sequence[Stretch], depth: float
) -> list[tuple[DrawnHole, Stretch, float]]:
    """Draw the holes without notes; gives each with its straight and its position along it in mm on paper."""
    seen = [(hole, stretch, _along(hole, stretch, pencil.scale)) for hole, stretch in _on(holes, drawn)]
    for hole, stretch, x in seen:
        _draw_one(pencil, hole, stretch, x, depth * pencil.scale)
    return seen


def _on(holes: Sequence[DrawnHole], drawn: Sequence[Stretch]) -> Iterator[tuple[DrawnHole, Stretch]]:
    """Each hole with the straight of its leg."""
    begins: dict[float, Stretch] = {}
    at = 0.0
    for stretch in drawn:
        if not stretch.run.is_curve:
            begins[at] = stretch
        at += stretch.run.flat_mm
    for hole in holes:
        yield hole, begins[min(begins, key=lambda place: abs(place - hole.mark.begins_mm))]


def _along(hole: DrawnHole, stretch: Stretch, factor: float) -> float:
    """Position in mm on paper of a hole along its straight; beyond a break measured from the far end."""
    x, whole = (hole.mark.at.mm_float - hole.mark.begins_mm) * factor, stretch.run.true_mm * factor
    shown = length_of(stretch)
    # The outer thirds of a shortened straight are to scale; a hole between them is placed in proportion.
    if not stretch.broken or x < shown / 3:
        return x
    return max(shown * 2 / 3, shown - (whole - x)) if x > whole - shown / 3 else shown * x / whole


def _spot(hole: DrawnHole, stretch: Stretch, x: float, factor: float) -> Point:
    (x1, y1, heading) = stretch.start
    aside = hole.mark.across_mm * factor if hole.face_on else 0.0
    return away(away((x1, y1), heading, x), heading + pi / 2, aside)


def _draw_one(pencil: Pencil, hole: DrawnHole, stretch: Stretch, x: float, depth: float) -> None:
    heading, spot = stretch.start[2], _spot(hole, stretch, x, pencil.scale)
    # A hole too small to be seen at this scale is drawn larger.
    half = max(SMALLEST_MM, hole.mark.dia_mm * pencil.scale / 2)
    slot = hole.spec.slot.length.mm_float * pencil.scale / 2 if hole.spec.slot else half
    left, right = (face * pencil.scale for face in faces_of(stretch, depth / pencil.scale))
    if not hole.face_on:
        for side in (-slot, slot):
            foot = away(spot, heading, side)
            edge = [away(foot, heading + pi / 2, left), away(foot, heading - pi / 2, right)]
            pencil.line(edge, "dashed", "holes", ink=None)
    elif slot > half + 1e-9:
        for way in (-1, 1):
            middle = away(spot, heading, way * (slot - half))
            pencil.arc(
                DrawnArc(middle, half, heading * 180 / pi - 90, way * 180.0, "thick", "holes"), ink=None
            )
            sides = [
                away(away(spot, heading, end), heading + way * pi / 2, half)
                for end in (half - slot, slot - half)
            ]
            pencil.line(sides, "thick", "holes", ink=None)
    else:
        pencil.arc(DrawnArc(spot, half, 0.0, 360.0, "thick", "holes"), ink=None)
    if hole.face_on:
        crosses = [(pi / 2, half + CROSS_MM, half + CROSS_MM), (0.0, slot + CROSS_MM, slot + CROSS_MM)]
    else:
        crosses = [(pi / 2, right + CROSS_MM, left + CROSS_MM)]
    for lean, back, far in crosses:
        ends = away(spot, heading + lean, -back), away(spot, heading + lean, far)
        pencil.line(ends, "chain", "holes", ink=None)


def _size(pencil: Pencil, hole: DrawnHole, stretch: Stretch, x: float, depth: float) -> None:
    """Draw the dimension of a hole's position, from where its leg is measured."""
    heading, spot = stretch.start[2], _spot(hole, stretch, x, pencil.scale)
    from_mm = (hole.mark.measured_from_mm - hole.mark.begins_mm) * pencil.scale
    foot = away(stretch.start[:2], heading, from_mm)
    offsets = [depth / 2 + more for more in SIZE_OFFSETS]
    pencil.size_between(foot, spot, hole.text, heading, sides=(1, -1), offsets=offsets)


def _note(pencil: Pencil, hole: DrawnHole, stretch: Stretch, x: float, depth: float, words: str) -> None:
    """Draw the note of a kind of hole on one leg."""
    heading, spot = stretch.start[2], _spot(hole, stretch, x, pencil.scale)
    right = faces_of(stretch, depth / pencil.scale)[1] * pencil.scale
    tip = spot if hole.face_on else away(spot, heading - pi / 2, right)
    ways = [heading + lean for lean in (-pi / 3, -2 * pi / 3, pi / 3, 2 * pi / 3, -pi / 2)]
    pencil.note_at(tip, words, ways)


def note_ends(pencil: Pencil, told: DrawnEnds, drawn: Sequence[Stretch], depth: float) -> None:
    """Draw the note of each end, above the bar where there is room, so that the drawing stays narrow."""
    for place, (stretch, way) in enumerate(((drawn[0], -1), (drawn[-1], 1))):
        words = told.words(place, alone=len(drawn) == 1)
        if not words:
            continue
        x, y, heading = stretch.start if way < 0 else stretch.end
        end = told.ends[place]
        back = told.mitres.back_mm[place] * pencil.scale if told.mitres and end.kind == "mitre" else 0.0
        if back and not told.in_plane:
            foot = away((x, y), heading, -way * back)
            pencil.line([away(foot, heading + side * pi / 2, depth * pencil.scale / 2) for side in (-1, 1)])
        tip = away((x, y), heading, -way * back / 2) if told.in_plane else (x, y)
        for hole in told.holes[place]:
            _draw_end_hole(pencil, hole, (x, y), heading if way < 0 else heading + pi, drawn)
        out = heading if way > 0 else heading + pi
        pencil.note_at(
            tip, words, [out + lean for lean in (1.9, -1.9, 2.3, -2.3, 0.9, -0.9, 0.5, -0.5)], FAR_MM
        )


def note_welds(pencil: Pencil, welds: Sequence[DrawnWeld], drawn: Sequence[Stretch], depth: float) -> None:
    """Draw the symbol of each placed weld with its arrow on the face where the weld is."""
    for weld in welds:
        stretch = drawn[weld.run]
        leans: tuple[float, ...]
        if weld.spot in ("start", "finish"):
            way = -1 if weld.spot == "start" else 1
            x, y, heading = stretch.start if way < 0 else stretch.end
            out = heading if way > 0 else heading + pi
            leans = (0.7, -0.7, 1.2, -1.2, 0.3, -0.3, 1.9, -1.9)
        else:
            (x, y), out = _middle(stretch, outer_face(stretch, depth) * pencil.scale)
            leans = (0.5, -0.5, 0.9, -0.9, 0.1, pi - 0.6, pi + 0.6)
        note_weld(pencil, (x, y), weld.sign, [out + lean for lean in leans])


def _middle(stretch: Stretch, outer: float) -> tuple[Point, float]:
    """The middle of a run on its face (of a bend the outer one), and the direction out of the metal there."""
    x, y, heading = stretch.points[len(stretch.points) // 2]
    side = -pi / 2 if stretch.angle >= 0 else pi / 2
    if stretch.centre is not None:
        x, y, heading = stretch.start
        out = heading + radians(stretch.angle) / 2 + side
        return away(stretch.centre, out, hypot(x - stretch.centre[0], y - stretch.centre[1]) + outer), out
    if not stretch.run.is_curve:
        (x, y, _), (far_x, far_y, _) = stretch.start, stretch.end
        x, y = (x + far_x) / 2, (y + far_y) / 2
    return away((x, y), heading + side, outer), heading + side


def _draw_end_hole(pencil: Pencil, hole: HoleSpec, end: Point, into: float, drawn: Sequence[Stretch]) -> None:
    """Draw both sides of a hole along the bar as hidden lines."""
    deep = hole.deep.length.mm_float * pencil.scale if hole.deep is not None else length_of(drawn[0])
    half = drill_mm(hole) * pencil.scale / 2
    for side in (-1, 1):
        foot = away(end, into + side * pi / 2, half)
        pencil.line((foot, away(foot, into, deep)), "dashed", "holes", ink=None)


def draw_short_face(pencil: Pencil, told: DrawnEnds, drawn: Sequence[Stretch], depth_mm: float) -> None:
    """Draw the length of a straight piece's short face, in brackets, since it follows from the mitre."""
    if len(drawn) > 1 or not told.in_plane or told.mitres is None:
        return
    stretch, depth = drawn[0], depth_mm * pencil.scale
    (x1, y1, heading), (x2, y2, _) = stretch.start, stretch.end
    first, last = told.degrees()
    side = -1 if first >= 0 and (first or last > 0) else 1
    shorter = [
        back * pencil.scale if (degrees > 0) == (side < 0) and degrees else 0.0
        for back, degrees in zip(told.mitres.back_mm, (first, last), strict=True)
    ]
    p, q = (
        away(away(point, heading, along), heading + side * pi / 2, depth / 2)
        for point, along in (((x1, y1), shorter[0]), ((x2, y2), -shorter[1]))
    )
    length = (told.mitres.long_mm * pencil.scale - sum(shorter)) / pencil.scale
    text = f"({show_length(Length.from_mm(length), told.unit)})"
    pencil.size_between(p, q, text, heading, sides=(side,), offsets=SIZE_OFFSETS)
