"""Print the lowest version that pyproject.toml allows of every dependency, as constraints for pip.

    python .ci/lowest.py > lowest.txt && python -m pip install -c lowest.txt -e ".[test]"

Only what pyproject names is held down; what those libraries need besides comes as new as they allow.
"""

import re
import tomllib
from pathlib import Path

PYPROJECT = Path(__file__).parents[1] / "pyproject.toml"
REQUIREMENT = re.compile(r"(?P<name>[\w.-]+)(?:\[[\w,-]+\])?>=(?P<lowest>[\w.]+)[^;]*(?P<marker>;.*)?")


def lowest_versions() -> list[str]:
    """One constraint a dependency, those of the optional groups too."""
    project = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    found = {}
    for requirement in (text for group in groups for text in group):
        parts = REQUIREMENT.fullmatch(requirement)
        if parts is None:
            raise SystemExit(f"pyproject.toml: {requirement!r} names no lowest version.")
        found[parts["name"]] = f"{parts['name']}=={parts['lowest']}{parts['marker'] or ''}"
    return list(found.values())


if __name__ == "__main__":
    print(*lowest_versions(), sep="\n")
