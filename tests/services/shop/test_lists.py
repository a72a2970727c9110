"""The shop's lists: out and in again with nothing lost, all faults at once, nothing half stored."""

import csv
import math
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from PIL import Image
from sqlalchemy import func, select

from shopquote.calc.bar.benders import Bender
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.cli.lists import REMOVABLE, RETIRABLE
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.books.list_files import write_table
from shopquote.outputs.tables.list_tables import show_list
from shopquote.reading.job_file import read_job_text, write_job_text
from shopquote.reading.table_files import guard_text, read_table, unguard_text
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Customer, Supplier
from shopquote.records.shop import Shop
from shopquote.records.standards import StandardRow
from shopquote.services.buying.available_bars import sheets_of
from shopquote.services.buying.offers import prices_on
from shopquote.services.buying.takeoff import items_of_job
from shopquote.services.jobs.jobs import add_job, load_job
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quotes_on_file import make_quote
from shopquote.services.shop.house_rules import HOUSE_RULES
from shopquote.services.shop.list_columns import ListTable
from shopquote.services.shop.list_removals import remove_entry, retire_entry
from shopquote.services.shop.lists import import_list, read_list, set_entry
from shopquote.services.shop.logo import logo_fault
from shopquote.services.shop.setup import ShopDetails, detail_from_text, starting_shop_row
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import (
    benders_on_file,
    bending_shop,
    grades_on_file,
    standards_book,
    the_shop,
)

TODAY = date(2026, 3, 2)
LATER = date(2026, 6, 1)
PEG = PartSpec("A", "peg", 1, "round 12", "S275", length=Measure.parse("120", "mm"))

# Text that a spreadsheet would take for a formula, a command, a number or an error.
AWKWARD = [
    "=1+1",
    "+44 20 7946",
    "-dash",
    "@name",
    "'=quoted",
    "''@x",
    "0123",
    "1e5",
    "#N/A",
    "naïve ☺",
    "Zoë O'Neil-Marsh",
    'a "b", c',
    "two\nlines",
]


def fill_with_awkward_text(session) -> None:
    for number, text in enumerate(AWKWARD):
        name = text.replace("\n", " ")
        set_entry(session, "customers", [f"name={name}", f"note={text}", f"address={text}"], on=TODAY)
        set_entry(session, "suppliers", [f"name={name}", f"note={text}", "currency=EUR"], on=TODAY)
        words = ["2026-01-05", "round 12", "S275", "24", str(30 + number), f"note={text}", "over_bend=93.5"]
        set_entry(session, "bend-tests", words, on=TODAY)
    set_entry(session, "k-rules", ["fixed K", "k=0.42", "grade=S275", "source==SUM(A1)"], on=TODAY)
    set_entry(session, "people", ["=Ebba", "37.5", "days=4", "operations=welding; fit-up"], on=TODAY)
    set_entry(session, "days-off", ["2026-12-24", "2027-01-03", "note=@home"], on=TODAY)
    set_entry(session, "days-off", ["2026-12-24", "person==ebba"], on=TODAY)
    set_entry(session, "k-rules", ["centreline", "section_kind=round", "former_radius=24"], on=TODAY)
    set_entry(session, "rates", ["rate.welding", "54.25", "since=2026-04-01", "source==SUM(A1)"], on=TODAY)
    set_entry(
        session, "suppliers", ["Tarnside Section Supply (invented)", 'column_map={"bar": "Item"}'], on=TODAY
    )
    set_entry(
        session,
        "benders",
        ["hand bender, bench", "mark_offset=-2.5 mm", "formers=24,20,=big; 1/2 in"],
        on=TODAY,
    )


def exported(session, name: str, path):
    table = read_list(session, name)
    return write_table(path, LISTS[name].title, [column.name for column in table.columns], table.cells())


# --- out and in again ----------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_every_list_comes_back_with_nothing_lost(any_shop, tmp_path, ending):
    with any_shop.session() as session:
        fill_with_awkward_text(session)
        for name in LISTS:
            before = list(read_list(session, name).cells())
            path = exported(session, name, tmp_path / f"{name}.{ending}")
            result = import_list(session, name, read_table(path), on=LATER)
            assert (result.added, result.changed) == (0, 0), name
            assert result.same == len(before) > 0, name


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_every_list_can_be_brought_to_an_empty_shop(shop, database, tmp_path, ending):
    with shop.session() as session:
        fill_with_awkward_text(session)
        files = {name: exported(session, name, tmp_path / f"{name}.{ending}") for name in LISTS}
        expected = {name: list(read_list(session, name).cells()) for name in LISTS}
    with database.session() as session:
        session.add(Shop(**starting_shop_row(ShopDetails(name="another"))))
        for name in ("grades", "suppliers", *(name for name in LISTS if name not in ("grades", "suppliers"))):
            import_list(session, name, read_table(files[name]), on=LATER)
        for name in LISTS:
            assert list(read_list(session, name).cells()) == expected[name], name


def test_a_shop_in_inches_reads_a_list_of_a_shop_in_millimetres(shop, tmp_path):
    with shop.session() as session:
        fill_with_awkward_text(session)
        files = {name: exported(session, name, tmp_path / f"{name}.csv") for name in LISTS}
        session.get(Shop, 1).units = "in"
        session.flush()
        for name, path in files.items():
            result = import_list(session, name, read_table(path), on=LATER)
            assert (result.added, result.changed) == (0, 0), name


def test_a_ram_has_its_mark_at_the_centre_of_the_bend_unless_it_is_told(shop):
    said = ["largest_moment_nm=900", "opening=50", "width=50", "lever=0", "largest_angle=100"]
    ways = (("ram", ""), ("ram", "start"), ("draw", ""), ("rolls", ""))
    with shop.session() as session:
        for number, (works_by, mark_at) in enumerate(ways):
            told = [f"mark_at={mark_at}"] if mark_at else []
            set_entry(session, "benders", [f"new {number}", f"works_by={works_by}", *said, *told], on=TODAY)
        assert [one.mark_at for one in benders_on_file(session)][-4:] == ["centre", "start", "start", "start"]
        set_entry(session, "benders", ["new 2", "works_by=ram"], on=TODAY)
        set_entry(session, "benders", ["new 1", "works_by=ram", "width=60"], on=TODAY)
        assert [one.mark_at for one in benders_on_file(session)][-4:] == [
            "centre",
            "start",
            "centre",
            "start",
        ]


