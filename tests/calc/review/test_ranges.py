from dataclasses import replace

import numpy as np
import pytest

from shopquote.calc.review.fit import WorkTable
from shopquote.calc.review.ranges import back_test, calibrate


def test_range_holds_its_level_whatever_the_shape():
    random = np.random.default_rng(3)
    inside = 0
    for _ in range(400):
        scores = random.gamma(2.0, 1.0, 150) - 2
        known = calibrate(scores[:-1])
        inside += known.low <= scores[-1] <= known.high
    assert 0.75 <= inside / 400 <= 0.85


def test_few_jobs_give_a_wide_range():
    known = calibrate(np.array([-1.0, 0.0, 1.0]))
    assert (known.low, known.high) == (-1.5, 1.5)


def test_calibrate_needs_jobs():
    with pytest.raises(ValueError, match="past jobs"):
        calibrate(np.zeros(0))


NAMES = tuple(f"J-{number:04}" for number in range(300))


def shop(seed, jobs=300):
    random = np.random.default_rng(seed)
    tables = []
    for operation, noise, true, now in [
        ("sawing", 0.2, [12, 1.5], [6, 1.8]),
        ("bending", 0.3, [40, 0.8], [20, 1.0]),
    ]:
        counts = np.column_stack([np.ones(jobs), np.round(np.exp(random.normal(3.5, 1.0, jobs))) + 1])
        minutes = counts @ np.array(true) * random.lognormal(-(noise**2) / 2, noise, jobs)
        tables.append(
            WorkTable(
                operation,
                (f"{operation}.a", f"{operation}.b"),
                np.array(now, float),
                counts,
                minutes,
                NAMES[:jobs],
            )
        )
    return tables


def test_back_test_covers_as_stated_and_learning_quotes_better():
    results = [back_test(shop(seed), NAMES, step=60) for seed in (1, 2, 3)]
    covered = sum(result.inside for result in results) / sum(result.jobs for result in results)
    assert 0.75 <= covered <= 0.85
    for result in results:
        assert result.error_learned_pct < result.error_now_pct


def test_back_test_of_few_jobs_counts_none():
    assert back_test(shop(1, jobs=30), NAMES[:30]).jobs == 0


def test_the_last_jobs_are_judged_whichever_operations_they_have():
    """Sawing went wrong on the last ten, of which half were bent: a walk by tables would not end at them."""
    sawing, bending = shop(1, jobs=80)
    late = np.where(np.arange(80) >= 70, 3.0, 1.0)
    sawing = replace(sawing, minutes=sawing.minutes * late)
    bent = bending.rows(np.arange(80) % 2 == 0)
    tables = [bent, sawing]
    judged = back_test(tables, NAMES[:80], start=70)
    assert judged.jobs == 10 and judged.inside <= 2
    assert back_test(tables, [*NAMES[70:80], *NAMES[:70]], start=70).inside >= 5


def test_the_usual_range_lies_about_what_is_expected():
    # Two operations of 20 and 30 %, each near half of the job: about sqrt(0.1^2 + 0.15^2) = 18 % together,
    # of which 8 in 10 lie within 1.28 standard deviations, 23 %.
    result = back_test(shop(1), NAMES, step=120)
    assert 70 < result.low_pct < 90
    assert 110 < result.high_pct < 135


def test_range_of_a_new_job():
    low, high = calibrate(np.linspace(-2, 2, 401)).range(100.0, 0.2)
    assert low == pytest.approx(
        100 * np.exp(-0.32), rel=0.01
    )  # the 10th and 90th of 100 even steps: -1.6 and 1.6
    assert high == pytest.approx(100 * np.exp(0.32), rel=0.01)
