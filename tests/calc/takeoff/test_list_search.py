"""Search by counts of listed patterns: cuts cut off no whole choice, proofs hold."""

import copy
import json
import random
from decimal import Decimal
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.master import Box
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.problem import CutProblem, StockKind
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.list_search import sums_of
from shopquote.calc.takeoff.proof.pattern_list import PatternList
from shopquote.calc.takeoff.proof.patterns import Patterns
from shopquote.calc.takeoff.proof.roundings import PARTS, SHARES, Bound, RoundingCut, rounded
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.takeoff.proof.write_tree import WrittenRows
from shopquote.calc.units import Length
from tests.referees.proof_checker import Model as StrangersModel
from tests.referees.proof_checker import Pattern

mm = Length.from_mm
SEEDS = [0, 7, 9]
SAW = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50))


def job(seed, number=9, total=90):
    """A job whose proof needs the counts of listed patterns."""
    draw = random.Random(seed)
    pieces = [
        Piece(f"P{i}", mm(draw.randint(60, 2900)), max(1, round(total * draw.random() * 2 / number)))
        for i in range(number)
    ]
    return pieces, [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]


def nodes(value):
    """Every mapping inside a proof."""
    if isinstance(value, dict):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from nodes(inner)


def proven_by_counts(seed):
    pieces, stocks = job(seed)
    plan = plan_cuts(pieces, stocks, [RackBar("R", mm(1700))], SAW)
    assert plan.proven and plan.proof is not None
    assert any("shares" in node for node in nodes(plan.proof["models"]))
    return plan.proof


def one_bar_more(made):
    """The same tree beside a dearer plan: a piece gets a bought bar of its own, with no credit."""
    worse = copy.deepcopy(made)
    worse["saw"]["keep"] = None
    row = next(row for row in worse["plan"] if worse["bars"][row["bar"]]["price"] and len(row["pieces"]) > 1)
    at, n = row["pieces"].pop()
    worse["plan"].append({"bar": row["bar"], "count": row["count"], "pieces": [[at, n]]})
    worse["cost"] = sum(worse["bars"][one["bar"]]["price"] * one["count"] for one in worse["plan"])
    worse["saw"]["keep"] = made["saw"]["keep"]
    worse["bound"] = worse["cost"]
    return sealed(worse)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_proof_by_counts_passes_and_proves_no_dearer_plan(seed):
    made = proven_by_counts(seed)
    assert faults_of_proof(json.loads(json.dumps(made))) == []
    found = faults_of_proof(one_bar_more(made))
    assert found
    higher = sealed(made | {"bound": made["bound"] + 10_000, "cost": made["cost"]})
    assert faults_of_proof(higher) != []


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_cuts_hold_for_every_whole_choice_and_are_the_same_in_the_checkers(seed):
    draw = random.Random(seed)
    sizes = tuple(draw.randint(2, 6) for _ in range(2))
    demands = tuple(draw.randint(1, 4) for _ in range(2))
    kinds = (StockKind(10, 10, 6, 0), StockKind(7, 8, 6, 1))
    problem = CutProblem(sizes, demands, kinds, (-1, -1))
    rows = [
        np.array(
            [p for p in product(range(4), repeat=2) if any(p) and problem.used(p) <= k.capacity], np.int16
        )
        for k in kinds
    ]
    rows = [found[[draw.random() < 0.6 for _ in found]].reshape(-1, 2) for found in rows]
    low = (draw.randint(0, 1), 0)
    box = Box(low, (4, 4), (0, 0), (4, draw.randint(2, 4)), 1, draw.randint(4, 6))
    mine = PatternList(problem, rows, [None, None], box)
    if not len(mine):
        return
    ends = [(int(low), int(high)) for low, high in zip(mine.least, mine.most, strict=True)]
    theirs, strange = in_checkers(problem, mine)
    names = [(int(k), *(int(n) for n in row)) for k, row in zip(mine.kinds, mine.patterns, strict=True)]
    strange_ends = dict(enumerate(ends)) | dict.fromkeys(names, (0, 3))
    written = WrittenRows(len(ends), 8)
    for _ in range(4):
        shares = [draw.randint(-SHARES, SHARES) * PARTS for _ in mine.least]
        shares += [draw.randint(0, SHARES) for _ in mine.cut_ends]
        bounds = [
            Bound(k, tuple(pattern), at, 3 if down else 0, down)
            for at, (k, *pattern) in enumerate(names)
            if (down := draw.random() < 0.5) or draw.random() < 0.5
        ]
        made = rounded(mine, RoundingCut(np.array(shares, np.int64), tuple(bounds)))
        if made is None:
            continue
        mine.add_cut(*made)
        steps = written.add(RoundingCut(np.array(shares, np.int64), tuple(bounds)))
        for step in steps:
            theirs, ends = theirs.with_row(step, ends)
            strange, strange_ends = with_row(step, strange, strange_ends)
        assert ends[-1][1] == strange_ends[len(ends) - 1][1] == made[1]
        assert theirs.extra[-1].tolist() == [x.row[-1] for x in strange.values()] == made[0].tolist()
    for choice in product(range(4), repeat=len(mine)) if len(mine) <= 6 else ():
        x = np.array(choice, np.int64)
        sums = mine.base.T @ x
        if (sums >= mine.least).all() and (sums <= mine.most).all():
            assert (mine.cuts.T @ x <= mine.cut_ends).all()


def with_row(step, table, ends):
    """A row more, as the checker for strangers makes it."""
    model = SimpleNamespace(ends=ends)
    parts, end = StrangersModel.new_row(model, step, ends, table)
    ends = ends | {sum(isinstance(name, int) for name in ends): end}
    return {name: x._replace(row=[*x.row, parts[name]]) for name, x in table.items()}, ends


def in_checkers(problem, patterns):
    """The listed patterns as both checkers have them."""
    first = len(problem.sizes)
    model = SimpleNamespace(sizes=problem.sizes, kinds=problem.kinds, ends=[None] * len(patterns.least))
    model.of_bar = lambda k, prices: sum(prices[first + row] for row in problem.bar_rows(k))
    low = np.zeros(len(patterns), np.int64)
    listed = patterns.patterns.astype(np.int64)
    theirs = Patterns(model, listed, patterns.kinds, patterns.costs, low, low + 3)
    names = [(int(k), *row) for k, row in zip(patterns.kinds, listed.tolist(), strict=True)]
    return theirs, {n: Pattern(0, row) for n, row in zip(names, patterns.base.tolist(), strict=True)}


def test_sums_are_added_up_in_one_order_on_any_processor():
    # A product of matrices of this size differs from it in the last bits, by the number of cores.
    draw = np.random.default_rng(1)
    rows, values = draw.integers(0, 5, (4000, 30)), draw.random(4000)
    by_hand = [0.0] * 30
    for row, value in zip(rows.tolist(), values.tolist(), strict=True):
        by_hand = [total + n * value for total, n in zip(by_hand, row, strict=True)]
    assert sums_of(rows, values).tolist() == by_hand
