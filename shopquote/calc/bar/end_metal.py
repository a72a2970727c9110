"""The metal of an end after each operation on it, from its tip inwards, so that none is counted twice."""

from collections.abc import Iterator
from math import inf

from shopquote.calc.frozen import dataclass


@dataclass(frozen=True, slots=True)
class WorkedEnd:
    """The effect of work on an end.

    `stock_mm`: bar needed beyond the finished length (negative where forging draws the end out).
    `removed_mm3`: metal cut away by lathe, file or saw. `reach_mm`: length of the finished part that the work
    covers. `forged_mm`: length of bar forged that had not been forged before.
    """

    stock_mm: float = 0.0
    removed_mm3: float = 0.0
    reach_mm: float = 0.0
    forged_mm: float = 0.0

    def __add__(self, other: "WorkedEnd") -> "WorkedEnd":
        return WorkedEnd(
            self.stock_mm + other.stock_mm,
            self.removed_mm3 + other.removed_mm3,
            max(self.reach_mm, other.reach_mm),
            self.forged_mm + other.forged_mm,
        )


@dataclass(frozen=True, slots=True)
class EndForging:
    """One forging operation on an end: `taken_mm` of bar becomes `made_mm`.

    `again`: the metal is the tip as earlier forgings left it, not plain bar.
    """

    taken_mm: float
    made_mm: float
    again: bool


# Distance from the tip in mm to which the step reaches; area in mm2; bar in mm per mm of it.
Step = tuple[float, float, float]


class EndMetal:
    """The cross-section of one end in steps from its tip; at first the plain bar.

    >>> neck = EndMetal(400.0)  # turned to 300 mm2 over 60, then to 200 over 30
    >>> neck.turned(300.0, 60.0).removed_mm3, neck.turned(200.0, 30.0).removed_mm3, neck.tip_mm2
    (6000.0, 3000.0, 200.0)
    """

    def __init__(self, area_mm2: float) -> None:
        self.bar_mm2 = area_mm2
        self._steps: list[Step] = [(inf, area_mm2, 1.0)]
        # For each forging: its length on the finished end, bar per mm of it, and bar per mm of what it was
        # made of.
        self._forged: list[tuple[float, float, float]] = []

    @property
    def tip_mm2(self) -> float:
        """Present area at the tip in mm2."""
        return self._steps[0][1]

    def turned(self, area_mm2: float, length_mm: float) -> WorkedEnd:
        """Turn the end down to an area over a length; what is smaller already stays."""
        over = list(self._within(length_mm))
        self._become([(to, min(area, area_mm2), bar) for to, _, area, bar in over], length_mm)
        removed = sum(max(0.0, area - area_mm2) * long for _, long, area, _ in over)
        return WorkedEnd(removed_mm3=removed, reach_mm=length_mm)

    def forged(self, area_mm2: float, length_mm: float) -> WorkedEnd:
        """Forge the tip to an area over a length; where it was a turned neck, more of the neck is turned."""
        (_, tip, used), *_ = self._steps
        share = used * area_mm2 / tip
        over = list(self._within(length_mm))
        stock = sum((share - bar) * long for _, long, _, bar in over)
        was = sum(self._waste(bar, area) * long for _, long, area, bar in over)
        hot = min(length_mm, max((forged for forged, _, _ in self._forged), default=0.0))
        new = share * length_mm - self._bar_to(hot)
        self._become([(length_mm, area_mm2, share)], length_mm)
        self._forged.append((length_mm, share, used))
        return WorkedEnd(stock, self._waste(share, area_mm2) * length_mm - was, length_mm, new)

    @property
    def forgings(self) -> list[EndForging]:
        """The forging operations in order. Metal that a later one reworks is counted in the earlier one too.

        >>> bar = EndMetal(400.0)  # drawn to 100 mm2 over 30, of which the last 5 become 200 mm2
        >>> _ = bar.forged(100.0, 30.0), bar.forged(200.0, 5.0)
        >>> [(one.taken_mm, one.made_mm, one.again) for one in bar.forgings]
        [(8.75, 35.0, False), (10.0, 5.0, True)]
        """
        return [
            EndForging(self._bar_to(length) / used, self._bar_to(length) / share, number > 0)
            for number, (length, share, used) in enumerate(self._forged)
        ]

    def _bar_to(self, length_mm: float) -> float:
        """Length of bar in mm contained in the last `length_mm` of the end."""
        return sum(bar * long for _, long, _, bar in self._within(length_mm))

    def _waste(self, bar: float, area_mm2: float) -> float:
        return bar * self.bar_mm2 - area_mm2

    def _within(self, length_mm: float) -> Iterator[tuple[float, float, float, float]]:
        """For each step up to a length: where it ends, its length, area, and bar per mm."""
        begin = 0.0
        for to, area, bar in self._steps:
            end = min(to, length_mm)
            if end > begin:
                yield end, end - begin, area, bar
            begin = max(begin, end)

    def _become(self, steps: list[Step], length_mm: float) -> None:
        self._steps = steps + [step for step in self._steps if step[0] > length_mm]
