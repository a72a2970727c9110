from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from shopquote.calc.review.fit import Spread, WorkTable, fit_minutes, nonnegative_least_squares
from shopquote.calc.review.learning import learn
from shopquote.calc.review.learning_curve import fit_curve
from shopquote.calc.review.rounding import rounding_steps, unrounded
from shopquote.errors import InputError
from tests.bench.bench_ranges import bins, judged, resampled
from tests.troubled_shop import (
    learned_values,
    mean_error_pct,
    mean_of_ratios,
    ratio_values,
    real_costs,
    told_costs,
    told_over_true,
    troubled_shop,
)


@given(st.integers(0, 10_000), st.integers(1, 6), st.integers(1, 25))
def test_nonnegative_least_squares_agrees_with_scipy(seed, columns, rows):
    random = np.random.default_rng(seed)
    matrix = random.normal(size=(rows, columns)) * random.choice([1, 100, 0.01], size=columns)
    target = random.normal(size=rows)
    ours = nonnegative_least_squares(matrix, target)
    best = optimize.nnls(matrix, target)[1]
    assert np.all(ours >= 0)
    assert np.linalg.norm(matrix @ ours - target) == pytest.approx(best, rel=1e-8, abs=1e-9)


def test_zero_columns_get_zero():
    matrix = np.array([[1.0, 0.0], [2.0, 0.0]])
    assert nonnegative_least_squares(matrix, np.array([1.0, 2.0])).tolist() == [1.0, 0.0]


TRUE = np.array([40.0, 0.9])  # minutes a set-up, minutes a bend
NOW = np.array([20.0, 1.2])


def bending(seed, jobs=120, noise=0.15, now=NOW):
    random = np.random.default_rng(seed)
    counts = np.column_stack(
        [random.integers(1, 4, jobs), np.round(np.exp(random.normal(3.5, 1.2, jobs))) + 1]
    )
    minutes = counts @ TRUE * random.lognormal(-(noise**2) / 2, noise, jobs)
    names = tuple(f"J-{number:04}" for number in range(jobs))
    return WorkTable("bending", ("bend.set-up", "bend.bend"), now, counts.astype(float), minutes, names)


def test_set_up_and_run_come_apart():
    lesson = learn([bending(1, jobs=300)])
    suggested = lesson.values()
    assert suggested["bending", "bend.set-up"] == pytest.approx(40, rel=0.05)
    assert suggested["bending", "bend.bend"] == pytest.approx(0.9, rel=0.05)


def test_mean_of_ratios_is_far_off_where_learning_is_not():
    table = bending(2, jobs=300)
    truth = float(np.sum(table.counts @ TRUE))
    learned = learn([table]).values()
    ours = float(
        np.sum(table.counts @ np.array([learned["bending", "bend.set-up"], learned["bending", "bend.bend"]]))
    )
    short_cut = float(np.sum(table.counts @ mean_of_ratios(table)))
    assert abs(ours / truth - 1) < 0.05
    assert abs(short_cut / truth - 1) > 0.15


def test_unweighted_fit_error_agrees_with_scipy_line_regression():
    # Jobs of like size: the relative weights are almost equal, so the errors are those of a straight line.
    random = np.random.default_rng(5)
    x = random.uniform(100, 120, 400)
    minutes = 300 + 2.0 * x + random.normal(0, 5, 400)
    counts = np.column_stack([np.ones(400), x])
    fit = fit_minutes(WorkTable("sawing", ("a", "b"), np.array([250.0, 2.5]), counts, minutes, ("",) * 400))
    line = stats.linregress(x, minutes)
    assert fit.values == pytest.approx([line.intercept, line.slope], rel=0.02)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx([line.intercept_stderr, line.stderr], rel=0.1)


def test_a_forgotten_timer_is_pointed_out_and_hardly_moves_the_answer():
    table = bending(3)
    minutes = table.minutes.copy()
    minutes[17] *= 12
    spoilt = WorkTable(table.operation, table.standards, table.now, table.counts, minutes, table.jobs)
    lesson = learn([spoilt])
    assert lesson.outliers[0].job == "J-0017"
    assert lesson.outliers[0].logged == pytest.approx(minutes[17])
    assert lesson.values()["bending", "bend.bend"] == pytest.approx(0.9, rel=0.06)


