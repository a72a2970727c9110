"""Whether a finished bar touches itself, from its traced centre line; float mm. Begin at `contacts`.

A bar that crosses itself cannot be made. One that lies along itself (a stirrup's ends, a lapped ring) is
offset sideways by one bar, which is only a problem to decide; so is an end that just meets the bar, and the
closing hook of a link, which is sprung aside by one bar.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import cos, pi, radians
from typing import Literal

from shopquote.calc.bar.centreline import Stop, Vector, add, dot, times
from shopquote.calc.bar.develop import Run
from shopquote.calc.frozen import dataclass

ContactKind = Literal["crosses", "laps", "end meets", "hook crosses"]

# Two stretches that meet at less than this angle, in degrees, lie along each other rather than cross.
ALONGSIDE = 30.0
# A contact within so many bar sizes of an end counts as that end meeting the bar.
END_BARS = 0.75
# Longest hook, in bar sizes, that is sprung past the bar as a link is closed: ACI 318's longest is 12.
HOOK_BARS = 12.0
# Tolerance: two centre lines may be closer than the bar's size by this share of it.
TOUCH = 0.02


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight piece of the traced centre line, from `from_mm` to `to_mm` along the bar, of one run."""

    start: Vector
    end: Vector
    along: Vector
    from_mm: float
    to_mm: float
    run: int


@dataclass(frozen=True, slots=True)
class Contact:
    """A place where the bar touches itself: two runs, positions along the bar, distance of centre lines."""

    kind: ContactKind
    first_run: int
    second_run: int
    first_mm: float
    second_mm: float
    apart_mm: float


def segments(stops: Sequence[Stop]) -> list[Segment]:
    """The pieces between traced points, without those of zero length."""
    found = []
    for a, b in pairwise(stops):
        length = b.true_mm - a.true_mm
        if length <= 1e-9 or a.run != b.run:
            continue
        step = (b.point[0] - a.point[0], b.point[1] - a.point[1], b.point[2] - a.point[2])
        chord = dot(step, step) ** 0.5
        if chord > 0:
            found.append(Segment(a.point, b.point, times(step, 1 / chord), a.true_mm, b.true_mm, a.run))
    return found


def contacts(stops: Sequence[Stop], runs: Sequence[Run], clearance_mm: float) -> tuple[Contact, ...]:
    """Every place where the bar touches itself, the worst kind first.

    `clearance_mm` is the least distance of two centre lines: the bar's size in the plane. Points closer along
    the bar than half a turn of the tightest bend cannot meet (a curve no tighter than a circle has no shorter
    chord), so they are not compared.
    """
    pieces = segments(stops)
    if len(pieces) < 3:
        return ()
    tightest = min(
        (min(run.centre_mm, run.centre_end_mm) for run in runs if run.is_curve), default=clearance_mm
    )
    # A little less, for the chords of the traced line are shorter than its arcs.
    least_apart = 0.99 * pi * tightest
    limit = clearance_mm * (1 - TOUCH)
    total = pieces[-1].to_mm
    hooks = _hooks(runs, total, clearance_mm)
    boxes = _boxes(pieces, limit)
    found: list[Contact] = []
    for first, second in _near_pairs(boxes, runs):
        contact = _nearest(
            boxes[first][1], boxes[first][0], boxes[second][1], least_apart, limit, total, clearance_mm
        )
        if contact is not None and not _closes(contact, total, clearance_mm):
            found.append(_at_hook(contact, hooks))
    order: dict[ContactKind, int] = {"crosses": 0, "hook crosses": 1, "end meets": 2, "laps": 3}
    return tuple(sorted(found, key=lambda contact: order[contact.kind]))


def _closes(contact: Contact, total: float, clearance_mm: float) -> bool:
    """Whether a contact is the two ends meeting face to face, as in a closed frame of one bar."""
    ends = contact.first_mm < clearance_mm and total - contact.second_mm < clearance_mm
    return ends and contact.kind == "laps"


def _is_meant(runs: Sequence[Run], first: int, second: int) -> bool:
    """Whether two runs may touch: closed shapes, and those checked when they were developed."""
    run = runs[first]
    if first == second and run.is_curve and not (run.kind in ("bend", "arc") and abs(run.angle) > 180):
        # Coils are checked by their pitch when they are developed; a bend only beyond half a turn.
        return True
    return _is_eye(runs, first, second)


def _hooks(runs: Sequence[Run], total: float, clearance_mm: float) -> tuple[float, float]:
    """Where the first hook ends and the last begins, in mm along the bar; the bar's ends without hooks."""

    def length(end: Run, bend: Run) -> float:
        is_hook = end.kind == "straight" and bend.kind == "bend" and 90 < abs(bend.angle) <= 180
        fits = is_hook and end.true_mm <= HOOK_BARS * clearance_mm
        return end.true_mm + bend.true_mm if fits else 0.0

    if len(runs) < 4:
        return 0.0, total
    return length(runs[0], runs[1]), total - length(runs[-1], runs[-2])


