"""Best filling of every bar length at once: one table of whole numbers.

`Knapsack.solve(values)` fills the table: the most that pieces worth `values` can
bring in c units; each number of pieces is bounded by its demand. Numbers are whole
and exact: int32, several times faster, where no sum can pass 2**31, else int64.
`FewLengths` is the table of pieces that take few lengths together; `knapsack` chooses.
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
Places = npt.NDArray[np.int64]
# A pass: the cells that it adds to, room to do so, the cells that it may better, and whether it does.
_Step = tuple[Places, Whole, Whole, npt.NDArray[np.bool_]]

# Bars worth less than this are reckoned in int32.
NARROW = 1 << 30
NEVER = {True: -(1 << 30), False: -(1 << 60)}
# Units of work: of a pass over the table, and of a thousand cells of it (narrow or wide numbers).
A_PASS = 6_000
A_CELL = {True: 900, False: 2_400}
# Cells by lengths are looked up one by one, where those by units lie side by side: worth it where there is at
# most one in so many units, and in all passes together no more than these.
UNITS_PER_LENGTH = 3
MOST_CELLS = 2_000_000
# Passes between two looks whether the work is done.
CHECKED = 16


@dataclass(frozen=True, slots=True)
class _Pass:
    """One layer of the table: take `times` of piece `piece`, or open/close a block (piece < 0)."""

    piece: int
    times: int
    weight: int


_OPEN, _CLOSE = -1, -2


class Passes:
    """What fills a table for masks of allowed pieces, each within the next, no block across two."""

    def __init__(
        self, problem: CutProblem, masks: Sequence[Mask], capacity: int, bounds: Sequence[int]
    ) -> None:
        self.problem = problem
        self.capacity = capacity
        self.passes: list[_Pass] = []
        self.chosen: list[int] = []
        # Of each mask: passes up to its end.
        self.ends: list[int] = []
        rest = [i for i in range(len(problem.sizes)) if bounds[i] > 0]
        for allowed in masks:
            self._add([i for i in rest if allowed is None or allowed[i]], bounds)
            rest = [] if allowed is None else [i for i in rest if not allowed[i]]
            self.ends.append(len(self.passes))

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


class Knapsack:
    """A table that is filled pass by pass."""

    def __init__(self, passes: Passes) -> None:
        self.problem, self.capacity = passes.problem, passes.capacity
        self.passes, self.chosen, self._ends = passes.passes, passes.chosen, passes.ends
        # The table at the end of each mask.
        self.best: list[Whole] = []

    def _narrow(self, values: Sequence[int]) -> bool:
        """Whether no bar can be worth 2**30; two of them stay below 2**31."""
        densest = max((values[i] * self.capacity // self.problem.sizes[i] for i in self.chosen), default=0)
        return densest + max(0, *values) < NARROW

    def _spend(self, work: Work | None, passes: int, narrow: bool) -> None:
        """Count the work of the next few passes; the same for every kind of table."""
        if not passes % CHECKED and work is not None:
            work.spend(CHECKED * (A_PASS + A_CELL[narrow] * self.capacity // 1000))
            work.check()

    def _keep(self, best: Whole, passes: int) -> None:
        """What the table says for the masks that end after so many passes, and that others follow."""
        while len(self.best) < len(self._ends) - 1 and self._ends[len(self.best)] == passes:
            self.best.append(best.copy())

    def solve(self, values: Sequence[int], work: Work | None = None) -> None:
        """Fill the table, of which the other methods tell; the next call overwrites it.

        Stops by `OutOfWork` when the work is done.
        """
        raise NotImplementedError

    def most(self, mask: int, units: int) -> int:
        """The most that pieces of a mask bring in so many units."""
        raise NotImplementedError

    def most_with(self, mask: int, credit: Places) -> tuple[int, int]:
        """Where pieces and credit bring most: the units used, the fewest of equal ones, and the worth.

        `credit` is told for 0 units to as many as the bar has, and never rises with them.
        """
        raise NotImplementedError

    def pattern(self, mask: int, units: int) -> Pattern:
        """The pieces that bring the most in so many units."""
        raise NotImplementedError


class ByUnits(Knapsack):
    """A cell for each unit: for any pieces."""

    def __init__(self, passes: Passes) -> None:
        super().__init__(passes)
        capacity = self.capacity
        self._tables: dict[bool, tuple[Whole, Whole]] = {}
        self._took: npt.NDArray[np.bool_] = np.zeros((len(self.passes), capacity + 1), np.bool_)
        # Single bytes are read several times faster from here than from the array.
        self._took_bytes: memoryview = self._took.reshape(-1).view(np.uint8).data

    def _table(self, narrow: bool) -> tuple[Whole, Whole]:
        if narrow not in self._tables:
            room = self.capacity + 1
            best: Whole = np.zeros(room, np.int32) if narrow else np.zeros(room, np.int64)
            self._tables[narrow] = (best, np.empty_like(best))
        return self._tables[narrow]

    def solve(self, values: Sequence[int], work: Work | None = None) -> None:
        """Pass by pass over all units."""
        narrow = self._narrow(values)
        best, spare = self._table(narrow)
        self.best = []
        took = self._took
        best[:] = 0
        outside: list[Whole] = []
        for number, step in enumerate(self.passes):
            self._keep(best, number)
            self._spend(work, number, narrow)
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
                if worth <= 0:
                    took[number] = False
                    continue
                room = self.capacity + 1 - step.weight
                if room <= 0:
                    took[number] = False
                    continue
                trial = spare[:room]
                np.add(best[:room], worth, out=trial, dtype=best.dtype)
                tail = best[step.weight :]
                np.greater(trial, tail, out=took[number, step.weight :])
                np.maximum(trial, tail, out=tail)
        while len(self.best) < len(self._ends):
            self.best.append(best)

    def most(self, mask: int, units: int) -> int:
        """The cell of so many units."""
        return int(self.best[mask][units])

    def most_with(self, mask: int, credit: Places) -> tuple[int, int]:
        """The first of the best cells."""
        total = self.best[mask][: len(credit)] + credit
        at = int(total.argmax())
        return at, int(total[at])

    def pattern(self, mask: int, units: int) -> Pattern:
        """Back through the passes."""
        counts = [0] * len(self.problem.sizes)
        number = self._ends[mask] - 1
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


class FewLengths(Knapsack):
    """A cell for each length that pieces take together, which says what fits up to the next; no nesting."""

    def __init__(self, passes: Passes, lengths: int) -> None:
        super().__init__(passes)
        octets = np.frombuffer(lengths.to_bytes(self.capacity // 8 + 1, "little"), np.uint8)
        bits = np.unpackbits(octets, bitorder="little").view(np.bool_)
        self.lengths: Places = np.flatnonzero(bits)
        units = np.diff(self.lengths, append=self.capacity + 1)
        # Of each number of units, the last cell that is no longer.
        self._cell_of = np.arange(len(units), dtype=np.int32).repeat(units)
        self._took: npt.NDArray[np.bool_] = np.zeros((len(self.passes), len(self.lengths)), np.bool_)
        self._took_bytes: memoryview = self._took.reshape(-1).view(np.uint8).data
        self._steps: dict[bool, tuple[Whole, list[_Step]]] = {}

    def _table(self, narrow: bool) -> tuple[Whole, list[_Step]]:
        """The cells, and what each pass does to them."""
        if narrow not in self._steps:
            width = len(self.lengths)
            best: Whole = np.zeros(width, np.int32) if narrow else np.zeros(width, np.int64)
            spare, steps = np.empty_like(best), []
            for step, took in zip(self.passes, self._took, strict=True):
                first = int(self.lengths.searchsorted(step.weight))
                before = self._cell_of[self.lengths[first:] - step.weight].astype(np.int64)
                steps.append((before, spare[: width - first], best[first:], took[first:]))
            self._steps[narrow] = best, steps
        return self._steps[narrow]

    def solve(self, values: Sequence[int], work: Work | None = None) -> None:
        """Pass by pass over all lengths."""
        narrow = self._narrow(values)
        best, steps = self._table(narrow)
        self.best = []
        best[:] = 0
        kind, passes = best.dtype, self.passes
        for number, (before, trial, tail, took) in enumerate(steps):
            if self._ends[len(self.best)] == number:
                self._keep(best, number)
            self._spend(work, number, narrow)
            step = passes[number]
            worth = values[step.piece] * step.times
            if worth <= 0:
                took[:] = False
                continue
            # By "wrap" for speed: no place lies outside.
            best.take(before, out=trial, mode="wrap")
            np.add(trial, worth, out=trial, dtype=kind)
            np.greater(trial, tail, out=took)
            np.maximum(trial, tail, out=tail)
        while len(self.best) < len(self._ends):
            self.best.append(best)

    def most(self, mask: int, units: int) -> int:
        """The cell of the longest that is no longer."""
        return int(self.best[mask][self._cell_of[units]])

    def most_with(self, mask: int, credit: Places) -> tuple[int, int]:
        """The first of the best cells: between two of them the worth stays and the credit falls."""
        cells = self.lengths[: int(self._cell_of[len(credit) - 1]) + 1]
        total = self.best[mask][: len(cells)] + credit[cells]
        at = int(total.argmax())
        return int(cells[at]), int(total[at])

    def pattern(self, mask: int, units: int) -> Pattern:
        """Back through the passes."""
        counts = [0] * len(self.problem.sizes)
        took, width, cells = self._took_bytes, len(self.lengths), self._cell_of
        cell = int(cells[units])
        for number in range(self._ends[mask] - 1, -1, -1):
            # A pass that has no room here has taken nothing here.
            if took[number * width + cell]:
                step = self.passes[number]
                counts[step.piece] += step.times
                units -= step.weight
                cell = int(cells[units])
        return tuple(counts)


def knapsack(passes: Passes) -> Knapsack:
    """The quicker table for these passes; both say the same."""
    lengths = _lengths(passes)
    return ByUnits(passes) if lengths is None else FewLengths(passes, lengths)


def _lengths(table: Passes) -> int | None:
    """Bit n says that pieces take n units together; None where these lengths are too many, or pieces nest."""
    room = (1 << (table.capacity + 1)) - 1
    lengths = 1
    for step in table.passes:
        if step.piece < 0:
            return None
        lengths |= lengths << step.weight & room
    count = lengths.bit_count()
    few = count * UNITS_PER_LENGTH <= table.capacity and count * len(table.passes) <= MOST_CELLS
    return lengths if few else None
