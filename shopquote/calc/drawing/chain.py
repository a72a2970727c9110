"""A drawn line turned into the words of a shape: lines and arcs joined end to end, told as legs and bends.

Millimetres; a left turn is a positive angle. What is no single chain is told with its places. Begin at
`words_of`.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import combinations, pairwise
from math import atan2, cos, degrees, hypot, pi, radians, sin
from typing import Literal

from shopquote.calc.bar.neutral_axis import measured_beyond_mm, setback_mm
from shopquote.calc.bar.sections import Section
from shopquote.calc.drawing.model import Point
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import NM_PER_INCH, Length, Unit, show_angle, show_length
from shopquote.errors import CannotMakeError

DrawnLine = Literal["centre", "left", "right"]

GAP_MM = 0.1  # ends that lie this near are one place
KINK_DEG = 0.5  # a turn between two pieces that is no bend: drawing programs round
SAME_MM = 1e-3
STEP_MM = Fraction(1, 1000)  # lengths are told to this
INCH_PARTS = 64  # and in inches to this where it fits


@dataclass(frozen=True, slots=True)
class ChainPiece:
    """A line, or an arc with its centre and signed sweep in degrees, from p to q."""

    p: Point
    q: Point
    centre: Point | None = None
    sweep: float = 0.0

    def turned(self) -> "ChainPiece":
        """The same piece, run through from its other end."""
        return ChainPiece(self.q, self.p, self.centre, -self.sweep)

    @property
    def radius(self) -> float:
        """Radius of an arc, 0 for a line."""
        return hypot(self.p[0] - self.centre[0], self.p[1] - self.centre[1]) if self.centre else 0.0

    def heading(self, at_end: bool = False) -> float:
        """Direction of travel at its start or end, radians."""
        if self.centre is None:
            return atan2(self.q[1] - self.p[1], self.q[0] - self.p[0])
        x, y = self.q if at_end else self.p
        side = pi / 2 if self.sweep > 0 else -pi / 2
        return atan2(y - self.centre[1], x - self.centre[0]) + side


def words_of(
    pieces: Sequence[ChainPiece],
    section: Section,
    unit: Unit,
    *,
    dims: Dims = "outside",
    axis: BendAxis = "easy",
    drawn: DrawnLine = "centre",
    gap_mm: float = GAP_MM,
) -> str:
    """The shape that a drawn line says, legs measured by `dims`; `drawn` is where on the bar the line lies.

    Raises:
        CannotMakeError: it is no single open chain, crosses itself, or turns without a radius; tells where.

    >>> section = Section("round", (Length.from_mm(12),))
    >>> pieces = [ChainPiece((0, 0), (100, 0)), ChainPiece((100, 0), (130, 30), (100, 30), 90.0)]
    >>> words_of(pieces, section, "mm")
    'leg 136; bend 90 r 24'
    """
    run = chained(pieces, unit, gap_mm)
    _no_kinks(run, unit)
    _no_crossings(run, unit)
    depth, inner = section.depth_mm(axis), section.centroid_mm(axis)
    beyond = measured_beyond_mm(dims, depth, inner)
    inside = [inside_mm(piece, drawn, depth, inner, unit) if piece.centre else 0.0 for piece in run]
    words = []
    for number, piece in enumerate(run):
        if piece.centre is not None:
            words.append(f"bend {_figure(piece.sweep)} r {length_text(inside[number], unit)}")
            continue
        length = hypot(piece.q[0] - piece.p[0], piece.q[1] - piece.p[1])
        # A leg is measured to where the faces of its bends would meet.
        for beside in (number - 1, number + 1):
            if beyond is not None and 0 <= beside < len(run):
                length += setback_mm(run[beside].sweep, inside[beside], beyond)
        words.append(f"leg {length_text(length, unit)}")
    return "; ".join(words)


def chained(pieces: Sequence[ChainPiece], unit: Unit, gap_mm: float) -> list[ChainPiece]:
    """The pieces as one chain, those that go on alike joined.

    Raises:
        CannotMakeError: they branch, close or do not meet.
    """
    return _merged(_chained(pieces, unit, gap_mm))


def inside_mm(piece: ChainPiece, drawn: DrawnLine, depth: float, inner: float, unit: Unit) -> float:
    """Inside radius of a drawn arc; a drawn face is the inner one of some bends, the outer one of others."""
    left = piece.sweep > 0
    to_inside = inner if drawn == "centre" else 0.0 if left == (drawn == "left") else depth
    inside = piece.radius - to_inside
    if inside < -SAME_MM:
        raise CannotMakeError(
            f"The arc at {_place(piece.p, unit)} has a radius of {length_text(piece.radius, unit)} {unit}: "
            "too little for the inside of this bar.",
            hint="Name a thinner --bar, or say with --line that a face is drawn.",
        )
    return max(0.0, inside)


End = tuple[int, int]  # number of a piece, and 0 for its start or 1 for its end


def _chained(pieces: Sequence[ChainPiece], unit: Unit, gap_mm: float) -> list[ChainPiece]:
    """The pieces in order along one chain; it begins at the end that was drawn first."""
    # Points and strokes of no length are left behind by drawing programs.
    real = [piece for piece in pieces if piece.centre or _apart(piece.p, piece.q) > SAME_MM]
    if not real:
        raise CannotMakeError("There is no line to read.", hint="Name the layer that it lies on: --layer L.")
    place: dict[End, Point] = {}
    for number, piece in enumerate(real):
        place |= {(number, 0): piece.p, (number, 1): piece.q}
    beside = {end: _near(place, end, gap_mm) for end in place}
    free = _free_ends(place, beside, unit)
    run: list[ChainPiece] = []
    end: End | None = free[0]
    while end is not None:
        number, way = end
        run.append(real[number].turned() if way else real[number])
        end = next(iter(beside[(number, 1 - way)]), None)
    if len(run) < len(real):
        told = ", ".join(_place(place[end], unit) for end in free[:8])
        raise CannotMakeError(
            f"The line is in pieces that do not meet; they begin and end at {told}.",
            hint="Close the gaps, or allow wider ones with --gap.",
        )
    return run


def _near(place: Mapping[End, Point], end: End, gap_mm: float) -> list[End]:
    """The other ends that lie within the gap."""
    return [other for other in place if other != end and _apart(place[end], place[other]) <= gap_mm]


def _free_ends(place: Mapping[End, Point], beside: Mapping[End, Sequence[End]], unit: Unit) -> list[End]:
    """Ends that meet no other: where a bar begins and ends. Refuses branches and closed lines."""
    crowded = next((end for end, others in beside.items() if len(others) > 1), None)
    if crowded is not None:
        raise CannotMakeError(
            f"The line branches: {len(beside[crowded]) + 1} ends meet at {_place(place[crowded], unit)}.",
            hint="A bar has two ends; put other lines on another layer.",
        )
    free = [end for end, others in beside.items() if not others]
    if not free:
        raise CannotMakeError(
            f"The line is closed: it comes back to {_place(place[(0, 0)], unit)}.",
            hint="Leave a gap where the bar begins and ends.",
        )
    return free


def _merged(run: Sequence[ChainPiece]) -> list[ChainPiece]:
    """Lines that go on in the same direction and arcs about the same centre, joined."""
    merged: list[ChainPiece] = []
    for piece in run:
        last = merged[-1] if merged else None
        if last and not last.centre and not piece.centre and abs(_turn(last, piece)) < KINK_DEG:
            merged[-1] = ChainPiece(last.p, piece.q)
        elif (
            last and last.centre and piece.centre and _apart(last.centre, piece.centre) < SAME_MM * 10
            and last.sweep * piece.sweep > 0
        ):  # fmt: skip
            merged[-1] = ChainPiece(last.p, piece.q, last.centre, last.sweep + piece.sweep)
        else:
            merged.append(piece)
    return merged


def _no_kinks(run: Sequence[ChainPiece], unit: Unit) -> None:
    for before, after in pairwise(run):
        turn = _turn(before, after)
        if abs(turn) > KINK_DEG:
            raise CannotMakeError(
                f"The line turns by {show_angle(turn)} at {_place(after.p, unit)} without a radius.",
                hint="Draw the bend as an arc that runs smoothly into both lines.",
            )


def _no_crossings(run: Sequence[ChainPiece], unit: Unit) -> None:
    strokes = [(number, a, b) for number, piece in enumerate(run) for a, b in _strokes(piece)]
    for (n1, a, b), (n2, c, d) in combinations(strokes, 2):
        if n2 - n1 > 1 and _cross(a, b, c, d):
            raise CannotMakeError(
                f"The line crosses itself near {_place(a, unit)}.",
                hint="A bar that passes itself bends in space: write its shape with turn.",
            )


def _strokes(piece: ChainPiece) -> list[tuple[Point, Point]]:
    if piece.centre is None:
        return [(piece.p, piece.q)]
    x, y = piece.centre
    start = atan2(piece.p[1] - y, piece.p[0] - x)
    steps = max(2, int(abs(piece.sweep) / 10))
    points = [
        (x + piece.radius * cos(start + radians(piece.sweep) * k / steps),
         y + piece.radius * sin(start + radians(piece.sweep) * k / steps))
        for k in range(steps + 1)
    ]  # fmt: skip
    return list(pairwise(points))


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _turn(before: ChainPiece, after: ChainPiece) -> float:
    return (degrees(after.heading() - before.heading(at_end=True)) + 180) % 360 - 180


def _apart(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def length_text(mm: float, unit: Unit) -> str:
    """A bare length that reads back: to 1/64 in where an inch drawing means one, else to a thousandth."""
    if unit == "in":
        parts = mm / 25.4 * INCH_PARTS
        if abs(parts - round(parts)) * 25.4 / INCH_PARTS < SAME_MM:
            nearest = Length(round(Fraction(round(parts), INCH_PARTS) * NM_PER_INCH))
            return show_length(nearest, "in", exact=True).removesuffix(" in")
        return f"{mm / 25.4:.4f}".rstrip("0").rstrip(".")
    return _figure(float(round(Fraction(mm) / STEP_MM) * STEP_MM))


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _place(point: Point, unit: Unit) -> str:
    one = 25.4 if unit == "in" else 1.0
    return f"({_figure(point[0] / one)}, {_figure(point[1] / one)})"
