"""How long a person waits: help, job files, the quote of a 40-part job, a long list of jobs, the demo.

Run by hand: `python tests/bench/bench_start.py`. Prints each figure beside what it shall reach
and ends with 1 where one was missed. Each is the best of several runs in processes of their own: wall time
of the help, the quote and the demo, processor seconds of the rest, which other work sways less.
Beside seconds stands how many times `import typer`, the library under every command, that is: machines and
their load differ, the ratio hardly. What SQLAlchemy alone takes is the floor of what asks a database.
"""

import json
import os
import re
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

HELP_TIMES_IMPORT_TYPER = 2.0
QUOTE_SECONDS = 1.5
QUOTE_IMPORT_SHARE = 0.5
QUOTE_PROCESSOR_SECONDS = 1.0
PRICE_PROCESSOR_SECONDS = 0.5
WHAT_IF_PROCESSOR_SECONDS = 0.5
FILE_PROCESSOR_SECONDS = 0.3
JOBS = 10_000
JOB_LIST_PROCESSOR_SECONDS = 0.5
DEMO_SECONDS = 15.0

RUN = (sys.executable, "-m", "shopquote")

HEAD = """format = 1
[job]
title = "Forty parts"
customer = "A bench"
sets = 3
breaks = [1, 3, 10]
units = "mm"
use = "general"
"""
BARS = ("round 10", "round 12", "square 12", "flat 30 x 5", "flat 40 x 6")
WELD = """
[[weld]]
kind = "fillet"
leg = 4
length = 30
count = 24
process = "MIG"
"""


def forty_parts() -> str:
    """A job file of 40 parts over five bars, every other one bent."""
    parts = []
    for number in range(40):
        straight = f"length = {180 + 37 * number}"
        bent = f'shape = "leg {120 + 9 * number}; bend 90 r 30; leg {150 + 5 * number}"'
        parts.append(
            f'\n[[part]]\nmark = "P{number + 1}"\nname = "part {number + 1}"\nper_set = {1 + number % 4}\n'
            f'bar = "{BARS[number % len(BARS)]}"\ngrade = "S275"\n{bent if number % 2 else straight}\n'
        )
    return HEAD + "".join(parts) + WELD


def wall(command: Sequence[str], runs: int) -> float:
    """Best wall time in seconds; a failing command ends the bench with its message."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        times.append(time.perf_counter() - start)
        if done.returncode:
            raise SystemExit(f"{' '.join(command)}\n{done.stdout}{done.stderr}")
    return min(times)


def processor(command: Sequence[str], runs: int = 5) -> float:
    """Least processor seconds of a run, its own and the system's for it."""
    times = []
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        wall(command, 1)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return min(times)


