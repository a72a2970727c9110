"""A quote stored under an older schema prints again to the cent after the real migrations."""

import json
import shutil
from decimal import Decimal
from functools import cache
from pathlib import Path
from runpy import run_path

import pytest
from openpyxl import load_workbook
from sqlalchemy import MetaData, insert, select, text
from typer.testing import CliRunner

from shopquote.calc.pricing.document import document_from_text
from shopquote.cli.app import app
from shopquote.outputs.books.estimate_book import write_estimate_book
from shopquote.outputs.books.quote_book import write_quote_book
from shopquote.records import schema
from shopquote.records.engine import make_engine
from shopquote.records.materials import StockPrice
from shopquote.records.quotes import Quote
from shopquote.records.shop import Shop
from shopquote.records.standards import StandardRow
from shopquote.services.quotes.quotes_on_file import stored_quote
from shopquote.services.shop.database import open_database, upgrade_database
from shopquote.services.shop.database_places import database_url, sqlite_path
from tests.services.quoted_shop import NUMBER, quoted_copy

D = Decimal
RUNNER = CliRunner()
# As the first version that stored quotes wrote it; never written anew.
FIRST = (Path(__file__).parents[1] / "calc" / "pricing" / "quote_format_1.json").read_text()
OLDER = [f"{number:04d}" for number in range(1, int(schema.newest_version()))]
# Every schema on SQLite; on a server, whose migrations are the same but for the rebuilding of tables, some.
SOME = (OLDER[0], OLDER[len(OLDER) // 2], OLDER[-1])
KINDS = [*(("sqlite", version) for version in OLDER), *(("postgresql", version) for version in SOME)]


def url_of(kind: str, request: pytest.FixtureRequest, folder: Path) -> str:
    """Where a database of this kind may be made."""
    return str(folder / "old.db") if kind == "sqlite" else request.getfixturevalue("bare_postgres_url")


@cache
def empty_of(version: str, folder: Path) -> Path:
    """A SQLite file of an older schema with no rows, made out of the one before it."""
    path = folder / f"empty-{version}.db"
    if version != OLDER[0]:
        shutil.copy(empty_of(f"{int(version) - 1:04d}", folder), path)
    upgrade_database(str(path), to=version)
    return path


def old_shop(url: str, version: str, like: Path, kept: Path) -> None:
    """A shop under an older schema, with the rows of `like` and the quote that the first version stored.

    `kept` is the folder of the empty databases of each schema.
    """
    if (file := sqlite_path(database_url(url))) is not None:
        shutil.copy(empty_of(version, kept), file)
    else:
        upgrade_database(url, to=version)
    old, source, target = MetaData(), make_engine(database_url(str(like))), make_engine(database_url(url))
    old.reflect(target)
    with source.begin() as reading, target.begin() as writing:
        assert schema.stored_version(writing) == version
        for table in old.sorted_tables:
            if table.name == schema.VERSION_TABLE:
                continue
            rows = [dict(row) for row in reading.execute(select(table)).mappings()]
            if table.name == "quotes":
                rows = [row | as_first_stored() for row in rows]
            if rows:
                writing.execute(insert(table), rows)
            if writing.dialect.name == "postgresql" and "id" in table.columns:
                writing.execute(text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"(SELECT coalesce(max(id), 0) + 1 FROM {table.name}), false)"
                ))  # fmt: skip
    source.dispose()
    target.dispose()


def as_first_stored() -> dict[str, object]:
    """Columns of the first version's quote, as integers in ten-thousandths: net 699.40, total 839.28."""
    return {"snapshot": FIRST, "net": 6_994_000, "tax": 1_398_800, "total": 8_392_800}


def change_everything(url: str) -> None:
    """Prices, standards, margin and the shop's words, as the years do."""
    with open_database(url) as database, database.session() as session:
        for price in session.scalars(select(StockPrice)):
            price.price *= 2
        for standard in session.scalars(select(StandardRow)):
            standard.value *= 3
        shop = session.get(Shop, 1)
        shop.margin_pct, shop.name, shop.lead_time, shop.locale = D(60), "Another name", "soon", "de_DE"


def printed(*words: object) -> dict:
    done = RUNNER.invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@cache
def cells_of_first(folder: Path) -> dict[str, list[tuple[str, str, object]]]:
    """Every cell of both workbooks as from the text alone, which no database has touched."""
    first = document_from_text(FIRST)
    return {
        path.name: cells(path)
        for write in (write_quote_book, write_estimate_book)
        for path in (write(first, folder / "first"),)
    }


def cells(path: Path) -> list[tuple[str, str, object]]:
    return [
        (sheet.title, cell.coordinate, cell.value)
        for sheet in load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]


@pytest.mark.parametrize(("kind", "version"), KINDS)
def test_an_old_quote_prints_again_to_the_cent_after_the_migrations(
    kind, version, request, _shop_file, tmp_path
):
    bare_url = url_of(kind, request, tmp_path)
    old_shop(bare_url, version, quoted_copy(_shop_file, tmp_path), _shop_file.parent)
    assert upgrade_database(bare_url) == (version, schema.newest_version())
    change_everything(bare_url)
    if version not in SOME:
        # All that is printed again is laid out of this document alone, as the others of SOME show.
        with open_database(bare_url) as database, database.reading() as session:
            assert stored_quote(session, NUMBER) == document_from_text(FIRST)
        return
    again = printed("quote", NUMBER, "--again", "--db", bare_url, "--out", tmp_path / "again")
    # Literal figures of the first version's own output.
    assert (again["net"], again["tax"], again["total"]) == ("699.40", "139.88", "839.28")
    assert again["estimate"]["cost"] == "458.03"
    assert sum(D(line["amount"]) for line in again["lines"]) == D("699.40")
    assert [entry["sets"] for entry in again["breaks"]] == [1, 4, 12]
    for name, written in cells_of_first(_shop_file.parent).items():
        assert cells(tmp_path / "again" / name) == written


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_the_next_revision_is_priced_anew_and_the_old_one_stays(kind, request, _shop_file, tmp_path):
    bare_url = url_of(kind, request, tmp_path)
    old_shop(bare_url, OLDER[0], quoted_copy(_shop_file, tmp_path), _shop_file.parent)
    upgrade_database(bare_url)
    change_everything(bare_url)
    new = printed("quote", NUMBER, "--db", bare_url, "--out", tmp_path)
    assert new["revision"] == 2 and D(new["net"]) > D("699.40")
    old = printed("quote", NUMBER, "--again", "--revision", 1, "--db", bare_url, "--out", tmp_path)
    assert (old["revision"], old["total"]) == (1, "839.28")


def test_an_upgrade_finds_what_a_kept_quote_charges_for_deliveries(_shop_file, tmp_path):
    path = Path(__file__).parents[2] / "migrations" / "versions" / "0037_say_what_deliveries_cost.py"
    charged = run_path(str(path))["_deliveries"]
    with open_database(str(quoted_copy(_shop_file, tmp_path))) as database, database.reading() as session:
        quotes = session.scalars(select(Quote)).all()
        assert all(D(charged(quote.snapshot)) / 10_000 == quote.deliveries for quote in quotes)
        assert any(quote.deliveries for quote in quotes)
    assert charged("not a quote") == charged("{}") == 0
