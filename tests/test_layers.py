"""The order of the folders is the order of the imports, and start-up stays light."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "shopquote"

# What each folder may import besides itself and `errors`.
_DATA = {"calc", "reading", "records"}
MAY_IMPORT = {
    "calc": set(),
    "reading": {"calc"},
    "records": {"calc"},
    "services": _DATA,
    "outputs": {*_DATA, "services"},
    "invented": {*_DATA, "services", "outputs"},
    "cli": {*_DATA, "services", "outputs", "invented"},
}
LAYERS = tuple(MAY_IMPORT)

# calc holds values in, values out: nothing that reads, stores, prints or tells the time.
FORBIDDEN_IN_CALC = {
    "alembic", "babel", "openpyxl", "os", "pathlib", "platformdirs", "rich", "shutil", "socket", "sqlalchemy",
    "sqlite3", "subprocess", "tempfile", "tomllib", "typer",
}  # fmt: skip

# Who may know a library: a command never lays out a workbook, a table never prints.
ALLOWED_LAYERS = {
    "typer": {"cli"},
    "openpyxl": {"reading", "services", "outputs"},
    "sqlalchemy": {"records", "services", "invented"},
    "alembic": {"records", "services"},
    "rich": {"outputs", "cli"},
    "highspy": {"calc"},
    "ezdxf": {"reading", "outputs"},
    "typst": {"outputs"},
}

# Slow to import, so only loaded by the command that needs them.
HEAVY = ("alembic", "ezdxf", "highspy", "numpy", "openpyxl", "sqlalchemy", "typst")


def imported_names(path: Path) -> Iterator[tuple[int, str]]:
    """(line, dotted name) of every import of a module, those inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"), filename=str(path))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: write imports in full, not with leading dots"
            yield node.lineno, node.module or ""
            if node.module == "shopquote":
                for alias in node.names:
                    yield node.lineno, f"shopquote.{alias.name}"


def layer_of(path: Path) -> str:
    name = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "cli" if name == "__main__" else name  # `python -m shopquote` is the command line


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def offences(path: Path) -> Iterator[str]:
    layer = layer_of(path)
    for line, name in imported_names(path):
        top, _, rest = name.partition(".")
        here = f"{path.relative_to(PACKAGE.parent)}:{line}"
        if top == "shopquote" and rest:
            target = rest.split(".")[0]
            if target in LAYERS and target != layer and target not in MAY_IMPORT.get(layer, ()):
                yield f"{here}: {layer} may not import {name}"
        if layer == "calc" and top in FORBIDDEN_IN_CALC:
            yield f"{here}: calc may not import {name}"
        if layer in LAYERS and top in ALLOWED_LAYERS and layer not in ALLOWED_LAYERS[top]:
            yield f"{here}: {top} belongs in {', '.join(sorted(ALLOWED_LAYERS[top]))}, not in {layer}"


def test_a_folder_imports_only_from_folders_to_its_left() -> None:
    found = [offence for path in modules() for offence in offences(path)]
    assert not found, "\n".join(found)


def test_an_import_to_the_right_is_named_with_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = tmp_path / "shopquote" / "calc" / "wrong.py"
    wrong.parent.mkdir(parents=True)
    wrong.write_text(
        "import math\n\ndef late():\n    from shopquote.services.quotes import quote\n    import sqlalchemy\n"
    )
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path / "shopquote")
    assert list(offences(wrong)) == [
        "shopquote/calc/wrong.py:4: calc may not import shopquote.services.quotes",
        "shopquote/calc/wrong.py:5: calc may not import sqlalchemy",
        "shopquote/calc/wrong.py:5: sqlalchemy belongs in invented, records, services, not in calc",
    ]


def test_every_folder_says_what_belongs_in_it() -> None:
    for layer in LAYERS:
        text = ast.get_docstring(ast.parse((PACKAGE / layer / "__init__.py").read_text(encoding="utf-8")))
        assert text and len(text.splitlines()) >= 2, f"shopquote/{layer}/__init__.py"


def test_the_command_line_starts_without_the_heavy_libraries() -> None:
    code = "import sys, shopquote.cli.app; print(*sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert not loaded & set(HEAVY)


def test_the_package_runs_as_a_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "shopquote", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("shopquote ")
