"""Checks that holes of different parts with the same pattern name have the same spacing, so that they fit.

Float mm. Begin at `pattern_problems`.
"""

from collections.abc import Iterator, Sequence

from shopquote.calc.bar.part_answer import Problem
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import JobSpec, PartSpec

# Difference in mm at which two holes still take their bolt: common practice, no source.
SLACK_MM = 0.2

Points = tuple[tuple[float, float], ...]


def pattern_problems(job: JobSpec) -> Iterator[tuple[str, Problem]]:
    """A problem, with its mark, for each part whose pattern does not fit that of the first part with it."""
    first: dict[str, tuple[str, Points]] = {}
    for part in job.parts:
        for pattern in dict.fromkeys(hole.pattern for hole in part.holes if hole.pattern):
            points = _points(part, pattern)
            mark, wanted = first.setdefault(pattern, (part.mark, points))
            if mark != part.mark and not _fits(points, wanted):
                say = Say(job.units)
                yield (
                    part.mark,
                    Problem(
                        "pattern-differs",
                        f"Holes of pattern {pattern} do not fit those of part {mark}: {_told(points, say)} "
                        f"here, {_told(wanted, say)} there. Change one of them, or drill both together.",
                    ),
                )


def _points(part: PartSpec, pattern: str) -> Points:
    """Positions in mm of all holes of a pattern, along and across, relative to the first of them."""
    found = sorted(
        (at.length.mm_float, across.length.mm_float if across is not None else 0.0)
        for hole in part.holes
        if hole.pattern == pattern
        for at, across in hole.places
    )
    return _from_first(found)


def _from_first(points: Sequence[tuple[float, float]]) -> Points:
    return tuple((x - points[0][0], y - points[0][1]) for x, y in points)


def _fits(points: Points, wanted: Points) -> bool:
    """Whether two sets of holes fit, possibly with one turned end for end or over."""
    if len(points) != len(wanted):
        return False
    for along in (1, -1):
        for across in (1, -1):
            # The order along the bar, with holes beside each other in the order across it.
            turned = _from_first(sorted((round(x * along, 6), round(y * across, 6)) for x, y in points))
            pairs = zip(turned, wanted, strict=True)
            if all(abs(a - c) <= SLACK_MM and abs(b - d) <= SLACK_MM for (a, b), (c, d) in pairs):
                return True
    return False


def _told(points: Points, say: Say) -> str:
    if not points:
        return "no places given"
    places = ", ".join(f"{say(x)} / {say(y)}" if any(y for _, y in points) else say(x) for x, y in points)
    return f"{len(points)} at {places} from the first"
