"""What a review holds of each job and of each operation, in whole stored steps of money and minutes."""

from collections.abc import Iterable
from decimal import Decimal
from operator import itemgetter
from typing import Any

from sqlalchemy import BigInteger, ColumnElement, cast, type_coerce

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import CATEGORIES, NEVER_LOGGED

# What one of money and one of a number are in the whole numbers that the columns hold.
MONEY_STEPS = 10_000
NUMBER_STEPS = 1_000_000
# What is paid for a job alone, out of its costs by category.
_paid_of = itemgetter(*(at for at, name in enumerate(CATEGORIES) if name not in ("labour", *NEVER_LOGGED)))


class InSteps:
    """What one job or several added up hold in stored steps, as it leaves: Decimal money and minutes."""

    __slots__ = ()
    price_steps: int
    quoted_steps: int
    minutes_estimated_steps: int
    minutes_actual_steps: int
    gap_steps: int
    invoiced_steps: int
    to_invoice_steps: int
    paid_steps: int
    overdue_steps: int

    @property
    def price(self) -> Decimal:
        """What was quoted, more where more was agreed and invoiced, less credits."""
        return money(self.price_steps)

    @property
    def quoted(self) -> Decimal:
        """Net price of the quote, or of the quotes."""
        return money(self.quoted_steps)

    @property
    def gap(self) -> Decimal:
        """At most so much of the cost is as quoted because nobody logged it; no log has consumables."""
        return money(self.gap_steps)

    @property
    def invoiced_so_far(self) -> Decimal:
        """Invoices less credits."""
        return money(self.invoiced_steps)

    @property
    def to_invoice(self) -> Decimal:
        """Of the price, what is not invoiced yet."""
        return money(self.to_invoice_steps)

    @property
    def paid(self) -> Decimal:
        """What came in for the invoices."""
        return money(self.paid_steps)

    @property
    def overdue(self) -> Decimal:
        """Of what was invoiced, what is unpaid after its due day."""
        return money(self.overdue_steps)

    @property
    def minutes_estimated(self) -> Decimal:
        """Minutes in the quote, or in the quotes."""
        return minutes(self.minutes_estimated_steps)

    @property
    def minutes_actual(self) -> Decimal:
        """Minutes logged, rework included, and those as quoted where none were logged."""
        return minutes(self.minutes_actual_steps)


@dataclass(slots=True)
class JobFigures(InSteps):
    """One job's figures. Amounts are held in stored steps and leave as Decimal.

    `estimated` and `actual` are by category in the order of CATEGORIES.
    """

    id: int
    number: str
    title: str
    customer: str
    state: str
    done_on: str
    sets: int
    invoiced: bool
    quoted_steps: int
    price_steps: int
    estimated_steps: tuple[int, ...]
    actual_steps: tuple[int, ...]
    minutes_estimated_steps: int
    minutes_actual_steps: int
    minutes_rework_steps: int
    assumed: tuple[str, ...]
    spread_steps: int | None = None
    gap_steps: int = 0
    invoiced_steps: int = 0
    paid_steps: int = 0
    overdue_steps: int = 0

    @property
    def to_invoice_steps(self) -> int:  # type: ignore[override]
        """Of the price, what is not invoiced yet."""
        return max(0, self.price_steps - self.invoiced_steps)

    @property
    def held_its_range(self) -> bool | None:
        """Whether the actual cost fell inside the 8-in-10 range about the quoted one; None if not stated.

        1.2816 standard deviations of a normal hold 80 %; a job without logged minutes tells nothing.
        """
        if self.spread_steps is None or any(name.startswith("labour") for name in self.assumed):
            return None
        estimated, actual = sum(self.estimated_steps), sum(self.actual_steps)
        # In whole steps on both sides: no float decides about a job on the edge.
        return abs(actual - estimated) * 100 * NUMBER_STEPS <= 1.2816 * self.spread_steps * estimated

    @property
    def estimated(self) -> tuple[Decimal, ...]:
        """Estimated cost by category."""
        return tuple(money(amount) for amount in self.estimated_steps)

    @property
    def actual(self) -> tuple[Decimal, ...]:
        """Actual cost by category."""
        return tuple(money(amount) for amount in self.actual_steps)

    @property
    def cost_estimated(self) -> Decimal:
        """Estimated cost, all categories."""
        return money(sum(self.estimated_steps))

    @property
    def cost_actual(self) -> Decimal:
        """Actual cost, all categories."""
        return money(sum(self.actual_steps))

    @property
    def margin_steps(self) -> int:
        """Price less actual cost."""
        return self.price_steps - sum(self.actual_steps)

    @property
    def contribution_steps(self) -> int:
        """Price less what was paid for this job alone: all but labour and overhead."""
        paid: tuple[int, ...] = _paid_of(self.actual_steps)
        return self.price_steps - sum(paid)


@dataclass(frozen=True, slots=True)
class OperationSum:
    """All minutes of one operation over the jobs picked, with what the quotes said.

    `minutes_assumed`: of the actual ones, those as quoted since nobody logged any on the job.
    """

    operation: str
    minutes_estimated: Decimal
    minutes_actual: Decimal
    minutes_rework: Decimal
    estimated: Decimal
    actual: Decimal
    jobs: int
    minutes_assumed: Decimal = Decimal(0)


def steps(expression: Any) -> ColumnElement[int]:
    """A money, number or length sum as the whole number that it is stored as, on every database."""
    return cast(type_coerce(expression, BigInteger), BigInteger)


def money(amount: int | None) -> Decimal:
    """Stored steps as an amount."""
    return Decimal(amount or 0).scaleb(-4)


def minutes(amount: int | None) -> Decimal:
    """Stored steps as minutes."""
    return Decimal(amount or 0).scaleb(-6)


def sum_all(figures: Iterable[JobFigures]) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Estimated and actual by category over many jobs."""
    estimated = [0] * len(CATEGORIES)
    actual = [0] * len(CATEGORIES)
    for row in figures:
        for index, amount in enumerate(row.estimated_steps):
            estimated[index] += amount
        for index, amount in enumerate(row.actual_steps):
            actual[index] += amount
    return tuple(money(amount) for amount in estimated), tuple(money(amount) for amount in actual)
