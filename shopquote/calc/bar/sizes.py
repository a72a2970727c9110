"""Sizes, forces and moments in messages, in the job's own unit."""

from fractions import Fraction
from math import ceil, floor

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, Unit, show_inches

NEWTONS_IN_LBF = 4.4482216152605
MM_IN_FOOT = 304.8


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

    def force(self, newtons: float) -> str:
        """A force to the whole N, or lbf.

        >>> Say("mm").force(288.4), Say("in").force(288.4)
        ('288 N', '65 lbf')
        """
        return f"{newtons:.0f} N" if self.unit == "mm" else f"{newtons / NEWTONS_IN_LBF:.0f} lbf"

    def moment(self, newton_metres: float) -> str:
        """A bending moment to the whole N m, or lbf ft.

        >>> Say("mm").moment(400.2), Say("in").moment(400.2)
        ('400 N m', '295 lbf ft')
        """
        if self.unit == "mm":
            return f"{newton_metres:.0f} N m"
        return f"{newton_metres * 1000 / MM_IN_FOOT / NEWTONS_IN_LBF:.0f} lbf ft"

    def _step(self) -> float:
        return 0.1 if self.unit == "mm" else 25.4 / 32

    def _steps(self, count: int) -> str:
        if self.unit == "mm":
            return f"{count / 10:.10g} mm" if abs(count) < 10**9 else f"{count / 10:.4g} mm"
        return show_inches(Length.from_inches(Fraction(count, 32)), 32)
