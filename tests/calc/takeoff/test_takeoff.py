"""Takeoff: pieces gathered by section and grade, lengths that add up, savings shared."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.job import PartSpec
from shopquote.calc.takeoff.cut_plan import RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.takeoff import add_up, group_pieces, share_cost
from shopquote.calc.units import Length

mm = Length.from_mm
S275 = STARTING_GRADES["S275"] if isinstance(STARTING_GRADES, dict) else STARTING_GRADES[0]
SAW = SawSettings(kerf=mm("1.6"), trim=mm(10), keep_min=mm(300))


SQUARE = (End(), End())


def answer(mark, bar, cut, ends=SQUARE):
    return PartAnswer(
        mark,
        parse_section(bar, "mm"),
        S275,
        mm(cut),
        mm(cut),
        ends,
        (),
        1.0,
        0.1,
        (1.0, 1.0, 1.0),
        (1.0, 1.0),
    )


def spec(mark, bar, one_heat=False):
    return PartSpec(mark, mark, 1, bar, S275.name, one_heat=one_heat)


STOCK = (StockBar(mm(6000), Decimal("20.00"), None, "north"),)


def material_of(items, rack=(), saw=SAW):
    """The one material of some items, planned and added up."""
    ((section, grade, pieces),) = group_pieces(items)
    return add_up(section, grade, plan_cuts(pieces, STOCK, rack, saw))


def test_pieces_are_gathered_by_exact_section_and_grade():
    items = [
        (answer("A", "round 12", 500), None, 4, "J-1"),
        (answer("B", "round 12.0", 700), None, 2, "J-2"),
        (answer("C", "square 12", 300), None, 1, "J-1"),
        (answer("D", "square 12", 300), None, 0, "J-1"),
    ]
    groups = group_pieces(items)
    assert [(section.key, [piece.mark for piece in pieces]) for section, _, pieces in groups] == [
        ("round 12", ["A", "B"]),
        ("square 12", ["C"]),
    ]


def test_one_heat_and_mitres_reach_the_pieces():
    mitred = (End("mitre", Decimal(45)), End("mitre", Decimal(45)))
    items = [(answer("A", "flat 50 x 5", 500, mitred), spec("A", "flat 50 x 5", one_heat=True), 2, "J-1")]
    piece = group_pieces(items)[0][2][0]
    assert piece.mitres == (45.0, 45.0)
    assert piece.heat_group == "J-1 A"
    assert piece.depth.nm > 0


@given(st.lists(st.tuples(st.integers(20, 2900), st.integers(1, 9)), min_size=1, max_size=5))
def test_lengths_of_a_material_add_up(rows):
    items = [(answer(f"P{i}", "round 12", cut), None, n, "J") for i, (cut, n) in enumerate(rows)]
    material = material_of(items, [RackBar("R1", mm(2000))])
    left = material.net.nm + material.kerf.nm + material.trim.nm + material.kept.nm + material.scrap.nm
    assert left == material.bought.nm + material.rack.nm
    assert material.net.nm == sum(cut * n for cut, n in rows) * 1_000_000
    assert material.pieces == sum(n for _, n in rows)


def test_mass_is_that_of_the_bars():
    # Round 12: 0.888 kg/m (kalmeshbhavi/BeamDesignApp, src/com/beamdesign/table/BarWeightTable.java).
    material = material_of([(answer("A", "round 12", 5000), None, 3, "J")])
    assert material.bought == mm(18000)
    assert round(material.mass_kg / 18, 3) == 0.888


def test_shares_are_in_proportion_and_add_up():
    # 80 shared by 30 : 60 -> 26.67 and 53.33 (hand calculation)
    shares = share_cost({"J-1": Decimal(30), "J-2": Decimal(60)}, Decimal(80))
    assert [share.bears for share in shares] == [Decimal("26.67"), Decimal("53.33")]
    assert [share.saving for share in shares] == [Decimal("3.33"), Decimal("6.67")]


@given(st.lists(st.decimals(0, 10_000, places=2), min_size=1, max_size=6), st.decimals(0, 30_000, places=2))
def test_shares_always_add_up_to_the_cost(alone, together):
    shares = share_cost({f"J-{i}": cost for i, cost in enumerate(alone)}, together)
    assert sum(share.bears for share in shares) == together
    assert all(share.bears >= 0 for share in shares)


def test_two_jobs_planned_together_never_cost_more():
    one = [(answer("A", "round 12", 3500), None, 1, "J-1")]
    two = [(answer("B", "round 12", 2400), None, 1, "J-2")]
    costs = [material_of(items).plan.cost for items in (one, two, one + two)]
    assert costs == [20, 20, 20]


def test_a_saw_of_the_shop_is_taken_as_it_is():
    wide = replace(SAW, kerf=mm(100))
    material = material_of([(answer("A", "round 12", 1450), None, 4, "J")], saw=wide)
    assert material.bought == mm(12000)  # 4 * 1450 + 3 * 100 = 6100 > 5990
