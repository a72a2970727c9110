"""Sums over many jobs, added up by the database: one row a job comes back, never one an entry.

Amounts inside are whole numbers in the columns' own steps (money in 1/10 000,
minutes in 1/1 000 000), so that nothing is rounded on the way; they leave as
Decimal. Begin at `job_figures`.

A category on which nothing was logged is taken as quoted and named in `assumed`;
consumables are not measured and always taken as quoted; overhead follows the
minutes worked. Closed jobs bring the figures that were fixed when they were closed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Integer,
    String,
    Subquery,
    and_,
    case,
    cast,
    exists,
    func,
    literal,
    null,
    select,
    text,
    type_coerce,
    union_all,
)
from sqlalchemy.orm import Session

from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.answers import CATEGORIES
from shopquote.records.closings import Closing, ClosingLine
from shopquote.records.jobs import Job, JobRevision, StateChange
from shopquote.records.logs import BarUse, BoughtUse, Invoice, OutsideBill, TimeEntry
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote, QuoteCost, QuoteMinutes

MONEY_STEPS = 10_000
NUMBER_STEPS = 1_000_000
REVIEWED_STATES = ("finished", "closed")
_NO_JOB, _NO_TEXT = cast(null(), Integer), cast(null(), String)
_PAID = tuple(index for index, name in enumerate(CATEGORIES) if name not in ("labour", "overhead"))


@dataclass(frozen=True, slots=True)
class Filters:
    """Which jobs to review: by number, day done (both ends counted), state and customer."""

    jobs: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    states: tuple[str, ...] = REVIEWED_STATES
    customer: str | None = None


@dataclass(slots=True)
class JobFigures:
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

    @property
    def held_its_range(self) -> bool | None:
        """Whether the actual cost fell inside the 8-in-10 range about the quoted one; None if not stated.

        1.2816 standard deviations of a normal hold 80 %; a job without logged minutes tells nothing.
        """
        if self.spread_steps is None or "labour" in self.assumed:
            return None
        estimated, actual = sum(self.estimated_steps), sum(self.actual_steps)
        return abs(actual - estimated) * 100 * NUMBER_STEPS <= 1.2816 * self.spread_steps * estimated

    @property
    def quoted(self) -> Decimal:
        """Net price of the quote."""
        return money(self.quoted_steps)

    @property
    def price(self) -> Decimal:
        """What was invoiced less credits; the quoted price where nothing was."""
        return money(self.price_steps)

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
    def minutes_estimated(self) -> Decimal:
        """Minutes in the quote."""
        return minutes(self.minutes_estimated_steps)

    @property
    def minutes_actual(self) -> Decimal:
        """Minutes logged, rework included."""
        return minutes(self.minutes_actual_steps)

    @property
    def contribution_steps(self) -> int:
        """Price less what was paid for this job alone: all but labour and overhead."""
        return self.price_steps - sum(self.actual_steps[index] for index in _PAID)


@dataclass(frozen=True, slots=True)
class OperationSum:
    """All logged minutes of one operation over the jobs picked, with what the quotes said."""

    operation: str
    minutes_estimated: Decimal
    minutes_actual: Decimal
    minutes_rework: Decimal
    estimated: Decimal
    actual: Decimal
    jobs: int


def steps(expression: Any) -> ColumnElement[int]:
    """A money, number or length sum as the whole number that it is stored as, on every database."""
    return cast(type_coerce(expression, BigInteger), BigInteger)


def money(amount: int | None) -> Decimal:
    """Stored steps as an amount."""
    return Decimal(amount or 0).scaleb(-4)


def minutes(amount: int | None) -> Decimal:
    """Stored steps as minutes."""
    return Decimal(amount or 0).scaleb(-6)


def chosen_quotes() -> Subquery:
    """One quote a job: the accepted one, else the newest that was sent, else the newest."""
    order = case((Quote.state == "accepted", 0), (Quote.state == "sent", 1), else_=2)
    ranked = select(
        Quote.id.label("quote_id"),
        Quote.job_id,
        Quote.job_revision_id,
        Quote.net,
        Quote.cost,
        Quote.margin_pct,
        Quote.spread_pct,
        Quote.issued_on,
        func.row_number()
        .over(partition_by=Quote.job_id, order_by=(order, Quote.revision.desc()))
        .label("place"),
    ).subquery()
    return select(ranked).where(ranked.c.place == 1).subquery("chosen")


def open_closings() -> Subquery:
    """The closing that stands of each closed job."""
    return select(Closing).where(Closing.reopened_on.is_(None)).subquery("standing")


def done_on(standing: Subquery) -> ColumnElement[str]:
    """The day a job was done, in ISO form: closed, else finished, else made."""
    finished = (
        select(func.max(type_coerce(StateChange.at, String)))
        .where(StateChange.job_id == Job.id, StateChange.to_state == "finished")
        .correlate(Job)
        .scalar_subquery()
    )
    closed = cast(standing.c.closed_on, String)
    return func.coalesce(closed, func.substr(finished, 1, 10), cast(Job.created_on, String))


def selected_jobs(filters: Filters) -> Any:
    """Ids of the jobs that pass the filters, with the day they were done."""
    standing = open_closings()
    day = done_on(standing)
    query: Any = select(Job.id, day.label("done_on")).outerjoin(
        standing, and_(standing.c.job_id == Job.id, Job.state == "closed")
    )
    if filters.jobs:
        query = query.where(Job.number.in_(filters.jobs))
    else:
        query = query.where(Job.state.in_(filters.states))
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(func.lower(Customer.name) == filters.customer.strip().lower())
    if filters.since is not None:
        query = query.where(day >= filters.since.isoformat())
    if filters.until is not None:
        query = query.where(day <= filters.until.isoformat())
    return query


def _ids(filters: Filters) -> Any:
    """Ids of the jobs picked; the days they were done are only worked out where a filter asks."""
    if filters.since is not None or filters.until is not None or filters.customer is not None:
        return select(selected_jobs(filters).subquery().c.id)
    query: Any = select(Job.id)
    if filters.jobs:
        return query.where(Job.number.in_(filters.jobs))
    return query.where(Job.state.in_(filters.states))


def job_figures(
    session: Session, filters: Filters, currency: str
) -> tuple[list[JobFigures], list[OperationSum]]:
    """Figures of all jobs that pass the filters, by day done and number; and their operations.

    Each table of entries is read once: grouped by job and operation, then summed both ways.
    """
    _room_to_add_up(session)
    heads = _heads(session, selected_jobs(filters).cte("picked"))
    ids = _ids(filters)
    estimates = _estimates(session, ids)
    quoted_minutes, quoted_operations = _quoted_minutes(session, ids)
    closed = _closed_lines(session, ids)
    worked, worked_operations = _worked(session, ids)
    spent = {
        "material": _per_job(session, ids, BarUse, func.sum(BarUse.cost - BarUse.credit)),
        "bought": _per_job(session, ids, BoughtUse, func.sum(BoughtUse.cost)),
        "outside": _per_job(session, ids, OutsideBill, func.sum(OutsideBill.amount)),
    }
    signed = case((Invoice.kind == "credit", -Invoice.amount), else_=Invoice.amount)
    invoiced = _per_job(session, ids, Invoice, func.sum(signed))
    nothing = (0,) * len(CATEGORIES)
    rows = []
    for head in heads:
        key = head.id
        if head.closing_id is not None and key in closed:
            rows.append(_closed_figures(head, closed[key], worked.get(key)))
            continue
        logged = tuple(spent[name].get(key) if name in spent else None for name in CATEGORIES)
        rows.append(
            _live_figures(
                head, estimates.get(key, nothing), quoted_minutes.get(key, 0), worked.get(key), logged,
                invoiced.get(key), currency,
            )
        )  # fmt: skip
    return rows, _operations(quoted_operations, worked_operations)


def _room_to_add_up(session: Session) -> None:
    """Let PostgreSQL hold the groups in memory: its usual 4 MB spills them to disk."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SET LOCAL work_mem = '64MB'"))


