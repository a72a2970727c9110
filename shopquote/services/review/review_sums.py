"""Sums over many jobs, computed by the database: it returns one row per job, never one per entry.

Amounts are whole numbers in the columns' own steps (money in 1/10 000, minutes in 1/1 000 000), so that
nothing is rounded on the way; they are returned as Decimal. Begin at `job_figures`.

What a quote plans and nobody logged counts as quoted and is named in `assumed`. Consumables are never logged
and always count as quoted; overhead follows the minutes worked. Closed jobs have the figures of their
closing.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from sqlalchemy import BigInteger, ColumnElement, and_, case, func, literal, select, text, type_coerce
from sqlalchemy.orm import Session

from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.priced_quote import CATEGORIES, NEVER_MISSED
from shopquote.records.closings import ASSUMED_BETWEEN, ClosingLine
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.logs import BoughtUse, MinuteSum, OutsideBill
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote, QuoteCost, QuoteOperation
from shopquote.records.rack import BarUse
from shopquote.services.jobs.money_in import MoneyIn, money_in
from shopquote.services.quotes.counted import quote_of_job
from shopquote.services.review.gaps import ClosedGap, Gaps, closed_gaps, gaps_of
from shopquote.services.review.job_figures import MONEY_STEPS, JobFigures, OperationSum, minutes, money, steps
from shopquote.services.review.missing import DELIVERIES
from shopquote.services.review.selection import Filters, ids_of, open_closings, selected_jobs

Amount = TypeVar("Amount", int, Decimal)
_ZERO = literal(0, BigInteger)
_NOTHING = (0,) * len(CATEGORIES)
_UNWORKED = (0, 0, 0)
_NO_GAPS = Gaps()
_NO_MONEY = MoneyIn()
_DELIVERIES = f"material: {DELIVERIES}"


def job_figures(
    session: Session,
    filters: Filters,
    currency: str,
    *,
    today: date | None = None,
    assumed: Iterable[ClosedGap] | None = None,
) -> tuple[list[JobFigures], list[OperationSum]]:
    """Figures of all jobs that pass the filters, by day done and number; and sums by operation.

    Args:
        session: reading is enough.
        filters: which jobs.
        currency: to round to.
        today: day on which invoices are overdue; None: none is.
        assumed: what `closed_gaps` returns, if it was read before.
    """
    _room_to_add_up(session)
    heads = _heads(session, selected_jobs(filters).cte("picked"))
    ids = ids_of(filters)
    closed = _closed_costs(session, ids)
    worked = _worked(session, ids)
    # The log of a closed job is not added up again: its closing has the sums.
    live = ids_of(filters, but_closed=True)
    estimates = _estimates(session, live)
    quoted_minutes = _quoted_minutes(session, live)
    spent = {
        "material": _per_job(session, live, BarUse, func.sum(BarUse.cost - BarUse.credit)),
        "bought": _per_job(session, live, BoughtUse, func.sum(BoughtUse.cost)),
        "outside": _per_job(session, live, OutsideBill, func.sum(OutsideBill.amount)),
    }
    invoiced = money_in(session, ids, today=today)
    gaps = gaps_of(session, live, currency)
    unlogged: dict[str, tuple[int, int]] = {}

    def as_quoted(operation: str, spent: int, cost: int) -> None:
        held = unlogged.get(operation, (0, 0))
        unlogged[operation] = (held[0] + spent, held[1] + cost)

    # Sums by operation show minutes taken as quoted apart from logged ones, of closed jobs too.
    for _, operation, spent_, cost in closed_gaps(session, ids) if assumed is None else assumed:
        as_quoted(operation, spent_, cost)
    rows = []
    for head in heads:
        key = head.id
        if head.closing_id is not None:
            rows.append(
                _closed_figures(
                    head, closed.get(key, _NOTHING * 2), worked.get(key, _UNWORKED), invoiced.get(key)
                )
            )
            continue
        gap = gaps.get(head.quote_id, _NO_GAPS)
        for operation, (spent_, cost) in gap.operations.items():
            as_quoted(operation, spent_, cost)
        logged = tuple([spent[name].get(key) if name in spent else None for name in CATEGORIES])
        rows.append(
            _live_figures(
                head, estimates.get(head.quote_id, _NOTHING), quoted_minutes.get(head.quote_id, 0),
                worked.get(key, _UNWORKED), logged, invoiced.get(key), gap, currency,
            )
        )  # fmt: skip
    return rows, _operations(_quoted_operations(session, ids), _worked_operations(session, ids), unlogged)


def _rows(session: Session, query: Any) -> Sequence[Any]:
    """Rows as plain tuples: 10,000 of them take half the time of mapped objects."""
    return session.connection().execute(query).all()


def _room_to_add_up(session: Session) -> None:
    """Let PostgreSQL keep the groups in memory: with its default of 4 MB it writes them to disk."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SET LOCAL work_mem = '64MB'"))


