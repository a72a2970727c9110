"""`shopquote cut` as a person or a program runs it."""

import hashlib
import json
from decimal import Decimal

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app
from tests.referees.proof_checker import bound_shown_by

run = CliRunner()


@pytest.fixture
def cut_list(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("mark,length,count\nA,450,12\nB,1200.5,7\nC,2 ft,5\n", encoding="utf-8")
    return path


BARS = [
    "--stock",
    "6000:24.60",
    "--stock",
    "3000:13.10:4",
    "--rack",
    "1500:2",
    "--kerf",
    "1.6",
    "--trim",
    "5",
]


def test_json_has_the_agreed_keys_and_adds_up(cut_list):
    result = run.invoke(app, ["cut", str(cut_list), *BARS, "--keep", "300:50", "--seconds", "10", "--json"])
    assert result.exit_code == 0, result.output
    plan = json.loads(result.stdout)
    assert {"bars", "bars_used", "cost", "bound", "gap", "proven", "seconds"} <= set(plan)
    pieces = {}
    for bar in plan["bars"]:
        assert {"stock_mm", "count", "pieces", "offcut_mm", "kept"} <= set(bar)
        number = sum(piece["count"] for piece in bar["pieces"])
        used = sum(piece["length_mm"] * piece["count"] for piece in bar["pieces"]) + (number - 1) * 1.6
        left = bar["stock_mm"] - 5 - used
        assert bar["offcut_mm"] == pytest.approx(max(0, left - 1.6))  # one more cut frees it
        assert bar["kept"] == (bar["offcut_mm"] >= 300)
        for piece in bar["pieces"]:
            pieces[piece["mark"]] = pieces.get(piece["mark"], 0) + piece["count"] * bar["count"]
    assert pieces == {"A": 12, "B": 7, "C": 5}
    assert plan["bars_used"] == sum(bar["count"] for bar in plan["bars"])
    assert isinstance(plan["cost"], str) and plan["cost"].count(".") == 1
    assert plan["proven"] and plan["gap"] == "0.00"


def test_without_prices_cost_is_millimetres(cut_list):
    result = run.invoke(app, ["cut", str(cut_list), "--stock", "6000", "--json"])
    plan = json.loads(result.stdout)
    assert plan["cost"] == plan["bound"] == 18000  # 5400 + 8403.5 + 3048 = 16851.5 mm of pieces
    assert plan["proven"] is True


def test_prices_may_all_bear_one_sign(cut_list):
    signed = [word.replace("24.60", "$24.60").replace("13.10", "13.10 $") for word in BARS]
    answers = [run.invoke(app, ["cut", str(cut_list), *words, "--json"]) for words in (BARS, signed)]
    assert [answer.exit_code for answer in answers] == [0, 0], answers[1].stderr
    plain, with_signs = (json.loads(answer.stdout) for answer in answers)
    assert with_signs["cost"] == plain["cost"]


def test_the_picture_is_readable_without_colour_and_ends_with_the_verdict(cut_list):
    result = run.invoke(app, ["cut", str(cut_list), *BARS, "--keep", "300"])
    assert result.exit_code == 0
    assert "\x1b[" not in result.stdout
    lines = result.stdout.strip().splitlines()
    assert lines[-1].startswith("Cost: ") and lines[-1].endswith("proven cheapest")
    assert any(line.startswith("Buy: ") for line in lines)
    assert any(line.startswith("Back on the rack: ") for line in lines)
    assert any(line.startswith("Scrap: ") for line in lines)
    assert max(len(line) for line in lines) <= 120


def test_a_proof_is_written_checked_and_about_its_list(cut_list, tmp_path):
    path = tmp_path / "proofs" / "list.json"
    result = run.invoke(app, ["cut", str(cut_list), *BARS, "--proof", str(path)])
    assert result.exit_code == 0, result.output
    assert "none is cheaper" in result.stdout
    assert [file.name for file in path.parent.iterdir()] == ["list.json"]
    read = run.invoke(app, ["proof", str(path), "--list", str(cut_list), "--json"])
    assert read.exit_code == 0, read.output
    found = json.loads(read.stdout)
    assert found["good"] and found["proven"] and found["faults"] == []
    assert found["cost"] == found["bound"]
    assert found["list_sha256"] == hashlib.sha256(cut_list.read_bytes()).hexdigest()
    assert bound_shown_by(json.loads(path.read_text())["proofs"][0]) == Decimal(found["bound"]) * 1_000_000


def test_a_proof_of_another_list_or_a_changed_one_is_refused(cut_list, tmp_path):
    path = tmp_path / "proof.json"
    run.invoke(app, ["cut", str(cut_list), *BARS, "--proof", str(path)])
    other = tmp_path / "other.csv"
    other.write_text(cut_list.read_text(encoding="utf-8").replace("450,12", "450,13"), encoding="utf-8")
    result = run.invoke(app, ["proof", str(path), "--list", str(other)])
    assert result.exit_code == 3
    assert "another list than other.csv: see mark 'A'" in result.output
    path.write_text(path.read_text().replace('"count": 12', '"count": 11', 1))
    changed = run.invoke(app, ["proof", str(path)])
    assert changed.exit_code == 3
    assert "something was changed" in changed.output


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"proofs": []}', '{"proofs": [1]}', "\x00"])
def test_a_file_that_is_no_proof_is_told(tmp_path, text):
    path = tmp_path / "odd.json"
    path.write_text(text, encoding="utf-8")
    result = run.invoke(app, ["proof", str(path)])
    assert result.exit_code == 3
    assert "odd.json is no proof of a cut plan" in result.stderr
    assert run.invoke(app, ["proof", str(tmp_path / "none.json")]).exit_code == 3


