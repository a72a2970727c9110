"""A cut that strikes out purchases, and ranges of these: `CutPlane`."""

from collections.abc import Sequence

from shopquote.calc.frozen import dataclass

# What a full bar is worth where bars that hold less than the pieces shall cost too much: 8,192 dearest bars.
FULL_BAR = 1 << 42
# Prices are raised so many times to show that a purchase holds less than the pieces, and at most so many.
TIMES, MOST_TIMES = 1 << 8, 1 << 12

# Least and most bars of each stock.
Numbers = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class CutPlane:
    """Whole prices; the worth of all pieces; the least reduced cost of a bar of each stock; in fine units."""

    prices: tuple[int, ...]
    worth: int
    bars: tuple[int, ...]

    def least(self, numbers: Numbers) -> int:
        """What a plan with so many bars costs at least."""
        return self.worth + sum(r * ends[r < 0] for r, ends in zip(self.bars, numbers, strict=True))

    def raised(self, costs: Sequence[int], bought: Sequence[int], goal: int) -> "CutPlane":
        """The cut at prices so many times higher that bars which hold less than the pieces cost too much.

        What bars hold is worth at most their cost less the reduced cost, so many times: credit is worth no
        more at higher prices. High enough for one purchase, where that holds too little.
        """
        held = [cost - r for cost, r in zip(costs, self.bars, strict=True)]
        short = self.worth - sum(worth * n for worth, n in zip(held, bought, strict=True))
        cost = sum(cost * n for cost, n in zip(costs, bought, strict=True))
        times = TIMES if short <= 0 else max(TIMES, min(MOST_TIMES, (goal - cost) // short + 1))
        return self.at(costs, max(1, min(times, FULL_BAR // max(1, *held))))

    def at(self, costs: Sequence[int], times: int) -> "CutPlane":
        """The cut at prices so many times higher, as far as it is known without a table."""
        bars = tuple(cost - times * (cost - r) for cost, r in zip(costs, self.bars, strict=True))
        return CutPlane(tuple(price * times for price in self.prices), self.worth * times, bars)


def widest(costs: Sequence[int], numbers: Numbers) -> int | None:
    """The stock whose range is worth most money; None where there is one purchase."""
    weights = [cost * (high - low) for cost, (low, high) in zip(costs, numbers, strict=True)]
    at = weights.index(max(weights))
    return at if weights[at] else None


def halved(numbers: Numbers, at: int) -> list[Numbers]:
    """A range in two, parted in the middle of one stock."""
    low, high = numbers[at]
    middle = (low + high) // 2
    return [(*numbers[:at], part, *numbers[at + 1 :]) for part in ((low, middle), (middle + 1, high))]
