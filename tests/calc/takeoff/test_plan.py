"""What a plan must always be, and clear answers to what cannot be planned."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError
from tests.referees.feasible import faults_of_plan

mm = Length.from_mm
PLAIN = SawSettings(kerf=mm(0))


def test_pieces_per_bar_follow_the_layout_formula():
    # n = floor((U + k) / (L + k)), U = 6000 - 10 - 50, k = 1.6, L = 230 -> 25 (derived; worked by hand:
    # 25 * 230 + 24 * 1.6 = 5788.4 <= 5940 and 26 * 230 + 25 * 1.6 = 6020 > 5940).
    saw = SawSettings(kerf=mm("1.6"), trim=mm(10), grip=mm(50))
    plan = plan_cuts([Piece("A", mm(230), 25)], [StockBar(mm(6000))], [], saw)
    assert plan.bars_used == 1
    assert plan_cuts([Piece("A", mm(230), 26)], [StockBar(mm(6000))], [], saw).bars_used == 2


def test_pieces_per_bar_in_inches():
    # U = 240 - 1/4 - 2, k = 1/16, L = 11.5 -> 20 (20 * 11.5 + 19/16 = 231.1875 <= 237.75; 21 need 242.75).
    inch = Length.from_inches
    saw = SawSettings(kerf=inch("0.0625"), trim=inch("0.25"), grip=inch(2))
    plan = plan_cuts([Piece("A", inch("11.5"), 20)], [StockBar(inch(240))], [], saw, unit="in")
    assert plan.bars_used == 1


def test_a_bar_that_is_just_long_enough_holds_its_pieces():
    # 3 * 1000 + 2 * 2 + 6 = 3010
    saw = SawSettings(kerf=mm(2), trim=mm(6))
    assert plan_cuts([Piece("A", mm(1000), 3)], [StockBar(mm(3010))], [], saw).bars_used == 1
    assert plan_cuts([Piece("A", mm(1000), 3)], [StockBar(mm("3009.9"))], [], saw).bars_used == 2


def test_the_cheaper_length_is_bought_and_the_rack_used_first():
    stocks = [StockBar(mm(6000), Decimal(30)), StockBar(mm(3000), Decimal(14))]
    plan = plan_cuts([Piece("A", mm(1400), 6)], stocks, [RackBar("R1", mm(2900))], PLAIN)
    assert plan.cost == 28  # two of 3 m (4 pieces) and the rack bar (2)
    assert [bar.rack_piece for bar in plan.bars if bar.rack_piece] == ["R1"]
    assert plan.proven


def test_an_offcut_of_the_least_length_is_kept_and_credited_its_share():
    saw = SawSettings(kerf=mm(0), keep_min=mm(1000), keep_percent=Decimal(50))
    plan = plan_cuts([Piece("A", mm(5000), 1)], [StockBar(mm(6000), Decimal(24))], [], saw)
    # half of 1000/6000 of 24.00 = 2.00
    assert (plan.cost, plan.bars[0].kept, plan.bars[0].offcut) == (22, True, mm(1000))
    shorter = plan_cuts([Piece("A", mm("5000.1"), 1)], [StockBar(mm(6000), Decimal(24))], [], saw)
    assert (shorter.cost, shorter.bars[0].kept) == (24, False)


def test_without_prices_the_cost_is_the_bought_length():
    plan = plan_cuts([Piece("A", mm(900), 4)], [StockBar(mm(2000)), StockBar(mm(1000))], [], PLAIN)
    assert (plan.cost, plan.bound, plan.priced, plan.proven) == (4000, 4000, False, True)


def test_equal_cost_prefers_fewer_bars():
    stocks = [StockBar(mm(1000), Decimal(5)), StockBar(mm(2000), Decimal(10))]
    plan = plan_cuts([Piece("A", mm(990), 4)], stocks, [], PLAIN)
    assert (plan.cost, plan.bars_used) == (20, 2)


def test_free_rack_bars_are_taken_so_that_few_lie_on_the_floor():
    # Eight pieces of 500 fit in the two long bars, or in four short ones that are worth as much.
    worth = [Decimal("1.30")] * 6 + [Decimal("2.60")] * 2
    rack = [RackBar(f"R{i}", mm(1100), value=worth[i]) for i in range(6)]
    rack += [RackBar(name, mm(2600), value=worth[-1]) for name in "LM"]
    plan = plan_cuts([Piece("A", mm(500), 8)], [StockBar(mm(6000), Decimal(20))], rack, PLAIN)
    assert plan.cost == 0
    assert sorted(bar.rack_piece for bar in plan.bars) == ["L", "M"]


def test_limits_are_kept():
    stocks = [StockBar(mm(1000), Decimal(1), 2), StockBar(mm(1000), Decimal(9))]
    plan = plan_cuts([Piece("A", mm(600), 5)], stocks, [], PLAIN)
    assert plan.cost == 2 * 1 + 3 * 9


def test_one_heat_pieces_come_from_one_order_line_or_one_rack_heat():
    pieces = [Piece("A", mm(900), 3, heat_group="g")]
    rack = [RackBar("R1", mm(1000), "H1"), RackBar("R2", mm(1000), "H2"), RackBar("R3", mm(1000), "H1")]
    stocks = [StockBar(mm(1000), Decimal(7))]
    plan = plan_cuts(pieces, stocks, rack, PLAIN)
    assert plan.cost == 21 and plan.proven  # no heat on the rack holds three
    two = plan_cuts([Piece("A", mm(900), 2, heat_group="g")], stocks, rack, PLAIN)
    assert {bar.rack_piece for bar in two.bars} == {"R1", "R3"}


def test_mitres_nest_only_when_the_saw_says_so():
    # Frame sides 500 long point to long point, mitred 45 both ends, 50 deep: turned end for end
    # each pair shares 50 * tan 45 = 50 (derived). Kerf 0: ten sides take 10 * 500 - 9 * 50 = 4550.
    pieces = [Piece("A", mm(500), 10, (45.0, 45.0), depth=mm(50))]
    stocks = [StockBar(mm(4550)), StockBar(mm(5000))]
    assert plan_cuts(pieces, stocks, [], SawSettings(mm(0), nest_mitres=True)).cost == 4550
    assert plan_cuts(pieces, stocks, [], SawSettings(mm(0))).cost == 5000


@given(
    st.lists(st.tuples(st.integers(50, 3000), st.integers(1, 30)), min_size=1, max_size=8),
    st.sampled_from([0, 16, 30]),
    st.integers(0, 60),
    st.booleans(),
)
@settings(max_examples=30)
def test_pieces_kerfs_trims_and_offcuts_are_the_bars(rows, kerf, trim, priced):
    pieces = [Piece(f"P{i}", mm(length), count, owner=f"J{i % 2}") for i, (length, count) in enumerate(rows)]
    stocks = [
        StockBar(mm(6000), Decimal("24.6") if priced else None),
        StockBar(mm(3100), Decimal("13.3") if priced else None, 5),
    ]
    rack = [RackBar("R1", mm(1234)), RackBar("R2", mm(777))]
    saw = SawSettings(mm(Decimal(kerf) / 10), mm(trim), mm(0), mm(250), Decimal(30))
    plan = plan_cuts(pieces, stocks, rack, saw, work=A_SECOND // 3)
    assert faults_of_plan(pieces, stocks, rack, saw, plan) == []


def test_the_same_list_gives_the_same_plan():
    pieces = [Piece(f"P{i}", mm(310 + 173 * i % 1700), 3 + i % 5) for i in range(12)]
    stocks = [StockBar(mm(6000), Decimal(25)), StockBar(mm(3000), Decimal(13))]
    one, two = (plan_cuts(pieces, stocks, [], PLAIN) for _ in range(2))
    assert one.proven
    assert one.bars == two.bars


@pytest.mark.parametrize("percent", [0, 50])
@pytest.mark.parametrize("odd", [0, 7])  # with 7 nm more the sizes share no unit and are rounded
def test_progress_shows_a_true_bound_from_the_first_line_on(odd, percent):
    pieces = [Piece(f"P{i}", Length(300_000_000 + odd * i + 133_000_000 * i), 4) for i in range(9)]
    stocks = [StockBar(mm(6000), Decimal(25)), StockBar(mm(3000), Decimal(13))]
    saw = SawSettings(mm(2), mm(5), mm(0), mm(300), Decimal(percent))
    lines = []
    plan = plan_cuts(
        pieces,
        stocks,
        [RackBar("R", mm(1500))],
        saw,
        progress=lambda *figures: lines.append(figures),
    )
    cost, bound = lines[0]
    assert bound > Decimal("0.9") * cost
    assert all(bound <= plan.cost <= cost for cost, bound in lines if bound)


def test_a_search_ends_soon_after_its_work_is_done():
    pieces = [Piece(f"P{i}", Length(211_000_000 + 7_654_321 * i), 3 + i % 7) for i in range(150)]
    stocks = [StockBar(mm(6000), Decimal(25)), StockBar(mm(3000), Decimal(13))]
    saw = SawSettings(mm(2), mm(5), mm(0), mm(300), Decimal(50))
    plan = plan_cuts(pieces, stocks, [], saw, work=A_SECOND // 2)
    assert plan.work < 0.6 * A_SECOND
    assert faults_of_plan(pieces, stocks, [], saw, plan) == []


# ---- clear errors -----------------------------------------------------------------------


def test_a_message_of_a_job_in_inches_names_inches_alone():
    # 12 mm are 0.472 in: of 120 in 119.528 are left.
    saw = SawSettings(mm(0), mm(12), mm(0))
    with pytest.raises(
        CannotMakeError, match=r"119\.8 in long; the longest bar is 120 in, 119\.528 in of it"
    ):
        plan_cuts(
            [Piece("L", Length.from_inches("119.8"), 1)],
            [StockBar(Length.from_inches(120))],
            [],
            saw,
            unit="in",
        )
    with pytest.raises(CannotMakeError, match="'L' is 100 in long; the longest bar is 90 in"):
        plan_cuts([Piece("L", mm("2540.00001"), 1)], [StockBar(Length.from_inches(90))], [], PLAIN, unit="in")


def test_a_piece_longer_than_any_bar_cannot_be_made():
    with pytest.raises(CannotMakeError, match="'L' is 6001 mm long; the longest bar is 6000 mm"):
        plan_cuts([Piece("L", mm(6001), 1)], [StockBar(mm(6000))], [], PLAIN)
    with pytest.raises(CannotMakeError, match="5990 mm of it usable"):
        plan_cuts([Piece("L", mm(5995), 1)], [StockBar(mm(6000))], [], SawSettings(mm(0), mm(10)))


def test_too_few_bars_cannot_be_made():
    with pytest.raises(CannotMakeError, match="do not suffice"):
        plan_cuts([Piece("A", mm(900), 3)], [StockBar(mm(1000), None, 2)], [], PLAIN)


def test_no_bar_at_all_cannot_be_made():
    with pytest.raises(CannotMakeError, match="no stock length"):
        plan_cuts([Piece("A", mm(900), 3)], [], [], PLAIN)
    with pytest.raises(CannotMakeError):
        plan_cuts([Piece("A", mm(900), 3)], [StockBar(mm(1000), None, 0)], [], PLAIN)


@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        ([], "nothing to cut"),
        ([Piece("A", mm(1), 0)], "nothing to cut"),
        ([Piece("A", Length(0), 1)], "length 0"),
        ([Piece("A", mm(10), -1)], "count -1"),
        ([Piece("A", mm(10), 1_000_000_000)], "at most 1000000"),
        ([Piece("A", mm(10) + Length(i), 1) for i in range(20_001)], "different lengths"),
        ([Piece("A", mm(10), 1, (85.0, 0.0))], "mitre"),
    ],
)
def test_lists_that_cannot_be_used(pieces, words):
    with pytest.raises(InputError, match=words):
        plan_cuts(pieces, [StockBar(mm(6000))], [], PLAIN)


@pytest.mark.parametrize(
    ("stocks", "saw", "words"),
    [
        ([StockBar(Length(0))], PLAIN, "length 0"),
        ([StockBar(mm(6000), Decimal(1)), StockBar(mm(3000))], PLAIN, "price"),
        ([StockBar(mm(6000), Decimal(-1))], PLAIN, "price"),
        ([StockBar(mm(6000), None, -1)], PLAIN, "limit"),
        ([StockBar(mm(6000))], SawSettings(Length(-1)), "0 or more"),
        ([StockBar(mm(6000))], SawSettings(mm(0), keep_percent=Decimal(101)), "101"),
    ],
)
def test_bars_and_saws_that_cannot_be_used(stocks, saw, words):
    with pytest.raises(InputError, match=words):
        plan_cuts([Piece("A", mm(10), 1)], stocks, [], saw)


def test_a_million_pieces_are_planned_at_once():
    plan = plan_cuts([Piece("A", mm(700), 999_999), Piece("B", mm(400), 1)], [StockBar(mm(6000))], [], PLAIN)
    assert plan.proven
    assert plan.bars_used == 125_000
