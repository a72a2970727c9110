"""The order of the folders is the order of the imports, and start-up stays light."""

import ast
import subprocess
import sys
import warnings
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "shopquote"

# What each folder may import besides itself, `errors` and, calc aside, `files`.
_DATA = {"calc", "reading", "records"}
MAY_IMPORT = {
    "calc": set(),
    "reading": {"calc"},
    "records": {"calc"},
    "services": _DATA,
    "outputs": {*_DATA, "services"},
    "invented": {*_DATA, "services", "outputs"},
    "page": {*_DATA, "services", "outputs"},
    "cli": {*_DATA, "services", "outputs", "invented", "page"},
}
LAYERS = tuple(MAY_IMPORT)

# Setting up tells what a new shop starts with: the invented lists.
BESIDES = {"shopquote.services.shop.setup": {"invented"}}

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
    "flask": {"page"},
    "waitress": {"page"},
    "alembic": {"records", "services"},
    "rich": {"outputs", "cli"},
    "highspy": {"calc"},
    "ezdxf": {"reading", "outputs"},
    "typst": {"outputs"},
}

# Slow to import, so only loaded by the command that needs them.
HEAVY = ("alembic", "ezdxf", "flask", "highspy", "numpy", "openpyxl", "sqlalchemy", "typst", "waitress")


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
            allowed = {layer, *MAY_IMPORT.get(layer, ())} | BESIDES.get(module_name(path), set())
            if target in LAYERS and target not in allowed:
                yield f"{here}: {layer} may not import {name}"
        if layer == "calc" and (top in FORBIDDEN_IN_CALC or name == "shopquote.files"):
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


def module_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts).removesuffix(".__init__")


def only_for_types(tree: ast.Module) -> set[ast.AST]:
    """What stands under `if TYPE_CHECKING`: never imported when the program runs."""
    blocks = [
        node for node in tree.body if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
    ]
    return {inner for block in blocks for inner in ast.walk(block)}


@cache  # four tests ask for it, and to read every module takes seconds
def imports_of_modules() -> dict[str, set[str]]:
    """Every module with the modules of ours that it imports, inside functions too."""
    names = {module_name(path): path for path in modules()}
    found: dict[str, set[str]] = {}
    for name, path in names.items():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        apart = only_for_types(tree)
        found[name] = set()
        for node in ast.walk(tree):
            if not isinstance(node, ast.ImportFrom) or node in apart:
                continue
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                target = whole if whole in names else node.module
                if target in names and target != name:
                    found[name].add(target)
    return found


def circles(graph: dict[str, set[str]]) -> list[str]:
    """Each circle once, as "a -> b -> a": what is left when all that ends nowhere is taken away."""
    left = {name: set(targets) for name, targets in graph.items()}
    while ends := {name for name, targets in left.items() if not targets & left.keys()}:
        left = {name: targets for name, targets in left.items() if name not in ends}
    told = []
    while left:
        way = [min(left)]
        while (following := min(left[way[-1]] & left.keys(), default=None)) not in (None, *way):
            way.append(following)
        told.append(" -> ".join([*way[way.index(following) :], following]) if following else "")
        left = {name: targets for name, targets in left.items() if name not in way}
    return [circle for circle in told if circle]


def room_of(module: str) -> str | None:
    """The room of a module of calc or services: calc.bar, services.floor."""
    parts = module.split(".")
    return ".".join(parts[1:3]) if len(parts) > 3 and parts[1] in ("calc", "services") else None


def test_no_module_imports_itself_by_way_of_others() -> None:
    assert not circles(imports_of_modules())


def test_no_room_imports_itself_by_way_of_others() -> None:
    rooms: dict[str, set[str]] = {}
    for module, targets in imports_of_modules().items():
        if room := room_of(module):
            rooms.setdefault(room, set()).update(
                other for target in targets if (other := room_of(target)) and other != room
            )
    assert len(rooms) >= 13
    assert not circles(rooms)


def test_a_circle_is_named() -> None:
    graph = {"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"a"}, "e": set()}
    assert circles(graph) == ["b -> c -> b"]
    assert circles({"a": {"b"}, "b": set()}) == []


# The invented shop: whoever else needs something of it asks setting up, which knows no more of it than its
# name and its price list; these stand on calc alone.
MAY_KNOW_THE_INVENTED = {"shopquote.cli.demo", "shopquote.services.shop.setup"}


def test_invented_things_are_imported_by_demo_and_setup_alone() -> None:
    know = {
        module
        for module, targets in imports_of_modules().items()
        if not module.startswith("shopquote.invented")
        and any(target.startswith("shopquote.invented") for target in targets)
    }
    assert know == MAY_KNOW_THE_INVENTED


def test_what_setting_up_knows_of_the_invented_stands_on_calc_alone() -> None:
    graph = imports_of_modules()
    left = {name for name in graph["shopquote.services.shop.setup"] if name.startswith("shopquote.invented.")}
    seen: set[str] = set()
    while left - seen:
        module = (left - seen).pop()
        seen.add(module)
        left |= {name for name in graph[module] if not name.startswith("shopquote.calc.")}
    assert seen == {"shopquote.invented.shop", "shopquote.invented.stocked_sections"}


def test_the_page_is_imported_by_serve_alone() -> None:
    found = [
        f"{module} imports {target}"
        for module, targets in imports_of_modules().items()
        for target in targets
        if target.startswith("shopquote.page")
        and not module.startswith("shopquote.page")
        and module != "shopquote.cli.serve"
    ]
    assert not found


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


def test_benches_import_what_is_there() -> None:
    """No test runs them: two that kill and race had been broken by a new name for hours."""
    lacking = [
        f"{path.name}: {node.module}.{name.name}"
        for path in sorted((PACKAGE.parent / "tests" / "bench").glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module.split(".")[0] in ("shopquote", "tests")
        for name in node.names
        if not _is_there(node.module, name.name)
    ]
    assert not lacking


def _is_there(module: str, name: str) -> bool:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of libraries that a bench needs
        try:
            return hasattr(import_module(module), name) or find_spec(f"{module}.{name}") is not None
        except ModuleNotFoundError as error:
            return error.name is not None and error.name.split(".")[0] not in ("shopquote", "tests")
