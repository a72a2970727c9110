"""Reads circles on a drawn bar as holes of its legs. Begin at `holes_of`.

A circle in the view that shows the bends is a hole perpendicular to the plane of the bends.
"""

from collections.abc import Mapping, Sequence
from math import hypot, pi

from shopquote.calc.bar.neutral_axis import measured_beyond_mm, setback_mm
from shopquote.calc.bar.sections import Section
from shopquote.calc.drawing.chain import GAP_MM, DrawnLine, chained, inside_mm, length_text
from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.pencil import away
from shopquote.calc.drawing.pieces import ChainPiece, apart
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import Unit

ON_LINE_MM = 0.05  # largest distance of a circle's centre from the centre line at which it counts as on it


@dataclass(frozen=True, slots=True)
class LikeHoles:
    """Equal holes of one leg, with lengths as texts for a job file; `face` "" for the widest face."""

    dia: str
    leg: int
    at: tuple[str, ...]
    across: str
    face: str = ""

    def __str__(self) -> str:
        across = f", across = {self.across}" if self.across != "0" else ""
        face = f', face = "{self.face}"' if self.face else ""
        return f"{{ dia = {self.dia}, leg = {self.leg}, at = [{', '.join(self.at)}]{across}{face} }}"


def holes_of(
    pieces: Sequence[ChainPiece],
    circles: Sequence[tuple[Point, float]],
    section: Section,
    unit: Unit,
    *,
    dims: Dims = "outside",
    axis: BendAxis = "easy",
    drawn: DrawnLine = "centre",
    gap_mm: float = GAP_MM,
) -> tuple[tuple[LikeHoles, ...], int]:
    """The holes among circles (centre, diameter in mm) on straight legs, and the number of circles on none.

    Raises:
        CannotMakeError: the line is not one open chain.
    """
    run = chained(pieces, unit, gap_mm)
    depth, inner = section.depth_mm(axis), section.centroid_mm(axis)
    beyond = measured_beyond_mm(dims, depth, inner)
    bent = not all(piece.is_straight for piece in run)
    # A straight bar has no plane of bends, so that either of its faces may be the one drawn.
    reach = (depth if bent else max(depth, section.width_mm(axis))) / 2
    face = "left" if bent and section.form.step else ""
    aside = {"centre": 0.0, "left": -depth / 2, "right": depth / 2}[drawn]
    found: dict[tuple[str, int, str], list[str]] = {}
    missed = 0
    for middle, dia in circles:
        leg, placed = 0, False
        for number, piece in enumerate(run):
            if not piece.is_straight:
                continue
            leg += 1
            along, off = _on(piece, middle)
            off += aside
            if not (0 <= along <= piece.length and abs(off) + dia / 2 < reach):
                continue
            if number and beyond is not None and run[number - 1].centre is not None:
                # The line begins at the tangent point, and the leg is measured from beyond it.
                before = run[number - 1]
                along += setback_mm(before.sweep, inside_mm(before, drawn, depth, inner, unit), beyond)
            across = "0" if abs(off) < ON_LINE_MM else _signed(off, unit)
            found.setdefault((length_text(dia, unit), leg, across), []).append(length_text(along, unit))
            placed = True
            break
        missed += not placed
    return _told(found, face), missed


def rings_at_ends(
    pieces: Sequence[ChainPiece], circles: Sequence[tuple[Point, float]], unit: Unit, gap_mm: float = GAP_MM
) -> tuple[str, str, list[tuple[Point, float]]]:
    """The words of rings at the start and at the end, and the other circles.

    A ring is a circle into which the centre line runs tangentially at its start or end, turning left.
    """
    run = chained(pieces, unit, gap_mm)
    words, left = ["", ""], []
    for middle, dia in circles:
        for at, (place, heading) in enumerate(
            ((run[0].p, run[0].heading()), (run[-1].q, run[-1].heading(True)))
        ):
            if apart(away(place, heading + pi / 2, dia / 2), middle) < ON_LINE_MM and not words[at]:
                words[at] = f"ring d {length_text(dia, unit)} centre"
                break
        else:
            left.append((middle, dia))
    return words[0], words[1], left


def _told(found: Mapping[tuple[str, int, str], Sequence[str]], face: str) -> tuple[LikeHoles, ...]:
    return tuple(LikeHoles(dia, leg, tuple(at), across, face) for (dia, leg, across), at in found.items())


def _on(piece: ChainPiece, middle: Point) -> tuple[float, float]:
    """Distance in mm of a point along a line, and to its left."""
    dx, dy = piece.q[0] - piece.p[0], piece.q[1] - piece.p[1]
    length = hypot(dx, dy)
    x, y = middle[0] - piece.p[0], middle[1] - piece.p[1]
    return (x * dx + y * dy) / length, (dx * y - dy * x) / length


def _signed(mm: float, unit: Unit) -> str:
    return f"-{length_text(-mm, unit)}" if mm < 0 else length_text(mm, unit)
