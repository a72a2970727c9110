"""Shape words printed below a drawing, used when it is read again if they still give the drawn line.

A drawn line is ambiguous: an arc may be a bend, a twist looks like a leg. So the words meant are printed with
the drawing, and on reading it is checked whether they still give its line. Begin at `with_printed`,
`read_printed` and `gives_line`.
"""

import re
from collections.abc import Iterator, Sequence
from math import cos, hypot, radians, sin, tan
from typing import TYPE_CHECKING, Any, TypeAlias, cast

from shopquote.calc.bar.part import plane_runs
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shapes import parse_shape, told_in_full
from shopquote.calc.drawing.chain import ROUNDED_MM, loose_ends
from shopquote.calc.drawing.drawn_curves import FIT_MM
from shopquote.calc.drawing.model import Drawing, Line, Point
from shopquote.calc.drawing.outline import Stretch, is_flat, lay_out
from shopquote.calc.drawing.part import PartDrawings, captioned
from shopquote.calc.drawing.pieces import ChainPiece, apart
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, Dims, PartSpec
from shopquote.calc.units import Unit
from shopquote.errors import ShopquoteError

if TYPE_CHECKING:
    import numpy

LONGEST_LINE = 110  # characters of one printed line
# Total sweep up to which curves of changing radius are compared, in degrees; no drawing that can be read has
# more.
MOST_DEGREES = 12_000.0
_PRINTED = re.compile(
    r"Shape \((outside|inside|centre|tangent), (mm|in)(, hard way)?\)(?: ([0-9]{1,4})/([0-9]{1,4}))?: (.*)"
)

Values: TypeAlias = "numpy.ndarray[Any, numpy.dtype[numpy.float64]]"


@dataclass(frozen=True, slots=True)
class PrintedWords:
    """A shape as printed, with how its legs are measured; `shape` is "" where lines of it are missing."""

    shape: str
    dims: Dims
    unit: Unit
    axis: BendAxis


def with_printed(drawn: PartDrawings, part: PartSpec, unit: Unit) -> Drawing:
    """The drawing of the finished part with its words below, in numbered lines if there are several."""
    drawing = drawn.finished
    if part.shape is None or not drawn.flat:
        return drawing
    hard = ", hard way" if part.bend_axis == "hard" else ""
    lines = list(_broken(told_in_full(part.shape)))
    for number, words in enumerate(lines, start=1):
        which = f" {number}/{len(lines)}" if len(lines) > 1 else ""
        drawing = captioned(drawing, f"Shape ({part.dims}, {unit}{hard}){which}: {words}")
    return drawing


def _broken(shape: str) -> Iterator[str]:
    line = ""
    for word in shape.split("; "):
        if line and len(line) + len(word) > LONGEST_LINE:
            yield line
            line = ""
        line = f"{line}; {word}" if line else word
    yield line


def read_printed(texts: Sequence[str]) -> PrintedWords | None:
    """The printed words among the texts of a drawing; None where there are none."""
    found = [match for match in map(_PRINTED.fullmatch, texts) if match]
    if not found:
        return None
    dims, unit, hard, _, count, _ = found[0].groups()
    lines = {int(match[4] or 1): match[6] for match in found}
    whole = (
        len({match.group(1, 2, 3, 5) for match in found}) == 1
        and sorted(int(match[4] or 1) for match in found) == list(range(1, int(count or 1) + 1))
    )  # fmt: skip
    shape = "; ".join(lines[number] for number in sorted(lines)) if whole else ""
    return PrintedWords(shape, cast(Dims, dims), cast(Unit, unit), "hard" if hard else "easy")


def gives_line(
    printed: PrintedWords,
    section: Section,
    pieces: Sequence[ChainPiece],
    circles: Sequence[tuple[Point, float]],
) -> bool:
    """Whether the printed words, for this bar, give the drawn centre line within `FIT_MM` everywhere.

    The drawn line may be moved, rotated and run from its other end, but not mirrored. Circles are (centre,
    diameter in mm); a closed ring is drawn as one.
    """
    meant = _meant(printed, section)
    open_meant, open_drawn = _open(meant), _open(pieces)
    drawn = [*open_drawn, *(_circle(middle, diameter / 2) for middle, diameter in circles)]
    slack = FIT_MM * (len(meant) + len(drawn))
    if not meant or abs(_length(meant) - _length(drawn)) > slack:
        return False
    if not open_meant or not open_drawn:
        alike = len(meant) == len(drawn) == 1 and not open_meant and not open_drawn
        return alike and abs(meant[0].radius - drawn[0].radius) <= FIT_MM
    return any(
        _lies_on(laid, drawn) and _lies_on(drawn, laid)
        for laid in _laid_at_ends(meant, open_meant[0], open_drawn)
    )


def _meant(printed: PrintedWords, section: Section) -> list[ChainPiece]:
    """The centre line of the printed words; empty where they cannot be read, made, or drawn in a plane."""
    try:
        words = parse_shape(printed.shape, printed.unit)
        runs = plane_runs(words, section, printed.dims, printed.axis)
    except ShopquoteError:
        return []
    curved = sum(abs(run.angle) for run in runs if run.kind in ("scroll", "volute", "ellipse"))
    if not is_flat(runs) or curved > MOST_DEGREES:
        return []
    return [piece for stretch in lay_out(runs) for piece in _pieces(stretch)]


