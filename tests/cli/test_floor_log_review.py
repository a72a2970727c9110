"""floor, log, close and review from the command line: words, exit codes, files, JSON."""

import json
from pathlib import Path

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from shopquote.cli.app import app
from tests.services.quoted_shop import quoted_copy
from tests.sheets import fill

run = CliRunner()


@pytest.fixture
def shopquote(_shop_file, tmp_path):
    """Runs a command on a set-up database with one quoted job J-0001; answers exit code, stdout, stderr."""
    path = quoted_copy(_shop_file, tmp_path)

    def call(*words, ok=True):
        result = run.invoke(app, [*words, "--db", str(path)])
        if ok:
            assert result.exit_code == 0, result.stderr
        return result

    return call


def test_the_chain_from_floor_sheet_to_review(shopquote, tmp_path):
    out = str(tmp_path / "sheets")
    answer = json.loads(shopquote("floor", "J-0001", "--out", out, "--seconds", "0.2", "--json").stdout)
    path, traveller = answer["files"]
    assert traveller.endswith("J-0001 traveller.pdf")
    assert answer["saw_list"] and answer["bend_list"]
    book = load_workbook(path)
    page = book["Minutes"]
    fill(page, {"Operation": "bending"}, Day="2026-03-05", Minutes=75)
    book.save(path)
    logged = json.loads(shopquote("log", "1", "--from", path, "--json").stdout)
    assert logged["logged"][0]["minutes"] == 75
    shopquote("log", "1", "--operation", "welding", "--minutes", "1:00", "--on", "2026-03-06")
    shopquote(
        "log",
        "1",
        "--bar",
        "round 12",
        "--grade",
        "S275",
        "--length",
        "6000",
        "--count",
        "3",
        "--cost",
        "22.50",
    )
    shopquote("log", "1", "--bought", "M6 bolt", "--cost", "4.00", "--count", "16")
    shopquote("log", "1", "--invoice", "R-1", "--amount", "600", "--reason", "agreed: painted")
    not_done = (
        "sawing",
        "drilling",
        "fit-up",
        "forging",
        "grinding",
        "assembly",
        "packing",
        "flat 40 x 8 S275",
        "deliveries",  # its bars came by no order, and were fetched for nothing
    )
    unlogged = [word for name in not_done for word in ("--nothing", name)]
    closed = json.loads(shopquote("close", "1", *unlogged, "--json").stdout)
    assert closed["as_quoted"] == ["consumables", "outside"]
    assert closed["state"] == "closed" and closed["price"] == "600.00"
    review = json.loads(shopquote("review", "1", "--json", "--out", out).stdout)
    job = review["jobs"][0]
    assert job["job"] == "J-0001"
    assert job["categories"]["labour"]["actual"] == "102.50"  # 75 min at 42 and 60 at 50 an hour
    assert job["categories"]["material"]["actual"] == "22.50"
    parts = sum(float(amount) for amount in job["variance"].values())
    assert parts == pytest.approx(float(job["cost_actual"]) - float(job["cost_estimated"]))
    assert [Path(name).name for name in review["files"]] == ["Margin review J-0001.xlsx"]
    everything = json.loads(shopquote("review", "--json", "--no-book", "--by", "customer").stdout)
    assert everything["totals"]["jobs"] == 1 and everything["files"] == []
    assert everything["groups"]["customer"][0]["name"] == "Tansy and Thorne"


def test_a_piece_used_from_the_rack_is_work_as_a_logged_one(shopquote):
    """It starts the job, and nothing is used for one whose figures stand."""
    shopquote("rack", "add", "round 12", "S275", "2 m", "--count", "2")
    told = shopquote("rack", "use", "R-0001", "--job", "1").stdout
    assert "J-0001 was quoted and is now started." in told
    shopquote("close", "1")
    refused = shopquote("rack", "use", "R-0002", "--job", "1", ok=False)
    assert refused.exit_code == 3 and "J-0001 is closed; its figures stand." in refused.stderr
    assert json.loads(shopquote("rack", "list", "--json").stdout)["pieces"][0]["state"] == "free"


