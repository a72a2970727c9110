"""Positions of welds on parts as typed: "A start", "B leg 2", "C bend 1". Begin at `weld_place`.

A leg is a leg word of the shape, a bend one of its curves, both numbered from the start of the bar.
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.shape_words import Leg, Taper, Turn, Twist, Word
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.units import Unit
from shopquote.errors import InputError

Spot = Literal["start", "finish", "leg", "bend"]
WHERE_ON_A_PART = 'a part and where on it: "A start", "A finish", "A leg 2" or "A bend 1"'
_WORDS = re.compile(r"(?P<mark>.*\S)\s+(?:(?P<end>start|finish)|(?P<on>leg|bend)\s+(?P<number>[1-9]\d{0,3}))")


@dataclass(frozen=True, slots=True)
class WeldPlace:
    """A part and the spot on it; `number` is that of the leg or bend from 1, 0 for an end."""

    mark: str
    spot: Spot
    number: int = 0


@dataclass(frozen=True, slots=True)
class PlacedWeld:
    """A weld at a place of one piece; `each`: how many welds are there, None where that is unknown."""

    weld: WeldSpec
    place: WeldPlace
    each: int | None


def weld_place(text: str) -> WeldPlace | None:
    """The place that a text means, or None.

    >>> weld_place("B leg 2")
    WeldPlace(mark='B', spot='leg', number=2)
    >>> weld_place("the corner")
    """
    found = _WORDS.fullmatch(text.strip())
    if found is None:
        return None
    if end := found["end"]:
        return WeldPlace(found["mark"], "start" if end == "start" else "finish")
    return WeldPlace(found["mark"], "leg" if found["on"] == "leg" else "bend", int(found["number"]))


def placed_welds(job: JobSpec, part: PartSpec) -> tuple[PlacedWeld, ...]:
    """The welds of a job that have a place on this part."""
    placed = []
    for weld in job.welds:
        places = [place for place in map(weld_place, weld.at) if place and place.mark == part.mark]
        # A weld may be placed on both parts that it joins; it is the same weld, so each part shows all of
        # them.
        each = Fraction(weld.count, part.per_set * len(places)) if places else Fraction(0)
        whole = each.numerator if each.denominator == 1 else None
        placed += [PlacedWeld(weld, place, whole) for place in places]
    return tuple(placed)


def most_places(part: PartSpec, spot: Spot, unit: Unit) -> int | None:
    """Greatest number of legs, or of bends, that a part's words make; None for ends and unreadable shapes."""
    if spot not in ("leg", "bend"):
        return None
    if part.shape is None:
        return 1 if spot == "leg" else 0
    try:
        words = parse_shape(part.shape, unit)
    except InputError:
        return None  # the shape's own fault is reported
    if spot == "leg":
        return sum(isinstance(word, Leg) for word in words)
    # A joggle has two bends, and so has an eye with its neck; hence twice is an upper limit.
    return 2 * sum(not isinstance(word, Leg | Turn | Taper | Twist) for word in words)


def run_of_leg(runs: Sequence[Run], words: Sequence[Word], number: int) -> int | None:
    """Index of the run in which a leg lies (consecutive legs are one straight), or None."""
    if not words:
        return 0 if number == 1 else None
    legs = [at for at, word in enumerate(words, start=1) if isinstance(word, Leg)]
    if number > len(legs):
        return None
    straights = [at for at, run in enumerate(runs) if not run.is_curve and run.word <= legs[number - 1]]
    return straights[-1] if straights else None


def run_of_bend(runs: Sequence[Run], number: int) -> int | None:
    """Index of the run of a bend by its number on drawings, or None."""
    curves = [at for at, run in enumerate(runs) if run.is_curve]
    return curves[number - 1] if number <= len(curves) else None


def run_at(place: WeldPlace, runs: Sequence[Run], words: Sequence[Word]) -> int | None:
    """Index of the run on which a weld is; None where the part has no such leg or bend."""
    if place.spot == "leg":
        return run_of_leg(runs, words, place.number)
    if place.spot == "bend":
        return run_of_bend(runs, place.number)
    return 0 if place.spot == "start" else len(runs) - 1