def test_a_list_of_benders_carries_every_field_of_a_bender():
    columns = {column.name for column in LISTS["benders"].columns} - {"retired"}
    assert columns == {field.name.removesuffix("_nm") for field in fields(Bender)} - {"largest_moment"} | {
        "largest_moment_nm"
    }


@pytest.mark.parametrize(
    ("typed", "radii"),
    [
        ("8, 12, 15, 20", (8, 12, 15, 20)), ("20, 8", (8, 20)), ("8; 12; 15; 20", (8, 12, 15, 20)),
        ("8, 12 mm", (8, 12)), ("1/2, 1 in", (12.7, 25.4)), ("24, 20, big one", (24,)), ("24, 20;", (24,)),
    ],
)  # fmt: skip
def test_formers_are_read_as_a_person_lists_them(shop, typed, radii):
    with shop.session() as session:
        words = ["hand bender, bench", f"formers={typed}"]
        set_entry(session, "benders", words, on=TODAY)
        bender = next(one for one in benders_on_file(session) if one.name == words[0])
        assert tuple(former.radius.mm_float for former in bender.formers) == radii
        column = next(column for column in LISTS["benders"].columns if column.name == "formers")
        table = read_list(session, "benders")
        entry = next(one for one in table.entries if one["name"] == words[0])
        again = column.kind.read(column.kind.show(entry["formers"], table.notation), table.notation)
        assert [former.radius for former in again] == [former.radius for former in entry["formers"]]


def test_a_new_bender_asks_how_far_it_turns(shop):
    """Nothing taken in silence: a hook of 180 degrees is over-bent beyond 180."""
    words = [
        "new one",
        "largest_moment_nm=300",
        "opening=20",
        "width=50",
        "lever=1 m",
        "formers=8, 12, 15, 20",
    ]
    with shop.session() as session:
        with pytest.raises(InputError, match="largest_angle"):
            set_entry(session, "benders", words, on=TODAY)
        set_entry(session, "benders", [*words, "largest_angle=200"], on=TODAY)


def test_a_list_of_grades_carries_every_field_of_a_grade():
    columns = {column.name for column in LISTS["grades"].columns}
    assert columns == {field.name for field in fields(Grade)}


def test_lists_give_the_calculations_the_same_values(shop, tmp_path):
    with shop.session() as session:
        before = benders_on_file(session), grades_on_file(session), dict(standards_book(session, TODAY))
        for name in LISTS:
            import_list(
                session, name, read_table(exported(session, name, tmp_path / f"{name}.csv")), on=TODAY
            )
        session.expire_all()
        after = benders_on_file(session), grades_on_file(session), dict(standards_book(session, TODAY))
    assert before == after


def test_no_text_becomes_a_formula(shop, tmp_path):
    with shop.session() as session:
        fill_with_awkward_text(session)
        book = exported(session, "customers", tmp_path / "customers.xlsx")
        text = exported(session, "customers", tmp_path / "customers.csv")
    cells = [cell for row in load_workbook(book).active.iter_rows() for cell in row]
    assert not [cell.value for cell in cells if cell.data_type == "f"]
    assert "=1+1" in [cell.value for cell in cells]
    with text.open(encoding="utf-8-sig", newline="") as file:
        for row in csv.reader(file):
            assert not [cell for cell in row if cell[:1] in ("=", "+", "-", "@", "\t", "\r")]


@given(st.text(max_size=30))
def test_guarded_text_reads_back_and_wakes_no_sheet(text):
    guarded = guard_text(text)
    assert unguard_text(guarded) == text
    if guarded[:1] in ("=", "+", "@", "\t", "\r"):
        raise AssertionError(guarded)
    if guarded[:1] == "-":
        Decimal(guarded)  # a plain negative number is left to be a number


# --- faults ----------------------------------------------------------------------------------------


def test_all_faults_of_a_file_are_told_at_once_and_nothing_is_stored(shop, tmp_path):
    path = tmp_path / "stock.csv"
    path.write_text(
        "supplier,bar,grade,length,price,basis,valid_from\n"
        "Quillmoor Bar Yard (invented),round 12,S275,6 m,1.30,kg,2026-04-01\n"
        "Quilmoor Bar Yard (invented),round 12,S275,6 m,1.30,kg,2026-04-01\n"
        "Quillmoor Bar Yard (invented),rond 12,S275,6 m,1.30,kg,2026-04-01\n"
        "Quillmoor Bar Yard (invented),round 12,S257,6 m,1.30,kg,2026-04-01\n"
        "Quillmoor Bar Yard (invented),round 14,S275,six,-1,stone,1 April\n"
        ",round 15,S275,6 m,1.30,kg,2026-04-01\n"
        "Quillmoor Bar Yard (invented),round 12,S275,6000,1.31,kg,2026-04-01\n"
    )
    with pytest.raises(InputError) as caught, shop.session() as session:
        import_list(session, "stock", read_table(path), on=TODAY)
    told = {(fault.mark, fault.key): fault for fault in caught.value.faults}
    assert set(told) == {
        ("row 3", "supplier"), ("row 4", "bar"), ("row 5", "grade"), ("row 6", "length"), ("row 6", "price"),
        ("row 6", "basis"), ("row 6", "valid_from"), ("row 7", "supplier"), ("row 8", ""),
    }  # fmt: skip
    assert told["row 3", "supplier"].nearest == "Quillmoor Bar Yard (invented)"
    assert told["row 5", "grade"].nearest == "S275"
    assert "row 2" in told["row 8", ""].found  # 6000 and 6 m are one length
    with shop.reading() as session:
        assert session.scalar(select(func.count()).where(StockPrice.valid_from == date(2026, 4, 1))) == 0


