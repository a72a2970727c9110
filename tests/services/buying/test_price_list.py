"""Suppliers' price lists with the columns that they happen to have."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from openpyxl import Workbook
from sqlalchemy import func, select

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import PartSpec
from shopquote.calc.pricing.priced_quote import PricingPolicy
from shopquote.calc.takeoff.cut_plan import RackBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.takeoff import add_up, group_pieces
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.table_files import csv_text, read_table
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.services.buying.offers import stale_price_notes
from shopquote.services.buying.offers_on_file import listed_bars
from shopquote.services.buying.price_headings import taught
from shopquote.services.buying.price_list import price_table, read_price_list, store_price_list
from shopquote.services.buying.price_rows import in_our_words
from shopquote.services.shop.shop_on_file import bending_shop, grades_on_file, saw_settings, the_shop
from shopquote.services.shop.values import section_of
from tests.listed_stock import stock_bars

DAY = date(2026, 4, 1)
NAME = "Quarry Bank Steel (invented)"

HEADINGS = ("Shape", "Size mm", "Quality", "Bar", "EUR/kg", "from 500 kg", "pcs/bundle")
ROWS = (
    ("Round", "12", "S275", "6 m", "1,25", "1.10", "20"),
    ("Flat", "40x6", "S275", "6 m", "EUR 1.30", "", ""),
)
COLUMNS = {
    "bar": "Shape + Size mm", "grade": "Quality", "length": "Bar", "price": "EUR/kg",
    "price from 500": "from 500 kg", "bundle": "pcs/bundle", "basis": "=kg",
}  # fmt: skip


@pytest.fixture
def with_supplier(shop):
    with shop.session() as session:
        session.add(Supplier(name=NAME))
    return shop


def table(tmp_path: Path, headings=HEADINGS, rows=ROWS):
    path = tmp_path / "list.csv"
    path.write_text(csv_text(headings, rows), encoding="utf-8")
    return read_table(path)


def test_list_with_foreign_columns_is_stored_and_its_columns_are_remembered(with_supplier, tmp_path):
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, table(tmp_path), on=DAY, columns=COLUMNS)
        assert [change.kind for change in read.changes] == ["new", "new"]
        store_price_list(session, read)
    with with_supplier.session() as session:
        again = read_price_list(session, NAME, table(tmp_path), on=DAY)  # nothing said this time
        assert [change.kind for change in again.changes] == ["same", "same"]
        steel = grades_on_file(session)["S275"]
        (bar,) = [
            bar
            for bar in listed_bars(session, section_of("round 12"), steel, DAY)
            if bar.supplier.name == NAME
        ]
        assert (bar.item.bundle, bar.prices) == (
            20, ((Decimal(0), Decimal("1.25"), "kg"), (Decimal(500), Decimal("1.1"), "kg")),
        )  # fmt: skip


def test_a_list_may_say_how_short_its_bars_come(with_supplier, tmp_path):
    headings = (*HEADINGS, "Undersize")
    columns = COLUMNS | {"tolerance": "Undersize"}
    rows = [(*row, short) for row, short in zip(ROWS, ("10 mm", ""), strict=True)]
    with with_supplier.session() as session:
        store_price_list(
            session, read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY, columns=columns)
        )
        steel = grades_on_file(session)["S275"]
        for key, short in (("round 12", 10), ("flat 40x6", 0)):
            bars = listed_bars(session, section_of(key), steel, DAY, supplier=NAME)
            assert [bar.item.tolerance.mm for bar in bars] == [short]
        rows[0] = (*ROWS[0], "6 m")
        with pytest.raises(InputError, match="less than its length"):
            read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY, columns=columns)


def test_preview_stores_nothing(with_supplier, tmp_path):
    with with_supplier.session() as session:
        before = session.scalar(select(func.count()).select_from(StockItem))
        read_price_list(session, NAME, table(tmp_path), on=DAY, columns=COLUMNS)
        assert session.scalar(select(func.count()).select_from(StockItem)) == before


def test_new_prices_keep_the_history(with_supplier, tmp_path):
    with with_supplier.session() as session:
        store_price_list(session, read_price_list(session, NAME, table(tmp_path), on=DAY, columns=COLUMNS))
    dearer = table(tmp_path, rows=(("Round", "12", "S275", "6 m", "1.40", "", ""),))
    later = date(2026, 7, 1)
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, dearer, on=later)
        assert [(c.kind, c.old, c.new) for c in read.changes] == [
            ("dearer", "1.25, 1.1 from 500 kg EUR a kg", "1.4 EUR a kg")
        ]
        assert read.missing == ("Flat 40x6 S275 6 m",)
        store_price_list(session, read)
        item = session.scalar(select(StockItem).where(StockItem.section_text == "Round 12"))
        prices = session.scalars(select(StockPrice).where(StockPrice.stock_item_id == item.id))
        assert sorted((p.valid_from, p.price) for p in prices) == [
            (DAY, Decimal("1.1")), (DAY, Decimal("1.25")), (later, Decimal("1.4")),
        ]  # fmt: skip
        steel = grades_on_file(session)["S275"]
        for day, price in ((date(2026, 6, 30), "1.25"), (later, "1.4")):
            bars = listed_bars(session, section_of("round 12"), steel, day, supplier=NAME)
            assert bars[0].prices[0][1] == Decimal(price)


def test_all_mistakes_are_told_by_row_and_nothing_is_stored(with_supplier, tmp_path):
    bad = table(
        tmp_path,
        rows=(
            ("Rond", "12", "S275", "6 m", "1.25", "", ""),
            ("Round", "12", "S257", "six", "free", "", "none"),
            ("Round", "16", "S275", "6 m", "1.25", "", ""),
            ("Round", "16", "S275", "6000", "1.25", "", ""),
        ),
    )
    with with_supplier.session() as session:
        with pytest.raises(InputError) as caught:
            read_price_list(session, NAME, bad, on=DAY, columns=COLUMNS)
        assert [(fault.mark, fault.key) for fault in caught.value.faults] == [
            ("row 2", "Shape + Size mm"),
            ("row 3", "Quality"), ("row 3", "Bar"), ("row 3", "EUR/kg"), ("row 3", "pcs/bundle"),
            ("row 5", "bar"),
        ]  # fmt: skip
        assert caught.value.faults[1].nearest == "S275"
        assert "it is in row 4" in caught.value.faults[-1].expected


def test_columns_that_are_not_there_are_named(with_supplier, tmp_path):
    with with_supplier.session() as session:
        with pytest.raises(InputError) as caught:
            read_price_list(session, NAME, table(tmp_path), on=DAY, columns={**COLUMNS, "grade": "Qualty"})
        assert caught.value.faults[0].nearest == "Quality"
        with pytest.raises(InputError, match="a column for basis"):
            plain = table(tmp_path, [heading.replace("EUR/kg", "EUR") for heading in HEADINGS])
            read_price_list(session, NAME, plain, on=DAY, columns={**COLUMNS, "price": "EUR", "basis": ""})
        with pytest.raises(InputError, match="colour"):
            read_price_list(session, NAME, table(tmp_path), on=DAY, columns={**COLUMNS, "colour": "Bar"})


def test_usual_headings_need_no_telling(with_supplier, tmp_path):
    plain = table(
        tmp_path,
        ("Description", "Grade", "Length", "Price", "Per", "Valid from"),
        (("round 1/2 in", "A36", "20 ft", "12.40", "each", "2026-05-01"),),
    )
    with with_supplier.session() as session:
        (change,) = read_price_list(session, NAME, plain, on=DAY).changes
        assert (change.line.basis, change.line.valid_from) == ("bar", date(2026, 5, 1))
        assert change.line.section.key == "round 12.7"


def test_steps_may_be_in_pounds(with_supplier, tmp_path):
    rows = [("round 1/2 in", "A36", "20 ft", "72.50", "68", "cwt")]
    headings = ("bar", "grade", "length", "price", "price from 2000 lb", "per")
    with with_supplier.session() as session:
        (change,) = read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY).changes
    # 2000 lb of 0.45359237 kg (1959, exact) are 907.18474 kg.
    assert change.line.steps == ((0, Decimal("72.5")), (Decimal("907.185"), Decimal(68)))


def test_quality_of_a_structural_steel_goes_to_the_condition_and_days_may_have_dots(with_supplier, tmp_path):
    # EN 10025-2 by a plate seller's page and a public table: S275JR is S275 of quality JR, S355J2+N S355
    # of J2, normalised.
    rows = [
        ("round 12", "S275JR", "6 m", "1.20", "kg", "hot rolled", "1.3.2026"),
        ("round 12", "S355J2+N", "6 m", "1.30", "kg", "", "2026-03-01"),
    ]
    headings = ("bar", "grade", "length", "price", "per", "condition", "valid from")
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY)
    lines = [change.line for change in read.changes]
    assert [(line.grade, line.condition) for line in lines] == [("S275", "JR, hot rolled"), ("S355", "J2+N")]
    assert {line.valid_from for line in lines} == {date(2026, 3, 1)}


def test_letterhead_and_headings_of_groups_are_no_bars(with_supplier, tmp_path):
    book = Workbook()
    page = book.active
    for row in (
        ("Quarry Bank Steel, prices from March", None, None, None), (None,) * 4,
        ("Item", "Quality", "EUR/kg", "Bar"), ("ROUNDS", None, None, None), ("round 12", "S275", 1.2, "6 m"),
        ("FLATS", None, None, None), ("flat 40 x 6", "S275", 1.3, "6 m"),
    ):  # fmt: skip
        page.append(row)
    book.save(tmp_path / "list.xlsx")
    columns = {"bar": "Item", "grade": "Quality", "price": "EUR/kg", "length": "Bar", "basis": "=kg"}
    with with_supplier.session() as session:
        letter = read_table(tmp_path / "list.xlsx", heading_row=3)
        read = read_price_list(session, NAME, letter, on=DAY, columns=columns)
        assert [change.line.bar for change in read.changes] == ["round 12", "flat 40 x 6"]
        assert read.left_out == (4, 6)
        store_price_list(session, read)
    with with_supplier.session() as session:
        again = price_table(session, NAME, tmp_path / "list.xlsx")
        assert again.heading_row == 3
        assert [c.kind for c in read_price_list(session, NAME, again, on=DAY).changes] == ["same", "same"]


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_cover_sheet_and_a_letterhead_are_looked_past(with_supplier, tmp_path, ending):
    rows = (
        ["Quarry Bank Steel"], ["Telephone 0123", "open 8 to 5"], [],
        ["Item", "Quality", "Len", "Price", "Per"],
        ["round 12", "S275JR", "6000", "1150", "t"], ["flat 40 x 6", "S275JR", "6000", "P.O.A.", ""],
    )  # fmt: skip
    path = tmp_path / f"list.{ending}"
    if ending == "csv":
        path.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    else:
        book = Workbook()
        book.active["A1"] = "Prices of spring"
        page = book.create_sheet("Prices")
        for row in rows:
            page.append(row)
        book.save(path)
    for kinds in (["new"], ["same"]):
        with with_supplier.session() as session:
            read = read_price_list(session, NAME, price_table(session, NAME, path), on=DAY)
            assert [change.kind for change in read.changes] == kinds and read.heading_row == 4
            store_price_list(session, read)
    # The next list has lost its letterhead: what was kept of the last one does not hide its headings.
    bare = tmp_path / "bare.csv"
    bare.write_text("\n".join(",".join(row) for row in rows[3:]), encoding="utf-8")
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, price_table(session, NAME, bare), on=DAY)
        assert [change.kind for change in read.changes] == ["same"] and read.heading_row == 1


def test_several_masses_of_one_bar_may_stand_in_several_rows(with_supplier, tmp_path):
    rows = (("round 12", "S275", "6 m", "1.25", "kg", "0"), ("round 12", "S275", "6 m", "1.05", "kg", "1000"))
    steps = table(tmp_path, ("bar", "grade", "length", "price", "basis", "from kg"), rows)
    with with_supplier.session() as session:
        (change,) = read_price_list(session, NAME, steps, on=DAY).changes
        assert change.line.steps == ((Decimal(0), Decimal("1.25")), (Decimal(1000), Decimal("1.05")))


def test_workbook_is_read_like_csv(with_supplier, tmp_path):
    book = Workbook()
    book.active.append(["bar", "grade", "length", "price", "basis"])
    book.active.append(["round 12", "S275", "6 m", 1.1, "kg"])
    book.save(tmp_path / "list.xlsx")
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, read_table(tmp_path / "list.xlsx"), on=DAY)
        assert read.changes[0].line.steps == ((Decimal(0), Decimal("1.1")),)


def test_unknown_supplier_is_not_found(shop, tmp_path):
    with shop.session() as session, pytest.raises(NotFoundError):
        read_price_list(session, "Nobody", table(tmp_path), on=DAY)


def planned(session, on: date, rack=()):
    """What a plan buys for one rod of 450 mm; a price list holds per supplier and length."""
    steel, section = grades_on_file(session)["S275"], section_of("round 12")
    part = PartSpec("A", "rod", 4, "round 12", "S275", length=Measure.parse("450", "mm"))
    answer = analyse_part(part, "mm", bending_shop(session))
    ((_, _, pieces),) = group_pieces([(answer, part, 4, "J-0001")])
    plan = plan_cuts(pieces, stock_bars(session, section, steel, on), rack, saw_settings(session), unit="mm")
    return (add_up(section, steel, plan),), listed_bars(session, section, steel, on)


def notes_on(session, on: date, *, rack=(), days: str = "90", **policy) -> tuple[str, ...]:
    materials, listed = planned(session, on, rack)
    terms = PricingPolicy(currency="EUR", **policy)
    return stale_price_notes(materials, {"round 12 S275": listed}, on, old_after=Decimal(days), policy=terms)


def test_old_prices_are_pointed_out_with_their_age(shop):
    with shop.session() as session:
        # The starting list of the shop holds from 2 March 2026.
        assert notes_on(session, date(2026, 5, 31)) == ()
        (note,) = notes_on(session, date(2026, 6, 1))
        assert "round 12 S275" in note and "is 91 days old (2026-03-02)" in note
        assert notes_on(session, date(2026, 6, 1), days="91") == ()


def test_fresh_dear_price_of_another_does_not_hide_the_old_one_that_is_bought_at(with_supplier):
    later = date(2026, 7, 1)
    with with_supplier.session() as session:
        other = session.scalar(select(Supplier).where(Supplier.name == NAME))
        (bought,) = {bar.supplier for m in planned(session, later)[0] for bar in m.plan.bars}
        item = StockItem(
            supplier_id=other.id, section_key=section_of("round 12").key, section_text="round 12",
            grade="S275", length=Length.from_mm(6000), length_text="6 m",
        )  # fmt: skip
        item.prices.append(StockPrice(price=Decimal(99), basis="bar", valid_from=later))
        session.add(item)
        session.flush()
        (note,) = notes_on(session, later)
        assert bought in note and NAME not in note and "121 days old" in note
        item.prices[0].price = Decimal("0.10")  # now it is bought from the other, at today's price
        session.flush()
        assert notes_on(session, later) == ()


def test_price_that_nothing_is_charged_at_is_not_judged(shop):
    rack = (RackBar("R-0001", Length.from_mm(3000)),)
    with shop.session() as session:
        on = date(2026, 7, 1)
        assert notes_on(session, on, rack=rack, rack_charge_pct=Decimal(0)) == ()
        (by_metre,) = notes_on(session, on, rack=rack, rack_charge_pct=Decimal(50))
        assert "121 days old" in by_metre  # what the rack piece is charged at
        (net,) = notes_on(session, on, material_basis="net")
        assert net == by_metre


def test_rows_whose_price_is_to_be_asked_for_are_passed_over_and_told(with_supplier, tmp_path):
    rows = (
        *ROWS,
        ("Round", "14", "S275", "6 m", "P.O.A.", "", ""),
        ("Round", "16", "S275", "6 m", "call", "POA", ""),
    )
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, table(tmp_path, rows=rows), on=DAY, columns=COLUMNS)
    assert (len(read.changes), read.on_request) == (2, (4, 5))


@pytest.mark.parametrize("typed", ["€/kg", "EUR / kg", "/kg", "per kg", "je kg"])
def test_a_basis_may_bear_the_suppliers_currency_alone(with_supplier, tmp_path, typed):
    with with_supplier.session() as session:
        table_of = [("Rd 12", "S275", "6 m", "1.25", typed)]
        columns = ("bar", "grade", "length", "price", "basis")
        (change,) = read_price_list(session, NAME, table(tmp_path, columns, table_of), on=DAY).changes
        assert (change.line.basis, change.line.steps) == ("kg", ((Decimal(0), Decimal("1.25")),))
        with pytest.raises(InputError, match="an amount in EUR, not in £"):
            read_price_list(session, NAME, table(tmp_path, columns, [(*table_of[0][:4], "£/kg")]), on=DAY)
        with pytest.raises(InputError, match="expected one of bar, kg"):
            read_price_list(session, NAME, table(tmp_path, columns, [(*table_of[0][:4], "€ 100/kg")]), on=DAY)


@pytest.mark.parametrize(("basis", "price"), [("=tonne", "1250"), ("=1000 kg", "1250"), ("=100 kg", "125")])
def test_a_price_by_the_tonne_is_one_by_the_kilogram(with_supplier, tmp_path, basis, price):
    rows = (("Round", "12", "S275", "6 m", price, "", ""),)
    with with_supplier.session() as session:
        read = read_price_list(
            session, NAME, table(tmp_path, rows=rows), on=DAY, columns={**COLUMNS, "basis": basis}
        )
    (change,) = read.changes
    assert (change.line.basis, change.line.steps) == ("kg", ((Decimal(0), Decimal("1.25")),))


@pytest.mark.parametrize(
    ("heading", "basis"),
    [("Preis pro Stück", "bar"), ("Preis/Stk.", "bar"), ("Prix par pièce", "bar"), ("Precio por metro", "m")],
)
def test_a_heading_says_its_basis_in_the_languages_of_papers(with_supplier, tmp_path, heading, basis):
    path = tmp_path / "list.csv"
    path.write_text(f"Bar;Grade;Length;{heading}\nround 12;S275;6 m;9.50\n", encoding="utf-8")
    with with_supplier.session() as session:
        read = read_price_list(session, NAME, price_table(session, NAME, path), on=DAY)
    (change,) = read.changes
    assert (change.line.basis, change.line.steps) == (basis, ((Decimal(0), Decimal("9.50")),))


def test_a_ton_may_be_three_things_and_is_refused(with_supplier, tmp_path):
    with with_supplier.session() as session, pytest.raises(InputError, match="ton"):
        read_price_list(session, NAME, table(tmp_path), on=DAY, columns={**COLUMNS, "basis": "=ton"})


def test_what_is_named_once_counts_for_the_rows_below_and_one_bad_row_may_be_left_out(
    with_supplier, tmp_path
):
    rows = (
        ("round 12", "S275", "6 m", "1.25", "kg"), ("", "", "3 m", "1.40", ""),
        ("flat 40 x 6", "ditto", "6 m", "same again", "kg"), ("", "", "2 m", "dear", ""),
    )  # fmt: skip
    listed = table(tmp_path, ("Bar", "Grade", "Length", "Price", "Basis"), rows)
    with with_supplier.session() as session:
        with pytest.raises(InputError, match="row 5"):
            read_price_list(session, NAME, listed, on=DAY)
        left_out = []
        read = read_price_list(session, NAME, listed, on=DAY, left_out=left_out)
    lines = [change.line for change in read.changes]
    assert [(one.bar, one.grade, one.length.text, one.steps[0][1]) for one in lines] == [
        ("round 12", "S275", "6 m", Decimal("1.2500")), ("round 12", "S275", "3 m", Decimal("1.4000")),
        ("flat 40 x 6", "S275", "6 m", Decimal("1.4000")),
    ]  # fmt: skip
    assert [fault.mark for fault in left_out] == ["row 5"]


HARROW = (
    ["Harrow Fell Steel", "", "", ""], ["Unit 4, Moor Road", "", "", ""],
    ["Section", "Grade", "Length", "Price per tonne"], ["MS ROUNDS", "", "", ""],
    ["Rnd 12", "43A", "6m", "980"], ["RND  100", "43A", "6m", "P.O.A."],
    ["F/B 50 x 10", "43A", "6 m", "1,020"],
    ["SHS 40 x 3", "43A", "7.5 m", "1250"],
)  # fmt: skip
WORDS = ["RND=round", "F/B=flat", "43A=S275"]


def test_a_supplier_s_own_words_are_taught_once(with_supplier, tmp_path):
    path = tmp_path / "harrow.csv"
    path.write_text("\n".join(";".join(row) for row in HARROW), encoding="utf-8")
    with with_supplier.session() as session:
        untaught = price_table(session, NAME, path)
        assert untaught.heading_row == 3
        with pytest.raises(InputError) as caught:
            read_price_list(session, NAME, untaught, on=DAY)
        assert "--means" in caught.value.hint
        assert ("row 5", "round") in [(fault.mark, fault.nearest) for fault in caught.value.faults]
    for words, kind in ((WORDS, "new"), ([], "same")):
        with with_supplier.session() as session:
            read = read_price_list(
                session, NAME, price_table(session, NAME, path), on=DAY, columns=taught(words)
            )
            assert [(change.kind, change.line.bar, change.line.grade) for change in read.changes] == [
                (kind, "round 12", "S275"), (kind, "flat 50 x 10", "S275"), (kind, "SHS 40 x 3", "S275"),
            ]  # fmt: skip
            assert (read.left_out, read.on_request) == ((4,), (6,))
            # By hand: 980 a tonne is 0.98 a kilogram.
            assert (read.changes[0].line.basis, read.changes[0].line.steps[0][1]) == ("kg", Decimal("0.98"))
            store_price_list(session, read)
    with with_supplier.session() as session, pytest.raises(InputError, match="43A"):  # forgotten again
        read_price_list(session, NAME, price_table(session, NAME, path), on=DAY, columns=taught(["43A="]))


def test_a_word_taught_is_a_whole_word_and_the_longest_counts():
    words = {"rd": "round", "sq": "square", "sq tube": "box"}
    assert in_our_words("Rd12", words) == "round12"
    assert in_our_words("SQ  TUBE 40 x 3", words) == "box 40 x 3"
    assert in_our_words("Standard 12", words) == "Standard 12"
    with pytest.raises(InputError, match="RND"):
        taught(["RND"])


@pytest.mark.parametrize(
    ("headings", "row"),
    [
        (("Item", "Shape", "Size", "Alloy", "Length", "Price", "UOM"),
         ("1001", "square", "1/2 in", "A36", "20 ft", "0.50", "LB")),
        (("Bezeichnung", "Werkstoff", "Länge", "Preis", "Einheit", "", ""),
         ("square 1/2 in", "A36", "20 ft", "0.50", "lb", "", "")),
        (("Désignation", "Nuance", "Longueur", "Prix / lb", "", "", ""),
         ("square 1/2 in", "A36", "20 ft", "0.50", "", "", "")),
    ],
)  # fmt: skip
def test_headings_of_the_trade_are_known_in_several_languages(with_supplier, tmp_path, headings, row):
    path = tmp_path / "list.csv"
    path.write_text("\n".join(";".join(cells).rstrip(";") for cells in (headings, row)), encoding="utf-8")
    with with_supplier.session() as session:
        (change,) = read_price_list(session, NAME, price_table(session, NAME, path), on=DAY).changes
    assert (change.line.section.key, change.line.basis) == ("square 12.7", "lb")
    assert change.line.steps == ((0, Decimal("0.50")),)


def test_headings_that_nobody_knows_are_named_with_the_row_that_was_read(with_supplier, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Steel\n\nAa,Bb,Cc,Dd\nround 12,S275,6 m,9\n", encoding="utf-8")
    with with_supplier.session() as session:
        with pytest.raises(InputError) as caught:
            read_price_list(session, NAME, price_table(session, NAME, path), on=DAY)
        assert "Row 3" in caught.value.hint
        assert "--heading-row" in caught.value.hint and "--sheet" in caught.value.hint
        columns = {"bar": "Aa", "grade": "Bb", "length": "Cc", "price": "Dd", "basis": "=bar"}
        read = read_price_list(
            session, NAME, price_table(session, NAME, path, columns=columns), on=DAY, columns=columns
        )
    assert len(read.changes) == 1


@pytest.mark.parametrize("heading", ["Length m", "Length (m)", "Länge [m]", "Longueur m"])
def test_a_heading_says_the_unit_of_its_lengths(with_supplier, tmp_path, heading):
    path = tmp_path / "list.csv"
    path.write_text(f"Bar;Grade;{heading};Price each\nround 12;S275;6;9\n", encoding="utf-8")
    with with_supplier.session() as session:
        (change,) = read_price_list(session, NAME, price_table(session, NAME, path), on=DAY).changes
    assert change.line.length.length == Length.from_mm(6000)


def test_metres_that_would_be_read_as_millimetres_are_refused(with_supplier, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Bar;Grade;Length;Price each\nround 12;S275;6;9\n", encoding="utf-8")
    with with_supplier.session() as session, pytest.raises(InputError, match="6000, 6 m or 20 ft"):
        read_price_list(session, NAME, price_table(session, NAME, path), on=DAY)


def test_a_list_with_other_headings_is_read_by_its_own(with_supplier, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Article;Q;L;EUR per kg\nround 12;S275;6 m;1.40\n", encoding="utf-8")
    columns = {"bar": "Article", "grade": "Q", "length": "L", "price": "EUR per kg", "basis": "=kg"}
    with with_supplier.session() as session:
        table = price_table(session, NAME, path, columns=columns)
        store_price_list(session, read_price_list(session, NAME, table, on=DAY, columns=columns))
        path.write_text("Bar;Grade;Length;Price per bar\nround 12;S275;6 m;9\n", encoding="utf-8")
        (change,) = read_price_list(session, NAME, price_table(session, NAME, path), on=DAY).changes
    assert (change.line.basis, change.line.steps) == ("bar", ((0, Decimal(9)),))


def test_sizes_in_fractions_name_bars_whatever_their_unit_is(with_supplier, tmp_path):
    """Shape and size stand apart; which columns name the bar is found before the list's unit is known."""
    headings = ("Shape", "Size", "Grade", "Length in", "Price each")
    rows = [("Round", "1/2", "A36", "240", "14.20"), ("Flat", "1-1/2 x 1/4", "A36", "240", "19.00")]
    with with_supplier.session() as session:
        the_shop(session).units = "in"
        session.flush()
        read = read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY)
        assert read.columns["bar"] == "Shape + Size"
        assert [change.line.section.key for change in read.changes] == ["round 12.7", "flat 38.1 x 6.35"]


