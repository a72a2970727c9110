"""Plans that learn from one another cut every piece, and soon need as few bars as can be."""

import pytest

from shopquote.calc.takeoff.problem import CutProblem, StockKind, tidy
from shopquote.calc.takeoff.proof.corrected import corrected_plans
from shopquote.calc.takeoff.work import OutOfWork, Work
from tests.calc.takeoff.test_listing import full_bars


def one_length(seed, bars, capacity=100):
    sizes, demands = full_bars(seed, bars, capacity)
    kinds = (StockKind(capacity, 1, 999),)
    return CutProblem(tuple(sizes), tuple(demands), kinds, (-1,) * len(sizes))


@pytest.mark.parametrize("seed", range(8))
def test_every_plan_cuts_every_piece_within_the_bars(seed):
    problem = one_length(seed, 12)
    for bars in corrected_plans(problem, 3, Work(1 << 40)):
        assert all(problem.fits(kind, pattern) for kind, pattern, _ in bars)
        cut = [sum(pattern[i] * n for _, pattern, n in bars) for i in range(len(problem.sizes))]
        assert cut == list(problem.demands)


def test_most_bars_filled_without_waste_are_found_again():
    found = 0
    for seed in range(20):
        problem = one_length(seed, 12)
        costs = [tidy(problem, bars).cost for bars in corrected_plans(problem, 12, Work(1 << 40))]
        assert min(costs) >= 12
        found += min(costs) == 12
    assert found >= 15


def test_work_that_is_done_stops_it():
    with pytest.raises(OutOfWork):
        next(corrected_plans(one_length(1, 5), 3, Work(0)))