def test_a_cell_under_no_heading_is_never_dropped_in_silence(shop, tmp_path):
    path = tmp_path / "customers.csv"
    path.write_text("name,address\nOrla,Back Lane 4, Nether Tarn\n")
    with pytest.raises(InputError, match="row 2: 'Nether Tarn' stands under no heading"):
        read_table(path)


@pytest.mark.parametrize(
    ("headings", "found", "nearest"),
    [
        ("name,adress", "'adress'", "address"),
        ("address", "no such column", None),
        ("name,Name ", "more than one", None),
    ],
)
def test_wrong_headings_are_told(shop, tmp_path, headings, found, nearest):
    path = tmp_path / "customers.csv"
    path.write_text(f"{headings}\n{headings.replace('address', 'x')}\n")
    with pytest.raises(InputError, match=found) as caught, shop.session() as session:
        import_list(session, "customers", read_table(path), on=TODAY)
    if nearest:
        assert caught.value.faults[0].nearest == nearest


def test_a_misspelt_heading_does_not_hide_the_mistakes_below_it(shop, tmp_path):
    path = tmp_path / "customers.csv"
    path.write_text("name,emial,tax_exmpt\nOrla,o@b.example,maybe\n,x@b.example,no\n")
    with pytest.raises(InputError) as caught, shop.session() as session:
        import_list(session, "customers", read_table(path), on=TODAY)
    assert [(fault.mark, fault.key, fault.nearest) for fault in caught.value.faults] == [
        ("first row", "", "email"),
        ("first row", "", "tax_exempt"),
        ("row 2", "tax_exempt", None),
        ("row 3", "name", None),
    ]


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("a.csv", b"", "empty"),
        ("a.csv", b"\x00\x01", "not text"),
        ("a.xlsx", b"PK not", "not a workbook"),
        ("a.ods", b"x", "expected .csv or .xlsx"),
    ],
)
def test_a_file_that_cannot_be_read_is_told(tmp_path, name, content, told):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError, match=told):
        read_table(path)


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match="no file"):
        read_table(tmp_path / "none.csv")


# --- files as people make them ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [
        "name;email\r\nJürgen;j@x.example\r\n".encode("cp1252"),
        "\ufeffname,email\nJürgen,j@x.example\n".encode(),
        "Name\tE-Mail\nJürgen\tj@x.example\n\n".encode("utf-16"),
        "name,email,\n\nJürgen,j@x.example,\n,,\n".encode(),
    ],
)
def test_any_usual_csv_is_read(shop, tmp_path, content):
    (tmp_path / "c.csv").write_bytes(content)
    with shop.session() as session:
        import_list(session, "customers", read_table(tmp_path / "c.csv"), on=TODAY)
        assert session.execute(select(Customer.name, Customer.email)).all() == [("Jürgen", "j@x.example")]


def test_a_workbook_typed_by_a_person_is_read(shop, tmp_path):
    book = Workbook()
    book.active.append(["Name", "Value", "Since", "Spread pct"])
    book.active.append(["rate.welding", 54.1, date(2026, 4, 1), 0.3])
    book.save(tmp_path / "rates.xlsx")
    with shop.session() as session:
        import_list(session, "rates", read_table(tmp_path / "rates.xlsx"), on=TODAY)
        now = standards_book(session, date(2026, 4, 1))["rate.welding"]
    assert (now.value, now.unit, now.since, now.spread_pct) == (
        Decimal("54.1"), "money/h", date(2026, 4, 1), Decimal("0.3"),
    )  # fmt: skip


@pytest.mark.parametrize(("typed", "stored"), [("1,25", "1.25"), ("1.25", "1.25"), ("12", "12")])
def test_a_decimal_comma_is_understood(shop, typed, stored):
    with shop.session() as session:
        _done, table = set_entry(session, "rates", ["rate.welding", typed], on=TODAY)
    assert table.entries[0]["value"] == Decimal(stored)


def test_a_comma_that_could_be_either_is_decided_by_the_locale_or_refused(shop):
    with shop.session() as session:
        for locale, value in (("en_GB", "1250"), ("de_DE", "1.25")):
            the_shop(session).locale = locale
            _done, table = set_entry(session, "rates", ["rate.welding", "1,250"], on=TODAY)
            assert table.entries[0]["value"] == Decimal(value)
        the_shop(session).locale = "de_CH"
        with pytest.raises(InputError, match=r"expected 1250 or 1\.25"):
            set_entry(session, "rates", ["rate.welding", "1,250"], on=TODAY)


@pytest.mark.parametrize("again", ["s275", "S 275", "S-275"])
def test_a_grade_is_one_however_it_is_typed(any_shop, again):
    test = ["2026-03-02", "round 12", "{}", "24 mm", "90", "flat_length=295.1", "leg_1=160", "leg_2=160"]
    entries = {
        "stock": ["Quillmoor Bar Yard (invented)", "round 13", "{}", "6 m", "price=1.22", "basis=kg"],
        "k-rules": ["fixed K", "k=0.42", "grade={}"],
        "bend-tests": test,
        "grades": ["{}", "min_radius_ratio=1.5"],
    }
    with any_shop.session() as session:
        for name, words in entries.items():
            set_entry(session, name, [word.format("S275") for word in words], on=TODAY)
            before = len(read_list(session, name).entries)
            done, table = set_entry(session, name, [word.format(again) for word in words], on=TODAY)
            assert (done, len(read_list(session, name).entries)) == ("kept", before), name
            assert table.entries[0].get("grade", table.entries[0].get("name")) == "S275"


def test_a_name_is_one_however_it_is_typed(any_shop):
    with any_shop.session() as session:
        set_entry(session, "customers", ["Orla Fennimore", "email=orla@home.example"], on=TODAY)
        done, table = set_entry(session, "customers", ["orla  FENNIMORE", "phone=1"], on=TODAY)
        assert (done, table.entries[0]["name"]) == ("changed", "Orla Fennimore")
        _, table = set_entry(session, "rates", ["Rate.Welding", "54"], on=TODAY)
        assert table.entries[0]["name"] == "rate.welding"
        words = ["quillmoor bar yard (INVENTED)", "round 13", "S275", "6 m", "price=2", "basis=kg"]
        _, table = set_entry(session, "stock", words, on=TODAY)
        assert table.entries[0]["supplier"] == "Quillmoor Bar Yard (invented)"


