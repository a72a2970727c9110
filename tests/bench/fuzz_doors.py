"""Nonsense at every door, in one process: what ends in anything but an answer or a plain refusal is told.

    python -m tests.bench.fuzz_doors SECONDS [SEED]

Each input is a good one that was spoilt: letters changed, cut, doubled, swapped with those of other doors.
The seed makes a run again; the seed and the input of every fault are printed.
"""

import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from typer.testing import CliRunner

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Measure
from shopquote.cli.app import app
from shopquote.errors import ShopquoteError
from shopquote.page.app import create_app
from shopquote.reading import kinds
from shopquote.reading.dxf_lines import read_dxf
from shopquote.reading.job_book import read_job_book
from shopquote.reading.job_file import read_job_text
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import read_table
from shopquote.services.shop.database import open_database
from shopquote.services.shop.setup import set_up
from tests.hostile_files import book_with, sheet
from tests.page.conftest import HOST, Browser

SLOW_SECONDS = 5.0
SLOW_DOORS = ("workbook", "drawing", "job file", "command", "page")
REFUSALS = (0, 2, 3, 4, 5)
RUNNER = CliRunner()
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
        path.write_bytes(book_with(sheet(text.encode("utf-8", "surrogatepass"))))
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

    def command(text: str) -> object:
        words = [word.replace("\x00", "") for word in text.split(" ")]
        done = RUNNER.invoke(app, ["cut", str(SAMPLES / "lists" / "cut_list.csv"), *words])
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        if done.exit_code not in REFUSALS:
            raise AssertionError(f"exit code {done.exit_code}: {done.output[-300:]}")
        return done

    return {
        "job file": lambda text: read_job_text(text, "job.toml"),
        "table": table,
        "workbook": book,
        "drawing": drawing,
        "kinds": kind,
        "length": lambda text: Measure.parse(text, "mm"),
        "section": lambda text: parse_section(text, "mm"),
        "shape": lambda text: read_job_text(_with_shape(text), "job.toml"),
        "command": command,
    }


@contextmanager
def page_door(folder: Path) -> Iterator[Callable[[str], object]]:
    """The new price of the page, its fields spoilt one and all."""
    with open_database(str(folder / "page.db"), create=True) as database:
        with database.session() as session:
            set_up(session, on=date(2026, 3, 2))
        office = Browser(create_app(database, hosts=frozenset({HOST}))).let_in("office")

        def form(text: str) -> object:
            fields = dict(field.partition("=")[::2] for field in text.split("&"))
            answer = office.post("/price/live", fields)
            if answer.status_code >= 500:
                raise AssertionError(f"status {answer.status_code}: {answer.text[:300]}")
            return answer

        yield form


def _with_shape(text: str) -> str:
    escaped = "".join(
        f"\\U{min(ord(one), 0xFFFF):08x}" if ord(one) not in range(0xD800, 0xE000) else "?" for one in text
    )
    return (
        'format = 1\n[job]\ntitle = "t"\ncustomer = "c"\nsets = 1\n[[part]]\nmark = "A"\nname = "a"\n'
        "per_set = 1\n"
        f'bar = "round 12"\ngrade = "S275"\nshape = "{escaped}"\n'
    )


_FORM = (
    "job-0-title=Hooks&job-0-customer=Dovecote Bakery&job-0-sets=3&part-0-mark=A&part-0-per_set=2&"
    "part-0-bar=flat 40 x 6&part-0-grade=S275&part-0-shape=leg 250; bend 90 r 36; leg 300"
)
_ROWS = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>mark</t></is></c></row>'
    '<row r="2"><c r="A2"><v>12.5</v></c><c r="B2" t="b"><v>1</v></c>'
    '<c r="C2" t="d"><v>2026-03-02</v></c></row>'
)
_DXF = "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\n0.0\n20\n0.0\n11\n100.0\n21\n0.0\n0\nENDSEC\n0\nEOF\n"


def run(seconds: float, seed: int) -> int:
    """Spoil inputs for so long; how many ended in a fault."""
    chance = random.Random(seed)
    jobs = [path.read_text(encoding="utf-8") for path in sorted(SAMPLES.glob("*.toml"))]
    good = {
        "job file": jobs, "table": ["mark,length,count\nA,100,1\nB,1.250,5,3\n"],
        "workbook": [_ROWS], "drawing": [_DXF], "page": [_FORM],
        "command": ["--stock 6000:11.40 --kerf 2 --keep 300:50 --rack 3000:2:4", "--stock 3m --trim 5"],
    }  # fmt: skip
    counts: Counter[str] = Counter()
    faults = slow = 0
    with tempfile.TemporaryDirectory() as name, page_door(Path(name)) as page:
        through = doors(Path(name)) | {"page": page}
        # The quick doors get more, so that each has about the same time.
        turns = [door for door in through for _ in range(1 if door in SLOW_DOORS else 20)]
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            door = chance.choice(turns)
            text = spoil(chance.choice(good.get(door, SEEDS)), chance)
            counts[door] += 1
            begun = time.perf_counter()
            try:
                through[door](text)
            except ShopquoteError:
                pass
            except Exception as error:
                faults += 1
                print(f"seed {seed}, {door}: {type(error).__name__}: {error}; {text[:300]!r}")
            slow += time.perf_counter() - begun > SLOW_SECONDS
    told = ", ".join(f"{door} {count}" for door, count in counts.items())
    print(
        f"{date.today()}, seed {seed}: {sum(counts.values())} inputs ({told}); {faults} faults, "
        f"{slow} over {SLOW_SECONDS} s"
    )
    return faults


if __name__ == "__main__":
    words = [*sys.argv[1:], "60", "1"][:2] if len(sys.argv) > 2 else [*(sys.argv[1:] or ["60"]), "1"]
    sys.exit(1 if run(float(words[0]), int(words[1])) else 0)
