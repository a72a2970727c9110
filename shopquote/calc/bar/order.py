"""The order in which bends are made so that the bar is never trapped.

At each bend one side of the bar is held and the other swings; the legs already bent
must keep clear of former and bench, and the swinging side of the held one. Float mm. The
bender is seen with its former standing up: it bends to the left, x along the bar towards
the swinging side, y to the inside of the bend, z up. Begin at `bend_order`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, cos, radians, sin
from typing import Literal

from shopquote.calc.bar.answers import OrderStep
from shopquote.calc.bar.benders import Bender
from shopquote.calc.bar.centreline import Frame, Vector, dot, trace_partly
from shopquote.calc.bar.collide import Segment, segment_distance
from shopquote.calc.bar.develop import Run

End = Literal["start", "finish"]

SWEEP_STEP = 15.0  # degrees between the places at which a swinging leg is looked at
MOST_LOOKS = 24
MOST_TRIES = 150
MOST_ORDERED = 60
MOST_SEARCHED = 12  # bends; longer parts are tried in the usual orders only
NEAR = 0.98  # share of the bar's depth at which two legs touch


@dataclass(frozen=True, slots=True)
class Step:
    """One curve as a step of the order: its run, the bender that makes it and how far it is pulled.

    `torsion`: degrees that the bar is turned in the bender while a coil is made.
    """

    run: int
    bender: Bender
    former_mm: float
    pull_to: float
    depth_mm: float
    how: str = "former"
    torsion: float = 0.0

    @property
    def works_by(self) -> str:
        """How the bender works here: its own way, unless the curve goes through its rolls."""
        return "rolls" if self.how == "rolls" else "hand" if self.how == "by hand" else self.bender.works_by


@dataclass(frozen=True, slots=True)
class Order:
    """The steps in order, or none and the reason."""

    steps: tuple[OrderStep, ...]
    trapped_by: str = ""
    note: str = ""


@dataclass
class _Search:
    runs: Sequence[Run]
    steps: Sequence[Step]
    laps: bool
    known: dict[tuple[int, int, End], str] = field(default_factory=dict)
    tries: int = 0

    def trap(self, made: int, step: int, end: End) -> str:
        """What a bend would run into with the bends in `made` already there; '' when clear."""
        key = (made, step, end)
        if key not in self.known:
            self.tries += 1
            self.known[key] = self._trap(made, step, end)
        return self.known[key]

    def _trap(self, made: int, step: int, end: End) -> str:
        if not made or self.steps[step].how == "by hand":
            return ""
        done = {self.steps[other].run for other in range(len(self.steps)) if made >> other & 1}
        frames, points = trace_partly(self.runs, done)
        this = self.steps[step]
        held, swung = _sides(self.runs, this, frames, points, end)
        ways = (1.0, -1.0) if this.bender.both_ways else (1.0,)
        reasons = [_hit(this, self.runs[this.run], held, swung, up, self.laps) for up in ways]
        return min(reasons, key=len)


def bend_order(runs: Sequence[Run], steps: Sequence[Step], *, laps: bool = False) -> Order:
    """An order that keeps the bar clear: the usual ones first, then a search.

    `laps`: the finished bar lies along itself, so it is sprung aside anyway and its own
    legs are not held against each other. The first clear order with fewest turns end for end
    and flips among the usual ones is taken.
    """
    if not steps:
        return Order(())
    if len(steps) > MOST_ORDERED:
        return Order((), note=f"more than {MOST_ORDERED} bends: no order is worked out")
    search = _Search(runs, steps, laps)
    usual = _usual_orders(len(steps))
    if all(step.works_by == "wipe" for step in steps):
        # The clamped end does not swing: with the start clamped each mark lies where its bend starts.
        usual[:2] = usual[1::-1]
    for order in sorted(usual, key=lambda order: _effort(runs, steps, order)):
        if _is_clear(search, order):
            return Order(_told(order, runs, steps))
    if len(steps) <= MOST_SEARCHED:
        found = _searched(search, 0, set())
        if found is not None:
            return Order(_told(found, runs, steps))
    return Order((), _first_trap(search, _usual_orders(len(steps))[0]))


Sequenced = list[tuple[int, End]]


def _usual_orders(count: int) -> list[Sequenced]:
    forward, backward = list(range(count)), list(range(count - 1, -1, -1))
    half = count // 2
    orders: list[Sequenced] = [
        [(step, "finish") for step in forward],
        [(step, "start") for step in backward],
        [(step, "start") for step in forward],
        [(step, "finish") for step in backward],
    ]
    if count > 2:
        # From both ends inward, turned end for end once, and from the middle outward.
        ends_in: Sequenced = [(step, "finish") for step in forward[:half]]
        ends_in += [(step, "start") for step in backward[: count - half]]
        middle_out: Sequenced = [(step, "start") for step in forward[half:]]
        middle_out += [(step, "finish") for step in backward[count - half :]]
        orders += [ends_in, middle_out]
    return orders


def _is_clear(search: _Search, order: Sequenced) -> bool:
    made = 0
    for step, end in order:
        if search.trap(made, step, end):
            return False
        made |= 1 << step
    return True


def _first_trap(search: _Search, order: Sequenced) -> str:
    made = 0
    for step, end in order:
        reason = search.trap(made, step, end)
        if reason:
            return f"bend {step + 1} {reason}"
        made |= 1 << step
    return ""


def _searched(search: _Search, made: int, failed: set[int]) -> Sequenced | None:
    count = len(search.steps)
    if made == (1 << count) - 1:
        return []
    if made in failed or search.tries > MOST_TRIES:
        return None
    for step in range(count):
        if made >> step & 1:
            continue
        for end in ("finish", "start"):
            side: End = "finish" if end == "finish" else "start"
            if search.trap(made, step, side):
                continue
            rest = _searched(search, made | 1 << step, failed)
            if rest is not None:
                return [(step, side), *rest]
            break  # the same bends are made whichever end is held
    failed.add(made)
    return None


def _effort(runs: Sequence[Run], steps: Sequence[Step], order: Sequenced) -> float:
    told = _told(order, runs, steps)
    return sum(2.0 * step.swap + (1.0 if step.roll else 0.0) for step in told)


def _told(order: Sequenced, runs: Sequence[Run], steps: Sequence[Step]) -> tuple[OrderStep, ...]:
    """The order with what is done to the bar before each step."""
    turned = _turned_to(runs, steps)
    told: list[OrderStep] = []
    before: tuple[End, float] | None = None
    for step, end in order:
        run = runs[steps[step].run]
        up = turned[steps[step].run]
        if not steps[step].bender.both_ways:
            up += 180.0 * (run.angle < 0) + 180.0 * (end == "finish")
        swap = before is not None and before[0] != end
        roll = 0.0 if before is None else _half_turns(up - before[1])
        way = ""
        if steps[step].bender.both_ways:
            way = "left" if (run.angle > 0) == (end == "start") else "right"
        told.append(OrderStep(step + 1, end, swap, roll, steps[step].works_by, way))
        # A coil leaves the bar turned by as much as its own plane turned along it.
        before = (end, up + steps[step].torsion)
    return tuple(told)


def _half_turns(angle: float) -> float:
    """An angle brought to above -180 up to 180."""
    left = round(angle % 360.0, 6)
    return left - 360.0 if left > 180.0 else left


def _turned_to(runs: Sequence[Run], steps: Sequence[Step]) -> list[float]:
    """How far the bending plane of each run is turned round the straight bar, degrees."""
    along = {step.run: step.torsion for step in steps}
    total, turned = 0.0, []
    for at, run in enumerate(runs):
        total += run.turn
        turned.append(total)
        total += along.get(at, 0.0)
    return turned


Line = list[Vector]


def _sides(
    runs: Sequence[Run], step: Step, frames: Sequence[Frame], points: Sequence[Sequence[Vector]], end: End
) -> tuple[list[Line], list[Line]]:
    """Points of the held and the swinging side, run by run outward, in the bender's own axes.

    The held side is measured from where the bend begins, the swinging one from where it ends.
    """
    at = step.run
    frame = frames[at]
    finish = points[at][-1]
    sense = 1.0 if runs[at].angle > 0 else -1.0
    before = [list(reversed(line)) for line in reversed(points[:at])]
    after = [list(line) for line in points[at + 1 :]]
    ahead = _axes(frame, sense, forward=True)
    back = _axes(frame, sense, forward=False)
    if end == "start":
        return _seen(before, frame.point, ahead), _seen(after, finish, ahead)
    return _seen(after, finish, back), _seen(before, frame.point, back)


Axes = tuple[Vector, Vector, Vector]


def _axes(frame: Frame, sense: float, *, forward: bool) -> Axes:
    way = 1.0 if forward else -1.0
    along = _scaled(frame.along, way)
    inward = _scaled(frame.inward, sense)
    up = _scaled(frame.across, sense * way)
    return along, inward, up


def _scaled(vector: Vector, factor: float) -> Vector:
    return (vector[0] * factor, vector[1] * factor, vector[2] * factor)


def _seen(lines: Sequence[Line], origin: Vector, axes: Axes) -> list[Line]:
    def seen(point: Vector) -> Vector:
        away = (point[0] - origin[0], point[1] - origin[1], point[2] - origin[2])
        return (dot(away, axes[0]), dot(away, axes[1]), dot(away, axes[2]))

    joined: list[Line] = []
    for line in lines:
        if len(line) == 2 and joined and len(joined[-1]) == 2:
            # Straights that follow each other are one, bends not yet made among them.
            joined[-1] = [joined[-1][0], seen(line[1])]
        else:
            joined.append([seen(point) for point in line])
    return joined


def _hit(step: Step, run: Run, held: Sequence[Line], swung: Sequence[Line], up: float, laps: bool) -> str:
    """What is hit while the bend is pulled, '' when nothing is."""
    radius = step.former_mm + step.depth_mm / 2
    still = _pieces(held, lambda point: point)
    reason = _machine(step, _away(held, still), radius, up)
    if reason:
        return f"cannot be set: a leg already bent meets {reason}"
    bent_legs = len(held) > 1 or len(swung) > 1
    if not bent_legs and abs(run.angle) <= 180:
        return ""
    total = abs(step.pull_to)
    wound = (run.centre_mm + run.centre_end_mm) / 2
    count = min(MOST_LOOKS, max(1, ceil(total / SWEEP_STEP)))
    for number in range(1, count + 1):
        moved = _pieces(swung, _swing(wound, total * number / count, total, run.flat_mm))
        reason = _machine(step, _away(swung, moved), radius, up)
        if reason:
            return f"cannot be pulled: the swinging leg meets {reason}"
        if not laps and _legs_meet(still, moved, step.depth_mm):
            return "cannot be pulled: the swinging leg meets the held one"
    return ""


def _swing(radius: float, angle: float, total: float, flat_mm: float) -> Callable[[Vector], Vector]:
    """How a point of the swinging side moves when the bend is pulled to an angle.

    The bar winds round the former; what is not yet wound runs on straight.
    """
    c, s = cos(radians(angle)), sin(radians(angle))
    rest = flat_mm * (1 - angle / total)
    x0, y0 = radius * s, radius * (1 - c)

    def moved(point: Vector) -> Vector:
        x, y = point[0] + rest, point[1]
        return (x0 + x * c - y * s, y0 + x * s + y * c, point[2])

    return moved


def _pieces(lines: Sequence[Line], moved: Callable[[Vector], Vector]) -> list[Segment]:
    found = []
    for number, line in enumerate(lines):
        points = [moved(point) for point in line]
        for a, b in pairwise(points):
            step = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
            length = dot(step, step) ** 0.5
            if length > 1e-9:
                found.append(Segment(a, b, _scaled(step, 1 / length), 0.0, length, number))
    return found


def _away(lines: Sequence[Line], pieces: Sequence[Segment]) -> list[Segment]:
    """Pieces past the straight that the bend itself lies in."""
    first_bent = next((number for number, line in enumerate(lines) if len(line) > 2), len(lines))
    return [piece for piece in pieces if piece.run >= first_bent]


def _machine(step: Step, pieces: Sequence[Segment], radius: float, up: float) -> str:
    """Whether pieces meet the former or the bench."""
    room = max(step.former_mm, step.bender.clear_radius.mm_float) + step.depth_mm / 2 * NEAR
    bench = step.bender.bench_radius.mm_float
    for piece in pieces:
        away, height = _from_centre(piece, radius)
        if away < room and abs(height) < step.depth_mm:
            return "the former"
        if bench and away < bench and height * up < -step.depth_mm:
            return "the bench"
    return ""


def _from_centre(piece: Segment, radius: float) -> tuple[float, float]:
    """How near a piece comes to the former's axis, and how high it is there, mm."""
    x, y = piece.start[0], piece.start[1] - radius
    dx, dy = piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]
    square = dx * dx + dy * dy
    share = 0.0 if square < 1e-18 else min(1.0, max(0.0, -(x * dx + y * dy) / square))
    away = ((x + share * dx) ** 2 + (y + share * dy) ** 2) ** 0.5
    return away, piece.start[2] + share * (piece.end[2] - piece.start[2])


