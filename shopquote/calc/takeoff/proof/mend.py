"""Plan a few bars of a plan anew, together: full bars from short lists, and the rest on one kept bar.

What is saved on the other bars lengthens the rest of the kept bar, which earns its credit.
Prices of the whole problem say which bars are dear for what they hold, and which patterns are not.
"""

from collections.abc import Callable, Sequence
from random import Random

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.problem import Ints, Pattern, Problem, held
from shopquote.calc.takeoff.proof.enumerate import Filter, patterns_within
from shopquote.calc.takeoff.work import Work

Rows = npt.NDArray[np.int16]
Bars = Sequence[tuple[int, Pattern, int]]

# Pieces of the bars that are planned anew, in turn.
PIECES = (20, 28, 36, 44)
# Patterns within so many parts of the dearest bar: the largest part of which there are few enough.
SLACKS = (1e-3, 2e-4, 4e-5, 1e-5)
MOST_LISTED = 10_000
MOST_TRIED = 1_000
# Patterns tried for each bar but the first.
WIDTH = 8
NEVER = 1 << 60
# Units of work: of a bar that is tried, and of a number of its patterns that is compared.
A_TRY, A_CELL = 45_000, 3


def bars_to_mend(
    problem: Problem, bars: Bars, prices: Sequence[int], fine: int, turn: int, chance: Random
) -> dict[int, int]:
    """Bars to plan anew, by place: a kept one, one that is dear for what it holds, others by chance."""
    excess = _excess(problem, bars, prices, fine)
    kept = [at for at, (k, _, _) in enumerate(bars) if problem.kinds[k].credit]
    dear = [at for at, e in enumerate(excess) if e > fine]
    first = [chance.choice(kept)] if kept else []
    first += chance.choices(dear, [excess[at] for at in dear]) if dear else []
    chosen = dict.fromkeys(first, 1)
    left = [count - chosen.get(at, 0) for at, (_, _, count) in enumerate(bars)]
    pieces = sum(sum(bars[at][1]) for at in chosen)
    while pieces < PIECES[turn % len(PIECES)] and any(left):
        at = chance.choices(range(len(bars)), left)[0]
        left[at] -= 1
        chosen[at] = chosen.get(at, 0) + 1
        pieces += sum(bars[at][1])
    return chosen


def _excess(problem: Problem, bars: Bars, prices: Sequence[int], fine: int) -> list[int]:
    """What each bar costs beyond its pieces, less the least of that among bars of its stock."""
    excess = [problem.cost(k, p) * fine - sum(prices[i] * n for i, n in held(p)) for k, p, _ in bars]
    least: dict[int, int] = {}
    for (k, _, _), e in zip(bars, excess, strict=True):
        stock = problem.stock_of[k]
        least[stock] = min(least.get(stock, e), e)
    return [e - least[problem.stock_of[k]] for (k, _, _), e in zip(bars, excess, strict=True)]


@dataclass(frozen=True, slots=True)
class Apart:
    """The chosen bars as a problem of their own.

    `left` are their pieces, `counts` their bars of each stock without one kept bar of stock `own`,
    `known` what they cost now, `kept` all other bars; `back` reads a pattern of `rest` here.
    """

    rest: Problem
    back: Callable[[Pattern], Pattern]
    left: tuple[int, ...]
    counts: tuple[int, ...]
    own: int
    known: int
    kept: list[tuple[int, Pattern, int]]

    @classmethod
    def of(cls, problem: Problem, bars: Bars, chosen: dict[int, int]) -> "Apart | None":
        """None when no kept bar is among the chosen."""
        left, counts = [0] * len(problem.demands), [0] * len(problem.stock_limits)
        kept: list[tuple[int, Pattern, int]] = []
        known = 0
        for at, (k, p, count) in enumerate(bars):
            times = chosen.get(at, 0)
            counts[problem.stock_of[k]] += times
            known += problem.cost(k, p) * times
            for i, n in held(p):
                left[i] += n * times
            if times < count:
                kept.append((k, p, count - times))
        last = next((bars[at][0] for at in chosen if problem.kinds[bars[at][0]].credit), None)
        if last is None:
            return None
        rest, back = problem.part(left, counts)
        own = problem.stock_of[last]
        counts[own] -= 1
        return cls(rest, back, tuple(left), tuple(counts), own, known, kept)


@dataclass(frozen=True, slots=True)
class Choice:
    """Patterns for a bar of one stock: kinds, pieces as rows, and what each costs beyond the least.

    `used` are the units that each takes, `worth` is that of its pieces.
    """

    kinds: Ints
    rows: Rows
    excess: Ints
    used: Ints
    worth: Ints


