"""A picture of each bending step: the bar before the pull on its former, and the swinging side after it.

The held end lies to the left and the bar swings to the side to which its bender bends, so that turning it
over or end for end is visible. Long straights are shortened. Begin at `draw_pulls`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import cos, pi, radians, sin

from shopquote.calc.bar.centreline import Frame, Vector, times, trace_partly
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.part_answer import BendAnswer, OrderStep, PartAnswer
from shopquote.calc.drawing.model import SAME_PLACE_MM, Drawing, DrawnArc, Point
from shopquote.calc.drawing.pencil import Pencil, away
from shopquote.calc.drawing.straight import from_start_mm
from shopquote.calc.frozen import dataclass

ROOM_MM = (50.0, 24.0)
# Least radius in mm on paper at which the former is drawn; shares of the longest straight to which straights
# are shortened, tried in turn until it is.
LEAST_FORMER_MM = 2.6
SHARES = (1.0, 0.6, 0.4, 0.25, 0.15, 0.08, 0.04, 0.02, 0.01)
THINNEST_MM = 1.0
PIN_MM = 1.2
STOP_MM = 5.0
SWUNG_MM = 9.0


@dataclass(frozen=True, slots=True)
class PullPicture:
    """The picture of one step of the bending order, with its bend's number from 1."""

    bend: int
    step: OrderStep
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class _Seen:
    """The view of a bend: origin where it begins, x along the bar to the swinging side, y to its inside."""

    origin: Vector
    along: Vector
    inward: Vector
    side: float

    def at(self, point: Vector) -> Point:
        x, y, z = (a - b for a, b in zip(point, self.origin, strict=True))
        across = x * self.inward[0] + y * self.inward[1] + z * self.inward[2]
        return x * self.along[0] + y * self.along[1] + z * self.along[2], across * self.side


def draw_pulls(
    answer: PartAnswer, order: Sequence[OrderStep], *, size: float = 3.5, room: Point = ROOM_MM
) -> list[PullPicture]:
    """A picture for each bend that a bender makes, in the order of making; the bar keeps within `room` mm."""
    curves = [index for index, run in enumerate(answer.runs) if run.is_curve]
    made: set[int] = set()
    pictures = []
    for step in order:
        bend, index = answer.bends[step.bend - 1], curves[step.bend - 1]
        if bend.bender is not None and not bend.unmade:
            drawing = _draw(answer, step, bend, index, frozenset(made), size, room)
            pictures.append(PullPicture(step.bend, step, drawing))
        made.add(index)
    return pictures


def _draw(
    answer: PartAnswer,
    step: OrderStep,
    bend: BendAnswer,
    index: int,
    made: frozenset[int],
    size: float,
    room: Point,
) -> Drawing:
    seen, lines, factor = _fitted(answer.runs, step, bend, index, made, room)
    flat = [(x * factor, y * factor) for line in lines for x, y in map(seen.at, line)]
    run = answer.runs[index]
    inner = run.bending.centroid_mm if run.bending else 0.0
    depth = run.bending.depth_mm if run.bending else 0.0
    half = max(depth * factor, THINNEST_MM) / 2
    pencil = Pencil(factor, size)
    _bar(pencil, flat, half)
    radius = _held_mm(bend) * factor
    centre = (
        _zone(bend) * factor / 2 if step.works_by in ("ram", "rolls") else 0.0,
        seen.side * (radius + half),
    )
    pencil.arc(DrawnArc(centre, radius, 0.0, 360.0, "thick", "marks"))
    pencil.line((away(centre, 0, -1.0), away(centre, 0, 1.0)), layer="marks")
    pencil.line((away(centre, pi / 2, -1.0), away(centre, pi / 2, 1.0)), layer="marks")
    for x in _pins(step, radius, _zone(bend) * factor):
        spot = (x, -seen.side * (half + PIN_MM))
        pencil.arc(DrawnArc(spot, PIN_MM, 0.0, 360.0, "thin", "marks"))
    _swung(pencil, bend, seen.side, radius + inner * factor)
    _mark(pencil, answer, step, bend, seen, factor, half)
    _ends(pencil, step, bend, (flat[0], flat[-1]), half)
    return pencil.done()


def _fitted(
    runs: Sequence[Run], step: OrderStep, bend: BendAnswer, index: int, made: frozenset[int], room: Point
) -> tuple[_Seen, list[list[Vector]], float]:
    """The half-bent bar and its scale, with straights shortened until bar and former are visible."""
    longest = max((run.true_mm for run in runs if not run.is_curve), default=1.0)
    for share in SHARES:
        short = [_shortened(run, longest * share) for run in runs]
        frames, lines = trace_partly(short, made)
        seen = _seen(frames[index], short[index], lines[index], step)
        xs, ys = zip(*(seen.at(point) for line in lines for point in line), strict=True)
        wide, tall = max(xs) - min(xs), max(ys) - min(ys) + 4 * _held_mm(bend)
        factor = min(room[0] / max(wide, 1e-6), room[1] / max(tall, 1e-6), 1.0)
        if _held_mm(bend) * factor >= LEAST_FORMER_MM:
            break
    return seen, lines, factor