def test_few_noisy_jobs_keep_near_the_standard_and_many_leave_it():
    few = {item.standard: item for item in learn([bending(4, jobs=2, noise=0.4)]).learned}
    many = {item.standard: item for item in learn([bending(4, jobs=400, noise=0.4)]).learned}
    assert few["bend.set-up"].kept_pct > many["bend.set-up"].kept_pct
    assert not few["bend.set-up"].worth_it  # too few jobs to say so
    assert many["bend.set-up"].worth_it


def test_standards_that_the_jobs_cannot_tell_apart_move_together():
    counts = np.outer(np.arange(1, 31.0), [1.0, 1.0])
    minutes = counts @ np.array([3.0, 3.0])
    table = WorkTable("drilling", ("a", "b"), np.array([2.0, 2.0]), counts, minutes, ("",) * 30)
    first, second = learn([table]).learned
    assert first.suggest == pytest.approx(second.suggest)
    assert first.suggest + second.suggest == pytest.approx(6, rel=0.02)
    assert first.seen_error is None
    # What both together take is sure, so the move is worth taking; how they share it is not.
    assert first.worth_it and first.error > 0.1


def test_suggestions_are_never_negative():
    counts = np.column_stack([np.ones(50), np.arange(1, 51.0)])
    minutes = np.maximum(0.1, 2.0 * np.arange(1, 51.0) - 1.5)
    table = WorkTable("sawing", ("a", "b"), np.array([5.0, 2.0]), counts, minutes, ("",) * 50)
    assert all(item.suggest >= 0 and item.seen >= 0 for item in learn([table]).learned)


def test_no_jobs_teach_nothing():
    assert learn([]).learned == ()
    assert learn([bending(1, jobs=0)]).learned == ()


def test_a_spread_that_falls_with_the_size_of_a_job_is_seen():
    """Drawn with 0.10 that a whole job shares and 0.30 that evens out over the hours."""
    random = np.random.default_rng(6)
    counts = np.exp(random.normal(4, 1.5, 2_000))[:, None]
    spread = np.hypot(0.10, 0.30 * np.sqrt(60 / counts[:, 0]))
    minutes = counts[:, 0] * random.lognormal(-(spread**2) / 2, spread)
    minutes[::100] += 90  # forgotten timers
    names = tuple(f"J-{number:04}" for number in range(2_000))
    fit = fit_minutes(WorkTable("grinding", ("a",), np.array([1.4]), counts, minutes, names))
    assert fit.values == pytest.approx([1.0], rel=0.01)
    assert fit.spread.whole == pytest.approx(0.10, abs=0.03)
    assert fit.spread.hour == pytest.approx(0.30, rel=0.15)
    assert fit.spread.of(np.array([6_000.0])) == pytest.approx([0.10], abs=0.03)


def test_stated_errors_hold_the_truth():
    inside = 0
    for seed in range(60):
        for item, truth in zip(learn([bending(seed, jobs=40, noise=0.25)]).learned, TRUE, strict=True):
            inside += abs(item.suggest - truth) < 2 * item.error
    assert inside / 120 > 0.85  # two standard deviations of a normal hold 95 %, where the truth is not 2 off


# Hours a ton against tons made so far in a paper mill: N. Baloff, Journal of Industrial Engineering, January
# 1966, as printed with the data of a public optimisation modelling text. An average-time curve.
PAPER_TONS = [8, 60, 100, 190]
PAPER_HOURS = [0.1666, 0.1428, 0.1250, 0.1111]


def test_learning_curve_of_the_paper_mill_agrees_with_scipy():
    curve = fit_curve(PAPER_TONS, PAPER_HOURS)
    line = stats.linregress(np.log(PAPER_TONS), np.log(PAPER_HOURS))
    assert curve.slope == pytest.approx(line.slope, rel=1e-12)
    assert curve.first == pytest.approx(np.exp(line.intercept), rel=1e-12)
    assert curve.error == pytest.approx(line.stderr, rel=1e-9)
    assert curve.r_squared == pytest.approx(line.rvalue**2, rel=1e-12)
    assert 0.90 < curve.rate < 0.92  # about a 91 % curve


# Exhibit of a public operations-management text: unit hours of an 80 % curve, T1 = 10.
EIGHTY = {1: 10.0, 2: 8.0, 3: 7.021, 4: 6.4, 5: 5.9564, 10: 4.7651, 100: 2.2706, 1000: 1.0820}


