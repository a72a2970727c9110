"""Probability of winning a quote by margin, size, customer and kind of work; and the margin that earns most.

A Bayesian logistic regression over won and lost quotes. Normal priors keep the coefficients near 0, so that a
customer with two quotes hardly counts. The estimate is the posterior mode, its uncertainty by Laplace's
approximation. Begin at `fit_chances`.

Sources: A. Gelman, A. Jakulin, M. G. Pittau and Y.-S. Su, "A Weakly Informative Default Prior
Distribution for Logistic and Other Regression Models", Annals of Applied Statistics 2 (2008)
1360-1383 (there Cauchy, here normal); Laplace's approximation as in A. Gelman and others, Bayesian
Data Analysis (3rd ed. 2013), chapter 4, whose public demo works it for a logistic model
(avehtari/BDA_R_demos, README.md, demo4_1); a test holds the optimum against scipy. The widths of the priors
are common practice, no source.
"""

from collections.abc import Sequence

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.fit import Floats

# Prior standard deviations on the logit scale: intercept, ten points of margin, a doubling of cost, a
# customer, a kind of work.
_LEVEL, _MARGIN, _SIZE, _CUSTOMER, _KIND = 2.5, 1.0, 0.3, 0.7, 0.5
# Least quotes decided, least won and lost, least spread of margins in points: below these the data say
# nothing about another margin.
LEAST_DECIDED, LEAST_OF_EACH, LEAST_APART = 40, 8, 2.0
_EIGHT_IN_TEN = 1.2816
_DRAWS, _ROUNDS = 400, 30


@dataclass(frozen=True, slots=True)
class Decided:
    """One quote that was won or lost.

    Margin in per cent of the price, cost in money, customer, kind of work.
    """

    margin_pct: float
    cost: float
    customer: str
    kind: str
    won: bool


@dataclass(frozen=True, slots=True)
class Chance:
    """Probability of winning at a margin, 0 to 1, with its 80 % interval.

    `expected` is the probability times the margin in money.
    """

    margin_pct: float
    chance: float
    low: float
    high: float
    expected: float


@dataclass(frozen=True, slots=True)
class Best:
    """The margin with the greatest expected earning, in per cent of the price, with its 80 % interval."""

    margin_pct: float
    low_pct: float
    high_pct: float


@dataclass(frozen=True, slots=True)
class Chances:
    """The fitted model. It answers for margins from `least_pct` to `most_pct`, the range that was quoted.

    `estimate` (k,) and `covariance` (k, k) are of the coefficients; `margin_pct` and `cost` are the usual
    ones, about which the model is centred; `decided` counts the quotes.
    """

    estimate: Floats
    covariance: Floats
    customers: tuple[str, ...]
    kinds: tuple[str, ...]
    margin_pct: float
    cost: float
    least_pct: float
    most_pct: float
    decided: int

    def at(self, margin_pct: float, cost: float, customer: str = "", kind: str = "") -> Chance:
        """The chance of a quote with this cost in money.

        An unknown customer or kind counts as an average one.
        """
        row = self._row(margin_pct, cost, customer, kind)
        middle, reach = (
            float(row @ self.estimate),
            _EIGHT_IN_TEN * float(np.sqrt(row @ self.covariance @ row)),
        )
        chance, low, high = (float(_logistic(np.array(x))) for x in (middle, middle - reach, middle + reach))
        return Chance(margin_pct, chance, low, high, chance * _margin_in_money(margin_pct, cost))

    def best(self, cost: float, customer: str = "", kind: str = "") -> Best:
        """The margin where probability times margin in money is greatest, within the range quoted."""
        margins = np.arange(np.ceil(self.least_pct), np.floor(self.most_pct) + 1)
        rows = np.array([self._row(margin, cost, customer, kind) for margin in margins])
        money = np.array([_margin_in_money(margin, cost) for margin in margins])
        # A fixed seed, so that the same quotes give the same answer.
        normal = np.random.default_rng(1).standard_normal((_DRAWS, len(self.estimate)))
        draws = self.estimate + normal @ np.linalg.cholesky(self.covariance).T
        found = margins[np.argmax(_logistic(draws @ rows.T) * money, axis=1)]
        best = margins[int(np.argmax(_logistic(rows @ self.estimate) * money))]
        low, high = np.quantile(found, (0.1, 0.9), method="inverted_cdf")
        return Best(float(best), float(min(low, best)), float(max(high, best)))

    def _row(self, margin_pct: float, cost: float, customer: str, kind: str) -> Floats:
        return np.array(
            [
                1.0,
                (margin_pct - self.margin_pct) / 10,
                np.log2(max(cost, 1e-9) / self.cost),
                *(float(name == customer) for name in self.customers),
                *(float(name == kind) for name in self.kinds),
            ]
        )


def fit_chances(quotes: Sequence[Decided]) -> Chances | None:
    """Fit won and lost quotes; None where they are too few, too similar, or show no effect of the margin."""
    rows = [row for row in quotes if row.cost > 0 and row.margin_pct < 100]
    won = np.array([float(row.won) for row in rows])
    asked = np.array([row.margin_pct for row in rows])
    if len(rows) < LEAST_DECIDED or min(np.sum(won), np.sum(1 - won)) < LEAST_OF_EACH:
        return None
    if float(np.std(asked)) < LEAST_APART:
        return None
    customers = tuple(sorted({row.customer for row in rows}))
    kinds = tuple(sorted({row.kind for row in rows}))
    least, most = (float(end) for end in np.quantile(asked, (0.05, 0.95)))
    blank = Chances(
        np.zeros(0), np.zeros(0), customers, kinds, float(np.mean(asked)),
        float(np.median([row.cost for row in rows])), least, most, len(rows),
    )  # fmt: skip
    table = np.array([blank._row(row.margin_pct, row.cost, row.customer, row.kind) for row in rows])
    widths = [_LEVEL, _MARGIN, _SIZE, *[_CUSTOMER] * len(customers), *[_KIND] * len(kinds)]
    estimate, covariance = _most_probable(table, won, 1 / np.square(widths))
    if estimate[1] + _EIGHT_IN_TEN * np.sqrt(covariance[1, 1]) >= 0:
        return None
    return Chances(
        estimate, covariance, customers, kinds, blank.margin_pct, blank.cost, least, most, len(rows)
    )


def _most_probable(table: Floats, won: Floats, belief: Floats) -> tuple[Floats, Floats]:
    """The posterior mode of the coefficients by Newton's method, and their covariance.

    `table` (n, k) has a row for each quote, `won` (n,) is 0 or 1, `belief` (k,) the prior precisions.
    """
    estimate: Floats = np.zeros(table.shape[1])
    for _ in range(_ROUNDS):
        chance = _logistic(table @ estimate)
        information = (table.T * (chance * (1 - chance))) @ table + np.diag(belief)
        step = np.linalg.solve(information, table.T @ (won - chance) - belief * estimate)
        estimate = estimate + step
        if float(np.max(np.abs(step))) < 1e-9:
            break
    return estimate, np.asarray(np.linalg.inv(information), dtype=float)


def _logistic(value: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-value)))


def _margin_in_money(margin_pct: float, cost: float) -> float:
    return cost * margin_pct / (100 - margin_pct)
