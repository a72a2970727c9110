"""The floor workbook: its tabs, its page set-up, and cells that a shop fills in."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from shopquote.calc.job import JobSpec
from shopquote.calc.pricing.weld_pulls import SHRINKAGE
from shopquote.calc.units import Length
from shopquote.outputs.books.floor_book import write_floor_book
from shopquote.outputs.tables.floor_tables import floor_json
from shopquote.outputs.tables.show import json_text
from shopquote.services.floor.floor_sheet import (
    BendPart,
    FloorBend,
    FloorHole,
    FloorPart,
    FloorSheet,
    FloorWeld,
    SawBar,
    SawnPiece,
    WorkedEnds,
)
from shopquote.services.floor.tabs import BARS_TAB, MINUTES_TAB, SCRAP_TAB
from tests.sheets import row_where, rows_under, texts

mm = Length.from_mm


def sheet(**changes):
    content = dict(
        job="J-0007",
        revision=2,
        serial="20260309-120000",
        made_on=date(2026, 3, 9),
        shop="Alder Lane",
        paper="A4",
        title="Hoops",
        customer="Tansy",
        sets=4,
        due=date(2026, 4, 1),
        unit="mm",
        use="lifting",
        datum="start",
        cautions=("No load rating is given.", "Bend a test piece first."),
        parts=(FloorPart("A", "hoop", 8, "round 12", "S275", mm("1147.4")),),
        saw=(
            SawBar(
                1,
                3,
                "round 12",
                "round 12",
                "S275",
                mm(6000),
                "stock",
                "",
                "",
                "",
                (SawnPiece("A", 5, mm("1147.4"), "mitre 45 both ends"),),
                mm("250"),
                False,
            ),
            SawBar(
                4,
                4,
                "round 12",
                "round 12",
                "S275",
                mm(3000),
                "rack R-0004",
                "R-0004",
                "rack 3",
                "H7",
                (SawnPiece("A", 1, mm("1147.4"), ""),),
                mm("1850"),
                True,
            ),
        ),
        bends=(
            BendPart(
                "A",
                "hoop",
                8,
                "round 12",
                "S275",
                mm("1147.4"),
                "leg 300; bend 90 r 24; leg 900",
                (),
                (
                    FloorBend(
                        1, "", mm("264"), "start", 90.0, 92.26, mm(24), mm(23), "hand bender", 1, (), ""
                    ),
                ),
                "",
                (),
            ),
        ),
        welds=(FloorWeld("fillet", "4", "30", 16, "MAG", "both sides"),),
        holes=(FloorHole("A", "6.5", 2, 16, "countersunk"),),
        worked_ends=(),
        bought=(("M6 bolt", 16),),
        outside=("galvanising",),
        finish="paint, 2 coats",
        minutes=(("sawing", Decimal("31.5")), ("bending", Decimal("64"))),
        spec=JobSpec("Gate", "Tansy and Thorne", 4, "mm"),
        answers={},
    )
    return FloorSheet(**{**content, **changes})


@pytest.fixture
def book(tmp_path):
    return load_workbook(write_floor_book(sheet(), tmp_path))


def test_tabs_in_the_order_of_the_work(book):
    assert book.sheetnames == [
        "Job", "Saw list", "Bend list", "Welds and holes", "Minutes", "Bars used", "Scrap",
    ]  # fmt: skip


def test_a_job_without_bends_or_welds_has_no_empty_tabs(tmp_path):
    book = load_workbook(write_floor_book(sheet(bends=(), welds=(), holes=()), tmp_path))
    assert "Bend list" not in book.sheetnames and "Welds and holes" not in book.sheetnames


def test_a_part_that_is_only_twisted_stands_in_the_bend_list_with_its_words(tmp_path):
    part = replace(sheet().bends[0], mark="T", shape="leg 100; twist 2 over 200; leg 100", bends=())
    words = texts(load_workbook(write_floor_book(sheet(bends=(part,)), tmp_path))["Bend list"])
    assert part.shape in words and "Twist and forge as in the words above." in words


def test_ends_to_turn_and_thread_come_before_the_bends_with_ends_of_a_piece_and_of_the_job(tmp_path):
    ends = (WorkedEnds("turned", "round 12", "A", 1, 8), WorkedEnds("threaded", "round 12", "A", 2, 16))
    book = load_workbook(write_floor_book(sheet(worked_ends=ends), tmp_path))
    assert book.sheetnames[1:4] == ["Saw list", "Ends", "Bend list"]
    rows = rows_under(book["Ends"], "Work", "Ends in the job")
    assert [(row["Work"], row["Mark"], row["Ends per piece"], row["Ends in the job"]) for row in rows] == [
        ("turned", "A", 1, 8), ("threaded", "A", 2, 16),
    ]  # fmt: skip
    assert "No load rating is given." in texts(book["Ends"])
    assert '"ends_in_the_job": 16' in json_text(floor_json(sheet(worked_ends=ends)))


def test_a_bend_that_no_bender_makes_is_told_so_to_people_and_programs(tmp_path):
    (hoop,) = sheet().bends
    bends = tuple(replace(bend, bender="", former=None, unmade=True) for bend in hoop.bends)
    told = sheet(bends=(replace(hoop, bends=bends),))
    (row,) = rows_under(load_workbook(write_floor_book(told, tmp_path))["Bend list"], "Bend", "Note")
    assert row["Pull to"] == "no bender" and "no bender on file makes it" in row["Note"]
    assert '"unmade": true' in json_text(floor_json(told))
    assert '"unmade": false' in json_text(floor_json(sheet()))


def test_a_cautions_source_stands_in_json_and_not_on_paper():
    assert "TWI" not in SHRINKAGE
    told = floor_json(sheet(cautions=(SHRINKAGE,)))
    assert told["cautions"] == (SHRINKAGE,) and "TWI" in told["sources"][0]
    assert floor_json(sheet())["sources"] == []


def test_the_saw_list_shows_source_place_heat_and_what_is_left(book):
    rows = rows_under(book["Saw list"], "Bar", "Pieces per bar")
    assert [(row["Bar"], row["From"], row["Place"], row["Heat"]) for row in rows if row["Bar"]] == [
        ("1 to 3", "stock", None, None), ("4", "rack R-0004", "rack 3", "H7"),
    ]  # fmt: skip
    assert [(row["Mark"], row["Cut mm"], row["Ends, rest"]) for row in rows] == [
        ("A", "1147", "mitre 45 both ends"), (None, None, "left 250: scrap"),
        ("A", "1147", None), (None, None, "left 1850: keep"),
    ]  # fmt: skip


def test_a_fillet_has_its_leg_as_iso_2553_writes_it(book):
    # ISO 2553: z is the leg length of a fillet weld, a its throat (clause5.io/pt/welding/symbols, ISO 2553).
    (weld,) = rows_under(book["Welds and holes"], "Kind", "Leg")
    assert (weld["Leg"], weld["Count"], weld["Process"]) == ("z4", 16, "MAG")


def test_bend_marks_to_half_a_millimetre_and_the_angle_to_pull_to(book):
    words = list(texts(book["Bend list"]))
    (bend,) = rows_under(book["Bend list"], "Bend", "Pull to")
    assert (bend["Mark at mm"], bend["Mark is"]) == ("264", "start of bend")
    assert (bend["Angle"], bend["Pull to"], bend["Bender"]) == ("90°", "92.5°", "hand bender")
    assert (bend["Inside radius mm"], bend["Former radius mm"]) == ("24", "23")
    assert any("start (first leg)" in word for word in words)


def test_inches_are_shown_as_fractions(tmp_path):
    inches = sheet(
        unit="in", parts=(FloorPart("A", "hoop", 1, "square 5/8", "A36", Length.from_inches("20.5")),)
    )
    assert "20-1/2" in texts(load_workbook(write_floor_book(inches, tmp_path))["Job"])


def test_the_caution_of_the_use_stands_on_every_working_tab(book):
    for name in ("Job", "Saw list", "Bend list", "Welds and holes"):
        assert "No load rating is given." in texts(book[name])


@pytest.mark.parametrize("tab", [MINUTES_TAB, BARS_TAB, SCRAP_TAB])
def test_tabs_to_fill_in_name_their_sheet_and_have_free_rows(book, tab):
    page = book[tab.name]
    assert page["A2"].value == "Job J-0007, revision 2, sheet 20260309-120000"
    free = row_where(page, {tab.columns[0]: None}, *tab.columns)
    assert all(free[name].fill.fgColor.rgb.endswith("FFF8DC") for name in tab.shaded)


def test_every_tab_prints_one_page_wide(book):
    for page in book.worksheets:
        assert page.page_setup.fitToWidth == 1
        assert page.print_area
        assert "J-0007 revision 2" in page.oddFooter.left.text


def test_json_carries_lengths_as_numbers():
    text = json_text(floor_json(sheet()))
    assert '"length_mm": 1147.4' in text
    assert '"mark_mm": 264' in text
