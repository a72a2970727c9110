import numpy as np
import pytest

from shopquote.calc.review.shrinkage import empirical_bayes

# B. Efron and C. Morris, "Stein's Paradox in Statistics", Scientific American 236 (1977) 119-127: batting
# averages of 18 players after 45 times at bat and over the rest of the season (table as reproduced in a
# public question on how its factor is found); printed there: grand average .265, factor c = .212.
FIRST_45 = [
    0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244,
    0.244, 0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156,
]  # fmt: skip
SEASON = [
    0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269,
    0.230, 0.264, 0.256, 0.303, 0.264, 0.226, 0.285, 0.316, 0.200,
]  # fmt: skip


def baseball():
    y = np.array(FIRST_45)
    mean = y.mean()
    return empirical_bayes(y, np.full(18, mean * (1 - mean) / 45))


def test_published_factor_and_centre_of_the_baseball_example():
    shrunk = baseball()
    assert round(shrunk.centre, 3) == 0.265
    assert np.round(1 - shrunk.factors, 3).tolist() == [0.212] * 18


def test_published_estimates_of_the_baseball_example():
    # Printed estimates are .212 y + .788 x .265, as a public worked program of this example has them.
    expected = [0.212 * y + 0.788 * 0.265 for y in FIRST_45]
    assert baseball().means == pytest.approx(expected, abs=6e-4)


def test_shrunk_estimates_beat_the_raw_ones_on_the_rest_of_the_season():
    truth = np.array(SEASON)
    raw = np.sum((np.array(FIRST_45) - truth) ** 2)
    shrunk = np.sum((baseball().means - truth) ** 2)
    assert raw / shrunk > 3  # the article: about 3.5 times better


def test_too_few_estimates_use_the_stated_spread():
    # Normal prior and normal observation of equal variance meet half way; variance halves: an identity.
    shrunk = empirical_bayes(np.array([0.4]), np.array([0.09]), centre=0.0, fallback_variance=0.09)
    assert shrunk.means == pytest.approx([0.2])
    assert shrunk.sds**2 == pytest.approx([0.045])


def test_sure_estimates_move_little_and_unsure_ones_much():
    y = np.array([0.5, 0.5, -0.4, 0.3, -0.5])
    shrunk = empirical_bayes(y, np.array([1e-6, 4.0, 1e-6, 1e-6, 1e-6]), centre=0.0)
    assert shrunk.means[0] == pytest.approx(0.5, abs=1e-3)
    assert shrunk.means[1] < 0.1


def test_simulated_truths_lie_inside_the_stated_error():
    random = np.random.default_rng(7)
    inside = total = 0
    for _ in range(300):
        truth = random.normal(0, 0.3, 12)
        variances = random.uniform(0.01, 0.2, 12)
        shrunk = empirical_bayes(random.normal(truth, np.sqrt(variances)), variances, centre=0.0)
        inside += int(np.sum(np.abs(truth - shrunk.means) < 1.2816 * shrunk.sds))
        total += 12
    assert 0.78 < inside / total < 0.84  # 80 % of a normal lies within 1.2816 standard deviations


def test_variances_must_be_above_zero():
    with pytest.raises(ValueError, match="above zero"):
        empirical_bayes(np.array([1.0]), np.array([0.0]))