def test_one_new_name_in_two_spellings_of_one_file_is_told(shop, tmp_path):
    path = tmp_path / "customers.csv"
    path.write_text("name\nAda Marsh\nada marsh\n", encoding="utf-8")
    with shop.session() as session, pytest.raises(InputError, match="the same customer as row 2"):
        import_list(session, "customers", read_table(path), on=TODAY)


def test_good_rows_of_a_list_are_taken_though_others_are_bad_where_the_person_says_so(shop, tmp_path):
    path = tmp_path / "saws.csv"
    path.write_text("name,kerf\nold saw,1.2\nbad saw,thin\nOld Saw,1.4\nnew saw,2\n", encoding="utf-8")
    with shop.session() as session:
        with pytest.raises(InputError, match="2 mistakes"):
            import_list(session, "saws", read_table(path), on=TODAY)
        taken = import_list(session, "saws", read_table(path), on=TODAY, good_rows=True)
        assert (taken.added, [fault.mark for fault in taken.left_out]) == (2, ["row 3", "row 4"])
        names = [entry["name"] for entry in read_list(session, "saws").entries]
        assert names[-2:] == ["old saw", "new saw"]
        path.write_text("name,korf\nother saw,2\n", encoding="utf-8")
        with pytest.raises(InputError, match="korf"):
            import_list(session, "saws", read_table(path), on=TODAY, good_rows=True)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_list_is_read_from_any_text_file_of_a_spreadsheet(shop, tmp_path, encoding, delimiter):
    path = tmp_path / "customers.csv"
    path.write_bytes(f"name{delimiter}note\r\nJörg Müßig{delimiter}£48\r\n".encode(encoding))
    with shop.session() as session:
        import_list(session, "customers", read_table(path), on=TODAY)
        (entry,) = read_list(session, "customers", find="müßig").entries
    assert entry["note"] == "£48"


# --- history -----------------------------------------------------------------------------------------


def test_a_new_rate_counts_from_its_day_and_leaves_the_old_one(shop):
    with shop.session() as session:
        set_entry(session, "rates", ["rate.welding", "54", "since=2026-04-01"], on=TODAY)
        assert standards_book(session, date(2026, 3, 31)).value("rate.welding") == 50
        assert standards_book(session, date(2026, 4, 1)).value("rate.welding") == 54
        assert standards_book(session, date(2020, 1, 1)).value("rate.welding") == 50


def test_a_rate_without_a_day_counts_from_today(shop):
    with shop.session() as session:
        assert set_entry(session, "rates", ["rate.welding", "54"], on=LATER)[0] == "added"
        assert set_entry(session, "rates", ["rate.welding", "54"], on=LATER)[0] == "kept"
        assert set_entry(session, "rates", ["rate.welding", "55"], on=LATER)[0] == "changed"
        rows = session.scalars(select(StandardRow).where(StandardRow.name == "rate.welding")).all()
        assert {(row.value, row.source) for row in rows if row.since == LATER} == {
            (Decimal(55), "set by the shop")
        }
        assert len(rows) == 2


def test_a_rate_that_quotes_never_use_is_refused(shop):
    with (
        pytest.raises(InputError, match=r"rate.weldin.*did you mean 'rate.welding'"),
        shop.session() as session,
    ):
        set_entry(session, "rates", ["rate.weldin", "54"], on=TODAY)


def test_a_rates_unit_cannot_change(shop):
    with pytest.raises(InputError, match="money/h"), shop.session() as session:
        set_entry(session, "rates", ["rate.welding", "54", "unit=min"], on=TODAY)


# The factor 1.2 in a cell of per cent is read as 120%.
@pytest.mark.parametrize(
    ("name", "refused", "taken"),
    [
        ("rate.welding", "20%", "€54"), ("learning.rate", "€90", "90 %"), ("bend.base", "5%", "5"),
        ("bend.base", "€5", "5"), ("price.material", "120%", "1.2"),
    ],
)  # fmt: skip
def test_a_standard_takes_no_sign_but_that_of_its_unit(shop, name, refused, taken):
    with shop.session() as session:
        with pytest.raises(InputError, match="expected a number from 0"):
            set_entry(session, "rates", [name, refused], on=LATER)
        set_entry(session, "rates", [name, taken], on=LATER)
        assert standards_book(session, LATER).value(name) == Decimal(taken.strip("€ %"))


def test_a_process_of_the_shops_own_may_have_a_rate(shop):
    with shop.session() as session:
        done, table = set_entry(session, "rates", ["weld.deposition.SAW", "4"], on=TODAY)
    assert done == "added" and table.entries[0]["unit"] == "kg/h"


STOCK_WORDS = ["Quillmoor Bar Yard (invented)", "round 12", "S275", "6 m"]


def test_a_new_price_leaves_the_old_one_as_history(shop):
    with shop.session() as session:
        set_entry(session, "stock", [*STOCK_WORDS, "price=1.30"], on=LATER)
        found = [e for e in read_list(session, "stock").entries if _is_round_12(e) and e["from_kg"] == 0]
        assert [(e["price"], e["valid_from"], e["invented"]) for e in found] == [
            (Decimal("1.15"), TODAY, True),
            (Decimal("1.30"), LATER, False),
        ]
        for day, price in ((TODAY, "1.15"), (LATER, "1.30")):
            now = [e for e in read_list(session, "stock", on=day).entries if _is_round_12(e)]
            assert [e["price"] for e in now if e["from_kg"] == 0] == [Decimal(price)]
            assert len(now) == 3  # the mass breaks count on


def test_the_same_price_again_changes_nothing(shop):
    with shop.session() as session:
        assert set_entry(session, "stock", [*STOCK_WORDS, "price=1.15", "basis=kg"], on=LATER)[0] == "kept"
        assert set_entry(session, "stock", [*STOCK_WORDS, "limit=5"], on=LATER)[0] == "changed"
        assert session.scalar(select(func.count()).where(StockPrice.valid_from == LATER)) == 0


