"""Plans of small jobs against CP-SAT and against an independent check of every bar."""

from decimal import Decimal

import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError
from tests.referees.cp_sat import cheapest
from tests.referees.feasible import faults_of_plan, to_cent

mm = Length.from_mm
# The referee is slow: a failing case is shown as it was found.
AS_FOUND = (Phase.explicit, Phase.generate)


@st.composite
def small_jobs(draw, *, credit=False, heats=False, mitres=False):
    pieces = [
        Piece(
            f"P{i}",
            mm(draw(st.integers(2, 60)) * 10),
            draw(st.integers(1, 4)),
            heat_group=draw(st.sampled_from([None, None, "g", "h"])) if heats else None,
            mitres=draw(st.sampled_from([(0.0, 0.0), (45.0, 45.0), (30.0, 0.0)])) if mitres else (0.0, 0.0),
            depth=mm(20) if mitres else Length(0),
        )
        for i in range(draw(st.integers(1, 4)))
    ]
    stocks = [
        StockBar(
            mm(length),
            Decimal(draw(st.integers(100, 900))) / 100,
            draw(st.sampled_from([None, None, 1, 3])),
            draw(st.sampled_from(["", "north"])),
        )
        for length in draw(
            st.lists(st.sampled_from([600, 900, 1000, 1250]), min_size=1, max_size=2, unique=True)
        )
    ]
    rack = [
        RackBar(f"R{i}", mm(draw(st.integers(20, 100)) * 10), draw(st.sampled_from(["", "H1"])))
        for i in range(draw(st.integers(0, 2)))
    ]
    saw = SawSettings(
        kerf=mm(draw(st.sampled_from([0, 2, 5]))),
        trim=mm(draw(st.sampled_from([0, 10]))),
        grip=mm(draw(st.sampled_from([0, 0, 50]))),
        keep_min=mm(draw(st.sampled_from([50, 200]))),
        keep_percent=Decimal(draw(st.sampled_from([25, 60, 100]))) if credit else Decimal(0),
        nest_mitres=mitres,
    )
    return pieces, stocks, rack, saw


def judge(job):
    pieces, stocks, rack, saw = job
    optimum, sure = cheapest(pieces, stocks, rack, saw, seconds=4)
    try:
        plan = plan_cuts(pieces, stocks, rack, saw)
    except CannotMakeError:
        assert optimum is None
        return
    assert faults_of_plan(pieces, stocks, rack, saw, plan) == []
    assert plan.proven
    if optimum is not None:  # a referee that ran out of work has a plan at best
        assert plan.cost <= optimum and (plan.cost == optimum or not sure)


# Only the rack bar is long enough for a 550 with trim and grip, and there are two: no plan at all.
TOO_LONG_FOR_STOCK = (
    [Piece("P0", mm(140), 4), Piece("P1", mm(550), 2)],
    [StockBar(mm(600), Decimal(1))],
    [RackBar("R0", mm(610))],
    SawSettings(mm(0), mm(10), mm(50), mm(50), Decimal(0)),
)


@example(TOO_LONG_FOR_STOCK)
@settings(max_examples=25, phases=AS_FOUND)
@given(small_jobs())
def test_small_jobs_with_limits_and_rack_bars_cost_what_cp_sat_says(job):
    judge(job)


@settings(max_examples=25, phases=AS_FOUND)
@given(small_jobs(credit=True))
def test_small_jobs_with_credited_offcuts_cost_what_cp_sat_says(job):
    judge(job)


@settings(max_examples=20, phases=AS_FOUND)
@given(small_jobs(heats=True))
def test_one_heat_groups_cost_what_cp_sat_says(job):
    judge(job)


@settings(max_examples=20, phases=AS_FOUND)
@given(small_jobs(mitres=True))
def test_nested_mitres_cost_what_cp_sat_says(job):
    judge(job)


@settings(max_examples=15, phases=AS_FOUND)
@given(small_jobs(mitres=True, credit=True))
def test_mitres_with_credited_offcuts_cost_what_cp_sat_says(job):
    judge(job)


def test_the_narrowest_kerf_is_spared_at_the_end():
    # 3 pieces of 322 with 2 kerfs of 10/cos 60 = 20 are 1006; with 20 + 20 + 20 - 10 they would be too long.
    pieces = [Piece("A", mm(322), 3, (60.0, 0.0))]
    saw = SawSettings(mm(10))
    plan = plan_cuts(pieces, [StockBar(mm(1006), Decimal(9))], [], saw)
    assert (plan.cost, plan.proven) == (Decimal(9), True)
    assert faults_of_plan(pieces, [StockBar(mm(1006), Decimal(9))], [], saw, plan) == []


@st.composite
def odd_jobs(draw):
    """Few pieces without a common unit, of lengths that fill a bar to within a fraction of 0.1 mm."""
    first = [draw(st.integers(200_000_001, 399_999_999)) for _ in range(draw(st.integers(1, 3)))]
    bar = 1_000_000_000
    pieces = [Piece(f"P{i}", Length(n), draw(st.integers(1, 2))) for i, n in enumerate(first)]
    pieces += [
        Piece(f"Q{i}", Length(bar - first[i] - first[-1] + draw(st.sampled_from([-60_000, 0, 40_000]))), 1)
        for i in range(len(first))
    ]
    return pieces, [StockBar(Length(bar), Decimal(7)), StockBar(Length(bar // 2), Decimal(4))]


@settings(max_examples=8, phases=AS_FOUND)
@given(odd_jobs(), st.sampled_from([Decimal(0), Decimal(50)]))
def test_what_is_proven_of_rounded_sizes_is_true_of_the_sizes_themselves(job, percent):
    pieces, stocks = job
    saw = SawSettings(mm(0), keep_min=mm(100), keep_percent=percent)
    plan = plan_cuts(pieces, stocks, [], saw)
    assert faults_of_plan(pieces, stocks, [], saw, plan) == []
    optimum, sure = cheapest(pieces, stocks, [], saw, seconds=2)
    # Any plan that the referee finds is above the bound; a proven one is not dearer.
    assert optimum is None or plan.bound <= Decimal(optimum.numerator) / optimum.denominator + Decimal("1e-9")
    if plan.proven and sure:
        assert to_cent(plan.cost) == to_cent(Decimal(optimum.numerator) / optimum.denominator)


def test_a_piece_of_exactly_the_usable_length_fits_whatever_its_unit():
    pieces = [Piece("A", Length(1_000_000_007), 2), Piece("B", Length(333_333_331), 1)]
    stocks = [StockBar(Length(1_000_000_007), Decimal(5))]
    plan = plan_cuts(pieces, stocks, [], SawSettings(mm(0)))
    assert faults_of_plan(pieces, stocks, [], SawSettings(mm(0)), plan) == []
    assert (plan.cost, plan.bars_used) == (15, 3)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_lengths_without_a_common_unit_still_fit(unit):
    pieces = [Piece("A", Length(450_123_457), 7), Piece("B", Length.from_inches("12.3"), 5)]
    stocks = [StockBar(Length.from_inches(120), Decimal("11.10"))]
    saw = SawSettings(kerf=Length.from_inches("0.0625"), trim=mm(5))
    plan = plan_cuts(pieces, stocks, [], saw, unit=unit)
    assert faults_of_plan(pieces, stocks, [], saw, plan) == []
