"""The centre line of a part in space, its overall size and its centre of gravity.

Float millimetres. x runs along the bar at its start, y towards the inside of the first curve, z across, so
that the result does not depend on how the part is typed. Begin at `trace`.
"""

from collections.abc import Collection, Sequence
from itertools import pairwise
from math import acos, atan2, ceil, cos, degrees, hypot, inf, pi, radians, sin

from shopquote.calc.bar.develop import Run, scroll_length_mm
from shopquote.calc.bar.moment import section_hull
from shopquote.calc.bar.plane_curves import curve_of
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis

Vector = tuple[float, float, float]

# Points on a curve are at most ARC_STEP degrees apart, and close enough that chords deviate by less than
# CHORD_SHARE of the bar's size. On coils a point lies at every quarter turn.
ARC_STEP = 10.0
CHORD_SHARE = 0.05
MOST_STEPS = 180
ROUGH_STEP = 22.5  # degrees between points that suffice to check a half-bent bar for collisions
ROUGH_POINTS = 120


@dataclass(frozen=True, slots=True)
class Stop:
    """One point of the centre line with its frame of unit vectors, at `true_mm` along the shape.

    `inward` points to the inside of the bending plane, `across` out of the plane. `roll` is the angle in
    degrees by which the section is turned about the bar against that frame; `scale` the ratio of the
    section's size to the full bar, below 1 in a taper.
    """

    point: Vector
    along: Vector
    inward: Vector
    across: Vector
    true_mm: float
    run: int
    roll: float = 0.0
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Frame:
    """Position, direction and bending plane at one point of the bar; like a `Stop` while tracing."""

    point: Vector
    along: Vector
    inward: Vector
    across: Vector
    true_mm: float
    roll: float


def trace(runs: Sequence[Run], section: Section) -> tuple[Stop, ...]:
    """Points along the centre line of the runs; ends and tangent points are exact."""
    frame = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 0.0, 0.0)
    frame = _facing_first_curve(runs, section, frame)
    if runs and runs[0].kind == "helix":
        frame = _upright(runs[0], frame)
    stops: list[Stop] = []
    seen_curve = False
    for index, run in enumerate(runs):
        if run.turn and seen_curve:
            frame = _turned(frame, run.turn)
        seen_curve = seen_curve or run.is_curve
        if run.kind in ("straight", "twist", "taper"):
            frame = _straight(stops, index, run, frame, section, last=index == len(runs) - 1)
        elif run.kind == "helix":
            if index and runs[index - 1].kind == "helix":
                frame = _same_axis(runs[index - 1], run, frame)
            frame = _helix(stops, index, run, frame, _coil_angles(run))
        elif run.kind == "scroll":
            frame = _scroll(stops, index, run, frame, _coil_angles(run))
        elif run.kind in ("ellipse", "volute"):
            frame = _ellipse(stops, index, run, frame, _coil_angles(run))
        else:
            frame = _arc(stops, index, run, frame)
    return tuple(stops)


def twists(runs: Sequence[Run], stops: Sequence[Stop]) -> tuple[tuple[int, float], ...]:
    """Each twist as the index of the stop at which it begins (it ends at the next) and its degrees."""
    return tuple(
        (number, runs[stop.run].angle)
        for number, (stop, after) in enumerate(pairwise(stops))
        if stop.run == after.run and runs[stop.run].kind == "twist"
    )


def trace_partly(runs: Sequence[Run], made: Collection[int]) -> tuple[list[Frame], list[list[Vector]]]:
    """The bar with only the runs `made` bent and the others still straight.

    Gives the frame at the start of every run, and the points of every run with both its ends. Turns of the
    bending plane are applied for curves not yet made too, since they say how the bar will lie.
    """
    frame = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 0.0, 0.0)
    frames: list[Frame] = []
    points: list[list[Vector]] = []
    for index, run in enumerate(runs):
        if run.turn:
            frame = _turned(frame, run.turn)
        frames.append(frame)
        if index in made and run.kind in _ROUGH:
            stops: list[Stop] = []
            # Coils are traced coarsely: enough points to know the space that they take.
            count = max(2, min(ROUGH_POINTS, ceil(abs(run.angle) / ROUGH_STEP)))
            angles = [abs(run.angle) * number / count for number in range(count + 1)]
            frame = _ROUGH[run.kind](stops, index, run, frame, angles)
            points.append([stop.point for stop in stops])
        elif index in made:
            steps = max(1, ceil(abs(run.angle) / ROUGH_STEP))
            total = radians(run.angle)
            points.append([_on_arc(frame, run, total * step / steps).point for step in range(steps + 1)])
            frame = _on_arc(frame, run, total)
        else:
            length = run.flat_mm if run.is_curve else run.true_mm
            end = add(frame.point, times(frame.along, length))
            points.append([frame.point, end])
            frame = Frame(end, frame.along, frame.inward, frame.across, frame.true_mm + length, frame.roll)
            frame = _turned(frame, run.torsion) if run.torsion else frame
    return frames, points