def _laid_at_ends(
    meant: Sequence[ChainPiece], begin: ChainPiece, drawn: Sequence[ChainPiece]
) -> Iterator[list[ChainPiece]]:
    """The words' line placed at each possible start: at free ends, or at the first piece drawn."""
    for number, way in (*loose_ends(drawn, FIT_MM)[:4], (0, 0), (0, 1)):
        place = drawn[number].turned() if way else drawn[number]
        yield [_laid(piece, begin.p, place.heading() - begin.heading(), place.p) for piece in meant]


def _pieces(stretch: Stretch) -> Iterator[ChainPiece]:
    """A stretch of the bar as the lines, arcs and circles that are drawn for it."""
    p, q = stretch.start[:2], stretch.end[:2]
    if stretch.is_spiral:
        for a, b, sweep in Line(tuple((x, y) for x, y, _ in stretch.points), curve=True).arcs():
            yield _arc_between(a, b, sweep)
    elif stretch.centre is None:
        yield ChainPiece(p, q)
    elif abs(stretch.angle) >= 360:
        yield _circle(stretch.centre, apart(p, stretch.centre))
    else:
        yield ChainPiece(p, q, stretch.centre, stretch.angle)


def _arc_between(p: Point, q: Point, sweep: float) -> ChainPiece:
    """An arc by its ends and its sweep in radians, below half a turn."""
    if not sweep:
        return ChainPiece(p, q)
    # The centre lies square to the middle of the chord, half of it over the tangent of half the sweep.
    far = 0.5 / tan(sweep / 2)
    middle = (p[0] + q[0]) / 2 - (q[1] - p[1]) * far, (p[1] + q[1]) / 2 + (q[0] - p[0]) * far
    return ChainPiece(p, q, middle, sweep / radians(1))


def _circle(middle: Point, radius: float) -> ChainPiece:
    place = middle[0] + radius, middle[1]
    return ChainPiece(place, place, middle, 360.0)


def _open(pieces: Sequence[ChainPiece]) -> list[ChainPiece]:
    """The pieces without whole circles and without those of zero length."""
    return [piece for piece in pieces if abs(piece.sweep) < 360 and _length([piece]) > ROUNDED_MM]


def _length(pieces: Sequence[ChainPiece]) -> float:
    return sum(abs(radians(piece.sweep)) * piece.radius if piece.centre else piece.length for piece in pieces)


def _laid(piece: ChainPiece, begin: Point, turn: float, place: Point) -> ChainPiece:
    """The piece rotated by `turn` radians about `begin`, which is then moved to `place`."""
    c, s = cos(turn), sin(turn)

    def moved(point: Point) -> Point:
        x, y = point[0] - begin[0], point[1] - begin[1]
        return place[0] + x * c - y * s, place[1] + x * s + y * c

    return ChainPiece(
        moved(piece.p), moved(piece.q), moved(piece.centre) if piece.centre else None, piece.sweep
    )


def _lies_on(pieces: Sequence[ChainPiece], others: Sequence[ChainPiece]) -> bool:
    """Whether sample points of all pieces (ends and points between) are within `FIT_MM` of the others."""
    import numpy as np

    x, y = np.array([point for piece in pieces for point in _places(piece)]).T
    near: Values = np.full(len(x), np.inf)
    for piece in others:
        near = np.minimum(near, _off(x, y, piece))
    return bool((near <= FIT_MM).all())


def _places(piece: ChainPiece) -> Iterator[Point]:
    steps = max(4, int(abs(piece.sweep) / 5)) if piece.centre else 8
    for step in range(steps + 1):
        share = step / steps
        if piece.centre:
            yield piece.on_arc(share)
        else:
            (px, py), (qx, qy) = piece.p, piece.q
            yield px + (qx - px) * share, py + (qy - py) * share


def _off(x: Values, y: Values, piece: ChainPiece) -> Values:
    """Distances of points from a line or an arc in mm."""
    import numpy as np

    (px, py), (qx, qy) = piece.p, piece.q
    if piece.centre is None:
        dx, dy = qx - px, qy - py
        along = np.clip(((x - px) * dx + (y - py) * dy) / (hypot(dx, dy) ** 2 or 1.0), 0.0, 1.0)
        straight: Values = np.hypot(x - px - along * dx, y - py - along * dy)
        return straight
    cx, cy = piece.centre
    way = 1.0 if piece.sweep > 0 else -1.0
    swept = (way * (np.arctan2(y - cy, x - cx) - np.arctan2(py - cy, px - cx))) % (2 * np.pi)
    ends = np.minimum(np.hypot(x - px, y - py), np.hypot(x - qx, y - qy))
    round_it: Values = np.where(
        swept <= abs(radians(piece.sweep)), np.abs(np.hypot(x - cx, y - cy) - piece.radius), ends
    )
    return round_it
