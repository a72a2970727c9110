"""What jobs should have cost, and which price would have left the quoted margin.

For jobs, and for customers and kinds of work with advice. Begin at `money_left`.
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
    """One job; `should_cost` is its cost with usual minutes and no rework.

    `asked` is the price at which its actual cost leaves the quoted margin.
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
        """How much the price was too low; negative if it brought more than the quoted margin."""
        return self.asked - self.price


@dataclass(frozen=True, slots=True)
class GroupLeft:
    """Jobs of one customer or kind: money left, from `low` to `high` in 8 of 10 cases, with advice."""

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
        """By how much prices would have to be higher for the quoted margin, in per cent."""
        return (self.left / self.price * 100).quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class MoneyLeft:
    """Jobs by money left, most first; and customers and kinds, those whose prices should rise first."""

    jobs: tuple[JobLeft, ...] = ()
    groups: tuple[GroupLeft, ...] = ()


def money_left(
    figures: Sequence[JobFigures], currency: str, more_minutes: Mapping[str, float], kinds: Mapping[int, str]
) -> MoneyLeft:
    """Judge reviewed jobs.

    Args:
        figures: the jobs.
        currency: to round to.
        more_minutes: minutes beyond those expected by learned standards, by job number.
        kinds: kind of each job by id, see `kinds_of_jobs`.
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
    """Cost of a job in stored steps, without rework and minutes beyond the usual."""
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
