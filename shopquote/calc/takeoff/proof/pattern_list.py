"""Lists of patterns with their costs, and rules on pairs of pieces in one bar."""

from collections.abc import Sequence
from dataclasses import field
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.master import EMPTY, Box
from shopquote.calc.takeoff.problem import CutProblem, Ints

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Number = TypeVar("Number", np.int64, np.float64)
# No upper end of a rule.
FAR = 1 << 40


@dataclass(frozen=True, slots=True, order=True)
class Rule:
    """Of all bars, those that hold piece `first` and piece `second` number `low` to `high`.

    With `first == second` the rule is about bars that hold at least two of it. A rule is `plain` when it only
    bars patterns: those that hold both, or one without the other where every bar with it must hold both.
    """

    first: int
    second: int
    low: int
    high: int

    def joins(self, demands: Sequence[int]) -> list[tuple[int, int]]:
        """Pieces that a bar may hold only together with a given other piece."""
        if self.first == self.second:
            return []
        ways = ((self.first, self.second), (self.second, self.first))
        # No more bars than asked for hold the one piece at all, and so many must hold both.
        return [(one, other) for one, other in ways if self.low >= demands[one]]

    def plain(self, demands: Sequence[int]) -> bool:
        """Whether the rule only excludes patterns, so that it needs no row."""
        return self.high == 0 or (self.high >= FAR and bool(self.joins(demands)))


@dataclass(slots=True)
class ListNode:
    """A node of the search over the list: its box, rules, and the whole prices that bound it.

    Prices of the pieces, of the bars (each kind, each stock, all) and of the rules.
    `value` is the bound in fine units; `excess` the reduced cost of each allowed pattern; `where` how it was
    split, into `children`.
    """

    box: Box
    rules: tuple[Rule, ...]
    bound: int
    allowed: Ints
    prices: tuple[int, ...] = ()
    bars: tuple[int, ...] = ()
    rule_prices: tuple[int, ...] = ()
    value: int = -EMPTY
    excess: Ints | None = None
    where: tuple[str, int, int] | Rule | None = None
    children: list["ListNode"] = field(default_factory=list)


class PatternList:
    """Patterns of all kinds of bars, stored sparse, with whole costs."""

    def __init__(
        self, problem: CutProblem, rows: Sequence[npt.NDArray[np.int16]], credits: Sequence[Ints | None]
    ) -> None:
        self.problem = problem
        self.kinds: Ints = np.concatenate([np.full(len(r), k, np.int64) for k, r in enumerate(rows)])
        self.rows = np.concatenate(rows).reshape(-1, len(problem.sizes))
        place, piece = np.nonzero(self.rows)
        self.pieces = piece
        self.counts: Ints = self.rows[place, piece].astype(np.int64)
        self.starts: Ints = np.searchsorted(place, np.arange(len(self.rows)))
        used = self.worth(np.array(problem.sizes, np.int64)) + problem.opened(self.rows)
        self.costs: Ints = np.zeros(len(self.rows), np.int64)
        for k, kind in enumerate(problem.kinds):
            mine = np.nonzero(self.kinds == k)[0]
            credit = credits[k]
            self.costs[mine] = kind.cost if credit is None else kind.cost - credit[used[mine]]

    def __len__(self) -> int:
        return len(self.rows)

    def worth(self, prices: npt.NDArray[Number]) -> npt.NDArray[Number]:
        """Worth of each pattern at prices, which are whole or floats."""
        if not len(self.rows):
            return prices[:0]
        return np.add.reduceat(prices[self.pieces] * self.counts, self.starts)

    def barred(self, rule: Rule, numbers: Ints) -> Bools:
        """Which of these patterns a rule does not allow at all."""
        rows = self.rows[numbers]
        out = np.zeros(len(rows), np.bool_)
        if rule.high == 0:
            out |= self.covered(rule)[numbers]
        for one, other in rule.joins(self.problem.demands):
            out |= (rows[:, one] > 0) & (rows[:, other] == 0)
        return out

    def covered(self, rule: Rule) -> Bools:
        """Which patterns a rule counts."""
        if rule.first == rule.second:
            return np.asarray(self.rows[:, rule.first] >= 2, np.bool_)
        return np.asarray((self.rows[:, rule.first] > 0) & (self.rows[:, rule.second] > 0), np.bool_)
