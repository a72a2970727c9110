"""Several people at the same moment, each a real process: a piece goes to one of them only."""

import json
import subprocess
import sys
from datetime import UTC, date, datetime

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.services.jobs.jobs import add_job
from shopquote.services.rack.rack import add_pieces
from shopquote.services.rack.rack_on_file import list_pieces
from shopquote.services.safe.checks import CHECKS

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)

# Those that a step on the rack could break; how the file and the schema are is tested elsewhere.
RACK_CHECKS = [check for check in CHECKS if "schema" not in check.name and "running" not in check.name]

PROMISER = """
import json, sys
from shopquote.errors import InputError
from shopquote.services.shop.database import next_number, open_database
from shopquote.services.rack.rack import promise_pieces
from shopquote.services.shop.free_rack import free_rack

url, job = sys.argv[1:]
mine, numbers, refused = [], [], 0
with open_database(url) as database:
    print("ready", flush=True)
    sys.stdin.readline()  # all begin at the same moment
    while True:
        with database.reading() as session:      # plan on what one sees ...
            seen = free_rack(session, "round 12", "S275")
        if not seen:
            break
        code = seen[0].piece
        try:
            with database.session() as session:  # ... and take it, if it is still there
                promise_pieces(session, [code], job)
                number = next_number(session, "O")
            numbers.append(number)
            mine.append(code)
        except InputError:
            refused += 1
print(json.dumps({"mine": mine, "numbers": numbers, "refused": refused}))
"""

ORDERER = """
import json, sys
from datetime import date
from shopquote.services.shop.database import open_database
from shopquote.services.buying.orders import OrderWish, order_for_jobs

url, job = sys.argv[1:]
with open_database(url) as database:
    print("ready", flush=True)
    sys.stdin.readline()  # all begin at the same moment
    placed = order_for_jobs(database, [job], OrderWish(), on=date(2026, 3, 2), seconds=1)
print(json.dumps({"mine": [pick.name for pick in placed.from_rack], "orders": list(placed.numbers)}))
"""


def mm(text: str) -> Measure:
    return Measure.parse(text, "mm")


def prepare(database, jobs: int, pieces: int, length: str, count: int) -> list[str]:
    with database.session() as session:
        add_pieces(
            session, parse_section("round 12", "mm"), "round 12", "S275", mm("2900"), count=pieces, on=DAY
        )
        part = PartSpec("A", "rod", count, "round 12", "S275", length=mm(length))
        return [
            add_job(session, JobSpec(f"job {i}", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT).number
            for i in range(jobs)
        ]


def run_together(database, script: str, jobs: list[str]) -> list[dict]:
    url = database.url.render_as_string(hide_password=False)
    if database.url.get_backend_name() == "sqlite":
        url = str(database.url.database)
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", script, url, job],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for job in jobs
    ]  # fmt: skip
    for process in processes:
        assert process.stdout is not None and process.stdout.readline() == "ready\n"
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    answers = []
    for process in processes:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
        answers.append(json.loads(out))
    return answers


def check(database) -> None:
    with database.reading() as session:
        assert [fault for check in RACK_CHECKS for fault in check.find_faults(session)] == []


def test_every_piece_is_promised_to_one_job_only(any_shop):
    pieces = 30
    jobs = prepare(any_shop, 2, pieces, "2800", 1)
    answers = run_together(any_shop, PROMISER, jobs)
    taken = [code for answer in answers for code in answer["mine"]]
    assert len(taken) == len(set(taken)) == pieces
    # A number is given once, and none is used up by who came too late.
    given = sorted(number for answer in answers for number in answer["numbers"])
    assert given == [f"O-{number:04d}" for number in range(1, pieces + 1)]
    with any_shop.reading() as session:
        owners = {piece.code: piece.promised_job.number for piece in list_pieces(session)}
    for job, answer in zip(jobs, answers, strict=True):
        assert all(owners[code] == job for code in answer["mine"])
    check(any_shop)


def test_orders_at_the_same_moment_share_no_piece_and_buy_nothing_twice(any_shop):
    # Three pieces on the rack, two jobs that would each like two; one of them is ordered by two people.
    one, other = prepare(any_shop, 2, 3, "2800", 2)
    first, *same = run_together(any_shop, ORDERER, [one, other, other])
    taken = [set(first["mine"]), {code for answer in same for code in answer["mine"]}]
    # One takes two pieces; the bar that the other must buy anyway holds both of his, so the third piece,
    # which is worth something, stays on the rack.
    assert not taken[0] & taken[1] and sorted(map(len, taken)) == [0, 2]
    # Whoever of the two came second found everything ordered or promised.
    assert sorted(len(answer["orders"]) for answer in same)[0] == 0
    orders = [number for answer in (first, *same) for number in answer["orders"]]
    assert len(orders) == len(set(orders)) == 1
    check(any_shop)
