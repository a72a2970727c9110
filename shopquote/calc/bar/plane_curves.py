"""Plane curves: circle, Archimedean and logarithmic spiral, parallel curve of an ellipse.

Every curve begins at the origin in the direction of x and turns to the left. Float millimetres; parameters
and headings in radians. Begin at `curve_of`.
"""

from abc import ABC, abstractmethod
from functools import lru_cache
from math import atan2, cos, exp, expm1, hypot, log, pi, sin, sqrt

from shopquote.calc.bar.by_hand import ellipse_point
from shopquote.calc.bar.develop import Run, scroll_length_mm
from shopquote.calc.frozen import dataclass

# Newton's method stops when the error of a length or heading is below this share of the whole.
CLOSE = 1e-13
MOST_STEPS = 60


class PlaneCurve(ABC):
    """A curve with its parameter t from 0 to `total`."""

    total: float

    @abstractmethod
    def length(self, t: float) -> float:
        """Length in mm from the start to t."""

    @abstractmethod
    def heading(self, t: float) -> float:
        """Angle in radians by which the tangent has turned from the start to t."""

    @abstractmethod
    def point(self, t: float) -> tuple[float, float]:
        """Point at t in mm."""

    @abstractmethod
    def radius(self, t: float) -> float:
        """Radius of curvature in mm at t."""

    def at_length(self, length: float) -> float:
        """The t at a length in mm along the curve."""
        whole = self.length(self.total)
        # Newton's method begins in proportion, which is exact on a circle.
        t = self.total * length / whole
        for _ in range(MOST_STEPS):
            off = length - self.length(t)
            if abs(off) <= CLOSE * whole:
                break
            # Newton's step: ds/dt = R dh/dt, where R is the radius of curvature and h the heading.
            t += off / (self.radius(t) * self._turning(t))
        return t

    def at_heading(self, heading: float) -> float:
        """The t at which the tangent has turned by `heading` radians."""
        t = self.total * heading / self.heading(self.total)
        for _ in range(MOST_STEPS):
            off = heading - self.heading(t)
            if abs(off) <= CLOSE:
                break
            t += off / self._turning(t)
        return t

    @abstractmethod
    def _turning(self, t: float) -> float:
        """Derivative of the heading by t."""


@dataclass(frozen=True, slots=True)
class CircleCurve(PlaneCurve):
    """An arc of `mm` radius; t is its angle."""

    mm: float
    total: float

    def length(self, t: float) -> float:
        """Length in mm: radius times angle."""
        return self.mm * t

    def heading(self, t: float) -> float:
        """The angle itself, in radians."""
        return t

    def point(self, t: float) -> tuple[float, float]:
        """Point on the arc in mm."""
        return self.mm * sin(t), self.mm * (1 - cos(t))

    def radius(self, t: float) -> float:
        """The arc's radius in mm."""
        return self.mm

    def _turning(self, t: float) -> float:
        return 1.0


@dataclass(frozen=True, slots=True)
class SpiralCurve(PlaneCurve):
    """r = start + b t, b = (finish - start) / total; t is the angle about its centre."""

    start: float
    finish: float
    total: float

    @property
    def b(self) -> float:
        """Growth of the radius per radian in mm."""
        return (self.finish - self.start) / self.total

    def _at(self, t: float) -> float:
        return self.start + self.b * t

    def length(self, t: float) -> float:
        """Length in mm by the closed form of `scroll_length_mm`; negative for t below 0."""
        if t == 0:
            return 0.0
        return scroll_length_mm(self.start, self._at(t), t / (2 * pi)) * (1 if t > 0 else -1)

    def heading(self, t: float) -> float:
        """t corrected by the change of angle between the tangent and the circle's, in radians."""
        return t - atan2(self.b, self._at(t)) + atan2(self.b, self.start)

    def point(self, t: float) -> tuple[float, float]:
        """Place, in the frame of the tangent at the start."""
        radius = self._at(t)
        x, y = radius * sin(t), self.start - radius * cos(t)
        lean = hypot(self.start, self.b)
        c, s = self.start / lean, self.b / lean
        return x * c - y * s, x * s + y * c

    def radius(self, t: float) -> float:
        """(r^2 + b^2)^1.5 / (r^2 + 2 b^2)."""
        square = self._at(t) ** 2 + self.b**2
        return float(square**1.5 / (square + self.b**2))

    def _turning(self, t: float) -> float:
        return 1 + self.b**2 / (self._at(t) ** 2 + self.b**2)


