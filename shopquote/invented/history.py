"""Two years of an invented shop: jobs, quotes, logged minutes, bars and invoices.

Logged minutes are drawn around true minutes of every standard, which are known here (history_truth), so that
what a review learns can be compared with them. As in many small shops (common practice, no source), set-ups
take far longer than the starting standards say, also those that the owner guessed by hand, and repeated work
less; small jobs vary more than large ones; now and then a timer is left running. All is invented, and the
same for the same seed. `build_history` is the entry point.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import numpy as np
from sqlalchemy import select, text
from sqlalchemy.orm import Session

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.pricing.standards import StandardsBook, by_hand, starting_book
from shopquote.calc.review.variance import labour_cost
from shopquote.calc.units import Length
from shopquote.invented.bulk_rows import BulkRows
from shopquote.invented.history_log import DAYS_TO_FINISH, HistoryLog, WorkLine
from shopquote.invented.history_truth import BARS, BY_HAND, CUSTOMERS, DRIVERS, GUESSED, THINGS, TRUTH
from shopquote.reading.kinds.documents import numbered
from shopquote.records.jobs import Job, JobRevision, LabourLine, PartBend, PartRow, StateChange, WeldRow
from shopquote.records.logs import TimeEntry
from shopquote.records.people import Customer
from shopquote.records.quotes import (
    Quote,
    QuoteCost,
    QuoteLineRow,
    QuoteMaterial,
    QuoteMinutes,
    QuoteOperation,
)
from shopquote.services.shop.shop_on_file import shop_currency, standards_book

DAYS = 730
QUOTED_SPREAD = Decimal(12)  # spread of the cost that the quotes state: one standard deviation in per cent


@dataclass(frozen=True, slots=True)
class History:
    """Numbers of the jobs made, by how they stand, and the true value of every standard.

    `truth` is in the unit of each standard, for work given by hand a factor; `entries` counts time entries.
    """

    finished: tuple[str, ...]
    lost: tuple[str, ...]
    open: tuple[str, ...]
    truth: Mapping[str, float]
    entries: int


def build_history(
    session: Session, *, jobs: int = 300, seed: int = 1, until: date, entries_a_job: int | None = None
) -> History:
    """Add an invented history to a database that was set up; the caller commits.

    Besides `jobs` finished jobs there are half as many lost quotes and a few open ones. Each finished job has
    about `entries_a_job` time entries, or about three per operation if that is None.
    """
    maker = _Maker(session, np.random.default_rng(seed), until, entries_a_job)
    return maker.make(jobs)


class _Maker(BulkRows):
    """Draws jobs one by one and stores them in bulk."""

    def __init__(
        self, session: Session, random: np.random.Generator, until: date, entries_a_job: int | None
    ) -> None:
        super().__init__(session)
        self.random, self.until = random, until
        self.book: StandardsBook = standards_book(session, until)
        self.currency = shop_currency(session)
        if not self.book:
            self.book = starting_book()
        self.logged = HistoryLog(self, random, self.book, self.currency, entries_a_job, until)
        self.customers = self._customers()
        self.masses = _masses()
        self.perimeters = {bar: parse_section(bar, "mm").perimeter_mm / 1000 for bar in BARS}

    def make(self, jobs: int) -> History:
        """Draw and store this many finished jobs, with lost and open ones besides."""
        names: dict[str, list[str]] = {"finished": [], "lost": [], "quoted": []}
        plan = ["finished"] * jobs + ["lost"] * (jobs // 2) + ["quoted"] * min(12, 1 + jobs // 25)
        self.random.shuffle(plan)
        first = self.next_number(len(plan))
        for place, state in enumerate(plan):
            day = self.until - timedelta(days=int(DAYS * (1 - (place + 1) / (len(plan) + 1))) + 1)
            if state == "quoted":
                day = self.until - timedelta(days=int(self.random.integers(1, 14)))
            elif state == "finished":
                day = min(day, self.until - timedelta(days=DAYS_TO_FINISH + 1))
            names[state].append(self._job(numbered("J", first + place), state, day))
            # A long history is stored in parts, so that it takes no more memory than a short one.
            if len(self.rows.get(TimeEntry, ())) > 50_000:
                self.store()
        self.store()
        # Queries are planned by row counts, which SQLite never and PostgreSQL only later counts by itself.
        self.session.execute(text("ANALYZE"))
        truth = {
            name: factor * float(self.book[name].value) for name, factor in TRUTH.items() if name != BY_HAND
        }
        truth |= {by_hand(operation): TRUTH[BY_HAND] for operation in GUESSED}
        return History(
            tuple(names["finished"]), tuple(names["lost"]), tuple(names["quoted"]), truth, self.logged.entries
        )

    def _customers(self) -> list[int]:
        """Ids of the invented customers, in the order of CUSTOMERS; the missing ones are added."""
        held = {name: key for name, key in self.session.execute(select(Customer.name, Customer.id))}
        for name in CUSTOMERS:
            if name not in held:
                row = Customer(name=name, note="invented")
                self.session.add(row)
                self.session.flush()
                held[name] = row.id
        return [held[name] for name in CUSTOMERS]

    def _job(self, number: str, state: str, day: date) -> str:
        """Draw and collect one job with all that belongs to it; returns its number."""
        bar = BARS[int(self.random.integers(len(BARS)))]
        counts = self._counts(bar)
        lines = self._lines(counts)
        customer = int(self.random.integers(len(self.customers)))
        job = self.add(
            Job, number=number, customer_id=self.customers[customer], state=state, revision=1, created_on=day
        )
        revision = self._revision(job, customer, day, counts, bar)
        self._states(job, state, day)
        # Prices as made up as the rest: 1.55 a kilogram of bar with its waste, 0.45 a bought screw.
        material = round_money(
            Decimal(repr(round(counts["metres"] * self.masses[bar] * 1.55, 4))), self.currency
        )
        bought = round_money(Decimal(counts["bought"]) * Decimal("0.45"), self.currency)
        net = self._quote(number, job, revision, state, day, lines, counts, bar, material, bought)
        if state == "finished":
            self.logged.log(job, lines, day)
            self.logged.spend(number, job, day, counts, bar, material, bought, net)
        return number

    def _counts(self, bar: str) -> dict[str, float]:
        """The count that each driver in DRIVERS takes in one job.

        Sets are drawn so that small jobs are many and large ones few; the shares are common practice, no
        source.
        """
        random = self.random
        sets = int(random.choice([1, 1, 1, 2, 3, 4, 6, 10, 12, 25, 50, 100, 200]))
        parts = int(random.integers(1, 5))
        pieces = sets * int(random.integers(1, 6)) * parts
        bent = int(random.integers(0, parts + 1))
        bent_pieces = pieces * bent // parts
        bends = bent_pieces * int(random.integers(1, 5))
        angle = float(random.choice([0.5, 1.0, 1.0, 1.5]))
        joints = sets * int(random.integers(0, 9)) if random.random() < 0.65 else 0
        drilled = pieces if random.random() < 0.5 else 0
        metres = pieces * float(random.uniform(0.15, 1.2))
        painted = random.random() < 0.4
        weld_metres = round(joints * float(random.uniform(0.03, 0.15)), 3)
        return {
            "one": 1, "sets": sets, "parts": parts, "pieces": pieces, "lengths": parts,
            "bars": max(1, round(metres / 5.5)), "metres": metres, "bent_parts": bent,
            "formers": min(bent, int(random.integers(1, 3))), "bent_pieces": bent_pieces, "bends": bends,
            "right_angles": round(bends * angle, 2), "welds": 1 if joints else 0, "joints": joints,
            "tacks": joints * 2, "weld_metres": weld_metres, "dressed_metres": weld_metres / 2,
            "jig_minutes": int(random.choice([5, 10, 10, 15, 20])) if joints else 0,
            "grinder_minutes": int(random.choice([3, 4, 5, 6])),
            "edges": round(pieces * 2 * self.perimeters[bar], 3),
            "drills": 1 if drilled else 0, "hole_sizes": int(random.integers(1, 3)) if drilled else 0,
            "drilled_pieces": drilled, "holes": drilled * int(random.integers(1, 4)),
            "painted": 1 if painted else 0, "area": round(metres * 0.06, 3) if painted else 0,
            "bought": joints if random.random() < 0.3 else 0,
        }  # fmt: skip

    def _lines(self, counts: Mapping[str, float]) -> list[WorkLine]:
        """The lines of work that a quote estimates for these counts, by the shop's standards."""
        lines = []
        for operation, standard, kind, driver in DRIVERS:
            quantity = Decimal(repr(round(float(counts[driver]), 6)))
            if not quantity or (operation == "bending" and not counts["bends"]):
                continue
            value = self.book[standard].value if standard != BY_HAND else Decimal(1)
            minutes = (quantity * value).quantize(Decimal("0.01"))
            if minutes:
                lines.append(WorkLine(operation, standard, kind, quantity, value, minutes))
        return lines

    def _revision(self, job: int, customer: int, day: date, counts: Mapping[str, float], bar: str) -> int:
        """Draw and collect a job's only revision with its part, weld and work by hand; returns its id."""
        thing = THINGS[int(self.random.integers(len(THINGS)))]
        revision = self.add(
            JobRevision, job_id=job, revision=1, title=thing.capitalize(), customer=CUSTOMERS[customer],
            units="mm", use="general", sets=int(counts["sets"]), breaks=[], due=day + timedelta(days=21),
            source="", reason="", made_at=None,
        )  # fmt: skip
        self._part(revision, thing, counts, bar)
        if counts["joints"]:
            self.add(
                WeldRow, job_revision_id=revision, position=1, kind="fillet", leg=Length.from_mm(4),
                leg_text="4", length=Length.from_mm(30), length_text="30",
                count=max(1, int(counts["joints"]) // int(counts["sets"])), process="MAG", note="",
            )  # fmt: skip
        for position, operation in enumerate(("fit-up", "grinding"), start=1):
            if minutes := counts[GUESSED[operation]]:
                self.add(
                    LabourLine, job_revision_id=revision, position=position, operation=operation,
                    minutes=Decimal(minutes), per="job",
                )  # fmt: skip
        return revision

    def _part(self, revision: int, thing: str, counts: Mapping[str, float], bar: str) -> None:
        """Collect the one part that stands for all pieces of a job: straight, or with one bend."""
        bent = bool(counts["bends"])
        length = Length.from_mm(max(20, round(counts["metres"] / max(1, counts["pieces"]) * 1000)))
        part = self.add(
            PartRow, job_revision_id=revision, position=1, mark="A", name=thing,
            per_set=max(1, int(counts["pieces"]) // int(counts["sets"])), bar=bar,
            section_key=parse_section(bar, "mm").key, grade="S275", dims="outside",
            shape="leg 100; bend 90 r 24; leg 100" if bent else None,
            length=None if bent else length, length_text=None if bent else f"{length.mm:f}",
            cut=length, developed=length,
            mass_kg=Decimal(repr(round(self.masses[bar] * length.mm_float / 1000, 6))),
        )  # fmt: skip
        if bent:
            self.add(
                PartBend, part_id=part, position=1, angle=Decimal(90), radius=Length.from_mm(24),
                mark=Length.from_mm(64), hits=1,
            )  # fmt: skip

    def _states(self, job: int, state: str, day: date) -> None:
        """Collect the events by which a job came to its state, at 9:00 UTC of plausible days."""
        passed = {
            "finished": ("asked", "quoted", "won", "started", "finished"),
            "lost": ("asked", "quoted", "lost"),
            "quoted": ("asked", "quoted"),
        }
        days = (0, 1, 5, 9, DAYS_TO_FINISH)
        before: str | None = None
        for place, step in enumerate(passed[state]):
            at = datetime.combine(day + timedelta(days=days[place]), time(9), tzinfo=UTC)
            self.add(StateChange, job_id=job, from_state=before, to_state=step, at=at, reason="")
            before = step

    def _quote(
        self, number: str, job: int, revision: int, state: str, day: date, lines: Sequence[WorkLine],
        counts: Mapping[str, float], bar: str, material: Decimal, bought: Decimal,
    ) -> Decimal:  # fmt: skip
        """Draw and collect a job's quote with its costs, material and minutes; returns its net price."""
        by_operation: dict[str, Decimal] = {}
        for line in lines:
            by_operation[line.operation] = by_operation.get(line.operation, Decimal(0)) + line.minutes
        rates = {name: self.book.value(f"rate.{name}") for name in by_operation}
        labour = sum(
            (labour_cost(by_operation[name], rates[name], self.currency) for name in by_operation), Decimal(0)
        )
        costs = {
            "material": material,
            "labour": labour,
            "consumables": round_money(labour * Decimal("0.03"), self.currency),
            "bought": bought,
            "outside": Decimal(0),
            "overhead": round_money(labour * Decimal("0.12"), self.currency),
        }
        quote, net = self._priced(number, job, revision, state, day, sum(costs.values(), Decimal(0)))
        for category, amount in costs.items():
            self.add(QuoteCost, quote_id=quote, category=category, amount=amount)
        self.add(
            QuoteMaterial, quote_id=quote, section_key=parse_section(bar, "mm").key, section_text=bar,
            grade="S275", bought=Length.from_mm(int(counts["bars"]) * 6000),
            net=Length.from_mm(round(counts["metres"] * 1000)), bars=int(counts["bars"]),
            mass_kg=Decimal(repr(round(counts["metres"] * self.masses[bar], 3))), cost=material,
        )  # fmt: skip
        self._quote_minutes(quote, lines, by_operation, rates)
        return net

    def _priced(
        self, number: str, job: int, revision: int, state: str, day: date, cost: Decimal
    ) -> tuple[int, Decimal]:
        """Draw the margin and collect the quote with its one printed line; returns its id and net price."""
        # Dear quotes are lost more often: margin is drawn higher for the lost ones.
        middle, width = (36, 8) if state == "lost" else (29, 7)
        margin = Decimal(str(round(min(55.0, max(5.0, float(self.random.normal(middle, width)))), 2)))
        net = round_money(cost / (1 - margin / 100), self.currency)
        tax = round_money(net * Decimal("0.2"), self.currency)
        answer = {"finished": "accepted", "lost": "declined", "quoted": "sent"}[state]
        quote = self.add(
            Quote, job_id=job, job_revision_id=revision, number=f"Q{number[1:]}", revision=1, state=answer,
            issued_on=day + timedelta(days=1), valid_until=day + timedelta(days=22), currency=self.currency,
            net=net, tax=tax, total=net + tax, cost=cost, margin_pct=margin, spread_pct=QUOTED_SPREAD,
            snapshot="",  # no sealed text: the quotes of the history are for adding up, not for printing
        )  # fmt: skip
        self.add(
            QuoteLineRow, quote_id=quote, position=1, text=number, quantity=Decimal(1), unit_price=net,
            amount=net, reason="",
        )  # fmt: skip
        return quote, net

    def _quote_minutes(
        self, quote: int, lines: Sequence[WorkLine], by_operation: Mapping[str, Decimal],
        rates: Mapping[str, Decimal],
    ) -> None:  # fmt: skip
        """The lines of work of a quote; the last line of an operation takes its rounding, so that they add
        up.
        """
        left = {
            name: labour_cost(minutes, rates[name], self.currency) for name, minutes in by_operation.items()
        }
        for name, minutes in by_operation.items():
            self.add(QuoteOperation, quote_id=quote, operation=name, minutes=minutes, cost=left[name])
        last = {line.operation: index for index, line in enumerate(lines)}
        for index, line in enumerate(lines):
            rate = rates[line.operation]
            cost = labour_cost(line.minutes, rate, self.currency)
            if last[line.operation] == index:
                cost = left[line.operation]
            left[line.operation] -= cost
            self.add(
                QuoteMinutes,
                quote_id=quote,
                operation=line.operation,
                standard=line.standard,
                kind=line.kind,
                quantity=line.quantity,
                how="times",
                value=line.value,
                factor=Decimal(1),
                minutes=line.minutes,
                rate=rate,
                cost=cost,
            )


def _masses() -> dict[str, float]:
    """Kilograms per metre of each bar, in S275."""
    steel = STARTING_GRADES["S275"]
    return {bar: parse_section(bar, "mm").mass_per_m(steel.density_kg_m3) for bar in BARS}
