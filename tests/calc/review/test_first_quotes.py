"""The 8-in-10 range of a shop's first quotes, by the starting figures alone, against drawn shops."""

import numpy as np

from shopquote.calc.pricing.estimate import BY_HAND_SPREAD
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.starting_rows import COMMON_SPREAD
from tests.troubled_shop import HOUR, JOB, ON_LABOUR, PEOPLE, WORK, troubled_shop

AHEAD = 40


def test_the_range_holds_eight_of_ten_jobs_before_anything_is_known():
    """As a quote states it: standards, rates and what all hours share spread on their own."""
    book = starting_book()
    common = float(book.value(COMMON_SPREAD)) / 100
    held = []
    for seed in range(500, 550):
        shop = troubled_shop(1, seed, ahead=AHEAD)
        draw = np.random.default_rng(seed)
        quotes, job = shop.next, draw.normal(0, JOB, AHEAD)
        expected, true = quotes.costs(shop.now), quotes.others.copy()
        variance, labour = np.zeros(AHEAD), np.zeros(AHEAD)
        for name, counts in quotes.counts.items():
            spreads = [
                float(book[word].spread_pct if word else BY_HAND_SPREAD) / 100
                for word in shop.standards[name]
            ]
            driven = counts * shop.now[name] * quotes.rates[name] * ON_LABOUR
            variance += np.sum((driven * spreads) ** 2, axis=1)
            variance += (np.sum(driven, axis=1) * float(book[f"rate.{name}"].spread_pct) / 100) ** 2
            labour += np.sum(driven, axis=1)
            # Done by one of two people, as slow and as fast as those who log.
            pace = draw.choice([each / np.mean([pace for pace, _ in PEOPLE]) for each, _ in PEOPLE], AHEAD)
            spread = np.hypot(WORK, HOUR * np.sqrt(60 / np.maximum(quotes.minutes[name], 1)))
            luck = np.exp(job + draw.normal(0, 1, AHEAD) * spread - (spread**2 + JOB**2) / 2)
            true += quotes.minutes[name] * pace * luck * quotes.rates[name] * ON_LABOUR
        deviation = np.sqrt(variance + (labour * common) ** 2)
        held.append(np.mean(np.abs(true - expected) <= 1.2816 * deviation))
    assert 0.75 <= np.mean(held) <= 0.85
