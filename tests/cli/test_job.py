import json
import re
from pathlib import Path

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.reading.job_book import read_job
from tests.reading.test_job_file import WHOLE


@pytest.fixture
def gate(tmp_path: Path) -> str:
    path = tmp_path / "gate.toml"
    path.write_text(WHOLE, encoding="utf-8")
    return str(path)


@pytest.fixture
def run(shop):
    """The command line on an invented shop's database; gives exit code, stdout and stderr."""

    def invoke(*words: str):
        result = CliRunner().invoke(app, ["--db", shop.name, *words])
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return invoke


def said(result) -> object:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_added_jobs_are_answered_with_number_title_and_state(run, gate):
    assert said(run("job", "add", gate, "--json")) == {
        "jobs": [{"job": "J-0001", "title": "Gate", "state": "asked"}],
        "guessed": [],
    }
    assert run("job", "add", gate).stdout.splitlines()[0] == "J-0002  asked  Gate"


def test_a_long_list_shows_the_newest_fifty_and_counts_the_rest(run, gate):
    text = Path(gate).read_text(encoding="utf-8")
    many = [Path(gate).with_name(f"gate-{number}.toml") for number in range(53)]
    for path in many:
        path.write_text(text, encoding="utf-8")
    run("job", "add", *map(str, many))
    shown = run("job", "list").stdout
    assert "J-0053" in shown and "J-0004" in shown and "J-0003" not in shown
    assert "3 older jobs besides: --all" in shown
    assert "J-0001" in run("job", "list", "--all").stdout
    assert len(said(run("job", "list", "--json"))["jobs"]) == 53


def test_the_list_answers_what_a_shop_asks(run, gate):
    run("job", "add", gate)
    (line,) = said(run("job", "list", "--json"))["jobs"]
    expected = {
        "job": "J-0001", "title": "Gate", "state": "asked", "customer": "Nether Tarn Parish", "sets": 4,
        "due": "2027-03-01", "price": None,
    }  # fmt: skip
    assert expected.items() <= line.items()
    assert said(run("job", "list", "--json", "--state", "won")) == {"jobs": []}
    table = run("job", "list").stdout
    assert max(map(len, table.splitlines())) <= 80
    assert "Nether Tarn Parish" in table
    assert "No jobs" in run("job", "list", "--customer", "nobody").stdout


def test_a_shown_job_says_all_that_was_typed(run, gate):
    run("job", "add", gate)
    shown = run("job", "show", "1").stdout
    for text in ("Gate", "round 12", "7' 6-1/2\"", "mitre 45", "2 holes dia 6.5 countersunk", "0.42",
                 "1.90 per kg", "paint, 2 coats", "asked (next: quoted, lost, dropped)"):  # fmt: skip
        assert text in shown
    assert max(map(len, shown.splitlines())) <= 80
    job = said(run("job", "show", "1", "--json"))
    assert job["parts"][1]["length"] == "7' 6-1/2\""
    assert job["parts"][1]["ends"] == ["square", "mitre 45"]
    assert job["parts"][0]["cut_mm"] == pytest.approx(1050 - 96 + 94.25, abs=0.1)
    (outside,) = job["outside"]
    wanted = {"name": "hot-dip galvanising", "basis": "kg", "rate": "1.90", "minimum": "60.00"}
    assert wanted.items() <= outside.items()
    assert job["next"] == ["quoted", "lost", "dropped"]


def test_a_job_in_inches_is_weighed_in_pounds(run, tmp_path):
    path = tmp_path / "bar.toml"
    path.write_text(
        'format = 1\n[job]\ntitle = "bar"\ncustomer = "Orla"\nsets = 1\nunits = "in"\n[[part]]\nmark = "A"\n'
        'name = "bar"\nper_set = 1\nbar = "square 1"\ngrade = "A36"\nlength = 12\n', encoding="utf-8"
    )  # fmt: skip
    assert run("job", "add", str(path)).exit_code == 0
    shown = run("job", "show", "1").stdout
    # 12 cubic inches at 490 lb a cubic foot of 1,728 (Iowa DOT IM 452.02): 3.403 lb.
    assert "lb each" in shown and "kg" not in shown
    assert abs(float(re.search(r"12 in +(\S+)", shown)[1]) - 3.403) < 0.01