def test_the_log_alone_shows_what_is_logged(shopquote):
    assert "Nothing is logged" in shopquote("log", "1").stdout
    shopquote(
        "log", "1", "--operation", "welding", "--minutes", "30", "--on", "2026-03-06", "--person", "Ebba"
    )
    rows = json.loads(shopquote("log", "1", "--json").stdout)["rows"]
    assert (rows[0]["what"], rows[0]["minutes"], rows[0]["person"]) == ("welding", 30, "Ebba")
    assert "Ebba" in shopquote("log", "1").stdout


def test_a_timer_from_the_command_line(shopquote):
    assert "timer started" in shopquote("log", "1", "--operation", "welding", "--start").stdout
    assert "min" in shopquote("log", "1", "--stop", "--minutes", "12").stdout


@pytest.mark.parametrize(
    "words, code, message",
    [
        (("log", "1", "--operation", "welding"), 2, "needs --minutes"),
        (("log", "1", "--operation", "welding", "--minutes", "5", "--cost", "1"), 2, "does not go with"),
        (("log", "1", "--operation", "weldin", "--minutes", "5"), 3, "welding"),
        (("log", "1", "--operation", "welding", "--minutes", "many"), 3, "expected minutes"),
        (
            ("log", "1", "--operation", "welding", "--minutes", "5", "--on", "yesterday"),
            3,
            "expected a day such as",
        ),
        (("log", "99", "--operation", "welding", "--minutes", "5"), 4, "J-0099"),
        (("log", "1", "--bar", "rond 12", "--grade", "S275", "--length", "6000"), 3, "round"),
        (("log", "1", "--bar", "round 12", "--grade", "S999", "--length", "6000"), 4, "S999"),
        (("log", "1", "--bought", "bolt", "--cost", "cheap"), 3, "expected an amount"),
        (("log", "1", "--piece", "R-0099"), 4, "R-0099"),
        (("log", "1", "--from", "nowhere.xlsx"), 3, "nowhere.xlsx"),
        (("close", "1"), 3, "is quoted"),
        (("close", "1", "--reopen", "why"), 3, "not closed"),
        (("floor", "99"), 4, "J-0099"),
        (("review", "--by", "colour"), 2, "colour"),
        (("review", "--state", "done"), 3, "State"),
        (("review", "--since", "soon"), 3, "expected a day such as"),
        (("review", "--closing", "1"), 2, "one JOB"),
        (("review", "1", "--closing", "1"), 4, "closed 0 times"),
        (("review", "--accept", "weld.fit-up"), 4, "say nothing"),
        (("review", "--bottleneck", "lathe"), 3, "Operation"),
    ],
)
def test_wrong_words_end_with_their_exit_code_and_one_message(shopquote, words, code, message):
    result = shopquote(*words, ok=False)
    assert result.exit_code == code
    assert message in result.stderr
    assert "Traceback" not in result.stderr


def test_a_closed_job_reopened_keeps_its_figures(shopquote):
    shopquote("log", "1", "--operation", "welding", "--minutes", "30", "--on", "2026-03-06")
    not_done = ("sawing", "bending", "drilling", "fit-up", "forging", "grinding", "assembly", "packing")
    shopquote("close", "1", *(word for name in not_done for word in ("--nothing", name)))
    assert shopquote("log", "1", "--operation", "welding", "--minutes", "5", ok=False).exit_code == 3
    assert "finished again" in shopquote("close", "1", "--reopen", "late minutes").stdout
    shopquote("log", "1", "--operation", "welding", "--minutes", "5", "--on", "2026-03-06")
    old = json.loads(shopquote("review", "1", "--closing", "1", "--json").stdout)["jobs"][0]
    new = json.loads(shopquote("review", "1", "--json", "--no-book").stdout)["jobs"][0]
    # Opened again, what is not logged counts as quoted until closing says once more that it cost nothing.
    unlogged = sum(line["minutes_actual"] for line in new["lines"] if line["as_quoted"])
    assert (old["minutes_actual"], round(new["minutes_actual"] - unlogged, 1)) == (30, 35)


def test_a_review_of_nothing_says_so(shopquote, tmp_path):
    assert "No finished jobs" in shopquote("review", "--no-book").stdout
    assert json.loads(shopquote("review", "--json", "--no-book").stdout)["jobs"] == []
    shopquote("review", "--out", str(tmp_path))
    assert (tmp_path / "Margin review.xlsx").exists()
