"""Work on holes: laying out, drilling by size, tapping, countersinking, reaming, slots, drifting."""

from collections.abc import Iterator, Sequence
from math import pi, radians, tan

from shopquote.calc.bar.holes import drill_mm, hole_depth_mm
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import BendAxis, HoleSpec
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import Pairs, WorkItem

# Further work on a hole: attribute of `HoleSpec`, what is done, standard in minutes per hole.
_ALSO = (
    ("is_countersunk", "countersink", "drill.countersink"),
    ("counterbore", "counterbore", "drill.counterbore"),
    ("reamed", "ream", "drill.ream"),
    ("drifted", "drive the drift", "drift.hole"),
)


# The tapping standard covers a thread so many diameters deep; deeper ones take proportionally longer.
TAPPED_DIAMETERS = 1.5


def hole_minutes(pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    """Set-ups for each size in the job, then the holes; drifted holes are punched hot, not drilled."""
    drilled = [(part, answer) for part, answer in pairs if part.holes]
    if not drilled:
        return
    yield from _set_ups([hole for part, _ in drilled for hole in part.holes])
    for part, answer in drilled:
        if any(not hole.drifted for hole in part.holes):
            yield WorkItem("drilling", "clamp a piece", "drill.clamp", "run", part.per_set, mark=part.mark)
            if answer.section.is_hollow:
                yield WorkItem(
                    "drilling", "bed a hollow piece", "drill.hollow", "run", part.per_set, mark=part.mark
                )
        for hole in part.holes:
            count = part.per_set * hole.count
            deep = _deep_mm(hole, answer, part.bend_axis)
            path = _path_m(hole, deep, walls_of(hole, answer), book)
            if hole.is_tapped and (beyond := deep - TAPPED_DIAMETERS * drill_mm(hole)) > 0:
                yield WorkItem(
                    "tapping", "tap deeper", "tap.deep", "run", count * beyond / 10, mark=part.mark
                )
            yield from _hole(hole, count, part.mark, path, answer.grade.family, book)
            if answer.section.is_hollow and not hole.drifted:
                inside = count * walls_of(hole, answer)
                yield WorkItem(
                    "drilling", "deburr inside", "drill.deburr-inside", "run", inside, mark=part.mark
                )


def _set_ups(holes: Sequence[HoleSpec]) -> Iterator[WorkItem]:
    """The drill's set-up once for the job, and a change for every size of drill and tap."""
    # To a micrometre, so that 1/4 in and 6.35 mm are one drill.
    drills = {round(drill_mm(hole), 3) for hole in holes if not hole.drifted}
    taps = {(hole.dia, hole.thread) for hole in holes if hole.is_tapped}
    if drills:
        yield WorkItem("drilling", "set up the drill", "drill.job-set-up", "set-up", per_job=1)
        yield WorkItem("drilling", "change the drill", "drill.size-change", "set-up", per_job=len(drills))
    if taps:
        yield WorkItem("tapping", "change the tap", "tap.size-change", "set-up", per_job=len(taps))


def _hole(
    hole: HoleSpec, count: int, mark: str, path_m: float, family: str, book: StandardsBook
) -> Iterator[WorkItem]:
    if not hole.drifted:
        speed = book.of_family("drill.speed", family)
        yield WorkItem("drilling", f"drill {family}", speed, "run", count * path_m, how="over", mark=mark)
    yield WorkItem("drilling", "lay out a hole", "drill.layout", "run", count, mark=mark)
    if not hole.drifted:
        yield WorkItem("drilling", "deburr a hole", "drill.deburr", "run", count, mark=mark)
    for name, what, standard in _ALSO:
        if getattr(hole, name):
            operation = "forging" if name == "drifted" else "drilling"
            yield WorkItem(operation, what, standard, "run", count, mark=mark)
    if hole.slot is not None:
        beyond = max(0.0, hole.slot.length.mm_float - drill_mm(hole))
        yield WorkItem("drilling", "open a slot", "drill.slot", "run", count * beyond / 10, mark=mark)
    if hole.is_tapped:
        yield WorkItem("tapping", "tap a hole", "tap.hole", "run", count, mark=mark)


def _deep_mm(hole: HoleSpec, answer: PartAnswer, axis: BendAxis) -> float:
    """Depth of one hole in mm: as given, along the whole piece, or through the bar."""
    if hole.deep is not None:
        return hole.deep.length.mm_float
    return answer.developed.mm_float if hole.along else hole_depth_mm(answer.section, hole, axis)


def walls_of(hole: HoleSpec, answer: PartAnswer) -> int:
    """Number of walls that a hole goes through; the drill point must start on each."""
    hollow = answer.section.is_hollow and hole.deep is None and not hole.along
    return 2 if hollow and hole.walls != 1 else 1


def _path_m(hole: HoleSpec, deep_mm: float, walls: int, book: StandardsBook) -> float:
    """Path of the drill's outer corner through one hole in m; a slot is drilled at both its ends."""
    dia = drill_mm(hole)
    feed, point = book.divisor(feed_standard(dia)), book.divisor("drill.point-angle")
    # Each wall is entered anew, with the approach of the drill's point.
    path = walls * cut_path_m(dia, deep_mm / walls, feed, point)
    return path * (2 if hole.slot is not None else 1)


def point_approach(dia_mm: float, point_angle: float = 118) -> float:
    """Extra travel in mm until the whole point cuts: D/2 tan(90 - angle/2), with the point angle in degrees.

    Source: geometry of a cone. Some pages print tan(angle/2), which is the cone's other angle.

    >>> round(point_approach(20), 2)
    6.01
    """
    return dia_mm / 2 * tan(radians(90 - point_angle / 2))


def cut_path_m(dia_mm: float, depth_mm: float, feed_mm_rev: float, point_angle: float = 118) -> float:
    """Path of the drill's outer corner through one hole in m; divided by the cutting speed it gives minutes.

    minutes = (depth + approach) / (feed x turns) = pi D (depth + approach) / (1000 feed V).
    """
    travel = depth_mm + point_approach(dia_mm, point_angle)
    return pi * dia_mm * travel / (1000 * feed_mm_rev)


def feed_standard(dia_mm: float) -> str:
    """Name of the feed standard for a drill diameter."""
    for limit in (3, 6, 13, 25):
        if dia_mm <= limit + 0.5:
            return f"drill.feed.{limit}mm"
    return "drill.feed.over"
