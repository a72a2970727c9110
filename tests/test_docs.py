"""README tells the truth: every command is explained in it, and its commands are those that CI runs."""

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import typer.main
from typer.testing import CliRunner

from shopquote.cli.app import app
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


def all_commands() -> list[tuple[str, Any]]:
    return [
        (words, command) for words, command in commands(typer.main.get_command(app)) if words != "shopquote"
    ]


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
    command = typer.main.get_command(app)
    for word in words:
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


def test_every_line_of_readme_runs_as_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the order of the page, in a fresh copy of the checkout's folder, with Enter for an answer."""
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
        done = runner.invoke(app, shlex.split(line, comments=True)[1:], input="\n" * 40)
        if done.exit_code:
            failed.append(f"[{done.exit_code}] {line}\n{done.output}{done.exception!r}")
    assert not failed, "\n".join(failed)


def test_ci_runs_the_test_command_that_readme_gives() -> None:
    given = re.search(r"^\s*(\.venv/bin/\S+ .*-m pytest.*)$", readme(), re.MULTILINE)
    assert given is not None
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    in_ci = given.group(1).replace(".venv/", '"$venv"/')
    for command in in_ci.split(" && "):
        assert command in script, command


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


def test_no_list_of_versions_goes_stale() -> None:
    from shopquote import __version__

    assert f"### {__version__}" in readme()
