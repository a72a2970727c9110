"""shopquote draw and shape as a person uses them."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app

SAMPLES = Path(__file__).parents[2] / "sample_jobs"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setenv("SHOPQUOTE_DB", str(tmp_path / "none.db"))
    return lambda *words: CliRunner().invoke(app, [str(word) for word in words])


@pytest.mark.parametrize(("kind", "count"), [("pdf", 1), ("svg", 2), ("png", 2), ("dxf", 4)])
def test_draw_writes_its_files_and_names_them(run, tmp_path: Path, kind: str, count: int) -> None:
    done = run("draw", SAMPLES / "coat_hooks.toml", "--as", kind, "--out", tmp_path / "drawn", "--json")
    assert done.exit_code == 0, done.output
    files = [Path(name) for name in json.loads(done.output)["files"]]
    assert len(files) == count and all(path.suffix == f".{kind}" and path.stat().st_size for path in files)


def test_drawn_twice_a_pdf_has_the_same_bytes(run, tmp_path: Path) -> None:
    made = []
    for folder in ("one", "two"):
        run("draw", SAMPLES / "shelf_brackets.toml", "--out", tmp_path / folder)
        (path,) = (tmp_path / folder).glob("*.pdf")
        made.append(path.read_bytes())
    assert made[0] == made[1]


def test_shape_gives_back_what_draw_drew(run, tmp_path: Path) -> None:
    run("draw", SAMPLES / "coat_hooks.toml", "--mark", "A", "--as", "dxf", "--out", tmp_path)
    (path,) = (p for p in tmp_path.glob("*.dxf") if "straight" not in p.name)
    done = run("shape", path, "--bar", "round 8", "--json")
    assert json.loads(done.output)["shape"] == "leg 90; bend 90 r 16; leg 85; bend 90 r 16; leg 50"


def test_shape_says_where_the_printed_words_no_longer_give_the_line(run, tmp_path: Path) -> None:
    run("draw", SAMPLES / "coat_hooks.toml", "--mark", "A", "--as", "dxf", "--out", tmp_path)
    (path,) = (p for p in tmp_path.glob("*.dxf") if "straight" not in p.name)
    text = path.read_text()
    assert "Shape (outside, mm): leg 90; bend 90 r 16; leg 85; bend 90 r 16; leg 50" in text
    path.write_text(text.replace("mm): leg 90;", "mm): leg 91;"))
    done = run("shape", path, "--bar", "round 8")
    assert "leg 90; bend 90 r 16" in done.output and "do not give its line" in done.output
    told = json.loads(run("shape", path, "--bar", "round 8", "--json").output)
    assert told["printed_left"] and told["shape"].startswith("leg 90;")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("draw", "nowhere.toml"), 3),
        (("draw", SAMPLES / "coat_hooks.toml", "--mark", "Z"), 4),
        (("draw", SAMPLES / "coat_hooks.toml", "--as", "jpeg"), 2),
        (("shape", "nowhere.dxf", "--bar", "round 8"), 3),
        (("shape", SAMPLES / "coat_hooks.toml", "--bar", "round 8"), 3),
    ],
)
def test_what_cannot_be_drawn_ends_with_its_exit_code(run, words, code: int) -> None:
    done = run(*words)
    assert done.exit_code == code
    assert "Traceback" not in done.output