def _heads(session: Session, picked: Any) -> Sequence[Any]:
    chosen, standing = chosen_quotes(), open_closings()
    query = (
        select(
            Job.id, Job.number, JobRevision.title, Customer.name.label("customer"), Job.state,
            picked.c.done_on, JobRevision.sets, chosen.c.quote_id, standing.c.id.label("closing_id"),
            steps(chosen.c.net).label("net"), steps(standing.c.price).label("price"),
            steps(chosen.c.spread_pct).label("spread"),
        )
        .join(picked, picked.c.id == Job.id)
        .join(Customer, Customer.id == Job.customer_id)
        .join(JobRevision, and_(JobRevision.job_id == Job.id, JobRevision.revision == Job.revision))
        .outerjoin(chosen, chosen.c.job_id == Job.id)
        .outerjoin(standing, and_(standing.c.job_id == Job.id, Job.state == "closed"))
        .order_by(picked.c.done_on, Job.number)
    )  # fmt: skip
    return session.execute(query).all()


def _estimates(session: Session, ids: Any) -> dict[int, tuple[int, ...]]:
    """Estimated cost by category, one row a job."""
    chosen = chosen_quotes()
    zero = literal(0, BigInteger)
    columns = [
        steps(
            func.sum(
                case((QuoteCost.category == name, type_coerce(QuoteCost.amount, BigInteger)), else_=zero)
            )
        )
        for name in CATEGORIES
    ]
    query = (
        select(chosen.c.job_id, *columns)
        .join(chosen, chosen.c.quote_id == QuoteCost.quote_id)
        .where(chosen.c.job_id.in_(ids))
        .group_by(chosen.c.job_id)
    )
    return {row[0]: tuple(row[1:]) for row in session.execute(query)}


