"""Sums over many jobs, added up by the database: one row a job comes back, never one an entry.

Amounts inside are whole numbers in the columns' own steps (money in 1/10 000,
minutes in 1/1 000 000), so that nothing is rounded on the way; they leave as
Decimal. Begin at `job_figures`.

A category on which nothing was logged is taken as quoted and named in `assumed`;
consumables are not measured and always taken as quoted; overhead follows the
minutes worked. Closed jobs bring the figures that were fixed when they were closed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    String,
    Subquery,
    and_,
    case,
    cast,
    func,
    literal,
    select,
    type_coerce,
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
# Logged actuals that replace the estimate, once there are any.
MEASURED = ("material", "labour", "bought", "outside")


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
    """One job's figures; `estimated` and `actual` by category in the order of CATEGORIES."""

    id: int
    number: str
    title: str
    customer: str
    state: str
    done_on: str
    sets: int
    quote_id: int | None
    closing_id: int | None
    quoted: Decimal
    price: Decimal
    invoiced: bool
    estimated: tuple[Decimal, ...]
    actual: tuple[Decimal, ...]
    minutes_estimated: Decimal
    minutes_actual: Decimal
    minutes_rework: Decimal
    assumed: tuple[str, ...]

    @property
    def cost_estimated(self) -> Decimal:
        """Estimated cost, all categories."""
        return sum(self.estimated, Decimal(0))

    @property
    def cost_actual(self) -> Decimal:
        """Actual cost, all categories."""
        return sum(self.actual, Decimal(0))

    @property
    def contribution(self) -> Decimal:
        """Price less what was paid for this job alone: all but labour and overhead."""
        paid = (
            amount
            for name, amount in zip(CATEGORIES, self.actual, strict=True)
            if name not in ("labour", "overhead")
        )
        return self.price - sum(paid, Decimal(0))


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


def job_figures(session: Session, filters: Filters, currency: str) -> list[JobFigures]:
    """Figures of all jobs that pass the filters, by day done and number."""
    picked = selected_jobs(filters).cte("picked")
    heads = _heads(session, picked)
    est, est_minutes = _estimates(session, picked)
    closed = _closed_lines(session, picked)
    worked = _worked(session, picked)
    spent = {
        "material": _per_job(session, picked, BarUse, func.sum(BarUse.cost - BarUse.credit)),
        "bought": _per_job(session, picked, BoughtUse, func.sum(BoughtUse.cost)),
        "outside": _per_job(session, picked, OutsideBill, func.sum(OutsideBill.amount)),
    }
    signed = case((Invoice.kind == "credit", -Invoice.amount), else_=Invoice.amount)
    invoiced = _per_job(session, picked, Invoice, func.sum(signed))
    rows = []
    for head in heads:
        if head.closing_id is not None and head.id in closed:
            rows.append(_closed_figures(head, closed[head.id], worked.get(head.id)))
        else:
            rows.append(
                _live_figures(
                    head, est.get(head.id, {}), est_minutes.get(head.id, 0), worked.get(head.id),
                    {name: sums.get(head.id) for name, sums in spent.items()}, invoiced.get(head.id),
                    currency,
                )
            )  # fmt: skip
    return rows


def _heads(session: Session, picked: Any) -> Sequence[Any]:
    chosen, standing = chosen_quotes(), open_closings()
    query = (
        select(
            Job.id, Job.number, JobRevision.title, Customer.name.label("customer"), Job.state,
            picked.c.done_on, JobRevision.sets, chosen.c.quote_id, standing.c.id.label("closing_id"),
            steps(chosen.c.net).label("net"), steps(standing.c.price).label("price"),
        )
        .join(picked, picked.c.id == Job.id)
        .join(Customer, Customer.id == Job.customer_id)
        .join(JobRevision, and_(JobRevision.job_id == Job.id, JobRevision.revision == Job.revision))
        .outerjoin(chosen, chosen.c.job_id == Job.id)
        .outerjoin(standing, and_(standing.c.job_id == Job.id, Job.state == "closed"))
        .order_by(picked.c.done_on, Job.number)
    )  # fmt: skip
    return session.execute(query).all()


