"""Nonsense at every door, in one process: what ends in anything but an answer or a plain refusal is told.

    python -m tests.bench.fuzz_doors SECONDS [SEED] [MOST]

Each input is a good one that was spoilt: letters changed, cut, doubled, swapped with those of other doors.
The seed makes a run again; the seed and the input of every fault are printed, and of every input that took
over 5 s of the processor or brought the process over 500 MB. It ends after so many seconds, or inputs.
"""

import io
import random
import resource
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from datetime import date
from functools import cache, partial
from pathlib import Path

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Measure
from shopquote.errors import ShopquoteError
from shopquote.reading import kinds
from shopquote.reading.dxf_lines import read_dxf
from shopquote.reading.job_book import read_job_book
from shopquote.reading.job_file import read_job_text
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import read_table
from tests.bench.fuzz_shop import shop_doors
from tests.hostile_files import book_with, sheet

SLOW_SECONDS = 5.0
MOST_MB = 500
QUICK_DOORS = ("table", "kinds", "length", "section", "shape")
TOLD_EVERY = 50_000
_MEMORY = Path("/dev/shm")  # files that are read once and gone need no disk
SAMPLES = Path(__file__).parents[2] / "sample_jobs"
SEEDS = [
    "leg 300; bend 90 r 24; leg 600", "round 12", "flat 40 x 8", "angle 40 x 40 x 4", "7' 6-1/2\"", "1.250,5",
    "2026-03-02", "1,250", "1e308", "-0", "9" * 400, "\u202e", "\x00", "½", "日本", "=1+1", "{}", "[[",
    "1:30 h",    "arc 90 r 500", "helix d 40 pitch 10 turns 3", "scroll from 10 to 80 turns 2",
    "tube 48.3 x 2.9", "M12 x 40",
]  # fmt: skip


def spoil(text: str, chance: random.Random) -> str:
    """A text with a few of its letters changed, cut, doubled or put elsewhere."""
    letters = list(text)
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(letters) + 1)
        other = chance.choice(SEEDS)
        deed = chance.randrange(5)
        if deed == 0:
            letters[place : place + chance.randint(0, 8)] = []
        elif deed == 1:
            letters[place:place] = list(other)
        elif deed == 2:
            letters[place : place + 1] = [
                chr(chance.choice((9, 10, 27, 34, 39, 44, 48, 57, 91, 123, 0x2212, 0x1F600)))
            ]
        elif deed == 3:
            letters[place:place] = letters[place : place + chance.randint(1, 30)] * chance.randint(1, 4)
        else:
            letters[place : place + len(other)] = list(other)
    return "".join(letters)


def doors(folder: Path) -> dict[str, Callable[[str], object]]:
    """Each door, and how a text goes through it."""
    files = folder / "spoilt"

    def table(text: str) -> object:
        files.with_suffix(".csv").write_text(text, encoding="utf-8", errors="surrogatepass", newline="")
        return read_table(files.with_suffix(".csv"))

    def drawing(text: str) -> object:
        files.with_suffix(".dxf").write_text(text, encoding="utf-8", errors="surrogatepass")
        return read_dxf(files.with_suffix(".dxf"), "mm")

    def book(text: str) -> object:
        path = files.with_suffix(".xlsx")
        path.write_bytes(_book(text))
        try:
            read_job_book(path)
        except ShopquoteError:
            return read_table(path)
        return None

    def kind(text: str) -> object:
        for one in (kinds.DAY, kinds.NAME, kinds.TEXT, kinds.CODE, kinds.HEAT, kinds.YES_NO, kinds.money(),
                    kinds.length(),
                    kinds.count(), kinds.percent(), kinds.number(most=100)):  # fmt: skip
            for locale in ("en_GB", "de_DE"):
                try:
                    one.read(text, Notation(locale=locale))
                except ShopquoteError:
                    continue
        return None

    return {
        "job file": lambda text: read_job_text(text, "job.toml"),
        "table": table,
        "workbook": book,
        "drawing": drawing,
        "kinds": kind,
        "length": lambda text: Measure.parse(text, "mm"),
        "section": lambda text: parse_section(text, "mm"),
        "shape": lambda text: read_job_text(_with_shape(text), "job.toml"),
    }


