"""What a refusal tells a person to do can be done: its commands run, in every state of a job."""

import re
from pathlib import Path
from shutil import copyfile

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app

run = CliRunner()
SAMPLES = Path(__file__).parents[2] / "sample_jobs"

WELDED = ("log", "1", "--operation", "welding", "--minutes", "30")
STEPS = {
    "asked": (),
    "quoted": (("quote", "1"),),
    "won": (("quote", "1"), ("quotes", "accepted", "1")),
    "started": (WELDED,),
    "finished": (
        WELDED,
        ("job", "status", "1", "finished"),
    ),
    "closed": (WELDED, ("quote", "1"), ("close", "1")),
    "lost": (("quote", "1"), ("quotes", "declined", "1", "--reason", "too dear")),
    "dropped": (("quote", "1"), ("quotes", "accepted", "1"), ("job", "status", "1", "dropped")),
}
ACTS = (
    ("job", "revise", "1", str(SAMPLES / "fire_grate.toml")),
    ("job", "remove", "1"),
    *(("job", "status", "1", to) for to in ("won", "started", "finished", "lost", "dropped")),
    ("quote", "1"),
    ("quote", "1", "--again"),
    ("quotes", "accepted", "1"),
    ("quotes", "declined", "1", "--reason", "too dear"),
    ("order", "1"),
    ("rack", "promise", "R-0001", "--job", "1"),
    ("rack", "use", "R-0001", "--job", "1"),
    ("deliver", "1"),
    ("log", "1", "--operation", "bending", "--minutes", "5"),
    ("log", "1", "--invoice", "7", "--amount", "100"),
    ("close", "1"),
    ("close", "1", "--reopen", "a late bill"),
    ("review", "1", "--no-book"),
)
# A command in a sentence; what stands for something (FILE, NAME) is in capitals.
COMMAND = re.compile(r'shopquote ((?:[\w-]+|--[\w-]+|"[^"]*")(?: (?:[\w-]+|"[^"]*"))*)')


def commands_in(message: str) -> list[list[str]]:
    """The commands that a message names whole."""
    found = [re.findall(r'"[^"]*"|\S+', words) for words in COMMAND.findall(message)]
    whole = [words for words in found if not any(word.isupper() and word.isalpha() for word in words)]
    return [[word.strip('"') for word in words] for words in whole]


@pytest.mark.parametrize("state", STEPS)
def test_the_commands_of_a_hint_run(state, _shop_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def call(database: Path, *words: str):
        return run.invoke(app, [*words, "--db", str(database)])

    ready = tmp_path / "ready.db"
    copyfile(_shop_file, ready)
    for words in (
        ("job", "add", str(SAMPLES / "fire_grate.toml")),
        ("rack", "add", "square 5/8 in", "A36", "20 ft"),
        *STEPS[state],
    ):
        done = call(ready, *words)
        assert done.exit_code == 0, done.stderr
    refused = 0
    for act in ACTS:
        trial = tmp_path / "trial.db"
        copyfile(ready, trial)
        answer = call(trial, *act)
        if answer.exit_code == 0:
            continue
        refused += 1
        assert answer.exit_code in (3, 4), (act, answer.stderr)
        for words in commands_in(answer.stderr):
            told = call(trial, *words)
            assert told.exit_code == 0, (act, answer.stderr, told.stderr)
    assert refused


def test_a_job_made_without_a_quote_is_quoted_afterwards_and_closed(_shop_file, tmp_path, monkeypatch):
    """Closing compares with a quote: a job that has none is no dead end."""
    monkeypatch.chdir(tmp_path)
    database = tmp_path / "shop.db"
    copyfile(_shop_file, database)
    job = str(SAMPLES / "fire_grate.toml")
    for words in (("job", "add", job), *STEPS["finished"], ("quote", "1"), ("close", "1")):
        done = run.invoke(app, [*words, "--db", str(database)])
        assert done.exit_code == 0, done.stderr
    again = run.invoke(app, ["quote", "1", "--db", str(database)])
    assert again.exit_code == 3 and "is closed and is quoted no more" in again.stderr


def test_a_job_that_is_over_tells_which_orders_still_bring_its_bars(_shop_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    database = tmp_path / "shop.db"
    copyfile(_shop_file, database)

    def call(*words: str):
        done = run.invoke(app, [*words, "--db", str(database)])
        assert done.exit_code == 0, done.stderr
        return done.stdout

    call("job", "add", str(SAMPLES / "fire_grate.toml"))
    call("quote", "1")
    call("order", "1")
    told = call("quotes", "declined", "1", "--reason", "too dear")
    assert "O-0001 (placed) still brings bars for J-0001: cancel it" in told
    call("job", "add", str(SAMPLES / "shelf_brackets.toml"))
    assert "still brings" not in call("job", "status", "2", "dropped")
