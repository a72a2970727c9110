"""Dives: fix whole bars of a fractional plan, price again for what is left, until every piece is cut."""

from collections.abc import Sequence
from functools import cached_property
from itertools import count
from random import Random
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.generate import Generation
from shopquote.calc.takeoff.greedy import greedy_bars
from shopquote.calc.takeoff.master import Answer
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.problem import CutProblem, Pattern, Solution, tidy

if TYPE_CHECKING:
    from shopquote.calc.takeoff.exchange import Exchange
    from shopquote.calc.takeoff.refill import Refill

# Rounds of pricing after each bar that is fixed. By 2 and by 8 six plain and eight credited jobs came out the
# same, for 2 and 7 % more work.
DIVE_ROUNDS = 4
# A dive's plan is bettered by pairs of bars where it costs at most so many thousandths of the best. Where it
# had to cost no more, 12 mitred credited jobs came out the same.
NEAR = 1_003
# Work at most for what a dive has left. By half and twice as much 24 jobs, six of them hard, came out the
# same.
TAIL_WORK = 1_000_000_000


class Dives(Generation):
    """Plans from the linear program."""

    # The cheapest plan of the dive at work.
    dived: Solution | None = None

    @cached_property
    def _searched(self) -> set[tuple[tuple[int, ...], tuple[int, ...]]]:
        """What dives had left, pieces and bars by stock, where that was searched."""
        return set()

    @cached_property
    def exchange(self) -> "Exchange":
        """What saws pairs of bars anew; loaded only for jobs with credit."""
        from shopquote.calc.takeoff.exchange import Exchange

        return Exchange(self.problem, self.work)

    @cached_property
    def refill(self) -> "Refill":
        """What saws several bars anew; loaded only for jobs with credit."""
        from shopquote.calc.takeoff.refill import Refill

        return Refill(self.exchange, self.work)

    def dive(self, node: Node, answer: Answer, chance: Random | None = None, tail: int = 0) -> None:
        """Fix whole bars, price again for what is left, until every piece is cut.

        With `chance`, bars are picked at random by their share; once at most `tail`
        pieces are left, these are searched as a problem of their own.
        """
        self.dived = None
        self._dive(node, answer, chance, tail)
        if not self.credited or self.dived is None or self.best is None or self.beaten(node.bound):
            return
        if 1000 * self.dived.cost <= NEAR * self.best.cost:
            self.saw_anew(self.dived, node)

    def saw_anew(self, solution: Solution, node: Node) -> None:
        """Offer a plan with bars sawn anew: pairs, then several that are dear at a node's prices."""
        better = self.exchange.better(solution)
        self.offer(self.refill.better(better, node.prices, self.fine, node.bound))

    def _dive(self, node: Node, answer: Answer, chance: Random | None, tail: int) -> None:
        master, problem = self.master, self.problem
        assert master is not None
        left = list(problem.demands)
        fixed: list[tuple[int, Pattern, int]] = []
        spent = [0] * len(problem.kinds)
        limits = list(problem.stock_limits)
        values: npt.NDArray[np.float64] = answer.values
        while any(left) and not self.work.over():
            picks = self._picks(values, chance)
            if not picks:
                break
            for column, times in picks:
                kind, pattern = master.columns[column]
                times = min([times, *(left[i] // a for i, a in enumerate(pattern) if a)])
                times = min(times, limits[problem.kinds[kind].stock])
                if times <= 0:
                    continue
                fixed.append((kind, pattern, times))
                spent[kind] += times
                limits[problem.kinds[kind].stock] -= times
                for i, a in enumerate(pattern):
                    left[i] -= a * times
            if self._finish(fixed, left, limits) and self.is_closed(node):
                return
            if not any(left):
                break
            if sum(left) <= tail and self._search_tail(fixed, left, limits):
                return
            box = node.box.after(spent, problem.stock_of)
            again = self.reprice(box, left, left, DIVE_ROUNDS)
            if again is None:
                return
            values = again.values

    def _finish(
        self, fixed: Sequence[tuple[int, Pattern, int]], left: Sequence[int], limits: Sequence[int]
    ) -> bool:
        """Fill up a dive greedily and offer it, unless it is clearly too dear."""
        problem = self.problem
        if 3 * sum(left) > 2 * problem.pieces:
            return False
        rest = greedy_bars(problem, left, limits)
        if rest is None:
            return False
        bars = [*fixed, *rest]
        cost = sum(problem.cost(kind, pattern) * count for kind, pattern, count in bars)
        if self.best is not None and 100 * cost > 102 * self.best.cost:
            return False
        made = tidy(problem, bars)
        self.offer(made)
        if made is not None and (self.dived is None or made.rank < self.dived.rank):
            self.dived = made
        return True

    def is_closed(self, node: Node) -> bool:
        """Whether nothing cheaper is left in a node."""
        return self.beaten(node.bound)

    def _search_tail(
        self, fixed: list[tuple[int, Pattern, int]], left: Sequence[int], limits: Sequence[int]
    ) -> bool:
        """Search what a dive has left as a problem of its own, for a short while; False where that was done.

        Dives from one linear program begin with the bars that it takes whole, so that many leave the same.
        """
        problem, rest_of = self.problem, (tuple(left), tuple(limits))
        if rest_of in self._searched:
            return False
        self._searched.add(rest_of)
        rest, back = problem.part(left, limits)
        spent = sum(problem.cost(kind, pattern) * count for kind, pattern, count in fixed)
        known = self.cost_to_beat() - spent
        found = self.solve_part(rest, known)
        if found is not None and found.cost < known:
            bars = [(kind, back(pattern), count) for kind, pattern, count in found.bars]
            self.offer(tidy(problem, [*fixed, *bars]))
        return True

    def solve_part(self, part: CutProblem, known: int) -> Solution | None:
        """The best plan that is found for a part in a short while; `known` is the cost to beat."""
        raise NotImplementedError

    def restart(self, node: Node) -> None:
        """Dive again and again, at random, until the work is done."""
        for attempt in count():
            answer = self.generate(node)
            if answer is None or self.beaten(node.bound) or self.work.over():
                return
            self.dive(node, answer, Random(attempt), self.problem.pieces * (2 + attempt % 4) // 8)
            self.report()

    def _picks(self, values: npt.NDArray[np.float64], chance: Random | None) -> list[tuple[int, int]]:
        master = self.master
        assert master is not None
        whole = np.floor(values + 1e-6).astype(np.int64)
        picks = [(int(c), int(whole[c])) for c in np.nonzero(whole)[0] if any(master.columns[int(c)][1])]
        if picks:
            return picks
        order = np.argsort(-values, kind="stable")
        if chance is not None:
            live = [int(c) for c in order[:20] if values[c] > 1e-9 and any(master.columns[int(c)][1])]
            return [(chance.choices(live, [float(values[c]) for c in live])[0], 1)] if live else []
        for c in order[:50]:
            if values[c] <= 1e-9:
                break
            if any(master.columns[int(c)][1]):
                return [(int(c), 1)]
        return []