def _heads(session: Session, picked: Any) -> Sequence[Any]:
    standing = open_closings()
    query = (
        select(
            Job.id, Job.number, JobRevision.title, Customer.name.label("customer"), Job.state,
            picked.c.done_on, JobRevision.sets, Quote.id.label("quote_id"), standing.c.id.label("closing_id"),
            steps(Quote.net).label("net"), steps(standing.c.price).label("price"),
            steps(standing.c.minutes_estimated).label("minutes_estimated"),
            steps(standing.c.minutes_actual).label("minutes_actual"), standing.c.assumed,
            steps(Quote.spread_pct).label("spread"), steps(Quote.deliveries).label("deliveries"),
        )
        .join(picked, picked.c.id == Job.id)
        .join(Customer, Customer.id == Job.customer_id)
        .join(JobRevision, and_(JobRevision.job_id == Job.id, JobRevision.revision == Job.revision))
        .outerjoin(Quote, Quote.id == quote_of_job())
        .outerjoin(standing, and_(standing.c.job_id == Job.id, Job.state == "closed"))
        .order_by(picked.c.done_on, Job.number)
    )  # fmt: skip
    return _rows(session, query)


def _quotes_of(ids: Any) -> Any:
    """Ids of all quotes of these jobs; the one that counts is picked from them later."""
    return select(Quote.id).where(Quote.job_id.in_(ids))


def _estimates(session: Session, ids: Any) -> dict[int, tuple[int, ...]]:
    """Estimated cost by category, by quote id."""
    columns = [_of_category(QuoteCost.category, QuoteCost.amount, name) for name in CATEGORIES]
    query = (
        select(QuoteCost.quote_id, *columns)
        .where(QuoteCost.quote_id.in_(_quotes_of(ids)))
        .group_by(QuoteCost.quote_id)
    )
    return {row[0]: tuple(row[1:]) for row in _rows(session, query)}


def _quoted_minutes(session: Session, ids: Any) -> dict[int, int]:
    """Estimated minutes by quote id."""
    query = (
        select(QuoteOperation.quote_id, steps(func.sum(QuoteOperation.minutes)))
        .where(QuoteOperation.quote_id.in_(_quotes_of(ids)))
        .group_by(QuoteOperation.quote_id)
    )
    return {key: total for key, total in _rows(session, query)}


def _quoted_operations(session: Session, ids: Any) -> dict[str, tuple[int, int]]:
    """Minutes and labour cost by operation, in the quotes that count."""
    query = (
        select(
            QuoteOperation.operation,
            steps(func.sum(QuoteOperation.minutes)),
            steps(func.sum(QuoteOperation.cost)),
        )
        .where(QuoteOperation.quote_id.in_(select(quote_of_job()).where(Job.id.in_(ids))))
        .group_by(QuoteOperation.operation)
    )
    return {operation: (spent, cost) for operation, spent, cost in _rows(session, query)}


