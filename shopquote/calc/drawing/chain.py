"""Reads a drawn line as a shape: joins lines and arcs end to end and turns them into legs and bends.

Millimetres; a left turn is a positive angle. A drawing that is not one chain is refused with the positions of
its faults. Begin at `words_of`.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import combinations, pairwise
from math import floor
from typing import Literal

from shopquote.calc.bar.neutral_axis import measured_beyond_mm, setback_mm
from shopquote.calc.bar.sections import Section
from shopquote.calc.drawing.drawn_curves import closed_axes, is_closed_curve, points_of, with_curves
from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.pieces import ChainPiece, DrawnCurve, apart
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import NM_PER_INCH, Length, Unit, show_angle, show_length
from shopquote.errors import CannotMakeError

DrawnLine = Literal["centre", "left", "right"]

GAP_MM = 0.1  # ends closer than this are joined
KINK_DEG = 0.5  # largest turn between two pieces that comes from rounding rather than a missing bend
ROUNDED_MM = 1e-3  # rounding of coordinates by drawing programs
STEP_MM = Fraction(1, 1000)  # lengths are rounded to this
INCH_PARTS = 64  # in inches to this fraction, where it fits


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
    """The shape of a drawn line, with legs measured by `dims`; `drawn`: which line of the bar it is.

    Raises:
        CannotMakeError: it is not one open chain, crosses itself, or turns without a radius; says where.

    >>> section = Section("round", (Length.from_mm(12),))
    >>> pieces = [ChainPiece((0, 0), (100, 0)), ChainPiece((100, 0), (130, 30), (100, 30), 90.0)]
    >>> words_of(pieces, section, "mm")
    'leg 136; bend 90 r 24'
    """
    run = chained(pieces, unit, gap_mm)
    depth, inner = section.depth_mm(axis), section.centroid_mm(axis)
    if run[0].curve and run[0].curve.kind == "closed":
        return _closed_word(run[0].curve, drawn, depth, inner, unit)
    _no_kinks(run, unit)
    _no_crossings(run, unit)
    beyond = measured_beyond_mm(dims, depth, inner)
    inside = [inside_mm(piece, drawn, depth, inner, unit) if piece.centre else 0.0 for piece in run]
    words = []
    for number, piece in enumerate(run):
        if piece.curve is not None:
            words.append(_curve_word(piece.curve, drawn, unit))
            continue
        if piece.centre is not None:
            words.append(f"bend {_figure(piece.sweep)} r {length_text(inside[number], unit)}")
            continue
        length = piece.length
        # A leg is measured to the corner of its bends' faces; next to a spiral, to where that begins.
        for beside in (number - 1, number + 1):
            if beyond is not None and 0 <= beside < len(run) and run[beside].centre is not None:
                length += setback_mm(run[beside].sweep, inside[beside], beyond)
        words.append(f"leg {length_text(length, unit)}")
    return "; ".join(words)


def _curve_word(curve: DrawnCurve, drawn: DrawnLine, unit: Unit) -> str:
    """The word of a scroll or volute, with radii to the line that was drawn."""
    face = "inside" if (curve.turns > 0) == (drawn == "left") else "outside"
    of = "" if drawn == "centre" else f" {face}"
    start, finish = length_text(curve.start, unit), length_text(curve.finish, unit)
    return f"{curve.kind} from {start} to {finish} turns {_figure(curve.turns)}{of}"


def _closed_word(curve: DrawnCurve, drawn: DrawnLine, depth: float, inner: float, unit: Unit) -> str:
    """The word of a ring or ellipse: of the bar's inside if that is one, else of the drawn line itself.

    Raises:
        CannotMakeError: neither is one.
    """
    if drawn == "centre":
        tries = [(inner, "inside"), (0.0, "centre")]
    else:
        runs_left = sum(px * qy - qx * py for (px, py), (qx, qy) in pairwise(curve.points)) > 0
        tries = [(0.0 if runs_left == (drawn == "left") else depth, "inside")]
    for beside, of in tries:
        axes = closed_axes(curve.points, beside)
        if axes is not None and abs(axes[0] - axes[1]) < ROUNDED_MM * 10:
            return f"ring d {length_text((axes[0] + axes[1]) / 2, unit)} {of}"
        if axes is not None:
            along, across = (length_text(axis, unit) for axis in axes)
            return f"ellipse {along} x {across} {of}"
    raise _closed(curve.points[0], unit)


def _closed(place: Point, unit: Unit) -> CannotMakeError:
    return CannotMakeError(
        f"The line is closed: it comes back to {_place(place, unit)}.",
        hint="Leave a gap where the bar begins and ends.",
    )


def chained(pieces: Sequence[ChainPiece], unit: Unit, gap_mm: float) -> list[ChainPiece]:
    """The pieces as one chain.

    Collinear lines and concentric arcs are joined, and small pieces of a curve fitted.

    Raises:
        CannotMakeError: they branch, do not meet, or are closed but no ring or ellipse.
    """
    return _merged(with_curves(_chained(pieces, unit, gap_mm)))


def inside_mm(piece: ChainPiece, drawn: DrawnLine, depth: float, inner: float, unit: Unit) -> float:
    """Inside radius in mm of a drawn arc.

    A drawn face is on the inside of some bends, on the outside of others.

    `depth` is that of the bar in the plane of the bend, `inner` the distance from its inner face to the drawn
    line.

    Raises:
        CannotMakeError: the arc is too tight for the inside of such a bar.
    """
    left = piece.sweep > 0
    to_inside = inner if drawn == "centre" else 0.0 if left == (drawn == "left") else depth
    inside = piece.radius - to_inside
    if inside < -ROUNDED_MM:
        raise CannotMakeError(
            f"The arc at {_place(piece.p, unit)} has a radius of {length_text(piece.radius, unit)} {unit}: "
            "too little for the inside of this bar.",
            hint="Name a thinner --bar, or say with --line that a face is drawn.",
        )
    return max(0.0, inside)


End = tuple[int, int]  # number of a piece, and 0 for its start or 1 for its end


def _chained(pieces: Sequence[ChainPiece], unit: Unit, gap_mm: float) -> list[ChainPiece]:
    """The pieces in order along one chain, which begins at the end that was drawn first."""
    # Points and strokes of no length are left behind by drawing programs.
    real = [piece for piece in pieces if piece.centre or piece.length > ROUNDED_MM]
    if not real:
        raise CannotMakeError("There is no line to read.", hint="Name the layer that it lies on: --layer L.")
    place: dict[End, Point] = {}
    for number, piece in enumerate(real):
        place |= {(number, 0): piece.p, (number, 1): piece.q}
    beside = _beside(place, gap_mm)
    free = _free_ends(place, beside, unit)
    run: list[ChainPiece] = []
    end: End | None = free[0] if free else (0, 0)
    while end is not None and len(run) < len(real):
        number, way = end
        run.append(real[number].turned() if way else real[number])
        end = next(iter(beside[(number, 1 - way)]), None)
    if not free:
        if end != (0, 0) or not is_closed_curve(run):
            raise _closed(place[(0, 0)], unit)
        return [ChainPiece(run[0].p, run[0].p, curve=DrawnCurve("closed", points_of(run)))]
    if len(run) < len(real):
        told = ", ".join(_place(place[end], unit) for end in free[:8])
        raise CannotMakeError(
            f"The line is in pieces that do not meet; they begin and end at {told}.",
            hint="Close the gaps, or allow wider ones with --gap.",
        )
    return run


def _beside(place: Mapping[End, Point], gap_mm: float) -> dict[End, list[End]]:
    """For each end the others within the gap, found by a grid of cells of that size."""
    fields: dict[tuple[int, int], list[End]] = {}
    wide = max(gap_mm, ROUNDED_MM)
    for end, (x, y) in place.items():
        fields.setdefault((floor(x / wide), floor(y / wide)), []).append(end)

    def near(end: End) -> list[End]:
        column, row = (floor(value / wide) for value in place[end])
        around = (fields.get((column + x, row + y), []) for x in (-1, 0, 1) for y in (-1, 0, 1))
        return sorted(
            other
            for field in around
            for other in field
            if other != end and apart(place[end], place[other]) <= gap_mm
        )

    return {end: near(end) for end in place}


def loose_ends(pieces: Sequence[ChainPiece], gap_mm: float) -> list[End]:
    """Ends of pieces that meet no other; an open chain has two."""
    place = {
        (number, way): point
        for number, piece in enumerate(pieces)
        for way, point in enumerate((piece.p, piece.q))
    }
    return [end for end, others in _beside(place, gap_mm).items() if not others]


def _free_ends(place: Mapping[End, Point], beside: Mapping[End, Sequence[End]], unit: Unit) -> list[End]:
    """The two ends of an open chain, none of a closed one.

    Raises:
        CannotMakeError: three or more pieces meet, or there are more than two free ends.
    """
    crowded = next((end for end, others in beside.items() if len(others) > 1), None)
    if crowded is not None:
        raise CannotMakeError(
            f"The line branches: {len(beside[crowded]) + 1} ends meet at {_place(place[crowded], unit)}.",
            hint="A bar has two ends; put other lines on another layer.",
        )
    return [end for end, others in beside.items() if not others]


def _merged(run: Sequence[ChainPiece]) -> list[ChainPiece]:
    """The run with collinear lines, and arcs about the same centre, joined."""
    merged: list[ChainPiece] = []
    for piece in run:
        last = merged[-1] if merged else None
        if last and last.is_straight and piece.is_straight and abs(last.turn_to(piece)) < KINK_DEG:
            merged[-1] = ChainPiece(last.p, piece.q)
        elif (
            last and last.centre and piece.centre and apart(last.centre, piece.centre) < ROUNDED_MM * 10
            and last.sweep * piece.sweep > 0
        ):  # fmt: skip
            merged[-1] = ChainPiece(last.p, piece.q, last.centre, last.sweep + piece.sweep)
        else:
            merged.append(piece)
    return merged


def _no_kinks(run: Sequence[ChainPiece], unit: Unit) -> None:
    for before, after in pairwise(run):
        turn = before.turn_to(after)
        if abs(turn) > KINK_DEG:
            raise CannotMakeError(
                f"The line turns by {show_angle(turn)} at {_place(after.p, unit)} without a radius.",
                hint="Draw the bend as an arc that runs smoothly into both lines.",
            )


def _no_crossings(run: Sequence[ChainPiece], unit: Unit) -> None:
    strokes = [(number, a, b) for number, piece in enumerate(run) for a, b in piece.strokes()]
    for (n1, a, b), (n2, c, d) in combinations(strokes, 2):
        if n2 - n1 > 1 and _cross(a, b, c, d):
            raise CannotMakeError(
                f"The line crosses itself near {_place(a, unit)}.",
                hint="A bar that passes itself bends in space: write its shape with turn.",
            )


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def length_text(mm: float, unit: Unit) -> str:
    """A length as text without a unit: in inches as a fraction to 1/64 where it is one, else to 1/1000."""
    if unit == "in":
        parts = mm / 25.4 * INCH_PARTS
        if abs(parts - round(parts)) * 25.4 / INCH_PARTS < ROUNDED_MM:
            nearest = Length(round(Fraction(round(parts), INCH_PARTS) * NM_PER_INCH))
            return show_length(nearest, "in", exact=True).removesuffix(" in")
        return f"{mm / 25.4:.4f}".rstrip("0").rstrip(".")
    return _figure(float(round(Fraction(mm) / STEP_MM) * STEP_MM))


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _place(point: Point, unit: Unit) -> str:
    one = 25.4 if unit == "in" else 1.0
    return f"({_figure(point[0] / one)}, {_figure(point[1] / one)})"
