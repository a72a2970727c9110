"""A typed text becomes a value in `reading/kinds` alone; who reads one by himself is named with his line."""

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "shopquote"
FOLDERS = ("reading", "services", "cli")

# These read a text, whatever they are given.
READERS = {"fromisoformat", "strptime", "parse_length", "read_number"}
# These read a text when they are given one, not a key on file; names of what is a text here.
MAKERS = {"int", "float", "Decimal", "parse_section", "parse_shape", "parse_end", "find_thread"}
TEXTS = {"text", "typed", "word", "words", "cell", "cells", "digits", "line", "match", "found", "row"}

# Where no person's value is read, each with its reason.
EXCEPTIONS = {
    "reading/job_book.py": {"int"},  # a character's code in a workbook's escapes
    "reading/job_sizes.py": {"int", "float"},  # what of ours can stand in a number cell
    "reading/rows.py": {"parse"},  # what stands in for a length that was told
    "reading/toml_files.py": {"int"},  # a line's number in the library's message
    "services/floor/sheet.py": {"strptime"},  # the serial that the sheet was printed with
    "services/safe/export.py": {"Decimal"},  # an export of the program's own
    "services/safe/checks/jobs.py": {"parse"},  # a text on file, as it was read when it was stored
    "services/shop/setup.py": {"parse_length"},  # the starting saws
}


def is_text(node: ast.expr) -> bool:
    """Whether an expression looks like a text from outside: text, match[1], row["Used"], word.strip()."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return node.func.attr in ("strip", "removesuffix", "removeprefix", "partition", "replace", "group")
    if isinstance(node, ast.BoolOp):
        return any(map(is_text, node.values))
    while isinstance(node, ast.Subscript):
        node = node.value
    return isinstance(node, ast.Name) and node.id in TEXTS


def readers_of_their_own(tree: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        whole = ast.unparse(node.func)
        if name in READERS or whole == "Measure.parse":
            yield node.lineno, whole
        elif name in MAKERS and node.args and is_text(node.args[0]):
            yield node.lineno, ast.unparse(node)


def found_in(folder: str) -> Iterator[str]:
    for path in sorted((PACKAGE / folder).rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        if module.startswith("reading/kinds/"):
            continue
        for line, what in readers_of_their_own(ast.parse(path.read_text(encoding="utf-8"))):
            if what.split("(")[0].split(".")[-1] not in EXCEPTIONS.get(module, {}):
                yield f"{module}:{line}: {what}"


def test_a_reader_of_its_own_is_named_with_its_line():
    wrong = "x = int(match[2] or 1)\ny = Decimal(text)\nz = date.fromisoformat(day)\nw = int(3.5 * n)\n"
    assert list(readers_of_their_own(ast.parse(wrong))) == [
        (1, "int(match[2] or 1)"), (2, "Decimal(text)"), (3, "date.fromisoformat"),
    ]  # fmt: skip


def test_an_exception_that_is_none_any_more_is_named():
    for module, names in EXCEPTIONS.items():
        tree = ast.parse((PACKAGE / module).read_text(encoding="utf-8"))
        there = {what.split("(")[0].split(".")[-1] for _, what in readers_of_their_own(tree)}
        assert names <= there, module


def test_typed_texts_are_read_by_kinds_alone():
    found = [place for folder in FOLDERS for place in found_in(folder)]
    assert not found, "read these with reading/kinds:\n" + "\n".join(found)
