"""README tells the truth: every command is explained in it, and its commands are those that CI runs."""

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer.main

from shopquote.cli.app import app

ROOT = Path(__file__).parents[1]


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


def test_readme_names_no_command_that_does_not_exist() -> None:
    known = {words for words, _ in all_commands()}
    groups = {" ".join(words.split()[:2]) for words in known if len(words.split()) > 2}
    for block in re.findall(r"```[a-z]*\n(.*?)```", readme(), re.DOTALL):
        for line in block.splitlines():
            found = re.match(r"\s*(?:\$ )?(shopquote [a-z]+)(?: ([a-z]+))?", line)
            if found is None:
                continue
            two, third = found.groups()
            assert two in known or two in groups, line
            if two in groups and two not in known:
                assert f"{two} {third}" in known, line


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