def many_jobs(database: Path) -> None:
    """Repeat the first job, its revision and its quote until there are so many jobs."""
    with closing(sqlite3.connect(database)) as rows:
        for table, links in (("jobs", ()), ("job_revisions", ("job_id",)), ("quotes", ("job_id",))):
            names = [row[1] for row in rows.execute(f"PRAGMA table_info({table})")]
            found = dict(
                zip(names, rows.execute(f"SELECT * FROM {table} ORDER BY id").fetchone(), strict=True)
            )
            marks = ", ".join("?" * len(names))
            copies = []
            for number in range(2, JOBS + 1):
                copy = {**found, "id": number, **dict.fromkeys(links, number)}
                if "number" in copy:
                    copy["number"] = f"{found['number'][:2]}{number:05d}"
                if table == "quotes":
                    copy["id"] += JOBS  # beside the revisions that the timed runs made
                    copy["job_revision_id"], copy["snapshot"] = number, "{}"
                copies.append(tuple(copy[name] for name in names))
            rows.executemany(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", copies)
        rows.commit()


def import_share(command: Sequence[str], seconds: float, folder: Path) -> float:
    """Part of a run's wall time that goes into importing modules.

    A first run tells which modules it loads; then a process that only loads the same, as the command
    does, is timed with its start-up. Timing each import as it happens would count the timing too.
    """
    told = subprocess.run(
        (sys.executable, "-X", "importtime", *command[1:]), capture_output=True, text=True, check=True
    )
    names = re.findall(r"^import time:\s+\d+ \|\s+\d+ \|\s+(\S+)", told.stderr, re.MULTILINE)
    script = folder / "load.py"
    script.write_text(
        "import gc, importlib, os, sys\n"
        "from shopquote import CYCLES_SOUGHT_EVERY\n"
        "gc.set_threshold(CYCLES_SOUGHT_EVERY)\n"
        'os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")\n'
        f"for name in {names!r}:\n"
        "    try:\n"
        "        importlib.import_module(name)\n"
        "    except ImportError:  # tried by a library that does without it\n"
        "        pass\n"
        "sys.stdout.flush()\n"
        "os._exit(0)\n",
        encoding="utf-8",
    )
    return wall((sys.executable, str(script)), 7) / seconds


def say(name: str, found: float, limit: float, unit: str, referee: float = 0.0) -> bool:
    """Print one figure beside what it shall reach, and as a multiple of the referee's seconds."""
    good = found <= limit
    times = f", {found / referee:.1f} x the referee" if referee else ""
    print(f"{name:<58} {found:6.2f} {unit:<2} (at most {limit:g} {unit}{times}){'' if good else '   MISSED'}")
    return good


def main() -> int:
    """Measure all and print; 1 where a figure was missed."""
    # An installed program keeps its byte code: a setting of the developer's must not compile it at each run.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    good = True
    typer = wall((sys.executable, "-c", "import typer"), 7)
    shown = wall((*RUN, "--help"), 7)
    print(f"import typer {typer:.3f} s, shopquote --help {shown:.3f} s")
    good &= say("shopquote --help over python -c 'import typer'", shown / typer, HELP_TIMES_IMPORT_TYPER, "x")
    referee = processor((sys.executable, "-c", "import typer"))
    floor = processor((sys.executable, "-c", "import sqlalchemy.orm"))
    print(f"processor seconds: import typer (the referee) {referee:.2f}, import sqlalchemy.orm {floor:.2f}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        database = ("--db", str(folder / "bench.db"))
        job = folder / "forty.toml"
        os.environ["XDG_DATA_HOME"] = str(folder / "nothing_yet")  # no database of the user's is read
        job.write_text(forty_parts(), encoding="utf-8")
        hooks = Path(__file__).parents[2] / "sample_jobs" / "coat_hooks.toml"
        for name in ("check", "part", "price"):
            spent = processor((*RUN, name, str(hooks)))
            good &= say(f"shopquote {name}, no database", spent, FILE_PROCESSOR_SECONDS, "s", referee)
        forty = processor((*RUN, "price", str(job)))
        good &= say(
            "shopquote price of a 40-part job, no database", forty, PRICE_PROCESSOR_SECONDS, "s", referee
        )
        subprocess.run((*RUN, "setup", "--yes", *database), check=True, capture_output=True)
        added = subprocess.run(
            (*RUN, "job", "add", str(job), "--json", *database), check=True, capture_output=True, text=True
        )
        number = json.loads(added.stdout)["jobs"][0]["job"]
        quote = (*RUN, "quote", number, "--out", str(folder / "out"), *database)
        seconds = wall(quote, 7)
        good &= say("shopquote quote of a 40-part job, workbooks written", seconds, QUOTE_SECONDS, "s")
        good &= say("of which imports", import_share(quote, seconds, folder), QUOTE_IMPORT_SHARE, "")
        good &= say("the same in processor seconds", processor(quote), QUOTE_PROCESSOR_SECONDS, "s", referee)
        asked = processor((*RUN, "quote", number, "--what-if", "margin=25", *database))
        good &= say("a what-if of it", asked, WHAT_IF_PROCESSOR_SECONDS, "s", referee)
        many_jobs(folder / "bench.db")
        listed = processor((*RUN, "job", "list", *database), 3)
        good &= say(f"shopquote job list of {JOBS:,} jobs", listed, JOB_LIST_PROCESSOR_SECONDS, "s", referee)
        demo = (*RUN, "demo", "--out", str(folder / "demo"))
        good &= say("shopquote demo", wall(demo, 1), DEMO_SECONDS, "s", typer)
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
