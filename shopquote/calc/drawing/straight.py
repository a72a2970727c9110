"""Drawing of the straight bar before bending, with the marks and zones of its bends.

Marks are running dimensions (ISO 129-1) from an origin circle at the shop's datum. The bar's length is to
scale, its height is not. Begin at `draw_straight`.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import pi

from shopquote.calc.bar.bend_answers import from_datum, on_piece
from shopquote.calc.bar.holes import drill_mm
from shopquote.calc.bar.part_answer import BendAnswer, PartAnswer
from shopquote.calc.drawing.model import Drawing, DrawnArc, Point
from shopquote.calc.drawing.pencil import CAP, Pencil, text_box
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.drawing.worked import EndHoles
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, Unit, show_length, show_mark

BAR_MM = 6.0  # height of the bar on paper
TICK_MM = 4.0  # length of a mark above the bar
LABEL_GAP_MM = 1.2
ORIGIN_MM = 1.2  # radius of the circle at the datum
ORIGIN_ROOM_MM = 4.5  # room that it and its 0 need on either side
HATCH_MM = 2.2
SHORTEST_MM = 2.5  # least depth at which a hole in the end of a long bar is drawn
HOLE_MM = 2.0  # largest ring of a hole
LETTER_MM = 2.6  # distance of its letter below the bar
# A curve with more marks than these has ticks without figures, which are in a table.
MOST_LABELS = 8


@dataclass(frozen=True, slots=True)
class StraightMark:
    """One mark on the straight bar: its label, and its position from the datum and from the start."""

    label: str
    at: Length
    from_start_mm: float


def draw_straight(
    answer: PartAnswer, unit: Unit, width: float, *, end_holes: EndHoles = ((), ()), size: float = 3.5
) -> Drawing:
    """Draw the bar over `width` mm, with its cut length and every mark.

    `end_holes`: the holes along the bar in its start and in its finish end.
    """
    cut = answer.cut.mm_float
    factor = width / cut if cut else 1.0
    pencil = Pencil(factor, size)
    corners = ((0.0, 0.0), (width, 0.0), (width, BAR_MM), (0.0, BAR_MM))
    pencil.line(corners, "thick", closed=True, ink=None)
    pencil.keep([(corners, "part")])
    for number, bend in enumerate(answer.bends, start=1):
        _zone(pencil, bend, number, factor)
    _labels(pencil, answer, unit, factor)
    _splices(pencil, answer, factor)
    for bend in answer.bends:
        if bend.hits > MOST_LABELS:
            _ticks(pencil, [from_start_mm(mark, answer) for mark in bend.hit_bender_marks], factor)
    _holes(pencil, answer, factor)
    _end_holes(pencil, answer, end_holes, factor)
    _origin(pencil, answer, width)
    below = f"cut {show_length(answer.cut, unit)}" if unit == "in" else f"cut {_tenths(answer.cut)} mm"
    pencil.size_between((0, 0), (width, 0), below, 0.0, sides=(-1,), offsets=(7,))
    return pencil.done()


def marks_of(answer: PartAnswer) -> list[StraightMark]:
    """The marks on the bar, in order from its start; for a curve with many small bends its ends."""
    marks = []
    for number, bend in enumerate(answer.bends, start=1):
        if bend.hits > 1:
            every = bend.hit_bender_marks
            chosen = every if bend.hits <= MOST_LABELS else (every[0], every[-1])
            marks += [StraightMark(str(number), at, from_start_mm(at, answer)) for at in chosen]
        elif bend.bender_mark is not None:
            marks.append(StraightMark(str(number), bend.bender_mark, from_start_mm(bend.bender_mark, answer)))
    marks += [
        StraightMark("W", from_datum(at, answer.datum, answer.cut), at.mm_float) for at in answer.welds_at
    ]
    return sorted(marks, key=lambda mark: mark.from_start_mm)


def from_start_mm(mark: Length, answer: PartAnswer) -> float:
    """Position in mm of a mark from the start of the bar, whatever the shop's datum."""
    if answer.datum == "finish":
        return answer.cut.mm_float - mark.mm_float
    if answer.datum == "middle":
        return answer.cut.mm_float / 2 + mark.mm_float
    return mark.mm_float


