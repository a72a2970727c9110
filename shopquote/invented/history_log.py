"""What the invented jobs really took: minutes drawn around the known truth, bars, bought items, invoices."""

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.review.variance import labour_cost
from shopquote.calc.units import Length
from shopquote.invented.bulk_rows import BulkRows
from shopquote.invented.history_truth import PEOPLE, REASONS, TRUTH
from shopquote.records.logs import BoughtUse, Invoice, MinuteSum, Payment, TimeEntry
from shopquote.records.rack import BarUse

# Days: the last jobs begin this long before the end, so that all are finished within the two years.
DAYS_TO_FINISH = 15
DAYS_TO_PAY = timedelta(days=30)
# Relative standard deviation of a job's minutes of an operation around the truth. One part is common to the
# job; the other evens out with length: it is as given for an hour (together 0.20), twice that for 15 minutes.
JOB_SPREAD, HOUR_SPREAD = 0.10, 0.17
REWORK_SHARE = 0.04
# A timer that was left running: its probability for each operation of a job; the minutes too many, either for
# a break or until somebody noticed; and how often it is the latter.
FORGOTTEN_TIMERS = 0.015
_BREAK, _LATER, _LATER_SHARE = (20, 60), (60, 240), 0.3


@dataclass(frozen=True, slots=True)
class WorkLine:
    """A line of work in a quote: minutes = standard value x quantity, of one operation, set-up or run
    (`kind`).
    """

    operation: str
    standard: str
    kind: str
    quantity: Decimal
    value: Decimal
    minutes: Decimal


class HistoryLog:
    """Draws what is logged on a job: about `entries_a_job` time entries, or three per operation if None."""

    def __init__(
        self,
        rows: BulkRows,
        random: np.random.Generator,
        book: StandardsBook,
        currency: str,
        entries_a_job: int | None,
        until: date,
    ) -> None:
        self.rows, self.random, self.book, self.currency = rows, random, book, currency
        self.entries_a_job, self.until = entries_a_job, until
        self.entries = 0
        self.sums: dict[tuple[int, str, str], list[Decimal]] = {}

    def log(self, job: int, lines: Sequence[WorkLine], day: date) -> None:
        """Log a job's minutes: the truth, varied by job, in shares over several days and people."""
        true: dict[str, float] = {}
        for line in lines:
            true[line.operation] = true.get(line.operation, 0.0) + float(line.minutes) * TRUTH[line.standard]
        whole = sum(true.values())
        for operation, minutes in true.items():
            entries = 3 if self.entries_a_job is None else max(1, round(self.entries_a_job * minutes / whole))
            spread = math.hypot(JOB_SPREAD, HOUR_SPREAD * math.sqrt(60 / minutes))
            # The mean of this lognormal is 1, so that the truth is the mean of what is logged.
            worked = minutes * float(self.random.lognormal(-(spread**2) / 2, spread))
            shares = list(self._shares(worked, entries))
            if self.random.random() < FORGOTTEN_TIMERS:
                shares[0] += self._ran_on()
            rate = self.book.value(f"rate.{operation}")
            for share in shares:
                self._entry(job, operation, share, day, rate, "work", "")
            if self.random.random() < REWORK_SHARE:
                reason = REASONS[int(self.random.integers(len(REASONS)))]
                self._entry(job, operation, worked * 0.25, day, rate, "rework", reason)
        for (key, operation, kind), (spent, cost) in self.sums.items():
            self.rows.add(MinuteSum, job_id=key, operation=operation, kind=kind, minutes=spent, cost=cost)
        self.sums.clear()

    def _ran_on(self) -> float:
        """Minutes that a forgotten timer counted too many, whatever the size of the job."""
        return float(self.random.uniform(*(_LATER if self.random.random() < _LATER_SHARE else _BREAK)))

    def _shares(self, minutes: float, count: int) -> Iterator[float]:
        weights = self.random.dirichlet(np.full(count, 4.0))
        return iter(float(minutes * weight) for weight in weights)

    def _entry(
        self, job: int, operation: str, minutes: float, day: date, rate: Decimal, kind: str, reason: str
    ) -> None:
        exact = Decimal(f"{max(minutes, 0.01):.2f}")
        cost = labour_cost(exact, rate, self.currency)
        held = self.sums.setdefault((job, operation, kind), [Decimal(0), Decimal(0)])
        held[0] += exact
        held[1] += cost
        self.entries += 1
        self.rows.add(
            TimeEntry,
            job_id=job,
            operation=operation,
            minutes=exact,
            worked_on=day + timedelta(days=9 + int(self.random.integers(0, 6))),
            person=PEOPLE[self.entries % len(PEOPLE)],
            kind=kind,
            reason=reason,
            started_at=None,
            ended_at=None,
            rate=rate,
            cost=cost,
            source=None,
            note="",
        )

    def spend(
        self,
        number: str,
        job: int,
        day: date,
        counts: Mapping[str, float],
        bar: str,
        material: Decimal,
        bought: Decimal,
        net: Decimal,
    ) -> None:
        """Log the bars, bought items and invoice of a finished job, and its payment if that came in time."""
        used = day + timedelta(days=9)
        # One job in seven takes a bar more than quoted, and prices paid vary by 6 % around 2 % above the
        # quote.
        extra = int(self.random.random() < 0.15)
        paid = Decimal(str(round(float(self.random.normal(1.02, 0.06)), 4)))
        count = int(counts["bars"]) + extra
        cost = round_money(material * paid * count / int(counts["bars"]), self.currency)
        self.rows.add(
            BarUse, job_id=job, section_key=parse_section(bar, "mm").key, section_text=bar, grade="S275",
            length=Length.from_mm(6000), length_text="6000", count=count, cost=cost, used_on=used,
            rack_piece_id=None, returned=None, credit=Decimal(0), kind="work", reason="", source=None,
        )  # fmt: skip
        if bought:
            self.rows.add(
                BoughtUse,
                job_id=job,
                name="screws",
                count=Decimal(counts["bought"]),
                cost=bought,
                used_on=used,
                source=None,
            )
        invoiced = day + timedelta(days=DAYS_TO_FINISH + 1)
        paper = self.rows.add(
            Invoice, job_id=job, number=f"R{number[1:]}", invoiced_on=invoiced,
            due_on=invoiced + DAYS_TO_PAY, amount=net, kind="invoice", note="",
        )  # fmt: skip
        # From the number instead of drawn: another draw would change all that the same seed gives after it.
        received = invoiced + timedelta(days=18 + int(number[2:]) % 23)
        if received <= self.until and net > 0:
            self.rows.add(Payment, invoice_id=paper, paid_on=received, amount=net, note="")