@dataclass(frozen=True, slots=True)
class VoluteCurve(PlaneCurve):
    """r = start e^(b t), b = ln(finish / start) / total; the angle of tangent and radius is constant."""

    start: float
    finish: float
    total: float

    @property
    def b(self) -> float:
        """Logarithmic growth of the radius per radian, a ratio."""
        return log(self.finish / self.start) / self.total

    def length(self, t: float) -> float:
        """Length in mm: start (e^(b t) - 1) sqrt(1 + b^2) / b."""
        return self.start * expm1(self.b * t) * hypot(1, self.b) / self.b

    def heading(self, t: float) -> float:
        """The angle about the centre itself, in radians."""
        return t

    def point(self, t: float) -> tuple[float, float]:
        """Place, in the frame of the tangent at the start."""
        radius, lean = self.start * exp(self.b * t), hypot(1, self.b)
        x, y = radius * sin(t), self.start - radius * cos(t)
        c, s = 1 / lean, self.b / lean
        return x * c - y * s, x * s + y * c

    def radius(self, t: float) -> float:
        """r sqrt(1 + b^2)."""
        return self.start * exp(self.b * t) * hypot(1, self.b)

    def _turning(self, t: float) -> float:
        return 1.0


@dataclass(frozen=True, slots=True)
class BesideEllipse(PlaneCurve):
    """The parallel curve `beside` mm outside an ellipse with semi-axes a and b; t is the eccentric angle.

    Its heading is the ellipse's, so its length is the ellipse's plus `beside` times the heading.
    """

    a: float
    b: float
    beside: float
    total: float

    def length(self, t: float) -> float:
        """Length in mm: the ellipse's by Gauss-Legendre quadrature, plus `beside` times the heading."""
        return _ellipse_arc(self.a, self.b, t) + self.beside * self.heading(t)

    def heading(self, t: float) -> float:
        """Direction of the tangent, through whole turns."""
        turns = round(t / (2 * pi))
        rest = t - 2 * pi * turns
        return 2 * pi * turns + atan2(self.b * sin(rest), self.a * cos(rest))

    def point(self, t: float) -> tuple[float, float]:
        """Point in mm, from the middle of the side on which the curve begins."""
        return ellipse_point(self.a, self.b, self.beside, t)

    def radius(self, t: float) -> float:
        """(a^2 cos^2 + b^2 sin^2)^1.5 / (a b), and beside."""
        return float(self._square(t) ** 1.5 / (self.a * self.b) + self.beside)

    def _square(self, t: float) -> float:
        return (self.a * cos(t)) ** 2 + (self.b * sin(t)) ** 2

    def _turning(self, t: float) -> float:
        return self.a * self.b / self._square(t)


# 5-point Gauss-Legendre nodes and weights; over an interval of pi/32 the error is below 1e-12 of the length.
_PLACES = (
    (0.0, 128 / 225),
    *((way * sqrt(5 - 2 * sqrt(10 / 7)) / 3, (322 + 13 * sqrt(70)) / 900) for way in (-1, 1)),
    *((way * sqrt(5 + 2 * sqrt(10 / 7)) / 3, (322 - 13 * sqrt(70)) / 900) for way in (-1, 1)),
)
_STRETCH = pi / 32


def _ellipse_arc(a: float, b: float, t: float) -> float:
    # Whole stretches come from the cache, so that a step of Newton's method integrates only the last part.
    whole = int(t / _STRETCH)
    return _whole_arc(a, b, whole) + _arc_part(a, b, whole * _STRETCH, t)


@lru_cache(maxsize=4096)
def _whole_arc(a: float, b: float, count: int) -> float:
    sense = 1 if count > 0 else -1
    return sum(
        _arc_part(a, b, sense * part * _STRETCH, sense * (part + 1) * _STRETCH) for part in range(abs(count))
    )


def _arc_part(a: float, b: float, low: float, high: float) -> float:
    half, middle = (high - low) / 2, (high + low) / 2
    return half * sum(
        weight * hypot(a * cos(middle + half * x), b * sin(middle + half * x)) for x, weight in _PLACES
    )


def curve_of(run: Run) -> PlaneCurve:
    """The plane curve of a run; for a helix its circle in plan."""
    total = abs(run.angle) * pi / 180
    if run.kind == "scroll":
        return SpiralCurve(run.centre_mm, run.centre_end_mm, total)
    if run.kind == "volute":
        return VoluteCurve(run.centre_mm, run.centre_end_mm, total)
    if run.kind == "ellipse":
        return BesideEllipse(*run.axes_mm, run.centre_mm - run.inside_mm, total)
    return CircleCurve(run.centre_mm, total)
