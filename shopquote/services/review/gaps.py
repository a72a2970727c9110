"""What quotes plan and nobody logged, over many jobs: found by the database, one row per gap.

`missing` finds the same for one job. If nothing of a whole category is logged on a job, its sums show that:
the caller then takes the category as quoted, and ignores its entries here. Bought items of such a job are not
looked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, or_, select
from sqlalchemy.orm import Session

from shopquote.calc.money import round_money
from shopquote.reading.kinds.words import name_key
from shopquote.records.closings import ClosingLine
from shopquote.records.jobs import BoughtItem, Job, JobRevision
from shopquote.records.logs import BoughtUse, MinuteSum
from shopquote.records.quotes import Quote, QuoteMaterial, QuoteOperation
from shopquote.records.rack import BarUse
from shopquote.services.review.job_figures import MONEY_STEPS, money, steps
from shopquote.services.review.missing import DELIVERIES
from shopquote.services.review.selection import open_closings

# Job id, operation, and its minutes and labour cost in stored steps.
ClosedGap = tuple[int, str, int, int]


@dataclass(slots=True)
class Gaps:
    """What counts as quoted for one job because nobody logged it, in stored steps.

    `costs` are by category, `operations` have (minutes, cost) by name, `names` say each gap in words.
    """

    costs: dict[str, int] = field(default_factory=dict)
    operations: dict[str, tuple[int, int]] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)

    @property
    def minutes(self) -> int:
        """Minutes of all operations that nobody logged."""
        return sum(minutes for minutes, _ in self.operations.values())

    def add(self, category: str, name: str, cost: int) -> None:
        """Add one gap."""
        self.costs[category] = self.costs.get(category, 0) + cost
        self.names.append(f"{category}: {name}")


def gaps_of(session: Session, ids: Any, currency: str) -> dict[int, Gaps]:
    """Gaps by quote id, for all quotes of these jobs that are not closed; `ids` is a select of job ids."""
    found: dict[int, Gaps] = {}
    materials = (
        select(
            QuoteMaterial.quote_id, QuoteMaterial.section_text, QuoteMaterial.grade,
            steps(QuoteMaterial.cost),
        )
        .join(Quote, Quote.id == QuoteMaterial.quote_id)
        .outerjoin(
            BarUse,
            and_(
                BarUse.job_id == Quote.job_id,
                BarUse.section_key == QuoteMaterial.section_key,
                BarUse.grade == QuoteMaterial.grade,
            ),
        )
        .where(Quote.job_id.in_(ids), BarUse.id.is_(None), steps(QuoteMaterial.net) > 0)
        .order_by(QuoteMaterial.id)
    )  # fmt: skip
    # Through the connection, not the session: tuples of thousands of jobs, without the ORM's work for each.
    for quote, section, grade, cost in session.connection().execute(materials):
        found.setdefault(quote, Gaps()).add("material", f"{section} {grade}", cost)
    operations = (
        select(
            QuoteOperation.quote_id, QuoteOperation.operation, steps(QuoteOperation.minutes),
            steps(QuoteOperation.cost),
        )
        .join(Quote, Quote.id == QuoteOperation.quote_id)
        .outerjoin(MinuteSum, _logged(Quote.job_id, QuoteOperation.operation))
        .where(Quote.job_id.in_(ids), MinuteSum.id.is_(None))
        .order_by(QuoteOperation.id)
    )  # fmt: skip
    for quote, operation, minutes, cost in session.connection().execute(operations):
        gap = found.setdefault(quote, Gaps())
        printed = int(round_money(money(cost), currency) * MONEY_STEPS)
        gap.add("labour", operation, printed)
        gap.operations[operation] = (minutes, printed)
    logged, planned = _bought_items(session, ids, currency)
    for (quote, job), amounts in planned.items():
        # A name that is not planned may be a planned item under the words of its bill.
        if _not_planned(quote, job, logged, planned):
            continue
        for name, amount in amounts.items():
            if name_key(name) not in logged[job]:
                found.setdefault(quote, Gaps()).add("bought", name, int(amount * MONEY_STEPS))
    for quote, job, cost in _deliveries_untold(session, ids):
        # It may be the delivery as well, under the words of the carrier's bill.
        if not _not_planned(quote, job, logged, planned):
            printed = int(round_money(money(cost), currency) * MONEY_STEPS)
            found.setdefault(quote, Gaps()).add("material", DELIVERIES, printed)
    return found


# Names that were logged by job; and cost of planned items by quote and job, and name.
_Names = dict[int, set[str]]
_Planned = dict[tuple[int, int], dict[str, Decimal]]


def _not_planned(quote: int, job: int, logged: _Names, planned: _Planned) -> bool:
    """Whether a bought item was logged on the job that its quote does not plan."""
    return bool(logged.get(job, set()) - {name_key(name) for name in planned.get((quote, job), ())})


def _deliveries_untold(session: Session, ids: Any) -> Sequence[Any]:
    """Quote, job and deliveries quoted, of jobs with bars logged of which none says what its delivery was."""
    told = or_(BarUse.rack_piece_id.is_not(None), BarUse.delivery.is_not(None))
    untold = (
        select(BarUse.job_id)
        .where(BarUse.job_id.in_(ids))
        .group_by(BarUse.job_id)
        .having(func.max(case((told, 1), else_=0)) == 0)
    )
    quotes = select(Quote.id, Quote.job_id, steps(Quote.deliveries)).where(
        Quote.job_id.in_(untold), steps(Quote.deliveries) > 0
    )
    return session.connection().execute(quotes).all()


def _bought_items(session: Session, ids: Any, currency: str) -> tuple[_Names, _Planned]:
    """What of bought items is logged and planned, of jobs on which any is logged."""
    logged: _Names = {}
    uses = select(BoughtUse.job_id, BoughtUse.name).where(BoughtUse.job_id.in_(ids)).distinct()
    for job, name in session.connection().execute(uses):
        logged.setdefault(job, set()).add(name_key(name))
    planned: _Planned = {}
    items = (
        select(
            Quote.id, Quote.job_id, BoughtItem.name, BoughtItem.per_set * JobRevision.sets,
            steps(BoughtItem.unit_cost),
        )
        .join(JobRevision, JobRevision.id == Quote.job_revision_id)
        .join(BoughtItem, BoughtItem.job_revision_id == JobRevision.id)
        .where(Quote.job_id.in_(select(BoughtUse.job_id).where(BoughtUse.job_id.in_(ids))))
        .order_by(BoughtItem.position)
    )  # fmt: skip
    for quote, job, name, count, cost in session.connection().execute(items):
        held = planned.setdefault((quote, job), {})
        held[name] = held.get(name, Decimal(0)) + round_money(count * money(cost), currency)
    return logged, planned


def closed_gaps(session: Session, ids: Any) -> list[ClosedGap]:
    """Operations that closings took as quoted because nobody had logged them."""
    standing = open_closings()
    query = (
        select(
            standing.c.job_id, ClosingLine.operation, steps(ClosingLine.minutes_actual),
            steps(ClosingLine.actual),
        )
        .join(standing, standing.c.id == ClosingLine.closing_id)
        .join(Job, and_(Job.id == standing.c.job_id, Job.state == "closed"))
        .outerjoin(MinuteSum, _logged(standing.c.job_id, ClosingLine.operation))
        .where(
            standing.c.job_id.in_(ids), ClosingLine.category == "labour", MinuteSum.id.is_(None),
            steps(ClosingLine.minutes_actual) > 0,
        )
    )  # fmt: skip
    return [tuple(row) for row in session.connection().execute(query)]


def _logged(job_id: Any, operation: Any) -> ColumnElement[bool]:
    """Condition that minutes are logged for an operation of a job; a sum taken back to 0 does not count."""
    return and_(MinuteSum.job_id == job_id, MinuteSum.operation == operation, steps(MinuteSum.minutes) > 0)