def _quoted_minutes(session: Session, ids: Any) -> tuple[dict[int, int], dict[str, tuple[int, int]]]:
    """Estimated minutes by job; minutes and labour by operation."""
    chosen = chosen_quotes()
    grouped = (
        select(
            chosen.c.job_id,
            QuoteMinutes.operation,
            steps(func.sum(QuoteMinutes.minutes)).label("spent"),
            steps(func.sum(QuoteMinutes.cost)).label("cost"),
        )
        .join(chosen, chosen.c.quote_id == QuoteMinutes.quote_id)
        .where(chosen.c.job_id.in_(ids))
        .group_by(chosen.c.job_id, QuoteMinutes.operation)
        .cte("grouped")
    )
    spent, cost = func.sum(grouped.c.spent), func.sum(grouped.c.cost)
    both = union_all(
        select(grouped.c.job_id, _NO_TEXT, cast(spent, BigInteger), cast(cost, BigInteger)).group_by(
            grouped.c.job_id
        ),
        select(_NO_JOB, grouped.c.operation, cast(spent, BigInteger), cast(cost, BigInteger)).group_by(
            grouped.c.operation
        ),
    )
    by_job: dict[int, int] = {}
    by_operation: dict[str, tuple[int, int]] = {}
    for job_id, operation, total, amount in session.execute(both):
        if job_id is not None:
            by_job[job_id] = total
        else:
            by_operation[operation] = (total, amount)
    return by_job, by_operation


def _closed_lines(session: Session, ids: Any) -> dict[int, dict[str, tuple[int, int, int, int]]]:
    standing = open_closings()
    query = (
        select(
            standing.c.job_id, ClosingLine.category,
            steps(func.sum(ClosingLine.estimated)), steps(func.sum(ClosingLine.actual)),
            steps(func.sum(ClosingLine.minutes_estimated)), steps(func.sum(ClosingLine.minutes_actual)),
        )
        .join(standing, standing.c.id == ClosingLine.closing_id)
        .where(standing.c.job_id.in_(ids))
        .group_by(standing.c.job_id, ClosingLine.category)
    )  # fmt: skip
    lines: dict[int, dict[str, tuple[int, int, int, int]]] = {}
    for job_id, category, *amounts in session.execute(query):
        lines.setdefault(job_id, {})[category] = tuple(amounts)
    return lines


def _worked(
    session: Session, ids: Any
) -> tuple[dict[int, tuple[int, int, int]], dict[str, tuple[int, int, int, int]]]:
    """Minutes, cost and rework minutes by job, and by operation with its number of jobs, from the entries."""
    grouped = (
        select(
            TimeEntry.job_id,
            TimeEntry.operation,
            TimeEntry.kind,
            steps(func.sum(TimeEntry.minutes)).label("spent"),
            steps(func.sum(TimeEntry.cost)).label("cost"),
        )
        .where(TimeEntry.job_id.in_(ids))
        .group_by(TimeEntry.job_id, TimeEntry.operation, TimeEntry.kind)
        .cte("grouped")
    )
    again = case((grouped.c.kind == "rework", grouped.c.spent), else_=literal(0, BigInteger))
    sums = [cast(func.sum(value), BigInteger) for value in (grouped.c.spent, grouped.c.cost, again)]
    # Each job is in a group of an operation once by kind, so its work tells the jobs without sorting them.
    jobs_of = func.sum(case((grouped.c.kind == "work", 1), else_=0))
    both = union_all(
        select(grouped.c.job_id, _NO_TEXT, *sums, literal(1)).group_by(grouped.c.job_id),
        select(_NO_JOB, grouped.c.operation, *sums, jobs_of).group_by(grouped.c.operation),
    )
    by_job: dict[int, tuple[int, int, int]] = {}
    by_operation: dict[str, tuple[int, int, int, int]] = {}
    for job_id, operation, spent, cost, rework, jobs in session.execute(both):
        if job_id is not None:
            by_job[job_id] = (spent, cost, rework)
        else:
            by_operation[operation] = (spent, cost, rework, jobs)
    return by_job, by_operation


