"""Recognises curves that a drawing has as many small arcs or strokes: circles, spirals, ellipses.

Each chain of small pieces is fitted by least squares as a circle, a scroll and a volute, a closed one as a
ring and an ellipse. A fit that deviates by more than `FIT_MM` anywhere is rejected. Begin at `with_curves`
and `is_closed_curve`.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, sin
from typing import TYPE_CHECKING, Any, TypeAlias

from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.pieces import ChainPiece, CurveKind, DrawnCurve

if TYPE_CHECKING:
    import numpy

FIT_MM = 0.02  # greatest deviation of a point from a fitted curve
SMALL_DEG = 12.0  # largest sweep of an arc, or turn between strokes, that may be one of many in a curve
STEADY_DEG = 0.3  # largest kink between small arcs of one curve
# A smaller turn between strokes comes from the rounding of coordinates: they are one straight line.
LEAST_TURN_DEG = 0.02
# Least number of strokes: fewer than about twice a spiral's unknowns (centre, radius, growth) fit by chance.
FEWEST = 8
# Least growth of a spiral's radius; one that grows less is taken as a circle.
LEAST_GROWTH_MM = 0.05
# A stroke longer than its neighbour by this ratio is a leg next to the curve, not part of it.
LEG_OVER_STROKE = 2.5
_STEPS = 60

Values: TypeAlias = "numpy.ndarray[Any, numpy.dtype[numpy.float64]]"


def with_curves(run: Sequence[ChainPiece]) -> list[ChainPiece]:
    """The run with each chain of small pieces that fits a curve replaced by that curve or arc."""
    found: list[ChainPiece] = []
    for chain in _chains(run):
        one = _fitted(chain) if len(chain) >= FEWEST else None
        found += [one] if one else chain
    return found


def _chains(run: Sequence[ChainPiece]) -> Iterator[list[ChainPiece]]:
    """The run divided into chains of small pieces that turn in the same sense, and other single pieces."""
    chain: list[ChainPiece] = []
    for piece in run:
        if chain and not _goes_on(chain, piece):
            yield from _without_legs(chain)
            chain = []
        chain.append(piece)
    yield from _without_legs(chain)


def _goes_on(chain: Sequence[ChainPiece], piece: ChainPiece) -> bool:
    before = chain[-1]
    if piece.is_straight != before.is_straight or not (_is_small(piece) and _is_small(before)):
        return False
    turn = before.turn_to(piece)
    if not piece.is_straight:
        return abs(turn) < STEADY_DEG and piece.sweep * before.sweep > 0
    way = chain[0].turn_to(chain[1]) if len(chain) > 1 else turn
    return LEAST_TURN_DEG < abs(turn) < SMALL_DEG and turn * way > 0


def _is_small(piece: ChainPiece) -> bool:
    return piece.curve is None and abs(piece.sweep) <= SMALL_DEG


def _without_legs(chain: list[ChainPiece]) -> Iterator[list[ChainPiece]]:
    """A chain of strokes with the legs at its beginning and end split off."""
    first, last = 0, len(chain)
    if len(chain) > FEWEST and chain[0].is_straight:
        first += chain[0].length > LEG_OVER_STROKE * chain[1].length
        last -= chain[-1].length > LEG_OVER_STROKE * chain[-2].length
    for part in (chain[:first], chain[first:last], chain[last:]):
        if part:
            yield part


def points_of(chain: Sequence[ChainPiece]) -> tuple[Point, ...]:
    """Points on the curve of a chain of small pieces: their ends, and the middles of arcs."""
    points = [chain[0].p]
    for piece in chain:
        points += [piece.on_arc(0.5)] if piece.centre else []
        points.append(piece.q)
    return tuple(points)


# --- least squares -------------------------------------------------------------------------------


def _least(off: Callable[[Values], Values], begin: Sequence[float]) -> tuple[list[float], float]:
    """The values that minimise the squares of `off` (Levenberg-Marquardt), and its greatest residual."""
    import numpy as np

    at, damping = np.array(begin, dtype=float), 1e-3
    left = off(at)
    for _ in range(_STEPS):
        steps = 1e-6 * np.maximum(1.0, np.abs(at))
        slopes = np.column_stack(
            [(off(at + step) - off(at - step)) / (2 * step[n]) for n, step in enumerate(np.diag(steps))]
        )
        square = slopes.T @ slopes
        try:
            move = np.linalg.solve(square + damping * np.diag(np.diag(square) + 1e-12), -slopes.T @ left)
        except np.linalg.LinAlgError:
            break
        tried = off(at + move)
        if not np.isfinite(tried).all() or tried @ tried > left @ left:
            damping *= 10
            if damping > 1e9:
                break
            continue
        at, left, damping = at + move, tried, damping / 10
        if np.abs(move).max() < 1e-10:
            break
    return [float(value) for value in at], float(np.abs(left).max())


def _middle(points: Sequence[Point]) -> Point:
    """The median of the centres of curvature, which lie around a spiral's centre: the start of the fit."""
    found = []
    for (ax, ay), (bx, by), (cx, cy) in zip(points[0:-4], points[2:-2], points[4:], strict=True):
        d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
        if d:
            a, b, c = ax**2 + ay**2, bx**2 + by**2, cx**2 + cy**2
            found.append(
                ((a * (by - cy) + b * (cy - ay) + c * (ay - by)) / d,
                 (a * (cx - bx) + b * (ax - cx) + c * (bx - ax)) / d)
            )  # fmt: skip
    xs, ys = zip(*found, strict=True) if found else ((points[0][0],), (points[0][1],))
    return sorted(xs)[len(xs) // 2], sorted(ys)[len(ys) // 2]


# --- open curves ---------------------------------------------------------------------------------


def _fitted(chain: Sequence[ChainPiece]) -> ChainPiece | None:
    """The simplest arc or curve that fits a chain; None where none fits or nothing is gained."""
    import numpy as np

    points = points_of(chain)
    way = 1.0 if (chain[0].sweep or chain[0].turn_to(chain[1])) > 0 else -1.0
    x, y = np.array(points).T
    middle = _middle(points)

    def polar(at: Values) -> tuple[Values, Values]:
        dx, dy = x - at[0], y - at[1]
        return np.hypot(dx, dy), way * np.unwrap(np.arctan2(dy, dx))

    def off_circle(at: Values) -> Values:
        r: Values = polar(at)[0]
        return r - float(at[2])

    def off_scroll(at: Values) -> Values:
        r, t = polar(at)
        off: Values = r - (at[2] + at[3] * (t - t[0]))
        return off

    def off_volute(at: Values) -> Values:
        r, t = polar(at)
        off: Values = at[2] * (np.log(np.maximum(r, 1e-9) / max(at[2], 1e-9)) - at[3] * (t - t[0]))
        return off

    r, t = polar(np.array(middle))
    total = float(t[-1] - t[0])
    if total <= 0:
        return None
    (cx, cy, _), left = _least(off_circle, [*middle, float(r.mean())])
    if left < FIT_MM:
        return _as_arc(chain, (cx, cy), polar(np.array([cx, cy]))[1], way)
    growth = float(r[-1] - r[0]) / total
    tries: tuple[tuple[CurveKind, Callable[[Values], Values], float], ...] = (
        ("scroll", off_scroll, growth),
        ("volute", off_volute, growth / float(r.mean())),
    )
    fits = [(*_least(off, [*middle, float(r[0]), b]), kind) for kind, off, b in tries]
    (cx, cy, start, b), left, kind = min(fits, key=lambda fit: fit[1])
    if left >= FIT_MM or start <= 0:
        return None
    r, t = polar(np.array([cx, cy]))
    whole = float(t[-1] - t[0])
    finish = start + b * whole if kind == "scroll" else start * float(np.exp(b * whole))
    if finish <= 0 or abs(finish - start) < LEAST_GROWTH_MM or (np.diff(t) <= 0).any():
        return None
    headings = tuple(
        _heading(points[end], (cx, cy), b if kind == "scroll" else b * radius, way)
        for end, radius in ((0, start), (-1, finish))
    )
    curve = DrawnCurve(kind, points, start, finish, way * whole / (2 * pi), (headings[0], headings[1]))
    return ChainPiece(points[0], points[-1], None, degrees(way * whole), curve)


def _heading(point: Point, middle: Point, grows: float, way: float) -> float:
    """Direction of travel in radians on a spiral whose radius grows by `grows` mm per radian."""
    dx, dy = point[0] - middle[0], point[1] - middle[1]
    r, at = hypot(dx, dy), atan2(dy, dx)
    return atan2(grows * sin(at) + r * way * cos(at), grows * cos(at) - r * way * sin(at))


def _as_arc(chain: Sequence[ChainPiece], centre: Point, t: Values, way: float) -> ChainPiece | None:
    """Strokes on a circle as one arc; arcs about one centre are joined elsewhere."""
    if not chain[0].is_straight:
        return None
    return ChainPiece(chain[0].p, chain[-1].q, centre, degrees(way * float(t[-1] - t[0])))


# --- closed curves -------------------------------------------------------------------------------


def closed_axes(points: Sequence[Point], beside: float) -> tuple[float, float] | None:
    """Both diameters in mm of the ellipse to which a closed curve is parallel, `beside` mm outside; or None.

    The first is in the direction of the bar at its start.
    """
    import numpy as np

    x, y = np.array(points[:-1] if points[0] == points[-1] else points).T

    def off(at: Values) -> Values:
        cx, cy, lean, a, b = at
        c, s = np.cos(lean), np.sin(lean)
        u, v = (x - cx) * c + (y - cy) * s, (y - cy) * c - (x - cx) * s
        t = np.arctan2(a * v, b * u)
        for _ in range(12):  # Newton's method for the nearest point on the ellipse
            ct, st = np.cos(t), np.sin(t)
            slope = (u - a * ct) * -a * st + (v - b * st) * b * ct
            bend = -((a * st) ** 2) - (b * ct) ** 2 - (u - a * ct) * a * ct - (v - b * st) * b * st
            t = t - slope / np.where(np.abs(bend) > 1e-9, bend, -1e-9)
        ct, st = np.cos(t), np.sin(t)
        square = np.hypot(b * ct, a * st)
        from_it: Values = ((u - a * ct) * b * ct + (v - b * st) * a * st) / square - beside
        return from_it

    middle = float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2
    shape = np.cov(x - middle[0], y - middle[1])
    _, axes = np.linalg.eigh(shape)
    long = axes[:, 1]
    lean = float(np.arctan2(long[1], long[0]))
    ways = [(np.cos(lean + turn), np.sin(lean + turn)) for turn in (0.0, pi / 2)]
    reach = [float(np.abs((x - middle[0]) * c + (y - middle[1]) * s).max()) for c, s in ways]
    begin = [*middle, lean, reach[0] - beside, reach[1] - beside]
    if min(begin[3:]) <= 0:
        return None
    (cx, cy, lean, a, b), left = _least(off, begin)
    if left >= FIT_MM or min(a, b) <= 0:
        return None
    (px, py), c, s = points[0], cos(lean), sin(lean)
    along, aside = abs((px - cx) * c + (py - cy) * s), abs((py - cy) * c - (px - cx) * s)
    # It begins in the middle of a side: on one of the axes, and runs along the other.
    first_is_a = along / (a + beside) <= aside / (b + beside)
    return (2 * a, 2 * b) if first_is_a else (2 * b, 2 * a)


def is_closed_curve(run: Sequence[ChainPiece]) -> bool:
    """Whether a closed run consists of small pieces only that turn in one sense."""
    return len(run) >= 2 * FEWEST and all(
        _goes_on([before], after) for before, after in pairwise((*run, run[0]))
    )
