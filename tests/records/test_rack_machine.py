"""Any sequence of ordering, receiving, promising, cutting, returning, counting and cancelling.

After every step, on both databases: all bar that came in is on the rack, scrapped
or cut up, to the nanometre; no piece is promised twice, used before it came, or
negative; and `shopquote db check` finds nothing.
"""

import random
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import delete, func, select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError, ShopquoteError
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.records.base import Base
from shopquote.records.jobs import Job
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.orders import Order, ReceivedBar
from shopquote.records.rack import BarUse, RackMove, RackPiece
from shopquote.services.buying.arrivals import Arrival
from shopquote.services.buying.orders import OrderWish, order_for_jobs, place_request
from shopquote.services.buying.orders_on_file import NamedPrice, cancel_order, change_order
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.shelving import Delivery
from shopquote.services.floor.scans import scan_lines
from shopquote.services.jobs.jobs import add_job
from shopquote.services.rack.rack import add_pieces, promise_pieces, release_promises, scrap_piece
from shopquote.services.rack.rack_uses import correct_length, return_offcut, use_bar
from shopquote.services.rack.stocktake import enter_count
from shopquote.services.safe.checks import CHECKS
from shopquote.services.shop.shop_on_file import saw_settings

DAY = date(2026, 3, 2)
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
SECTION = parse_section("round 12", "mm")
# Everything of `shopquote db check` but what looks at the schema itself, which no step can change.
RACK_CHECKS = {
    "references are whole", "orders are as they were sealed", "orders add up", "deliveries agree with orders",
    "orders stand as their deliveries left them", "deliveries are of what was ordered",
    "deliveries lie on the rack", "no piece is promised twice", "heats run along cuts",
    "all bar is accounted for", "minutes add up", "costs add up",
}  # fmt: skip
QUICK_CHECKS = [check for check in CHECKS if check.name in RACK_CHECKS]
EMPTIED = (
    "bar_uses", "rack_moves", "rack_piece_jobs", "rack_pieces", "received_bars", "receipts",
    "order_line_jobs", "order_jobs", "order_lines", "orders", "state_changes",
    "parts", "job_revisions", "jobs", "counters",
)  # fmt: skip


def length_of(nm: int) -> Measure:
    return Measure(f"{Length(nm).mm.normalize():f} mm", Length(nm))


