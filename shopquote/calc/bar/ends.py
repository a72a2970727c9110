"""Geometry of sawn ends: hand of the mitres, long and short points, cut area, weld length.

Float mm. A mitre is sawn across the larger side of its bar. Two mitres of the same sign have their long
points on one side, as in a frame; of opposite signs the cuts are parallel. Begin at `mitres_of`.
"""

from math import cos, pi, radians, sqrt, tan
from typing import Literal

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import show_angle
from shopquote.errors import CannotMakeError

Hand = Literal["frame", "parallel", "one end"]

# Metal in mm that must be left between two cuts, less than a saw leaves whole.
LEAST_MM = 0.1


@dataclass(frozen=True, slots=True)
class Mitres:
    """The mitres of one piece.

    long_mm: sawn length, long point to long point; short_mm: the piece's shortest side, in a frame from short
    point to short point; back_mm: distance of each short point from its long point along the bar; weld_mm:
    perimeter of each mitred face, for a weld all round. `roll`: angle in degrees about the bar between the
    planes of both mitres.
    """

    hand: Hand
    long_mm: float
    short_mm: float
    back_mm: tuple[float, float]
    weld_mm: tuple[float, float]
    roll: float = 0.0


def back_mm(section: Section, end: End) -> float:
    """Distance in mm along the bar from an end's long point to its short one: h tan m, h the larger side."""
    return section.height_mm * tan(radians(abs(float(end.mitre)))) if end.kind == "mitre" else 0.0


def cut_area_mm2(section: Section, end: End) -> float:
    """Area of the sawn face of an end in mm2."""
    return section.area_mm2 / _cosine(end)


def weld_length_mm(section: Section, end: End) -> float:
    """Perimeter of the sawn face of an end in mm.

    On a round it is an ellipse, by Ramanujan's second approximation, accurate to 1e-5 up to 80 degrees.
    """
    if section.form.is_round:
        size = section.sizes_mm[0] / 2
        a, b = size / _cosine(end), size
        h = ((a - b) / (a + b)) ** 2
        return pi * (a + b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h)))
    # Sides along the mitre grow by 1 / cos, those across it keep their length.
    return section.perimeter_mm + 2 * section.height_mm * (1 / _cosine(end) - 1)


def _cosine(end: End) -> float:
    return cos(radians(float(end.mitre))) if end.kind == "mitre" else 1.0


def mitres_of(
    section: Section, ends: tuple[End, End], cut_mm: float, roll: float, where: str, say: Say
) -> Mitres | None:
    """The mitres of a piece of this sawn length; None where both ends are square.

    Raises:
        CannotMakeError: the cuts cross, or leave no metal between them.
    """
    if all(end.kind == "square" for end in ends):
        return None
    back = (back_mm(section, ends[0]), back_mm(section, ends[1]))
    hand: Hand = "one end"
    if all(back):
        hand = "frame" if (ends[0].mitre > 0) == (ends[1].mitre > 0) else "parallel"
    taken = sum(back) if hand == "frame" else max(back)
    # A short side of 0 gives a triangle, as a gusset is. Two cuts along the same diagonal leave nothing.
    if taken > cut_mm + LEAST_MM / 10 or cut_mm - sum(back) / 2 < LEAST_MM:
        what = "its mitres cross: they take" if hand == "frame" else "a mitre takes"
        raise CannotMakeError(
            f"{where}: {what} {say(taken)} of a piece of {say(cut_mm)}.",
            hint=f"Make the piece at least {say.up(taken)} long, or the mitres nearer to square.",
        )
    weld = (weld_length_mm(section, ends[0]), weld_length_mm(section, ends[1]))
    return Mitres(hand, cut_mm, max(0.0, cut_mm - taken), back, weld, roll)


def mitre_words(mitres: Mitres, say: Say) -> str:
    """The hand of the mitres with both lengths, in words for papers."""
    hands = {
        "frame": "mitres as in a frame, long points on one side",
        "parallel": "mitres parallel, long points on opposite sides",
        "one end": "mitre at one end",
    }
    turned = f", the finish end turned {show_angle(mitres.roll)} about the bar" if mitres.roll else ""
    side = "short points" if mitres.hand == "frame" else "short side"
    return (
        f"{hands[mitres.hand]}{turned}: {say(mitres.long_mm)} over long points, {side} {say(mitres.short_mm)}"
    )
