"""Proofs made to deceive: of pieces that go two to a bar, each claims that more bars are needed."""

from decimal import Decimal

import pytest

from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.units import Length
from tests.referees.proof_checker import Wrong, bound_shown_by

mm = Length.from_mm
ONE = 1 << 34  # a whole share of a row in a cut


def claim(bars, tree_of, pieces=20):
    """A proof that so many bars are needed, by a tree made from the cost of a bar in fine units.

    Its rows are the pieces, the bars of the kind, of the stock, and all bars: at most as many as pieces.
    """
    made = plan_cuts(
        [Piece("A", mm(900), pieces)], [StockBar(mm(2000), Decimal(10))], [], SawSettings(mm(0))
    ).proof
    (model,) = made["models"]
    assert len(model["kinds"]) == 1
    cost = 10_000_000 // model["cost_unit"] * model["fine"]
    plan = [{"bar": 0, "count": pieces, "pieces": [[0, 1]]}]
    content = made | {"plan": plan, "cost": pieces * 10_000_000, "bound": bars * 10_000_000}
    return sealed(content | {"models": [model | {"tree": tree_of(cost)}]})


def refused(made):
    assert faults_of_proof(made) != []
    with pytest.raises((Wrong, ValueError)):
        bound_shown_by(made)


def test_a_gap_of_more_than_64_bits_narrows_no_count():
    # At a price of -2^59 a bar the gap is 20 * 2^59: a pattern may still be cut 20 times, not 2^61 / 2^59.
    refused(
        claim(
            20,
            lambda cost: {
                "list": [[0, 0, 0, 0]],
                "rounds": [{"prices": [0, -(1 << 59), 0, 0]}],
                "prices": [10 * cost, 0, 0, 0],
            },
        )
    )


def test_a_share_above_one_rounds_as_the_rule_says():
    # 2.5 * (all bars) + pieces / 40 is at most 50.5: what is missing of 20 bars counts twice, not 4 times.
    def tree(cost):
        cut = {"shares": [ONE // 40 + 1, 0, 0, ONE * 5 // 2], "bounds": []}
        return {
            "list": [[0, 0, 0, 0]],
            "cuts": [cut],
            "prices": [0, 0, 0, 0, -int(cost / (1.96 * (1 << 14)))],
        }

    refused(claim(16, tree))


def test_two_bounds_of_one_count_are_both_put_back():
    # 1.25 x <= 12.5 twice and pieces / 40: what is missing of 10 bars with two pieces counts once for each.
    def tree(cost):
        cut = {"shares": [ONE // 40 + 1, 0, 0, 0], "bounds": [[ONE * 5 // 4, 10, 0, 2]] * 2}
        return {"list": [[0] * 4], "cuts": [cut], "prices": [cost, 0, 0, 0, -int(cost / (1.09 * (1 << 14)))]}

    refused(claim(15, tree))


def test_purchases_are_struck_only_above_a_list():
    # Bars that are not listed are not known to be in a row of pairs: its price would add to the bound alone.
    def tree(cost):
        box = {"stocks": [[0, 20]], "tree": {"prices": [0, 0, 0, 0, 20 * cost]}}
        return {
            "list": [[0, 0, 0, 0]],
            "prices": [0, 0, 0, 0],
            "pair": [0, 0],
            "below": 0,
            "less": {"prices": [cost, 0, 0, 0, -cost]},
            "more": {"purchases": [[0]], "boxes": [box]},
        }

    refused(claim(20, tree))


def test_no_pair_must_be_cut_where_so_many_bars_must():
    # Of 19 pieces in 10 bars or more, no 10 bars hold two.
    def tree(cost):
        more = {"pair": [0, 0], "below": 9, "prices": [0, 0, 0, 0]}
        ends = {"less": {"prices": [0, 0, 0, 0, 0]}, "more": {"prices": [-4 * cost, 0, 0, 0, 9 * cost]}}
        nine = {"prices": [2 * cost, 0, 0, -3 * cost]}
        return {"list": [[0] * 4], "prices": [0] * 4, "row": 3, "below": 9, "less": nine, "more": more | ends}

    refused(claim(11, tree, pieces=19))


@pytest.mark.parametrize(
    "wreck",
    [
        lambda made: made["models"][0].update(cost_unit=-made["models"][0]["cost_unit"]),
        lambda made: made["models"][0]["tree"].update(prices=[1e300, 0, 0, -1e300]),
        lambda made: made["pieces"][0].update(mitres=[100.0, 0.0]),
        lambda made: made["pieces"][0].update(count=1 << 61),
    ],
)
def test_numbers_out_of_range_are_refused(wreck):
    made = claim(20, lambda cost: {"prices": [cost, 0, 0, 0]})
    wreck(made)
    refused(sealed(made))


def test_shares_that_pass_64_bits_are_refused():
    # Both shares together wrap to a small one.
    bounds = [[1 << 62, 20, 0, 2]] * 4
    cut = {"shares": [ONE // 3, 0, 0, 0], "bounds": bounds}
    made = claim(20, lambda cost: {"list": [[0] * 4], "cuts": [cut], "prices": [0] * 5})
    assert faults_of_proof(made) == ["shares are too large"]