def test_a_new_bar_needs_no_price(shop):
    words = ["Tarnside Section Supply (invented)", "round 5/8 in", "A36", "20 ft"]
    with shop.session() as session:
        set_entry(session, "stock", words, on=TODAY)
        set_entry(session, "stock", [*words[:3], "21 ft"], on=TODAY)
        item = session.scalar(select(StockItem).where(StockItem.length == Length.from_inches(252)))
        assert (item.section_key, item.length_text, item.prices) == ("round 15.875", "21 ft", [])


def test_a_price_needs_its_basis(shop):
    words = ["Tarnside Section Supply (invented)", "round 7", "S275", "6 m", "price=3"]
    lacks = "what the price is for, one of bar, kg"
    with pytest.raises(InputError, match=lacks) as caught, shop.session() as session:
        set_entry(session, "stock", words, on=TODAY)
    assert "valid_from" not in caught.value.message
    # "each" is what people say of a whole bar, and sizes may come first.
    with shop.session() as session:
        words[1:2] = ["7 mm round bar"]
        set_entry(session, "stock", [*words, "basis=each"], on=TODAY)
        (entry,) = (one for one in read_list(session, "stock").entries if one["bar"].value == "round 7")
    assert (entry["basis"], entry["valid_from"], entry["bar"].text) == ("bar", TODAY, "7 mm round bar")


def _is_round_12(entry) -> bool:
    return (entry["supplier"], entry["bar"].value, entry["grade"], entry["length"].text) == (
        STOCK_WORDS[0], "round 12", "S275", "6 m",
    )  # fmt: skip


# --- one entry ----------------------------------------------------------------------------------------


def test_setting_changes_only_what_is_given(shop):
    with shop.session() as session:
        set_entry(session, "customers", ["Orla", "email=a@b.example", "phone=1"], on=TODAY)
        done, table = set_entry(session, "customers", ["Orla", "phone=2"], on=TODAY)
    assert done == "changed"
    assert (table.entries[0]["email"], table.entries[0]["phone"]) == ("a@b.example", "2")


@pytest.mark.parametrize(
    ("name", "words", "told"),
    [
        ("customers", ["Orla", "emial=x"], "Did you mean 'email'"),
        ("customers", ["Orla", "more"], "cannot be placed"),
        ("customers", ["tax_exempt=yes"], "name"),
        ("customers", ["Orla", "tax_exempt=perhaps"], "expected yes or no"),
        ("saws", ["new saw"], "kerf"),
        ("saws", ["band saw", "kerf=-1"], "kerf"),
        ("taxes", ["VAT", "101"], "percent"),
        ("grades", ["S275", "tensile_mpa=200"], "at least"),
        ("suppliers", ["x", "currency=euro"], "three letters"),
        ("benders", ["hand bender, bench", "formers=24;24"], "each once"),
        ("stock", ["nobody", "round 12", "S275", "6 m"], "a supplier on file"),
        ("house", ["profit", "30"], "margin 30"),
        ("house", ["profit", "margin 100"], "margin 30"),
        ("house", ["proft", "margin 30"], "did you mean 'profit'"),
        ("house", ["material_basis", "nett"], "did you mean 'net'"),
        ("house", ["locale", "xx_YY"], "en_GB"),
        ("house", ["arc_gap", "0"], "above 0 mm"),
        ("house", ["page_address", "shop.local"], "http://"),
    ],
)
def test_words_that_cannot_be_used_are_told(shop, name, words, told):
    with pytest.raises(InputError, match=told), shop.session() as session:
        set_entry(session, name, words, on=TODAY)


def test_an_unknown_list_is_told():
    with pytest.raises(NotFoundError, match="Did you mean 'stock'"):
        read_list(None, "stok")


def test_one_tax_is_the_default(shop):
    with shop.session() as session:
        set_entry(session, "taxes", ["reduced", "7", "default=yes"], on=TODAY)
        set_entry(session, "taxes", ["none", "0"], on=TODAY)
        rates = {entry["name"]: entry["default"] for entry in read_list(session, "taxes").entries}
    assert rates == {"VAT": False, "reduced": True, "none": False}


def test_margin_and_markup_are_one_house_rule_and_never_both_on_file(shop):
    with shop.session() as session:
        set_entry(session, "house", ["profit", "markup 41.7"], on=TODAY)
        own = session.get(Shop, 1)
        assert (own.margin_pct, own.markup_pct) == (None, Decimal("41.7"))
        _, table = set_entry(session, "house", ["profit", "Margin 28,5"], on=TODAY)
        assert (own.margin_pct, own.markup_pct) == (Decimal("28.5"), None)
    assert table.entries[0]["value"] == "margin 28.5"


def test_house_rules_decide_how_the_next_quote_is_priced(shop):
    with shop.session() as session:
        rules = {"profit": "markup 50", "minimum_order": "75", "bought_markup_pct": "",
                 "credit_offcuts": "yes", "material_basis": "net", "net_share_pct": "8",
                 "arc_gap": "0.5 mm", "bend_datum": "middle",
                 "terms": "Cash.\nNo cheques.", "quote_valid_days": "10"}  # fmt: skip
        for name, value in rules.items():
            assert set_entry(session, "house", [name, value], on=TODAY)[0] == "changed", name
        add_job(session, JobSpec("Peg", "Orla", 1, "mm", parts=(PEG,)), at=datetime(2026, 3, 2, tzinfo=UTC))
        quote = make_quote(session, "J-0001", TODAY)
        bending = bending_shop(session)
    policy = quote.policy
    assert (policy.margin_pct, policy.markup_pct, policy.minimum_order) == (None, Decimal(50), Decimal(75))
    assert (policy.material_basis, policy.net_share_pct, policy.credit_offcuts) == ("net", Decimal(8), True)
    assert (policy.bought_markup_pct, quote.priced.net) == (None, Decimal("75.00"))
    assert (quote.wording.terms, (quote.valid_until - quote.issued_on).days) == ("Cash.\nNo cheques.", 10)
    assert (bending.arc_gap, bending.datum) == (Length.from_mm("0.5"), "middle")


