"""Small bends that approximate a curve: position on the straight bar, angle, and deviation from the curve.

A curve is divided into as many intervals as it has small bends. Each bend is at the intersection of the
tangents at the ends of its interval, so the polygon follows any curvature. Float mm, degrees. Begin at
`small_bends`.
"""

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import asin, atan2, ceil, cos, degrees, hypot, pi, radians, sin, sqrt, tan

from shopquote.calc.bar.benders import Sharing
from shopquote.calc.bar.develop import Run, hits_for_gap
from shopquote.calc.bar.plane_curves import PlaneCurve, curve_of
from shopquote.calc.bar.shapes import MOST_HITS
from shopquote.calc.frozen import dataclass
from shopquote.errors import CannotMakeError

# Rounds of finding the number of bends; it converges in a few, as the gap falls with the square of the
# number.
MOST_TRIES = 40


@dataclass(frozen=True, slots=True)
class SmallBends:
    """The small bends of one curve, in order along the bar.

    centres_mm: positions on the straight bar from the curve's start; steps_mm: straight bar of each interval;
    angles: signed degrees; turn: degrees by which the plane is turned between neighbours, half of it before
    the first and after the last; radii_mm: centre-line radius of the curve at each; gains_mm: difference of
    each interval's centre line and its straight bar.
    """

    centres_mm: tuple[float, ...]
    steps_mm: tuple[float, ...]
    angles: tuple[float, ...]
    radii_mm: tuple[float, ...]
    gains_mm: tuple[float, ...]
    turn: float = 0.0


@lru_cache(maxsize=1024)
def small_bends(run: Run, count: int, sharing: Sharing) -> SmallBends:
    """A curve divided into `count` small bends, with equal steps along the bar or equal angles."""
    curve = curve_of(run)
    edges = _edges(curve, count, sharing)
    sense = -1.0 if run.angle < 0 else 1.0
    stretch = run.true_mm / curve.length(curve.total)  # a coil is longer than its circle in plan
    centres, steps, angles, radii, gains = [], [], [], [], []
    for low, high in pairwise(edges):
        true_low, true_high = stretch * curve.length(low), stretch * curve.length(high)
        flat_low, flat_high = flat_at(run, true_low), flat_at(run, true_high)
        share = _where_tangents_meet(curve, low, high)
        steps.append(flat_high - flat_low)
        centres.append(flat_low + share * (flat_high - flat_low))
        angles.append(sense * degrees(curve.heading(high) - curve.heading(low)))
        radii.append(curve.radius(low + share * (high - low)) * stretch * stretch)
        gains.append(true_high - true_low - steps[-1])
    bends = SmallBends(tuple(centres), tuple(steps), tuple(angles), tuple(radii), tuple(gains))
    return _of_coil(run, bends) if run.kind == "helix" else bends


def _edges(curve: PlaneCurve, count: int, sharing: Sharing) -> list[float]:
    if sharing == "equal angles":
        whole = curve.heading(curve.total)
        inner = [curve.at_heading(whole * number / count) for number in range(1, count)]
    else:
        whole = curve.length(curve.total)
        inner = [curve.at_length(whole * number / count) for number in range(1, count)]
    return [0.0, *inner, curve.total]


def _where_tangents_meet(curve: PlaneCurve, low: float, high: float) -> float:
    """Share of a stretch at which one corner leads from its first tangent into its last."""
    turned = curve.heading(high) - curve.heading(low)
    if turned >= 0.99 * pi:
        return 0.5
    (x0, y0), (x1, y1) = curve.point(low), curve.point(high)
    lean = curve.heading(low)
    ahead = (x1 - x0) * cos(lean) + (y1 - y0) * sin(lean)
    aside = (y1 - y0) * cos(lean) - (x1 - x0) * sin(lean)
    last = aside / sin(turned)
    first = ahead - last * cos(turned)
    return first / (first + last)


def flat_at(run: Run, true_mm: float) -> float:
    """Place on the straight bar of a place on the finished centre line, both from the run's start, mm."""
    if not run.flat_at:
        return run.flat_mm * true_mm / run.true_mm
    at = min(max(1, bisect_right(run.flat_at, (true_mm, 0.0))), len(run.flat_at) - 1)
    (low, flat_low), (high, flat_high) = run.flat_at[at - 1], run.flat_at[at]
    return flat_low + (true_mm - low) * (flat_high - flat_low) / (high - low)


