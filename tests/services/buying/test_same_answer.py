"""The same jobs give the same plans, quotes and orders, byte for byte, whatever else the machine does.

Where `SHOPQUOTE_OTHER_PYTHONS` names interpreters of other versions with the same libraries (separated as in
PATH), some of the runs are theirs.
"""

import os
import subprocess
import sys
from datetime import UTC, datetime
from itertools import cycle

from shopquote.reading.job_file import read_job_text
from shopquote.services.jobs.jobs import add_job

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
PROCESSES, RUNS = 4, 5  # each of the four keeps the cores from the others
OTHERS = [python for python in os.environ.get("SHOPQUOTE_OTHER_PYTHONS", "").split(os.pathsep) if python]

# Ten jobs: four plain lists with too little work for a proof, where a clock would end the search elsewhere
# each time, three quotes and three orders: a second or so a run. What a run answers is printed as one digest.
ANSWERS = """
import hashlib
import sys
from datetime import date
from decimal import Decimal
from shopquote.calc.pricing.document import document_text
from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.units import Length
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.shop.database import open_database
mm, on = Length.from_mm, date(2026, 3, 2)
numbers = [f"J-{n:04d}" for n in range(1, 7)]
stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]
for run in range(int(sys.argv[2])):
    said = []
    for n in range(4):
        lengths = [211 + (173 * i + 97 * n * n) % 1900 for i in range(7 + 2 * n)]
        pieces = [Piece(f"P{i}", mm(length), 3 + i % 7) for i, length in enumerate(lengths)]
        saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50 * (n % 2)))
        plan = plan_cuts(pieces, stocks, [], saw, work=20_000_000)
        said.append((plan.bars, plan.cost, plan.bound, plan.proven, plan.work))
    with open_database(sys.argv[1]) as database, database.reading() as session:
        said += [document_text(draft_quote(session, number, on).document) for number in numbers[::2]]
        for number in numbers[1::2]:
            bought = plan_for_jobs(session, [number], on=on)
            lines = [(line.listed.code, line.count, line.unit_price, line.loads) for line in bought.lines]
            said.append((lines, bought.picks, bought.cost, bought.bound, bought.apart, bought.shares))
    print(hashlib.sha256(repr(said).encode()).hexdigest(), sum(not entry[3] for entry in said[:4]))
"""


def job(n):
    """One of six jobs, with a bent part and a straight one."""
    return f"""
format = 1
[job]
title = "Job {n}"
customer = "Invented Customer"
sets = {2 + n}
units = "mm"
[[part]]
mark = "A"
per_set = 3
bar = "round 12"
grade = "S275"
length = {611 + 37 * n}
[[part]]
mark = "B"
per_set = 2
bar = "round 12"
grade = "S275"
shape = "leg {280 + 11 * n}; bend 90 r 24; leg 200"
"""


def test_twenty_runs_of_ten_jobs_at_once_on_a_busy_machine_give_the_same_bytes(shop):
    with shop.session() as session:
        for n in range(6):
            add_job(session, read_job_text(job(n), f"job{n}.toml"), at=AT)
    running = [
        subprocess.Popen(
            [python, "-c", ANSWERS, str(shop.url), str(RUNS)],
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
            stdout=subprocess.PIPE,
            text=True,
        )
        for seed, python in zip(range(PROCESSES), cycle([sys.executable, *OTHERS]), strict=False)
    ]
    lines = [line for process in running for line in process.communicate()[0].splitlines()]
    assert len(lines) == PROCESSES * RUNS
    assert len(set(lines)) == 1
    unproven = int(lines[0].split()[1])
    assert unproven >= 2  # else no search would have been ended by its work
