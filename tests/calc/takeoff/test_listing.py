"""Lists leave out no pattern of a cheaper plan, and are checked."""

import copy
import json
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from itertools import islice, pairwise, product
from random import Random
from types import SimpleNamespace

import numpy as np
import pytest

from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.dive import Dives
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.nodes import Node
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.problem import CutProblem, Solution, StockKind
from shopquote.calc.takeoff.proof import given, lists
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.enumerate import Filter, patterns_within
from shopquote.calc.takeoff.proof.list_search import ListSearch
from shopquote.calc.takeoff.proof.listing import Lister
from shopquote.calc.takeoff.proof.model import Model
from shopquote.calc.takeoff.proof.patterns import Patterns
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.takeoff.search import Search
from shopquote.calc.takeoff.work import OutOfWork, Work
from shopquote.calc.units import Length
from tests.bench.bench_cut import uniform
from tests.referees.proof_checker import bound_shown_by
from tests.referees.whole_set import fewest_by_arc_flow, fewest_by_cp_sat

mm = Length.from_mm


def full_bars(seed, bars, capacity=100):
    """Lengths and counts that fill so many bars without waste."""
    draw = Random(seed)
    lengths = []
    for _ in range(bars):
        marks = sorted(draw.sample(range(8, capacity - 8), draw.randint(1, 3)))
        ends = [0, *marks, capacity]
        lengths += [b - a for a, b in pairwise(ends)]
    sizes = sorted(set(lengths), reverse=True)
    return sizes, [lengths.count(size) for size in sizes]


def plans_of(problem, bars, left=None, least=()):
    """Every way to cut all pieces from at most so many bars, as lists of patterns."""
    left = problem.demands if left is None else left
    if not any(left):
        yield []
        return
    if not bars:
        return
    first = next(i for i, n in enumerate(left) if n)
    for counts in product(*(range(n + 1) for n in left)):
        if counts[first] and problem.used(counts) <= problem.kinds[0].capacity:
            rest = tuple(n - c for n, c in zip(left, counts, strict=True))
            for others in plans_of(problem, bars - 1, rest):
                yield [counts, *others]


def nested_problem(draw):
    """A few lengths, some of them in two blocks that nest, in a bar whose rest may be credited."""
    number = draw.randint(3, 6)
    blocks = [draw.choice([-1, 0, 0, 1]) for _ in range(number)]
    bar = StockKind(60, 40, 9, credit=draw.choice([0, 2]), credit_over=3, credit_step=1)
    sizes, demands = [draw.randint(7, 30) for _ in range(number)], [draw.randint(1, 3) for _ in range(number)]
    return CutProblem(tuple(sizes), tuple(demands), (bar,), tuple(blocks), (draw.randint(1, 9), 4))


@pytest.mark.parametrize("seed", range(40))
def test_nested_patterns_are_listed_without_one_too_many_on_the_way(seed, monkeypatch):
    draw = Random(seed)
    problem = nested_problem(draw)
    bar, prices = problem.kinds[0], [draw.randint(0, 30) for _ in problem.sizes]
    credit = bar.credits() if bar.credit else None
    every = [p for p in product(*(range(n + 1) for n in problem.demands)) if problem.fits(0, p)]
    worths = [np.dot(p, prices) + bar.credit_for(60 - problem.used(p)) for p in every]
    least = sorted(worths)[draw.randrange(len(worths))]
    wanted = {p for p, worth in zip(every, worths, strict=True) if worth >= least}
    one = Filter(tuple(prices), (int(least),), ())
    found = patterns_within(problem, 0, credit, [one], len(wanted), Work(1 << 40))
    assert found.complete and {tuple(row) for row in found.rows.tolist()} == wanted - {(0,) * len(prices)}

    model = object.__new__(Model)
    model.sizes, model.demands, model.blocks = problem.sizes, problem.demands, problem.blocks
    model.openings, model.credits = problem.openings, [credit]
    model.kinds = [SimpleNamespace(capacity=60, allowed=(True,) * len(prices))]
    monkeypatch.setattr(lists, "MOST_LISTED", len(wanted))
    rows = lists._patterns(model, 0, [(prices, int(least))])
    assert {tuple(row) for row in rows.tolist()} == wanted - {(0,) * len(prices)}


