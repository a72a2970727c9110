"""`price`: what `quote` would say, stored nowhere, with a database or without."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.services.shop.shop_on_file import the_shop

HOOKS = Path(__file__).parents[2] / "sample_jobs" / "coat_hooks.toml"
GRATE = Path(__file__).parents[2] / "sample_jobs" / "fire_grate.toml"
RUNNER = CliRunner()
ONLY_STORED = {"job", "number", "revision", "files"}
ONLY_PRICED = {"file", "own_shop"}


def said(*words: object) -> Any:
    done = RUNNER.invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, f"{words}\n{done.output}"
    return json.loads(done.stdout)


def test_the_price_is_what_the_quote_says(shop, tmp_path):
    priced = said("price", HOOKS, "--breaks", "50,400", "--margin", "32", "--db", shop.name)
    assert priced["own_shop"]
    said("job", "add", HOOKS, "--db", shop.name)
    asked = ("--breaks", "50,400", "--margin", "32", "--out", tmp_path)
    quoted = said("quote", "J-0001", *asked, "--db", shop.name)
    assert {key: priced[key] for key in priced.keys() - ONLY_PRICED} == {
        key: quoted[key] for key in quoted.keys() - ONLY_STORED
    }


def test_the_hours_of_operations_and_of_spoilt_pieces_are_all_the_labour(shop):
    told = RUNNER.invoke(app, ["price", str(HOOKS), "--db", shop.name]).stdout.splitlines()
    (labour,) = (Decimal(line.split()[1]) for line in told if line.startswith("labour "))
    (title,) = (line for line in told if line.startswith("Labour by operation"))
    spoilt = Decimal(title.split("; ")[1].split()[0])
    worked = Decimal([line for line in told if line.startswith("total ")][1].split()[-1])
    assert worked + spoilt == labour and spoilt > 0


def test_nothing_of_a_price_is_stored(shop):
    before = Path(shop.name).read_bytes()
    said("price", HOOKS, "--what-if", "rate.welding=58", "--db", shop.name)
    assert Path(shop.name).read_bytes() == before
    assert said("job", "list", "--db", shop.name) == {"jobs": []}
    said("job", "add", HOOKS, "--db", shop.name)
    assert said("job", "list", "--db", shop.name)["jobs"][0]["job"] == "J-0001"  # no number was used up


def test_an_amount_of_a_job_file_bears_the_sign_of_the_currency_that_counts(shop, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    path = tmp_path / "hinges.toml"
    path.write_text(
        'format = 1\n[job]\ntitle = "a"\ncustomer = "b"\nsets = 1\nunits = "mm"\n'
        '[[bought]]\nname = "hinge"\nper_set = 1\nunit_cost = "$1.20"\n',
        encoding="utf-8",
    )
    with shop.session() as session:
        the_shop(session).currency = "USD"
    # Where no shop is on file EUR counts.
    for command in (("check",), ("price",), ("job", "add")):
        assert RUNNER.invoke(app, [*command, str(path), "--db", shop.name]).exit_code == 0
    for command in ("check", "price"):
        refused = RUNNER.invoke(app, [command, str(path)])
        assert refused.exit_code == 3 and "an amount in EUR, not in $" in refused.stderr
    path.write_text(path.read_text(encoding="utf-8").replace("$1.20", "1.20 EUR"), encoding="utf-8")
    assert RUNNER.invoke(app, ["price", str(path)]).exit_code == 0


def test_without_a_database_the_starting_lists_give_the_price_and_it_is_said(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    priced = said("price", HOOKS)
    assert not priced["own_shop"]
    assert not list(tmp_path.iterdir())
    told = RUNNER.invoke(app, ["price", str(HOOKS)]).stdout
    assert "prices and suppliers in them are invented" in told
    assert RUNNER.invoke(app, ["db", "upgrade"]).exit_code == 0  # there, and no shop in it yet
    for command in ("check", "part"):
        assert RUNNER.invoke(app, [command, str(HOOKS)]).exit_code == 0
    assert said("price", HOOKS)["total"] == priced["total"]
    said("setup", "--yes")
    assert said("price", HOOKS)["total"] == priced["total"]


def test_a_what_if_stands_beside_the_price(shop):
    priced = said("price", HOOKS, "--what-if", "sets=20", "--what-if", "margin=40", "--db", shop.name)
    asked = priced["what_if"]
    assert asked["before"]["net"] == priced["net"]
    twenty = said("price", HOOKS, "--breaks", "20", "--db", shop.name)
    (at_20,) = twenty["breaks"]
    assert asked["after"]["cost"] == at_20["cost"]


def test_several_files_are_priced_each_by_itself(shop):
    both = said("price", HOOKS, GRATE, "--db", shop.name)["prices"]
    assert [one["total"] for one in both] == [
        said("price", file, "--db", shop.name)["total"] for file in (HOOKS, GRATE)
    ]


def test_mistakes_of_all_the_files_are_told_at_once(shop, tmp_path):
    for name in ("one", "two"):
        text = HOOKS.read_text(encoding="utf-8").replace('"round 8"', '"rownd 8"')
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    done = RUNNER.invoke(
        app, ["price", str(tmp_path / "one.toml"), str(tmp_path / "two.toml"), "--db", shop.name]
    )
    assert done.exit_code == 3
    assert "one.toml" in done.stderr and "two.toml" in done.stderr


def test_a_database_that_is_named_must_be_there(tmp_path):
    done = RUNNER.invoke(app, ["price", str(HOOKS), "--db", str(tmp_path / "none.db")])
    assert done.exit_code == 6
