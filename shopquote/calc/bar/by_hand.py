"""Closed-form geometry of bends made without a bender: eyes, joggles, sharp corners, notched folds, collars.

Float millimetres and degrees. Each function gives the source of its formula. `word_runs` makes runs of them;
`Run.by` is the way of making.
"""

from math import acos, asin, atan2, cos, degrees, hypot, pi, radians, sin, sqrt, tan
from typing import Literal

from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis

# Ways of making a curve: on a bender (former or rolls), hot, on a pin, in joggle blocks, notched and folded,
# on a mandrel, wrapped round (a collar).
MadeBy = Literal["bender", "fire", "pin", "blocks", "notch", "mandrel", "wrap"]

# Inside radius of the neck behind a centred eye, over the bar's thickness: common practice, no source.
NECK = 1.0


@dataclass(frozen=True, slots=True)
class EyeForm:
    """An eye as two bends in degrees: `neck` in the opposite sense (0 if beside the bar), then `turned`."""

    neck: float
    neck_inside_mm: float
    turned: float


def eye_beside(inside_mm: float, depth_mm: float) -> EyeForm:
    """An eye on one side of its bar, curled until its end meets the bar's face.

    The outer corner of the end lies (d/2 + T)(1 - cos) above the outer face of the bar and meets the
    inner face where cos a = (d/2) / (d/2 + T): A = 360 - a. Derived.

    >>> round(eye_beside(16, 8).turned, 6)
    300.0
    """
    return EyeForm(0.0, 0.0, 360.0 - degrees(acos(inside_mm / (inside_mm + 2 * depth_mm))))


def eye_centred(inside_mm: float, depth_mm: float) -> EyeForm:
    """An eye with its centre on the bar's axis: a neck of radius r_n, then the eye in the opposite sense.

    The centre is on the axis where cos g = r_n / (r_n + R), centre-line radii. The eye turns 270 + g degrees
    to the axis and ends where its outer corner meets the bar's face. Derived.

    >>> form = eye_centred(16, 8)
    >>> round(form.neck, 6), round(form.turned, 3)
    (60.0, 315.522)
    """
    neck_inside = NECK * depth_mm
    neck, centre = neck_inside + depth_mm / 2, (inside_mm + depth_mm) / 2
    angle = degrees(acos(neck / (neck + centre)))
    return EyeForm(angle, neck_inside, 270.0 + angle - degrees(asin(depth_mm / 2 / (centre + depth_mm / 2))))


def joggle_form(offset_mm: float, length_mm: float, centre_mm: float) -> tuple[float, float] | None:
    """Angle of both bends in degrees and the straight between them in mm; None where they do not fit.

    With straight s and centre-line radii R: L = 2 R sin a + s cos a, D = 2 R (1 - cos a) + s sin a, so
    s^2 = L^2 + D^2 - 4 R D and a = atan2(2 R, s) - atan2(2 R - D, L). Derived.

    >>> angle, straight = joggle_form(100, 250, 150)
    >>> round(angle, 3), round(straight, 3)
    (30.901, 111.803)
    """
    square = length_mm**2 + offset_mm**2 - 4 * centre_mm * offset_mm
    if square < -1e-3:
        return None
    straight = sqrt(max(0.0, square))
    return degrees(atan2(2 * centre_mm, straight) - atan2(2 * centre_mm - offset_mm, length_mm)), straight


def corner_stock_mm(angle: float, depth_mm: float, upset_share: float) -> float:
    """Bar in mm that a sharp corner takes beyond its legs' tangent points: T tan(A/2) plus the upset.

    Legs measured outside overlap by T^2 tan(A/2) of metal, so by constant volume the corner takes
    T tan(A/2); upset_share T is added for each bend to fill it: a quarter by FAO AH635E, blacksmithing
    manual, exercise on the upset square bend.

    >>> 2 * (120 - 12) + corner_stock_mm(90, 12, 0.25)
    231.0
    """
    return depth_mm * (tan(radians(abs(angle)) / 2) + upset_share)


# Allowance of a collar beyond the perimeter that it encloses, in its own thicknesses T. Smiths' rule: 2 T (a
# textbook of 2006, quoted in a public thread on collars; others there cut 2.5 to 3). Its centre line is
# longer by pi T, but a collar stretches as it is hammered round.
COLLAR_MORE = 2.0


@dataclass(frozen=True, slots=True)
class Notch:
    """The notch of a folded angle: width at the toe, length of the weld that closes it, metal removed."""

    wide_mm: float
    weld_mm: float
    removed_mm3: float


def notched_leg_mm(section: Section, axis: BendAxis) -> float:
    """Length in mm of the leg that is notched: the shorter one folded the easy way, else the longer."""
    return section.depth_mm(axis)


def folded_as(section: Section, axis: BendAxis) -> Section:
    """The leg that is not notched, as the flat bar that the fold bends."""
    whole = section.sizes[0] if axis == "easy" else section.sizes[1]
    return Section("flat", (whole, section.sizes[2]))


def notch_of(angle: float, leg_mm: float, thickness_mm: float) -> Notch:
    """The V notch in one leg, down to the inner face of the other, which closes when folded by `angle`.

    Width 2 (B - t) tan(A/2), closing weld (B - t) / cos(A/2), metal (B - t)^2 tan(A/2) t. Derived.

    >>> notch = notch_of(90, 40, 4)
    >>> round(notch.wide_mm, 6), round(notch.weld_mm, 3), round(notch.removed_mm3, 6)
    (72.0, 50.912, 5184.0)
    """
    high, half = leg_mm - thickness_mm, radians(angle) / 2
    return Notch(2 * high * tan(half), high / cos(half), high * high * tan(half) * thickness_mm)


def ellipse_length_mm(a_mm: float, b_mm: float) -> float:
    """Perimeter in mm of an ellipse with these semi-axes, by the arithmetic-geometric mean.

    P = 2 pi (a^2 - sum 2^(n-1) c_n^2) / M(a, b), c_n^2 = a_n^2 - b_n^2: Gauss. Exact to rounding.

    >>> round(ellipse_length_mm(300, 200), 6), round(ellipse_length_mm(50, 50), 6)
    (1586.543959, 314.159265)
    """
    low, high = sorted((a_mm, b_mm))
    mean, other, total, power = high, low, high * high, 0.5
    total -= power * (mean * mean - other * other)
    for _ in range(60):
        mean, other, half = (mean + other) / 2, sqrt(mean * other), (mean - other) / 2
        power *= 2
        total -= power * half * half
        if half <= 1e-15 * mean:
            break
    return 2 * pi * total / mean


def ellipse_point(a_mm: float, b_mm: float, beside_mm: float, t: float) -> tuple[float, float]:
    """Point at the parameter `t` of the curve parallel to an ellipse, outside it by `beside_mm`.

    Measured from the middle of the ellipse's first side.
    """
    lean = hypot(a_mm * cos(t), b_mm * sin(t))
    return (
        a_mm * sin(t) + beside_mm * b_mm * sin(t) / lean,
        b_mm * (1 - cos(t)) + beside_mm * (1 - a_mm * cos(t) / lean),
    )
