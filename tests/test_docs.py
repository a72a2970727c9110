"""README tells the truth: every command is explained in it, and its commands are those that CI runs."""

import ast
import json
import logging
import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import typer.main
from typer.testing import CliRunner

from shopquote.calc.job import OPERATIONS
from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.cli.app import app
from shopquote.records.jobs import JOB_STATES
from shopquote.services.shop import clock

ROOT = Path(__file__).parents[1]
FIRST_MORNING = datetime(2026, 11, 28, 7, 30, tzinfo=UTC)


def commands(command: Any, words: tuple[str, ...] = ("shopquote",)) -> Iterator[tuple[str, Any]]:
    """Every command that can be typed, as (its words, the command)."""
    children = getattr(command, "commands", {})
    if not children or getattr(command, "invoke_without_command", False):
        yield " ".join(words), command
    for name, child in children.items():
        yield from commands(child, (*words, name))


@cache
def whole_command() -> Any:
    """The command line with all its commands; typer takes a while to put it together."""
    return typer.main.get_command(app)


def all_commands() -> list[tuple[str, Any]]:
    return [(words, command) for words, command in commands(whole_command()) if words != "shopquote"]


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_command_has_a_help_line() -> None:
    silent = [words for words, command in all_commands() if not (command.help or "").strip()]
    assert not silent


def test_every_option_and_argument_has_a_help_text() -> None:
    silent = [
        f"{words} {parameter.name}"
        for words, command in all_commands()
        for parameter in command.params
        if not (getattr(parameter, "help", "") or "").strip()
    ]
    assert not silent


def test_every_command_appears_in_readme_with_an_example() -> None:
    examples = " ".join(
        line
        for block in re.findall(r"```[a-z]*\n(.*?)```", readme(), re.DOTALL)
        for line in block.splitlines()
    )
    missing = [words for words, _ in all_commands() if not re.search(rf"\b{re.escape(words)}\b", examples)]
    assert not missing


def examples() -> list[list[str]]:
    """The words of every example in README that begins with shopquote, comments left out."""
    blocks = re.findall(r"```[a-z]*\n(.*?)```", readme(), re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    return [shlex.split(line, comments=True)[1:] for line in lines if line.startswith("shopquote ")]


def command_of(words: list[str]) -> Any:
    """The command that an example calls; `order JOB` is `order for JOB`."""
    command = whole_command()
    for word in words[2:] if words[0] == "--db" else words:
        children = getattr(command, "commands", None)
        if not children:
            break
        if word not in children:
            assert "for" in children, " ".join(words)
            return children["for"]
        command = children[word]
    return command


def test_readme_has_many_examples() -> None:
    assert len(examples()) > 80


def test_examples_use_options_that_exist() -> None:
    for words in examples():
        command = command_of(words)
        known = {
            name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)
        }
        unknown = [word for word in words if word.startswith("--") and word not in known]
        assert not unknown, " ".join(words)


# What README says to type besides commands of ours; CI runs the first two.
OTHER_LINES = (
    "python3 -m venv .venv && .venv/bin/python -m pip install -e . "
    "&& .venv/bin/shopquote demo --out demo_out",
    '.venv/bin/python -m pip install -e ".[test]" && .venv/bin/python -m pytest -n 2',
    ". .venv/bin/activate",
)


