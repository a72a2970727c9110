"""One table for bars that hold fewer pieces and bars that hold more, beside a table for each alone."""

from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest

from shopquote.calc.takeoff.bounds import Bounds
from shopquote.calc.takeoff.knapsack import Knapsack
from shopquote.calc.takeoff.problem import CutProblem, StockKind
from shopquote.calc.takeoff.work import A_SECOND, Work


def random_problem(draw: Random) -> CutProblem:
    number = draw.randint(3, 8)
    sizes = sorted((draw.randint(5, 60) for _ in range(number)), reverse=True)
    steep = [draw.randrange(3) for _ in range(number)]
    blocks = [draw.choice([-1, s]) if s else -1 for s in steep]
    kinds = [
        StockKind(
            120 + least, 1000 + least, 9, stock=0, allowed=tuple(s >= least for s in steep) if least else None
        )
        for least in range(3)
    ]
    if draw.random() < 0.3:  # of another heat: within none of the others
        kinds.append(StockKind(90, 700, 2, stock=1, allowed=tuple(draw.random() < 0.5 for _ in steep)))
    demands = tuple(draw.randint(1, 4) for _ in sizes)
    return CutProblem(tuple(sizes), demands, tuple(kinds), tuple(blocks), (0, 4, 7))


def test_a_chain_of_masks_is_priced_as_each_mask_alone():
    draw = Random(3)
    chained = 0
    for _ in range(60):
        problem = random_problem(draw)
        prices = [draw.randint(0, 50) for _ in problem.sizes]
        bounds = Bounds(problem, Work(A_SECOND))
        chained += len(problem.chains) < len(problem.families)
        _, places = bounds.price_out(prices, bounds.tables)
        for kind, (table, mask, at) in zip(problem.kinds, places, strict=True):
            alone = Knapsack(problem, [kind.allowed], kind.capacity, problem.demands)
            alone.solve(prices)
            most = alone.most(0, kind.capacity)
            pattern = table.pattern(mask, at)
            assert problem.fits(problem.kinds.index(kind), pattern)
            assert table.most(mask, at) == most == sum(p * n for p, n in zip(prices, pattern, strict=True))
    assert chained > 40


@pytest.mark.parametrize("dearest", [40, 1 << 40])
def test_a_table_says_what_trying_everything_says(dearest):
    draw = Random(11)
    for _ in range(30):
        problem = random_problem(draw)
        problem = replace(
            problem, sizes=problem.sizes[:4], demands=problem.demands[:4], blocks=problem.blocks[:4]
        )
        capacity = draw.randint(20, 120)
        table = Knapsack(problem, [None], capacity, problem.demands)
        for _ in range(3):
            prices = [draw.choice((0, draw.randint(0, dearest))) for _ in problem.sizes]
            loads = [
                (problem.used(counts), sum(p * n for p, n in zip(prices, counts, strict=True)))
                for counts in product(*(range(n + 1) for n in problem.demands))
            ]
            slack = np.arange(capacity, -1, -1, dtype=np.int64)
            credit = slack * draw.randint(1, dearest) // capacity // 20
            table.solve(prices)
            for room in (0, capacity, draw.randrange(capacity)):
                most = max(worth for used, worth in loads if used <= room)
                pattern = table.pattern(0, room)
                assert table.most(0, room) == most == sum(p * n for p, n in zip(prices, pattern, strict=True))
                assert problem.used(pattern) <= room
            most = max(worth + int(credit[used]) for used, worth in loads if used <= capacity)
            assert table.most_with(0, credit)[1] == most