def test_learning_curve_of_a_printed_table():
    curve = fit_curve(list(EIGHTY), list(EIGHTY.values()))
    assert curve.rate == pytest.approx(0.80, abs=1e-4)
    assert curve.at(200) == pytest.approx(1.8165, abs=1e-3)


@pytest.mark.parametrize("numbers, times", [([1], [2]), ([1, 1], [2, 3]), ([0, 1], [2, 3]), ([1, 2], [0, 3])])
def test_learning_curve_needs_two_points_above_zero(numbers, times):
    with pytest.raises(InputError, match="learning curve"):
        fit_curve(numbers, times)


def test_one_job_far_below_the_quote_moves_a_standard_little():
    # 41 minutes logged against 200 quoted, once: said of no standard, and never a standard of nothing.
    table = WorkTable(
        "fit-up", ("weld.fit-up",), np.array([2.5]), np.array([[80.0]]), np.array([41.0]), ("J-0001",)
    )
    (item,) = learn([table]).learned
    assert not item.worth_it
    assert item.suggest > 0.6
    assert item.error > 0.1


@pytest.mark.parametrize("jobs", [10, 30, 100])
@pytest.mark.parametrize("change", [False, True])
def test_next_quotes_are_nearer_the_truth_than_with_nothing_learned_or_one_ratio_an_operation(jobs, change):
    """Logs with gaps, rounding, wrong operations, shared set-ups and two paces of work; twelve shops."""
    off = {"learned": 0.0, "nothing": 0.0, "ratio": 0.0}
    for seed in range(12):
        shop = troubled_shop(jobs, seed, change=change)
        for name, values in (
            ("learned", learned_values(shop)), ("nothing", shop.now), ("ratio", ratio_values(shop)),
        ):  # fmt: skip
            off[name] += mean_error_pct(shop, values) / 12
    assert off["learned"] < min(off["nothing"], off["ratio"])


def test_a_jig_that_halves_fit_up_is_noticed_and_what_was_before_does_not_hold_it_back():
    shop = troubled_shop(300, 3, change=True)
    lesson = learn(shop.tables)
    (change,) = [item for item in lesson.changes if item.operation == "fit-up"]
    assert 120 <= int(change.job.removeprefix("J-")) <= 180  # it came with job 150
    assert 0.4 < change.times < 0.65
    assert told_over_true(shop, "fit-up") == pytest.approx(1, rel=0.10)


def test_no_change_is_told_where_none_came():
    told = [change for seed in range(8) for change in learn(troubled_shop(100, seed).tables).changes]
    assert len(told) <= 3  # of 64 operations


def test_ranges_hold_eight_of_ten_jobs_where_logs_are_rounded_and_have_gaps():
    """Judged on what the work takes: what a log adds by quarters of an hour and gaps is not the work's."""
    held = []
    for seed in range(31, 35):
        shop = troubled_shop(60, seed)
        cost, deviation = told_costs(shop)
        held += list(np.abs(real_costs(shop, seed) - cost) <= 1.2816 * deviation)
    assert 0.72 < np.mean(held) < 0.88


def test_ranges_hold_eight_of_ten_jobs_after_ten_jobs():
    """So few jobs are fitted closely: their own errors look smaller than those of the next ones will be."""
    held = []
    for seed in range(930_000, 930_024):
        shop = troubled_shop(10, seed, troubled=False, change=True, ahead=60)
        cost, deviation = told_costs(shop)
        held += list(np.abs(real_costs(shop, seed, troubled=False) - cost) <= 1.2816 * deviation)
    assert 0.775 <= np.mean(held) <= 0.85  # 0.76 with the spread of the fitted errors as it is


def test_a_rounded_entry_stands_for_all_that_round_to_it():
    whole, none = np.array([15.0, 15.0, 60.0]), np.zeros(3)
    spread, expected = Spread(0.3), np.array([14.0, 30.0, 60.0])
    error, hidden = unrounded(whole, np.full(3, 15.0), expected, spread)
    plain, nothing = unrounded(whole, none, expected, spread)
    assert np.allclose(plain, np.log(whole / expected)) and not np.any(nothing)
    # Up to 22.5 what is expected is as good a guess as any; beyond it the near end.
    assert abs(error[0]) < 0.05 and np.log(15 / 30) < error[1] < np.log(22.5 / 30)
    assert hidden[2] < hidden[0] < 0.3**2


