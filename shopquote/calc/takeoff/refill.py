"""Saw a few bars of a plan anew, those that are dear for what they hold, where offcuts are credited.

Prices of the pieces say which bars these are: of 60 bars of a dive all but three to six cost nothing beyond
their pieces. The pieces of a kept bar, of dear ones and of some others fill these bars again, one after
another in a row by chance; what that saves lengthens the rest of the kept bar. Begin at `Refill.better`.
"""

from collections.abc import Sequence
from random import Random

from shopquote.calc.takeoff.exchange import A_SHIFT, WEIGHT, Exchange, Lengths
from shopquote.calc.takeoff.problem import Solution
from shopquote.calc.takeoff.work import Work

# Ten hard plans, twice each, lay 84 cents above their bounds; what a second left of that stands here.
# Bars beside the kept one that are sawn anew together: 52 cents; two and three 45, four to eight 55.
BARS = (2, 3, 4, 5)
# The way that holds most pieces is taken so often; else any. Of eight plans all ways and the three longest
# fills of each left 33 cents after the same work, this 28.
WIDEST = 0.6
# All bars together are picked by chance once for so many times that dear ones are. A weight of 0.2 cents for
# each bar left 53 cents, 0.05 left 52, 0.01 left 43; this makes 0.007 to 0.04. Picked by what they waste, and
# not by what they cost beyond their pieces, 12 plans kept 35 of 52 cents after two seconds.
DEAR = 5
# Nothing is gained by so many in a row: the plan is left. Of 40 credited jobs 200 lost one proof and 0.04;
# 800 won two and lost one, saved 0.02, and took an eighth more work.
IDLE = 400
# Work for one call at most, and of a fill. 14,644 fills of seven jobs took 0.6 of what was counted; half and
# twice the unit left six hard jobs the same.
MOST_WORK = 400_000_000
A_FILL = 30_000


class Refill:
    """Bars filled anew in the plans of one problem; chance goes on from call to call."""

    def __init__(self, exchange: Exchange, work: Work) -> None:
        self.exchange, self.problem, self._all_work = exchange, exchange.problem, work
        self._chance = Random(0)

    def better(self, solution: Solution, prices: Sequence[int], fine: int, least: int) -> Solution:
        """The plan with bars filled anew for as long as work lasts, or until it costs no more than `least`.

        Args:
            solution: the plan to better.
            prices: prices of the pieces, in 1/`fine` of the unit of cost.
            fine: see there.
            least: no plan costs less.
        """
        exchange = self.exchange
        if not exchange.begin(solution):
            return solution
        work = self._all_work.part(MOST_WORK)
        self._prices, self._fine = prices, fine
        dear = [self._dear(stock, load) for stock, load in zip(exchange.stocks, exchange.loads, strict=True)]
        floor: dict[int, int] = {}
        for stock, excess in zip(exchange.stocks, dear, strict=True):
            floor[stock] = min(floor.get(stock, excess), excess)
        best, idle = solution, 0
        while best.cost > least and idle < IDLE and not work.over():
            weights = [excess - floor[stock] for stock, excess in zip(exchange.stocks, dear, strict=True)]
            some = max(1, sum(weights) // (DEAR * len(weights)))
            places = self._places([max(0, weight) + some for weight in weights])
            if not places:
                return best
            before = sum(exchange.costs[place] for place in places)
            loads = self._filled(places, work)
            idle += 1
            if sum(exchange.cost_of(exchange.stocks[at], loads[at]) for at in places) >= before:
                continue
            idle = 0
            for at in places:
                exchange.put(at, loads[at])
                dear[at] = self._dear(exchange.stocks[at], loads[at])
            best = min(best, exchange.solution() or best, key=lambda found: found.rank)
        return best

    def _dear(self, stock: int, load: Sequence[int]) -> int:
        """What a bar costs beyond its pieces."""
        cost = self.exchange.cost_of(stock, load) * self._fine // WEIGHT
        return cost - sum(self._prices[i] for i in load)

    def _places(self, weights: Sequence[int]) -> list[int]:
        """Bars to fill anew, a kept one last; none where no bar is kept."""
        chance, exchange = self._chance, self.exchange
        kept = [place for place in range(len(weights)) if exchange.is_kept(place)]
        if not kept:
            return []
        last = chance.choices(kept, [weights[place] for place in kept])[0]
        number = chance.choice(BARS)
        drawn = chance.choices(range(len(weights)), weights, k=4 * number)
        places = [place for place in dict.fromkeys(drawn) if place != last][:number]
        chance.shuffle(places)
        return [*places, last]

    def _filled(self, places: Sequence[int], work: Work) -> dict[int, tuple[int, ...]]:
        """All pieces of these bars in them anew; what is left over goes to the last, and may not fit."""
        exchange = self.exchange
        pieces = [i for place in places for i in exchange.loads[place]]
        self._chance.shuffle(pieces)
        loads: dict[int, tuple[int, ...]] = {}
        for place in places[:-1]:
            ways = exchange.ways(exchange.stocks[place])
            way = ways[0] if self._chance.random() < WIDEST else self._chance.choice(ways)
            mine = [i for i in pieces if way.may(i)]
            work.spend(A_FILL + A_SHIFT * len(mine) * way.most // 1000)
            load = Lengths(self.problem, mine, way.most).longest()
            loads[place] = load
            for i in load:
                pieces.remove(i)
        loads[places[-1]] = tuple(sorted(pieces, reverse=True))
        return loads
