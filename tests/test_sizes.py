"""No module is too long to be read at once and no function too branched to be followed."""

import ast
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "shopquote"
MOST_LINES = 400
MOST_BRANCHES = 15
TABLES_OF_WORDS = "quote_words.py"


def branches(function: ast.AST) -> int:
    """1, and one more for each if, loop, except, case, comprehension with its conditions, and and/or."""
    count = 1
    for node in ast.walk(function):
        match node:
            case ast.If() | ast.For() | ast.While() | ast.ExceptHandler() | ast.IfExp() | ast.match_case():
                count += 1
            case ast.comprehension():
                count += 1 + len(node.ifs)
            case ast.BoolOp():
                count += len(node.values) - 1
    return count


def test_a_branch_is_counted():
    tree = ast.parse("def f(x):\n    if x and x > 1 or x < 0:\n        return [y for y in x if y]\n")
    assert branches(tree.body[0]) == 6


def test_no_module_is_longer_than_can_be_read_at_once():
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in PACKAGE.rglob("*.py")}
    long = {path.relative_to(PACKAGE).as_posix(): n for path, n in lengths.items() if n > MOST_LINES}
    assert not [f"{name} {n}" for name, n in long.items() if not name.endswith(TABLES_OF_WORDS)]


def test_no_function_has_more_branches_than_can_be_followed():
    found = [
        f"{path.relative_to(PACKAGE)}:{node.lineno} {node.name} {branches(node)}"
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and branches(node) > MOST_BRANCHES
    ]
    assert not found
