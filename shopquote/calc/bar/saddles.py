"""Saddle cuts: a tube's end cut to fit round another tube; float mm. Begin at `saddle_cut`."""

from math import pi, sin, sqrt

from shopquote.calc.bar.sizes import SAME_MM
from shopquote.calc.frozen import dataclass
from shopquote.errors import CannotMakeError

STEPS = 720  # points round a circle for the mean of a saddle; a smooth periodic function needs far fewer


@dataclass(frozen=True, slots=True)
class SaddleCut:
    """A saddle cut. `deeper_mm`: how much longer the tube is at its sides than at its crown, in mm.

    `mean_back_mm`: mean distance of the cut from the longest point. `template_mm`: the wrap-round template,
    that distance at equal steps round the outside, beginning at the crown.
    """

    deeper_mm: float
    mean_back_mm: float
    template_mm: tuple[float, ...]


def saddle_cut(outside_mm: float, other_mm: float, points: int = 24) -> SaddleCut:
    """The saddle of a tube of outside diameter d that meets one of diameter D square, axes crossing.

    At an angle f from the crown the cut is sqrt(R^2 - (r sin f)^2) from the other tube's axis. The longest
    point is where that is least, at the sides. `points` is the number of steps of the template.

    Raises:
        CannotMakeError: the other tube is the smaller one.

    >>> cut = saddle_cut(42.4, 60.3)
    >>> round(cut.deeper_mm, 3)
    8.712
    """
    r, big = outside_mm / 2, other_mm / 2
    if r > big + SAME_MM:
        raise CannotMakeError(f"A tube of {outside_mm:g} mm does not sit on one of {other_mm:g} mm.")

    def back(angle: float) -> float:
        least = sqrt(max(0.0, big * big - r * r))
        return sqrt(max(0.0, big * big - (r * sin(angle)) ** 2)) - least

    mean = sum(back(2 * pi * step / STEPS) for step in range(STEPS)) / STEPS
    template = tuple(back(2 * pi * step / points) for step in range(points))
    return SaddleCut(back(0.0), mean, template)
