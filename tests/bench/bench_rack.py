"""How long buying and the rack take with years of them on file. By hand:

    python tests/bench/bench_rack.py [DATABASE]

Makes an invented shop with 50 000 rack pieces and 20 000 orders and measures:
a job planned against the rack (aim 2 s), a trace from job and from heat (0.1 s),
an order of 30 jobs together with its bound (10 s).
"""

import random
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from sqlalchemy import insert, select

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.records.jobs import Job
from shopquote.records.materials import StockItem
from shopquote.records.orders import Order, OrderJob, OrderLine, OrderLineJob, Receipt, ReceivedBar
from shopquote.records.rack import RackMove, RackPiece, RackPieceJob
from shopquote.records.shop import Counter
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.jobs.jobs import add_job
from shopquote.services.rack.trace import trace_heat, trace_job, trace_piece
from shopquote.services.shop.database import open_database
from shopquote.services.shop.free_rack import free_rack
from shopquote.services.shop.new_shop import set_up
from shopquote.services.shop.values import section_of

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PIECES, ORDERS, OLD_JOBS, JOBS_TOGETHER = 50_000, 20_000, 6_000, 30


def fill(database) -> None:
    """Orders and rack pieces of many years, written straight into the tables."""
    rng = random.Random(6)
    with database.session() as session:
        items = session.scalars(select(StockItem).where(StockItem.grade == "S275")).all()
        part = PartSpec("A", "rod", 4, "round 12", "S275", length=Measure.parse("450", "mm"))
        spec = JobSpec("old job", "Orla Fennimore", 1, "mm", parts=(part,))
        first = add_job(session, spec, at=AT)
        session.flush()
        rows = [
            {
                "number": f"J-{n:05d}",
                "customer_id": first.customer_id,
                "state": "closed",
                "revision": 1,
                "created_on": DAY,
            }
            for n in range(10_000, 10_000 + OLD_JOBS)
        ]
        session.execute(insert(Job), rows)
        job_ids = session.scalars(select(Job.id).where(Job.state == "closed")).all()
        _orders(session, rng, items, job_ids)
        _pieces(session, rng, items, job_ids)
        session.execute(insert(Counter), [{"letter": "O", "last": ORDERS}, {"letter": "R", "last": PIECES}])


def _orders(session, rng, items, job_ids) -> None:
    orders, lines, line_jobs, order_jobs, receipts, bars = [], [], [], [], [], []
    for n in range(1, ORDERS + 1):
        item = rng.choice(items)
        day = DAY - timedelta(days=rng.randrange(1, 3000))
        orders.append(
            {
                "id": n,
                "number": f"O-{n:04d}",
                "supplier_id": item.supplier_id,
                "state": "received",
                "placed_on": day,
                "currency": "EUR",
                "goods": Decimal("70"),
                "total": Decimal("70"),
            }
        )
        job_id = rng.choice(job_ids)
        order_jobs.append({"order_id": n, "job_id": job_id, "share": Decimal("70")})
        receipts.append({"id": n, "order_id": n, "received_on": day, "charged_total": Decimal("70")})
        for position in (1, 2):
            line = 2 * n - 2 + position
            lines.append(
                {
                    "id": line,
                    "order_id": n,
                    "position": position,
                    "stock_item_id": item.id,
                    "section_key": item.section_key,
                    "section_text": item.section_text,
                    "grade": item.grade,
                    "length": item.length,
                    "count": 5,
                    "received": 5,
                    "unit_price": Decimal("7"),
                    "amount": Decimal("35"),
                    "mass_kg": Decimal("26"),
                    "loads": [],
                }
            )
            line_jobs.append(
                {"order_line_id": line, "job_id": job_id, "count": 5, "length": Length.from_mm(20_000)}
            )
            bars.append(
                {
                    "id": line,
                    "receipt_id": n,
                    "order_line_id": line,
                    "section_key": item.section_key,
                    "section_text": item.section_text,
                    "grade": item.grade,
                    "length": item.length,
                    "count": 5,
                    "heat": f"H{line % 9000:05d}",
                    "charged": Decimal("7"),
                }
            )
    for table, rows in (
        (Order, orders),
        (OrderJob, order_jobs),
        (OrderLine, lines),
        (OrderLineJob, line_jobs),
        (Receipt, receipts),
        (ReceivedBar, bars),
    ):
        session.execute(insert(table), rows)


