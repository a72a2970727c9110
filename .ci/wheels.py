"""Whether wheels of every library that the program needs exist for Windows, macOS and Linux.

    python .ci/wheels.py

pip is asked, system by system, what it would install from wheels alone; nothing is installed. It ends with
1 where one lacks, with 0 where all are there, and with 0 and a word where no registry answers. Run it when a
dependency changes. pip reads conditions such as `sys_platform == "win32"` as those of this system.
"""

import json
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

PYPROJECT = Path(__file__).parents[1] / "pyproject.toml"
SYSTEMS = {
    "Windows": ("win_amd64",),
    "macOS": ("macosx_11_0_arm64", "macosx_12_0_arm64", "macosx_13_0_arm64", "macosx_14_0_arm64"),
    "Linux": ("manylinux2014_x86_64", "manylinux_2_17_x86_64", "manylinux_2_28_x86_64"),
}
# One that every registry has: where even this is not found, nobody answers.
ALWAYS_THERE = "pip"
PYTHON = "3.12"


def requirements() -> list[str]:
    """What the program needs to run, a server's driver included."""
    project = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]
    return [*project["dependencies"], *project["optional-dependencies"]["postgresql"]]


def asked(words: list[str], platforms: tuple[str, ...]) -> tuple[list[str], str]:
    """The wheels that pip would install for a system; none, and what it says, where it cannot."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        done = subprocess.run(
            [
                sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--target", folder,
                "--only-binary", ":all:", "--python-version", PYTHON, "--report", str(report),
                *(word for platform in platforms for word in ("--platform", platform)), *words,
            ],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode:
            return [], done.stderr.strip()
        found = json.loads(report.read_text(encoding="utf-8"))["install"]
    return [one["download_info"]["url"].rsplit("/", 1)[-1] for one in found], ""


def main() -> int:
    """Ask for each system; print what is there and what lacks."""
    lacking = 0
    for system, platforms in SYSTEMS.items():
        wheels, said = asked(requirements(), platforms)
        if wheels:
            print(f"{system}: {len(wheels)} wheels, all there")
        elif not asked([ALWAYS_THERE], platforms)[0]:
            print(f"{system}: no registry answers; not tried")
        else:
            lacking += 1
            print(f"{system}: a wheel lacks\n{said}")
    return 1 if lacking else 0


if __name__ == "__main__":
    sys.exit(main())
