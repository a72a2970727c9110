"""What the solver proposes over a list is a plan within the limits, or nothing."""

import numpy as np

from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.problem import CutProblem, StockKind
from shopquote.calc.takeoff.proof.pattern_list import PatternList
from shopquote.calc.takeoff.proof.proposal import proposed
from shopquote.calc.takeoff.work import Work

PROBLEM = CutProblem((6, 4, 3), (1, 2, 2), (StockKind(10, 5, 9, 0), StockKind(7, 3, 1, 1)), (-1, -1, -1))
# Of the first kind, then of the second.
ROWS = [np.array([[1, 1, 0], [0, 1, 2]], np.int16), np.array([[1, 0, 0], [0, 1, 1]], np.int16)]


def propose(most, box=None, work=1 << 40, rows=ROWS):
    listed = PatternList(PROBLEM, rows, [None, None], box or Box.whole(PROBLEM))
    counts = proposed(listed, 1.0, most, Work(work))
    return None if counts is None else listed.bars(counts)


def test_a_plan_within_the_cost_is_proposed():
    assert sorted(propose(10)) == [(0, (0, 1, 2), 1), (0, (1, 1, 0), 1)]


def test_nothing_is_proposed_where_no_plan_costs_as_little():
    assert propose(9) == []


def test_the_numbers_of_bars_allowed_are_kept():
    one = Box((0, 0), (1, 1), (0, 0), (1, 1), 0, 9)
    assert propose(100, one) == []


def test_nothing_is_proposed_without_work_or_patterns():
    assert propose(10, work=0) is None
    assert propose(10, rows=[rows[:0] for rows in ROWS]) is None
