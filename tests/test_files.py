"""The writer of files: whole or not there, never over what it did not write, private as the umask says."""

import ast
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from openpyxl import load_workbook
from sqlalchemy.orm import Session
from typer.testing import CliRunner

from shopquote import files
from shopquote.cli.app import app
from shopquote.errors import InputError
from shopquote.files import bring_in, put_file, set_aside, set_replacing

PACKAGE = Path(files.__file__).parent


@pytest.fixture(autouse=True)
def replacing_is_as_it_was():
    set_replacing(False)
    yield
    set_replacing(False)


def run(*words: object, code: int = 0) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


def test_its_own_file_is_written_again_and_a_changed_one_is_not(tmp_path):
    path = put_file(tmp_path / "a" / "list.csv", b"one")
    put_file(path, b"two")
    assert path.read_bytes() == b"two"
    path.write_bytes(b"two, and what somebody typed")
    with pytest.raises(InputError, match="not as shopquote wrote it") as refused:
        put_file(path, b"three")
    assert "--replace" in str(refused.value)
    assert path.read_bytes() == b"two, and what somebody typed"
    set_replacing(True)
    put_file(path, b"three")
    assert path.read_bytes() == b"three"
    assert [one.name for one in path.parent.iterdir()] == ["list.csv"]


@pytest.mark.parametrize("replacing", [False, True])
def test_no_database_folder_pipe_or_device_is_ever_written_over(tmp_path, replacing):
    set_replacing(replacing)
    database = tmp_path / "shop.db"
    database.write_bytes(files.DATABASE_BEGINS + b"ten years of a business")
    folder = tmp_path / "folder"
    folder.mkdir()
    lost = tmp_path / "lost"
    lost.symlink_to(tmp_path / "nowhere")
    link = tmp_path / "link"
    link.symlink_to(database)
    places = [database, folder, lost, link]
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        places.append(tmp_path / "pipe")
    for place in places:
        with pytest.raises(InputError, match=r"nothing is written there|is a database"):
            put_file(place, b"x")
    assert database.read_bytes().endswith(b"business")
    assert link.is_symlink()


def test_of_files_that_belong_together_none_is_moved_unless_all_may_be(tmp_path):
    (tmp_path / "b.txt").write_text("mine")
    with set_aside(tmp_path) as aside:
        written = [aside / "a.txt", aside / "b.txt"]
        for file in written:
            file.write_text("new")
        with pytest.raises(InputError):
            bring_in(written, tmp_path)
    assert [one.name for one in tmp_path.iterdir()] == ["b.txt"]


def test_what_a_killed_run_left_is_gone_when_the_next_one_writes(tmp_path):
    run_and_die = (
        "import os, sys, signal\n"
        "from pathlib import Path\n"
        "from shopquote.files import set_aside\n"
        "with set_aside(Path(sys.argv[1])) as aside:\n"
        "    (aside / 'half.pdf').write_bytes(b'half')\n"
        "    os._exit(9)\n"
    )
    subprocess.run([sys.executable, "-c", run_and_die, tmp_path], check=False)
    assert [one.name.startswith(files.ASIDE) for one in tmp_path.iterdir()] == [True]
    with set_aside(tmp_path) as at_work:
        (at_work / "busy.txt").write_text("x")
        put_file(tmp_path / "list.csv", b"one")
        assert (at_work / "busy.txt").exists()  # the folder of a run that is still at work stays
    assert [one.name for one in tmp_path.iterdir()] == ["list.csv"]


def test_a_file_that_is_open_elsewhere_gets_a_neighbour_with_a_number(tmp_path, monkeypatch, capsys):
    path = put_file(tmp_path / "quote.xlsx", b"one")
    replace = Path.replace

    def held(self, target):
        if Path(target) == path:
            raise PermissionError(13, "The process cannot access the file")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", held)
    other = put_file(path, b"two")
    assert other.name == "quote (2).xlsx" and other.read_bytes() == b"two"
    assert path.read_bytes() == b"one"
    assert "another program has it open" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="Windows has no umask")
def test_files_are_as_private_as_the_umask_says(tmp_path):
    before = os.umask(0o077)
    try:
        path = put_file(tmp_path / "estimate.xlsx", b"one")
        run("job", "blank", "--out", tmp_path / "job.xlsx")
    finally:
        os.umask(before)
    assert path.stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "job.xlsx").stat().st_mode & 0o777 == 0o600


def test_commands_refuse_to_write_over_a_database_or_a_file_of_somebody(tmp_path, shop):
    db = Path(shop.name)
    size = db.stat().st_size
    job = tmp_path / "job.toml"
    job.write_text("# what I typed\n")
    assert "is a database" in run("job", "blank", "--out", db, "--replace", code=3)
    assert "expected .csv or .xlsx" in run("rack", "export", db, "--db", db, code=3)
    assert "expected .csv or .xlsx" in run("rack", "export", job, "--db", db, code=3)
    (tmp_path / "named.csv").write_bytes(db.read_bytes())
    assert "is a database" in run("rack", "export", tmp_path / "named.csv", "--db", db, "--replace", code=3)
    assert db.stat().st_size == size and job.read_text() == "# what I typed\n"
    rates = tmp_path / "rates.csv"
    rates.write_text("my own rates")
    assert "--replace" in run("rates", "export", rates, "--db", db, code=3)
    assert rates.read_text() == "my own rates"
    run("rates", "export", rates, "--db", db, "--replace")
    run("rates", "export", rates, "--db", db)
    assert b"my own" not in rates.read_bytes()