@dataclass(frozen=True, slots=True)
class Lists:
    """Short lists of patterns at whole prices, with the least reduced cost of each kind of bar."""

    problem: Problem
    prices: Sequence[int]
    reduced: Sequence[int]
    credits: Sequence[Ints | None]
    fine: int
    scale: float
    work: Work

    def least(self, stock: int) -> int:
        """Least reduced cost of a bar of a stock."""
        return min(r for r, s in zip(self.reduced, self.problem.stock_of, strict=True) if s == stock)

    def choice(self, stock: int, chance: Random) -> Choice | None:
        """Patterns that cost little beyond the least, cheapest first, equals by chance; None if too many."""
        problem = self.problem
        mine = [k for k, s in enumerate(problem.stock_of) if s == stock]
        for slack in SLACKS:
            most = self.least(stock) + int(slack * self.scale) * self.fine
            listed: list[tuple[int, Rows]] = []
            least = tuple(kind.cost * self.fine - most for kind in problem.kinds)
            filters = [Filter(tuple(self.prices), least)]
            for k in mine:
                found = patterns_within(problem, k, self.credits[k], filters, MOST_LISTED, self.work)
                if found is not None:
                    listed.append((k, found.rows))
            if len(listed) == len(mine):
                return self._sorted(listed, self.least(stock), chance)
        return None

    def _sorted(self, listed: Sequence[tuple[int, Rows]], least: int, chance: Random) -> Choice:
        kinds = np.concatenate([np.full(len(rows), k, np.int64) for k, rows in listed])
        table = np.concatenate([rows for _, rows in listed])
        pieces = table.astype(np.int64)
        used = pieces @ np.array(self.problem.sizes, np.int64) + self.problem.opened(table)
        worth = pieces @ np.array(self.prices, np.int64)
        excess = np.concatenate([self.costs_by_used(k)[used[kinds == k]] for k, _ in listed])
        excess = excess - worth - least
        order = np.lexsort((np.array([chance.random() for _ in kinds]), excess >> 10))
        return Choice(kinds[order], table[order], excess[order], used[order], worth[order])

    def costs_by_used(self, kind: int) -> Ints:
        """What a bar of a kind costs, in fine units, by the units used of it."""
        bar, credit = self.problem.kinds[kind], self.credits[kind]
        costs = np.full(bar.capacity + 1, bar.cost * self.fine, np.int64)
        return costs if credit is None else costs - credit


def packed(apart: Apart, lists: Lists, chance: Random) -> list[tuple[int, Pattern]] | None:
    """Bars (kind, pattern) for the pieces that cost less than now, or None when none were found."""
    rest, prices = apart.rest, np.array(lists.prices, np.int64)
    slots: list[Choice] = []
    for stock, count in enumerate(apart.counts):
        if count:
            choice = lists.choice(stock, chance)
            if choice is None:
                return None
            slots += [choice] * count
    if not slots:
        return None
    budget = (apart.known - rest.grid) * lists.fine - int(prices @ np.array(rest.demands, np.int64))
    budget -= sum(count * lists.least(stock) for stock, count in enumerate(apart.counts) if count)
    return _Packer(slots, lists, apart.own, budget).search()


class _Packer:
    """Depth first over the patterns for each bar; the last bar takes all pieces that are left."""

    def __init__(self, slots: Sequence[Choice], lists: Lists, own: int, budget: int) -> None:
        problem = lists.problem
        self.problem, self.slots, self.budget, self.work = problem, slots, budget, lists.work
        self.own = [k for k, stock in enumerate(problem.stock_of) if stock == own]
        # What the last bar costs by the units used of it.
        self.ends: Ints = np.full(
            sum(w * d for w, d in zip(problem.sizes, problem.demands, strict=True)) + 1, NEVER
        )
        for k in self.own:
            costs = lists.costs_by_used(k)[: len(self.ends)]
            self.ends[: len(costs)] = np.minimum(self.ends[: len(costs)], costs)
        self.prices = np.array(lists.prices, np.int64)
        self.sizes = np.array(problem.sizes, np.int64)
        self.tries = MOST_TRIED

    def search(self) -> list[tuple[int, Pattern]] | None:
        """Bars whose excess over their pieces' worth stays below the budget, or None."""
        return self._fill(0, np.array(self.problem.demands, np.int16), np.arange(len(self.slots[0].kinds)), 0)

    def _fill(self, slot: int, left: Rows, open_rows: Ints, spent: int) -> list[tuple[int, Pattern]] | None:
        choice = self.slots[slot]
        self.tries -= 1
        self.work.spend(A_TRY + len(open_rows) * A_CELL * len(left))
        mine = open_rows[choice.excess[open_rows] <= self.budget - spent]
        mine = mine[(choice.rows[mine] <= left).all(axis=1)]
        if slot + 1 == len(self.slots):
            return self._end(choice, left, mine, spent)
        width = len(mine) if slot == 0 else WIDTH
        for place, at in enumerate(mine[:width].tolist()):
            if self.tries < 0:
                return None
            # Bars of one stock are alike: their patterns come in order.
            same = self.slots[slot + 1] is choice
            following = mine[place:] if same else np.arange(len(self.slots[slot + 1].kinds))
            rest, cost = left - choice.rows[at], spent + int(choice.excess[at])
            found = self._fill(slot + 1, rest, following, cost)
            if found is not None:
                return [(int(choice.kinds[at]), tuple(choice.rows[at].tolist())), *found]
        return None

    def _end(self, choice: Choice, left: Rows, mine: Ints, spent: int) -> list[tuple[int, Pattern]] | None:
        """The best pattern for the bar before the last, with the last one for what is left then.

        What is left is measured without the overlap of nested mitres, so that it never looks too short.
        """
        pieces = left.astype(np.int64)
        most = sum(self.problem.openings)
        used = np.minimum(int(self.sizes @ pieces) - choice.used[mine] + most, len(self.ends) - 1)
        total = spent + choice.excess[mine] + self.ends[np.maximum(0, used)]
        total = total - (int(self.prices @ pieces) - choice.worth[mine])
        for place in np.argsort(total, kind="stable")[:3].tolist():
            if total[place] > self.budget:
                return None
            at = int(mine[place])
            pattern = tuple((left - choice.rows[at]).tolist())
            ways = [(self.problem.cost(k, pattern), k) for k in self.own if self.problem.fits(k, pattern)]
            if ways:
                return [(int(choice.kinds[at]), tuple(choice.rows[at].tolist())), (min(ways)[1], pattern)]
        return None
