"""Doubles of older databases are joined, told, and found by the check; on both databases."""

import json
from datetime import date
from zipfile import ZipFile

import pytest
from sqlalchemy import MetaData, insert, select
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.records.benders import BenderRow, BendTestRow, KRuleRow
from shopquote.records.crew import DaysOffRow, PersonRow
from shopquote.records.engine import make_engine
from shopquote.records.logs import OutsideBill, ScrapNote, TimeEntry
from shopquote.records.materials import GradeRow, StockItem, StockPrice
from shopquote.records.page import FloorEntry
from shopquote.records.people import Customer, Supplier
from shopquote.records.rack import RackPiece
from shopquote.records.shop import Saw, TaxRow
from shopquote.records.standards import StandardRow
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.database import open_database, upgrade_database
from shopquote.services.shop.database_places import database_url
from tests.records.test_upgrade import row_of

BEFORE = "0006"
CHECK = "nothing stands twice in two spellings"


@pytest.fixture(params=["sqlite", "postgresql"])
def bare_url(request, tmp_path) -> str:
    if request.param == "sqlite":
        return str(tmp_path / "old.db")
    return request.getfixturevalue("bare_postgres_url")


def fill(url: str) -> None:
    put(url, BEFORE, [
        ("grades", {"id": 1, "name": "S275"}), ("grades", {"id": 2, "name": "s 275"}),
        ("customers", {"id": 1, "name": "Orla Fennimore", "phone": ""}),
        ("customers", {"id": 2, "name": "ORLA  fennimore", "phone": "0300 5"}),
        ("suppliers", {"id": 1, "name": "Tarnside"}), ("suppliers", {"id": 2, "name": "tarnside "}),
        ("jobs", {"id": 1, "customer_id": 2}),
        ("orders", {"id": 1, "supplier_id": 2}),
        ("stock_items", {"id": 1, "supplier_id": 1, "section_key": "round 12", "grade": "S275", "length": 6}),
        ("stock_items", {"id": 2, "supplier_id": 2, "section_key": "round 12", "grade": "s275", "length": 6}),
        ("stock_prices", {"id": 1, "stock_item_id": 1, "break_kg": 0}),
        ("stock_prices", {"id": 2, "stock_item_id": 2, "break_kg": 0}),
        ("stock_prices", {"id": 3, "stock_item_id": 2, "break_kg": 500}),
        ("k_rules", {"id": 1, "grade": "S275", "k": 420_000}),
        ("k_rules", {"id": 2, "grade": "s-275", "k": 430_000}),
        ("bend_tests", {"id": 1, "grade": "S275", "note": "first"}),
        ("bend_tests", {"id": 2, "grade": "s275", "note": "again"}),
        ("rack_pieces", {"id": 1, "code": "R-0001", "grade": "s275", "heat": "ab 12", "state": "free"}),
    ])  # fmt: skip


def put(url: str, schema: str, rows: list[tuple[str, dict[str, object]]]) -> None:
    """A database of an older schema with these rows."""
    upgrade_database(url, to=schema)
    engine = make_engine(database_url(url))
    tables = MetaData()
    tables.reflect(engine)
    empty = {"promised_job_id", "used_job_id", "received_bar_id", "replaces_id"}
    try:
        with engine.begin() as connection:
            for name, values in rows:
                table = tables.tables[name]
                row = row_of(table) | {column: None for column in empty if column in table.columns} | values
                connection.execute(insert(table).values(row))
    finally:
        engine.dispose()


