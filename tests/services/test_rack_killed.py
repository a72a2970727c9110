"""A killed process leaves a sound database and loses nothing that was confirmed.

`tests/bench/kill_rack.py` does it 200 times by hand; here a few on each database.
"""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
def test_killed_at_random_moments_nothing_is_lost(any_shop):
    url = any_shop.url.render_as_string(hide_password=False)
    if any_shop.url.get_backend_name() == "sqlite":
        url = str(any_shop.url.database)
    any_shop.close()
    run = subprocess.run(
        [sys.executable, "-m", "tests.bench.kill_rack", url, "5"],
        capture_output=True, text=True, timeout=300, check=False, cwd=ROOT,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert "none lost" in run.stdout