def jobs_at(session: Session, filters: Filters, operation: str) -> frozenset[int]:
    """Ids of the jobs picked that have logged minutes of an operation."""
    worked = exists().where(
        TimeEntry.job_id == Job.id, TimeEntry.operation == operation, TimeEntry.minutes > Decimal(0)
    )
    return frozenset(session.scalars(select(Job.id).where(Job.id.in_(_ids(filters)), worked)))


def _per_job(session: Session, ids: Any, table: Any, amount: Any) -> dict[int, int]:
    query = select(table.job_id, steps(amount)).where(table.job_id.in_(ids)).group_by(table.job_id)
    return {key: value for key, value in session.execute(query)}


def _closed_figures(
    head: Any, lines: dict[str, tuple[int, int, int, int]], worked: tuple[int, int, int] | None
) -> JobFigures:
    nothing = (0, 0, 0, 0)
    parts = [lines.get(name, nothing) for name in CATEGORIES]
    return JobFigures(
        head.id,
        head.number,
        head.title,
        head.customer,
        head.state,
        head.done_on,
        head.sets,
        True,
        head.net or 0,
        head.price,
        tuple(part[0] for part in parts),
        tuple(part[1] for part in parts),
        sum(part[2] for part in parts),
        sum(part[3] for part in parts),
        worked[2] if worked else 0,
        (),
        head.spread,
    )


def _live_figures(
    head: Any,
    estimated: tuple[int, ...],
    minutes_estimated: int,
    worked: tuple[int, int, int] | None,
    logged: tuple[int | None, ...],
    invoiced: int | None,
    currency: str,
) -> JobFigures:
    minutes_actual = worked[0] if worked is not None else 0
    actual = []
    assumed = []
    for name, quoted, spent in zip(CATEGORIES, estimated, logged, strict=True):
        if name == "labour" and worked is not None and minutes_actual:
            actual.append(worked[1])
        elif name == "overhead" and minutes_actual and minutes_estimated:
            actual.append(round_steps(quoted * minutes_actual, minutes_estimated, currency))
        elif spent is not None:
            actual.append(spent)
        else:
            actual.append(quoted)
            if quoted:
                assumed.append(name)
    net = head.net or 0
    return JobFigures(
        head.id, head.number, head.title, head.customer, head.state, head.done_on, head.sets,
        invoiced is not None, net, net if invoiced is None else invoiced, estimated, tuple(actual),
        minutes_estimated, minutes_actual, worked[2] if worked else 0, tuple(assumed), head.spread,
    )  # fmt: skip


def round_steps(numerator: int, denominator: int, currency: str) -> int:
    """A quotient of whole money steps, rounded half up to the currency's digits, in money steps.

    >>> round_steps(10_050, 2, "EUR")
    5000
    """
    unit: int = MONEY_STEPS // 10 ** currency_digits(currency)
    return (2 * numerator + denominator * unit) // (2 * denominator * unit) * unit


def _operations(
    quoted: Mapping[str, tuple[int, int]], worked: Mapping[str, tuple[int, int, int, int]]
) -> list[OperationSum]:
    """The operations of quotes and entries together, the most worked first."""
    rows = []
    for operation in quoted.keys() | worked.keys():
        planned, estimated = quoted.get(operation, (0, 0))
        spent, cost, rework, jobs = worked.get(operation, (0, 0, 0, 0))
        rows.append(
            OperationSum(
                operation,
                minutes(planned),
                minutes(spent),
                minutes(rework),
                money(estimated),
                money(cost),
                jobs,
            )
        )
    return sorted(rows, key=lambda row: (-row.minutes_actual, row.operation))


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
