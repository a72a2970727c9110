"""What an end is made of while it is worked, from its tip inwards, so that no metal is counted twice."""

from collections.abc import Iterator
from math import inf

from shopquote.calc.frozen import dataclass


@dataclass(frozen=True, slots=True)
class WorkedEnd:
    """One end worked: `stock_mm` more bar than its finished length (less where forging draws it out),
    `removed_mm3` cut away by lathe, file or saw, `reach_mm` of the finished part that the work covers."""

    stock_mm: float = 0.0
    removed_mm3: float = 0.0
    reach_mm: float = 0.0

    def __add__(self, other: "WorkedEnd") -> "WorkedEnd":
        return WorkedEnd(
            self.stock_mm + other.stock_mm,
            self.removed_mm3 + other.removed_mm3,
            max(self.reach_mm, other.reach_mm),
        )


# Up to where from the tip, mm; area, mm2; bar that went into a millimetre of it.
Step = tuple[float, float, float]


class EndMetal:
    """The steps of one end: at first the bar alone.

    >>> neck = EndMetal(400.0)  # turned to 300 mm2 over 60, then to 200 over 30
    >>> neck.turned(300.0, 60.0).removed_mm3, neck.turned(200.0, 30.0).removed_mm3, neck.tip_mm2
    (6000.0, 3000.0, 200.0)
    """

    def __init__(self, area_mm2: float) -> None:
        self.bar_mm2 = area_mm2
        self._steps: list[Step] = [(inf, area_mm2, 1.0)]

    @property
    def tip_mm2(self) -> float:
        """Area at the tip as it is now."""
        return self._steps[0][1]

    def turned(self, area_mm2: float, length_mm: float) -> WorkedEnd:
        """The end turned to an area over a length, where it is not smaller already."""
        over = list(self._within(length_mm))
        self._become([(to, min(area, area_mm2), bar) for to, _, area, bar in over], length_mm)
        removed = sum(max(0.0, area - area_mm2) * long for _, long, area, _ in over)
        return WorkedEnd(removed_mm3=removed, reach_mm=length_mm)

    def forged(self, area_mm2: float, length_mm: float) -> WorkedEnd:
        """The tip forged to an area over a length; of a neck more is turned to have its metal."""
        (_, tip, used), *_ = self._steps
        share = used * area_mm2 / tip
        over = list(self._within(length_mm))
        stock = sum((share - bar) * long for _, long, _, bar in over)
        was = sum(self._waste(bar, area) * long for _, long, area, bar in over)
        self._become([(length_mm, area_mm2, share)], length_mm)
        return WorkedEnd(stock, self._waste(share, area_mm2) * length_mm - was, length_mm)

    def _waste(self, bar: float, area_mm2: float) -> float:
        return bar * self.bar_mm2 - area_mm2

    def _within(self, length_mm: float) -> Iterator[tuple[float, float, float, float]]:
        """Of each step up to a length: where it ends, how long it is, area and bar."""
        begin = 0.0
        for to, area, bar in self._steps:
            end = min(to, length_mm)
            if end > begin:
                yield end, end - begin, area, bar
            begin = max(begin, end)

    def _become(self, steps: list[Step], length_mm: float) -> None:
        self._steps = steps + [step for step in self._steps if step[0] > length_mm]
