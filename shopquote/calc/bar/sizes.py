"""Sizes in messages, in the job's own unit."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from shopquote.calc.units import Length, Unit, show_inches


@dataclass(frozen=True, slots=True)
class Say:
    """Shows float millimetres in the unit of a job: to 0.1 mm, or to 1/32 in.

    >>> Say("mm")(44.04), Say("in").up(25.5), Say("mm").down(18.19)
    ('44 mm', '1-1/32 in', '18.1 mm')
    """

    unit: Unit = "mm"

    def __call__(self, value_mm: float) -> str:
        """To the nearest step."""
        return self._steps(round(value_mm / self._step()))

    def up(self, value_mm: float) -> str:
        """The step at or above: for "at least"."""
        return self._steps(ceil(value_mm / self._step() - 1e-6))

    def down(self, value_mm: float) -> str:
        """The step at or below: for "at most"."""
        return self._steps(floor(value_mm / self._step() + 1e-6))

    def _step(self) -> float:
        return 0.1 if self.unit == "mm" else 25.4 / 32

    def _steps(self, count: int) -> str:
        if self.unit == "mm":
            return f"{count / 10:.10g} mm" if abs(count) < 10**9 else f"{count / 10:.4g} mm"
        return show_inches(Length.from_inches(Fraction(count, 32)), 32)