def _closed_costs(session: Session, ids: Any) -> dict[int, tuple[int, ...]]:
    """Costs in the closings of closed jobs, by job id: estimated by category, then actual by category."""
    standing = open_closings()
    columns = [
        _of_category(ClosingLine.category, amount, name)
        for amount in (ClosingLine.estimated, ClosingLine.actual)
        for name in CATEGORIES
    ]
    query = (
        select(standing.c.job_id, *columns)
        .join(standing, standing.c.id == ClosingLine.closing_id)
        .join(Job, and_(Job.id == standing.c.job_id, Job.state == "closed"))
        .where(standing.c.job_id.in_(ids))
        .group_by(ClosingLine.closing_id, standing.c.job_id)
    )
    return {key: tuple(amounts) for key, *amounts in _rows(session, query)}


def _of_category(category: Any, amount: Any, name: str) -> ColumnElement[int]:
    """Sum of an amount over the rows of one category."""
    return steps(func.sum(case((category == name, type_coerce(amount, BigInteger)), else_=_ZERO)))


def _sums_of_work() -> list[ColumnElement[int]]:
    """Sums of minutes, their cost, and minutes of rework."""
    again = case((MinuteSum.kind == "rework", type_coerce(MinuteSum.minutes, BigInteger)), else_=_ZERO)
    return [steps(func.sum(value)) for value in (MinuteSum.minutes, MinuteSum.cost, again)]


def _worked(session: Session, ids: Any) -> dict[int, tuple[int, int, int]]:
    """Minutes, cost and rework minutes by job id."""
    query = (
        select(MinuteSum.job_id, *_sums_of_work()).where(MinuteSum.job_id.in_(ids)).group_by(MinuteSum.job_id)
    )
    return {key: (spent, cost, again) for key, spent, cost, again in _rows(session, query)}


def _worked_operations(session: Session, ids: Any) -> dict[str, tuple[int, int, int, int]]:
    """Minutes, cost, rework minutes and number of jobs by operation."""
    # A job has one sum per operation and kind, so that counting those of kind work counts the jobs.
    jobs = func.sum(case((MinuteSum.kind == "work", 1), else_=0))
    query = (
        select(MinuteSum.operation, *_sums_of_work(), jobs)
        .where(MinuteSum.job_id.in_(ids))
        .group_by(MinuteSum.operation)
    )
    return {
        operation: (spent, cost, again, count)
        for operation, spent, cost, again, count in _rows(session, query)
    }


def _per_job(session: Session, ids: Any, table: Any, amount: Any) -> dict[int, int]:
    query = select(table.job_id, steps(amount)).where(table.job_id.in_(ids)).group_by(table.job_id)
    return {key: value for key, value in _rows(session, query)}


def _closed_figures(
    head: Any, costs: tuple[int, ...], worked: tuple[int, int, int], invoiced: MoneyIn | None
) -> JobFigures:
    half = len(CATEGORIES)
    estimated, actual = costs[:half], costs[half:]
    assumed = tuple(filter(None, (head.assumed or "").split(ASSUMED_BETWEEN)))
    # If something of a category is logged, its columns do not show how much is not; for deliveries they do.
    short = {word.split(":")[0] for word in assumed if word != _DELIVERIES}.difference(NEVER_MISSED)
    gap = sum(min(actual[at], estimated[at]) for at, name in enumerate(CATEGORIES) if name in short)
    if _DELIVERIES in assumed and "material" not in short:
        gap += min(head.deliveries, actual[CATEGORIES.index("material")])
    came = invoiced or _NO_MONEY
    return JobFigures(
        head.id, head.number, head.title, head.customer, head.state, head.done_on, head.sets, True,
        head.net or 0, head.price, estimated, actual, head.minutes_estimated, head.minutes_actual,
        worked[2], assumed, head.spread, gap, came.invoiced,
        came.paid, came.overdue,
    )  # fmt: skip