def _shortened(run: Run, most_mm: float) -> Run:
    if run.is_curve or run.true_mm <= most_mm:
        return run
    return replace(run, true_mm=most_mm, flat_mm=most_mm)


def _seen(frame: Frame, run: Run, points: Sequence[Vector], step: OrderStep) -> _Seen:
    sense = 1.0 if run.angle >= 0 else -1.0
    inward = times(frame.inward, sense)
    # A bender that bends both ways may swing the bar to the right; any other always swings it one way.
    side = -1.0 if step.way == "right" else 1.0
    if step.end == "finish":
        return _Seen(points[-1], times(frame.along, -1.0), inward, side)
    return _Seen(frame.point, frame.along, inward, side)


def _held_mm(bend: BendAnswer) -> float:
    """Inside radius in mm under load: the former's, or the one needed where no former is chosen."""
    return (bend.former_radius or bend.held_radius or bend.inside_radius).mm_float


def _zone(bend: BendAnswer) -> float:
    return bend.mark.end.mm_float - bend.mark.start.mm_float


def _bar(pencil: Pencil, points: Sequence[Point], half: float) -> None:
    """Draw the bar along its centre line, `half` its depth to each side."""
    kept = [points[0]]
    for point in points[1:]:
        if abs(point[0] - kept[-1][0]) + abs(point[1] - kept[-1][1]) > SAME_PLACE_MM:
            kept.append(point)
    if len(kept) < 2:
        return
    sides = ([], [])  # type: tuple[list[Point], list[Point]]
    for number, point in enumerate(kept):
        before, after = kept[max(number - 1, 0)], kept[min(number + 1, len(kept) - 1)]
        x, y = after[0] - before[0], after[1] - before[1]
        long = (x * x + y * y) ** 0.5 or 1.0
        for edge, way in zip(sides, (half, -half), strict=True):
            edge.append((point[0] - y / long * way, point[1] + x / long * way))
    pencil.line([*sides[0], *reversed(sides[1])], "thin", closed=True, fill="grey", ink=None)
    pencil.keep(
        ((a, b, d, c), "part")
        for a, b, c, d in zip(sides[0], sides[0][1:], sides[1], sides[1][1:], strict=False)
    )


def _pins(step: OrderStep, radius: float, zone: float) -> Iterator[float]:
    """Positions where the arm's roller, the follower or the rests bear on the outside of the bar."""
    if step.works_by in ("ram", "rolls"):
        yield from (zone / 2 - radius - 4.0, zone / 2 + radius + 4.0)
    else:
        yield max(2.0, radius * 0.7)


def _swung(pencil: Pencil, bend: BendAnswer, side: float, radius: float) -> None:
    """Draw the swinging side at the end of the pull, dashed, with the angle to pull to."""
    over = abs(bend.hit_over_bend if bend.hits > 1 else bend.over_bend_to)
    if over > 300:
        # Nearly a whole turn: the swinging side would lie on the held one.
        return
    count = max(2, int(over / 6))
    arc = [
        (radius * sin(t), side * radius * (1 - cos(t)))
        for t in (radians(over) * step / count for step in range(count + 1))
    ]
    far = away(arc[-1], side * radians(over), SWUNG_MM)
    pencil.line((*arc, far), "dashed", "marks")


def _mark(
    pencil: Pencil,
    answer: PartAnswer,
    step: OrderStep,
    bend: BendAnswer,
    seen: _Seen,
    factor: float,
    half: float,
) -> None:
    """The stroke at the bender's mark across the bar."""
    if bend.bender_mark is None:
        return
    from_start = from_start_mm(bend.bender_mark, answer)
    begins = bend.mark.start.mm_float
    x = (from_start - begins if step.end != "finish" else bend.mark.end.mm_float - from_start) * factor
    # Marks further off would lie outside the picture.
    if abs(x) < ROOM_MM[0] / 2:
        pencil.line(((x, -half - 2.2), (x, half + 2.2)), "thick", "marks")


def _ends(pencil: Pencil, step: OrderStep, bend: BendAnswer, ends: tuple[Point, Point], half: float) -> None:
    """Label the end of the bar that is held, and draw the stop where there is one."""
    held = ends[0] if step.end != "finish" else ends[1]
    pencil.letter_at(step.end, held, -pi / 2, half + 3.2)
    if bend.stop is not None:
        stops_at = ends[0] if bend.stop_end == "start" else ends[1]
        way = -1 if stops_at[0] <= 0 else 1
        x = stops_at[0] + way * 0.5
        pencil.line(((x, stops_at[1] - STOP_MM / 2), (x, stops_at[1] + STOP_MM / 2)), "thick", "marks")
        pencil.line(((x, stops_at[1]), (x + way * 2.0, stops_at[1])), "thick", "marks")
