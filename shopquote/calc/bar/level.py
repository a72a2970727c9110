"""Overall size of a part lying level on its longest leg, for bench, box and galvanising bath.

Float mm. Begin at `level_envelope_mm`.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from math import cos, radians, sin

from shopquote.calc.bar.centreline import Stop, Vector, add, dot, envelope_along, times
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import BendAxis

STEP = 3.0  # degrees between the first angles tried
# Precision in degrees: it changes the height of a part 1 m wide by 0.002 mm, which no sheet shows.
FINEST = 1e-4
# A coil has thousands of points, and every angle tried looks at all that are kept.
MOST_POINTS = 240


def level_envelope_mm(runs: Sequence[Run], stops: Sequence[Stop], section: Section, axis: BendAxis) -> Vector:
    """Length along the longest leg, width and height in mm; the part is rolled about it to lie lowest.

    A ring, coil or scroll without a leg is laid along its greatest extent.
    """
    thinned = stops[:: max(1, len(stops) // MOST_POINTS)]
    legs = [index for index, run in enumerate(runs) if run.kind == "straight" and run.true_mm > 0]
    if legs:
        longest = max(legs, key=lambda index: runs[index].true_mm)
        frame = next(stop for stop in stops if stop.run == longest)
    else:
        frame = _along_its_greatest(thinned)
    seen = {(dot(stop.point, frame.inward), dot(stop.point, frame.across)) for stop in thinned}

    def height(turned: float) -> float:
        c, s = cos(radians(turned)), sin(radians(turned))
        levels = [y * c + z * s for y, z in seen]
        return max(levels) - min(levels)

    # Begin with the direction across, in which a plane part lies flat, so that ties keep it.
    best = 90.0
    # A straight lies as low however it is turned, and a part of one plane nowhere lower than level.
    if len(seen) > 1 and round(height(best), 9) > 0:
        tries = [best + STEP * number for number in range(int(180 / STEP))]
        best = min(tries, key=lambda turned: round(height(turned), 6))
        step = STEP
        while step > FINEST:
            step /= 2
            best = min((best, best - step, best + step), key=lambda turned: round(height(turned), 9))
    # The line alone does not know which way the bar is thin: a straight lies on its wide face.
    return min((_sizes(stops, section, axis, frame, turned) for turned in (best, best + 90.0)), key=_lowest)


def _along_its_greatest(stops: Sequence[Stop]) -> Stop:
    """A stop whose frame runs between the two points that lie furthest apart."""
    first, last = max(combinations(stops, 2), key=lambda pair: round(_apart(*pair), 6))
    length = _apart(first, last) ** 0.5
    along = times(add(last.point, times(first.point, -1.0)), 1 / length)
    # Any side will do, for the part is rolled about that line: that of the frame least along it.
    side = min((first.inward, first.across, first.along), key=lambda axis: abs(dot(axis, along)))
    flat = add(side, times(along, -dot(side, along)))
    inward = times(flat, 1 / dot(flat, flat) ** 0.5)
    return replace(first, along=along, inward=inward, across=cross(along, inward))


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _apart(first: Stop, last: Stop) -> float:
    between = add(last.point, times(first.point, -1.0))
    return dot(between, between)


def _lowest(sizes: Vector) -> float:
    return round(sizes[2], 6)


def _sizes(stops: Sequence[Stop], section: Section, axis: BendAxis, frame: Stop, turned: float) -> Vector:
    c, s = cos(radians(turned)), sin(radians(turned))
    up = add(times(frame.inward, c), times(frame.across, s))
    aside = add(times(frame.inward, s), times(frame.across, -c))
    return envelope_along(stops, section, axis, (frame.along, aside, up))
