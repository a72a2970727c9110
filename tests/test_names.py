"""Every idea one word: no two classes of the program bear the same name."""

import ast
from collections import defaultdict
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "shopquote"


def test_a_class_bears_a_name_of_its_own() -> None:
    places: dict[str, list[str]] = defaultdict(list)
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                places[node.name].append(f"{path.relative_to(PACKAGE)}:{node.lineno}")
    assert len(places) > 500
    assert not {name: found for name, found in places.items() if len(found) > 1}
