"""A plan whose bars learn from one another cuts every piece, and needs few bars."""

import pytest

from shopquote.calc.takeoff.problem import CutProblem, StockKind, tidy
from shopquote.calc.takeoff.proof.corrected import corrected_plan
from shopquote.calc.takeoff.work import OutOfWork, Work
from tests.calc.takeoff.test_listing import full_bars


def one_length(seed, bars, capacity=100):
    sizes, demands = full_bars(seed, bars, capacity)
    kinds = (StockKind(capacity, 1, 999),)
    return CutProblem(tuple(sizes), tuple(demands), kinds, (-1,) * len(sizes))


@pytest.mark.parametrize("seed", range(8))
def test_the_plan_cuts_every_piece_within_the_bars(seed):
    problem = one_length(seed, 12)
    bars = corrected_plan(problem, Work(1 << 40))
    assert all(problem.fits(kind, pattern) for kind, pattern, _ in bars)
    cut = [sum(pattern[i] * n for _, pattern, n in bars) for i in range(len(problem.sizes))]
    assert cut == list(problem.demands)


def test_bars_filled_without_waste_are_found_again_or_one_more():
    costs = [
        tidy(one_length(s, 12), corrected_plan(one_length(s, 12), Work(1 << 40))).cost for s in range(20)
    ]
    assert min(costs) == 12 and max(costs) == 13


def test_work_that_is_done_stops_it():
    with pytest.raises(OutOfWork):
        corrected_plan(one_length(1, 5), Work(0))