def _estimates(session: Session, picked: Any) -> tuple[dict[int, dict[str, int]], dict[int, int]]:
    chosen = chosen_quotes()
    costs: dict[int, dict[str, int]] = {}
    query = (
        select(chosen.c.job_id, QuoteCost.category, steps(QuoteCost.amount))
        .join(chosen, chosen.c.quote_id == QuoteCost.quote_id)
        .join(picked, picked.c.id == chosen.c.job_id)
    )
    for job_id, category, amount in session.execute(query):
        costs.setdefault(job_id, {})[category] = amount
    total = (
        select(chosen.c.job_id, steps(func.sum(QuoteMinutes.minutes)))
        .join(chosen, chosen.c.quote_id == QuoteMinutes.quote_id)
        .join(picked, picked.c.id == chosen.c.job_id)
        .group_by(chosen.c.job_id)
    )
    return costs, {key: cost for key, cost in session.execute(total)}


def _closed_lines(session: Session, picked: Any) -> dict[int, dict[str, tuple[int, int, int, int]]]:
    standing = open_closings()
    query = (
        select(
            standing.c.job_id, ClosingLine.category,
            steps(func.sum(ClosingLine.estimated)), steps(func.sum(ClosingLine.actual)),
            steps(func.sum(ClosingLine.minutes_estimated)), steps(func.sum(ClosingLine.minutes_actual)),
        )
        .join(standing, standing.c.id == ClosingLine.closing_id)
        .join(picked, picked.c.id == standing.c.job_id)
        .group_by(standing.c.job_id, ClosingLine.category)
    )  # fmt: skip
    lines: dict[int, dict[str, tuple[int, int, int, int]]] = {}
    for job_id, category, *amounts in session.execute(query):
        lines.setdefault(job_id, {})[category] = tuple(amounts)
    return lines


def _worked(session: Session, picked: Any) -> dict[int, tuple[int, int, int]]:
    """Minutes, cost and rework minutes by job, from the entries."""
    rework = case((TimeEntry.kind == "rework", TimeEntry.minutes), else_=literal(0, BigInteger))
    query = (
        select(
            TimeEntry.job_id,
            steps(func.sum(TimeEntry.minutes)),
            steps(func.sum(TimeEntry.cost)),
            steps(func.sum(type_coerce(rework, BigInteger))),
        )
        .where(TimeEntry.job_id.in_(select(picked.c.id)))
        .group_by(TimeEntry.job_id)
    )
    return {job_id: (spent, cost, again) for job_id, spent, cost, again in session.execute(query)}


def _per_job(session: Session, picked: Any, table: Any, amount: Any) -> dict[int, int]:
    query = (
        select(table.job_id, steps(amount))
        .where(table.job_id.in_(select(picked.c.id)))
        .group_by(table.job_id)
    )
    return {key: value for key, value in session.execute(query)}


def _closed_figures(
    head: Any, lines: dict[str, tuple[int, int, int, int]], worked: tuple[int, int, int] | None
) -> JobFigures:
    nothing = (0, 0, 0, 0)
    parts = [lines.get(name, nothing) for name in CATEGORIES]
    return JobFigures(
        head.id, head.number, head.title, head.customer, head.state, head.done_on, head.sets, head.quote_id,
        head.closing_id, money(head.net), money(head.price), True,
        tuple(money(part[0]) for part in parts), tuple(money(part[1]) for part in parts),
        minutes(sum(part[2] for part in parts)), minutes(sum(part[3] for part in parts)),
        minutes(worked[2] if worked else 0), (),
    )  # fmt: skip


