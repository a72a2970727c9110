"""The walk through the rates that matter: answers are stored, and the sample's price moves as it should."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from sqlalchemy import select
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.errors import InputError, NotFoundError
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.quotes import first_rates as first
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import open_database
from shopquote.services.shop.new_shop import benders_to_start_from, set_up, store_bender
from shopquote.services.shop.setup import ShopDetails
from shopquote.services.shop.shop_on_file import standards_book, the_shop

D = Decimal
AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
TODAY = AT.date()


def test_every_answer_is_read_back_as_it_was_stored(any_shop):
    assert len(first.FIRST_RATES) == 15
    typed = {
        "profit": "markup 50",
        "kerf": "2 mm",
        "terms": "Balance in 14 days",
        "minimum_order": "75.00",
    }
    with any_shop.session() as session:
        for rate in first.FIRST_RATES:
            if rate.of:
                text = typed.get(rate.entry, typed.get(rate.column, "7"))
                assert first.answer_on_file(session, rate, TODAY) not in ("", text)
                first.store_answer(session, rate, text, TODAY)
                assert first.answer_on_file(session, rate, TODAY) == text
        with pytest.raises(InputError, match="for overhead_pct a number"):
            first.store_answer(session, first.FIRST_RATES[3], "plenty", TODAY)


def test_a_wage_becomes_the_rate_of_every_operation(shop):
    with shop.session() as session:
        # 21 x 1.30 / 0.75
        assert first.store_wage(session, "21", "30", "75", TODAY) == D("36.40")
        book = standards_book(session, TODAY)
        assert {book.value(name) for name in book if name.startswith("rate.")} == {D("36.4")}
        with pytest.raises(InputError, match="expected"):
            first.store_wage(session, "21", "30", "175", TODAY)


def test_a_bender_to_start_from_is_the_shops_own_and_asked_for_only_where_there_is_none(shop, database):
    with shop.reading() as session:
        assert benders_to_start_from(session) == ()
    with database.session() as session:
        set_up(session, ShopDetails(name="Weir Forge"), on=TODAY, own=True)
        names = benders_to_start_from(session)
        with pytest.raises(NotFoundError, match="is none of"):
            store_bender(session, "hand bendr")
        store_bender(session, names[0].upper())
        assert benders_to_start_from(session) == ()


def test_the_walk_tells_what_each_answer_does_and_keeps_it_where_somebody_stops(tmp_path):
    db = str(tmp_path / "own.db")
    details, walk = "Weir Forge" + "\n" * 16, "y\ntwenty\n\nplenty\n0\n"
    done = CliRunner().invoke(app, ["setup", "--own", "--db", db], input=details + walk)
    assert done.exit_code == 0, done.output
    assert "'twenty' cannot be used" in done.output and "found 'plenty'" in done.output
    told = [line.split("sample: ")[1] for line in done.output.splitlines() if "sample: " in line]
    assert len(told) == 1 and "(-" in told[0]
    assert "are invented until yours" in done.output and "shopquote setup --rates" in done.output
    with open_database(db) as database, database.reading() as session:
        assert first.answer_on_file(session, first.FIRST_RATES[3], TODAY) == "0"
        # Nothing invented stays behind from the sample.
        assert benders_to_start_from(session) != ()


def test_each_of_the_fifteen_shows_at_once_what_it_does_to_the_sample(tmp_path):
    db = str(tmp_path / "own.db")
    details = "Weir Forge" + "\n" * 16
    walk = "y\n16.50\n28\n70\n15\nmarkup 50\n3\n900\n8\n2\n1\n6\nhand bender, bench\n\n17.5\n30 days net\n"
    done = CliRunner().invoke(app, ["setup", "--own", "--db", db], input=details + walk)
    assert done.exit_code == 0, done.output
    told = [line.strip() for line in done.output.splitlines() if "the sample" in line and "->" in line]
    assert len(told) == 14  # all but the price list, which was left for later
    still = [number for number, line in enumerate(told, 1) if line.endswith("the same")]
    # A price of its own by the least order hides what stands below it.
    assert told[6].endswith(")") and {1, 2, 3, 4, 5, 6, 7}.isdisjoint(still)
    assert told[12].startswith("the sample with tax")
    with open_database(db) as database, database.reading() as session:
        # 16.50 x 1.28 / 0.70
        assert standards_book(session, now().date()).value("rate.welding") == D("30.17")


def test_a_shop_of_its_own_keeps_nothing_of_the_invented_one(tmp_path):
    for words, answers in ((["--own"], "\nWeir Forge"), ([], "Weir Forge")):
        db = str(tmp_path / f"own{len(words)}.db")
        typed = answers + "\n" * 16 + ("" if words else "own\n") + "n\n"
        done = CliRunner().invoke(app, ["setup", *words, "--db", db], input=typed)
        assert done.exit_code == 0, done.output
        assert ("The shop needs a name" in done.output) == bool(words)
        with open_database(db) as database, database.reading() as session:
            shop = the_shop(session)
            assert (shop.name, shop.address, shop.email) == ("Weir Forge", "", "")


@pytest.mark.parametrize("takes", ["y", "n"])
def test_a_list_with_a_word_of_the_suppliers_own_gives_its_other_bars_and_its_delivery(tmp_path, takes):
    """One row of three cannot be read: the others are offered, and what a delivery costs is asked."""
    file = tmp_path / "list.csv"
    file.write_text(
        "Product;Quality;Length m;Price;per\n"
        "Round 8 mm bright drawn;S275;6;2.95;bar\nRD 10;S275;6;1.42;kg\nFlat 40 x 6;S275;6;1.31;kg\n",
        encoding="utf-8",
    )
    db = str(tmp_path / "own.db")
    taken = f"{takes}\n" + ("much\n25\n" if takes == "y" else "\n")
    walk = "y" + "\n" * 11 + f"{file}\nHexham Bars\n{taken}\n\n"
    done = CliRunner().invoke(app, ["setup", "--own", "--db", db], input="Weir Forge" + "\n" * 16 + walk)
    assert done.exit_code == 0, done.output
    assert done.output.count("row 2, Product: found 'Round 8 mm bright drawn'") == 1
    assert "1 row cannot be read. Take the other 2 bars now?" in done.output
    with open_database(db) as database, database.reading() as session:
        (supplier,) = session.scalars(select(Supplier)).all()
        bars = session.scalars(select(StockItem)).all()
        assert len(bars) == (2 if takes == "y" else 0)
        assert supplier.delivery_charge == (25 if takes == "y" else 0)
    words = ["order", "prices", "Hexham Bars", str(file), "--means", "bright drawn=-", "--db", db]
    assert "3 bars read" in CliRunner().invoke(app, words).output