def _live_figures(
    head: Any,
    estimated: tuple[int, ...],
    minutes_estimated: int,
    worked: tuple[int, int, int],
    logged: tuple[int | None, ...],
    invoiced: MoneyIn | None,
    gap: Gaps,
    currency: str,
) -> JobFigures:
    worked_minutes, labour, minutes_rework = worked
    # Without any logged minutes all of the quote's count.
    minutes_actual = worked_minutes + gap.minutes if worked_minutes else minutes_estimated
    followed: dict[str, int] = {}
    if worked_minutes:
        # Once work is logged, what went wrong is in the other categories, and overhead follows the minutes.
        followed = {"labour": labour + gap.costs.get("labour", 0), "contingency": 0}
        if minutes_estimated:
            overhead = estimated[CATEGORIES.index("overhead")] * minutes_actual
            followed["overhead"] = round_steps(overhead, minutes_estimated, currency)
    actual: list[int] = []
    assumed: list[str] = []
    unknown = 0
    for name, quoted, spent in zip(CATEGORIES, estimated, logged, strict=True):
        forgotten = gap.costs.get(name, 0)
        if name in followed:
            actual.append(followed[name])
        elif spent is not None:
            actual.append(round_steps(spent, 1, currency) + forgotten)
        else:
            forgotten = quoted if name not in NEVER_MISSED else 0
            actual.append(quoted)
            if quoted:  # nothing quoted and nothing logged assumes nothing
                assumed.append(name)
        unknown += forgotten
    assumed += [word for word in gap.names if word.split(":")[0] not in assumed]
    net = head.net or 0
    came = invoiced or _NO_MONEY
    return JobFigures(
        head.id, head.number, head.title, head.customer, head.state, head.done_on, head.sets,
        invoiced is not None, net, earned_price(net, came.billed, came.credited), estimated, tuple(actual),
        minutes_estimated, minutes_actual, minutes_rework, tuple(assumed), head.spread, unknown,
        came.invoiced, came.paid, came.overdue,
    )  # fmt: skip


def earned_price(quoted: Amount, billed: Amount, credited: Amount) -> Amount:
    """What a job earns: the quoted price, or its invoices if these are more, less credits.

    A part invoice or deposit does not lower it.

    >>> earned_price(57_264, 2_000, 0), earned_price(57_264, 60_000, 1_000)
    (57264, 59000)
    """
    return max(quoted, billed) - credited


def round_steps(numerator: int, denominator: int, currency: str) -> int:
    """A quotient of whole money steps, rounded half up to the currency's digits, in money steps.

    >>> round_steps(10_050, 2, "EUR")
    5000
    """
    unit: int = MONEY_STEPS // 10 ** currency_digits(currency)
    # The rule of `round_money` in whole numbers, without making a Decimal for every job.
    return (2 * numerator + denominator * unit) // (2 * denominator * unit) * unit


def _operations(
    quoted: Mapping[str, tuple[int, int]],
    worked: Mapping[str, tuple[int, int, int, int]],
    unlogged: Mapping[str, tuple[int, int]],
) -> list[OperationSum]:
    """Sums by operation over quotes and entries, most minutes first."""
    rows = []
    for operation in quoted.keys() | worked.keys() | unlogged.keys():
        planned, estimated = quoted.get(operation, (0, 0))
        spent, cost, rework, jobs = worked.get(operation, (0, 0, 0, 0))
        assumed, assumed_cost = unlogged.get(operation, (0, 0))
        rows.append(
            OperationSum(
                operation,
                minutes(planned),
                minutes(spent + assumed),
                minutes(rework),
                money(estimated),
                money(cost + assumed_cost),
                jobs,
                minutes(assumed),
            )
        )
    # Name as second key: the order of a set differs from run to run.
    return sorted(rows, key=lambda row: (-row.minutes_actual, row.operation))