def _of_coil(run: Run, bends: SmallBends) -> SmallBends:
    """Angle and turn of a coil's small bends, so that after each the bar lies as the coil does.

    Half a turn, bend, half a turn must be the coil's own screw: rotation w about an axis at the slope
    l. As quaternions: sin(f/2) = sin(w/2) cos l, cos(f/2) sin(g/2) = sin(w/2) sin l. Source: derived.
    """
    slope = atan2(run.pitch_mm, 2 * pi * run.centre_mm)
    screw = radians(abs(run.angle)) / len(bends.angles)
    bend = 2 * asin(sin(screw / 2) * cos(slope))
    turn = 2 * asin(min(1.0, sin(screw / 2) * sin(slope) / cos(bend / 2)))
    angles = tuple(degrees(bend) for _ in bends.angles)
    return SmallBends(bends.centres_mm, bends.steps_mm, angles, bends.radii_mm, bends.gains_mm, degrees(turn))


def gap_mm(run: Run, bends: SmallBends, sharing: Sharing, left_mm: Sequence[float] | None = None) -> float:
    """How far the small bends' shape lies off the curve at its worst, the bar set at the curve's start, mm.

    `left_mm`: centre-line radius that each small bend is left with; sharp corners where it is None. Round
    ones carry a coil on along its axis by r (2 tan(f/2) - f) sin(slope) each, climbing more
    steeply between two directions than along either (derived); None takes the coil's own radius for r.
    """
    curve = curve_of(run)
    edges = _edges(curve, len(bends.angles), sharing)
    x = y = lean = worst = 0.0
    for number, (low, high) in enumerate(pairwise(edges)):
        turned = curve.heading(high) - curve.heading(low)
        whole = curve.length(high) - curve.length(low)
        share = _where_tangents_meet(curve, low, high)
        radius = left_mm[number] if left_mm is not None else 0.0
        before, after = share * whole - radius * turned / 2, (1 - share) * whole - radius * turned / 2
        x, y = x + before * cos(lean), y + before * sin(lean)
        for part in (0.5, 1.0):
            half = turned / 2
            chord = 2 * radius * sin(half / 2)
            x, y = x + chord * cos(lean + half / 2), y + chord * sin(lean + half / 2)
            lean += half
            if part == 1.0:
                x, y = x + after * cos(lean), y + after * sin(lean)
            ax, ay = curve.point(high if part == 1.0 else low + share * (high - low))
            worst = max(worst, hypot(x - ax, y - ay))
    if run.kind == "helix":
        climb = sin(atan2(run.pitch_mm, 2 * pi * run.centre_mm))
        for radius, angle in zip(left_mm or bends.radii_mm, bends.angles, strict=True):
            turned = radians(abs(angle))
            worst += radius * (2 * tan(turned / 2) - turned) * climb
    return worst


@lru_cache(maxsize=1024)
def hits_within(run: Run, allowed_mm: float, sharing: Sharing, where: str) -> int:
    """Fewest small bends, about, that keep a curve within `allowed_mm` of the one asked for.

    Raises:
        CannotMakeError: it takes more than `MOST_HITS`.
    """
    curve = curve_of(run)
    least = hits_for_gap(
        degrees(curve.heading(curve.total)), curve.length(curve.total) / curve.total, allowed_mm
    )
    # Below half a turn each a corner still leads from one tangent to the next.
    count = max(least, ceil(curve.heading(curve.total) / (0.9 * pi)) if least > 1 else 1)
    for _ in range(MOST_TRIES):
        if count > MOST_HITS:
            break
        off = gap_mm(run, small_bends(run, count, sharing), sharing)
        if off <= allowed_mm * (1 + 1e-9):
            return count
        # The gap falls with the square of the count.
        count = max(count + 1, int(count * sqrt(off / allowed_mm)))
    raise CannotMakeError(
        f"{where}: word {run.word}: that near to its curve it takes {count} small bends; at most "
        f"{MOST_HITS}.",
        hint="Allow a larger gap from the curve.",
    )
