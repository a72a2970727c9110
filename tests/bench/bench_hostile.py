"""What hostile files cost: seconds and megabytes of a whole command for each, and of 199,000 good rows.

    python -m tests.bench.bench_hostile

A file is answered well within 2 s and 300 MB.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from openpyxl import Workbook

from tests.hostile_files import FILES, write_file

MOST_SECONDS, MOST_MB = 2.0, 300
_RUN = """
import sys
from shopquote.cli.app import main
sys.argv = ["shopquote", *{words!r}]
try:
    main()
except SystemExit as end:
    code = end.code
held = [line for line in open("/proc/self/status") if line.startswith("VmHWM")][0]
print("MB", int(held.split()[1]) // 1024, "code", code, file=sys.stderr)
"""

_READ = """
import sys, time
from pathlib import Path
from shopquote.reading.table_files import read_table
begun = time.process_time()
rows = len(read_table(Path(sys.argv[1])).rows)
held = [line for line in open("/proc/self/status") if line.startswith("VmHWM")][0]
print(f"{rows} rows, {time.process_time() - begun:.1f} s, {int(held.split()[1]) // 1024} MB")
"""


def cost(words: list[str]) -> tuple[float, int, str]:
    """Processor seconds, megabytes and the last line of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-c", _RUN.format(words=words)], capture_output=True, text=True, check=False
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    *said, last = done.stderr.strip().splitlines()
    return seconds, int(last.split()[1]), " | ".join(said)[:110] + " " + " ".join(last.split()[2:])


def good_rows(folder: Path, count: int) -> list[Path]:
    """A cut list of so many rows, as CSV and as a workbook."""
    book = Workbook(write_only=True)
    page = book.create_sheet()
    page.append(["mark", "length", "count"])
    lines = ["mark,length,count"]
    for i in range(count):
        page.append([f"A{i}", 100 + i % 900, 1 + i % 3])
        lines.append(f"A{i},{100 + i % 900},{1 + i % 3}")
    book.save(folder / "good.xlsx")
    (folder / "good.csv").write_text("\n".join(lines), encoding="utf-8")
    return [folder / "good.csv", folder / "good.xlsx"]


def run() -> int:
    """All files; how many cost too much."""
    dear = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in FILES:
            path = write_file(file, folder)
            commands = [["cut", str(path), "--stock", "6000"]]
            commands += [["check", str(path)]] if file.endswith("xlsx") else []
            for words in commands:
                begun = time.perf_counter()
                seconds, size, said = cost(words)
                over = seconds > MOST_SECONDS or size > MOST_MB
                dear += over
                wall = time.perf_counter() - begun
                spent = f"{seconds:5.2f} s cpu {wall:5.1f} s {size:5d} MB"
                print(f"{'!!' if over else '  '} {spent}  {words[0]} {file}: {said}")
        for path in good_rows(folder, 199_000):
            done = subprocess.run(
                [sys.executable, "-c", _READ, str(path)], capture_output=True, text=True, check=False
            )
            print(f"   {path.name}: {done.stdout.strip()} {done.stderr[-200:]}")
    return dear


if __name__ == "__main__":
    print(f"{run()} over {MOST_SECONDS} s or {MOST_MB} MB")
