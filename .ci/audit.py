"""Known weaknesses of the libraries, and secrets left in the files: `pip-audit` and `detect-secrets`.

    python .ci/audit.py SITE_PACKAGES

Run by an environment that has both. Ends with 1 where a library has a known weakness or a file holds what
looks like a secret; where the registry's advisories cannot be had, it says so and goes on.
"""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
BIN = Path(sys.executable).parent
LONGEST = 120  # seconds for the advisories: a network that is not there may take its time to say so
# Invented for tests of addresses with passwords, and a digest of nothing: (file, kind).
ALLOWED = {
    ("tests/cli/test_faults.py", "Secret Keyword"),
    ("tests/services/safe/test_planted_faults.py", "Hex High Entropy String"),
    ("tests/services/shop/test_database.py", "Basic Auth Credentials"),
    ("tests/services/shop/test_history.py", "Basic Auth Credentials"),
}


def weak_libraries(site: Path) -> list[str]:
    """Libraries with a known weakness, each with its advisories."""
    words = [str(BIN / "pip-audit"), "--format", "json", "--progress-spinner", "off", "--path", str(site)]
    try:
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=LONGEST)
        held = json.loads(done.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        print("libraries: no advisories can be had here; not looked at")
        return []
    asked = [one for one in held if "skip_reason" not in one]
    print(f"libraries: {len(asked)} of {len(held)} looked at" + ("" if asked else ": no advisories here"))
    return [
        f"{one['name']} {one['version']}: {', '.join(fault['id'] for fault in one['vulns'])}"
        for one in asked
        if one["vulns"]
    ]


def secrets_left() -> list[str]:
    """Lines of the project's files that look like a secret, but for those that are known."""
    words = [str(BIN / "detect-secrets"), "scan", "--no-verify"]
    done = subprocess.run(words, capture_output=True, text=True, check=True, cwd=ROOT)
    found = [(name, one) for name, all_of in json.loads(done.stdout)["results"].items() for one in all_of]
    print(f"secrets: {len(found)} places, of which {len(ALLOWED)} kinds are known")
    return [
        f"{name}:{one['line_number']}: {one['type']}"
        for name, one in found
        if (name, one["type"]) not in ALLOWED
    ]


if __name__ == "__main__":
    faults = [*weak_libraries(Path(sys.argv[1])), *secrets_left()]
    print(*faults, sep="\n", end="\n" if faults else "")
    sys.exit(1 if faults else 0)
