"""Pictures of figures as a person reads them."""

import re
from decimal import Decimal
from itertools import pairwise

import pytest

from shopquote.page.pictures import LETTER_WIDE, price_curve


@pytest.mark.parametrize("chosen", [1, 7, 15, 50])
def test_labels_of_a_price_curve_stand_clear_and_the_chosen_one_is_there(chosen: int) -> None:
    quantities = [1, 2, 3, 5, 7, 10, 12, 15, 20, 30, 40, 50]
    picture = str(price_curve([(n, Decimal(5000 - n)) for n in quantities], chosen))
    for kind in ("price num", "soft"):
        row = rf'class="{kind}" text-anchor="middle" x="([\d.]+)" y="[\d.]+">([^<]*)<'
        labels = sorted((float(x), words) for x, words in re.findall(row, picture) if words)
        assert len(labels) > 3
        for (x, words), (following, other) in pairwise(labels):
            assert following - x >= LETTER_WIDE * (len(words) + len(other)) / 2
        named = f"{5000 - chosen:,}" if kind == "price num" else str(chosen)
        assert named in [words for _, words in labels]
    assert picture.count("<circle") == len(quantities)
