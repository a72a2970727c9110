"""An old database, full of rows, is upgraded with all its data; all or nothing."""

import json
from datetime import date
from decimal import Decimal as D
from pathlib import Path

import pytest
from sqlalchemy import JSON, BigInteger, Boolean, Date, Integer, MetaData, Table, insert, select, text

from shopquote.errors import DatabaseError
from shopquote.records import schema
from shopquote.records.copies import CopyDiffersError, copy_to_file
from shopquote.records.engine import copy_sqlite, make_engine
from shopquote.records.places import migrations_folder
from shopquote.records.tables import metadata
from shopquote.services.safe.backup import restore
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.database import open_database, upgrade_database
from shopquote.services.shop.database_places import database_url, sqlite_path

OLD = "0001"
# Words that CHECK constraints ask for, where the first word of a text column would not do.
WORDS = {
    ("shop", "units"): "in", ("shop", "paper"): "Letter", ("shop", "material_basis"): "net",
    ("shop", "bend_datum"): "middle", ("job_revisions", "units"): "mm", ("job_revisions", "use"): "guarding",
    ("jobs", "state"): "won", ("state_changes", "from_state"): "asked",
    ("state_changes", "to_state"): "quoted",
    ("parts", "dims"): "inside", ("parts", "bend_axis"): "hard", ("welds", "kind"): "tack",
    ("outside_works", "basis"): "lot", ("labour_lines", "per"): "job", ("quotes", "state"): "accepted",
    ("quote_minutes", "kind"): "set-up", ("quote_minutes", "how"): "over", ("orders", "state"): "placed",
    ("orders", "kind"): "ask", ("order_lines", "basis"): "cwt", ("stock_prices", "basis"): "ft",
    ("rack_pieces", "state"): "promised", ("time_entries", "kind"): "rework", ("bar_uses", "kind"): "scrap",
    ("invoices", "kind"): "credit", ("benders", "mark_at"): "centre", ("k_rules", "rule"): "fixed K",
    ("bend_tests", "bend_axis"): "hard",
}  # fmt: skip
# Columns that would break a rule between columns if they were filled.
EMPTY = {("shop", "markup_pct"), ("rack_pieces", "parent_id"), ("orders", "replaces_id")}
AMOUNTS = {("quotes", "net"): 1_000_000, ("quotes", "tax"): 200_000, ("quotes", "total"): 1_200_000}


def old_database(url: str) -> MetaData:
    """A database of the oldest schema with a row in every table; returns its tables as they were."""
    upgrade_database(url, to=OLD)
    engine = make_engine(database_url(url))
    old = MetaData()
    old.reflect(engine)
    with engine.begin() as connection:
        for table in old.sorted_tables:
            if table.name != "alembic_version":
                connection.execute(insert(table).values(row_of(table)))
    engine.dispose()
    return old


def row_of(table: Table) -> dict[str, object]:
    """A row in which every column says something."""
    return {column.name: value_of(table.name, column) for column in table.columns}


def value_of(table: str, column) -> object:
    place = (table, column.name)
    if column.name == "heat":
        return "AB12"
    if place in EMPTY:
        return None
    if place in WORDS or place in AMOUNTS:
        return WORDS.get(place) or AMOUNTS[place]
    if column.primary_key or column.foreign_keys:
        return 1
    if isinstance(column.type, JSON):
        return {"kept": "ja ☺"}
    if isinstance(column.type, Date):
        return date(2026, 3, 2)
    if isinstance(column.type, Boolean):
        return True
    if isinstance(column.type, BigInteger | Integer):
        return 7
    return (
        "2026-03-02T09:00:00.000000Z"
        if column.name.endswith("_at") or column.name == "at"
        else f"{column.name} '☺"
    )


def rows_of(url: str, tables: MetaData) -> dict[str, list[dict[str, object]]]:
    """All rows by table, of the columns that `tables` has."""
    engine = make_engine(database_url(url))
    with engine.begin() as connection:
        found = {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in tables.sorted_tables
            if table.name != "alembic_version"
        }
    engine.dispose()
    return found


