"""What the next job takes where an operation may have changed its pace, against scipy and drawn rows."""

import numpy as np
import pytest
from scipy import stats

from shopquote.calc.review import breaks
from shopquote.calc.review.breaks import (
    CHANGED_OFTEN,
    LEAST_BEFORE,
    LEAST_SINCE,
    STEP,
    STEP_SPREAD,
    PaceLog,
    pace_now,
)
from tests.troubled_shop import told_over_true, troubled_shop

MEAN, COVARIANCE = np.array([0.05]), np.array([[0.09]])


def row_of(errors, minutes=120.0):
    """Jobs of one standard and one size: the error is the log change itself."""
    count = len(errors)
    spreads = np.full(count, np.sqrt(0.16**2 + 0.15**2 * 60 / minutes))
    return PaceLog(np.asarray(errors), np.ones((count, 1)), spreads, np.ones(count), np.full(count, minutes))


def drawn(seed, before, since, step):
    random = np.random.default_rng(seed)
    level = random.normal(0.05, 0.3)
    return level, random.normal(level, 0.2, before + since) + np.repeat([0.0, step], [before, since])


def test_places_of_a_change_are_as_likely_as_scipys_normal_tells(monkeypatch):
    """With normal errors Laplace's approximation is exact: all levels integrated out is one normal each."""
    monkeypatch.setattr(breaks, "T_DEGREES", 1e12)
    _, errors = drawn(4, 4, 4, -0.3)
    row = row_of(errors)
    pace = pace_now("fit-up", row, MEAN, COVARIANCE)
    places = range(LEAST_BEFORE, 8 - LEAST_SINCE + 1)
    ways, odds = [np.zeros(8)], [1 - CHANGED_OFTEN["fit-up"]]
    for place in places:
        ways.append((np.arange(8) >= place).astype(float))
        odds.append(CHANGED_OFTEN["fit-up"] / len(places))
    likely = np.array([
        odd * stats.multivariate_normal.pdf(
            errors, MEAN + STEP * way,
            np.diag(row.spreads**2) + COVARIANCE + STEP_SPREAD**2 * np.outer(way, way),
        )
        for odd, way in zip(odds, ways, strict=True)
    ])  # fmt: skip
    likely /= np.sum(likely)
    assert pace.after == pytest.approx(likely @ np.array(ways), rel=1e-6, abs=1e-12)
    assert pace.before + pace.after == pytest.approx(np.full(8, 1 - likely[0]), rel=1e-6)
    # The level of the next job, by conditioning each way's joint normal of the level and the errors.
    means, squares = [], []
    for place, way in enumerate(ways):
        every = np.diag(row.spreads**2) + COVARIANCE + STEP_SPREAD**2 * np.outer(way, way)
        moved = float(place > 0)
        with_level = COVARIANCE[0, 0] + moved * STEP_SPREAD**2 * way
        gain = with_level @ np.linalg.inv(every)
        mean = MEAN[0] + moved * STEP + gain @ (errors - MEAN - STEP * way)
        means.append(mean)
        squares.append(COVARIANCE[0, 0] + moved * STEP_SPREAD**2 - gain @ with_level + mean**2)
    assert pace.change[0] == pytest.approx(likely @ means, rel=1e-6)
    assert pace.covariance[0, 0] == pytest.approx(likely @ squares - (likely @ means) ** 2, rel=1e-6)


def test_ten_jobs_show_a_jig_and_rows_without_one_stay_where_they_are():
    with_jig = [
        (pace_now("fit-up", row_of(errors), MEAN, COVARIANCE).change[0] - level)
        for level, errors in (drawn(seed, 5, 5, np.log(0.5)) for seed in range(40))
    ]
    without = [
        (pace_now("fit-up", row_of(errors), MEAN, COVARIANCE).change[0] - level)
        for level, errors in (drawn(seed, 5, 5, 0.0) for seed in range(40))
    ]
    assert np.mean(with_jig) == pytest.approx(np.log(0.5), abs=0.1)
    assert np.mean(without) == pytest.approx(0, abs=0.06)


def test_what_is_told_is_as_wide_as_the_places_differ():
    """Two jobs since a possible jig: the level lies between the paces, as unsure as they lie apart."""
    errors = [0.0, 0.05, -0.05, 0.02, -0.35, -0.45]
    pace = pace_now("fit-up", row_of(errors), MEAN, COVARIANCE)
    sure = pace_now("fit-up", row_of([0.0, 0.05, -0.05, 0.02, 0.0, -0.02]), MEAN, COVARIANCE)
    assert -0.45 < pace.change[0] < -0.1
    assert pace.covariance[0, 0] > 2 * sure.covariance[0, 0]


def test_the_later_of_two_changes_counts():
    random = np.random.default_rng(2)
    errors = random.normal(0, 0.15, 60) + np.repeat([0.0, -0.7, -1.3], 20)
    pace = pace_now("bending", row_of(errors), MEAN, COVARIANCE)
    assert pace.change[0] == pytest.approx(-1.3, abs=0.12)
    assert np.all(pace.before[:38] > 0.9) and np.all(pace.before[42:] < 0.1)


def test_a_place_that_the_owner_tells_is_the_only_one():
    """One normal, conditioned: the level before and the step, by the rows on each side."""
    errors = np.array([0.0, 0.1, -0.1, -0.5])
    row = row_of(errors)
    pace = pace_now("fit-up", row, MEAN, COVARIANCE, 3)
    assert pace.before.tolist() == [1, 1, 1, 0] and pace.after.tolist() == [0, 0, 0, 1]
    found = pace_now("fit-up", row, MEAN, COVARIANCE)
    # Two jobs a side would be needed to find it.
    assert pace.change[0] < found.change[0] - 0.2


def test_a_change_that_no_job_shows_yet_is_believed_as_changes_are():
    pace = pace_now("fit-up", row_of([0.0, 0.1, -0.1]), MEAN, COVARIANCE, 3)
    level = pace_now("saw", row_of([0.0, 0.1, -0.1]), MEAN, COVARIANCE).change[0]
    assert pace.change[0] == pytest.approx(level + STEP, abs=0.03)
    assert pace.covariance[0, 0] > STEP_SPREAD**2


def test_a_later_change_than_the_one_told_is_found():
    random = np.random.default_rng(2)
    errors = random.normal(0, 0.15, 60) + np.repeat([0.0, -0.7, -1.3], 20)
    pace = pace_now("bending", row_of(errors), MEAN, COVARIANCE, 20)
    assert pace.change[0] == pytest.approx(-1.3, abs=0.12)
    assert np.all(pace.before[:38] > 0.9) and np.all(pace.before[42:] < 0.1)


def test_an_operation_of_one_job_has_no_change():
    pace = pace_now("fit-up", row_of([-1.0]), MEAN, COVARIANCE)
    assert not np.any(pace.before) and pace.change[0] < MEAN[0]


def test_fit_up_is_learned_from_the_five_jobs_since_a_jig():
    """By the mean over shops: 0.36 too slow while three jobs on each side had to show a jig."""
    shops = (troubled_shop(10, seed, troubled=False, change=True, ahead=60) for seed in range(41_100, 41_130))
    assert abs(np.mean([np.log(told_over_true(shop, "fit-up")) for shop in shops])) < 0.2