def _zone(pencil: Pencil, bend: BendAnswer, number: int, factor: float) -> None:
    """Draw the zone of a bend, hatched, with its number."""
    start, end = bend.mark.start.mm_float * factor, bend.mark.end.mm_float * factor
    for x in (start, end):
        pencil.line(((x, 0), (x, BAR_MM)), layer="marks", ink=None)
    count = max(1, int((end - start + BAR_MM) / HATCH_MM))
    for step in range(1, count):
        foot = start + (end - start + BAR_MM) * step / count
        x1, x2 = min(foot, end), max(foot - BAR_MM, start)
        pencil.line(((x1, foot - x1), (x2, foot - x2)), layer="marks", ink=None)
    middle = (start + end) / 2, BAR_MM / 2
    box = text_box(str(number), middle, pencil.size + 0.5, air=0.7)
    pencil.line(box, "none", "marks", closed=True, fill="white", ink=None)
    pencil.text(str(number), middle, size=pencil.size + 0.5, bold=True, layer="marks")


def _splices(pencil: Pencil, answer: PartAnswer, factor: float) -> None:
    """Draw splice welds: a thick stroke through the bar with a W on it."""
    for at in answer.welds_at:
        middle = at.mm_float * factor, BAR_MM / 2
        pencil.line(((middle[0], 0), (middle[0], BAR_MM)), "thick", "marks", ink=None)
        box = text_box("W", middle, pencil.size, air=0.5)
        pencil.line(box, "none", "marks", closed=True, fill="white", ink=None)
        pencil.text("W", middle, size=pencil.size, bold=True, layer="marks")


def _labels(pencil: Pencil, answer: PartAnswer, unit: Unit, factor: float) -> None:
    """Draw a stroke at each mark with its figure; figures that would overlap stand upright, pushed apart."""
    marks = marks_of(answer)
    at = [mark.from_start_mm * factor for mark in marks]
    figures = [
        show_mark(on_piece(mark.at, answer.datum, answer.cut, unit), unit).removesuffix(f" {unit}")
        for mark in marks
    ]
    if _side_by_side(at, figures, _origin_mm(answer, answer.cut.mm_float * factor), pencil.size):
        for x, shown in zip(at, figures, strict=True):
            pencil.line(((x, 0), (x, BAR_MM + TICK_MM)), "thin", "marks", ink=None)
            middle = BAR_MM + TICK_MM + LABEL_GAP_MM + pencil.size * CAP / 2
            pencil.text(shown, (x, middle), layer="marks")
        return
    wide = pencil.size * 0.7 + 2 * 0.5
    for x, place, shown in zip(at, _spread_out(at, wide), figures, strict=True):
        top: Point = (place, BAR_MM + 2 * TICK_MM)
        pencil.line(((x, 0), (x, BAR_MM + TICK_MM), top), "thin", "marks", ink=None)
        half = text_width(shown, pencil.size) / 2
        pencil.text(shown, (place, top[1] + LABEL_GAP_MM + half), angle=pi / 2, layer="marks")


def _side_by_side(at: Sequence[float], figures: Sequence[str], origin: float, size: float) -> bool:
    """Whether horizontal figures fit above their marks without touching each other or the origin's 0."""
    halves = [text_width(shown, size) / 2 for shown in figures]
    spans = [(x - half, x + half) for x, half in zip(at, halves, strict=True)]
    spans.append((origin - ORIGIN_ROOM_MM, origin + ORIGIN_ROOM_MM))
    spans.sort()
    return all(right + LABEL_GAP_MM <= left for (_, right), (left, _) in pairwise(spans))