def test_a_column_of_bars_is_found_whatever_its_heading_says(with_supplier, tmp_path):
    """An American list calls it "Material": that no heading named a bar was all it was told."""
    rows = (("Round 1/2", "A36", "20 ft", "9.80"), ("Flat 1 x 1/4", "A36", "20 ft", "14.20"))
    headings = ("Material", "Grade", "Length", "Price each")
    with with_supplier.session() as session:
        the_shop(session).units = "in"
        read = read_price_list(session, NAME, table(tmp_path, headings, rows), on=DAY)
        assert [change.kind for change in read.changes] == ["new", "new"]
        # A column of other things is none.
        others = (("for gates", "A36", "20 ft", "9.80"), ("for rails", "A36", "20 ft", "14.20"))
        with pytest.raises(InputError, match="expected a column for bar"):
            read_price_list(session, NAME, table(tmp_path, headings, others), on=DAY)


def test_a_bar_that_may_be_two_is_told_in_words_that_read(with_supplier, tmp_path):
    rows = (("Pipe 25", "S275", "6 m", "9.80"), ("round 12", "S275", "6 m", "14.20"))
    with with_supplier.session() as session, pytest.raises(InputError) as told:
        read_price_list(
            session, NAME, table(tmp_path, ("Bar", "Grade", "Length", "Price each"), rows), on=DAY
        )
    assert "found 'Pipe 25', expected pipe 25 medium (33.7 x 3.2 mm) or pipe 25 heavy" in told.value.message