def test_inches_are_planned_and_shown_in_inches(tmp_path):
    path = tmp_path / "inches.csv"
    path.write_text("mark,length,count\nA,11.5,20\nB,2-7/16,3\n", encoding="utf-8")
    words = ["cut", str(path), "--stock", "20 ft", "--kerf", "1/16", "--units", "in"]
    assert "11-1/2 in" in run.invoke(app, words).stdout
    plan = json.loads(run.invoke(app, [*words, "--json"]).stdout)
    assert plan["bars"][0]["stock_mm"] == 6096


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("mark,length,count\n", "nothing to cut"),
        ("mark,lenght,count\nA,1,1\n", "did you mean 'length'"),
        ("mark,length\nA,1\n", "count"),
        ("mark,length,count\nA,0,1\n", "above 0"),
        ("mark,length,count\nA,wide,1\nB,10,none\n,5,1\n", "3 mistakes"),
        ("mark,length,count\nA,10,1000000000\n", "whole number from 1 to 1000000"),
        ("mark,length,count\nA,10,-1\n", "whole number"),
        ("mark,length,count\nA,10,1.5\n", "whole number"),
        ("mark,length,count\nA,1,450,7\n", "'7' stands under no heading"),
    ],
)
def test_a_bad_list_is_answered_with_exit_code_3(tmp_path, text, words):
    path = tmp_path / "bad.csv"
    path.write_text(text, encoding="utf-8")
    result = run.invoke(app, ["cut", str(path), "--stock", "6000"])
    assert result.exit_code == 3
    assert words in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("words", "code", "text"),
    [
        (["--stock", "600"], 5, "longest bar"),
        ([], 5, "no stock length"),
        (["--stock", "6000", "--rack", "6000", "--kerf", "x"], 3, "--kerf"),
        (["--stock", "6000:abc"], 3, "an amount"),
        (["--stock", "6000:1:2:3:4"], 3, "too many parts"),
        (["--stock", "6000:$5", "--rack", "1500:1:€2"], 3, "in $ and in €"),
        (["--stock", "6000:5", "--stock", "3000"], 3, "price"),
        (["--stock", "0"], 3, "longer than 0"),
        (["--stock", "6000:5:x"], 3, "expected a whole number"),
        (["--stock", "6000", "--rack", "500:999999"], 3, "at most"),
        (["--stock", "6000", "--keep", "300:200"], 3, "0 to 100"),
        (["--stock", "6000", "--seconds", "0"], 3, "--seconds"),
        (["--stock", "2000::1"], 5, "do not suffice"),
        (["--stock", "6000", "--colour"], 2, "No such option"),
    ],
)
def test_bad_words_are_answered_clearly(cut_list, words, code, text):
    result = run.invoke(app, ["cut", str(cut_list), *words])
    assert result.exit_code == code, result.output
    assert text in result.stderr
    assert "Traceback" not in result.stderr


def test_a_missing_file_is_named(tmp_path):
    result = run.invoke(app, ["cut", str(tmp_path / "none.csv"), "--stock", "6000"])
    assert result.exit_code == 3 and "none.csv" in result.stderr


def test_semicolons_and_a_byte_order_mark_are_read(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes("\ufeffMark;Length;Count\nA;450;2\n".encode())
    assert run.invoke(app, ["cut", str(path), "--stock", "6000"]).exit_code == 0