def _facing_first_curve(runs: Sequence[Run], section: Section, frame: Frame) -> Frame:
    """The frame at the start, with the first curve's inside as y: earlier turns only roll the section."""
    first = next((index for index, run in enumerate(runs) if run.is_curve), None)
    if first is None:
        return frame
    roll = -sum(run.turn for run in runs[: first + 1])
    way = -1.0 if runs[first].angle < 0 else 1.0
    lie = runs[first].bending
    if section.lopsided and lie is not None:
        # The curve itself says which face lies inside it, whichever way it goes.
        twisted = sum(run.angle for run in runs[:first] if run.kind == "twist")
        lies = section.half_turn((180.0 if way < 0 else 0.0) + section.rolled(-roll - twisted))
        roll += 180.0 if (lies >= 180.0) != (lie.roll >= 180.0) else 0.0
    return Frame(frame.point, frame.along, times(frame.inward, way), times(frame.across, way), 0.0, roll)


def _upright(helix: Run, frame: Frame) -> Frame:
    """The frame of a part that begins with a coil: z along the coil's axis."""
    one_turn = hypot(2 * pi * helix.centre_mm, helix.pitch_mm)
    c, s = 2 * pi * helix.centre_mm / one_turn, helix.pitch_mm / one_turn
    along = add(times(frame.along, c), times(frame.across, s))
    across = add(times(frame.across, c), times(frame.along, -s))
    return Frame(frame.point, along, frame.inward, across, frame.true_mm, frame.roll)


def _same_axis(before: Run, helix: Run, frame: Frame) -> Frame:
    """The frame in which a coil continues one of another pitch: on the same axis, with another slope."""
    lean = atan2(helix.pitch_mm, 2 * pi * helix.centre_mm) - atan2(before.pitch_mm, 2 * pi * before.centre_mm)
    c, s = cos(lean), sin(lean)
    along = add(times(frame.along, c), times(frame.across, s))
    across = add(times(frame.across, c), times(frame.along, -s))
    return Frame(frame.point, along, frame.inward, across, frame.true_mm, frame.roll)


def _turned(frame: Frame, turn: float) -> Frame:
    c, s = cos(radians(turn)), sin(radians(turn))
    inward = add(times(frame.inward, c), times(frame.across, s))
    across = add(times(frame.across, c), times(frame.inward, -s))
    return Frame(frame.point, frame.along, inward, across, frame.true_mm, frame.roll - turn)


def _stop(frame: Frame, run: int, scale: float = 1.0) -> Stop:
    return Stop(frame.point, frame.along, frame.inward, frame.across, frame.true_mm, run, frame.roll, scale)


def _straight(
    stops: list[Stop], index: int, run: Run, frame: Frame, section: Section, *, last: bool
) -> Frame:
    tip = run.size_mm / section.thickness_mm if run.kind == "taper" else 1.0
    # A taper at the start of the bar grows from its tip; one at the end shrinks to it.
    scale_start = tip if index == 0 and not (last and run.kind != "taper") else 1.0
    scale_end = 1.0 if scale_start != 1.0 or run.kind != "taper" else tip
    stops.append(_stop(frame, index, scale_start))
    roll = frame.roll + (run.angle if run.kind == "twist" else 0.0)
    end = Frame(
        add(frame.point, times(frame.along, run.true_mm)),
        frame.along,
        frame.inward,
        frame.across,
        frame.true_mm + run.true_mm,
        roll,
    )
    stops.append(_stop(end, index, scale_end))
    return end