def test_doubles_are_joined_and_told(bare_url):
    fill(bare_url)
    told: list[str] = []
    upgrade_database(bare_url, tell=told.append)
    with open_database(bare_url) as database, database.reading() as session:
        assert session.scalars(select(GradeRow.name)).all() == ["S275"]
        (customer,) = session.scalars(select(Customer))
        assert (customer.name, customer.phone) == ("Orla Fennimore", "0300 5")
        assert session.scalars(select(Supplier.name)).all() == ["Tarnside"]
        (item,) = session.scalars(select(StockItem))
        assert (item.grade, item.supplier_id) == ("S275", 1)
        assert sorted(session.scalars(select(StockPrice.id))) == [1, 3]
        (rule,) = session.scalars(select(KRuleRow))
        assert (rule.grade, float(rule.k)) == ("S275", 0.43)
        (test,) = session.scalars(select(BendTestRow))
        assert (test.grade, test.note) == ("S275", "first; again")
        (piece,) = session.scalars(select(RackPiece))
        assert (piece.grade, piece.heat) == ("S275", "AB12")
        assert {result.name: result.faults for result in run_checks(session)}[CHECK] == ()
    text = "\n".join(told)
    for words in (
        "grades: 's 275' joined with 'S275'", "customers: 'ORLA  fennimore' joined with 'Orla Fennimore'",
        "suppliers: 'tarnside ' joined with 'Tarnside'", "stock: ", "two rules for S275", "bend-tests: ",
        "heat 'ab 12' is now 'AB12'",
    ):  # fmt: skip
        assert words in text


def test_names_that_differ_in_case_are_joined_wherever_they_stand(bare_url):
    held = {"retired": False, "is_default": False}
    bender = {
        "largest_moment_nm": 2_000_000_000,
        "mark_at": "start",
        "works_by": "draw",
        "note": "",
        "retired": False,
    }
    saw = {"kerf": 2_500_000} | held
    piece = {"grade": "S275", "state": "free"}
    put(bare_url, "0034", [
        ("benders", bender | {"id": 1, "name": "Hand bender", "lever": 400_000_000, "retired": True,
                              "pins": [24_000_000]}),
        ("benders", bender | {"id": 2, "name": "HAND  bender", "lever": 500_000_000, "note": "by the door",
                              "pins": [24_000_000, 30_500_000]}),
        ("formers", {"id": 1, "bender_id": 1, "radius": 20_000_000, "name": "", "largest": None}),
        ("formers", {"id": 2, "bender_id": 2, "radius": 20_000_000, "name": "", "largest": 12_000_000}),
        ("formers", {"id": 3, "bender_id": 2, "radius": 24_000_000, "name": "Big", "largest": 16_000_000}),
        ("formers", {"id": 4, "bender_id": 2, "radius": 24_000_000, "name": "BIG", "largest": 20_000_000}),
        ("saws", saw | {"id": 1, "name": "Band saw"}),
        ("saws", saw | {"id": 2, "name": "band saw", "kerf": 3_000_000, "is_default": True}),
        ("tax_rates", held | {"id": 1, "name": "VAT", "percent": 20_000_000, "is_default": True}),
        ("tax_rates", held | {"id": 2, "name": "vat", "percent": 19_000_000}),
        ("standards", {"id": 1, "name": "bending.hit.ring", "value": 500_000, "since": date(2026, 1, 1)}),
        ("standards", {"id": 2, "name": "bending.hit.Ring", "value": 600_000, "since": date(2026, 1, 1)}),
        ("standards", {"id": 3, "name": "bending.hit.RING", "value": 700_000, "since": date(2026, 2, 1)}),
        ("rack_pieces", piece | {"id": 1, "code": "R-0001", "place": "Bay 1"}),
        ("rack_pieces", piece | {"id": 2, "code": "R-0002", "place": " bay  1"}),
        ("customers", {"id": 1}), ("jobs", {"id": 1}), ("people", {"id": 1, "name": "Ada Marsh"}),
        ("time_entries", {"id": 1, "person": "ada marsh", "kind": "work"}),
        ("time_entries", {"id": 2, "person": "Bo", "kind": "work", "source": "sheet"}),
        ("scrap_notes", {"id": 1, "person": "BO"}),
        ("floor_entries", {"id": 1, "person": " ADA  Marsh", "kind": "start", "photo": None}),
        ("suppliers", {"id": 1, "name": "Tarnside"}),
        ("outside_bills", {"id": 1, "supplier": "TARNSIDE", "supplier_id": None}),
        ("outside_bills", {"id": 2, "supplier": "Dipwell", "supplier_id": None, "source": "a"}),
        ("outside_bills", {"id": 3, "supplier": "dipwell ", "supplier_id": None, "source": "b"}),
    ])  # fmt: skip
    told: list[str] = []
    upgrade_database(bare_url, tell=told.append)
    with open_database(bare_url) as database, database.reading() as session:
        (hand,) = session.scalars(select(BenderRow))
        assert (hand.name, float(hand.lever.mm), hand.note, hand.retired) == (
            "Hand bender", 400, "by the door", False,
        )  # fmt: skip
        formers = [
            (float(one.radius.mm), one.name, one.largest and float(one.largest.mm)) for one in hand.formers
        ]
        assert formers == [(20, "", 12), (24, "Big", 16)]
        (saw,) = session.scalars(select(Saw))
        assert (saw.name, float(saw.kerf.mm), saw.is_default) == ("Band saw", 2.5, True)
        assert [(tax.name, int(tax.percent)) for tax in session.scalars(select(TaxRow))] == [("VAT", 20)]
        rates = session.execute(select(StandardRow.name, StandardRow.value).order_by(StandardRow.since))
        assert [(name, float(value)) for name, value in rates] == [
            ("bending.hit.ring", 0.6), ("bending.hit.ring", 0.7),
        ]  # fmt: skip
        assert session.scalars(select(RackPiece.place).distinct()).all() == ["Bay 1"]
        for column, spelt in (
            (TimeEntry.person, ["Ada Marsh", "Bo"]), (ScrapNote.person, ["Bo"]),
            (FloorEntry.person, ["Ada Marsh"]),
        ):  # fmt: skip
            assert session.scalars(select(column).order_by(column)).all() == spelt
        assert session.scalars(select(OutsideBill.supplier).order_by(OutsideBill.id)).all() == [
            "Tarnside", "Dipwell", "Dipwell",
        ]  # fmt: skip
        assert {result.name: result.faults for result in run_checks(session)}[CHECK] == ()
    text = "\n".join(told)
    for words in (
        "benders: 'HAND  bender' joined with 'Hand bender'; gone: lever 500, 400 stays, "
        "pins 24 and 30.5, 24 stays",
        "formers of 24 mm: 'BIG' joined with 'Big'; gone: largest 20, 16 stays",
        "saws: 'band saw' joined with 'Band saw'; gone: kerf 3, 2.5 stays",
        "taxes: 'vat' joined with 'VAT'; gone: percent 19, 20 stays",
        "two values of bending.hit.ring from 2026-01-01; the later, 0.6 stays, 0.5 is gone",
        "the rack: place ' bay  1' is now 'Bay 1'", "logged minutes: person 'ada marsh' is now 'Ada Marsh'",
        "scrapped pieces: person 'BO' is now 'Bo'",
        "entries of the floor: person ' ADA  Marsh' is now 'Ada Marsh'",
        "bills: supplier 'TARNSIDE' is now 'Tarnside'", "supplier 'dipwell ' is now 'Dipwell'",
    ):  # fmt: skip
        assert words in text


