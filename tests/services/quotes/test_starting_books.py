"""The books of a shop without a database are those that setting up puts on file."""

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.outputs.tables.quote_tables import prices_json
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.records.shop import Shop, TaxRow
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.quotes import price_files as module
from shopquote.services.quotes.price_files import price_files
from shopquote.services.quotes.quote_options import QuoteOptions
from shopquote.services.quotes.starting_books import StartingBooks
from shopquote.services.shop.database import database_in_memory
from shopquote.services.shop.new_shop import set_up
from shopquote.services.shop.shop_on_file import bending_shop
from shopquote.services.shop.starting import starting_shop

DAY = date(2026, 3, 3)
SAMPLES = Path(__file__).parents[3] / "sample_jobs"


@pytest.fixture(scope="module")
def on_file() -> Iterator[Session]:
    with database_in_memory() as database, database.session() as session:
        set_up(session, on=DAY)
        session.flush()
        session.expire_all()  # as the database gives it back
        yield session


def told(row: object, table: type, *apart: str) -> dict[str, object]:
    """Every column of a row by name."""
    names = [column.name for column in table.__table__.columns if column.name not in apart]
    return {name: getattr(row, name) for name in names}


def test_the_shop_and_its_taxes(on_file: Session) -> None:
    books = StartingBooks(DAY)
    assert told(books.shop, Shop) == told(on_file.get(Shop, 1), Shop)
    taxes = [told(tax, TaxRow, "id") for tax in on_file.scalars(select(TaxRow))]
    assert [told(tax, TaxRow, "id") for tax in books.taxes()] == taxes


def test_saw_and_standards_benders_and_grades(on_file: Session) -> None:
    books, filed = StartingBooks(DAY), BooksOnFile(on_file)
    assert books.saw == filed.saw
    assert books.standards(DAY) == filed.standards(DAY)
    assert replace(starting_shop(), longest=books.longest) == bending_shop(on_file)
    names = [bender.name for bender in starting_shop().benders]
    assert set(books.invented_benders([*names, None])) == set(filed.invented_benders([*names, None])) != set()


def test_every_bar_with_supplier_and_prices(on_file: Session) -> None:
    rows = on_file.scalars(
        select(StockItem).join(Supplier).order_by(StockItem.length.desc(), Supplier.name, StockItem.id)
    ).all()
    bars = StartingBooks(DAY)._bars
    assert len(bars) == len(rows) > 500
    for bar, row in zip(bars, rows, strict=True):
        assert told(bar, StockItem, "supplier_id") == told(row, StockItem, "supplier_id")
        assert told(bar.supplier, Supplier, "id") == told(row.supplier, Supplier, "id")
        prices = [told(price, StockPrice, "id", "stock_item_id") for price in row.prices]
        assert [told(price, StockPrice, "id", "stock_item_id") for price in bar.prices] == prices


def test_the_price_is_that_of_a_database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv("SHOPQUOTE_DB", raising=False)
    guessed = tmp_path / "guessed.toml"
    guessed.write_text(
        """format = 1
[job]
title = "Guards"
customer = "A bench"
sets = 2
breaks = [1, 5]
units = "mm"
[[part]]
mark = "A"
name = "guard"
per_set = 3
bar = "sheet 137 x 3"
grade = "S275"
length = 700
[[part]]
mark = "B"
name = "rod"
per_set = 2
bar = "round 11"
grade = "S275"
shape = "leg 200; bend 90 r 30; leg 300"
""",
        encoding="utf-8",
    )
    paths = [guessed, SAMPLES / "coat_hooks.toml", SAMPLES / "shelf_brackets.toml"]
    at, options = datetime(2026, 3, 3, 12, tzinfo=UTC), QuoteOptions(breaks="2,7")
    without = price_files(paths, options, database=None, at=at)
    trial = module._priced_in_trial(paths, options, None, at, None)
    assert prices_json(without) == prices_json(trial)
    assert any("price guessed" in note for note in without[0].document.estimate.notes)


def test_no_table_is_loaded_without_a_database(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from shopquote.cli.app import app\n"
        f"sys.argv = ['shopquote', 'price', {str(SAMPLES / 'coat_hooks.toml')!r}]\n"
        "try:\n    app()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "assert 'sqlalchemy' not in sys.modules, 'it loads the tables'\n"
    )
    subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, env={"XDG_DATA_HOME": str(tmp_path)},
        cwd=SAMPLES.parent,
    )  # fmt: skip


@pytest.mark.parametrize(
    "bar", ["tube 1 x 1/8", "tube 3/4 x 0.065", "pipe 1-1/4 in sch 40", "box 1 x 1 x 1/8", "round 1/2"]
)
def test_a_new_shop_of_inches_has_the_usual_bars_on_its_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bar: str
) -> None:
    """No tube in inches was on it: each was priced as the nearest metric one."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv("SHOPQUOTE_DB", raising=False)
    file = tmp_path / "rail.toml"
    file.write_text(
        f'format = 1\n[job]\ntitle = "Rail"\ncustomer = "Fennimore"\nsets = 1\nunits = "in"\n'
        f'[[part]]\nmark = "A"\nname = "rail"\nper_set = 2\nbar = "{bar}"\ngrade = "A36"\nlength = 40\n',
        encoding="utf-8",
    )
    at = datetime(2026, 3, 3, 9, tzinfo=UTC)
    (priced,) = price_files([file], QuoteOptions(), database=None, at=at)
    assert priced.document.guessed == ()
