"""shopquote quote and quotes: JSON, files, exit codes, one clear message."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app

RUNNER = CliRunner()
JOB = """
format = 1
[job]
title = "Wall hooks"
customer = "Invented Yard"
sets = 4
breaks = [1, 4, 12]
units = "mm"
use = "guarding"
[[part]]
mark = "A"
name = "hook"
per_set = 2
bar = "round 12"
grade = "S275"
shape = "leg 200; bend 90 r 30; leg 300"
[[weld]]
kind = "fillet"
leg = 5
length = 40
count = 2
process = "MAG"
"""


@pytest.fixture
def run(shop, tmp_path):
    """A function: run shopquote on the invented shop with one job on file; returns the result."""

    def run(*words: str, code: int = 0):
        result = RUNNER.invoke(app, [*words, "--db", str(shop.url.database)])
        assert result.exit_code == code, result.output
        return result

    (tmp_path / "job.toml").write_text(JOB)
    run("job", "add", str(tmp_path / "job.toml"))
    return run


@pytest.fixture
def ask(run, tmp_path):
    """A function: run with --json and return what was printed, and only that."""
    return lambda *words: json.loads(run(*words, "--json").stdout)


def test_a_file_among_several_jobs_is_told_to_be_put_on_file_first(run, tmp_path):
    told = run("quote", "J-0001", str(tmp_path / "job.toml"), code=3).output
    assert "named by their numbers" in told and "shopquote job add" in told


def test_the_json_of_a_quote(ask, tmp_path):
    quote = ask("quote", "J-0001", "--on", "2026-03-03", "--out", str(tmp_path / "out"))
    (line,) = quote["lines"]
    assert (quote["job"], quote["revision"], quote["currency"]) == ("J-0001", 1, "EUR")
    assert Decimal(line["unit_price"]) * line["quantity"] == Decimal(line["amount"]) == Decimal(quote["net"])
    assert Decimal(quote["net"]) + Decimal(quote["tax"]) == Decimal(quote["total"])
    assert quote["valid_until"] == "2026-03-24"
    assert [step["sets"] for step in quote["breaks"]] == [1, 4, 12]
    assert all(
        Decimal(step["unit_price"]) * step["sets"] == Decimal(step["total"]) for step in quote["breaks"]
    )
    estimate = quote["estimate"]
    names = ("material", "labour", "consumables", "bought", "outside", "overhead", "contingency")
    assert sum(Decimal(estimate[name]) for name in names) == Decimal(estimate["cost"])
    assert estimate["minutes"]["bending"] > 0
    margin = (1 - Decimal(estimate["cost"]) / Decimal(quote["net"])) * 100
    assert abs(margin - Decimal(estimate["margin_pct"])) < Decimal("0.01")
    assert "licensed" in quote["cautions"][0]
    assert all(Path(path).exists() for path in quote["files"])
    money = [quote["net"], quote["total"], estimate["cost"], estimate["outside"], line["unit_price"]]
    assert all(isinstance(text, str) and len(text.rsplit(".", 1)[1]) == 2 for text in money)


def test_a_revision_is_printed_again_to_the_cent(ask, run, tmp_path):
    first = ask("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path))
    second = ask("quote", "1", "--on", "2026-03-04", "--rush", "15", "--out", str(tmp_path))
    assert (first["revision"], second["revision"]) == (1, 2)
    again = ask("quote", "1", "--revision", "1", "--out", str(tmp_path))
    assert again == first
    assert ask("quote", "1", "--again", "--out", str(tmp_path)) == second


def test_questions_store_nothing(ask, tmp_path):
    ask("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path))
    answer = ask("quote", "1", "--what-if", "margin=45", "--what-if", "stock-price=+10%")
    assert Decimal(answer["after"]["net"]) > Decimal(answer["before"]["net"])
    target = ask("quote", "1", "--target", "100")
    assert {"margin_pct", "minutes_to_save"} <= target.keys()
    assert len(ask("quotes", "list")["quotes"]) == 1


def test_a_job_is_asked_about_before_its_first_quote(ask, tmp_path):
    answer = ask("quote", "1", "--what-if", "margin=45", "--on", "2026-03-03")
    target = ask("quote", "1", "--target", "100", "--on", "2026-03-03")
    assert ask("quotes", "list")["quotes"] == []
    quote = ask("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path))
    assert (answer["revision"], answer["before"]["net"]) == (0, quote["net"])
    assert target == ask("quote", "1", "--target", "100")
    stored = ask("quote", "1", "--what-if", "margin=45")
    assert answer["after"] == stored["after"]


def test_a_job_file_is_added_and_quoted_in_one_go(run, ask, tmp_path):
    run("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path))
    quote = ask("quote", str(tmp_path / "job.toml"), "--on", "2026-03-03", "--out", str(tmp_path))
    assert quote["job"] == "J-0002"
    assert quote["net"] == ask("quote", "1", "--again", "--out", str(tmp_path))["net"]
    assert [job["state"] for job in ask("job", "list")["jobs"]] == ["quoted", "quoted"]


def test_a_job_file_that_cannot_be_quoted_leaves_no_job(run, ask, tmp_path):
    (tmp_path / "long.toml").write_text(JOB.replace("leg 300", "leg 30000"))
    run("quote", str(tmp_path / "long.toml"), "--out", str(tmp_path), code=5)
    assert [job["job"] for job in ask("job", "list")["jobs"]] == ["J-0001"]


def test_the_json_has_money_by_operation(ask, tmp_path):
    estimate = ask("quote", "1", "--out", str(tmp_path))["estimate"]
    by_operation = {row["operation"]: row for row in estimate["labour_by_operation"]}
    assert {name: row["minutes"] for name, row in by_operation.items()} == estimate["minutes"]
    for row in by_operation.values():
        assert abs(
            Decimal(row["amount"]) - Decimal(str(row["minutes"])) * Decimal(row["rate"]) / 60
        ) <= Decimal("0.005")


def test_the_life_of_a_quote(ask, run, tmp_path):
    ask("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path))
    ask("quote", "1", "--on", "2026-03-04", "--discount", "5", "--out", str(tmp_path))
    differences = {one["what"]: one for one in ask("quotes", "compare", "1", "1")["differences"]}
    assert Decimal(differences["net"]["change"]) < 0
    # The number on the customer's paper names the job.
    (row,) = ask("quotes", "accepted", "Q-0001", "--on", "2026-03-05")["quotes"]
    assert (row["state"], row["revision"]) == ("accepted", 2)
    assert [one["state"] for one in ask("quotes", "list")["quotes"]] == ["replaced", "accepted"]
    assert ask("job", "list")["jobs"][0]["state"] == "won"


@pytest.mark.parametrize("words, code, message", [
    (("quote", "77"), 4, "J-0077"),
    (("quote", "1", "--margin", "100"), 3, "below 100"),
    (("quote", "1", "--margin", "much"), 3, "number"),
    (("quote", "1", "--lines", "row"), 2, "'set', 'part'"),
    (("quote", "1", "--breaks", "1,x"), 3, "rising numbers"),
    (("quote", "1", "--price", "set=5"), 3, "reason"),
    (("quote", "1", "--price", "five"), 2, "WORD=VALUE"),
    (("quote", "1", "--again"), 4, "not quoted yet"),
    (("quote", "1", "--what-if", "margin=1", "--revision", "1"), 4, "not quoted yet"),
    (("quote", "job.toml", "--what-if", "margin=1"), 3, "shopquote price job.toml"),
    (("quote", "1", "--tax", "VATT"), 4, "VATT"),
    (("quotes", "accepted", "1"), 4, "not quoted yet"),
])  # fmt: skip
def test_a_mistake_is_one_message_and_its_code(run, words, code, message):
    result = run(*words, code=code)
    assert message in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize("words", [
    ("--revision", "1", "--margin", "40"),
    ("--again", "--rush", "10"),
    ("--what-if", "margin=35", "--sets", "9"),
    ("--what-if", "margin=35", "--target", "300"),
])  # fmt: skip
def test_a_stored_quote_is_not_asked_for_with_words_of_a_new_one(run, tmp_path, words):
    run("quote", "J-0001", "--out", str(tmp_path))
    assert "one at a time" in run("quote", "J-0001", *words, "--out", str(tmp_path), code=3).output


def test_the_terminal_shows_price_quantities_and_minutes(run, tmp_path):
    shown = run("quote", "1", "--on", "2026-03-03", "--out", str(tmp_path)).stdout
    for word in ("Net, before tax", "Total", "bending", "Other quantities", "Wrote", "!"):
        assert word in shown
    assert "Wall hooks" in run("quote", "1", "--what-if", "sets=8").stdout
    assert "minutes" in run("quote", "1", "--target", "90").stdout
    assert "Q-0001" in run("quotes", "list").stdout


def test_nothing_is_stored_when_the_files_cannot_be_written(run, ask, tmp_path):
    (tmp_path / "out").write_text("a file")
    run("quote", "1", "--out", str(tmp_path / "out"), code=3)
    assert ask("quotes", "list")["quotes"] == []


@pytest.mark.parametrize(
    "broken",
    ["outputs.books.estimate_book.write_estimate_book", "services.quotes.quotes_on_file.document_text"],
)
def test_a_run_that_ends_midway_leaves_neither_paper_nor_quote(run, ask, tmp_path, monkeypatch, broken):
    def ends(*_words):
        raise KeyboardInterrupt

    out = tmp_path / "out"
    monkeypatch.setattr(f"shopquote.{broken}", ends)
    run("quote", "1", "--out", str(out), code=130)
    assert list(out.iterdir()) == []
    assert ask("quotes", "list")["quotes"] == []


def test_no_paper_goes_out_before_the_quote_is_on_file(run, tmp_path, monkeypatch):
    from shopquote import files

    bring_in = files.bring_in

    def seen(files, folder):
        if folder != tmp_path / "out":  # a picture that the paper holds
            return bring_in(files, folder)
        listed = json.loads(run("quotes", "list", "--json").stdout)["quotes"]
        assert [row["quote"] for row in listed] == ["Q-0001"]
        assert [path for path in folder.iterdir() if not path.name.startswith(".")] == []
        return bring_in(files, folder)

    monkeypatch.setattr(files, "bring_in", seen)
    run("quote", "1", "--out", str(tmp_path / "out"))
    assert len(list((tmp_path / "out").iterdir())) == 2


def test_a_rate_is_worked_out_with_its_steps(run):
    words = ("rates", "work-out", "--wage", "25", "--overhead", "120000", "--people", "2")
    shown = RUNNER.invoke(app, [*words]).stdout
    # 25 x 2080 x 1.3 / (2080 x 0.75) = 43.33; 120 000 / (2 x 1560) = 38.46 (arithmetic).
    assert "43.3333" in shown and "38.4615" in shown and "81.7948" in shown
    assert json.loads(RUNNER.invoke(app, [*words, "--json"]).stdout)["rate"] == "81.7948"
    assert RUNNER.invoke(app, ["rates", "work-out", "--wage", "25", "--productive", "0"]).exit_code == 3
    assert RUNNER.invoke(app, ["rates", "work-out", "--wage", "x"]).exit_code == 3
    assert RUNNER.invoke(app, ["rates", "work-out", "--wage", "$25", "--overhead", "120000 €"]).exit_code == 3
    signed = ("rates", "work-out", "--wage", "$25", "--overhead", "$120000", "--people", "2", "--json")
    assert json.loads(RUNNER.invoke(app, signed).stdout) == json.loads(
        RUNNER.invoke(app, [*words, "--json"]).stdout
    )


def test_two_jobs_on_one_paper_and_one_answer(ask, run, tmp_path):
    (tmp_path / "other.toml").write_text(JOB.replace("Wall hooks", "Gate hooks"))
    run("job", "add", str(tmp_path / "other.toml"))
    out = tmp_path / "out"
    made = ask("quote", "1", "2", "--on", "2026-03-03", "--pdf", "--out", str(out))
    assert (made["job"], [job["number"] for job in made["jobs"]]) == ("J-0001, J-0002", ["Q-0002", "Q-0003"])
    assert sum(Decimal(job["total"]) for job in made["jobs"]) == Decimal(made["total"])
    names = sorted(path.name for path in out.iterdir())
    assert names == ["INTERNAL estimate Q-0002 r1.xlsx", "INTERNAL estimate Q-0003 r1.xlsx"] + [
        f"Quote Q-0001 r1 Wall hooks, Gate hooks.{kind}" for kind in ("pdf", "xlsx")
    ]
    assert ask("quote", "Q-0001", "--again", "--out", str(out))["total"] == made["total"]
    assert "printed again by its number" in run("quote", "1", "2", "--again", code=3).output
    run("quote", "1", "2", "--what-if", "margin=20", code=3)
    rows = ask("quotes", "accepted", "Q-0001", "--on", "2026-03-05")["quotes"]
    assert [(row["job"], row["state"], row["joint"]) for row in rows] == [
        ("J-0001", "accepted", "Q-0001"), ("J-0002", "accepted", "Q-0001"),
    ]  # fmt: skip
