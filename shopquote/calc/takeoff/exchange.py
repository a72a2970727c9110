"""Saw two bars of a plan anew: what the one wastes lengthens the rest of the other, which earns its credit.

Of all pieces of the two bars, every length that some of them take together is known at once
(a bit for each unit); the best parting of them is read off. Begin at `Exchange.better`.
"""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.problem import CutProblem, Ints, Pattern, Solution, StockKind, held, tidy
from shopquote.calc.takeoff.work import Work

# A cost that no bar has; weighed costs stay below.
NEVER = 1 << 61
# Costs are weighed in such parts; a cent that is credited weighs more than both bars' parts of a cent.
PARTS, WHOLE = 1 << 16, 4
WEIGHT = (WHOLE + 1) * PARTS
# Plans of more bars are left as they are: by then a cent is nothing.
MOST_BARS = 2_000
# Work for one plan at most: ten times as much gave the same plans in 20 jobs.
MOST_WORK = 100_000_000
# Partings that are looked at where mitres nest: of ten such jobs one look cost 0.08 of 13,225 more, 32 looks
# 0.02 more.
LOOKS = 8
# Units of work: of a pair, of a piece in a thousand units of length, and of reading a thousand off.
A_PAIR, A_SHIFT, A_READ = 60_000, 60, 4_000


@dataclass(frozen=True, slots=True)
class _Way:
    """Bars of a stock that hold the pieces of one mask: the most units, and the weighed cost by units used.

    `costs` is one number where nothing of the stock is credited.
    """

    mask: tuple[bool, ...] | None
    most: int
    costs: Ints | int

    def may(self, piece: int) -> bool:
        """Whether this piece may be cut from it."""
        return self.mask is None or self.mask[piece]

    def holds(self, pieces: Iterable[int]) -> bool:
        """Whether all of these pieces may be cut from it."""
        return self.mask is None or all(self.mask[i] for i in pieces)

    def cost(self, used: Ints) -> Ints | int:
        """The weighed cost at each of these units used, none above the most."""
        return self.costs if isinstance(self.costs, int) else self.costs[used]