def test_names_that_differ_in_dashes_and_letter_forms_are_joined(bare_url):
    held = {"retired": False, "invented": False, "currency": "EUR"}
    bar = {"section_key": "round 12", "length": 6, "tolerance": 1}
    piece = {"grade": "S275", "state": "free"}
    put(bare_url, "0035", [
        ("grades", {"id": 1, "name": "S275", "retired": True}),
        ("grades", {"id": 2, "name": "\uff33275", "retired": False}),
        ("suppliers", held | {"id": 1, "name": "O'Neil Bar-Yard", "delivery_charge": 5_000_000}),
        ("suppliers", held | {"id": 2, "name": "O\u2019Neil Bar\u2011Yard", "delivery_charge": 9_000_000}),
        ("stock_items", bar | {"id": 1, "supplier_id": 1, "grade": "S275"}),
        ("stock_items", bar | {"id": 2, "supplier_id": 2, "grade": "\uff33275"}),
        ("orders", {"id": 1, "supplier_id": 2}),
        ("rack_pieces", piece | {"id": 1, "code": "R-0001", "heat": "AB\u201112", "place": "Bay\u20111"}),
        ("rack_pieces", piece | {"id": 2, "code": "R-0002", "heat": "AB-12", "place": "Bay-1"}),
        ("people", {"id": 1, "name": "Zo\u00eb", "hours": 38_000_000, "operations": []}),
        ("people", {"id": 2, "name": "Zoe\u0308", "hours": 20_000_000, "operations": []}),
        ("days_off", {"id": 1, "first": date(2026, 1, 5), "last": date(2026, 1, 9), "person": "Zoe\u0308"}),
        ("days_off", {"id": 2, "first": date(2026, 1, 5), "last": date(2026, 1, 6), "person": "Zo\u00eb"}),
        ("days_off", {"id": 3, "first": date(2026, 2, 5), "last": date(2026, 2, 6), "person": "Zoe\u0308"}),
        ("customers", {"id": 1}), ("jobs", {"id": 1}),
        ("time_entries", {"id": 1, "person": "Zoe\u0308", "kind": "work"}),
    ])  # fmt: skip
    told: list[str] = []
    upgrade_database(bare_url, tell=told.append)
    with open_database(bare_url) as database, database.reading() as session:
        (grade,) = session.scalars(select(GradeRow))
        assert (grade.name, grade.retired) == ("S275", False)
        assert session.scalars(select(Supplier.name)).all() == ["O'Neil Bar-Yard"]
        (item,) = session.scalars(select(StockItem))
        assert (item.supplier_id, item.grade) == (1, "S275")
        assert session.scalars(select(RackPiece.heat).distinct()).all() == ["AB-12"]
        assert len(session.scalars(select(RackPiece.place).distinct()).all()) == 1
        (person,) = session.scalars(select(PersonRow))
        assert (person.name, person.hours) == ("Zo\u00eb", 38)
        assert session.scalars(select(TimeEntry.person)).all() == ["Zo\u00eb"]
        off = session.execute(
            select(DaysOffRow.first, DaysOffRow.last, DaysOffRow.person).order_by(DaysOffRow.id)
        )
        assert off.all() == [
            (date(2026, 1, 5), date(2026, 1, 6), "Zo\u00eb"),
            (date(2026, 2, 5), date(2026, 2, 6), "Zo\u00eb"),
        ]
        assert {result.name: result.faults for result in run_checks(session)}[CHECK] == ()
    text = "\n".join(told)
    for words in (
        "delivery_charge 9, 5 stays",
        "hours 20, 38 stays",
        "heat 'AB\u201112' is now 'AB-12'",
        "days-off: ",
    ):
        assert words in text


