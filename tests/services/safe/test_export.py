"""Everything as open tables and back: equal to the byte, on both kinds of database; damage is told."""

import csv
import io
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import text

from shopquote.errors import DatabaseError, InputError
from shopquote.records.people import Customer
from shopquote.services.safe.checks import run_checks
from shopquote.services.safe.export import export_all, import_all
from shopquote.services.shop.database import open_database
from shopquote.services.shop.database_places import certificate_folder
from shopquote.services.shop.doing import at_the_command_line
from tests.services.safe.planted_shop import certificate_folder_of, make_busy_shop

AT = datetime(2026, 3, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def exported(_shop_file, tmp_path_factory):
    """An export of a shop in which everything has happened, with texts that are hard to keep apart."""
    folder = tmp_path_factory.mktemp("exported")
    path = make_busy_shop(_shop_file, folder)
    with (
        open_database(str(path)) as database,
        at_the_command_line(["customers"]),
        database.session() as session,
    ):
        for name in ("\\N", "\\", "a\r\nb", 'c"d,e;f', "=1+1", "Größe 日本", " blanks "):
            session.add(Customer(name=name, note="", address=name))
    export_all(str(path), folder / "all.zip", at=AT)
    return folder / "all.zip"


def members(path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_back_in_a_new_database_it_gives_the_same_export(exported, kind, tmp_path, request):
    target = str(tmp_path / "new.db") if kind == "sqlite" else request.getfixturevalue("bare_postgres_url")
    done = import_all(exported, target)
    assert done.rows["quotes"] == 4 and done.certificates == 1
    with open_database(target) as database, database.reading() as session:
        assert [
            result for result in run_checks(session, certificate_folder(database.url)) if result.found
        ] == []
    export_all(target, tmp_path / "again.zip", at=AT)
    before, after = members(exported), members(tmp_path / "again.zip")
    assert list(before) == list(after)
    assert [name for name in before if before[name] != after[name]] == []


def test_what_is_read_after_an_export_keeps_its_usual_bound(exported, tmp_path):
    usual = csv.field_size_limit()
    import_all(exported, str(tmp_path / "again.db"))
    assert csv.field_size_limit() == usual


def test_the_tables_are_open(exported):
    held = members(exported)
    note = json.loads(held["description.json"])
    rows = list(csv.DictReader(io.StringIO(held["quotes.csv"].decode(), newline="")))
    assert note["tables"]["quotes"]["columns"]["net"] == "amount"
    assert Decimal(rows[0]["net"]) + Decimal(rows[0]["tax"]) == Decimal(rows[0]["total"])
    assert (rows[0]["issued_on"], rows[0]["decided_on"]) == ("2026-03-09", "\\N")
    bars = list(csv.DictReader(io.StringIO(held["rack_pieces.csv"].decode(), newline="")))
    assert note["tables"]["rack_pieces"]["columns"]["length"] == "length in mm"
    assert bars[0]["length"] == "6000"


def test_what_was_altered_or_is_no_export_is_told_and_leaves_nothing(exported, tmp_path):
    altered = tmp_path / "altered.zip"
    with zipfile.ZipFile(exported) as old, zipfile.ZipFile(altered, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"Wyn", b"Wim"))
    shutil.copy(exported, tmp_path / "half.zip")
    (tmp_path / "half.zip").write_bytes(exported.read_bytes()[:5000])
    (tmp_path / "none.zip").write_bytes(b"")
    for name in ("altered.zip", "half.zip", "none.zip", "absent.zip"):
        with pytest.raises(InputError):
            import_all(tmp_path / name, str(tmp_path / "new.db"))
        assert not list(tmp_path.glob("new.*"))
    (tmp_path / "there.db").write_bytes(b"mine")
    with pytest.raises(DatabaseError, match="already"):
        import_all(exported, str(tmp_path / "there.db"))
    assert (tmp_path / "there.db").read_bytes() == b"mine"
    assert certificate_folder_of(tmp_path / "new.db").exists() is False


def test_a_damaged_certificate_in_an_export_leaves_no_database(exported, tmp_path):
    name = next(name for name in members(exported) if name.startswith("certificates/"))
    held = bytearray(exported.read_bytes())
    with zipfile.ZipFile(exported) as archive:
        begins = archive.getinfo(name).header_offset
    content_begins = begins + 30 + len(name)  # after the fixed local header and the member's name
    held[content_begins] ^= 0xFF
    (tmp_path / "damaged.zip").write_bytes(held)
    with pytest.raises(InputError, match="damaged"):
        import_all(tmp_path / "damaged.zip", str(tmp_path / "new.db"))
    assert not list(tmp_path.glob("new.*"))


@pytest.mark.parametrize(
    "statement",
    ["UPDATE standards SET since = '226-03-09'", "UPDATE suppliers SET column_map = '[['"],
)
def test_a_value_that_cannot_be_read_is_told_with_its_table_and_nothing_is_written(shop, tmp_path, statement):
    with shop.session() as session:
        session.execute(text(statement))
    with pytest.raises(DatabaseError, match=f"in the table {statement.split()[1]} cannot be read"):
        export_all(shop.url.database, tmp_path / "all.zip", at=AT)
    assert not (tmp_path / "all.zip").exists()


@pytest.mark.parametrize(
    ("statement", "table"),
    [
        ("UPDATE shop SET units = 'ells'", "shop"),
        ("UPDATE stock_prices SET stock_item_id = 99999 WHERE id = 1", "stock_prices"),
    ],
)
def test_rows_that_break_a_rule_of_the_records_are_refused_with_their_table(shop, tmp_path, statement, table):
    with closing(sqlite3.connect(shop.url.database)) as bare:
        bare.executescript(f"PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON; {statement}")
        bare.commit()
    export_all(shop.url.database, tmp_path / "all.zip", at=AT)
    new = tmp_path / "elsewhere" / "new.db"
    with pytest.raises(InputError, match=f"{table}.csv holds a row that breaks a rule"):
        import_all(tmp_path / "all.zip", str(new))
    assert not list(Path(new.parent).iterdir())
