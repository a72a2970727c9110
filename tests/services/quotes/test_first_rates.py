"""The walk through the rates that matter: answers are stored, and the sample's price moves as it should."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.errors import InputError, NotFoundError
from shopquote.services.quotes import first_rates as first
from shopquote.services.shop.database import open_database
from shopquote.services.shop.on_file import standards_book
from shopquote.services.shop.setup import ShopDetails, benders_to_start_from, set_up, store_bender

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