def test_every_upgrade_on_the_way_tells_what_it_joined(tmp_path):
    fill(str(tmp_path / "old.db"))
    backup = tmp_path / "old.zip"
    with ZipFile(backup, "w") as archive:
        archive.writestr("backup.json", json.dumps({"schema": BEFORE}))
        archive.write(tmp_path / "old.db", "shop.db")
    restored, set_up = str(tmp_path / "restored.db"), str(tmp_path / "old.db")
    for words in (
        ("db", "restore", str(backup), "--db", restored), ("setup", "--yes", "--db", set_up),
    ):  # fmt: skip
        told = CliRunner().invoke(app, words)
        assert told.exit_code == 0, told.output
        assert "grades: 's 275' joined with 'S275'" in told.output
    again = CliRunner().invoke(app, ["db", "restore", str(backup), "--db", str(tmp_path / "b.db"), "--json"])
    assert any("'s 275' joined" in line for line in json.loads(again.stdout)["joined"])


def test_the_check_finds_doubles(any_shop):
    with any_shop.session() as session:
        session.add(Customer(name="Ada Marsh"))
        session.add(Customer(name="ada  marsh"))
        session.add(StandardRow(name="bending.hit.Ring", unit="min", value=1, since=date(2026, 1, 1)))
        session.add(StandardRow(name="bending.hit.ring", unit="min", value=1, since=date(2026, 2, 1)))
        session.add(KRuleRow(rule="fixed K", grade="s275"))
        session.add(KRuleRow(rule="fixed K", grade="S275"))
        session.flush()
        told = {result.name: result.faults for result in run_checks(session)}[CHECK]
    assert "customers: 'Ada Marsh' and 'ada  marsh' are one" in told
    assert "rates: 'bending.hit.Ring' and 'bending.hit.ring' are one" in told
    assert "k-rules says grade 's275' for 'S275'" in told
    assert any(line.startswith("k-rules: row") for line in told)