def _arc(stops: list[Stop], index: int, run: Run, frame: Frame) -> Frame:
    total = radians(run.angle)
    steps = _arc_steps(run)
    turns = {total * step / steps for step in range(steps + 1)}
    turns.update(_extremes(frame, run, total))
    end = frame
    for turned in sorted(turns, key=abs):
        end = _on_arc(frame, run, turned)
        stops.append(_stop(end, index))
    return end


def _arc_steps(run: Run) -> int:
    depth = run.bending.depth_mm if run.bending else 1.0
    sag = min(1.0, CHORD_SHARE * depth / run.centre_mm)
    step = min(ARC_STEP, 2 * degrees(acos(1 - sag)))
    return min(MOST_STEPS, max(1, ceil(abs(run.angle) / step)))


def _coil_angles(run: Run) -> list[float]:
    """Angles, degrees, at which a coil is traced: every whole step and its end."""
    total = abs(run.angle)
    step = 5.0 if total <= 3600 else 15.0 if total <= 14_400 else 30.0
    angles = [step * number for number in range(ceil(total / step))]
    return [*angles, total]


def _extremes(frame: Frame, run: Run, total: float) -> list[float]:
    """Angles on an arc at which the bar is perpendicular to x, y or z: the extremes of its overall size."""
    sense = 1.0 if total > 0 else -1.0
    found = []
    for axis in range(3):
        ahead, deep = frame.along[axis], sense * frame.inward[axis]
        if hypot(ahead, deep) < 1e-12:
            continue
        angle = atan2(-ahead, deep) % pi
        while angle < abs(total) - 1e-9:
            if angle > 1e-9:
                found.append(sense * angle)
            angle += pi
    return found


def _on_arc(frame: Frame, run: Run, turned: float) -> Frame:
    """The frame after a signed turn along an arc."""
    sense = 1.0 if turned >= 0 else -1.0
    angle, radius = abs(turned), run.centre_mm
    inward = times(frame.inward, sense)
    point = add(
        frame.point, add(times(frame.along, radius * sin(angle)), times(inward, radius * (1 - cos(angle))))
    )
    along = add(times(frame.along, cos(angle)), times(inward, sin(angle)))
    side = add(times(inward, cos(angle)), times(frame.along, -sin(angle)))
    return Frame(point, along, times(side, sense), frame.across, frame.true_mm + radius * angle, frame.roll)


def _helix(stops: list[Stop], index: int, run: Run, frame: Frame, angles: Sequence[float]) -> Frame:
    radius, pitch = run.centre_mm, run.pitch_mm
    one_turn = hypot(2 * pi * radius, pitch)
    cosine, sine = 2 * pi * radius / one_turn, pitch / one_turn
    # The coil's own axis, and the direction round it, in the frame at its start.
    axis = add(times(frame.along, sine), times(frame.across, cosine))
    around = add(times(frame.along, cosine), times(frame.across, -sine))
    end = frame
    for turned in angles:
        angle = radians(turned)
        advance = pitch * angle / (2 * pi)
        point = add(
            frame.point,
            add(
                times(around, radius * sin(angle)),
                add(times(frame.inward, radius * (1 - cos(angle))), times(axis, advance)),
            ),
        )
        circling = add(times(around, cos(angle)), times(frame.inward, sin(angle)))
        inward = add(times(frame.inward, cos(angle)), times(around, -sin(angle)))
        along = add(times(circling, cosine), times(axis, sine))
        across = add(times(axis, cosine), times(circling, -sine))
        length = frame.true_mm + one_turn * angle / (2 * pi)
        end = Frame(point, along, inward, across, length, frame.roll)
        stops.append(_stop(end, index))
    return end


def _scroll(stops: list[Stop], index: int, run: Run, frame: Frame, angles: Sequence[float]) -> Frame:
    total = radians(abs(run.angle))
    sense = 1.0 if run.angle > 0 else -1.0
    start = run.centre_mm
    b = (run.centre_end_mm - start) / total
    inward = times(frame.inward, sense)
    lean = atan2(b, start)  # angle between the spiral's tangent and the circle's
    end = frame
    for turned in angles:
        angle = radians(turned)
        radius = start + b * angle
        x, y = radius * sin(angle), start - radius * cos(angle)
        ahead, deep = x * cos(lean) - y * sin(lean), x * sin(lean) + y * cos(lean)
        heading = lean + angle - atan2(b, radius)
        point = add(frame.point, add(times(frame.along, ahead), times(inward, deep)))
        along = add(times(frame.along, cos(heading)), times(inward, sin(heading)))
        side = add(times(inward, cos(heading)), times(frame.along, -sin(heading)))
        travelled = frame.true_mm
        if angle:
            travelled += scroll_length_mm(start, radius, angle / (2 * pi))
        end = Frame(point, along, times(side, sense), frame.across, travelled, frame.roll)
        stops.append(_stop(end, index))
    return end