@pytest.fixture(params=["sqlite", "postgresql"])
def bare_url(request, tmp_path) -> str:
    """Where a database may be made."""
    if request.param == "sqlite":
        return str(tmp_path / "old.db")
    return request.getfixturevalue("bare_postgres_url")


def test_an_old_database_is_upgraded_with_all_its_data(bare_url):
    old = old_database(bare_url)
    before = rows_of(bare_url, old)
    assert all(len(rows) == 1 for rows in before.values())
    assert len(before) >= 40
    kept: list[Path] = []
    if (path := sqlite_path(database_url(bare_url))) is not None:  # an earlier copy is not written over
        path.with_name(f"{path.stem}.before-upgrade-from-{OLD}.db").write_text(
            "of last year", encoding="utf-8"
        )
    assert upgrade_database(bare_url, kept=kept.append) == (OLD, schema.newest_version())
    after = rows_of(bare_url, old)
    assert with_json_all(after) == with_json_all(before)
    assert f".before-upgrade-from-{OLD}" in kept[0].name
    assert with_json_all(rows_of(str(kept[0]), old)) == with_json_all(before)
    with open_database(bare_url) as database, database.reading() as session:
        faults = {result.name: result.faults for result in run_checks(session)}
    assert faults["references are whole"] == faults["the schema is this program's"] == ()
    assert faults["minutes add up"] == ()
    new = rows_of(bare_url, metadata)
    for rows, sums, key in (
        ("time_entries", "minute_sums", ("job_id", "operation", "kind")),
        ("quote_minutes", "quote_operations", ("quote_id", "operation")),
    ):
        (entry,), (summed,) = after[rows], new[sums]
        assert [summed[column] for column in key] == [entry[column] for column in key]
        exact = [D(entry["minutes"]).scaleb(-6), D(entry["cost"]).scaleb(-4)]
        assert [summed["minutes"], summed["cost"]] == exact


def with_json_all(rows_by_table):
    return {name: [with_json(row) for row in rows] for name, rows in rows_by_table.items()}


def with_json(row):
    return {name: json.dumps(value) if isinstance(value, dict) else value for name, value in row.items()}


def test_a_servers_copy_from_before_is_restored_as_a_backup_is(bare_postgres_url, tmp_path):
    old = old_database(bare_postgres_url)
    before = rows_of(bare_postgres_url, old)
    engine = make_engine(database_url(bare_postgres_url))
    with engine.connect() as connection:
        copy_to_file(connection, tmp_path / "kept.db")
    engine.dispose()
    with pytest.raises(DatabaseError, match=f"schema {OLD}"):
        open_database(str(tmp_path / "kept.db"))
    restore(tmp_path / "kept.db", str(tmp_path / "again.db"))
    assert with_json_all(rows_of(str(tmp_path / "again.db"), old)) == with_json_all(before)


def test_nothing_is_upgraded_where_no_copy_can_be_kept(bare_url, monkeypatch):
    old_database(bare_url)

    def fails(*_given):
        raise CopyDiffersError("a row is missing")

    for name in ("copy_file", "copy_to_file"):
        monkeypatch.setattr(f"shopquote.services.shop.database.{name}", fails)
    with pytest.raises(DatabaseError, match="was not upgraded: no copy could be kept: a row is missing"):
        upgrade_database(bare_url)
    with pytest.raises(DatabaseError, match=f"schema {OLD}"):
        open_database(bare_url)


def test_an_old_database_is_not_used_before_it_is_upgraded(bare_url):
    old_database(bare_url)
    with pytest.raises(DatabaseError, match=r"shopquote db upgrade"):
        open_database(bare_url)


