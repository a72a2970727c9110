"""Work counted, so that a search ends at the same place at any load and on any number of cores.

A unit of work is about a nanosecond of one processor of 2024; what each step costs is an
estimate from the sizes of its tables, never a measurement. Begin at `Work`.
"""

from time import monotonic

# Units that are worth a second of search, for callers that think in seconds.
A_SECOND = 1_000_000_000


class OutOfWork(Exception):
    """The work that a search may do is done."""


class Work:
    """How much may be done, and how much has been; a clock only where a person asked for one.

    Args:
        most: units that may be spent.
        seconds: the clock ends the work too, so many seconds from now; None: no clock.
        above: what is spent here is spent there as well, and ends where that does.
    """

    def __init__(self, most: int, seconds: float | None = None, above: "Work | None" = None) -> None:
        self.most, self.done, self.above = most, 0, above
        self.cut_short = False
        self._end = None if seconds is None else monotonic() + seconds

    def spend(self, units: int) -> None:
        """Count what was done."""
        self.done += units
        if self.above is not None:
            self.above.spend(units)

    def over(self) -> bool:
        """Whether nothing more may be done."""
        if self.done >= self.most:
            return True
        if self._end is not None and monotonic() >= self._end:
            self.cut_short = True
            return True
        return self.above is not None and self.above.over()

    def check(self) -> None:
        """Stop by `OutOfWork` when nothing more may be done."""
        if self.over():
            raise OutOfWork

    @property
    def left(self) -> int:
        """Units that may still be spent."""
        mine = max(0, self.most - self.done)
        return mine if self.above is None else min(mine, self.above.left)

    @property
    def seconds_left(self) -> float | None:
        """Seconds of the clock, where there is one: for a solver that runs by itself."""
        mine = None if self._end is None else max(0.01, self._end - monotonic())
        theirs = None if self.above is None else self.above.seconds_left
        both = [seconds for seconds in (mine, theirs) if seconds is not None]
        return min(both, default=None)

    def part(self, most: int) -> "Work":
        """Work within this one: at most so many units, and no more than are left."""
        return Work(min(most, self.left), above=self)