def test_every_line_of_readme_runs_as_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """In the order of the page, in a fresh copy of the checkout's folder, Enter answering all but a name."""
    shutil.copytree(ROOT / "sample_jobs", tmp_path / "sample_jobs")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    minutes = count()
    monkeypatch.setattr(clock, "now", lambda: FIRST_MORNING + timedelta(minutes=next(minutes)))
    blocks = re.findall(r"```sh\n(.*?)```", readme(), re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    ours = [line for line in lines if line.startswith("shopquote ")]
    assert sorted(set(lines) - set(ours)) == sorted(OTHER_LINES)
    runner = CliRunner()
    failed = []
    for line in ours:
        words = shlex.split(line, comments=True)[1:]
        done = runner.invoke(app, words, input=("Weir Forge" if "--own" in words else "") + "\n" * 40)
        if done.exit_code:
            failed.append(f"[{done.exit_code}] {line}\n{done.output}{done.exception!r}")
    assert not failed, "\n".join(failed)
    assert not [record.getMessage() for record in caplog.records if record.levelno >= logging.ERROR]


def test_ci_runs_the_test_command_that_readme_gives() -> None:
    given = re.search(r"^\s*(\.venv/bin/\S+ .*-m pytest.*)$", readme(), re.MULTILINE)
    assert given is not None
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    in_ci = given.group(1).replace(".venv/", '"$venv"/')
    for command in in_ci.split(" && "):
        assert command in script, command


def test_ci_tries_the_lowest_versions_that_pyproject_allows_and_the_newest() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / ".ci" / "lowest.py")], capture_output=True, text=True, check=True
    )
    pinned = done.stdout.splitlines()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = {re.split(r"[\[>]", text)[0] for text in project["dependencies"]}
    assert needed <= {line.split("==")[0] for line in pinned}
    unbounded = [text for text in project["dependencies"] if "<" not in text]
    assert not unbounded  # a library may break us in its next version
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for job in ("newest", "lowest"):
        assert re.search(rf"^{job}\(\) \{{", script, re.MULTILINE)
        assert f"run_tests {job}" in script


def test_readme_opens_with_the_job_and_then_exactly_two_commands() -> None:
    opening = readme().split("\n## ")[0]
    blocks = re.findall(r"```[a-z]*\n(.*?)```", opening, re.DOTALL)
    assert [len(block.strip().splitlines()) for block in blocks] == [1, 1]
    assert opening.index("```") > 300  # a paragraph comes first


def test_asking_for_help_works_in_a_process_of_its_own() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "shopquote.cli.app", "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    for word in ("demo", "quote", "order", "review"):
        assert word in done.stdout


# What DEVELOPERS must tell how to add.
ADDED = (
    "section kind", "shape word", "field of a part", "operation", "rate", "list of the shop's own",
    "sheet column", "paper", "language", "command", "migration",
)  # fmt: skip


