"""Bars sawn anew: two beside every parting of their pieces tried in turn, several never dearer."""

from decimal import Decimal
from itertools import product
from random import Random

import pytest

from shopquote.calc.takeoff.cut_job import job_of
from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.exchange import Exchange
from shopquote.calc.takeoff.greedy import greedy_plan
from shopquote.calc.takeoff.problem import CutProblem, Solution
from shopquote.calc.takeoff.refill import Refill
from shopquote.calc.takeoff.sheet import sheet_of
from shopquote.calc.takeoff.work import A_SECOND, Work
from shopquote.calc.units import Length

mm = Length.from_mm


def random_problem(draw: Random, mitres: bool, nests: bool) -> CutProblem:
    ways = [(0, 0), (45, 45), (22.5, 22.5)] if mitres else [(0, 0)]
    pieces = [
        Piece(f"P{i}", mm(draw.randint(100, 900)), draw.randint(1, 2), draw.choice(ways), depth=mm(40))
        for i in range(draw.randint(3, 5))
    ]
    stocks = [StockBar(mm(3000), Decimal("13.10")), StockBar(mm(2000), Decimal("9.35"))]
    saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(200), Decimal(50), nest_mitres=nests)
    return sheet_of(job_of(pieces, stocks, [], saw, "mm"), {}, "bound").problem


def cost_on(problem: CutProblem, stock: int, counts: list[int]) -> int | None:
    if not any(counts):
        return 0
    mine = [k for k, s in enumerate(problem.stock_of) if s == stock and problem.fits(k, counts)]
    return min((problem.cost(k, counts) for k in mine), default=None)


def cheapest_parting(problem: CutProblem, one: int, other: int) -> int | None:
    found = []
    for counts in product(*(range(n + 1) for n in problem.demands)):
        first = cost_on(problem, one, list(counts))
        rest = [n - c for n, c in zip(problem.demands, counts, strict=True)]
        second = cost_on(problem, other, rest)
        if first is not None and second is not None:
            found.append(first + second)
    return min(found, default=None)


@pytest.mark.parametrize("mitres, nests", [(False, False), (True, False), (True, True)])
def test_two_bars_are_parted_as_cheaply_as_can_be(mitres, nests):
    draw = Random(11)
    best = tried = 0
    for _ in range(60):
        problem = random_problem(draw, mitres, nests)
        one, other = draw.randrange(2), draw.randrange(2)
        pieces = [i for i, n in enumerate(problem.demands) for _ in range(n)]
        found = Exchange(problem, Work(A_SECOND)).parted(one, other, pieces)
        least = cheapest_parting(problem, one, other)
        if least is None:
            assert found is None
            continue
        tried += 1
        if found is None:
            continue
        _, first, second = found
        assert sorted((*first, *second)) == pieces
        counts = [[load.count(i) for i in range(len(problem.sizes))] for load in (first, second)]
        costs = [cost_on(problem, s, load) for s, load in zip((one, other), counts, strict=True)]
        best += sum(costs) == least
    # Mitres: the second bar's kerf is taken as the narrowest, and a block opens anew: a way may be missed.
    assert tried > 30 and best >= (tried if not mitres else 0.8 * tried)


def assert_holds_all_and_costs_no_more(problem: CutProblem, found: Solution, start: Solution) -> None:
    made = [0] * len(problem.demands)
    for kind, pattern, count in found.bars:
        assert problem.fits(kind, pattern)
        made = [have + n * count for have, n in zip(made, pattern, strict=True)]
    assert tuple(made) == problem.demands
    assert found.cost == sum(problem.cost(k, p) * n for k, p, n in found.bars) <= start.cost


def test_a_plan_never_gets_dearer_and_mostly_cheaper():
    draw = Random(5)
    gained = 0
    for _ in range(20):
        pieces = [Piece(f"P{i}", mm(draw.randint(200, 1900)), draw.randint(2, 9)) for i in range(12)]
        stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]
        saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50))
        problem = sheet_of(job_of(pieces, stocks, [], saw, "mm"), {}, "bound").problem
        start = greedy_plan(problem)
        assert start is not None
        found = Exchange(problem, Work(10 * A_SECOND)).better(start)
        assert_holds_all_and_costs_no_more(problem, found, start)
        gained += found.cost < start.cost
    assert gained >= 15


@pytest.mark.parametrize("mitres, nests", [(False, False), (True, False), (True, True)])
def test_bars_filled_anew_hold_all_pieces_and_never_cost_more(mitres, nests):
    draw = Random(6)
    gained = 0
    for _ in range(20):
        ways = [(0, 0), (45, 45), (22.5, 22.5)] if mitres else [(0, 0)]
        pieces = [
            Piece(f"P{i}", mm(draw.randint(200, 1900)), draw.randint(2, 9), draw.choice(ways), depth=mm(40))
            for i in range(12)
        ]
        stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]
        saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50), nest_mitres=nests)
        problem = sheet_of(job_of(pieces, stocks, [], saw, "mm"), {}, "bound").problem
        start = greedy_plan(problem)
        assert start is not None
        # What a unit of length costs in the longer bar, in millionths of the unit of cost.
        rate = 1_000_000 * problem.kinds[0].cost // problem.kinds[0].capacity
        refill = Refill(Exchange(problem, Work(A_SECOND)), Work(A_SECOND))
        found = refill.better(start, [rate * size for size in problem.sizes], 1_000_000, 0)
        assert_holds_all_and_costs_no_more(problem, found, start)
        gained += found.cost < start.cost
    assert gained >= 15
