"""Formatting of lengths, forces and moments in messages, in the job's unit."""

from fractions import Fraction
from math import ceil, floor

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, Unit, show_inches

NEWTONS_IN_LBF = 4.4482216152605
MM_IN_FOOT = 304.8
# Float lengths in mm that differ by less are equal: a nanometre, the step of `Length`.
SAME_MM = 1e-6


def apart(one: float, other: float) -> tuple[str, str]:
    """Two numbers as text: rounded to integers, or to the first digits in which they differ.

    >>> apart(23.3, 18), apart(23.04, 23), apart(5, 5)
    (('23', '18'), ('23.04', '23'), ('5', '5'))
    """
    for digits in range(5):
        shown = f"{one:.{digits}f}", f"{other:.{digits}f}"
        if shown[0] != shown[1]:
            return f"{round(one, digits):.10g}", f"{round(other, digits):.10g}"
    return f"{one:.0f}", f"{other:.0f}"


@dataclass(frozen=True, slots=True)
class Say:
    """Formats float millimetres in the unit of a job: to 0.1 mm, or to 1/32 in.

    >>> Say("mm")(44.04), Say("in").up(25.5), Say("mm").down(18.19)
    ('44 mm', '1-1/32 in', '18.1 mm')
    """

    unit: Unit = "mm"

    def __call__(self, value_mm: float) -> str:
        """A length in mm, rounded to the nearest step."""
        return self._steps(round(value_mm / self._step()))

    def up(self, value_mm: float) -> str:
        """A length in mm, rounded up, for "at least"."""
        return self._steps(ceil(value_mm / self._step() - 1e-6))

    def down(self, value_mm: float) -> str:
        """A length in mm, rounded down, for "at most"."""
        return self._steps(floor(value_mm / self._step() + 1e-6))

    def force(self, newtons: float) -> str:
        """A force, rounded to 1 N or 1 lbf.

        >>> Say("mm").force(288.4), Say("in").force(288.4)
        ('288 N', '65 lbf')
        """
        return f"{newtons / self._newtons:.0f} {self._force}"

    def moment(self, newton_metres: float) -> str:
        """A bending moment, rounded to 1 N m or 1 lbf ft.

        >>> Say("mm").moment(400.2), Say("in").moment(400.2)
        ('400 N m', '295 lbf ft')
        """
        return f"{newton_metres / self._newton_metres:.0f} {self._moment}"

    def forces(self, one: float, other: float) -> tuple[str, str]:
        """Two forces in N to be compared, with the digits in which they differ."""
        first, second = apart(one / self._newtons, other / self._newtons)
        return f"{first} {self._force}", f"{second} {self._force}"

    def moments(self, one: float, other: float) -> tuple[str, str]:
        """Two moments in N m to be compared, with the digits in which they differ.

        >>> Say("mm").moments(300.2, 300), Say("mm").moments(400.2, 300)
        (('300.2 N m', '300 N m'), ('400 N m', '300 N m'))
        """
        first, second = apart(one / self._newton_metres, other / self._newton_metres)
        return f"{first} {self._moment}", f"{second} {self._moment}"

    @property
    def _newtons(self) -> float:
        return 1.0 if self.unit == "mm" else NEWTONS_IN_LBF

    @property
    def _newton_metres(self) -> float:
        return 1.0 if self.unit == "mm" else NEWTONS_IN_LBF * MM_IN_FOOT / 1000

    @property
    def _force(self) -> str:
        return "N" if self.unit == "mm" else "lbf"

    @property
    def _moment(self) -> str:
        return "N m" if self.unit == "mm" else "lbf ft"

    def _step(self) -> float:
        return 0.1 if self.unit == "mm" else 25.4 / 32

    def _steps(self, count: int) -> str:
        if self.unit == "mm":
            return f"{count / 10:.10g} mm" if abs(count) < 10**9 else f"{count / 10:.4g} mm"
        return show_inches(Length.from_inches(Fraction(count, 32)), 32)
