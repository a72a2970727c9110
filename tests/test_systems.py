"""What one system has and another lacks is not called; names of files are legal everywhere."""

import ast
import os
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from shopquote import files
from shopquote.files import put_file

ROOT = Path(__file__).parents[1]
PLACES = ("shopquote", "migrations")

# Modules and calls that Windows, or all but Windows, lacks.
MODULES = {
    "fcntl",
    "grp",
    "msvcrt",
    "pty",
    "pwd",
    "resource",
    "syslog",
    "termios",
    "tty",
    "winreg",
    "winsound",
}
CALLS = {
    "chown", "chroot", "fork", "forkpty", "getegid", "geteuid", "getgid", "getgroups", "getloadavg",
    "getpgid",
    "getpriority", "getuid", "initgroups", "kill", "killpg", "lchown", "mkfifo", "mknod", "nice", "openpty",
    "posix_fallocate", "sched_getaffinity", "sched_setaffinity", "setsid", "setuid", "startfile", "statvfs",
    "sync",
    "tcgetpgrp", "ttyname", "uname", "wait3", "wait4",
}  # fmt: skip
SIGNALS = {"SIGALRM", "SIGHUP", "SIGKILL", "SIGQUIT", "SIGUSR1", "SIGUSR2", "alarm", "setitimer"}
# Reading or writing text without an encoding is UTF-8 on one system and not on another.
TEXT_CALLS = {"open", "read_text", "write_text"}
# A module without one of these in its text has nothing of the kind and is not parsed, which takes seconds.
HINTS = re.compile(
    rf"\b(os|signal)\.|\b({'|'.join((*MODULES, *TEXT_CALLS))})\b|/(tmp|dev|proc|etc|usr|home)\b|%[-e]"
)
# Behind a question for the system.
ALLOWED = {("shopquote/files.py", "os.kill")}

# Windows takes none of these in a name, nor these names, nor a blank or a point at the end.
BAD_LETTERS = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
BAD_NAMES = {"con", "prn", "aux", "nul", *(f"{word}{n}" for word in ("com", "lpt") for n in range(1, 10))}


def lacking(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """(line, what) of everything that one system lacks."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names if alias.name in MODULES)
        elif isinstance(node, ast.ImportFrom) and node.module in MODULES:
            yield node.lineno, node.module
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if (node.value.id == "os" and node.attr in CALLS) or (
                node.value.id == "signal" and node.attr in SIGNALS
            ):
                yield node.lineno, f"{node.value.id}.{node.attr}"
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            if re.match(r"/(tmp|dev|proc|etc|usr|home)\b", node.value):
                yield node.lineno, node.value
            if re.search(r"%-[dmHIMSjy]|%e\b", node.value):
                yield node.lineno, f"a form of time that Windows lacks: {node.value}"
        elif isinstance(node, ast.Call):
            yield from without_encoding(node)


def without_encoding(call: ast.Call) -> Iterator[tuple[int, str]]:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    named = {word.arg for word in call.keywords}
    if name not in TEXT_CALLS or "encoding" in named:
        return
    if name != "open" and not isinstance(call.func, ast.Attribute):
        return  # a function of ours
    if (
        isinstance(call.func, ast.Attribute)
        and name == "open"
        and ast.unparse(call.func.value) not in ("path", "place")
    ):
        return  # an archive, a picture, a form
    modes = [ast.literal_eval(arg) for arg in call.args if isinstance(arg, ast.Constant)]
    if name == "open" and any(isinstance(mode, str) and "b" in mode for mode in modes):
        return
    yield call.lineno, f"{name} without an encoding"


def test_what_one_system_lacks_is_named_with_its_line():
    wrong = (
        "import fcntl\nos.fork()\nsignal.SIGKILL\nPath('/tmp/x')\nday.strftime('%-d')\n"
        "path.read_text()\nopen('x')\npath.open('rb')\nos.replace(a, b)\n"
    )
    assert [line for line, _ in lacking(ast.parse(wrong))] == [1, 6, 7, 2, 3, 4, 5] or sorted(
        line for line, _ in lacking(ast.parse(wrong))
    ) == [1, 2, 3, 4, 5, 6, 7]
    assert all(HINTS.search(line) for line in wrong.splitlines()[:-1])


def test_nothing_is_called_that_one_system_lacks():
    found = []
    for place in PLACES:
        for path in sorted((ROOT / place).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            code = path.read_text(encoding="utf-8")
            for line, what in lacking(ast.parse(code)) if HINTS.search(code) else ():
                if (name, what) not in ALLOWED:
                    found.append(f"{name}:{line}: {what}")
    assert not found, "\n".join(found)


def test_no_name_of_a_time_zone_is_looked_up():
    """Days and hours are the computer's own: no table of zones is needed, which Windows has none of."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "shopquote").rglob("*.py"))
    assert not re.search(r"\bzoneinfo\b|ZoneInfo|pytz|dateutil", code)


def test_every_file_of_the_project_has_a_legal_name():
    for path in (path for place in (*PLACES, "sample_jobs", "tests") for path in (ROOT / place).rglob("*")):
        name = path.name
        assert not BAD_LETTERS.search(name) and name.split(".")[0].lower() not in BAD_NAMES, path
        assert not name.endswith((" ", ".")) and name.isascii(), path


def test_a_file_that_is_open_elsewhere_gets_a_numbered_name(tmp_path, monkeypatch, capsys):
    path = put_file(tmp_path / "Größe & mehr" / "quote Q-0001.xlsx", b"first")
    really = Path.replace

    def replace(self, target):
        if Path(target) == path:  # as Windows says of a workbook that a spreadsheet program has open
            raise PermissionError(13, "The process cannot access the file", str(target))
        return really(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    assert put_file(path, b"second").name == "quote Q-0001 (2).xlsx"
    assert path.read_bytes() == b"first"
    assert "another program has it open; written as quote Q-0001 (2).xlsx" in " ".join(
        capsys.readouterr().err.split()
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "cp932"])
def test_a_console_that_is_not_utf_8_shows_what_it_can(encoding, tmp_path):
    import subprocess

    (tmp_path / "Größe.csv").write_text("mark,length,count,½ 日本\nA,100,1,x\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "shopquote", "cut", str(tmp_path / "Größe.csv"), "--stock", "6000"],
        capture_output=True, check=False, env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )  # fmt: skip
    assert done.returncode == 3 and b"Traceback" not in done.stderr
    assert "headings" in done.stderr.decode(encoding)


def test_the_data_folder_is_the_system_s_own():
    assert files.data_folder().name == "shopquote"


def test_every_dependency_is_told_with_why_it_is_there():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    names = {re.match(r"[\w.-]+", text)[0] for group in groups for text in group}
    section = (
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Dependencies")[1].split("\n## ")[0]
    )
    told = set(
        re.findall(r"[\w.-]+", " ".join(line.split("|")[1] for line in section.splitlines() if "|" in line))
    )
    assert names - told == set()