class RackMachine(RuleBasedStateMachine):
    """The rack as a person works with it; `came` and the rest are what this test itself adds up."""

    def __init__(self, database) -> None:
        super().__init__()
        self.database = database
        self.at = START
        self.parts = self.kerf_trim_scrap = 0

    @initialize()
    def empty(self) -> None:
        with self.database.session() as session:
            for name in EMPTIED:
                session.execute(delete(Base.metadata.tables[name]))
            self.saw = saw_settings(session)
        self.came = self.measured = self.scrapped = 0

    def session(self):
        self.at += timedelta(minutes=1)
        return self.database.session()

    def some(self, session, pick: int, *states: str) -> RackPiece | None:
        pieces = session.scalars(
            select(RackPiece).where(RackPiece.state.in_(states)).order_by(RackPiece.id)
        ).all()
        return pieces[pick % len(pieces)] if pieces else None

    def open_job(self, session, pick: int) -> str | None:
        jobs = session.scalars(select(Job).order_by(Job.id)).all()
        return jobs[pick % len(jobs)].number if jobs else None

    # --- what a person does

    @rule(count=st.integers(1, 6), mm=st.sampled_from([350, 700, 1450, 2900]))
    def ask_for_a_job(self, count: int, mm: int) -> None:
        part = PartSpec("A", "rod", count, "round 12", "S275", length=Measure.parse(str(mm), "mm"))
        with self.session() as session:
            add_job(session, JobSpec("rods", "Orla Fennimore", 1, "mm", parts=(part,)), at=self.at)

    @rule(mm=st.sampled_from([500, 1500, 3000, 6000]), count=st.integers(1, 2))
    def find_bars_in_the_shop(self, mm: int, count: int) -> None:
        with self.session() as session:
            add_pieces(
                session, SECTION, "round 12", "S275", length_of(mm * 10**6), count=count,
                cost=Decimal("3.3333"), on=DAY,
            )  # fmt: skip
        self.came += mm * 10**6 * count

    @rule(pick=st.integers(0, 9), other=st.integers(0, 9), together=st.booleans())
    def order(self, pick: int, other: int, together: bool) -> None:
        with self.database.reading() as session:
            numbers = {self.open_job(session, pick)} | (
                {self.open_job(session, other)} if together else set()
            )
        if None not in numbers:
            order_for_jobs(self.database, sorted(numbers), OrderWish(), on=DAY, seconds=2)

    @rule(
        pick=st.integers(0, 9),
        off=st.integers(-1, 2),
        stretch=st.sampled_from([0, -40, 250]),
        last=st.booleans(),
    )
    def receive(self, pick: int, off: int, stretch: int, last: bool) -> None:
        self.at += timedelta(minutes=1)
        with self.database.session() as session:
            orders = session.scalars(
                select(Order).where(Order.state.in_(("placed", "part received"))).order_by(Order.id)
            ).all()
            if not orders:
                return
            order = orders[pick % len(orders)]
            line = order.lines[pick % len(order.lines)]
            count = max(1, line.count - line.received + off)
            length = length_of(line.length.nm + stretch * 10**6)
            receive_order(
                session, order.number, [Arrival(line.position, count, length, heat=f"H{pick}")],
                Delivery(last=last), certificates=self.database.certificates, at=self.at,
            )  # fmt: skip
            self.came += length.length.nm * count

    @rule(pick=st.integers(0, 9))
    def cancel(self, pick: int) -> None:
        with self.session() as session:
            orders = session.scalars(
                select(Order).where(Order.state.in_(("placed", "part received"))).order_by(Order.id)
            ).all()
            if orders:
                cancel_order(session, orders[pick % len(orders)].number, "changed")

    @rule(pick=st.integers(0, 9), job=st.integers(0, 9))
    def promise(self, pick: int, job: int) -> None:
        with self.session() as session:
            piece, number = self.some(session, pick, "free"), self.open_job(session, job)
            if piece is not None and number is not None:
                promise_pieces(session, [piece.code], number)

    @rule(job=st.integers(0, 9))
    def release(self, job: int) -> None:
        with self.session() as session:
            number = self.open_job(session, job)
            if number is not None:
                release_promises(session, number)

    @rule(pick=st.integers(0, 9), job=st.integers(0, 9), keep=st.booleans(), scan=st.booleans())
    def cut(self, pick: int, job: int, keep: bool, scan: bool) -> None:
        """Cut the planned parts, or one by hand; what is long enough comes back."""
        with self.session() as session:
            piece = self.some(session, pick, "promised", "free")
            number = self.open_job(session, job)
            if piece is None or number is None:
                return
            owner = piece.promised_job.number if piece.promised_job is not None else number
            planned = [(nm, count) for share in piece.shares for _, nm, count in share.pieces]
            planned = planned or [(min(200 * 10**6, piece.length.nm // 2), 1)]
            parts = sum(nm * count for nm, count in planned)
            cuts = sum(count for _, count in planned)
            rest = piece.length.nm - parts - cuts * self.saw.kerf.nm - self.saw.trim.nm
            back = [length_of(rest)] if keep and rest > 0 else []
            length = piece.length.nm
            if scan and piece.state == "promised":
                scan_lines(session, [piece.code, *(b.text for b in back)], on=DAY, at=self.at)
            else:
                use_bar(session, piece.code, owner, returned=back, used_on=DAY)
            self.parts += parts
            self.kerf_trim_scrap += length - parts - sum(b.length.nm for b in back)

    @rule(pick=st.integers(0, 9), share=st.integers(1, 120))
    def return_an_offcut(self, pick: int, share: int) -> None:
        """A piece of scrap is found to be long enough after all; more than there was is refused."""
        with self.session() as session:
            piece = self.some(session, pick, "used")
            if piece is None:
                return
            back = session.scalar(
                select(func.sum(RackPiece.length)).where(RackPiece.parent_id == piece.id)
            ) or Length(0)
            wanted = max(1, (piece.length.nm - back.nm) * share // 100)
            fits = wanted + back.nm <= piece.length.nm
            try:
                return_offcut(session, piece.code, length_of(wanted), on=DAY)
                assert fits
            except InputError:
                assert not fits
                return
            self.kerf_trim_scrap -= wanted

    @rule(pick=st.integers(0, 9))
    def scrap(self, pick: int) -> None:
        with self.session() as session:
            piece = self.some(session, pick, "free")
            if piece is not None:
                self.scrapped += scrap_piece(session, piece.code, "bent").length.nm

    @rule(pick=st.integers(0, 9), again=st.booleans())
    def count_a_piece_missing(self, pick: int, again: bool) -> None:
        """A count does not find a piece; the next one may."""
        with self.session() as session:
            piece = self.some(session, pick, "free", "promised")
            if piece is None:
                return
            for found in ["0", "yes"] if again else ["0"]:
                row = TableRow(2, {"code": piece.code, "found": found})
                enter_count(session, FileTable(Path("count.csv"), ("code", "found"), (row,)), on=DAY)
            assert piece.state == ("free" if again else "scrapped")
            self.scrapped += 0 if again else piece.length.nm

    @rule(pick=st.integers(0, 9), off=st.integers(-2, 2))
    def change_an_order(self, pick: int, off: int) -> None:
        with self.session() as session:
            orders = session.scalars(select(Order).where(Order.state == "placed").order_by(Order.id)).all()
            if orders:
                order = orders[pick % len(orders)]
                line = order.lines[pick % len(order.lines)]
                count = max(1, line.count + off)
                change_order(session, order.number, counts={line.position: count}, on=DAY)

    @rule(pick=st.integers(0, 9))
    def ask_for_prices_and_place(self, pick: int) -> None:
        with self.database.reading() as session:
            number = self.open_job(session, pick)
        if number is None:
            return
        for asked in order_for_jobs(self.database, [number], OrderWish(ask=True), on=DAY, seconds=2).numbers:
            with self.session() as session:
                place_request(session, asked, {1: NamedPrice(Decimal("6.50"))}, on=DAY)

    @rule(pick=st.integers(0, 9), off=st.sampled_from([-3, -1, 2]))
    def measure_again(self, pick: int, off: int) -> None:
        with self.session() as session:
            piece = self.some(session, pick, "free")
            if piece is None:
                return
            change = off * 10**6
            before = piece.parent_id
            try:
                correct_length(session, piece, length_of(piece.length.nm + change), "measured")
            except InputError:
                session.rollback()
                return
            if before is None:
                self.measured += change
            else:
                self.kerf_trim_scrap -= change

    @precondition(lambda self: self.parts > 0)
    @rule(pick=st.integers(0, 9), job=st.integers(0, 9))
    def try_what_must_not_work(self, pick: int, job: int) -> None:
        with self.session() as session:
            used, number = self.some(session, pick, "used"), self.open_job(session, job)
            if used is None or number is None:
                return
            for wrong in (
                lambda: use_bar(session, used.code, number, used_on=DAY),
                lambda: promise_pieces(session, [used.code], number),
                lambda: scrap_piece(session, used.code, ""),
            ):
                try:
                    wrong()
                except ShopquoteError:
                    continue
                raise AssertionError("a piece that was cut up was taken again")

    # --- what must hold

    @invariant()
    def all_bar_is_accounted_for(self) -> None:
        if not hasattr(self, "came"):
            return
        with self.database.reading() as session:
            pieces = session.scalars(select(RackPiece)).all()
            rack = sum(piece.length.nm for piece in pieces if piece.state in ("free", "promised"))
            assert self.came + self.measured == self.parts + self.kerf_trim_scrap + self.scrapped + rack
            assert all(piece.length.nm > 0 for piece in pieces)
            uses = session.scalars(select(BarUse)).all()
            consumed = sum(use.length.nm - (use.returned or Length(0)).nm for use in uses)
            assert consumed == self.parts + self.kerf_trim_scrap
            received = sum(bar.length.nm * bar.count for bar in session.scalars(select(ReceivedBar)))
            added = session.scalars(select(RackMove.length).where(RackMove.kind == "added"))
            assert received + sum(length.nm for length in added) == self.came

    @invariant()
    def the_database_finds_nothing_wrong(self) -> None:
        with self.database.reading() as session:
            for check in QUICK_CHECKS:
                assert list(check.find_faults(session)) == [], check.name


def cheap_shop(database) -> None:
    """One invented supplier with two lengths, so that plans are quick."""
    with database.session() as session:
        session.execute(delete(StockPrice))
        item_ids = session.scalars(select(StockItem.id)).all()
        keep = session.scalar(select(StockItem).order_by(StockItem.id))
        session.execute(delete(StockItem).where(StockItem.id.in_(set(item_ids) - {keep.id})))
        keep.section_key, keep.section_text, keep.grade = SECTION.key, "round 12", "S275"
        keep.length, keep.length_text, keep.bundle, keep.limit = Length.from_mm(6000), "6 m", 1, None
        session.add(StockPrice(stock_item_id=keep.id, price=Decimal("7.00"), basis="bar", valid_from=DAY))
        session.flush()


def test_no_sequence_of_steps_loses_or_doubles_a_bar(any_shop):
    cheap_shop(any_shop)
    run_state_machine_as_test(
        lambda: RackMachine(any_shop),
        settings=settings(
            max_examples=6,
            stateful_step_count=18,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_long_random_walk_keeps_the_balance(shop):
    """A longer sequence than hypothesis tries, the same every time."""
    cheap_shop(shop)
    machine = RackMachine(shop)
    machine.empty()
    rng = random.Random(6)
    moves = {
        "ask_for_a_job": lambda: machine.ask_for_a_job(rng.randint(1, 6), rng.choice([350, 1450, 2900])),
        "find": lambda: machine.find_bars_in_the_shop(rng.choice([500, 1500, 6000]), 1),
        "order": lambda: machine.order(rng.randrange(9), rng.randrange(9), rng.random() < 0.5),
        "receive": lambda: machine.receive(
            rng.randrange(9), rng.randint(-1, 2), rng.choice([0, -40, 250]), rng.random() < 0.3
        ),
        "cancel": lambda: machine.cancel(rng.randrange(9)),
        "promise": lambda: machine.promise(rng.randrange(9), rng.randrange(9)),
        "cut": lambda: machine.cut(
            rng.randrange(9), rng.randrange(9), rng.random() < 0.7, rng.random() < 0.5
        ),
        "count": lambda: machine.count_a_piece_missing(rng.randrange(9), rng.random() < 0.7),
        "change": lambda: machine.change_an_order(rng.randrange(9), rng.randint(-2, 2)),
        "ask": lambda: machine.ask_for_prices_and_place(rng.randrange(9)),
        "return": lambda: machine.return_an_offcut(rng.randrange(9), rng.randint(1, 120)),
        "measure": lambda: machine.measure_again(rng.randrange(9), rng.choice([-3, -1, 2])),
    }  # fmt: skip
    for _ in range(90):
        rng.choice(list(moves.values()))()
    machine.all_bar_is_accounted_for()
    machine.the_database_finds_nothing_wrong()
    assert machine.parts > 0 and machine.came > 0