class Exchange:
    """Exchanges for the plans of one problem, and the pairs that were tried already.

    Of a plan at work: the stock, the pieces in a row and the weighed cost of each bar.
    """

    def __init__(self, problem: CutProblem, work: Work) -> None:
        self.problem, self._all_work, self.work = problem, work, work
        self._ways: dict[int, list[_Way]] = {}
        self.stocks: list[int] = []
        self.loads: list[tuple[int, ...]] = []
        self.costs: list[int] = []
        self._whole = {kind.stock: WEIGHT * kind.cost for kind in problem.kinds}
        self._known: set[tuple[int, tuple[int, ...], int, tuple[int, ...]]] = set()

    def better(self, solution: Solution) -> Solution:
        """The plan with pairs of a kept bar and another sawn anew for as long as that pays."""
        if not self.begin(solution):
            return solution
        self.work = self._all_work.part(MOST_WORK)
        while self.sweep() and not self.work.over():
            pass
        return min(solution, self.solution() or solution, key=lambda found: found.rank)

    def begin(self, solution: Solution) -> bool:
        """Take a plan to work at; False where it has too many bars."""
        if sum(count for _, _, count in solution.bars) > MOST_BARS:
            return False
        self.stocks, self.loads = [], []
        for kind, pattern, count in solution.bars:
            load = tuple(i for i, n in reversed(held(pattern)) for _ in range(n))
            self.stocks += [self.problem.kinds[kind].stock] * count
            self.loads += [load] * count
        self.costs = [self.cost_of(stock, load) for stock, load in zip(self.stocks, self.loads, strict=True)]
        return True

    def sweep(self) -> bool:
        """Every kept bar with every other; whether that gained anything."""
        gained = False
        for kept in range(len(self.loads)):
            if not self.is_kept(kept):
                continue
            for other in range(len(self.loads)):
                if self.work.over():
                    return gained
                gained |= other != kept and self.try_pair(other, kept)
        return gained

    def try_pair(self, one: int, other: int) -> bool:
        """Part the pieces of two bars anew where that costs less."""
        key = (self.stocks[one], self.loads[one], self.stocks[other], self.loads[other])
        if key in self._known:
            return False
        self._known.add(key)
        before = self.costs[one] + self.costs[other]
        pieces = sorted((*self.loads[one], *self.loads[other]), reverse=True)
        found = self.parted(self.stocks[one], self.stocks[other], pieces)
        if found is None or found[0] >= before:
            return False
        self.put(one, found[1])
        self.put(other, found[2])
        return True

    def ways(self, stock: int) -> list[_Way]:
        """The ways to cut a stock, worked out where it is first met."""
        if stock not in self._ways:
            self._ways[stock] = _ways(self.problem, stock)
        return self._ways[stock]

    def put(self, place: int, load: tuple[int, ...]) -> None:
        """Saw a bar so."""
        self.loads[place], self.costs[place] = load, self.cost_of(self.stocks[place], load)

    def parted(
        self, one: int, other: int, pieces: Sequence[int]
    ) -> tuple[int, tuple[int, ...], tuple[int, ...]] | None:
        """The cheapest way found to cut pieces from a bar of each of two stocks: its cost, and both loads."""
        best: tuple[int, tuple[int, ...], tuple[int, ...]] | None = None
        rest = next((way for way in self.ways(other) if way.holds(pieces)), None)
        if rest is None:
            return None
        for way in self.ways(one):
            for load in self._loads(way, rest, pieces):
                left = list(pieces)
                for i in load:
                    left.remove(i)
                cost = self.cost_of(one, load) + self.cost_of(other, left)
                if cost < NEVER and (best is None or cost < best[0]):
                    best = (cost, load, tuple(left))
        return best

    def _loads(self, way: _Way, rest: _Way, pieces: Sequence[int]) -> Iterator[tuple[int, ...]]:
        """The loads of one bar that look cheapest beside what the other then holds."""
        sizes, openings = self.problem.sizes, self.problem.openings
        total = sum(sizes[i] for i in pieces)
        total += sum(openings[b] for b in {self.problem.blocks[i] for i in pieces} if b >= 0)
        # A block that both bars hold opens in both, which the total leaves out: then the next best may do.
        looks = LOOKS if openings else 1
        mine = [i for i in pieces if way.may(i)]
        table = Lengths(self.problem, mine, min(way.most, total))
        self.work.spend(A_PAIR + table.most * (A_SHIFT * len(mine) + A_READ) // 1000)
        used = table.reached()
        used = used[total - used <= rest.most]
        if not len(used):
            return
        costs = np.asarray(way.cost(used) + rest.cost(total - used))
        least = [int(costs.argmin())] if looks == 1 else np.argsort(costs, kind="stable")[:looks].tolist()
        for at in least:
            yield table.load(int(used[at]))

    def is_kept(self, place: int) -> bool:
        """Whether a bar's rest is kept."""
        return self.costs[place] < self._whole[self.stocks[place]]

    def cost_of(self, stock: int, load: Sequence[int]) -> int:
        """The weighed cost of a bar that holds these pieces; `NEVER` where it does not."""
        if not load:
            return 0  # not bought
        used = np.array(self.problem.used(self._pattern(load)), np.int64)
        ways = (way for way in self.ways(stock) if used <= way.most and way.holds(load))
        return min((int(way.cost(used)) for way in ways), default=NEVER)

    def _pattern(self, load: Sequence[int]) -> Pattern:
        counts = [0] * len(self.problem.sizes)
        for i in load:
            counts[i] += 1
        return tuple(counts)

    def solution(self) -> Solution | None:
        """The plan at work."""
        problem = self.problem
        bars: list[tuple[int, Pattern, int]] = []
        for stock, load in zip(self.stocks, self.loads, strict=True):
            if load:
                pattern = self._pattern(load)
                ways = [k for k, s in enumerate(problem.stock_of) if s == stock and problem.fits(k, pattern)]
                bars.append((min(ways, key=lambda k: problem.cost(k, pattern)), pattern, 1))
        return tidy(problem, bars)


class Lengths:
    """All lengths, up to `most` units, that some of a row of pieces take together: a bit for each.

    Pieces come block by block; the lengths with the last block still closed are a row of bits of their own.
    """

    def __init__(self, problem: CutProblem, pieces: Sequence[int], most: int) -> None:
        self.problem, self.most = problem, most
        within = (1 << (most + 1)) - 1
        opened, closed, block = 1, 0, -1
        # The rows before each step: a piece, or None where another block begins.
        self._steps: list[tuple[int | None, int, int]] = []
        for i in sorted(pieces, key=lambda i: problem.blocks[i]):
            if problem.blocks[i] != block:
                self._steps.append((None, opened, closed))
                opened, closed, block = 0, opened | closed, problem.blocks[i]
            self._steps.append((i, opened, closed))
            size = problem.sizes[i]
            opened |= opened << size
            if block >= 0:
                opened |= closed << (size + problem.openings[block])
            opened &= within
        self._last = (opened, closed)

    def reached(self) -> Ints:
        """All lengths that some choice of the pieces takes, in planning units, rising."""
        opened, closed = self._last
        row = np.frombuffer((opened | closed).to_bytes(self.most // 8 + 1, "little"), np.uint8)
        return np.nonzero(np.unpackbits(row, bitorder="little"))[0]

    def longest(self) -> tuple[int, ...]:
        """Pieces that take the longest length that is reached."""
        return self.load((self._last[0] | self._last[1]).bit_length() - 1)

    def load(self, used: int) -> tuple[int, ...]:
        """Pieces that take a length that is reached."""
        found: list[int] = []
        is_open = bool(self._last[0] >> used & 1)
        for piece, opened, _ in reversed(self._steps):
            if piece is None:
                is_open = bool(opened >> used & 1)
            elif is_open and not opened >> used & 1:
                found.append(piece)
                used -= self.problem.sizes[piece]
                if used < 0 or not opened >> used & 1:
                    used -= self.problem.openings[self.problem.blocks[piece]]
                    is_open = False
        return tuple(sorted(found, reverse=True))


def _ways(problem: CutProblem, stock: int) -> list[_Way]:
    """The ways to cut a stock, one for each mask; the one that holds most pieces first.

    What a wider mask lets through, a narrower one may be cut as too.
    """
    mine = [kind for kind in problem.kinds if kind.stock == stock]
    ways: list[_Way] = []
    for mask in dict.fromkeys(kind.allowed for kind in mine):
        only = [i for i in range(len(problem.sizes)) if mask is None or mask[i]]
        kinds = [kind for kind in mine if all(map(kind.holds, only))]
        most = max(kind.capacity for kind in kinds)
        costs: Ints | int = WEIGHT * mine[0].cost
        if any(kind.credit for kind in kinds):
            costs = np.full(most + 1, NEVER, np.int64)
            for kind in kinds:
                part = costs[: kind.capacity + 1]
                np.minimum(part, _weighed(kind), out=part)
            costs[0] = 0
        ways.append(_Way(mask, most, costs))
    return sorted(ways, key=lambda way: -sum(map(way.may, range(len(problem.sizes)))))


def _weighed(kind: StockKind) -> Ints:
    """Costs in whole cents by the units used, and far lighter those before cents, whose parts add up."""
    whole = kind.cost - kind.credits()
    if not kind.credit:
        return np.asarray(WEIGHT * whole, np.int64)
    slack = np.arange(kind.capacity, -1, -1, dtype=np.float64)
    steps = (slack * float(kind.credit) + float(kind.credit_base)) / float(kind.credit_over)
    exact = np.maximum(0.0, kind.cost - steps * kind.credit_step)
    return np.asarray(WHOLE * PARTS * whole + (exact * PARTS).astype(np.int64), np.int64)