def test_setup_refuses_a_language_that_nobody_knows():
    assert detail_from_text("locale", "fr-FR") == "fr-FR"
    with pytest.raises(InputError, match=r"xx_YY.*en_GB"):
        detail_from_text("locale", "xx_YY")


def test_whatever_the_shop_decides_can_be_told_to_it(shop):
    """Every column of the shop is asked by setup or a house rule."""
    asked = {field.name for field in fields(ShopDetails)}
    ruled = {rule.name for rule in HOUSE_RULES} - {"profit"} | {"margin_pct", "markup_pct"}
    kept_by_the_program = {"id", "invented"}
    assert {column.name for column in Shop.__table__.columns} - asked - ruled == kept_by_the_program


def test_finding_takes_every_word(shop):
    with shop.reading() as session:
        table: ListTable = read_list(session, "stock", find="tarnside ROUND 12 s275")
    assert {(e["supplier"], e["grade"]) for e in table.entries} == {
        ("Tarnside Section Supply (invented)", "S275")
    }


def test_finding_takes_a_dash_or_an_apostrophe_of_any_kind(shop):
    """As entries are one whatever the kind (`folded`), so are the words that seek them."""
    with shop.session() as session:
        set_entry(session, "customers", ["O\u2019Neil\u2011Hart"], on=TODAY)
        assert len(read_list(session, "customers", find="o'neil-HART").entries) == 1


# --- the shop's own way with a bend --------------------------------------------------------------


def part_of(session, section="flat 40 x 6", radius=30, grade="S275"):
    """K and its rule of a bend, as the shop on file answers it."""
    shape = f"leg 200; bend 90 r {radius}; leg 200"
    (bend,) = analyse_part(
        PartSpec("A", "a", 1, section, grade, shape=shape), "mm", bending_shop(session)
    ).bends
    return bend


def test_a_shop_chooses_the_neutral_axis_rule_by_grade_section_and_former(shop):
    with shop.session() as session:
        assert part_of(session).k_rule == "DIN 6935"
        set_entry(session, "k-rules", ["two-step K", "family=mild"], on=TODAY)
        assert part_of(session).k_rule == "two-step K"
        set_entry(session, "k-rules", ["fixed K", "k=0.41", "grade=S275", "section_kind=flat"], on=TODAY)
        assert (part_of(session).k_rule, part_of(session).k) == ("fixed K", 0.41)
        set_entry(session, "k-rules", ["centreline", "former_radius=30"], on=TODAY)
        assert part_of(session).k_rule == "centreline"
        assert part_of(session, radius=40).k_rule == "fixed K"
        assert part_of(session, grade="S235").k_rule == "centreline"
        remove_entry(session, "k-rules", ["centreline"], on=TODAY)
        assert part_of(session).k_rule == "fixed K"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["fixed K"], "k: found nothing"),
        (["fixed K", "k=1.2"], "from 0 to 1"),
        (["DIN 6935", "k=0.4"], "DIN 6935 works its K out"),
        (["two step"], "did you mean 'two-step K'"),
        (["centreline", "grade=S257"], "did you mean 'S275'"),
        (["centreline", "section_kind=rond"], "did you mean 'round'"),
    ],
)
def test_a_faulty_rule_is_answered_with_one_clear_message(shop, words, says):
    with shop.session() as session, pytest.raises(InputError) as caught:
        set_entry(session, "k-rules", words, on=TODAY)
    assert says in str(caught.value)


BEND_TEST = ["2026-03-02", "round 12", "S275", "24 mm", "90"]


def test_recorded_bend_tests_give_k_with_spread_and_over_bend_until_one_is_taken_off(shop):
    with shop.session() as session:
        theory = part_of(session, "round 12", 24)
        for flat, over in ((294.9, 93), (295.5, 94)):
            words = [*BEND_TEST, f"flat_length={flat}", "leg_1=160", "leg_2=160", f"over_bend={over}"]
            set_entry(session, "bend-tests", words, on=TODAY)
        bend = part_of(session, "round 12", 24)
        assert bend.k_rule == "measured K"
        # flat = 160 + 160 - 2 x 36 + pi/2 (24 + 12 K)
        k = [((flat - 248) / (math.pi / 2) - 24) / 12 for flat in (294.9, 295.5)]
        assert bend.k == pytest.approx(sum(k) / 2, abs=1e-9)
        assert bend.k_spread == pytest.approx(abs(k[0] - k[1]) / math.sqrt(2), abs=1e-9)
        assert bend.over_bend_to == pytest.approx(93.5, abs=0.06)  # theory still weighs a little
        assert bend.over_bend_source.startswith("measured on 2")
        assert theory.over_bend_source.startswith("theory")
        with pytest.raises(NotFoundError, match="2 entries have"):
            remove_entry(session, "bend-tests", BEND_TEST, on=TODAY)
        gone = remove_entry(session, "bend-tests", [*BEND_TEST, "flat_length=295.5"], on=TODAY)
        assert gone.entries[0]["over_bend"] == 94
        assert part_of(session, "round 12", 24).k_spread == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["flat_length=200", "leg_1=160", "leg_2=160"], "it must lie from 0 to 1"),
        (["flat_length=295", "leg_1=160"], "leg_2: found nothing"),
        (["over_bend=80"], "not less than the angle that was left"),
    ],
)
def test_a_bend_test_that_cannot_be_true_is_refused_when_it_is_recorded(shop, words, says):
    with shop.session() as session, pytest.raises(InputError) as caught:
        set_entry(session, "bend-tests", [*BEND_TEST, *words], on=TODAY)
    assert says in str(caught.value)


def test_what_can_be_done_with_an_entry_is_offered_by_the_command_line():
    assert {name for name, found in LISTS.items() if found.removable} == set(REMOVABLE)
    assert {name for name, found in LISTS.items() if found.retirable} == set(RETIRABLE)


