"""Kill every command that writes, at random moments, and look at what is left.

    python -m tests.bench.kill_commands DATABASE 200 [SEED]

The commands are README's own examples, with jobs, orders and pieces that are on file put in. What was
confirmed is an entry of the history; the rest is as in `kill_rack`. DATABASE is a shop that was set up.
"""

import os
import random
import re
import shlex
import shutil
import sys
import tempfile
import time
from datetime import timedelta
from itertools import count
from pathlib import Path

from sqlalchemy import func, select
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.records.history import HistoryEntry
from shopquote.records.jobs import Job
from shopquote.records.orders import Order
from shopquote.records.rack import RackPiece
from shopquote.services.shop import clock
from tests.bench.kill_rack import kill_again_and_again
from tests.test_docs import FIRST_MORNING, ROOT, examples

# These read, or make a database of their own, or put an older one in the place of what was confirmed.
READS = {
    "demo",
    "serve",
    "check",
    "part",
    "draw",
    "shape",
    "price",
    "cut",
    "proof",
    "takeoff",
    "load",
    "--db",
}
READS |= {"bookkeeping"}
READS_OF = {"list", "show", "export", "compare", "trace", "value", "spare", "labels", "blank", "history"}
READS_OF |= {"restore", "import-all"}
RUNNER = CliRunner()


def writing_lines() -> list[list[str]]:
    """README's examples that write into a database that is there."""
    return [
        words
        for words in examples()
        if words[0] not in READS and words[1:2] and words[1] not in READS_OF and words[:2] != ["db", "import"]
    ]


def _put_in(words: list[str], session, rng: random.Random) -> list[str]:
    """The words with what is on file in place of README's jobs, orders and pieces."""
    kinds = (("J", Job.number), ("O", Order.number), ("R", RackPiece.code))
    found = {
        letter: session.scalars(
            select(column).order_by(func.length(column).desc(), column.desc()).limit(5)
        ).all()
        for letter, column in kinds
    }

    def other(match: re.Match[str]) -> str:
        there = found[match[1]]
        return rng.choice(there) if there else match[0]

    return [re.sub(r"\b([JOR])-\d{4}\b", other, word) for word in words]


def command(database, rng, moment, certificate) -> list[str]:
    """One command, as typed; what it left in the history."""
    minutes = count(int((moment - moment.replace(hour=0, minute=0)).total_seconds()))
    clock.now = lambda: FIRST_MORNING + timedelta(seconds=next(minutes))  # type: ignore[assignment]
    with database.reading() as session:
        words = _put_in(rng.choice(LINES), session, rng)
    done = RUNNER.invoke(app, ["--db", ADDRESS, *words], input="\n" * 40)
    if done.exit_code == 1:
        os.write(2, f"{shlex.join(words)}: {done.output}{done.exception!r}\n".encode())
        raise SystemExit(1)
    if done.exit_code:
        return []
    with database.reading() as session:
        newest = session.scalar(select(func.max(HistoryEntry.id)))
    return [f"history {newest}"] if newest else []


def prepare(folder: Path) -> None:
    """The folder that commands run in: the sample jobs, and the files that other examples export."""
    shutil.copytree(ROOT / "sample_jobs", folder / "sample_jobs")
    for words in examples():
        if words[1:2] in (["export"], ["blank"]) and words[0] != "--db":
            RUNNER.invoke(app, ["--db", ADDRESS, *words], input="\n" * 40)
    for path in sorted((folder / "sample_jobs").glob("*.toml"))[:3]:
        RUNNER.invoke(app, ["--db", ADDRESS, "job", "add", str(path)])


LINES = writing_lines()
ADDRESS = sys.argv[1] if len(sys.argv) > 1 else ""

if __name__ == "__main__":
    began = time.monotonic()
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    if "://" not in ADDRESS:
        ADDRESS = str(Path(ADDRESS).resolve())
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        prepare(Path(name))
        confirmed = kill_again_and_again(ADDRESS, int(sys.argv[2]), seed, steps=(command,))
    told = f"{len(LINES)} commands that write"
    print(
        f"seed {seed}: {told}, {sys.argv[2]} kills, {confirmed} entries confirmed, none lost, "
        f"{time.monotonic() - began:.0f} s"
    )
