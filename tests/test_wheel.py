"""The built wheel is whole: it runs the demo outside the checkout, migrations and sample jobs with it."""

import json
import subprocess
import sys
import sysconfig
import venv
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.invented.demo import EARLIER_JOBS

ROOT = Path(__file__).parents[1]


def run(command: list[str], folder: Path) -> str:
    """Run outside the checkout and without its path; the output if all went well."""
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    run([sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)], out)
    (built,) = out.glob("shopquote-*.whl")
    return built


@pytest.fixture(scope="module")
def clean_python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Python of a new environment that holds the wheel; only its dependencies are lent from this one."""
    home = tmp_path_factory.mktemp("clean") / "venv"
    venv.create(home, with_pip=False, symlinks=True)
    python = home / ("Scripts" if sys.platform == "win32" else "bin") / "python"
    pip = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet"]
    run([*pip, "--no-deps", "--no-index", "--no-compile", str(wheel)], home)
    packages = run(
        [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], home
    ).strip()
    # A path line in a .pth file comes after the environment's own packages and reads no further
    # .pth file, so neither the checkout nor another copy of the project can be found first.
    (Path(packages) / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return python


def test_wheel_holds_migrations_and_sample_jobs(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    for folder, pattern in (("migrations", "*.py"), ("sample_jobs", "*.toml")):
        for path in (ROOT / folder).rglob(pattern):
            assert f"shopquote/_data/{path.relative_to(ROOT).as_posix()}" in names
    assert not [name for name in names if "__pycache__" in name or name.endswith(".db")]


def shopquote(*words: object) -> Any:
    """Run a command of the checkout in this process and read its JSON."""
    done = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, f"{words}\n{done.output}"
    return json.loads(done.stdout)


def test_installed_wheel_runs_the_demo_outside_the_checkout(clean_python: Path, tmp_path: Path) -> None:
    where = run([str(clean_python), "-c", "import shopquote; print(shopquote.__file__)"], tmp_path).strip()
    assert Path(where).is_relative_to(clean_python.parents[1])
    command = clean_python.with_name("shopquote")
    answer = json.loads(run([str(command), "demo", "--out", str(tmp_path / "demo"), "--json"], tmp_path))
    assert (tmp_path / "demo" / "demo.db").is_file()
    workbooks = [Path(file) for file in answer["files"] if file.endswith(".xlsx")]
    assert workbooks and all(
        book.is_relative_to(tmp_path / "demo") and zipfile.is_zipfile(book) for book in workbooks
    )
    for kind in ("quote", "estimate", "order", "floor", "review"):
        assert any(kind in book.name.lower() for book in workbooks), kind
    # What it left in its folder, and the same again from the checkout, written over what the wheel wrote.
    assert answer.keys() >= {"database", "jobs", "quotes", "orders", "review", "files"}
    files = [Path(file) for file in answer["files"]]
    assert all(file.is_relative_to(tmp_path / "demo") and file.is_file() for file in files)
    assert {job["state"] for job in answer["jobs"]} >= {"quoted", "won", "closed"}
    assert Decimal(answer["review"]["cost_actual"]) != Decimal(answer["review"]["cost_estimated"])
    again = shopquote("demo", "--out", tmp_path / "demo")
    assert [job["price"] for job in again["jobs"]] == [job["price"] for job in answer["jobs"]]
    years = shopquote("review", "--no-book", "--by", "month", "--db", again["two_years"])
    assert len(years["jobs"]) == EARLIER_JOBS + 1  # with the demo's own finished job
    assert len(years["groups"]["month"]) >= 24 and years["suggestions"]
    assert CliRunner().invoke(app, ["db", "check", "--db", again["database"]]).exit_code == 0