@pytest.mark.parametrize("seed", range(12))
def test_a_list_holds_every_pattern_of_every_cheaper_plan(seed, monkeypatch):
    sizes, demands = full_bars(seed, 3, 40)
    problem = CutProblem(tuple(sizes), tuple(demands), (StockKind(40, 1, 9),), (-1,) * len(sizes))
    wanted = {tuple(p) for plan in plans_of(problem, 3) for p in plan}
    listings = []
    run = Lister.by_directed_prices

    def kept(self, most):
        listings.append(run(self, most))
        return listings[-1]

    monkeypatch.setattr(Lister, "by_directed_prices", kept)
    search = Search(problem, Work(1 << 40), known=4)
    search.start()
    alone = [(0, tuple(int(i == j) for j in range(len(sizes))), n) for i, n in enumerate(demands)]
    search.offer(Solution(tuple(alone), sum(demands)))
    search.gap.list_out(Node(replace(Box.whole(problem), total_high=3), 0, (0,) * len(sizes)))
    (listing,) = listings
    listed = {tuple(int(n) for n in row) for row in listing.listed.patterns}
    assert wanted <= listed
    assert search.best is not None and search.best.cost == 3  # the list is enough to find the plan


def one_length(sizes, demands, capacity):
    pieces = [Piece(str(i), mm(w), d) for i, (w, d) in enumerate(zip(sizes, demands, strict=True))]
    return plan_cuts(pieces, [StockBar(mm(capacity), Decimal(1))], [], SawSettings(mm(0)))


@pytest.mark.parametrize("seed", range(16))
def test_bars_filled_without_waste_are_proven_with_as_few_as_the_referee(seed):
    sizes, demands = full_bars(seed, 5 + seed % 4)
    if seed % 2:
        demands[seed % len(demands)] += 1  # one piece too many for as many bars
    plan = one_length(sizes, demands, 100)
    bars, _, proven = fewest_by_cp_sat(sizes, demands, 100, 20)
    assert proven and plan.proven and plan.cost == bars


def test_cuts_prove_what_the_solver_rules_out():
    """31 pieces of 12.9 bars together, of which no plan has 13."""
    sizes = [
        67,
        66,
        62,
        60,
        59,
        58,
        55,
        52,
        50,
        49,
        45,
        44,
        43,
        41,
        39,
        33,
        31,
        28,
        26,
        24,
        21,
        20,
        16,
        14,
        13,
    ]
    demands = [2 if size in (60, 59, 52, 50, 39, 14) else 1 for size in sizes]
    plan = one_length(sizes, demands, 100)
    bars, _, proven = fewest_by_arc_flow(sizes, demands, 100, 20)
    assert proven and plan.proven and plan.cost == bars == 14
    assert faults_of_proof(plan.proof) == []
    assert '"shares"' in json.dumps(plan.proof)


@pytest.fixture(scope="module")
def proof():
    """A plan proven by a list: 200 units in 5 bars of 40, with pieces of which few patterns fill a bar."""
    plan = one_length((22, 20, 17, 16, 14, 12, 10, 8, 6), (1, 3, 1, 1, 1, 1, 2, 3, 2), 40)
    assert plan.proven and plan.cost == 5
    return plan.proof


def test_a_list_is_what_proves_it(proof):
    assert '"list"' in json.dumps(proof["models"])
    assert faults_of_proof(proof) == []


def each(model, change):
    """A model of a proof with every set of prices changed."""
    model["prices"] = [change(prices) for prices in model["prices"]]


WRECKS = {
    "prices that pass all bounds": lambda model: each(model, lambda prices: [1 << 62] * 12),
    "prices of a pair that is not there": lambda model: each(model, lambda prices: [*prices, 1]),
    "prices of fewer pieces": lambda model: each(model, lambda prices: prices[:2]),
    "no prices at all": lambda model: each(model, lambda prices: []),
    "lists that prove nothing": lambda model: listing_by(model, [[1 << 60] * 12]),
}


def listing_by(model, more):
    """Let all lists of a model be made by other sets of prices."""
    known = len(model["prices"])
    model["prices"] += more
    for node in model["tree"]:
        for step in node.get("steps", []):
            if isinstance(step, dict) and "list" in step:
                step["list"] = list(range(known, known + len(more)))


@pytest.mark.parametrize("name", WRECKS)
def test_wrong_prices_of_a_list_are_refused(proof, name):
    made = copy.deepcopy(proof)
    WRECKS[name](made["models"][0])
    assert faults_of_proof(sealed(made)) != []


def test_more_filters_than_needed_do_no_harm(proof):
    made = copy.deepcopy(proof)
    (model,) = made["models"]
    steps = (step for node in model["tree"] for step in node.get("steps", []) if isinstance(step, dict))
    (listed,) = (step["list"] for step in steps if "list" in step)
    listing_by(model, [*(model["prices"][number] for number in listed), [0] * 12])
    assert faults_of_proof(sealed(made)) == []


