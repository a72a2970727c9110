"""What code says of itself in words: errors that it raises, units of its floats, names that there are."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "shopquote"
# Help texts and routes: their docstrings are shown to people, and their errors end at the screen.
SHOWN = {"cli", "page"}
ERRORS = re.compile(r"(Input|NotFound|CannotMake|Database)Error|Misread|TwoReadings|NotStorable")
# What tells the unit of a float: the end of its name, or a word of its docstring or its module's.
NAMED = re.compile(
    r"(_mm\d?|_pct|_mpa|_gpa|_nm|_nmm|_kg|_kg_m3|_g|_n|_m|_mb|(^|_)(angle|degrees|radians|turns|ratio|factor"
    r"|share|chance|minutes|seconds|hours|weight|weights|tolerance|sigma|strain|k))$"
)
CAN_TELL = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
UNITS = re.compile(
    r"\b(mm\d?|metres?|degrees?|radians?|turns|MPa|N m|newtons?|kg|%|per cent|ratio|factor|share|fractions?"
    r"|0 to 1|seconds?|minutes?|hours?|money|nanometres|pixels|digits|units?|characters|inch|per|vector"
    r"|probability|[Mm]illimetres|steps?)\b|[°/^]"
)


def functions(tree: ast.Module) -> Iterator[tuple[ast.FunctionDef, str]]:
    """Public functions, and public methods of public classes, with the docstring of their class."""
    held: list[tuple[ast.Module | ast.ClassDef, str]] = [(tree, "")]
    for owner, told in held:
        for node in owner.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                held.append((node, ast.get_docstring(node) or ""))
            elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield node, told


@cache
def sources() -> list[tuple[str, ast.Module]]:
    """Every module by its path in the package, parsed."""
    return [
        (path.relative_to(PACKAGE).as_posix(), ast.parse(path.read_text(encoding="utf-8")))
        for path in sorted(PACKAGE.rglob("*.py"))
    ]


def raised(function: ast.FunctionDef) -> set[str]:
    """Our errors that its own lines raise; those of functions inside it are theirs."""
    found, held = set(), list(function.body)
    while held:
        node = held.pop()
        if isinstance(node, ast.FunctionDef):
            continue
        if (
            isinstance(node, ast.Raise)
            and isinstance(node.exc, ast.Call)
            and isinstance(node.exc.func, ast.Name)
        ):
            found.add(node.exc.func.id)
        held += [
            child for child in ast.iter_child_nodes(node) if isinstance(child, ast.stmt | ast.ExceptHandler)
        ]
    return {name for name in found if ERRORS.fullmatch(name)}


def told(docstring: str, errors: set[str]) -> bool:
    """Whether a docstring has a list of errors, or a sentence with each of these."""
    return "Raises:" in docstring or all(f"`{name}`" in docstring for name in errors)


def floats(function: ast.FunctionDef) -> Iterator[str]:
    """Its floats whose names do not tell their unit; its own name stands for what it returns."""
    for one in (*function.args.args, *function.args.kwonlyargs):
        if one.annotation is not None and _is_float(one.annotation) and not NAMED.search(one.arg):
            yield one.arg
    if function.returns is not None and _is_float(function.returns) and not NAMED.search(function.name):
        yield function.name


def _is_float(annotation: ast.expr) -> bool:
    return re.fullmatch(r"float( \| None)?", ast.unparse(annotation)) is not None


def test_who_raises_an_error_says_so():
    silent = [
        f"{name}: {function.name}, {', '.join(sorted(errors))}"
        for name, tree in sources()
        if name.split("/")[0] not in SHOWN
        for function, _ in functions(tree)
        if (errors := raised(function)) and not told(ast.get_docstring(function) or "", errors)
    ]
    assert silent == []


def test_who_takes_or_gives_a_float_says_its_unit():
    silent = [
        f"{name}: {function.name}, {', '.join(bare)}"
        for name, tree in sources()
        for function, of_class in functions(tree)
        if (bare := list(floats(function)))
        and not any(
            UNITS.search(text)
            for text in (ast.get_docstring(function) or "", of_class, ast.get_docstring(tree) or "")
        )
    ]
    assert silent == []


def named(tree: ast.Module, text: str) -> Iterator[str]:
    """Names of code in backticks, of docstrings and comments."""
    told = [
        ast.get_docstring(node) or ""
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
    ]
    for words in (*told, *re.findall(r"^ *#.*$", text, re.MULTILINE)):
        yield from re.findall(r"`([A-Za-z_][\w.]*)(?:\(\))?`", words)


def names_of(tree: ast.Module) -> Iterator[str]:
    """Every name in a module's code, and the words of its texts that may be one, such as `forge.heat`."""
    for node in ast.walk(tree):
        for told in ("id", "attr", "arg", "name", "module"):
            yield from str(getattr(node, told, None) or "").split(".")
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) < 60:
            yield from re.split(r"\W+", node.value)


def test_what_is_named_in_backticks_is_there():
    known = {part for path in PACKAGE.rglob("*") for part in (path.stem, path.name)}
    modules = dict(sources())
    for tree in modules.values():
        known.update(names_of(tree))
    lost = [
        f"{name}: `{told}`"
        for name, tree in modules.items()
        for told in named(tree, (PACKAGE / name).read_text(encoding="utf-8"))
        if not set(told.rstrip(".").split(".")) <= known
    ]
    assert len(modules) > 400 and lost == []


def test_the_law_sees_what_it_is_for():
    tree = ast.parse(
        "def bare(size: float) -> float:\n    'A size.'\n    if size:\n        raise InputError('no')\n"
    )
    ((function, _),) = functions(tree)
    assert raised(function) == {"InputError"}
    assert list(floats(function)) == ["size", "bare"]
    assert not UNITS.search("A size.")


# What nobody says in a shop, with what is said for it.
RIDDLES = {
    "throw out": "remove", "job bears": "share of the job", "really so": "I checked this",
    "stands here": "appears here", "lies ready": "is set aside", "Kept as typed": "saved",
    "kept aside": "a copy is kept", "found by itself": "found automatically", "back key": "back button",
    "too dear": "too expensive", "that are no welds": "other", "whole to the job": "in full",
    "Mind: ": "Note: ", "ways weighed": "ways compared",
}  # fmt: skip


def test_texts_that_people_read_have_no_riddles():
    read = {path: path.read_text("utf-8") for path in (PACKAGE / "page" / "static").glob("*.js")}
    for path in (PACKAGE / "page").rglob("*.html"):
        read[path] = re.sub(r"\{%.*?%\}|<[^>]*>", " ", path.read_text("utf-8"), flags=re.S)
    for room in ("page", "outputs", "cli"):  # the tables of the languages among them
        for path in (PACKAGE / room).rglob("*.py"):
            read[path] = "\n".join(texts_of(ast.parse(path.read_text("utf-8"))))
    found = [
        (path.name, word, RIDDLES[word]) for path, text in read.items() for word in RIDDLES if word in text
    ]
    assert not found, found


def texts_of(module: ast.Module) -> Iterator[str]:
    """The texts of a module without its docstrings."""
    docstrings = {
        ast.get_docstring(one, clean=False) for one in ast.walk(module) if isinstance(one, CAN_TELL)
    }
    for one in ast.walk(module):
        if isinstance(one, ast.Constant) and isinstance(one.value, str) and one.value not in docstrings:
            yield one.value