def test_the_mean_of_a_rounded_entry_is_that_of_scipys_truncated_normal():
    minutes, expected, spread = np.array([15.0, 30.0, 45.0]), np.array([17.0, 24.0, 44.0]), Spread(0.3)
    error, hidden = unrounded(minutes, np.full(3, 15.0), expected, spread)
    # One step has no lower end but nothing at all.
    low, high = (np.log(ends / expected) / 0.3 for ends in (np.array([1e-9, 22.5, 37.5]), minutes + 7.5))
    between = stats.truncnorm(low, high)
    assert error == pytest.approx(0.3 * between.mean(), rel=1e-4)
    assert hidden == pytest.approx(0.09 * between.var(), rel=1e-4)


def test_one_step_of_rounding_stands_for_less_too():
    """Nobody writes down nothing: a packing of 4 minutes is a quarter of an hour on such a log."""
    short, step, spread = np.array([15.0]), np.array([15.0]), Spread(0.3)
    error, hidden = unrounded(short, step, np.array([4.0]), spread)
    assert abs(error[0]) < 0.01 and hidden[0] == pytest.approx(0.3**2, rel=0.05)
    (long,), _ = unrounded(np.array([30.0]), step, np.array([4.0]), spread)
    assert long > np.log(15 / 4)


def test_two_quarters_of_an_hour_tell_that_a_job_was_rounded_two_fives_do_not():
    def steps(*minutes):
        tables = [
            WorkTable(f"w{place}", ("s",), np.ones(1), np.ones((1, 1)), np.array([entry]), ("J-1",))
            for place, entry in enumerate(minutes)
        ]
        return [float(rows[0]) for rows in rounding_steps(tables)]

    assert steps(15.0, 45.0) == [15.0, 15.0]
    assert steps(10.0, 45.0) == steps(15.0) * 2 == [0.0, 0.0]
    assert steps(10.0, 45.0, 20.0) == [5.0, 5.0, 5.0]


def test_small_operations_are_not_learned_dear_from_quarters_of_an_hour():
    """Packing is a few minutes on most jobs, and at least a quarter of an hour on a log of such quarters."""
    shops = (troubled_shop(100, seed, ahead=60) for seed in range(600, 612))
    assert abs(np.mean([told_over_true(shop, "packing") - 1 for shop in shops])) < 0.06


@pytest.mark.parametrize(
    ("jobs", "seeds", "troubled"),
    [
        (100, range(70_000, 70_020), True),
        # Five since a jig that nobody told of: 13 points too high while three a side had to show it.
        (10, range(41_000, 41_060), False),
    ],
)
@pytest.mark.parametrize("change", [False, True])
def test_the_told_chance_of_loss_is_within_three_points_of_the_truth_in_ten_bins(
    jobs, seeds, troubled, change
):
    """Over all shops together, on what the work really takes, with and without all troubles of a log."""
    _within_three_points(judged(jobs, seeds, troubled=troubled, change=change))


def test_told_chances_hold_after_ten_jobs_where_the_owner_tells_of_a_jig():
    """Five of them since it: shops that do not tell are 5 points too high with all troubles of a log."""
    cell = judged(10, range(41_000, 41_100), troubled=True, change=True, say=True)
    _within_three_points(cell)
    other = judged(10, range(41_000, 41_100), troubled=True, change=True)
    assert np.mean(cell.lost - cell.told) > np.mean(other.lost - other.told) + 0.01


def _within_three_points(cell):
    """Ranges that hold, and ten bins, besides what so few shops leave unsure."""
    assert 0.75 <= np.mean(cell.held) <= 0.85
    _, off, sums = bins(cell.told, cell.lost)
    assert np.max(np.abs(off) - np.std(resampled(sums), axis=0)) <= 3


def test_what_was_learned_and_taken_does_not_count_as_known_before():
    table = bending(7, jobs=30)
    first = learn([table]).values()
    taken = replace(table, now=np.array(list(first.values())), believed=table.now)
    assert learn([taken]).values() == pytest.approx(first)
    assert not any(item.worth_it for item in learn([taken]).learned)
