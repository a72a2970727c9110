"""Figures of each job and operation in a review, in whole stored steps of money and minutes."""

from collections.abc import Iterable
from decimal import Decimal
from operator import itemgetter
from typing import Any

from sqlalchemy import BigInteger, ColumnElement, cast, type_coerce

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import CATEGORIES, NEVER_LOGGED

# Steps per unit of money and per unit of a number: columns store whole steps, which add up exactly.
MONEY_STEPS = 10_000
NUMBER_STEPS = 1_000_000
# Standard deviations around the mean of a normal distribution that hold 8 of 10 cases.
EIGHT_IN_TEN = 1.2816
# Picks the categories that are paid for one job alone from its costs by category.
_paid_of = itemgetter(*(at for at, name in enumerate(CATEGORIES) if name not in ("labour", *NEVER_LOGGED)))


class InSteps:
    """Amounts of one job or several, held in stored steps and returned as Decimal money and minutes."""

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
        """What the job earned: the quoted price, or more if more was invoiced, less credits."""
        return money(self.price_steps)

    @property
    def quoted(self) -> Decimal:
        """Net price of the quote or quotes."""
        return money(self.quoted_steps)

    @property
    def gap(self) -> Decimal:
        """Cost that counts as quoted because nobody logged it; without consumables, which nobody logs."""
        return money(self.gap_steps)

    @property
    def invoiced_so_far(self) -> Decimal:
        """Invoices less credits."""
        return money(self.invoiced_steps)

    @property
    def to_invoice(self) -> Decimal:
        """The part of the price that is not invoiced yet."""
        return money(self.to_invoice_steps)

    @property
    def paid(self) -> Decimal:
        """Payments received."""
        return money(self.paid_steps)

    @property
    def overdue(self) -> Decimal:
        """Invoiced amounts that are unpaid after their due day."""
        return money(self.overdue_steps)

    @property
    def minutes_estimated(self) -> Decimal:
        """Minutes in the quote or quotes."""
        return minutes(self.minutes_estimated_steps)

    @property
    def minutes_actual(self) -> Decimal:
        """Minutes logged, rework included, or as quoted where none were logged."""
        return minutes(self.minutes_actual_steps)


@dataclass(slots=True)
class JobFigures(InSteps):
    """One job's figures; `estimated_steps` and `actual_steps` are by category, in the order of CATEGORIES."""

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
        """The part of the price that is not invoiced yet."""
        return max(0, self.price_steps - self.invoiced_steps)

    @property
    def labour_as_quoted(self) -> bool:
        """Whether minutes of any operation were taken as quoted, because nobody logged them."""
        # A word names the whole category, or one operation of it: "labour: sawing".
        return any(name.startswith("labour") for name in self.assumed)

    @property
    def held_its_range(self) -> bool | None:
        """Whether the actual cost fell inside the quote's 8-in-10 range; None if it had none or no minutes
        were logged.
        """
        if self.spread_steps is None or self.labour_as_quoted:
            return None
        estimated, actual = sum(self.estimated_steps), sum(self.actual_steps)
        # Multiplied out instead of divided, so that rounding does not decide on the edge of the range.
        return abs(actual - estimated) * 100 * NUMBER_STEPS <= EIGHT_IN_TEN * self.spread_steps * estimated

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
    """Minutes of one operation over the selected jobs, beside what the quotes said.

    `minutes_assumed` are those of `minutes_actual` that count as quoted because none were logged on the job.
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
    """A money, number or length column (or sum) as the whole number that is stored, on every database."""
    return cast(type_coerce(expression, BigInteger), BigInteger)


def money(amount: int | None) -> Decimal:
    """Stored steps as money."""
    return Decimal(amount or 0).scaleb(-4)


def minutes(amount: int | None) -> Decimal:
    """Stored steps as minutes."""
    return Decimal(amount or 0).scaleb(-6)


def sum_all(figures: Iterable[JobFigures]) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Estimated and actual cost by category, over all jobs."""
    estimated = [0] * len(CATEGORIES)
    actual = [0] * len(CATEGORIES)
    for row in figures:
        for index, amount in enumerate(row.estimated_steps):
            estimated[index] += amount
        for index, amount in enumerate(row.actual_steps):
            actual[index] += amount
    return tuple(money(amount) for amount in estimated), tuple(money(amount) for amount in actual)