def where_to_add() -> dict[str, str]:
    """What DEVELOPERS says of each thing that can be added, by the words that begin it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = text.split("## Where to add")[1].split("\n## ")[0]
    entries = re.split(r"^- (?=\*\*)", told, flags=re.MULTILINE)[1:]
    return {re.match(r"\*\*(.+?)\*\*", entry)[1]: entry for entry in entries}  # type: ignore[index]


def entry_about(words: str) -> str:
    found = [entry for title, entry in where_to_add().items() if words in title]
    assert len(found) == 1, words
    return found[0]


def places_in(entry: str) -> list[Path]:
    """The files that an entry names, by whole paths, below the package, or by their names alone."""
    names = [name for name in re.findall(r"`([a-z_]+/[\w/]+\.\w+)`", entry) if "NAME" not in name]
    folders = [ROOT / "shopquote" / name for name in re.findall(r"`([a-z_]+(?:/[a-z_]+)+)/`", entry)]
    files = [ROOT / name if (ROOT / name).exists() else ROOT / "shopquote" / name for name in names]
    for name in re.findall(r"`([a-z_]+\.py)`", entry):
        files += list((ROOT / "shopquote").rglob(name)) or list((ROOT / "tests").rglob(name)) or [ROOT / name]
    return [*files, *(path for folder in folders for path in folder.rglob("*.py"))]


@pytest.mark.parametrize("words", ADDED)
def test_developers_tell_where_each_thing_is_added(words: str) -> None:
    assert places_in(entry_about(words)) or "`records/`" in entry_about(words)


@pytest.mark.parametrize("title", where_to_add())
def test_every_place_that_developers_name_is_there(title: str) -> None:
    entry = where_to_add()[title]
    places = places_in(entry)
    assert not [place for place in places if not place.is_file()]
    code = "\n".join(place.read_text(encoding="utf-8") for place in places)
    named = re.findall(r"`(_?[A-Z][A-Za-z_]+)`", entry)
    assert not [name for name in named if not re.search(rf"\b{name}\b", code)]


def modules_with(pattern: str) -> set[Path]:
    """The modules of the package whose text has a pattern."""
    found = (ROOT / "shopquote").rglob("*.py")
    return {path for path in found if re.search(pattern, path.read_text(encoding="utf-8"))}


@pytest.mark.parametrize(
    ("words", "pattern"),
    [
        ("section kind", r'"hex"'),  # a kind that nothing but its own entries has a reason to name
        ("operation", r'"tapping"'),
        ("shape word", r"^_FORMS: dict\[str, _Form\]"),
        ("language", r'^LANGUAGES = |"fr": _'),
        ("command", r"^SECTIONS\b"),
        ("field of a part", r"^PART = Table\(|^class PartSpec\b|^class PartRow\b"),
        ("rate", r"^STARTING_ROWS\b"),
        ("list of the shop's own", r"\bShopList\("),
        ("sheet column", r"^_?[A-Z_]+: tuple\[Column\["),
        ("paper", r"\btypeset\("),
    ],
)
def test_no_place_is_missing_where_something_is_added(words: str, pattern: str) -> None:
    missing = modules_with(f"(?m){pattern}") - set(places_in(entry_about(words)))
    assert not missing, sorted(str(path.relative_to(ROOT)) for path in missing)


@pytest.mark.parametrize(
    "head, words",
    [("States of a job", JOB_STATES), ("Operations", OPERATIONS), ("Cost categories", CATEGORIES)],
)
def test_the_glossary_lists_what_there_is(head: str, words: tuple[str, ...]) -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (told,) = re.findall(rf"{head}: ([^.]+)\.", text)
    assert sorted(re.split(r"[,;]\s+", told)) == sorted(words)


def test_the_way_of_a_quote_names_what_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = text.split("## One quote, from file to paper")[1].split("\n## ")[0]
    places = places_in(told)
    assert len(places) > 20
    assert not [place for place in places if not place.is_file()]
    code = "\n".join(place.read_text(encoding="utf-8") for place in places)
    called = re.findall(r"`([a-z]+_[a-z_]+|QuoteDocument)`", told)
    assert called and not [name for name in called if not re.search(rf"\b{name}\b", code)]


def has_protocols_alone(path: Path) -> bool:
    """Whether a module says only what others must do; nothing of it is ever called."""
    classes = [
        one for one in ast.parse(path.read_text(encoding="utf-8")).body if isinstance(one, ast.ClassDef)
    ]
    return bool(classes) and all("Protocol" in map(ast.unparse, one.bases) for one in classes)


WALK = """
import json, sys
from typer.testing import CliRunner
from shopquote.cli.app import app

database, folder, sample = sys.argv[1:]
modules, functions = set(), set()

def note(frame, event, _):
    if event == "call":
        modules.add(frame.f_code.co_filename)
        functions.add(frame.f_code.co_name)

on_file = ["--db", database]
for words in (
    [*on_file, "setup", "--yes"],
    [*on_file, "job", "add", sample],
    [*on_file, "quote", "J-0001", "--out", folder],
    ["price", sample],
):
    sys.setprofile(None if "setup" in words else note)
    done = CliRunner().invoke(app, words)
    sys.setprofile(None)
    assert done.exit_code == 0, done.output
print(json.dumps([sorted(modules), sorted(functions)]))
"""


def test_the_way_of_a_quote_runs_through_every_module_and_function_that_it_names(tmp_path: Path) -> None:
    # In a process of its own: what another test planned before is not planned again.
    sample = ROOT / "sample_jobs" / "shelf_brackets.toml"
    done = subprocess.run(
        [sys.executable, "-c", WALK, str(tmp_path / "way.db"), str(tmp_path), str(sample)],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "XDG_DATA_HOME": str(tmp_path / "nothing")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    modules, functions = map(set, json.loads(done.stdout))
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = told.split("## One quote, from file to paper")[1].split("\n## ")[0]
    named = [path for path in places_in(told) if path.suffix == ".py" and not has_protocols_alone(path)]
    assert not [str(path) for path in named if str(path) not in modules]
    assert not set(re.findall(r"`([a-z]+_[a-z_]+)`", told)) - functions


def test_no_list_of_versions_goes_stale() -> None:
    from shopquote import __version__

    assert f"### {__version__}" in readme()
