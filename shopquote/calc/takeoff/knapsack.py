"""Best filling of every bar length at once: one table of whole numbers.

`Knapsack.solve(values)` fills the table: the most that pieces worth `values` can
bring in c units; each number of pieces is bounded by its demand. Numbers are whole
and exact: int32, several times faster, where no sum can pass 2**31, else int64.
Where bars hold fewer pieces than others (those that take no less than a kerf), theirs come first in the
table, and what it says then is kept for them.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.problem import CutProblem, Pattern
from shopquote.calc.takeoff.work import Work

Mask = Sequence[bool] | None
Whole = npt.NDArray[np.int32] | npt.NDArray[np.int64]

# Bars worth less than this are reckoned in int32.
NARROW = 1 << 30
NEVER = {True: -(1 << 30), False: -(1 << 60)}
# Units of work: of a pass over the table, and of a thousand cells of it (narrow or wide numbers). Tables of
# 1,000 to 1,000,000 cells took 3.0 to 0.24 ns a cell, wide ones 4.9 to 0.45: half to a fifth of what is
# counted, so that plain jobs take 0.5 s for work worth 1 s. Every limit of work was set by it, so it stays.
A_PASS = 6_000
A_CELL = {True: 900, False: 2_400}
# Passes between two looks whether the work is done.
CHECKED = 16


@dataclass(frozen=True, slots=True)
class _Pass:
    """One layer of the table: take `times` of piece `piece`, or open/close a block (piece < 0)."""

    piece: int
    times: int
    weight: int


# No piece has these numbers: they mark where a block of nested mitres begins and ends.
_OPEN, _CLOSE = -1, -2


class Knapsack:
    """A table for masks of allowed pieces, each within the next, no block across two; filled pass by pass."""

    def __init__(
        self, problem: CutProblem, masks: Sequence[Mask], capacity: int, bounds: Sequence[int]
    ) -> None:
        self.problem = problem
        self.capacity = capacity
        self.passes: list[_Pass] = []
        self.chosen: list[int] = []
        # Of each mask: passes up to its end, and the table there.
        self.ends: list[int] = []
        self.best: list[Whole] = []
        rest = [i for i in range(len(problem.sizes)) if bounds[i] > 0]
        for allowed in masks:
            self._add([i for i in rest if allowed is None or allowed[i]], bounds)
            rest = [] if allowed is None else [i for i in rest if not allowed[i]]
            self.ends.append(len(self.passes))
        self._tables: dict[bool, tuple[Whole, Whole]] = {}
        self._took: npt.NDArray[np.bool_] = np.zeros((len(self.passes), capacity + 1), np.bool_)
        # Single bytes are read several times faster from here than from the array.
        self._took_bytes: memoryview = self._took.reshape(-1).view(np.uint8).data

    def _add(self, pieces: Sequence[int], bounds: Sequence[int]) -> None:
        """Passes for more pieces: first those in no block, then block by block."""
        self.chosen += pieces
        for i in pieces:
            if self.problem.blocks[i] < 0:
                self._split(i, bounds[i])
        for block, opening in enumerate(self.problem.openings):
            members = [i for i in pieces if self.problem.blocks[i] == block]
            if members:
                self.passes.append(_Pass(_OPEN, block, opening))
                for i in members:
                    self._split(i, bounds[i])
                self.passes.append(_Pass(_CLOSE, block, 0))

    def _split(self, piece: int, bound: int) -> None:
        """Bounded number of copies as a sum of doubling packets."""
        size = self.problem.sizes[piece]
        rest = min(bound, self.capacity // size)
        packet = 1
        while rest > 0:
            times = min(packet, rest)
            self.passes.append(_Pass(piece, times, times * size))
            rest -= times
            packet *= 2

    def _narrow(self, values: Sequence[int]) -> bool:
        """Whether no bar can be worth 2**30; two of them stay below 2**31."""
        densest = max((values[i] * self.capacity // self.problem.sizes[i] for i in self.chosen), default=0)
        return densest + max(0, *values) < NARROW

    def _table(self, narrow: bool) -> tuple[Whole, Whole]:
        if narrow not in self._tables:
            room = self.capacity + 1
            best: Whole = np.zeros(room, np.int32) if narrow else np.zeros(room, np.int64)
            self._tables[narrow] = (best, np.empty_like(best))
        return self._tables[narrow]

    def solve(self, values: Sequence[int], work: Work | None = None) -> None:
        """Fill the table, of which the other methods tell; the next call overwrites it.

        Stops by `OutOfWork` when the work is done.
        """
        narrow = self._narrow(values)
        best, spare = self._table(narrow)
        self.best = []
        took = self._took
        best[:] = 0
        outside: list[Whole] = []
        for number, step in enumerate(self.passes):
            while self.ends[len(self.best)] == number:
                self.best.append(best.copy())
            if not number % CHECKED and work is not None:
                work.spend(CHECKED * (A_PASS + A_CELL[narrow] * self.capacity // 1000))
                work.check()
            if step.piece == _OPEN:
                outside.append(best.copy())
                room = max(0, self.capacity + 1 - step.weight)
                best[step.weight :] = outside[-1][:room]
                best[: step.weight] = NEVER[narrow]
            elif step.piece == _CLOSE:
                before = outside.pop()
                np.greater(best, before, out=took[number])
                np.maximum(best, before, out=best)
            else:
                worth = values[step.piece] * step.times
                room = self.capacity + 1 - step.weight
                if worth <= 0 or room <= 0:
                    took[number] = False
                    continue
                trial = spare[:room]
                np.add(best[:room], worth, out=trial, dtype=best.dtype)
                tail = best[step.weight :]
                np.greater(trial, tail, out=took[number, step.weight :])
                np.maximum(trial, tail, out=tail)
        while len(self.best) < len(self.ends):
            self.best.append(best)

    def most(self, mask: int, units: int) -> int:
        """The most that pieces of a mask bring in so many units."""
        return int(self.best[mask][units])

    def most_with(self, mask: int, credit: npt.NDArray[np.int64]) -> tuple[int, int]:
        """Where pieces and credit bring most: the units used, the fewest of equal ones, and the worth.

        `credit` is told for 0 units to as many as the bar has, and never rises with them.
        """
        total = self.best[mask][: len(credit)] + credit
        at = int(total.argmax())
        return at, int(total[at])

    def pattern(self, mask: int, units: int) -> Pattern:
        """The pieces that bring the most in so many units: back through the passes."""
        counts = [0] * len(self.problem.sizes)
        number = self.ends[mask] - 1
        at = units
        took, width = self._took_bytes, self.capacity + 1
        while number >= 0:
            step = self.passes[number]
            if step.piece == _CLOSE:
                if not took[number * width + at]:
                    while self.passes[number].piece != _OPEN:
                        number -= 1
            elif step.piece == _OPEN:
                at -= step.weight
            elif at >= step.weight and took[number * width + at]:
                counts[step.piece] += step.times
                at -= step.weight
            number -= 1
        return tuple(counts)