# Words of an entry that a job, an order or a price of the shop refers to, by list.
IN_USE = {
    "customers": ["Orla Fennimore"], "suppliers": ["Tarnside Section Supply (invented)"], "grades": ["S275"],
}  # fmt: skip
ROD = PartSpec("A", "rod", 1, "round 12", "S275", length=Measure.parse("900", "mm"))
ROD_JOB = JobSpec("Rod", "Orla Fennimore", 1, "mm", parts=(ROD,))


def test_what_something_refers_to_is_not_removed_but_retired(shop):
    with shop.session() as session:
        add_job(session, ROD_JOB, at=datetime(2026, 3, 2, tzinfo=UTC))
        for name, words in IN_USE.items():
            with pytest.raises(InputError, match=r"stands in .*\(\d+\)") as caught:
                remove_entry(session, name, [words[0].upper()], on=TODAY)
            assert f'shopquote {name} retire "{words[0]}"' in str(caught.value)
        for name in ("saws", "taxes"):
            default = next(entry for entry in read_list(session, name).entries if entry["default"])
            with pytest.raises(InputError, match="another the default"):
                remove_entry(session, name, [default["name"]], on=TODAY)
            with pytest.raises(InputError, match="another the default"):
                retire_entry(session, name, [default["name"]], on=TODAY)


def test_what_nothing_refers_to_is_removed(shop):
    with shop.session() as session:
        set_entry(session, "customers", ["Mistyped"], on=TODAY)
        set_entry(session, "taxes", ["Levy", "3"], on=TODAY)
        set_entry(session, "rates", ["rate.welding", "77", "since=2026-02-01"], on=TODAY)
        for name, words in (
            ("customers", ["mistyped"]), ("taxes", ["Levy"]), ("rates", ["rate.welding", "since=2026-02-01"]),
            ("benders", ["hand bender, bench"]),
            ("stock", ["Tarnside Section Supply (invented)", "round 12", "S275", "6 m"]),
        ):  # fmt: skip
            before = len(read_list(session, name).entries)
            remove_entry(session, name, words, on=TODAY)
            assert len(read_list(session, name).entries) < before, name
        with pytest.raises(NotFoundError):
            remove_entry(session, "customers", ["Mistyped"], on=TODAY)


@pytest.mark.parametrize("day", [[], [f"valid_from={LATER}"]])
def test_a_price_set_for_one_mass_leaves_the_others_in_force(shop, day):
    with shop.session() as session:
        before = [e for e in read_list(session, "stock", on=LATER).entries if _is_round_12(e)]
        assert len({entry["from_kg"] for entry in before}) > 1
        set_entry(session, "stock", [*STOCK_WORDS, "price=1.30", *day], on=LATER)
        after = [e for e in read_list(session, "stock", on=LATER).entries if _is_round_12(e)]
        assert [(e["from_kg"], e["price"]) for e in after] == [
            (e["from_kg"], Decimal("1.30") if e["from_kg"] == 0 else e["price"]) for e in before
        ]
        # What the list shows is what a quote buys by.
        round_12 = (
            Supplier.name == STOCK_WORDS[0],
            StockItem.section_key == "round 12",
            StockItem.grade == "S275",
        )
        query = select(StockItem).join(Supplier).where(*round_12, StockItem.length_text == "6 m")
        item = session.scalars(query).one()
        steps, since = prices_on(item.prices, LATER)
        assert [(kg, price) for kg, price, _ in steps] == [(e["from_kg"], e["price"]) for e in after]
        assert since == LATER


def test_a_bar_that_was_listed_without_a_price_is_removed(shop):
    words = ["Tarnside Section Supply (invented)", "round 13.7", "S275", "6 m"]
    with shop.session() as session:
        set_entry(session, "stock", words, on=TODAY)
        before = len(read_list(session, "stock").entries)
        gone = remove_entry(session, "stock", words, on=TODAY)
        assert gone.entries[0]["price"] is None
        assert len(read_list(session, "stock").entries) == before - 1
        # Priced afterwards it is one entry still, and goes with its price.
        set_entry(session, "stock", words, on=TODAY)
        set_entry(session, "stock", [*words, "price=12", "basis=bar"], on=TODAY)
        assert len(read_list(session, "stock").entries) == before
        remove_entry(session, "stock", words, on=TODAY)
        assert len(read_list(session, "stock").entries) == before - 1


def test_nothing_new_uses_what_is_retired_and_what_is_on_file_still_does(shop):
    with shop.session() as session:
        number = add_job(session, ROD_JOB, at=datetime(2026, 3, 2, tzinfo=UTC)).number

        def sellers():
            return {bar.supplier for one in draft_quote(session, number, TODAY).document.materials
                    for bar in one.plan.bars}  # fmt: skip

        (seller,) = sellers()
        assert retire_entry(session, "suppliers", [seller], on=TODAY)[0] == "retired"
        assert seller not in sellers()
        retire_entry(session, "customers", ["Orla Fennimore"], on=TODAY)
        with pytest.raises(InputError, match="retired"):
            add_job(session, ROD_JOB, at=datetime(2026, 3, 2, tzinfo=UTC))
        retire_entry(session, "grades", ["S275"], on=TODAY)
        assert load_job(session, number).spec == ROD_JOB and draft_quote(session, number, TODAY)
        with pytest.raises(InputError, match="a grade on file"):
            read_job_text(write_job_text(ROD_JOB), "rod.toml", grades=bending_shop(session).grades)
        retire_entry(session, "benders", ["hand bender, bench"], on=TODAY)
        assert "hand bender, bench" not in {bender.name for bender in bending_shop(session).benders}
        assert set_entry(session, "grades", ["S275", "retired=no"], on=TODAY)[0] == "changed"
        with pytest.raises(NotFoundError):
            retire_entry(session, "grades", ["S999"], on=TODAY)


