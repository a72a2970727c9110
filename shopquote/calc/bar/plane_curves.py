"""Curves in a plane whose curvature changes along them: circle and Archimedean spiral.

Every curve begins at the origin along x and turns to the left. Float millimetres; parameters and
headings are radians. Begin at `curve_of`.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

from shopquote.calc.bar.develop import Run, scroll_length_mm

# Newton's steps end when a length or a heading is met to this share of the whole.
CLOSE = 1e-13
MOST_STEPS = 60


class PlaneCurve(ABC):
    """One curve by its parameter t, 0 to `total`."""

    total: float

    @abstractmethod
    def length(self, t: float) -> float:
        """Length from the start to t, mm."""

    @abstractmethod
    def heading(self, t: float) -> float:
        """Angle that the tangent has turned from the start to t."""

    @abstractmethod
    def point(self, t: float) -> tuple[float, float]:
        """Place at t, mm."""

    @abstractmethod
    def radius(self, t: float) -> float:
        """Radius of curvature at t, mm."""

    def at_length(self, length: float) -> float:
        """The t that lies this far along the curve."""
        whole = self.length(self.total)
        t = self.total * length / whole
        for _ in range(MOST_STEPS):
            off = length - self.length(t)
            if abs(off) <= CLOSE * whole:
                break
            # A step in t is as long as the tangent turns it: ds = R dh, dh/dt by the heading's own slope.
            t += off / (self.radius(t) * self._turning(t))
        return t

    def at_heading(self, heading: float) -> float:
        """The t at which the tangent has turned so far."""
        t = self.total * heading / self.heading(self.total)
        for _ in range(MOST_STEPS):
            off = heading - self.heading(t)
            if abs(off) <= CLOSE:
                break
            t += off / self._turning(t)
        return t

    @abstractmethod
    def _turning(self, t: float) -> float:
        """How fast the tangent turns with t."""


@dataclass(frozen=True, slots=True)
class Circle(PlaneCurve):
    """An arc of `mm` radius; t is its angle."""

    mm: float
    total: float

    def length(self, t: float) -> float:
        """R t."""
        return self.mm * t

    def heading(self, t: float) -> float:
        """The angle itself."""
        return t

    def point(self, t: float) -> tuple[float, float]:
        """Place on the arc."""
        return self.mm * sin(t), self.mm * (1 - cos(t))

    def radius(self, t: float) -> float:
        """The same everywhere."""
        return self.mm

    def _turning(self, t: float) -> float:
        return 1.0


@dataclass(frozen=True, slots=True)
class Spiral(PlaneCurve):
    """r = start + b t, b = (finish - start) / total; t is the angle about its centre."""

    start: float
    finish: float
    total: float

    @property
    def b(self) -> float:
        """What the radius grows by with each radian."""
        return (self.finish - self.start) / self.total

    def _at(self, t: float) -> float:
        return self.start + self.b * t

    def length(self, t: float) -> float:
        """Closed form of `scroll_length_mm`; below the start it is negative."""
        if t == 0:
            return 0.0
        return scroll_length_mm(self.start, self._at(t), t / (2 * pi)) * (1 if t > 0 else -1)

    def heading(self, t: float) -> float:
        """t less what the tangent has come nearer to the circle's."""
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


def curve_of(run: Run) -> PlaneCurve:
    """The plane curve of a bend, arc, ring or scroll; of a helix the circle that it stands over."""
    total = abs(run.angle) * pi / 180
    if run.kind == "scroll":
        return Spiral(run.centre_mm, run.centre_end_mm, total)
    return Circle(run.centre_mm, total)
