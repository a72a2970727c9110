"""What the bars of any cut plan cost at least, by length and in whole bars; no plan is made for it.

Begin at `least_cost`.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import gcd

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_job import size_of
from shopquote.calc.takeoff.cut_plan import Piece, SawSettings
from shopquote.calc.units import Length, Unit

# Suppliers often ask one price for a metre of every length: then all mixtures of them cost nearly the same.
MOST_STEPS = 3_000


@dataclass(frozen=True, slots=True)
class PricedLength:
    """A length that can be bought: nm of `room` for pieces with a kerf each, and the price of a bar.

    `alone`: the fewest bars where no other length is bought; None where such plans are not asked about.
    """

    room: int
    price: int
    alone: int | None


def needed_room(pieces: Sequence[Piece], saw: SawSettings, unit: Unit) -> tuple[int, int]:
    """Nanometres of bar that the pieces take at least, with a kerf each, and the widest of these kerfs.

    >>> needed_room([Piece("A", Length.from_mm(500), 3)], SawSettings(Length.from_mm(2)), "mm")
    (1506000000, 2000000)
    """
    sizes = [(size_of(piece, saw, unit), piece.count) for piece in pieces]
    # What a nesting block takes once in each bar is left out: the bound holds without it.
    return sum(size.room * count for size, count in sizes), max((size.kerf for size, _ in sizes), default=0)


def room_of(length: Length, tolerance: Length, saw: SawSettings, kerf: int) -> int:
    """Nanometres of a bar for pieces with a kerf each: the last piece needs none."""
    return length.nm - saw.lost.nm - tolerance.nm + kerf


def least_cost(need: int, lengths: Sequence[PricedLength]) -> int | None:
    """The least that whole bars with so much room together cost, in the unit of the prices.

    Exact, by branching: the cheapest room first, and less of it only while the next cheapest could still
    make up for it. Where that takes too many steps, what so much of the cheapest room costs: never more.
    None where no bars do.

    >>> six, three = PricedLength(6000, 43, 3), PricedLength(3000, 24, 5)
    >>> least_cost(14_000, [six, three])  # 2 of 6 m and 1 of 3 m, cheaper than 3 of 6 m
    110
    >>> least_cost(14_000, [six]), least_cost(14_000, [])
    (129, None)
    """
    usable = [bar for bar in lengths if bar.room > 0]
    usable.sort(key=lambda bar: (Fraction(bar.price, bar.room), -bar.room))
    if need <= 0:
        return 0
    branching = _Branching(max(1, gcd(*(bar.price for bar in usable))))
    best = branching.least(need, 0, usable, None)
    return best if branching.steps <= MOST_STEPS else -(-need * usable[0].price // usable[0].room)


class _Branching:
    """Counts of each length, tried one after another; `grid` divides every price, `steps` are counted."""

    def __init__(self, grid: int) -> None:
        self.grid = grid
        self.steps = 0

    def least(
        self, need: int, spent: int, bars: Sequence[PricedLength], best: int | None, *, mixed: bool = False
    ) -> int | None:
        """The least with these bars; `mixed` where others are bought already, for `spent`."""
        if not bars:
            return best
        bar, after = bars[0], bars[1:]
        most = -(-need // bar.room)
        found = [best]
        if mixed:
            found.append(spent + most * bar.price)
        else:
            if bar.alone is not None:
                found.append(max(most, bar.alone) * bar.price)
            if after:  # long enough by themselves, and yet not enough: with one bar of another length
                found.append(most * bar.price + min(other.price for other in after))
        best = min((cost for cost in found if cost is not None), default=None)
        for count in range(most - 1, -1, -1):
            cost, rest = spent + count * bar.price, need - count * bar.room
            if not after or self.steps > MOST_STEPS:
                break
            # What is cheaper than the best is so by the grid at least.
            if best is not None and (best - self.grid - cost) * after[0].room < after[0].price * rest:
                break  # fewer of this leave more to bars whose room is no cheaper
            self.steps += 1
            best = self.least(rest, cost, after, best, mixed=mixed or count > 0)
        return best