STORED_WITH_PAPERS = {
    "quotes": ("quote", "J-0001", "--pdf"),
    "joint_quotes": ("quote", "J-0001", "J-0002"),
    "orders": ("order", "J-0002", "--letter"),
    "order_lines": ("order", "change", "O-0001", "--count", "1=9", "--reason", "spoilt"),
    "job_deliveries": ("deliver", "J-0001"),
}


@pytest.fixture(scope="module")
def busy(_shop_file, tmp_path_factory) -> Path:
    """Two jobs of one customer, one of them won and ordered for."""
    folder = tmp_path_factory.mktemp("busy")
    db = Path(shutil.copy(_shop_file, folder / "shop.db"))
    job = (PACKAGE.parent / "sample_jobs" / "coat_hooks.toml").read_text(encoding="utf-8")
    for name in ("one", "two"):
        (folder / f"{name}.toml").write_text(job, encoding="utf-8")
        run("job", "add", folder / f"{name}.toml", "--db", db)
    run("quote", "J-0001", "--out", folder, "--db", db)
    run("quotes", "accepted", "J-0001", "--db", db)
    run("order", "J-0001", "--out", folder, "--db", db)
    return db


def rows_of(db: Path, table: str) -> list[tuple]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(f"SELECT * FROM {table}").fetchall()


@pytest.mark.parametrize("table", STORED_WITH_PAPERS)
def test_what_is_stored_has_its_papers_or_is_not_stored(busy, table, tmp_path, monkeypatch):
    words = STORED_WITH_PAPERS[table]
    db = shutil.copy(busy, tmp_path / "first.db")
    run(*words, "--out", tmp_path / "first", "--db", db)
    papers = sorted(path.name for path in (tmp_path / "first").iterdir())
    before = rows_of(busy, table)
    assert papers and rows_of(db, table) != before
    for name in papers:  # somebody's own file has the name of one of the papers
        db, out = shutil.copy(busy, tmp_path / "second.db"), tmp_path / f"instead of {name}"
        out.mkdir()
        (out / name).write_text("my own", encoding="utf-8")
        assert "--replace" in run(*words, "--out", out, "--db", db, code=3)
        assert [path.name for path in out.iterdir()] == [name] and rows_of(db, table) == before

    def failing(self) -> None:
        raise InputError("The disk is full.")

    monkeypatch.setattr(Session, "commit", failing)
    db, out = shutil.copy(busy, tmp_path / "third.db"), tmp_path / "third"
    run(*words, "--out", out, "--db", db, code=3)
    assert list(out.iterdir()) == [] and rows_of(db, table) == before


def test_the_ending_says_what_a_rack_export_is(tmp_path, shop):
    db = Path(shop.name)
    run("rack", "export", tmp_path / "rack.xlsx", "--db", db)
    assert load_workbook(tmp_path / "rack.xlsx").active["A1"].value
    run("rack", "export", tmp_path / "rack.csv", "--db", db)
    assert (tmp_path / "rack.csv").read_bytes().startswith(b"\xef\xbb\xbf")


# Who writes beside the one writer: into a folder of their own, or under a digest as name.
WRITERS = {
    "files.py": "the writer itself",
    "cli/faults.py": "where the program failed, in the person's data folder",
    "outputs/drawings/write.py": "into the folder that set_aside gives",
    "outputs/books/files.py": "a profile of the office program, in a temporary folder",
    "services/shop/certificates.py": "copies named by their digest",
    "services/safe/export.py": "certificates of an import, named by their digest",
    "cli/app.py": "to nowhere, where a shell has closed what is printed to",
    "outputs/drawings/part_pictures.py": "into memory",
    "page/goods_in.py": "what was sent, in a temporary folder",
    "page/papers.py": "what was sent, in a temporary folder",
    "services/floor/entries.py": "into memory",
    "outputs/books/label_book.py": "into memory",
}


def writes(path: Path) -> list[int]:
    """Lines of a module that write files: write_bytes, write_text, save, open for writing."""
    found = []
    code = path.read_text(encoding="utf-8")
    if not re.search(r"write_(bytes|text)|\b(save|open)\(", code):
        return found  # to parse every module takes seconds
    for node in ast.walk(ast.parse(code)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        words = [one.value for one in node.args if isinstance(one, ast.Constant)]
        to_write = any(isinstance(word, str) and word in ("w", "wb", "a", "x", "xb") for word in words)
        if (
            name in ("write_bytes", "write_text")
            or (name == "save" and node.args)
            or (name == "open" and to_write)
        ):
            found.append(node.lineno)
    return found


def test_nothing_else_writes_files():
    found = {
        path.relative_to(PACKAGE).as_posix(): lines
        for path in PACKAGE.rglob("*.py")
        if (lines := writes(path)) and "_data" not in path.parts
    }
    # A workbook, or a photograph as a page, saved into memory.
    packing = {"reading/job_book_sheets.py", "outputs/books/files.py", "outputs/papers/joined.py"}
    assert {name: lines for name, lines in found.items() if name not in WRITERS and name not in packing} == {}
    assert set(WRITERS) <= set(found)
