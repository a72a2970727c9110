"""Shrinkage of noisy estimates toward what was believed before: the empirical-Bayes normal model.

Each estimate y_i is normal about its own truth with a known variance V_i; the
truths are themselves normal about a centre with one common variance A, which the
estimates reveal together. Each estimate is then drawn toward the centre by the
share B_i = V_i / (V_i + A): far when it is uncertain, little when it is sure.

Because A is itself estimated, Morris takes (k - 2) / k of B. Here the same
correction is put into A, so that it is his with equal variances, and yet an
estimate that says nothing (V_i without bound) is drawn all the way.

Source: C. N. Morris, "Parametric Empirical Bayes Inference: Theory and
Applications", JASA 78 (1983) 47-55 (formulas from memory of sections 1 and 5);
with equal variances and an estimated centre it is exactly the James-Stein
estimator of B. Efron and C. Morris, "Stein's Paradox in Statistics", Scientific
American 236 (1977) 119-127, c = 1 - (k - 3) V / sum (y - mean)^2.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_ROUNDS = 200
_CLOSE = 1e-12


@dataclass(frozen=True, slots=True)
class Shrunk:
    """Posterior `means` and `sds` of the truths; `factors` are the shares B drawn to `centre`."""

    centre: float
    spread_variance: float
    factors: Floats
    means: Floats
    sds: Floats


def empirical_bayes(
    estimates: Floats, variances: Floats, *, centre: float | None = None, fallback_variance: float = 0.09
) -> Shrunk:
    """Draw estimates toward a known centre, or toward their own mean when `centre` is None.

    Args:
        estimates: y_i, shape (k,).
        variances: V_i > 0, known, shape (k,).
        centre: where the truths are believed to lie; None estimates it.
        fallback_variance: least A when there are too few estimates to reveal it
            well (k below 3 with a known centre, below 4 without one).

    Returns:
        Posterior means and standard deviations, those of A's own uncertainty included.

    Raises:
        ValueError: a variance is not above zero, or the shapes differ.
    """
    y = np.asarray(estimates, dtype=float)
    v = np.asarray(variances, dtype=float)
    if y.shape != v.shape or y.ndim != 1 or not np.all(v > 0):
        raise ValueError("estimates and variances must be vectors of one length, variances above zero")
    k = len(y)
    estimated_centres = 0 if centre is not None else 1
    free = k - estimated_centres
    if free <= 2:
        seen = _spread_and_centre(y, v, centre)[0] if free else 0.0
        return _with_known_spread(y, v, centre, max(fallback_variance, seen))
    spread, middle = _spread_and_centre(y, v, centre)
    weights = 1 / (v + spread)
    mean_variance = float(np.sum(weights * v) / np.sum(weights))
    unsure_spread = (mean_variance + spread) * free / (free - 2) - mean_variance
    factors = v / (v + unsure_spread)
    means = middle + (1 - factors) * (y - middle)
    unsure = 2 / (free - 2) * factors**2 * (mean_variance + spread) * weights
    own_centre = free / k  # the centre's own uncertainty, when it was estimated
    sds = np.sqrt(v * (1 - own_centre * factors) + unsure * (y - middle) ** 2)
    return Shrunk(middle, spread, factors, means, sds)


def _with_known_spread(y: Floats, v: Floats, centre: float | None, spread: float) -> Shrunk:
    weights = 1 / (v + spread)
    middle = centre if centre is not None else float(np.average(y, weights=weights)) if len(y) else 0.0
    factors = v * weights
    return Shrunk(middle, spread, factors, middle + (1 - factors) * (y - middle), np.sqrt(v * (1 - factors)))


def _spread_and_centre(y: Floats, v: Floats, centre: float | None) -> tuple[float, float]:
    """A and the centre, by repeating Morris's weighted moment equation until it rests."""
    k = len(y)
    free = k - (0 if centre is not None else 1)
    spread = max(0.0, float(np.var(y)) - float(np.mean(v)))
    middle = 0.0
    for _ in range(_ROUNDS):
        weights = 1 / (v + spread)
        middle = centre if centre is not None else float(np.average(y, weights=weights))
        new = float(np.sum(weights * (k / free * (y - middle) ** 2 - v)) / np.sum(weights))
        new = max(0.0, new)
        if abs(new - spread) <= _CLOSE * (1 + spread):
            return new, middle
        spread = new
    return spread, middle
