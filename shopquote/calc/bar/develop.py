"""The developed form of a part: straights between tangent points, and curves with their neutral-axis length.

This "tangent form" holds for any angle of bend, unlike setbacks and deductions. Float millimetres and
degrees. `word_runs` makes runs of a shape's words. Begin at `Run`.
"""

from collections.abc import Callable
from math import asin, asinh, ceil, degrees, hypot, log, pi, radians, sqrt
from typing import Literal

from shopquote.calc.bar.by_hand import MadeBy
from shopquote.calc.bar.neutral_axis import KAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis
from shopquote.errors import CannotMakeError

RunKind = Literal[
    "straight", "bend", "arc", "ring", "helix", "scroll", "twist", "taper", "eye", "hook", "corner", "fold",
    "joggle", "ellipse", "volute", "collar",
]  # fmt: skip

# Curves that take a setback from the legs beside them.
SET_BACK: tuple[RunKind, ...] = ("bend", "corner", "fold")

# Number of parts in which a scroll is integrated where its neutral axis moves with the radius.
SCROLL_PARTS = 96

# Allowance for each sharp corner, in thicknesses: FAO AH635E, exercise on the upset square bend.
UPSET_SHARE = 0.25


SAY_MM = Say()


@dataclass(frozen=True, slots=True)
class Bending:
    """How the bar lies in a bend: depth T in the plane, width across it, centroid from the inner face.

    `roll`: angle in degrees, 0 to below 180, by which the section is turned against the part's bend axis; 180
    more where its other face is on the inside.
    """

    axis: BendAxis
    roll: float
    depth_mm: float
    width_mm: float
    centroid_mm: float


@dataclass(frozen=True, slots=True)
class Run:
    """One straight or curve of the bar in tangent form.

    flat_mm: length on the straight bar (neutral axis); true_mm: length along the centre line of the finished
    shape. turn: degrees by which the bending plane is turned before it. Of curves: the signed angle in
    degrees, inside radius and centre-line radius (at start and end of a scroll), pitch of a helix. `flat_at`:
    pairs (true_mm, flat_mm) along a curve whose neutral axis moves; empty where the two are proportional.
    `leg`: number of the leg before a curve. `word`: number of the shape word that it comes from. `by`: way of
    making it; `axes_mm`: inside semi-axes of an ellipse.
    """

    kind: RunKind
    word: int
    flat_mm: float
    true_mm: float
    turn: float = 0.0
    angle: float = 0.0
    inside_mm: float = 0.0
    centre_mm: float = 0.0
    centre_end_mm: float = 0.0
    pitch_mm: float = 0.0
    size_mm: float = 0.0
    bending: Bending | None = None
    k: KAnswer | None = None
    flat_at: tuple[tuple[float, float], ...] = ()
    leg: int = 0
    by: MadeBy = "bender"
    axes_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def torsion(self) -> float:
        """Degrees that the bending plane turns along a coil, 360 sin(slope) per turn; 0 for other runs."""
        if self.kind != "helix":
            return 0.0
        return self.angle * self.pitch_mm / hypot(2 * pi * self.centre_mm, self.pitch_mm)

    @property
    def is_curve(self) -> bool:
        """Whether it is a curve rather than a straight, twist or taper."""
        return self.bending is not None


@dataclass(frozen=True, slots=True)
class LegPlace:
    """Position of one leg on the straight bar, in mm from the bar's start.

    measured_from_mm: where the leg begins by the part's `dims`, which may be within the bend before it;
    from_mm, to_mm: the straight between the bends.
    """

    measured_from_mm: float
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class Development:
    """A part in tangent form; `flat_mm` is its developed length before allowances for ends."""

    runs: tuple[Run, ...]
    flat_mm: float
    true_mm: float
    legs: tuple[LegPlace, ...] = ()

    def name_of(self, place: int) -> str:
        """The name of a run on sheets, where the shape's words are not shown: by its bend or its legs."""
        run, before = self.runs[place], self.runs[:place]
        bends = sum(other.is_curve for other in before)
        if run.is_curve:
            return f"bend {bends + 1}" if run.kind == "bend" else f"{run.kind} (bend {bends + 1})"
        begins = sum(other.flat_mm for other in before)
        middle = begins + run.flat_mm / 2
        legs = [str(n) for n, leg in enumerate(self.legs, start=1) if leg.from_mm <= middle <= leg.to_mm]
        if legs:
            return f"leg {' and '.join(legs)}"
        return f"{run.kind} after bend {bends}" if bends else f"{run.kind} at the start"


