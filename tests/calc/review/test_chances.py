"""Chances of winning against a known truth and scipy's optimum; silence where quotes tell nothing."""

import numpy as np
import pytest
from scipy.optimize import minimize

from shopquote.calc.review.chances import Decided, fit_chances


def drawn(count, seed, slope=-0.8):
    """Quotes whose true chance is 60 in 100 at 30 %, less by `slope` (logit) for ten points more."""
    draw = np.random.default_rng(seed)
    effects = dict(zip("abcdef", draw.normal(0, 0.5, 6), strict=True))
    rows = []
    for _ in range(count):
        margin, cost = draw.normal(31, 7), draw.lognormal(6, 0.8)
        customer, kind = draw.choice(list("abcdef")), draw.choice(["bent", "welded"])
        logit = 0.4 + slope * (margin - 30) / 10 + effects[customer]
        won = draw.random() < 1 / (1 + np.exp(-logit))
        rows.append(Decided(float(margin), float(cost), str(customer), str(kind), bool(won)))
    return rows, effects


def test_stated_ranges_hold_the_true_chance_in_eight_of_ten_cases():
    held = told = 0
    for seed in range(60):
        rows, effects = drawn(150, seed)
        chances = fit_chances(rows)
        if chances is None:
            continue
        for margin in (25, 32, 38):
            for customer in "abc":
                told += 1
                true = 1 / (1 + np.exp(-(0.4 - 0.08 * (margin - 30) + effects[customer])))
                found = chances.at(margin, 400, customer, "bent")
                held += found.low <= true <= found.high
    assert told > 300
    assert 0.75 <= held / told <= 0.88


def test_the_most_probable_is_what_a_general_optimiser_finds():
    rows, _ = drawn(200, 3)
    found = fit_chances(rows)
    table = np.array([found._row(row.margin_pct, row.cost, row.customer, row.kind) for row in rows])
    won = np.array([row.won for row in rows])
    width = np.array([2.5, 1.0, 0.3, *[0.7] * len(found.customers), *[0.5] * len(found.kinds)])

    def unlikely(estimate):
        logit = table @ estimate
        return np.sum(np.logaddexp(0, logit) - won * logit) + 0.5 * np.sum((estimate / width) ** 2)

    peer = minimize(unlikely, np.zeros(len(width)), method="BFGS", options={"gtol": 1e-8})
    assert found.estimate == pytest.approx(peer.x, abs=1e-4)


def test_most_is_expected_where_chance_times_margin_is_largest():
    rows, _ = drawn(600, 5, slope=-1.2)
    found = fit_chances(rows)
    best = found.best(500)
    margins = np.arange(np.ceil(found.least_pct), found.most_pct)
    expected = [found.at(margin, 500).expected for margin in margins]
    assert margins[int(np.argmax(expected))] == best.margin_pct
    assert best.low_pct <= best.margin_pct <= best.high_pct
    assert found.best(500) == best


def test_nothing_is_said_where_quotes_tell_nothing():
    rows, _ = drawn(150, 1)
    assert fit_chances(rows[:39]) is None
    assert fit_chances([row for row in rows if row.won]) is None
    alike = [Decided(30 + 0.01 * place, row.cost, row.customer, row.kind, row.won)
             for place, row in enumerate(rows)]  # fmt: skip
    assert fit_chances(alike) is None
    assert fit_chances(drawn(80, 2, slope=0.8)[0]) is None  # dear quotes won more often: no price to tell