@cache
def _book_parts() -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(book_with({}))) as plain:
        return {name: plain.read(name) for name in plain.namelist()}


def _book(rows: str) -> bytes:
    """A workbook of one sheet with these rows."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in (_book_parts() | sheet(rows.encode("utf-8", "surrogatepass"))).items():
            archive.writestr(name, content)
    return packed.getvalue()


def _with_shape(text: str) -> str:
    escaped = "".join(
        f"\\U{min(ord(one), 0xFFFF):08x}" if ord(one) not in range(0xD800, 0xE000) else "?" for one in text
    )
    return (
        'format = 1\n[job]\ntitle = "t"\ncustomer = "c"\nsets = 1\n[[part]]\nmark = "A"\nname = "a"\n'
        "per_set = 1\n"
        f'bar = "round 12"\ngrade = "S275"\nshape = "{escaped}"\n'
    )


_ROWS = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>mark</t></is></c></row>'
    '<row r="2"><c r="A2"><v>12.5</v></c><c r="B2" t="b"><v>1</v></c>'
    '<c r="C2" t="d"><v>2026-03-02</v></c></row>'
)
_DXF = "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\n0.0\n20\n0.0\n11\n100.0\n21\n0.0\n0\nENDSEC\n0\nEOF\n"


def run(seconds: float, seed: int, most: int = sys.maxsize) -> int:
    """Spoil inputs for so long, or so many; how many ended in a fault, or cost too much."""
    chance = random.Random(seed)
    jobs = [path.read_text(encoding="utf-8") for path in sorted(SAMPLES.glob("*.toml"))]
    good = {
        "job file": jobs, "table": ["mark,length,count\nA,100,1\nB,1.250,5,3\n"],
        "workbook": [_ROWS], "drawing": [_DXF],
    }  # fmt: skip
    counts: Counter[str] = Counter()
    faults = costly = 0
    peak = MOST_MB
    with ExitStack() as stack:
        where = _MEMORY if _MEMORY.is_dir() else None
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(dir=where)))
        through = doors(folder)
        in_shop = stack.enter_context(shop_doors(folder, chance, lambda text: spoil(text, chance)))
        names = [*through, *in_shop]
        # The quick doors get more, so that each has about the same time.
        turns = [door for door in names for _ in range(40 if door in QUICK_DOORS else 1)]
        end = time.monotonic() + seconds
        while time.monotonic() < end and sum(counts.values()) < most:
            door = chance.choice(turns)
            counts[door] += 1
            begun = time.process_time()
            if door in in_shop:
                text, go = in_shop[door]()
            else:
                text = spoil(chance.choice(good.get(door, SEEDS)), chance)
                go = partial(through[door], text)
            try:
                go()
            except ShopquoteError:
                pass
            except Exception as error:
                faults += 1
                print(f"seed {seed}, {door}: {type(error).__name__}: {error}; {text[:600]!r}", flush=True)
            cost = time.process_time() - begun
            held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
            if cost > SLOW_SECONDS or held > peak:
                costly += 1
                peak = max(peak, held)
                print(f"seed {seed}, {door}: {cost:.1f} s, {held} MB; {text[:600]!r}", flush=True)
            if sum(counts.values()) % TOLD_EVERY == 0:
                print(_told(seed, counts, faults, costly), flush=True)
    print(_told(seed, counts, faults, costly))
    return faults + costly


def _told(seed: int, counts: Counter[str], faults: int, costly: int) -> str:
    told = ", ".join(f"{door} {count}" for door, count in counts.items())
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return (
        f"{date.today()}, seed {seed}: {sum(counts.values())} inputs ({told}); {faults} faults, "
        f"{costly} over {SLOW_SECONDS} s or {MOST_MB} MB; at most {held} MB"
    )


if __name__ == "__main__":
    words = [*sys.argv[1:], *("60", "1", str(sys.maxsize))[len(sys.argv) - 1 :]]
    sys.exit(1 if run(float(words[0]), int(words[1]), int(words[2])) else 0)