def _pieces(session, rng, items, job_ids) -> None:
    by_item = {}
    for bar in session.execute(select(ReceivedBar.id, ReceivedBar.section_key, ReceivedBar.heat)):
        by_item.setdefault(bar.section_key, []).append(bar)
    pieces, moves, shares = [], [], []
    for n in range(1, PIECES + 1):
        item = rng.choice(items)
        bars = by_item.get(item.section_key)
        if not bars:
            continue
        bar = rng.choice(bars)
        used = rng.random() < 0.6
        job_id = rng.choice(job_ids)
        length = Length.from_mm(rng.choice([rng.randrange(200, 3000), 6000]))
        pieces.append(
            {
                "id": n,
                "code": f"R-{n:04d}",
                "section_key": item.section_key,
                "section_text": item.section_text,
                "grade": item.grade,
                "length": length,
                "heat": bar.heat,
                "place": f"bay {n % 40}",
                "cost": Decimal("3"),
                "state": "used" if used else "free",
                "used_job_id": job_id if used else None,
                "received_bar_id": bar.id,
                "made_on": DAY,
            }
        )
        moves.append({"piece_id": n, "kind": "received", "at": AT, "length": length})
        if used:
            shares.append(
                {"rack_piece_id": n, "job_id": job_id, "length": length, "pieces": [["A", length.nm, 1]]}
            )
            moves.append({"piece_id": n, "kind": "used", "at": AT, "length": length, "job_id": job_id})
    session.execute(insert(RackPiece), pieces)
    session.execute(insert(RackPieceJob), shares)
    session.execute(insert(RackMove), moves)


def new_jobs(database) -> list[str]:
    """Thirty jobs of two to four parts each, of bars that lie on the rack and of bars that do not."""
    rng = random.Random(7)
    numbers = []
    with database.session() as session:
        listed = sorted(
            set(
                session.execute(
                    select(StockItem.section_text, StockItem.grade).where(
                        StockItem.grade.in_(("S275", "S355")), StockItem.length == Length.from_mm(6000)
                    )
                )
            )
        )
        bars = [tuple(row) for row in rng.sample(listed, 14)]
        for n in range(JOBS_TOGETHER):
            parts = []
            for mark in "ABCD"[: rng.randint(2, 4)]:
                bar, grade = rng.choice(bars)
                length = Measure.parse(str(rng.randrange(150, 2800)), "mm")
                parts.append(PartSpec(mark, mark, rng.randint(2, 12), bar, grade, length=length))
            spec = JobSpec(f"job {n}", "Orla Fennimore", rng.randint(1, 4), "mm", parts=tuple(parts))
            numbers.append(add_job(session, spec, at=AT).number)
    return numbers


def timed(what: str, aim: float, action):
    """Run an action, print its time against the aim, return its answer."""
    began = time.perf_counter()
    answer = action()
    seconds = time.perf_counter() - began
    print(f"{what:<52} {seconds:8.3f} s   aim {aim:g} s   {'good' if seconds <= aim else 'SLOW'}")
    return answer


def main(path: Path) -> None:
    """Fill a database and measure."""
    with open_database(str(path), create=True) as database:
        with database.session() as session:
            set_up(session, on=DAY)
        began = time.perf_counter()
        fill(database)
        numbers = new_jobs(database)
        print(f"filled in {time.perf_counter() - began:.1f} s")
        with database.reading() as session:
            section = section_of("round 12")
            free = timed("free pieces of one bar", 0.1, lambda: free_rack(session, section.key, "S275"))
            print(f"  {len(free)} pieces of round 12 are free")
        with database.reading() as session:
            plan = timed(
                "one job planned against the rack", 2.0, lambda: plan_for_jobs(session, numbers[:1], on=DAY)
            )
            print(f"  {len(plan.picks)} pieces from the rack, cost {plan.cost}, bound {plan.bound}")
        with database.reading() as session:
            job = session.scalar(select(Job.number).join(RackPiece, RackPiece.used_job_id == Job.id).limit(1))
            heat, code = session.execute(select(RackPiece.heat, RackPiece.code).limit(1)).one()
            trace_piece(session, code)  # the first query of a kind is compiled
            for words, action in (
                ("trace of a job", lambda: trace_job(session, job)),
                ("trace of a heat", lambda: trace_heat(session, heat)),
                ("trace of a piece", lambda: trace_piece(session, code)),
            ):
                timed(words, 0.1, action)
        placed = timed(
            "order of 30 jobs together", 10.0, lambda: order_for_jobs(database, numbers, OrderWish(), on=DAY)
        )
        plan = placed.plan
        print(
            f"  cost {plan.cost}, bound {plan.bound}, proven {plan.proven}, "
            f"cut plans proven {plan.cuts_proven}, saving {plan.saving:.2f}"
        )
        print(
            f"  {len(placed.from_rack)} from the rack, {len(plan.lines)} lines, {len(placed.numbers)} orders"
        )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            main(Path(folder) / "bench.db")
