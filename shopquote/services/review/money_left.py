"""What jobs should have cost, and what price would have left the margin that was quoted.

Jobs by the money that they left, customers and kinds with what to do about them. Begin at `money_left`.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.money_left import judge
from shopquote.services.review.job_figures import MONEY_STEPS, NUMBER_STEPS, JobFigures, money
from shopquote.services.review.job_groups import NO_PARTS
from shopquote.services.review.review_sums import round_steps

_BY_HOURS = tuple(CATEGORIES.index(name) for name in ("labour", "overhead"))
MOST_JOBS_NAMED = 50


@dataclass(frozen=True, slots=True)
class JobLeft:
    """One job: `should_cost` is its cost with the minutes that all jobs tell of such work and no rework.

    `asked` is the price at which what it really cost leaves the margin that was quoted; `left` is that less
    its price.
    """

    number: str
    title: str
    customer: str
    price: Decimal
    cost: Decimal
    should_cost: Decimal
    asked: Decimal

    @property
    def left(self) -> Decimal:
        """Money that the price left on the table; below zero where it brought more than was meant."""
        return self.asked - self.price


@dataclass(frozen=True, slots=True)
class GroupLeft:
    """Jobs of one customer or kind: money left, from `low` to `high` in 8 of 10 cases, and what to do."""

    by: str
    name: str
    jobs: int
    price: Decimal
    left: Decimal
    low: Decimal
    high: Decimal
    advice: str

    @property
    def more_pct(self) -> Decimal:
        """By how much higher prices would have left the margin, in per cent."""
        return (self.left / self.price * 100).quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class MoneyLeft:
    """The jobs that left most, the most first, and customers and kinds, those to raise first."""

    jobs: tuple[JobLeft, ...] = ()
    groups: tuple[GroupLeft, ...] = ()


def money_left(
    figures: Sequence[JobFigures], currency: str, more_minutes: Mapping[str, float], kinds: Mapping[int, str]
) -> MoneyLeft:
    """Judge reviewed jobs; `more_minutes`: by job, logged minutes beyond those that all jobs tell of such.

    `kinds` by job, see `kinds_of_jobs`.
    """
    asked = {
        row.id: round_steps(sum(row.actual_steps) * row.quoted_steps, sum(row.estimated_steps), currency)
        for row in figures
        if row.price_steps > 0 and row.quoted_steps > 0 and sum(row.estimated_steps) > 0
    }
    judged = [row for row in figures if row.id in asked]
    most = sorted(judged, key=lambda row: (row.price_steps - asked[row.id], row.number))[:MOST_JOBS_NAMED]
    jobs = tuple(
        JobLeft(
            row.number, row.title, row.customer, row.price, row.cost_actual,
            money(_should_cost(row, more_minutes.get(row.number, 0.0), currency)), money(asked[row.id]),
        )
        for row in most
    )  # fmt: skip
    rows: dict[tuple[str, str], list[JobFigures]] = {}
    for row in judged:
        rows.setdefault(("customer", row.customer), []).append(row)
        rows.setdefault(("kind", kinds.get(row.id, NO_PARTS)), []).append(row)
    groups = [_group(by, name, held, asked) for (by, name), held in rows.items()]
    groups.sort(key=lambda group: (group.by, -group.low, group.name))
    return MoneyLeft(jobs, tuple(groups))


def _should_cost(row: JobFigures, more: float, currency: str) -> int:
    """The job's cost in stored steps without its own luck: rework, and minutes beyond the usual."""
    by_hours = sum(row.actual_steps[index] for index in _BY_HOURS)
    if not row.minutes_actual_steps:
        return sum(row.actual_steps)
    over = min(round(more * NUMBER_STEPS) + row.minutes_rework_steps, row.minutes_actual_steps)
    return sum(row.actual_steps) - round_steps(by_hours * over, row.minutes_actual_steps, currency)


def _group(by: str, name: str, rows: Sequence[JobFigures], asked: Mapping[int, int]) -> GroupLeft:
    left = [asked[row.id] - row.price_steps for row in rows]
    told = judge(
        [row.price_steps / MONEY_STEPS for row in rows],
        [amount / MONEY_STEPS for amount in left],
        [row.margin_steps / MONEY_STEPS for row in rows],
    )
    low, high = (money(round(end) * MONEY_STEPS) for end in (told.low, told.high))
    return GroupLeft(
        by,
        name,
        len(rows),
        money(sum(row.price_steps for row in rows)),
        money(sum(left)),
        low,
        high,
        told.advice,
    )