def _legs_meet(still: Sequence[Segment], moved: Sequence[Segment], depth: float) -> bool:
    if not still:
        return False
    ends = [point for piece in still for point in (piece.start, piece.end)]
    low = [min(point[axis] for point in ends) - depth for axis in range(3)]
    high = [max(point[axis] for point in ends) + depth for axis in range(3)]
    # The straights that the bend itself lies in (run 0 of both sides) touch always.
    return any(
        segment_distance(other, piece)[0] < depth * NEAR
        for piece in moved
        if _reaches(piece, low, high)
        for other in still
        if piece.run or other.run
    )


def _reaches(piece: Segment, low: Sequence[float], high: Sequence[float]) -> bool:
    """Whether a piece comes into a box."""
    a, b = piece.start, piece.end
    return all(
        max(a[axis], b[axis]) >= low[axis] and min(a[axis], b[axis]) <= high[axis] for axis in range(3)
    )


def told_in_words(order: Order) -> str:
    """The order in one line, as it is said on the floor.

    >>> told_in_words(Order((OrderStep(1, "finish", False, 0.0), OrderStep(2, "finish", False, 180.0))))
    'clamp the start end, the finish end is drawn in: bend 1, turn over, bend 2'
    """
    words: list[str] = [order.note] if order.note else []
    before: OrderStep | None = None
    for step in order.steps:
        if step.swap:
            words.append("turn end for end")
        if step.roll_words:
            words.append(step.roll_words)
        lead = ""
        if before is None or (before.end, before.works_by) != (step.end, step.works_by):
            lead = f"{_LEADS[step.works_by].format(grip=step.grip, end=step.end, other=_OTHER[step.end])}: "
        words.append(f"{lead}bend {step.bend}{f' to the {step.way}' if step.way else ''}")
        before = step
    return ", ".join(words)


_OTHER = {"start": "finish", "finish": "start"}
_LEADS = {
    "draw": "clamp the {grip} end, the {end} end is drawn in",
    "wipe": "clamp the {grip} end, the {other} end swings",
    "ram": "{other} end first under the ram, no end clamped",
    "rolls": "{other} end first through the rolls",
    "hand": "by hand",
}