def _at_hook(contact: Contact, hooks: tuple[float, float]) -> Contact:
    if contact.kind != "crosses" or (contact.first_mm > hooks[0] and contact.second_mm < hooks[1]):
        return contact
    return replace(contact, kind="hook crosses")


def _is_eye(runs: Sequence[Run], first: int, second: int) -> bool:
    """Whether two runs are a ring or eye with its own leg, or close windings, which are meant to touch."""
    kinds = {runs[first].kind, runs[second].kind}
    if "collar" in {run.kind for run in runs}:
        return True
    if second - first > 2:
        return False
    return "eye" in kinds or (second - first == 1 and bool(kinds & {"ring", "ellipse"})) or kinds == {"helix"}


Box = tuple[Vector, Vector]


def _boxes(pieces: Sequence[Segment], grow: float) -> dict[int, tuple[Box, list[Segment]]]:
    by_run: dict[int, list[Segment]] = {}
    for piece in pieces:
        by_run.setdefault(piece.run, []).append(piece)
    boxes: dict[int, tuple[Box, list[Segment]]] = {}
    for run, members in by_run.items():
        points = [members[0].start, *(piece.end for piece in members)]
        low = tuple(min(point[axis] for point in points) - grow / 2 for axis in range(3))
        high = tuple(max(point[axis] for point in points) + grow / 2 for axis in range(3))
        boxes[run] = (((low[0], low[1], low[2]), (high[0], high[1], high[2])), members)
    return boxes


def _near_pairs(
    boxes: Mapping[int, tuple[Box, list[Segment]]], runs: Sequence[Run]
) -> Iterator[tuple[int, int]]:
    """Pairs of runs whose boxes overlap and that are not meant to touch; a run may be paired with itself."""
    for second in sorted(boxes):
        for first in sorted(boxes):
            apart = first > second or not _boxes_meet(boxes[first][0], boxes[second][0])
            if not apart and not _is_meant(runs, first, second):
                yield first, second


def _boxes_meet(a: Box, b: Box) -> bool:
    return all(a[0][axis] <= b[1][axis] and b[0][axis] <= a[1][axis] for axis in range(3))


def _box_of(piece: Segment, grow: float) -> Box:
    a, b = piece.start, piece.end
    low = tuple(min(a[axis], b[axis]) - grow / 2 for axis in range(3))
    high = tuple(max(a[axis], b[axis]) + grow / 2 for axis in range(3))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _nearest(
    first: Sequence[Segment],
    box: Box,
    second: Sequence[Segment],
    least_apart: float,
    limit: float,
    total: float,
    clearance: float,
) -> Contact | None:
    """The contact where two runs come nearest; of ties the one where they are most nearly parallel."""
    best: tuple[int, float] | None = None
    contact: Contact | None = None
    for piece in second:
        if not _boxes_meet(box, _box_of(piece, limit)):
            continue
        for other in first:
            if piece.from_mm - other.to_mm < least_apart:
                continue
            apart, share_other, share_piece = segment_distance(other, piece)
            if apart >= limit:
                continue
            parallel = abs(dot(other.along, piece.along))
            # In steps of a twentieth of the bar, so that float noise in the distance breaks no tie.
            key = (round(apart / (0.05 * clearance)), -parallel)
            if best is None or key < best:
                best = key
                at_other = other.from_mm + share_other * (other.to_mm - other.from_mm)
                at_piece = piece.from_mm + share_piece * (piece.to_mm - piece.from_mm)
                kind = _kind(parallel, at_other, at_piece, total, clearance)
                contact = Contact(kind, other.run, piece.run, at_other, at_piece, apart)
    return contact


def _kind(parallel: float, at_first: float, at_second: float, total: float, clearance: float) -> ContactKind:
    if parallel > cos(radians(ALONGSIDE)):
        return "laps"
    near_end = END_BARS * clearance
    if at_first < near_end or total - at_second < near_end:
        return "end meets"
    return "crosses"


def segment_distance(a: Segment, b: Segment) -> tuple[float, float, float]:
    """Least distance of two straight pieces in mm, and its position on each, 0 to 1."""
    u = (a.end[0] - a.start[0], a.end[1] - a.start[1], a.end[2] - a.start[2])
    v = (b.end[0] - b.start[0], b.end[1] - b.start[1], b.end[2] - b.start[2])
    w = (a.start[0] - b.start[0], a.start[1] - b.start[1], a.start[2] - b.start[2])
    uu, uv, vv, uw, vw = dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)
    determinant = uu * vv - uv * uv
    # Parallel pieces are equally far apart in many places: the start of the first is as good as any.
    s = 0.0
    if determinant > 1e-12 * uu * vv:
        s = min(1.0, max(0.0, (uv * vw - vv * uw) / determinant))
    t = (uv * s + vw) / vv
    if t < 0:
        t, s = 0.0, min(1.0, max(0.0, -uw / uu))
    elif t > 1:
        t, s = 1.0, min(1.0, max(0.0, (uv - uw) / uu))
    gap = add(w, add(times(u, s), times(v, -t)))
    return dot(gap, gap) ** 0.5, s, t
