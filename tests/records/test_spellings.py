"""Doubles of older databases are joined, told, and found by the check; on both databases."""

import json
from zipfile import ZipFile

import pytest
from sqlalchemy import MetaData, insert, select
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.records.benders import BendTestRow, KRuleRow
from shopquote.records.engine import make_engine
from shopquote.records.materials import GradeRow, StockItem, StockPrice
from shopquote.records.people import Customer, Supplier
from shopquote.records.rack import RackPiece
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.database import database_url, open_database, upgrade_database
from tests.records.test_upgrade import row_of

BEFORE = "0006"
CHECK = "nothing stands twice in two spellings"


@pytest.fixture(params=["sqlite", "postgresql"])
def bare_url(request, tmp_path) -> str:
    if request.param == "sqlite":
        return str(tmp_path / "old.db")
    return request.getfixturevalue("bare_postgres_url")


def fill(url: str) -> None:
    upgrade_database(url, to=BEFORE)
    engine = make_engine(database_url(url))
    tables = MetaData()
    tables.reflect(engine)
    rows = [
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
    ]  # fmt: skip
    empty = {"promised_job_id", "used_job_id", "received_bar_id", "replaces_id"}
    with engine.begin() as connection:
        for name, values in rows:
            table = tables.tables[name]
            row = row_of(table) | {column: None for column in empty if column in table.columns} | values
            connection.execute(insert(table).values(row))
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
        session.add(KRuleRow(rule="fixed K", grade="s275"))
        session.add(KRuleRow(rule="fixed K", grade="S275"))
        session.flush()
        told = {result.name: result.faults for result in run_checks(session)}[CHECK]
    assert "customers: 'Ada Marsh' and 'ada  marsh' are one" in told
    assert "k-rules says grade 's275' for 'S275'" in told
    assert any(line.startswith("k-rules: row") for line in told)