def test_customers_text_is_shown_as_it_is(run, tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text(WHOLE.replace('"Gate"', '"[bold]=SUM(A1)[/bold] :wave: \\\\"'), encoding="utf-8")
    run("job", "add", str(path))
    assert "[bold]=SUM(A1)[/bold] :wave: \\" in run("job", "show", "1").stdout


def test_a_job_is_revised_and_both_revisions_can_be_seen(run, gate, tmp_path):
    run("job", "add", gate)
    changed = tmp_path / "changed.toml"
    changed.write_text(WHOLE.replace("sets = 4", "sets = 6"), encoding="utf-8")
    answer = said(run("job", "revise", "1", str(changed), "--reason", "two more", "--json"))
    assert answer["jobs"][0]["revision"] == 2
    assert said(run("job", "show", "1", "--json"))["sets"] == 6
    assert said(run("job", "show", "1", "--revision", "1", "--json"))["sets"] == 4
    assert run("job", "show", "1", "--revision", "3").exit_code == 4
    assert run("job", "revise", "1", str(changed)).exit_code == 3


def test_a_job_moves_and_a_refused_move_says_why(run, gate):
    run("job", "add", gate)
    refused = run("job", "status", "1", "won")
    assert refused.exit_code == 3
    assert refused.stderr == (
        "shopquote: Job J-0001 is asked and cannot become won; it can become quoted, lost or dropped.\n"
        "The way there: asked -> quoted -> won.\n"
    )
    assert run("job", "status", "1", "quoted").stdout == "J-0001  quoted  (next: won, lost, dropped)\n"
    assert said(run("job", "status", "1", "lost", "--json")) == {"job": "J-0001", "state": "lost", "next": []}


def test_a_removed_job_is_off_file(run, gate):
    run("job", "add", gate)
    assert run("job", "remove", "1").stdout == "J-0001 removed.\n"
    gone = run("job", "show", "1")
    assert (gone.exit_code, gone.stdout) == (4, "")
    assert gone.stderr == "shopquote: Job J-0001 is not on file.\nSee: shopquote job list\n"


def test_an_exported_job_reads_back_and_the_paths_are_told(run, gate, tmp_path):
    run("job", "add", gate)
    files = said(run("job", "export", "1", "--out", str(tmp_path / "out"), "--json"))["files"]
    assert [read_job(Path(file)) for file in files] == [read_job(Path(gate))] * 2
    assert (
        f"Wrote {tmp_path / 'out' / 'J-0001.xlsx'}"
        in run("job", "export", "1", "--out", str(tmp_path / "out")).stdout
    )


def test_a_blank_workbook_needs_no_database(tmp_path):
    result = CliRunner().invoke(app, ["job", "blank", "--out", str(tmp_path / "new.xlsx")])
    assert result.stdout == f"Wrote {tmp_path / 'new.xlsx'}\n"
    assert load_workbook(tmp_path / "new.xlsx")["Parts"]["A1"].value == "Mark"


def test_check_tells_every_mistake_and_stores_nothing(run, gate, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text(WHOLE.replace("sets = 4", "sets = 0").replace('"S275"', '"S257"'), encoding="utf-8")
    result = run("check", gate, str(bad))
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr.startswith("shopquote: 2 mistakes:\n")
    assert f"{bad}: job, sets: found 0" in result.stderr
    assert "did you mean 'S275'?" in result.stderr
    assert "nothing was stored" in run("job", "add", str(bad)).stderr
    answer = run("check", str(bad), "--json")
    assert answer.exit_code == 3
    assert [mistake["key"] for mistake in json.loads(answer.stdout)["mistakes"]] == ["sets", "grade"]
    assert said(run("job", "list", "--json")) == {"jobs": []}


def test_check_of_good_files_works_without_a_database(gate):
    result = CliRunner().invoke(app, ["check", gate])
    assert result.exit_code == 0, result.stderr
    assert result.stdout.startswith(f"{gate}: no mistakes; Gate, 2 parts\n")
    answer = CliRunner().invoke(app, ["check", gate, "--json"])
    assert json.loads(answer.stdout)["files"][0]["parts"] == 2


def test_a_part_that_cannot_be_made_ends_with_5(run, tmp_path):
    tight = tmp_path / "tight.toml"
    tight.write_text(WHOLE.replace("leg 600;", "leg 20;"), encoding="utf-8")
    for words in (("check",), ("job", "add")):
        result = run(*words, str(tight))
        assert (result.exit_code, result.stdout) == (5, "")
        assert "tight.toml" in result.stderr and "A" in result.stderr


def test_a_database_that_is_not_there_ends_with_6(gate, tmp_path):
    for words in (["job", "list"], ["job", "add", gate], ["job", "show", "1"], ["check", gate]):
        result = CliRunner().invoke(app, [*words, "--db", str(tmp_path / "none.db")])
        assert result.exit_code == 6
        assert "There is no database" in result.stderr
    assert not (tmp_path / "none.db").exists()


def test_a_list_of_which_nothing_was_chosen_says_so_and_offers_no_first_job(shop):
    def said(*words: str) -> str:
        return CliRunner().invoke(app, ["--db", shop.name, *words]).output.strip()

    assert said("job", "list").startswith("No jobs yet. Add one")
    for words in (("--overdue",), ("--late",), ("--find", "gate"), ("--state", "won"), ("--customer", "Ann")):
        assert said("job", "list", *words) == "No jobs like that."
    assert said("quotes", "list", "--state", "declined") == "No quotes."
    assert said("order", "list", "--state", "cancelled") == "No orders."
    assert said("rack", "list", "--bar", "round 99") == "No pieces."