def test_an_upgrade_that_fails_changes_nothing(tmp_path, monkeypatch):
    path = tmp_path / "old.db"
    old = old_database(str(path))
    before = rows_of(str(path), old)

    def fails(connection, to="head"):
        connection.exec_driver_sql("DROP TABLE quote_lines")
        raise DatabaseError("no")

    monkeypatch.setattr("shopquote.services.shop.database.upgrade_tables", fails)
    with pytest.raises(DatabaseError, match="no"):
        upgrade_database(str(path))
    assert rows_of(str(path), old) == before


def test_an_upgrade_that_would_leave_a_reference_to_nothing_is_refused(tmp_path):
    path = tmp_path / "old.db"
    old_database(str(path))
    engine = make_engine(database_url(str(path)))
    with engine.connect() as connection:
        connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            connection.exec_driver_sql("UPDATE quotes SET job_id = 99")
    engine.dispose()
    with pytest.raises(DatabaseError, match="without the row referred to"):
        upgrade_database(str(path))
    with pytest.raises(DatabaseError, match=f"schema {OLD}"):
        open_database(str(path))


def test_an_older_backup_is_upgraded_on_the_way_back(tmp_path):
    import zipfile

    old = old_database(str(tmp_path / "old.db"))
    before = rows_of(str(tmp_path / "old.db"), old)
    copy_sqlite(tmp_path / "old.db", tmp_path / "copy.db")
    with zipfile.ZipFile(tmp_path / "old.zip", "w") as archive:
        archive.write(tmp_path / "copy.db", "shop.db")
        archive.writestr("backup.json", json.dumps({"schema": OLD}))
    restore(tmp_path / "old.zip", str(tmp_path / "new.db"))
    assert rows_of(str(tmp_path / "new.db"), old) == before


def test_there_is_a_way_back_and_forth_with_all_data(bare_url):
    """Back too a table is made anew while others refer to it."""
    old = old_database(bare_url)
    before = with_json_all(rows_of(bare_url, old))
    upgrade_database(bare_url)
    assert upgrade_database(bare_url, to=OLD) == (schema.newest_version(), OLD)
    assert with_json_all(rows_of(bare_url, old)) == before
    assert upgrade_database(bare_url) == (OLD, schema.newest_version())
    assert with_json_all(rows_of(bare_url, old)) == before


def test_every_migration_names_its_change_and_follows_the_one_before():
    names = sorted(path.name for path in (migrations_folder() / "versions").glob("[0-9]*.py"))
    assert [name[:4] for name in names] == [f"{number:04d}" for number in range(1, len(names) + 1)]
    assert all(len(Path(name).stem) > 8 for name in names)
    assert len(names) >= 2
    assert schema.newest_version() == names[-1][:4]
    assert metadata.tables


def test_a_credit_on_file_lowers_the_invoice_of_its_number_else_the_only_one(tmp_path):
    url = str(tmp_path / "old.db")
    old_database(url)
    upgrade_database(url, to="0031")
    engine = make_engine(database_url(url))
    held = MetaData()
    held.reflect(engine)
    jobs, papers = held.tables["jobs"], held.tables["invoices"]
    with engine.begin() as connection:
        connection.execute(insert(jobs).values(row_of(jobs) | {"id": 2, "number": "J-0002"}))
        connection.execute(papers.delete())
        for number, job, name, kind in (
            (1, 1, "A", "invoice"), (2, 1, "C-1", "credit"), (3, 2, "B", "invoice"), (4, 2, "D", "invoice"),
            (5, 2, "D", "credit"), (6, 2, "C-2", "credit"),
        ):  # fmt: skip
            row = {"id": number, "job_id": job, "number": name, "kind": kind}
            connection.execute(insert(papers).values(row_of(papers) | row))
    engine.dispose()
    upgrade_database(url)
    engine = make_engine(database_url(url))
    with engine.begin() as connection:
        found = connection.execute(text("SELECT id, lowers_id FROM invoices ORDER BY id")).all()
    engine.dispose()
    # Of the last one nobody can say which of two it lowers.
    assert found == [(1, None), (2, 1), (3, None), (4, None), (5, 4), (6, None)]