BendingOf = Callable[[float], Bending]
KOf = Callable[[Bending, float], KAnswer]


def bend_allowance_mm(angle: float, radius_mm: float, depth_mm: float, k: float) -> float:
    """Bend allowance in mm: A (R + K T), the length of the neutral axis, with A in radians.

    Source: Kalpakjian and Schmid, SI 6th ed., eq. 16.2.

    >>> round(bend_allowance_mm(90, 25, 12, 0.5), 3)
    48.695
    """
    return radians(abs(angle)) * (radius_mm + k * depth_mm)


def helix_length_mm(neutral_diameter_mm: float, pitch_mm: float, turns: float) -> float:
    """Length in mm of a helix: n sqrt((pi D)^2 + p^2).

    >>> round(helix_length_mm(100, 40, 5), 2)
    1583.48
    """
    return turns * hypot(pi * neutral_diameter_mm, pitch_mm)


def scroll_length_mm(start_mm: float, finish_mm: float, turns: float) -> float:
    """Arc length in mm of an Archimedean spiral r = a + b t between two radii.

    F(u) = (u sqrt(u^2 + b^2) + b^2 asinh(u / b)) / 2b, rearranged so that it can be evaluated down to b = 0.

    >>> round(scroll_length_mm(15, 75, 2.5), 2)
    709.92
    """
    angle = 2 * pi * abs(turns)
    b = abs(finish_mm - start_mm) / angle
    low, high = sorted((start_mm, finish_mm))
    if b < 1e-6 * high:
        # Nearly a circle: the terms in b^2 are below 1e-12 of the length, and division by b would lose
        # digits.
        return angle * (low + high) / 2
    return _spiral_to(high, b) - _spiral_to(low, b)


def _spiral_to(radius: float, b: float) -> float:
    return (radius * sqrt(radius * radius + b * b) + b * b * asinh(radius / b)) / (2 * b)


def taper_stock_mm(section: Section, length_mm: float, tip_mm: float) -> float:
    """Length in mm of bar that is drawn out to a taper, by constant volume.

    The end keeps the section's proportions: V = h/3 (A1 + A2 + sqrt(A1 A2)), A2 = A1 (tip/size)^2.
    `tip_mm` is measured like the section's smallest size (diameter, side, thickness).

    Raises:
        CannotMakeError: the section is hollow, or the tip is larger than the bar.
    """
    if reason := section.cannot("taper"):
        raise CannotMakeError(f"Bar {section.words}: {reason}.")
    size = section.thickness_mm
    if tip_mm > size + SAME_MM:
        raise CannotMakeError(f"A taper's tip cannot be larger than its bar, {size:g} mm.")
    scale = tip_mm / size
    return length_mm / 3 * (1 + scale * scale + scale)


def volute_length_mm(start_mm: float, finish_mm: float, turns: float) -> float:
    """Arc length in mm of a logarithmic spiral r = a e^(b t) between two radii: |r2 - r1| sqrt(1 + b^2) / b.

    >>> round(volute_length_mm(10, 60, 2), 3)
    354.218
    """
    b = log(finish_mm / start_mm) / (2 * pi * abs(turns))
    return abs(finish_mm - start_mm) * hypot(1, b) / abs(b)


def hits_for_gap(angle: float, radius_mm: float, gap_mm: float) -> int:
    """Number of small bends by which a curve deviates by at most `gap_mm`.

    A facet of angle f deviates by R (1 - cos(f/2)), so f = 2 acos(1 - gap/R) = 4 asin(sqrt(gap / 2R)); the
    second form is accurate for small gaps.
    """
    if gap_mm >= radius_mm:
        return 1
    facet = degrees(4 * asin(sqrt(gap_mm / (2 * radius_mm))))
    return max(1, ceil(abs(angle) / facet - 1e-9))
