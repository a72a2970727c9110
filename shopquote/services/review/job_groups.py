"""Reviewed jobs in groups by customer, kind, size, quantity or month."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import and_, case, func, select
from sqlalchemy.orm import Session

from shopquote.calc.review.variance import per_cent, per_hour
from shopquote.records.jobs import Job, JobRevision, PartBend, PartRow, WeldRow
from shopquote.services.review.job_figures import InSteps, JobFigures, minutes, money, steps
from shopquote.services.shop.values import section_of

ZERO = Decimal(0)
NO_PARTS = "no parts"


@dataclass(slots=True)
class Group(InSteps):
    """The figures of all jobs in one group, added up in stored steps."""

    name: str
    jobs: int = 0
    price_steps: int = 0
    quoted_steps: int = 0
    estimated_steps: int = 0
    actual_steps: int = 0
    contribution_steps: int = 0
    minutes_estimated_steps: int = 0
    minutes_actual_steps: int = 0
    minutes_rework_steps: int = 0
    gap_steps: int = 0
    invoiced_steps: int = 0
    to_invoice_steps: int = 0
    paid_steps: int = 0
    overdue_steps: int = 0

    def add(self, row: JobFigures) -> None:
        """Add one job."""
        self.jobs += 1
        self.price_steps += row.price_steps
        self.quoted_steps += row.quoted_steps
        self.estimated_steps += sum(row.estimated_steps)
        self.actual_steps += sum(row.actual_steps)
        self.contribution_steps += row.contribution_steps
        self.minutes_estimated_steps += row.minutes_estimated_steps
        self.minutes_actual_steps += row.minutes_actual_steps
        self.minutes_rework_steps += row.minutes_rework_steps
        self.gap_steps += row.gap_steps
        self.invoiced_steps += row.invoiced_steps
        self.to_invoice_steps += row.to_invoice_steps
        self.paid_steps += row.paid_steps
        self.overdue_steps += row.overdue_steps

    @property
    def cost_estimated(self) -> Decimal:
        """Cost in the quotes."""
        return money(self.estimated_steps)

    @property
    def cost_actual(self) -> Decimal:
        """Actual cost."""
        return money(self.actual_steps)

    @property
    def contribution(self) -> Decimal:
        """Price less what was paid for these jobs alone."""
        return money(self.contribution_steps)

    @property
    def minutes_rework(self) -> Decimal:
        """Minutes of rework among the actual minutes."""
        return minutes(self.minutes_rework_steps)

    @property
    def margin(self) -> Decimal:
        """Price less actual cost."""
        return self.price - self.cost_actual

    @property
    def margin_pct(self) -> Decimal | None:
        """Margin in per cent of the price."""
        return per_cent(self.margin, self.price)

    @property
    def margin_estimated_pct(self) -> Decimal | None:
        """Margin that the quotes expected, in per cent of their price."""
        return per_cent(self.quoted - self.cost_estimated, self.quoted)

    @property
    def margin_per_hour(self) -> Decimal | None:
        """Margin per hour worked."""
        return per_hour(self.margin, self.minutes_actual)


# Sets of a job: from one-offs, whose set-ups count most, to series.
QUANTITY_BANDS = ((1, "1 set"), (5, "2 to 5"), (20, "6 to 20"), (100, "21 to 100"))


def quantity_band(sets: int) -> str:
    """The band of a number of sets.

    >>> quantity_band(7)
    '6 to 20'
    """
    return next((name for most, name in QUANTITY_BANDS if sets <= most), "over 100")


def group_jobs(
    session: Session, figures: Iterable[JobFigures], by: str, *, kinds: Mapping[int, str] | None = None
) -> tuple[Group, ...]:
    """Jobs added up by customer, kind, size, quantity or month; each job is in one group.

    Months and quantities are in their order, other groups by margin, largest first. `kinds` by job id, if
    known.
    """
    groups: dict[str, Group] = {}
    name_of = _name_of(session, by, kinds)
    for row in figures:
        name = name_of(row)
        groups.setdefault(name, Group(name)).add(row)
    if by == "quantity":
        order = [*(name for _, name in QUANTITY_BANDS), "over 100"]
        return tuple(groups[name] for name in order if name in groups)
    if by == "month":
        return tuple(groups[name] for name in sorted(groups))
    return tuple(sorted(groups.values(), key=lambda group: (-group.margin, group.name)))


def jobs_of_group(
    session: Session, figures: Iterable[JobFigures], by: str, name: str
) -> tuple[JobFigures, ...]:
    """The jobs in the group `name` of `group_jobs`."""
    name_of = _name_of(session, by)
    return tuple(row for row in figures if name_of(row) == name)


def _name_of(session: Session, by: str, kinds: Mapping[int, str] | None = None) -> Any:
    if by == "customer":
        return lambda row: row.customer
    if by == "quantity":
        return lambda row: quantity_band(row.sets)
    if by == "month":
        return lambda row: row.done_on[:7]
    if by == "kind":
        of_job = kinds_of_jobs(session) if kinds is None else kinds
        return lambda row: of_job.get(row.id, NO_PARTS)
    sizes = sizes_of_jobs(session)
    return lambda row: sizes.get(row.id, NO_PARTS)


def kinds_of_jobs(session: Session) -> dict[int, str]:
    """Kind of each job by id: straight, bent, welded, or bent and welded."""
    newest = _newest_revisions()
    bent = select(PartRow.job_revision_id).join(PartBend, PartBend.part_id == PartRow.id).distinct()
    shaped = select(PartRow.job_revision_id).where(PartRow.shape.is_not(None)).distinct()
    welded = select(WeldRow.job_revision_id).distinct()
    is_bent = case((newest.c.id.in_(bent), 1), (newest.c.id.in_(shaped), 1), else_=0)
    is_welded = case((newest.c.id.in_(welded), 1), else_=0)
    words = {(0, 0): "straight", (1, 0): "bent", (0, 1): "welded", (1, 1): "bent and welded"}
    rows = session.connection().execute(select(newest.c.job_id, is_bent, is_welded))
    return {job_id: words[bool(a), bool(b)] for job_id, a, b in rows}


def sizes_of_jobs(session: Session) -> dict[int, str]:
    """By job id, the bar with the most mass in it; without masses, with most pieces."""
    newest = _newest_revisions()
    weight = steps(func.sum(func.coalesce(PartRow.mass_kg, ZERO) * PartRow.per_set))
    pieces = func.sum(PartRow.per_set)
    query = (
        select(newest.c.job_id, PartRow.section_key, weight, pieces)
        .join(newest, newest.c.id == PartRow.job_revision_id)
        .group_by(newest.c.job_id, PartRow.section_key)
    )
    best: dict[int, tuple[int, int, str]] = {}
    for job_id, section, mass, count in session.execute(query):
        held = best.get(job_id)
        if held is None or (mass or 0, int(count), section) > held:
            best[job_id] = (mass or 0, int(count), section)
    names = {key: bar_name(key) for key in {section for _, _, section in best.values()}}
    return {job_id: names[section] for job_id, (_, _, section) in best.items()}


def bar_name(key: str) -> str:
    """A section's name in millimetres, or in inches if its sizes are no half millimetres.

    >>> bar_name("square 15.875"), bar_name("flat 40 x 8")
    ('square 5/8 in', 'flat 40 x 8 mm')
    """
    section = section_of(key)
    # Metric bars come in whole or half millimetres; inch sizes hardly ever fall on those.
    metric = all(size.nm % 500_000 == 0 for size in section.sizes)
    return section.name("mm" if metric else "in")


def _newest_revisions() -> Any:
    return (
        select(JobRevision.id, JobRevision.job_id)
        .join(Job, and_(Job.id == JobRevision.job_id, Job.revision == JobRevision.revision))
        .subquery("newest")
    )
