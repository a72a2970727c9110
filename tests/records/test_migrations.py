"""The migrations build exactly the tables of the models, on SQLite and on PostgreSQL."""

import re
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import CheckConstraint, inspect

from shopquote.records.engine import make_engine
from shopquote.records.schema import newest_version, stored_version, upgrade_tables
from shopquote.records.tables import metadata
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.database import upgrade_database
from shopquote.services.shop.database_places import database_url


@pytest.fixture(params=["sqlite", "postgresql"])
def migrated(request, tmp_path):
    """A database that went through every migration; a new one is made from the models at once."""
    on_file = request.param == "sqlite"
    url = str(tmp_path / "migrated.db") if on_file else request.getfixturevalue("bare_postgres_url")
    engine = make_engine(database_url(url))
    with engine.connect() as connection:
        if on_file:
            connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            upgrade_tables(connection)
    yield engine
    engine.dispose()


def test_migrations_equal_the_models(migrated, database):
    with migrated.connect() as connection:
        assert stored_version(connection) == newest_version()
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    # alembic does not compare CHECK constraints, so their names are compared here.
    inspector = inspect(migrated)
    for table in metadata.sorted_tables:
        wanted = {check.name for check in table.constraints if isinstance(check, CheckConstraint)}
        found = {check["name"] for check in inspector.get_check_constraints(table.name)}
        assert found == wanted, table.name
    if migrated.dialect.name == "sqlite":
        assert _table_texts(migrated) == _table_texts(database.engine)


def _table_texts(engine):
    with engine.connect() as connection:
        rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master")
        return {name: _loosely(sql) for name, sql in rows if "alembic" not in name}


def _loosely(sql):
    # Order of columns and constraints may differ after a later migration; what they say may not.
    if sql is None:
        return None
    # A table that SQLite made anew has its defaults in brackets, and a column added in place stands beside
    # another.
    plain = re.sub(r"DEFAULT \(('[^']*'|\d+)\)", r"DEFAULT \1", sql).replace(", ", ",\n")
    plain = re.sub(r"\([^()]*\)", lambda found: found[0].replace("\n", " "), plain)
    return sorted(
        line.strip().rstrip(",").replace('"', "") for line in plain.splitlines() if line.strip(" ()")
    )


def test_new_database_passes_its_own_check(any_database):
    with any_database.reading() as session:
        assert [result for result in run_checks(session) if result.faults] == []


def test_upgrading_a_new_database_changes_nothing(tmp_path: Path):
    path = str(tmp_path / "shop.db")
    assert upgrade_database(path) == (None, newest_version())
    assert upgrade_database(path) == (newest_version(), newest_version())


def test_postgresql_is_made_from_nothing(bare_postgres_url):
    assert upgrade_database(bare_postgres_url) == (None, newest_version())


@pytest.mark.parametrize("folder", ["migrations", "sample_jobs"])
def test_data_folders_are_found(folder):
    from shopquote.records import places

    found = places.migrations_folder() if folder == "migrations" else places.sample_jobs_folder()
    assert found.is_dir() and found.name == folder