@pytest.mark.parametrize("seed", range(12))
def test_the_checked_bound_of_a_list_is_never_above_a_plan_that_keeps_the_rules(seed):
    draw = Random(seed)
    sizes, demands = full_bars(seed, 3, 40)
    problem = CutProblem(tuple(sizes), tuple(demands), (StockKind(40, 7, 9),), (-1,) * len(sizes))
    plans = [np.array(plan, np.int64) for plan in islice(plans_of(problem, 4), 60)]
    rows = np.unique(np.concatenate(plans), axis=0)
    model = object.__new__(Model)
    model.sizes, model.goal, first = sizes, 10**9, len(sizes)
    model.kinds = [given.CutKind(0, 40, 7, 9, (True,) * len(sizes), None)]
    model.bar_rows = [[first, first + 1, first + 2]]
    model.ends = [*((n, n) for n in demands), (0, 9), (0, 9), (0, 4)]
    every = np.ones(len(rows), np.int64)
    listed = Patterns(model, rows, 0 * every, 7000 * every, 0 * every, 9 * every)
    for _ in range(40):
        patterns, ends, pairs = listed, model.ends, []
        for _ in range(draw.randint(0, 2)):
            one, other = draw.randrange(len(sizes)), draw.randrange(len(sizes))
            below = draw.randint(0, 2)
            end = draw.choice([(0, below), (below + 1, 4)])
            patterns, ends = patterns.with_row({"pair": [one, other]}, ends)
            ends[-1] = end
            pairs.append((one, other, *end))
        model.prices = [[draw.randint(-500, 4000) for _ in ends]]
        gap, reduced = patterns.gap(0, ends)
        for plan in plans:
            if not all(low <= together(plan, a, b) <= high for a, b, low, high in pairs):
                continue
            cost = 7000 * len(plan)
            assert model.goal - gap <= cost
            left = patterns.narrowed(cost - (model.goal - gap), reduced)
            for pattern in plan:
                # No pattern of a cheaper plan is ruled out, nor cut less often.
                at = np.nonzero((left.rows == pattern).all(axis=1))[0]
                assert len(at) == 1 and left.high[at[0]] >= (plan == pattern).all(axis=1).sum()


def together(plan, first, second):
    """How many bars of a plan hold both pieces, or two of the one."""
    if first == second:
        return int((plan[:, first] >= 2).sum())
    return int(((plan[:, first] > 0) & (plan[:, second] > 0)).sum())


@pytest.mark.parametrize("seed", [23, 38, 64])
def test_a_stranger_finds_the_bound_of_lists_divided_by_pairs(seed, monkeypatch):
    # Without cuts, dives and proposals the search must divide to find its plan.
    for name in ("_dive", "propose", "_cut"):
        monkeypatch.setattr(ListSearch, name, lambda *args, **kwargs: None)
    for name in ("dive", "restart"):
        monkeypatch.setattr(Dives, name, lambda *args, **kwargs: None)
    sizes, demands = full_bars(seed, 5 + seed % 6)
    demands[seed % len(demands)] += seed % 2
    plan = one_length(sizes, demands, 100)
    assert plan.proven and plan.proof is not None and '"pair"' in json.dumps(plan.proof)
    assert bound_shown_by(json.loads(json.dumps(plan.proof))) == plan.proof["cost"]


def test_open_nodes_of_one_bound_are_taken_up_again():
    """Two of them once could not be told apart, and the plan broke off."""
    bar = StockKind(60, 40, 9, credit=2, credit_over=3, credit_step=1)
    problem = CutProblem((20, 30), (2, 2), (bar,), (-1, -1))
    search = Search(problem, Work(1 << 40))
    search.offer(Solution(((0, (1, 1), 2),), 2 * problem.cost(0, (1, 1))))
    box = Box.whole(problem)
    search.closed = [Node(part, 1, (0, 0)) for part in box.split("total", 0, 2)]
    taken_up = []

    def branch(queue):
        taken_up.extend(node for _, _, node in queue)
        search.closed, queue[:] = [], []

    search.branch, search.gap.dive_again = branch, lambda node: True
    search.dive_and_try_again([])
    assert len(taken_up) == 2


def test_what_dives_leave_is_searched_once(monkeypatch):
    sizes, demands, capacity = uniform(3, 60)
    problem = CutProblem(tuple(sizes), tuple(demands), (StockKind(capacity, 1, 99),), (-1,) * len(sizes))
    parts = []
    monkeypatch.setattr(Search, "solve_part", lambda self, part, known: parts.append(part))
    search = Search(problem, Work(100_000_000), known=60)
    search.start()
    # Without a plan that is kept, dives are begun again until the work is done.
    search.offer = lambda solution: None
    with suppress(OutOfWork):
        search.restart(Node(Box.whole(problem), 0, (0,) * len(sizes)))
    left = [(part.sizes, part.demands, part.stock_limits) for part in parts]
    assert len(left) > 9 and len(set(left)) == len(left)