def _origin_mm(answer: PartAnswer, width: float) -> float:
    return {"start": 0.0, "finish": width, "middle": width / 2}[answer.datum]


def _holes(pencil: Pencil, answer: PartAnswer, factor: float) -> None:
    """Draw a ring at each hole, at its position across the bar, and its kind's letter below the bar."""
    width = max(answer.section.width_mm(), answer.section.depth_mm())
    for hole in answer.hole_marks:
        x = hole.at.mm_float * factor
        y = BAR_MM * min(1.0, max(0.0, 0.5 + hole.across_mm / width))
        radius = min(HOLE_MM, max(0.5, hole.dia_mm * factor / 2))
        pencil.arc(DrawnArc((x, y), radius, 0.0, 360.0, "thin", "holes"), ink=None)
        pencil.line(((x, y - radius - 0.6), (x, y + radius + 0.6)), "thin", "holes", ink=None)
        pencil.text(hole.letter, (x, -LETTER_MM), layer="holes")


def _end_holes(pencil: Pencil, answer: PartAnswer, holes: EndHoles, factor: float) -> None:
    """Draw holes along the bar: both sides dashed to their depth, with the diameter in proportion."""
    whole = answer.cut.mm_float * factor
    across = max(answer.section.width_mm(), answer.section.depth_mm())
    for end, into, drilled in ((0.0, 1.0, holes[0]), (whole, -1.0, holes[1])):
        for hole in drilled:
            deep = hole.deep.length.mm_float * factor if hole.deep is not None else whole
            foot = end + into * max(deep, SHORTEST_MM)
            half = BAR_MM * min(1.0, drill_mm(hole) / across) / 2
            for side in (-half, half):
                y = BAR_MM / 2 + side
                pencil.line(((end, y), (foot, y)), "dashed", "holes", ink=None)
            if hole.deep is not None:
                bottom = ((foot, BAR_MM / 2 - half), (foot, BAR_MM / 2 + half))
                pencil.line(bottom, "dashed", "holes", ink=None)


def _spread_out(places: Sequence[float], wide: float) -> list[float]:
    """Positions moved to be at least `wide` apart, each as little as their order allows.

    Overlapping neighbours form a group that is centred on the mean of its members.
    """
    groups: list[list[float]] = []
    for place in places:
        groups.append([place])
        while len(groups) > 1 and _left(groups[-1], wide) < _left(groups[-2], wide) + wide * len(groups[-2]):
            last = groups.pop()
            groups[-1] += last
    return [_left(group, wide) + wide * number for group in groups for number in range(len(group))]


def _left(group: Sequence[float], wide: float) -> float:
    return sum(group) / len(group) - wide * (len(group) - 1) / 2


def _ticks(pencil: Pencil, places_mm: Sequence[float], factor: float) -> None:
    for place in places_mm:
        x = place * factor
        pencil.line(((x, BAR_MM), (x, BAR_MM + TICK_MM / 2)), "thin", "marks", ink=None)


def _origin(pencil: Pencil, answer: PartAnswer, width: float) -> None:
    """Draw the origin circle at the datum from which all marks are measured."""
    x = _origin_mm(answer, width)
    pencil.arc(DrawnArc((x, BAR_MM + TICK_MM / 2), ORIGIN_MM, 0.0, 360.0, "thick", "marks"), ink=None)
    pencil.line(((x, BAR_MM), (x, BAR_MM + TICK_MM / 2 - ORIGIN_MM)), "thin", "marks", ink=None)
    side = -1 if answer.datum == "finish" else 1
    pencil.text("0", (x + side * 3.0, BAR_MM + TICK_MM / 2 + 0.4), layer="marks")


def _tenths(length: Length) -> str:
    """Millimetres rounded to a tenth, as the bar is sawn."""
    return f"{length.mm_float:.1f}".removesuffix(".0")