def _live_figures(
    head: Any,
    estimated: dict[str, int],
    minutes_estimated: int,
    worked: tuple[int, int, int] | None,
    spent: dict[str, int | None],
    invoiced: int | None,
    currency: str,
) -> JobFigures:
    spent = {**spent, "labour": worked[1] if worked is not None and worked[0] > 0 else None}
    minutes_actual = worked[0] if worked is not None else 0
    actual = []
    assumed = []
    for name in CATEGORIES:
        quoted = estimated.get(name, 0)
        logged = spent.get(name)
        if name == "overhead" and minutes_actual and minutes_estimated:
            actual.append(round_steps(quoted * minutes_actual, minutes_estimated, currency))
        elif logged is not None:
            actual.append(logged)
        else:
            actual.append(quoted)
            if quoted:
                assumed.append(name)
    return JobFigures(
        head.id, head.number, head.title, head.customer, head.state, head.done_on, head.sets, head.quote_id,
        head.closing_id, money(head.net), money(invoiced if invoiced is not None else head.net),
        invoiced is not None, tuple(money(estimated.get(name, 0)) for name in CATEGORIES),
        tuple(money(amount) for amount in actual), minutes(minutes_estimated), minutes(minutes_actual),
        minutes(worked[2] if worked else 0), tuple(assumed),
    )  # fmt: skip


def round_steps(numerator: int, denominator: int, currency: str) -> int:
    """A quotient of whole money steps, rounded half up to the currency's digits, in money steps.

    >>> round_steps(10_050, 2, "EUR")
    5000
    """
    unit: int = MONEY_STEPS // 10 ** currency_digits(currency)
    return (2 * numerator + denominator * unit) // (2 * denominator * unit) * unit


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


def operation_sums(session: Session, filters: Filters) -> list[OperationSum]:
    """Minutes and labour by operation, the most worked first; all from the entries themselves."""
    picked = selected_jobs(filters).cte("picked")
    chosen = chosen_quotes()
    quoted: dict[str, tuple[int, int]] = {}
    query = (
        select(
            QuoteMinutes.operation,
            steps(func.sum(QuoteMinutes.minutes)),
            steps(func.sum(QuoteMinutes.cost)),
        )
        .join(chosen, chosen.c.quote_id == QuoteMinutes.quote_id)
        .where(chosen.c.job_id.in_(select(picked.c.id)))
        .group_by(QuoteMinutes.operation)
    )
    for operation, spent, cost in session.execute(query):
        quoted[operation] = (spent, cost)
    logged: dict[str, list[int]] = {}
    entries = (
        select(
            TimeEntry.operation, TimeEntry.kind, steps(func.sum(TimeEntry.minutes)),
            steps(func.sum(TimeEntry.cost)), func.count(func.distinct(TimeEntry.job_id)),
        )
        .where(TimeEntry.job_id.in_(select(picked.c.id)))
        .group_by(TimeEntry.operation, TimeEntry.kind)
    )  # fmt: skip
    for operation, kind, spent, cost, jobs in session.execute(entries):
        row = logged.setdefault(operation, [0, 0, 0, 0])
        row[0] += spent
        row[1] += cost
        row[2] += spent if kind == "rework" else 0
        row[3] = max(row[3], jobs)
    rows = [
        OperationSum(
            operation,
            minutes(quoted.get(operation, (0, 0))[0]),
            minutes(logged.get(operation, [0, 0, 0, 0])[0]),
            minutes(logged.get(operation, [0, 0, 0, 0])[2]),
            money(quoted.get(operation, (0, 0))[1]),
            money(logged.get(operation, [0, 0, 0, 0])[1]),
            logged.get(operation, [0, 0, 0, 0])[3],
        )
        for operation in quoted.keys() | logged.keys()
    ]
    return sorted(rows, key=lambda row: (-row.minutes_actual, row.operation))


def sum_all(figures: Iterable[JobFigures]) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Estimated and actual by category over many jobs."""
    estimated = [Decimal(0)] * len(CATEGORIES)
    actual = [Decimal(0)] * len(CATEGORIES)
    for row in figures:
        for index in range(len(CATEGORIES)):
            estimated[index] += row.estimated[index]
            actual[index] += row.actual[index]
    return tuple(estimated), tuple(actual)
