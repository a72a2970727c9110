"""Proofs made to deceive: of pieces that go two to a bar, each claims that more bars are needed."""

import random
from decimal import Decimal

import pytest

from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.given import Given
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.units import Length
from tests.referees.proof_checker import Given as StrangersGiven
from tests.referees.proof_checker import Wrong, bound_shown_by

mm = Length.from_mm
ONE = 1 << 34  # a whole share of a row in a cut
REFUSED = (Wrong, LookupError, TypeError, ValueError, ArithmeticError)


def claim(bars, made_of, pieces=20):
    """A proof that so many bars are needed: sets of prices and a tree, made from the cost of a bar.

    Its rows are the pieces, the bars of the kind, of the stock, and all bars: at most as many as pieces.
    """
    made = plan_cuts(
        [Piece("A", mm(900), pieces)], [StockBar(mm(2000), Decimal(10))], [], SawSettings(mm(0))
    ).proof
    (model,) = made["models"]
    assert len(model["kinds"]) == 1
    prices, tree = made_of(10_000_000 // model["cost_unit"] * model["fine"])
    plan = [{"bar": 0, "count": pieces, "pieces": [[0, 1]]}]
    content = made | {"plan": plan, "cost": pieces * 10_000_000, "bound": bars * 10_000_000}
    return sealed(content | {"models": [model | {"prices": prices, "tree": tree}]})


def refused(made):
    assert faults_of_proof(made) != []
    with pytest.raises(REFUSED):
        bound_shown_by(made)


def test_what_is_true_is_not_refused():
    # Two go to a bar: at half a bar a piece no bar is worth more than it costs, and 20 pieces take 10.
    true = claim(10, lambda cost: ([[cost // 2]], [{"steps": [0]}]))
    assert faults_of_proof(true) == []
    assert bound_shown_by(true) == 100_000_000
    refused(claim(11, lambda cost: ([[cost // 2]], [{"steps": [0]}])))


def test_prices_above_what_bars_cost_are_refused():
    refused(claim(20, lambda cost: ([[cost]], [{"steps": [0]}])))


def test_prices_that_are_not_paid_for_are_refused_where_a_list_is_made():
    # By a price of a bar for each piece the gap is far below 0, and no pattern would pass.
    refused(claim(20, lambda cost: ([[20 * cost]], [{"steps": [{"list": [0]}, 0]}])))


def test_prices_that_only_a_list_allows_are_refused_before_it():
    # Where every bar with two pieces is barred, a bar a piece is right: in `less`, and there alone.
    def made_of(cost):
        prices = [[0], [cost, 0, 0, 0, -cost], [0, 0, 0, cost]]
        less = {"steps": [{"list": [0]}, {"pair": [0, 0]}], "of": 4, "below": 0}
        return prices, [parts(3, 20), less, {"steps": [1]}, {"steps": [1]}, {"steps": [1]}]

    refused(claim(20, made_of))


def test_a_gap_of_more_than_64_bits_narrows_no_count():
    # At a price of -2^59 a bar the gap is 20 * 2^59: a pattern may still be cut 20 times, not 2^61 / 2^59.
    refused(
        claim(
            20,
            lambda cost: ([[0], [0, -(1 << 59)], [10 * cost]], [{"steps": [{"list": [0]}, 1, 2]}]),
        )
    )


def test_a_share_above_one_rounds_as_the_rule_says():
    # 2.5 * (all bars) + pieces / 40 is at most 50.5: what is missing of 20 bars counts twice, not 4 times.
    def made_of(cost):
        cut = {"shares": [ONE // 40 + 1, 0, 0, ONE * 5 // 2]}
        prices = [[0], [0, 0, 0, 0, -int(cost / (1.96 * (1 << 14)))]]
        return prices, [{"steps": [{"list": [0]}, cut, 1]}]

    refused(claim(16, made_of))


@pytest.mark.parametrize("rows", [1, 2])
def test_each_row_of_a_count_is_put_back(rows):
    # 1.25 x <= 12.5 twice and pieces / 40: what is missing of 10 bars with two pieces counts once for each.
    def made_of(cost):
        count = {"pattern": [0, 2], "ends": [0, 10]}
        steps = [*[count] * rows, {"shares": [ONE // 40 + 1, 0, 0, 0, *[ONE * 5 // (2 * rows)] * rows]}]
        prices = [[0], [cost, *[0] * (3 + rows), -int(cost / (1.09 * (1 << 14)))]]
        return prices, [{"steps": [{"list": [0]}, *steps, 1]}]

    refused(claim(15, made_of))


def test_a_row_without_a_least_is_taken_at_none():
    # A cut says nothing from below: neither a price above 0 of it, nor a share below 0.
    def by_price(cost):
        return [[0], [0, 0, 0, 0, cost]], [{"steps": [{"list": [0]}, {"shares": [ONE]}, 1]}]

    def by_share(cost):
        steps = [{"list": [0]}, {"shares": [ONE]}, {"shares": [0, 0, 0, 0, -ONE]}, 1]
        return [[0], [0, 0, 0, 0, 0, -cost]], [{"steps": steps}]

    for made_of in (by_price, by_share):
        refused(claim(11, made_of))


def test_a_count_is_not_narrower_than_it_is_said_to_be():
    # No bar with two pieces, says the row; then a bar a piece is what they cost.
    def made_of(cost):
        steps = [{"list": [0]}, {"pattern": [0, 2], "ends": [0, 0]}, 1]
        return [[0], [cost, 0, 0, 0, -cost]], [{"steps": steps}]

    refused(claim(20, made_of))


def test_nothing_is_listed_below_a_list():
    # Bars that are not listed are not known to be in a row of pairs: its price would add to the bound alone.
    def made_of(cost):
        prices = [[0], [cost, 0, 0, 0, -cost], [0, 0, 0, 0, 20 * cost]]
        root = {"steps": [{"list": [0]}, {"pair": [0, 0]}], "of": 4, "below": 0}
        return prices, [root, {"steps": [1]}, {"steps": [{"list": [2]}, 2]}]

    refused(claim(20, made_of))


@pytest.mark.parametrize("row", [{"pair": [0, 0]}, {"pattern": [0, 2], "ends": [0, 0]}, {"shares": [ONE]}])
def test_no_row_is_made_of_patterns_that_are_not_listed(row):
    # Its price would add to the bound alone.
    def made_of(cost):
        return [[0], [0, 0, 0, 0, 20 * cost]], [{"steps": [row, 1, {"list": [0]}, 1]}]

    refused(claim(20, made_of))


def test_no_pair_must_be_cut_where_so_many_bars_must():
    # Of 19 pieces in 10 bars or more, no 10 bars hold two.
    def made_of(cost):
        prices = [[0], [2 * cost, 0, 0, -3 * cost], [-4 * cost, 0, 0, 0, 9 * cost]]
        root = {"steps": [{"list": [0]}], "of": 3, "below": 9}
        more = {"steps": [{"pair": [0, 0]}], "of": 4, "below": 9}
        return prices, [root, {"steps": [1]}, more, {"steps": [0]}, {"steps": [2]}]

    refused(claim(11, made_of, pieces=19))


def parts(of, below):
    return {"steps": [], "of": of, "below": below}


SHOWN = {"steps": [0]}


@pytest.mark.parametrize(
    "tree",
    [
        [parts(3, 12), SHOWN],  # a part without a node
        [parts(3, 12), parts(3, 15), SHOWN, SHOWN],
        [parts(3, 12)],
        [SHOWN, SHOWN],  # a node of no part
        [parts(3, 12), SHOWN, SHOWN, SHOWN],
        [parts(4, 12), SHOWN, SHOWN],  # a row that is not there
        [parts(-1, 12), SHOWN, SHOWN],
        [parts([0, 2], 0), SHOWN, SHOWN],  # of a pattern, where none is listed
        [{"steps": [{"list": [2]}, 1]}],  # more prices than rows
        [{"steps": [3]}],  # prices that are not there
        [parts(3, 12), SHOWN, {"steps": []}],  # an open end
        [parts(3, 12), {"steps": []}, SHOWN],
        [{"steps": []}],
        [],
    ],
)
def test_a_tree_that_does_not_part_all_plans_is_refused(tree):
    refused(claim(10, lambda cost: ([[cost // 2], [0, 0, 0, 0, cost], [0]], tree)))


def test_a_row_that_is_not_there_divides_nothing():
    # Else it would be taken for the next one, of pairs, and none of these would be cut.
    def made_of(cost):
        less = {"steps": [{"list": [0]}, {"pair": [0, 0]}, 1]}
        return [[0], [cost, 0, 0, 0, -cost]], [parts(4, 0), less, less]

    refused(claim(20, made_of))


def true_proof():
    """20 pieces in 10 bars, two to each, and an offcut on the rack that holds none."""
    made = claim(10, lambda cost: ([[cost // 2]], [{"steps": [0]}]))
    rack = made["bars"][0] | {"length": 100_000_000, "price": 0, "limit": 1, "rack": ["R"]}
    plan = [{"bar": 0, "count": 10, "pieces": [[0, 2]]}]
    return sealed(made | {"bars": [*made["bars"], rack], "plan": plan, "cost": 100_000_000})


def test_the_true_proof_that_is_wrecked_below_is_none_of_a_cheaper_plan():
    made = true_proof()
    assert faults_of_proof(made) == []
    assert bound_shown_by(made) == 100_000_000
    refused(made | {"digest": made["digest"][::-1]})


def say(cost, *plan):
    """A plan of other bars and the cost that is said of it, which is the bound too where it is less."""
    return lambda made: made.update(plan=list(plan), cost=cost, bound=min(cost, made["bound"]))


BAR = 10_000_000
WRECKS = {
    "another format": lambda made: made.update(format=5),
    "a part of a piece": lambda made: made["plan"][0].update(count=10.0),
    "a part of money": lambda made: made["models"][0].update(prices=[[0.5]]),
    "no step of mitres": lambda made: made["saw"].update(mitre_step=0),
    "a credit of more than all": lambda made: made["saw"].update(percent=[101, 1]),
    "a bar of no length": lambda made: made["bars"][1].update(length=0),
    "a mitre too steep": lambda made: made["pieces"][0].update(mitres=["100", "0"]),
    "none of a piece": lambda made: made["pieces"].append(made["pieces"][0] | {"count": 0}),
    "a piece of no length": lambda made: made["pieces"][0].update(length=0),
    "too many pieces": lambda made: made["pieces"][0].update(count=1 << 61),
    "a bar with nothing": lambda made: made["plan"].append({"bar": 1, "count": 1, "pieces": [[0, 0]]}),
    "no pieces at all": lambda made: made["plan"].append({"bar": 1, "count": 1, "pieces": []}),
    "three in a bar": say(
        7 * BAR,
        {"bar": 0, "count": 6, "pieces": [[0, 3]]},
        {"bar": 0, "count": 1, "pieces": [[0, 2]]},
    ),
    "too few": say(9 * BAR, {"bar": 0, "count": 9, "pieces": [[0, 2]]}),
    "another cost": say(11 * BAR, {"bar": 0, "count": 10, "pieces": [[0, 2]]}),
    "more bars than there are": lambda made: made["bars"][0].update(limit=9),
    "a unit of costs below 0": lambda made: made["models"][0].update(cost_unit=-1),
    "a unit that costs are no multiple of": lambda made: made["models"][0].update(cost_unit=3),
    "prices without a unit": lambda made: made["models"][0].update(fine=0),
    "lengths without a unit": lambda made: made["models"][0].update(step=0),
    "pieces of no units": lambda made: made["models"][0].update(step=10**12),
    "a mitre that is a number": lambda made: made["pieces"][0].update(mitres=[0.0, 0.0]),
    "bars taken back": lambda made: made["plan"].append({"bar": 0, "count": -1, "pieces": [[0, 2]]}),
    "a kerf below 0": lambda made: made["saw"].update(kerf=-1),
    "a trim below 0": lambda made: made["saw"].update(trim=-1),
    "a grip below 0": lambda made: made["saw"].update(grip=-1),
    "a keep below 0": lambda made: made["saw"].update(keep=-1),
    "a credit below 0": lambda made: made["saw"].update(percent=[-1, 1]),
    "a credit of twice as much, both below 0": lambda made: made["saw"].update(percent=[-200, -1]),
    "a price below 0": lambda made: made["bars"][1].update(price=-1),
    "a tolerance below 0": lambda made: made["bars"][1].update(tolerance=-1),
    "a limit below 0": lambda made: made["bars"][1].update(limit=-1),
    "a depth below 0": lambda made: made["pieces"][0].update(depth=-1),
    "a mitre that is no number": lambda made: made["pieces"][0].update(mitres=["0", "nan"]),
    "a mitre without end": lambda made: made["pieces"][0].update(mitres=["0", "-inf"]),
    "no kind": lambda made: made["models"][0].update(kinds=[]),
    "no model": lambda made: made.update(models=[]),
}


@pytest.mark.parametrize("name", WRECKS)
def test_a_true_proof_is_refused_with(name):
    made = true_proof()
    WRECKS[name](made)
    refused(sealed(made))


def test_an_offcut_longer_than_its_bar_is_refused():
    # By a trim below 0 each bar would earn 10^8 times its price: wrapped to 64 bits, 7.8 % of that.
    made = claim(20, lambda cost: ([[0, 0, 0, 0, 10**12 - 7_766_279_631_452_241_920]], [{"steps": [0]}]))
    whole, length = 10**17, 10**9
    keep = whole - 2 * length
    saw = made["saw"] | {"trim": length - whole, "grip": keep, "keep": keep, "percent": [100, 1]}
    model = made["models"][0] | {
        "step": 900_000_000,
        "cost_unit": 1,
        "fine": 1,
        "kinds": [[0, 0, 0], [0, 0, 1]],
    }
    bars = [made["bars"][0] | {"length": length, "price": 10**12}]
    cost = 10 * (10**12 - (whole - 1_800_000_000) * 1_000)  # of 10 bars: 20 would earn twice as much
    plan = [{"bar": 0, "count": 10, "pieces": [[0, 2]]}]
    said = {"saw": saw, "bars": bars, "models": [model], "plan": plan, "cost": cost, "bound": cost}
    refused(sealed(made | said))


def one_heat():
    """Three pieces of one heat, which any of two stocks holds."""
    pieces = [Piece("A", mm(900), 4, heat_group="g")]
    stocks = [StockBar(mm(2000), Decimal(10), supplier=name) for name in ("S", "T")]
    return plan_cuts(pieces, stocks, [], SawSettings(mm(0))).proof


def test_a_heat_group_from_two_sources_is_refused():
    made = one_heat()
    assert faults_of_proof(made) == [] and bound_shown_by(made) == 20_000_000
    made["plan"] = [{"bar": bar, "count": 1, "pieces": [[0, 2]]} for bar in (0, 1)]
    refused(sealed(made))


def test_a_source_that_holds_a_heat_group_is_not_left_out():
    made = one_heat()
    for at in range(2):
        refused(sealed(made | {"models": made["models"][at : at + 1]}))


def goes_into(lengths, rooms, kerf):
    """Whether pieces go into bars, by trying all ways: each takes a kerf, the last in a bar none."""
    if not lengths:
        return True
    first, *others = lengths
    return any(
        goes_into(others, [*rooms[:at], room - first - kerf, *rooms[at + 1 :]], kerf)
        for at, room in enumerate(rooms)
        if first <= room
    )


@pytest.mark.parametrize("seed", range(150))
def test_a_heat_group_that_goes_into_a_source_is_never_too_large_for_it(seed):
    draw = random.Random(seed)
    lengths, kerf = sorted((draw.randint(20, 60) for _ in range(4)), reverse=True), draw.choice([0, 3])
    rooms = [draw.randint(15, 110) for _ in range(draw.randint(1, 3))]
    pieces = [{"length": n, "count": 1, "mitres": ["0", "0"], "depth": 0, "heat": "g"} for n in lengths]
    blank = {"price": 0, "tolerance": 0, "source": "s", "rack": []}
    bars = [blank | {"length": room, "limit": 1} for room in rooms]
    saw = {
        "kerf": kerf,
        "trim": 0,
        "grip": 0,
        "keep": None,
        "percent": [0, 1],
        "mitre_step": 1,
        "nests": False,
    }
    made = {"saw": saw, "bars": bars, "pieces": pieces}
    said = Given(made)._too_large("g", "s")
    assert said == StrangersGiven(made).too_large("g", "s")
    if goes_into(lengths, rooms, kerf):
        assert not said
    elif max(lengths) > max(rooms) or sum(lengths) + 4 * kerf > sum(room + kerf for room in rooms):
        assert said


def test_shares_that_pass_64_bits_are_refused():
    # Four shares together wrap to a small one.
    count = {"pattern": [0, 2], "ends": [0, 20]}
    steps = [{"list": [0]}, *[count] * 4, {"shares": [ONE // 3, 0, 0, 0, *[1 << 62] * 4]}]
    made = claim(20, lambda cost: ([[0]], [{"steps": steps}]))
    assert faults_of_proof(made) == ["prices are too large"]
