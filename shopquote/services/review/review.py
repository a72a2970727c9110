"""What many finished jobs earned, by group, and how often quotes are won.

Only reads; the caller opens a reading session.
"""

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.variance import CONTINGENCY
from shopquote.errors import NotFoundError, nearest_word
from shopquote.reading.kinds import word_typed
from shopquote.records.people import Customer
from shopquote.services.jobs.job_states import state_of_job
from shopquote.services.jobs.jobs import find_job
from shopquote.services.review.bottleneck import Bottleneck, find_bottleneck
from shopquote.services.review.gaps import closed_gaps
from shopquote.services.review.job_figures import JobFigures, OperationSum, money, sum_all
from shopquote.services.review.job_groups import Group, group_jobs, kinds_of_jobs
from shopquote.services.review.review_sums import job_figures
from shopquote.services.review.selection import Filters, ids_of
from shopquote.services.review.win_rates import WinRate, count_win_rates
from shopquote.services.shop.shop_on_file import name_on_file, shop_currency

GROUPINGS = ("customer", "kind", "size", "operation", "quantity", "month")


@dataclass(frozen=True, slots=True)
class ManyReview:
    """Many jobs: one row each, their sum, groups, win rates and the bottleneck."""

    currency: str
    jobs: tuple[JobFigures, ...]
    total: Group
    estimated: tuple[Decimal, ...]
    actual: tuple[Decimal, ...]
    operations: tuple[OperationSum, ...]
    bottleneck: Bottleneck | None
    groups: Mapping[str, tuple[Group, ...]] = field(default_factory=dict)
    win_rates: tuple[WinRate, ...] = ()
    # Kind of each job on file, by id; read once, for this review and whatever is shown with it.
    kinds: Mapping[int, str] = field(default_factory=dict)

    @property
    def gaps(self) -> tuple[int, Decimal]:
        """Number of jobs with costs as quoted because nobody logged them, and the most these are in all."""
        return sum(row.gap_steps != 0 for row in self.jobs), self.total.gap

    @property
    def contingency_not_spent(self) -> tuple[int, Decimal]:
        """Number of jobs whose contingency counts as not spent, and how much that is in all."""
        place = CATEGORIES.index(CONTINGENCY)
        left = [more for row in self.jobs if (more := row.estimated_steps[place] - row.actual_steps[place])]
        return len(left), money(sum(left))

    @property
    def minutes_assumed(self) -> Decimal:
        """Minutes that count as quoted because nobody logged any."""
        return sum((row.minutes_assumed for row in self.operations), Decimal(0))

    @property
    def to_invoice(self) -> Decimal:
        """What was earned and is not invoiced yet."""
        return self.total.to_invoice

    @property
    def ranges_held(self) -> tuple[int, int]:
        """Number of jobs whose cost fell into their quote's 8-in-10 range, and of jobs that had one."""
        held = [inside for row in self.jobs if (inside := row.held_its_range) is not None]
        return sum(held), len(held)


def review_many(
    session: Session,
    filters: Filters,
    *,
    by: Sequence[str] = (),
    bottleneck: str | None = None,
    win_rates: bool = True,
    today: date | None = None,
) -> ManyReview:
    """Review all jobs that pass the filters.

    Args:
        session: reading is enough.
        filters: which jobs.
        by: groupings wanted, of GROUPINGS.
        bottleneck: the operation that limits the shop; None: the one with most minutes.
        win_rates: count won and lost quotes by margin.
        today: day on which invoices are overdue; None: none is.

    Raises:
        NotFoundError: a job or customer is not on file.
        InputError: an unknown state or grouping.
    """
    by = tuple(word_typed("Grouping", GROUPINGS, word) for word in by)
    filters = checked_filters(session, filters)
    currency = shop_currency(session)
    assumed = closed_gaps(session, ids_of(filters))
    figures, operations = job_figures(session, filters, currency, today=today, assumed=assumed)
    total = Group("all")
    for row in figures:
        total.add(row)
    estimated, actual = sum_all(figures)
    kinds = kinds_of_jobs(session)
    groups = {name: group_jobs(session, figures, name, kinds=kinds) for name in by if name != "operation"}
    return ManyReview(
        currency, tuple(figures), total, estimated, actual, tuple(operations),
        find_bottleneck(session, filters, figures, operations, bottleneck, kinds, assumed), groups,
        count_win_rates(session, filters) if win_rates else (), kinds,
    )  # fmt: skip


def checked_filters(session: Session, filters: Filters) -> Filters:
    """The filters with states, customer's name and job numbers as on file.

    Raises:
        NotFoundError: a job or customer is not on file.
        InputError: an unknown state.
    """
    states = tuple(map(state_of_job, filters.states))
    if filters.customer is not None:
        customer = name_on_file(session, Customer.name, filters.customer)
        if customer is None:
            names = session.scalars(select(Customer.name)).all()
            nearest = nearest_word(filters.customer, names)
            hint = f"Did you mean {nearest!r}?" if nearest else "See: shopquote customers list"
            raise NotFoundError(f"Customer {filters.customer!r} is not on file.", hint=hint)
        filters = replace(filters, customer=customer)
    return replace(
        filters, states=states, jobs=tuple(find_job(session, number).number for number in filters.jobs)
    )