def test_pieces_of_sheet_come_off_no_sheet_that_is_retired(shop):
    size = {"length": Measure.parse("490", "mm"), "width": Measure.parse("260", "mm")}
    plate = replace(ROD_JOB, parts=(PartSpec("P", "plate", 20, "sheet 3", "S275", **size),))
    with shop.session() as session:
        items = items_of_job(session, add_job(session, plate, at=datetime(2026, 3, 2, tzinfo=UTC)).number)
        for row in session.scalars(select(StockItem)):
            session.delete(row)
        wide = StockItem(
            supplier=session.scalars(select(Supplier)).first(), section_key="sheet 1000 x 3", grade="S275",
            section_text="sheet 1000 x 3", length=Length.from_mm(2000), length_text="2000",
        )  # fmt: skip
        session.add(wide)
        session.flush()
        assert sheets_of(session, items, ())
        for row in (wide, wide.supplier):
            row.retired = True
            session.flush()
            assert not sheets_of(session, items, ())
            row.retired = False
            session.flush()
        assert sheets_of(session, items, ())


@pytest.mark.parametrize("columns", [60, 80, 100, 200])
def test_a_list_never_cuts_a_figure_short_in_the_terminal(shop, capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    with shop.session() as session:
        fill_with_awkward_text(session)
        tables = [read_list(session, name) for name in ("stock", "grades", "benders", "bend-tests")]
    for table in tables:
        show_list(table, as_json=False)
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) <= columns for line in lines)
    text = " ".join("\n".join(lines).split())
    for figure in ("2026-03-02", "93.5", "1200", "elongation", "high-strength", "S275"):
        assert figure in text


def test_setup_looks_at_the_logo_and_the_e_mail_before_it_keeps_them(tmp_path):
    with pytest.raises(InputError, match="no file"):
        detail_from_text("logo_path", str(tmp_path / "none.png"))
    (tmp_path / "logo.txt").write_text("x")
    with pytest.raises(InputError, match="not a picture"):
        detail_from_text("logo_path", str(tmp_path / "logo.txt"))
    assert detail_from_text("logo_path", "") == detail_from_text("logo_path", "none") == ""
    for slip in ("office", "office@", "a@b", "two words@shop.example"):
        with pytest.raises(InputError, match="E-mail"):
            detail_from_text("email", slip)
    assert detail_from_text("email", "office@shop.example") == "office@shop.example"


def test_a_logo_that_cannot_be_printed_is_refused_at_every_door(shop, tmp_path, monkeypatch):
    """A text called PNG stopped the quote, half a picture its PDF."""
    whole = BytesIO()
    Image.new("RGB", (60, 60), (20, 90, 60)).save(whole, "PNG")
    monkeypatch.chdir(tmp_path)
    for name, content in (
        ("text.png", b"no picture"),
        ("half.png", whole.getvalue()[:70]),
        ("nothing.png", b""),
    ):
        (tmp_path / name).write_bytes(content)
        assert "The quote has no logo." in logo_fault(name)
        with pytest.raises(InputError, match="logo_path"), shop.session() as session:
            set_entry(session, "house", ["logo_path", name], on=TODAY)
        with pytest.raises(InputError, match="Logo"):
            detail_from_text("logo_path", name)
    (tmp_path / "ours.png").write_bytes(whole.getvalue())
    with shop.session() as session:
        set_entry(session, "house", ["logo_path", "ours.png"], on=TODAY)
        assert session.get(Shop, 1).logo_path == str(tmp_path / "ours.png")
    (tmp_path / "ours.png").unlink()
    with shop.session() as session:  # what stood there before is not looked for again
        path = exported(session, "house", tmp_path / "house.csv")
        assert import_list(session, "house", read_table(path), on=TODAY).changed == 0


def test_a_rate_of_a_later_day_keeps_its_spread_and_is_seen(shop):
    with shop.session() as session:
        set_entry(session, "rates", ["rate.welding", "50", "spread_pct=5"], on=TODAY)
        set_entry(session, "rates", ["rate.welding", "62", "since=2027-01-01"], on=TODAY)
        set_entry(session, "rates", ["rate.welding", "64", "since=2027-02-01", "spread_pct=9"], on=TODAY)
        set_entry(session, "rates", ["rate.welding", "66", "since=2027-03-01"], on=TODAY)
        listed = read_list(session, "rates", on=TODAY, find="rate.welding").entries
    assert [(one["value"], one["spread_pct"]) for one in listed] == [
        (50, 5), (62, 5), (64, 9), (66, 9),
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["customers", "suppliers"])
def test_an_e_mail_that_is_none_is_refused_in_every_list_as_the_shop_s_own_is(shop, name):
    with shop.session() as session:
        for slip in ("nonsense", "a b@c.example", "office@home"):
            with pytest.raises(InputError, match=r"office@hammerwright\.example"):
                set_entry(session, name, ["Zed", f"email={slip}"], on=TODAY)
        set_entry(session, name, ["Zed", "email=zed@home.example"], on=TODAY)
        set_entry(session, name, ["Zed", "email="], on=TODAY)


def test_a_list_without_one_good_row_is_refused_also_where_good_rows_are_taken(shop, tmp_path):
    path = tmp_path / "customers.csv"
    path.write_text("name,tax_exempt\nBob,maybe\nAl,perhaps\n", encoding="utf-8")
    with shop.session() as session, pytest.raises(InputError) as caught:
        import_list(session, "customers", read_table(path), on=TODAY, good_rows=True)
    assert [fault.mark for fault in caught.value.faults] == ["row 2", "row 3"]


def test_an_export_with_a_cell_that_is_refused_today_is_read_back(any_shop, tmp_path):
    """An older program took any words for an e-mail; unchanged they stay, other ones are refused."""
    with any_shop.session() as session:
        session.add(Customer(name="Old Mail", email="ask at the desk"))
    with any_shop.reading() as session:
        path = exported(session, "customers", tmp_path / "customers.csv")
    with any_shop.session() as session:
        result = import_list(session, "customers", read_table(path), on=LATER)
        assert (result.changed, result.left_out) == (0, ())
        assert session.scalars(select(Customer.email)).all() == ["ask at the desk"]
    path.write_text(path.read_text(encoding="utf-8").replace("the desk", "the door"), encoding="utf-8")
    with any_shop.session() as session, pytest.raises(InputError, match=r"row 2, email: found 'ask at the d"):
        import_list(session, "customers", read_table(path), on=LATER)
