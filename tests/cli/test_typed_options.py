"""Options are text until the shop's notation is known: its locale says what a comma means."""

import ast
import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.services.shop.shop_lists import LISTS

CLI = Path(__file__).parents[2] / "shopquote" / "cli"
READ_TOO_EARLY = {"int", "float", "Decimal", "date", "datetime"}
NOT_THE_SHOPS = {"serve.py"}  # the machine's port
TOLD = re.compile(r"\btyper\.|\b(option|flag|argument)\(")
RUNNER = CliRunner()


def read_by_typer(tree: ast.Module, path: str) -> list[str]:
    """Options and arguments that the command line's library would turn into numbers or days."""
    return [
        f"{path}:{node.lineno}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Subscript) and ast.unparse(node.value) == "Annotated"
        and isinstance(node.slice, ast.Tuple) and TOLD.search(ast.unparse(node.slice))
        and READ_TOO_EARLY & {name.id for name in ast.walk(node.slice.elts[0]) if isinstance(name, ast.Name)}
    ]  # fmt: skip


def test_no_option_is_a_number_or_a_day_before_the_shop_is_known():
    found = [
        place
        for path in sorted(CLI.glob("*.py"))
        if path.name not in NOT_THE_SHOPS
        for place in read_by_typer(ast.parse(path.read_text(encoding="utf-8")), path.name)
    ]
    assert not found, f"read these with value_typed, count_typed or day_typed: {found}"


def test_an_option_that_the_library_would_read_is_named():
    for call in (
        "typer.Option('--count')",
        "option('--count', 'N', 'How many.')",
        "argument('N', 'How many.')",
    ):
        wrong = f"CountOption = Annotated[list[int] | None, {call}]"
        assert read_by_typer(ast.parse(wrong), "wrong.py") == ["wrong.py:1"]


@pytest.fixture
def shop_of(_shop_file, tmp_path):
    """A function that runs a command in a shop of a locale, and gives its JSON."""

    def of(locale: str, currency: str):
        file = tmp_path / f"{locale}.db"
        shutil.copy(_shop_file, file)

        def run(*words: str, code: int = 0):
            result = RUNNER.invoke(app, [*words, "--db", str(file), "--json"])
            assert result.exit_code == code, result.output
            return json.loads(result.stdout) if not code else result.output

        run("house", "set", "locale", locale)
        return run

    return of


@pytest.mark.parametrize(
    ("locale", "count", "length", "cost"),
    [("en_GB", 1250, 1250.0, "1250"), ("de_DE", None, 1.25, "1.25"), ("fr_FR", None, 1.25, "1.25")],
)
def test_a_comma_in_an_option_is_read_by_the_shop(shop_of, locale, count, length, cost):
    run = shop_of(locale, "EUR")
    (piece,) = run("rack", "add", "round 12", "s275", "1,250", "--cost", "1,250", "--on", "2.3.2026")[
        "pieces"
    ]
    assert piece["length_mm"] == length and float(piece["cost"]) == float(cost)
    words = ("rack", "add", "round 12", "S 275", "100", "--count", "1,250")
    if count is None:
        assert "whole number" in run(*words, code=3)
    else:
        assert len(run(*words)["pieces"]) == count
    spare = run("rack", "spare", "--shorter", "1,300")
    assert len(spare["pieces"]) == (1 + (count or 0) if locale == "en_GB" else 1)


@pytest.mark.parametrize("name", LISTS)
def test_a_list_of_a_database_without_a_shop_is_refused_by_every_command(name, database, tmp_path):
    file = tmp_path / "list.csv"
    file.write_text(",".join(column.name for column in LISTS[name].columns) + "\n", "utf-8")
    commands = [("list",), ("set", "x"), ("import", str(file)), ("export", str(tmp_path / "out.csv"))]
    commands += [("remove", "x")] if LISTS[name].removable else []
    for words in commands:
        result = RUNNER.invoke(app, [name, *words, "--db", str(database.url.database)])
        assert (result.exit_code, "never set up" in result.output) == (6, True), (words, result.output)
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.parametrize(
    "words",
    [
        "rack add 'round 12' S275 2000", "rack use R-0001 --job J-0001", "rack return R-0001 200",
        "rack scan -", "rack count", "receive O-0001", "order J-0001", "order place O-0001",
        "order change O-0001 --count 1=1 --reason x", "quote J-0001", "quotes accepted J-0001",
        "log J-0001 --operation bending --minutes 5", "deliver J-0001", "close J-0001",
    ],
)  # fmt: skip
def test_a_day_to_come_or_of_another_age_is_refused_at_every_door(shop_of, words):
    run = shop_of("en_GB", "EUR")
    for day, told in (
        ("2099-01-01", "not come yet"),
        ("0226-03-02", "four digits"),
        ("26-3-2", "four digits"),
    ):
        assert told in run(*shlex.split(words), "--on", day, code=3)


def test_a_day_that_cannot_be_meant_is_refused_in_lists_and_wishes(shop_of):
    run = shop_of("en_GB", "EUR")
    bent = ("bar=round 12", "grade=S275", "former_radius=20", "angle=90", "over_bend=95")
    assert "a day that has come" in run("bend-tests", "set", "made_on=2099-01-01", *bent, code=3)
    assert "expected that day or a later one" in run("order", "J-0001", "--due", "2020-01-01", code=3)