def _ellipse(stops: list[Stop], index: int, run: Run, frame: Frame, angles: Sequence[float]) -> Frame:
    curve, end = curve_of(run), frame
    inward = times(frame.inward, 1.0 if run.angle > 0 else -1.0)
    for turned in angles:
        t = radians(turned)
        ahead, deep = curve.point(t)
        heading = curve.heading(t)
        point = add(frame.point, add(times(frame.along, ahead), times(inward, deep)))
        along = add(times(frame.along, cos(heading)), times(inward, sin(heading)))
        side = add(times(inward, cos(heading)), times(frame.along, -sin(heading)))
        side = times(side, 1.0 if run.angle > 0 else -1.0)
        end = Frame(point, along, side, frame.across, frame.true_mm + curve.length(t), frame.roll)
        stops.append(_stop(end, index))
    return end


# Curves that are traced coarsely in a half-bent bar.
_ROUGH = {"helix": _helix, "scroll": _scroll, "ellipse": _ellipse, "volute": _ellipse}


def envelope_mm(stops: Sequence[Stop], section: Section, axis: BendAxis) -> Vector:
    """Overall size in x, y and z in mm, the bar's thickness included."""
    return envelope_along(stops, section, axis, ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))


def envelope_along(
    stops: Sequence[Stop], section: Section, axis: BendAxis, directions: tuple[Vector, Vector, Vector]
) -> Vector:
    """Overall size in mm in three perpendicular directions, the bar's thickness included."""
    hull = section_hull(section, axis)
    lying = [(stop, *_across_and_out(stop)) for stop in stops]
    sizes = []
    for direction in directions:
        high, low = -inf, inf
        for stop, sideways, outward in lying:
            at, side, out = (dot(line, direction) for line in (stop.point, sideways, outward))
            share = hypot(out, side)
            high = max(high, at + stop.scale * max(x * side + y * out + r * share for x, y, r in hull))
            low = min(low, at - stop.scale * max(r * share - (x * side + y * out) for x, y, r in hull))
        sizes.append(high - low)
    return (sizes[0], sizes[1], sizes[2])


def _across_and_out(stop: Stop) -> tuple[Vector, Vector]:
    """The directions in which the section's own coordinates run at a stop: across, and outward."""
    c, s = cos(radians(stop.roll)), sin(radians(stop.roll))
    outward = add(times(stop.inward, -c), times(stop.across, -s))
    return add(times(stop.across, c), times(stop.inward, -s)), outward


def centre_of_gravity_mm(stops: Sequence[Stop]) -> Vector:
    """Centre of gravity of the bar in mm; mitres and holes are not counted."""
    total, sums = 0.0, [0.0, 0.0, 0.0]
    for first, second in pairwise(stops):
        span = second.true_mm - first.true_mm
        if span <= 0:
            continue
        area = (first.scale**2 + first.scale * second.scale + second.scale**2) / 3
        middle = _middle_of(first, second, span)
        total += span * area
        for axis in range(3):
            sums[axis] += span * area * middle[axis]
    if total <= 0:
        return stops[0].point if stops else (0.0, 0.0, 0.0)
    return (sums[0] / total, sums[1] / total, sums[2] / total)


def _middle_of(first: Stop, second: Stop, span: float) -> Vector:
    """Centroid of a short piece of curve, from the cubic through its ends and tangents."""
    chord = times(add(first.point, second.point), 0.5)
    if first.scale != second.scale:
        # Solid of a taper: its centroid lies nearer to the thick end.
        a, b = first.scale, second.scale
        share = (a * a + 2 * a * b + 3 * b * b) / (4 * (a * a + a * b + b * b))
        return add(first.point, times(add(second.point, times(first.point, -1)), share))
    bulge = times(add(first.along, times(second.along, -1)), span / 12)
    return add(chord, bulge)


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def add(a: Vector, b: Vector) -> Vector:
    """Sum of two vectors."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def times(a: Vector, factor: float) -> Vector:
    """A vector multiplied by a factor."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)
