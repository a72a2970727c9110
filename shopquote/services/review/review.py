"""What finished jobs earned: one job in full, or many by group.

Reads and writes nothing; the caller opens a reading session. A closed job brings
the figures that were fixed when it was closed (`services.close`), all others are
worked out from what is logged now.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from sqlalchemy import and_, case, func, select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.money import round_money
from shopquote.calc.plain import from_plain, to_plain
from shopquote.calc.pricing.answers import CATEGORIES
from shopquote.calc.review.variance import (
    Earned,
    Variance,
    add_up,
    explain,
    follow_labour,
    labour_variance,
    lump_variance,
    material_variance,
    per_cent,
    per_hour,
)
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.records.closings import Closing
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.logs import BarUse, BoughtUse, Invoice, OutsideBill, ScrapNote, TimeEntry
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote
from shopquote.services.floor.log import running_timers, shop_currency
from shopquote.services.jobs.jobs import MOVES, find_job
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.review_sums import (
    Filters,
    JobFigures,
    OperationSum,
    job_figures,
    jobs_at,
    minutes,
    money,
    steps,
    sum_all,
)
from shopquote.services.shop.on_file import name_on_file, section_of

ZERO = Decimal(0)
GROUPINGS = ("customer", "kind", "size", "operation", "quantity", "month")


@dataclass(frozen=True, slots=True)
class JobReview:
    """One job in full. `lines` are its costs, each with the parts of its variance.

    `assumed` names categories on which nothing was logged and that are taken as
    quoted; `notes` say what is missing; `sentences` tell each large variance.
    """

    job: str
    title: str
    customer: str
    state: str
    done_on: str
    sets: int
    currency: str
    quote: str
    quoted: Decimal
    price: Decimal
    invoiced: bool
    lines: tuple[Variance, ...]
    minutes_rework: Decimal
    scrapped: tuple[tuple[str, int, str], ...]
    assumed: tuple[str, ...]
    notes: tuple[str, ...]
    sentences: tuple[str, ...]
    closed_on: str = ""
    closing: int = 0

    @property
    def total(self) -> Variance:
        """All lines together."""
        return add_up(self.lines)

    @property
    def categories(self) -> dict[str, Variance]:
        """The lines of each category together, in the usual order."""
        return {
            name: add_up((line for line in self.lines if line.category == name), name, name)
            for name in CATEGORIES
        }

    @property
    def estimated(self) -> Earned:
        """What the quote expected to earn."""
        return self._earned(self.quoted, "estimated")

    @property
    def actual(self) -> Earned:
        """What the job earned."""
        return self._earned(self.price, "actual")

    def _earned(self, price: Decimal, side: str) -> Earned:
        total = self.total
        paid = sum(
            (getattr(line, side) for line in self.lines if line.category not in ("labour", "overhead")),
            ZERO,
        )
        worked = total.minutes_estimated if side == "estimated" else total.minutes_actual
        return Earned(price, getattr(total, side), price - paid, worked)


def review_job(session: Session, number: str, *, closing: int | None = None) -> JobReview:
    """One job in full; `closing` prints the figures of its first, second ... closing again.

    Raises:
        NotFoundError: no such job, or it was not closed so often.
        InputError: the job has no quote to compare with.
    """
    job = find_job(session, number)
    held = session.scalars(select(Closing).where(Closing.job_id == job.id).order_by(Closing.id)).all()
    if closing is not None:
        if not 1 <= closing <= len(held):
            raise NotFoundError(
                f"{job.number} was closed {len(held)} times; closing {closing} is not on file."
            )
        return _as_printed_again(held[closing - 1])
    if job.state == "closed" and held and held[-1].snapshot:
        return read_snapshot(held[-1].snapshot)
    return work_out(session, job)


def _as_printed_again(closing: Closing) -> JobReview:
    """The figures of a closing as they were, and why they no longer stand."""
    review = read_snapshot(closing.snapshot)
    if closing.reopened_on is None:
        return review
    return replace(review, notes=(*review.notes, f"Opened again on {closing.reopened_on}: {closing.reason}"))


def work_out(session: Session, job: Job) -> JobReview:
    """The figures of a job from what is logged now.

    Raises:
        InputError: the job has no quote to compare with.
    """
    quote = _quote_of(session, job)
    revision = session.scalars(
        select(JobRevision).where(JobRevision.job_id == job.id, JobRevision.revision == job.revision)
    ).one()
    planned = quote.job_revision.sets
    made = Decimal(revision.sets) / Decimal(planned)
    currency = shop_currency(session)
    quoted = {row.category: row.amount for row in quote.costs}
    entries = _entries(session, job)
    uses = session.scalars(select(BarUse).where(BarUse.job_id == job.id)).all()
    bought = session.scalars(select(BoughtUse).where(BoughtUse.job_id == job.id)).all()
    bills = session.scalars(select(OutsideBill).where(OutsideBill.job_id == job.id)).all()
    labour, rework = _labour_lines(quote, quoted.get("labour", ZERO), entries, made, currency)
    spent = sum((line.minutes_actual for line in labour), ZERO)
    expected = sum((line.minutes_estimated for line in labour), ZERO)
    logged = {
        "labour": bool(entries), "material": bool(uses), "bought": bool(bought), "outside": bool(bills),
    }  # fmt: skip
    lines = [
        *_material_lines(quote, quoted.get("material", ZERO), uses, currency),
        *labour,
        *_as_quoted("consumables", quoted.get("consumables", ZERO)),
        *_bought_lines(quote, quoted.get("bought", ZERO), bought, currency),
        *_outside_lines(quoted.get("outside", ZERO), bills, made, currency),
    ]
    if quoted.get("overhead", ZERO):
        lines.append(
            follow_labour(
                "overhead", "overhead", estimated=quoted["overhead"], minutes_estimated=expected,
                minutes_actual=spent if entries else expected, currency=currency,
            )
        )  # fmt: skip
    price, invoiced = _price(session, job, quote)
    assumed: tuple[str, ...] = tuple(
        name for name in CATEGORIES if quoted.get(name) and name != "overhead" and not logged.get(name, False)
    )
    if quoted.get("overhead") and (not entries or not expected):
        assumed = (*assumed, "overhead")
    return JobReview(
        job.number, revision.title, job.customer.name, job.state, _done_on(session, job), revision.sets,
        currency,
        f"{quote.number} revision {quote.revision}", quote.net, price, invoiced, tuple(lines), rework,
        _scrapped(session, job), assumed, _notes(session, job, labour, logged, invoiced),
        explain(lines, price, quoted=quote.net if invoiced else None, currency=currency),
    )  # fmt: skip


def _quote_of(session: Session, job: Job) -> Quote:
    chosen = chosen_quotes()
    quote = session.scalars(
        select(Quote)
        .join(chosen, chosen.c.quote_id == Quote.id)
        .where(chosen.c.job_id == job.id)
        .options(selectinload(Quote.costs), selectinload(Quote.minutes), selectinload(Quote.materials))
    ).one_or_none()
    if quote is None:
        raise InputError(
            f"{job.number} has no quote to compare with.",
            hint=f"Quote it first: shopquote quote {job.number}",
        )
    return quote


def _entries(session: Session, job: Job) -> dict[str, tuple[Decimal, Decimal, Decimal]]:
    """Minutes, cost and rework minutes by operation; timers that still run are left out."""
    again = case((TimeEntry.kind == "rework", TimeEntry.minutes), else_=None)
    query = (
        select(TimeEntry.operation, func.sum(TimeEntry.minutes), func.sum(TimeEntry.cost), func.sum(again))
        .where(TimeEntry.job_id == job.id, TimeEntry.minutes > ZERO)
        .group_by(TimeEntry.operation)
    )
    return {name: (spent, cost, rework or ZERO) for name, spent, cost, rework in session.execute(query)}


def _labour_lines(
    quote: Quote,
    quoted: Decimal,
    entries: Mapping[str, tuple[Decimal, Decimal, Decimal]],
    made: Decimal,
    currency: str,
) -> tuple[list[Variance], Decimal]:
    planned: dict[str, list[Decimal]] = {}
    for row in quote.minutes:
        held = planned.setdefault(row.operation, [ZERO, ZERO, ZERO, row.rate])
        held[0] += row.minutes
        held[1] += row.cost
        held[2] += row.minutes if row.kind == "run" else ZERO
    for held in planned.values():
        held[1] = round_money(held[1], currency)
    left = quoted - sum((held[1] for held in planned.values()), ZERO)
    lines = []
    for operation in [*planned, *(name for name in entries if name not in planned)]:
        minutes, cost, run, rate = planned.get(operation, [ZERO, ZERO, ZERO, ZERO])
        spent, actual, again = entries.get(operation, (ZERO, ZERO, ZERO))
        if not entries:  # nothing was logged at all: labour is taken as quoted
            spent, actual = minutes, cost
        lines.append(
            labour_variance(
                operation, estimated=cost, minutes_estimated=minutes, actual=actual, minutes_actual=spent,
                rate_estimated=rate if rate else None,
                minutes_rework=again, made_over_planned=made,
                run_share=run / minutes if minutes else Decimal(1),
                currency=currency,
            )
        )  # fmt: skip
    if left:
        # Labour in the quote that no operation carries (contingency): time that was allowed and not spent.
        lines.append(
            labour_variance(
                "allowance", estimated=left, minutes_estimated=ZERO,
                actual=ZERO if entries else left, minutes_actual=ZERO, currency=currency,
            )
        )  # fmt: skip
    return lines, sum((again for _, _, again in entries.values()), ZERO)


def _material_lines(quote: Quote, quoted: Decimal, uses: Sequence[BarUse], currency: str) -> list[Variance]:
    planned = {(row.section_key, row.grade): row for row in quote.materials}
    names = {key: f"{row.section_text} {row.grade}" for key, row in planned.items()}
    used: dict[tuple[str, str], list[Decimal]] = {}
    for use in uses:
        key = (use.section_key, use.grade)
        names.setdefault(key, f"{use.section_text} {use.grade}")
        held = used.setdefault(key, [ZERO, ZERO])
        back = use.returned.mm if use.returned is not None else ZERO
        held[0] += use.length.mm * use.count - back
        held[1] += use.cost - use.credit
    lines = []
    for key, name in names.items():
        row = planned.get(key)
        estimated = row.cost if row is not None else ZERO
        length = (row.bought.mm or row.net.mm) if row is not None else ZERO
        spent, cost = used.get(key, [ZERO, ZERO])
        if not uses:
            spent, cost = length, estimated
        lines.append(
            material_variance(
                "material", name, estimated=estimated, quantity_estimated=length, actual=cost,
                quantity_actual=spent, currency=currency,
            )
        )  # fmt: skip
    rest = quoted - sum((row.cost for row in quote.materials), ZERO)
    return lines + _rest("material", "allowance", rest, not uses)


def _bought_lines(quote: Quote, quoted: Decimal, uses: Sequence[BoughtUse], currency: str) -> list[Variance]:
    revision = quote.job_revision
    lines: list[Variance] = []
    planned: dict[str, tuple[Decimal, Decimal]] = {}
    for item in revision.bought:
        count = Decimal(item.per_set * revision.sets)
        held = planned.get(item.name, (ZERO, ZERO))
        planned[item.name] = (held[0] + count, held[1] + round_money(count * item.unit_cost, currency))
    used: dict[str, tuple[Decimal, Decimal]] = {}
    known = {name.lower(): name for name in planned}
    for use in uses:
        name = known.get(use.name.lower(), use.name)
        held = used.get(name, (ZERO, ZERO))
        used[name] = (held[0] + use.count, held[1] + use.cost)
    for name in [*planned, *(name for name in used if name not in planned)]:
        count, cost = planned.get(name, (ZERO, ZERO))
        number, paid = used.get(name, (ZERO, ZERO))
        if not uses:
            number, paid = count, cost
        if number == 1 and count > 1:
            # Logged as one lot, without a count: all that was planned, at another price.
            number = count
        lines.append(
            material_variance(
                "bought", name, estimated=cost, quantity_estimated=count, actual=paid, quantity_actual=number,
                currency=currency,
            )
        )  # fmt: skip
    rest = quoted - sum((cost for _, cost in planned.values()), ZERO)
    return lines + _rest("bought", "allowance", rest, not uses)


def _outside_lines(
    quoted: Decimal, bills: Sequence[OutsideBill], made: Decimal, currency: str
) -> list[Variance]:
    if not quoted and not bills:
        return []
    paid = sum((bill.amount for bill in bills), ZERO) if bills else quoted
    return [
        lump_variance(
            "outside", "outside work", estimated=quoted, actual=paid,
            made_over_planned=made if bills else Decimal(1), currency=currency,
        )
    ]  # fmt: skip


def _as_quoted(category: str, amount: Decimal) -> list[Variance]:
    return [Variance(category, category, amount, amount)] if amount else []


def _rest(category: str, name: str, estimated: Decimal, as_quoted: bool) -> list[Variance]:
    """What the quote holds beyond its lines (an allowance, a credit): used as planned or not at all."""
    if not estimated:
        return []
    actual = estimated if as_quoted else ZERO
    return [Variance(category, name, estimated, actual, quantity=actual - estimated)]


def _price(session: Session, job: Job, quote: Quote) -> tuple[Decimal, bool]:
    rows = session.scalars(select(Invoice).where(Invoice.job_id == job.id)).all()
    if not rows:
        return quote.net, False
    return sum((-row.amount if row.kind == "credit" else row.amount for row in rows), ZERO), True


def _scrapped(session: Session, job: Job) -> tuple[tuple[str, int, str], ...]:
    rows = session.scalars(select(ScrapNote).where(ScrapNote.job_id == job.id).order_by(ScrapNote.id))
    return tuple((row.mark, row.count, row.reason) for row in rows)


def _notes(
    session: Session, job: Job, labour: Sequence[Variance], logged: Mapping[str, bool], invoiced: bool
) -> tuple[str, ...]:
    notes = []
    missing = [line.name for line in labour if line.minutes_estimated and not line.minutes_actual]
    if logged["labour"] and missing:
        notes.append(f"No minutes were logged for {', '.join(missing)}, which the quote has.")
    if not logged["labour"]:
        notes.append("No minutes were logged: labour is taken as quoted.")
    if not logged["material"]:
        notes.append("No bars were logged: material is taken as quoted.")
    if not invoiced:
        notes.append("Nothing was invoiced yet: the price is the quoted one.")
    for entry in running_timers(session, job=job):
        notes.append(f"A timer of {entry.person or 'somebody'} still runs on {entry.operation}.")
    return tuple(notes)


def _done_on(session: Session, job: Job) -> str:
    rows, _ = job_figures(session, Filters(jobs=(job.number,)), shop_currency(session))
    return rows[0].done_on


# ---- snapshots: a closed job's figures, kept as text --------------------------------------------


def write_snapshot(review: JobReview) -> str:
    """A review as JSON text; amounts as text, so that they come back exactly."""
    return json.dumps(to_plain(review), ensure_ascii=False)


def read_snapshot(text: str) -> JobReview:
    """The review that `write_snapshot` wrote, of an older program too: what its text lacks has its default.

    Raises:
        InputError: the text is no review.
    """
    try:
        return from_plain(JobReview, json.loads(text))
    except json.JSONDecodeError as error:
        raise InputError(f"A stored closing cannot be read: {error}.") from error


# ---- many jobs ---------------------------------------------------------------------------------


@dataclass(slots=True)
class Group:
    """Jobs that share a customer, kind, size, quantity or month, added up in stored steps."""

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

    def add(self, row: JobFigures) -> None:
        """Count one more job."""
        self.jobs += 1
        self.price_steps += row.price_steps
        self.quoted_steps += row.quoted_steps
        self.estimated_steps += sum(row.estimated_steps)
        self.actual_steps += sum(row.actual_steps)
        self.contribution_steps += row.contribution_steps
        self.minutes_estimated_steps += row.minutes_estimated_steps
        self.minutes_actual_steps += row.minutes_actual_steps
        self.minutes_rework_steps += row.minutes_rework_steps

    @property
    def price(self) -> Decimal:
        """What was invoiced, or quoted where nothing was."""
        return money(self.price_steps)

    @property
    def quoted(self) -> Decimal:
        """Net prices of the quotes."""
        return money(self.quoted_steps)

    @property
    def cost_estimated(self) -> Decimal:
        """Cost in the quotes."""
        return money(self.estimated_steps)

    @property
    def cost_actual(self) -> Decimal:
        """Cost as it was."""
        return money(self.actual_steps)

    @property
    def contribution(self) -> Decimal:
        """Price less what was paid for these jobs alone."""
        return money(self.contribution_steps)

    @property
    def minutes_estimated(self) -> Decimal:
        """Minutes in the quotes."""
        return minutes(self.minutes_estimated_steps)

    @property
    def minutes_actual(self) -> Decimal:
        """Minutes logged."""
        return minutes(self.minutes_actual_steps)

    @property
    def minutes_rework(self) -> Decimal:
        """Of these, minutes of rework."""
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
        """Margin that the quotes expected."""
        return per_cent(self.quoted - self.cost_estimated, self.quoted)

    @property
    def margin_per_hour(self) -> Decimal | None:
        """Margin for each hour worked."""
        return per_hour(self.margin, self.minutes_actual)


@dataclass(frozen=True, slots=True)
class WinRate:
    """Quotes whose margin lay in one band: how many were won and lost."""

    band: str
    won: int
    lost: int
    open: int

    @property
    def won_pct(self) -> Decimal | None:
        """Won of those decided."""
        return per_cent(Decimal(self.won), Decimal(self.won + self.lost))


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """The operation that the shop has least of, and what an hour of it earned.

    `per_hour` is the contribution of all jobs that used it over its hours.
    """

    operation: str
    hours: Decimal
    per_hour: Decimal | None


@dataclass(frozen=True, slots=True)
class ManyReview:
    """Many jobs: each in one row, their sum, groups, win rates and the bottleneck."""

    currency: str
    jobs: tuple[JobFigures, ...]
    total: Group
    estimated: tuple[Decimal, ...]
    actual: tuple[Decimal, ...]
    operations: tuple[OperationSum, ...]
    bottleneck: Bottleneck | None
    groups: Mapping[str, tuple[Group, ...]] = field(default_factory=dict)
    win_rates: tuple[WinRate, ...] = ()

    @property
    def ranges_held(self) -> tuple[int, int]:
        """How many jobs cost what their quote's own 8-in-10 range said, of how many that stated one."""
        held = [inside for row in self.jobs if (inside := row.held_its_range) is not None]
        return sum(held), len(held)


def review_many(
    session: Session,
    filters: Filters,
    *,
    by: Sequence[str] = (),
    bottleneck: str | None = None,
    win_rates: bool = True,
) -> ManyReview:
    """All jobs that pass the filters.

    Args:
        session: reading is enough.
        filters: which jobs.
        by: groupings wanted, of GROUPINGS.
        bottleneck: the operation that limits the shop; None takes the most worked one.
        win_rates: whether to count won and lost quotes by margin.

    Raises:
        NotFoundError: a job or customer is not on file.
        InputError: an unknown state or grouping.
    """
    filters = _checked_filters(session, filters, by)
    filters = replace(filters, jobs=tuple(find_job(session, number).number for number in filters.jobs))
    currency = shop_currency(session)
    figures, operations = job_figures(session, filters, currency)
    total = Group("all")
    for row in figures:
        total.add(row)
    estimated, actual = sum_all(figures)
    groups = {name: group_jobs(session, figures, name) for name in by if name != "operation"}
    return ManyReview(
        currency, tuple(figures), total, estimated, actual, tuple(operations),
        _bottleneck(session, filters, figures, operations, bottleneck), groups,
        count_win_rates(session, filters) if win_rates else (),
    )  # fmt: skip


def _checked_filters(session: Session, filters: Filters, by: Sequence[str]) -> Filters:
    """The filters with the customer's name as on file."""
    for word in by:
        if word not in GROUPINGS:
            raise InputError(_expected("Grouping", word, GROUPINGS))
    for state in filters.states:
        if state not in MOVES:
            raise InputError(_expected("State", state, tuple(MOVES)))
    if filters.customer is not None:
        customer = name_on_file(session, Customer.name, filters.customer)
        if customer is None:
            names = session.scalars(select(Customer.name)).all()
            nearest = nearest_word(filters.customer, names)
            hint = f"Did you mean {nearest!r}?" if nearest else "See: shopquote customers list"
            raise NotFoundError(f"Customer {filters.customer!r} is not on file.", hint=hint)
        filters = replace(filters, customer=customer)
    return filters


def _expected(what: str, word: str, known: Sequence[str]) -> str:
    nearest = nearest_word(word, known)
    more = f" Did you mean {nearest!r}?" if nearest else ""
    return f"{what} is {word!r}; expected one of {', '.join(known)}.{more}"


def _bottleneck(
    session: Session,
    filters: Filters,
    figures: Sequence[JobFigures],
    operations: Sequence[OperationSum],
    wanted: str | None,
) -> Bottleneck | None:
    worked = [row for row in operations if row.minutes_actual > 0]
    if wanted is not None:
        worked = [row for row in worked if row.operation == wanted]
    if not worked:
        return None
    row = worked[0]
    used_it = jobs_at(session, filters, row.operation)
    earned = money(sum(job.contribution_steps for job in figures if job.id in used_it))
    hours = (row.minutes_actual / 60).quantize(Decimal("0.1"))
    return Bottleneck(row.operation, hours, per_hour(earned, row.minutes_actual))


QUANTITY_BANDS = ((1, "1 set"), (5, "2 to 5"), (20, "6 to 20"), (100, "21 to 100"))


def quantity_band(sets: int) -> str:
    """The band of a number of sets.

    >>> quantity_band(7)
    '6 to 20'
    """
    return next((name for most, name in QUANTITY_BANDS if sets <= most), "over 100")


def group_jobs(session: Session, figures: Iterable[JobFigures], by: str) -> tuple[Group, ...]:
    """Jobs added up by customer, kind, size, quantity or month; each job counts in one group.

    Months and quantities in their order, all others by margin, the largest first.
    """
    rows = list(figures)
    groups: dict[str, Group] = {}
    name_of = _name_of(session, by)
    for row in rows:
        name = name_of(row)
        groups.setdefault(name, Group(name)).add(row)
    if by == "quantity":
        order = [*(name for _, name in QUANTITY_BANDS), "over 100"]
        return tuple(groups[name] for name in order if name in groups)
    if by == "month":
        return tuple(groups[name] for name in sorted(groups))
    return tuple(sorted(groups.values(), key=lambda group: (-group.margin, group.name)))


def _name_of(session: Session, by: str) -> Any:
    if by == "customer":
        return lambda row: row.customer
    if by == "quantity":
        return lambda row: quantity_band(row.sets)
    if by == "month":
        return lambda row: row.done_on[:7]
    names = kinds_of_jobs(session) if by == "kind" else sizes_of_jobs(session)
    return lambda row: names.get(row.id, "no parts")


def kinds_of_jobs(session: Session) -> dict[int, str]:
    """Kind of each job by what is done to its parts: straight, bent, welded, bent and welded."""
    from shopquote.records.jobs import PartBend, PartRow, WeldRow

    newest = _newest_revisions()
    bent = select(PartRow.job_revision_id).join(PartBend, PartBend.part_id == PartRow.id).distinct()
    shaped = select(PartRow.job_revision_id).where(PartRow.shape.is_not(None)).distinct()
    welded = select(WeldRow.job_revision_id).distinct()
    is_bent = case((newest.c.id.in_(bent), 1), (newest.c.id.in_(shaped), 1), else_=0)
    is_welded = case((newest.c.id.in_(welded), 1), else_=0)
    words = {(0, 0): "straight", (1, 0): "bent", (0, 1): "welded", (1, 1): "bent and welded"}
    rows = session.execute(select(newest.c.job_id, is_bent, is_welded))
    return {job_id: words[bool(a), bool(b)] for job_id, a, b in rows}


def sizes_of_jobs(session: Session) -> dict[int, str]:
    """The bar that most of each job's metal is: by mass, else by number of pieces."""
    from shopquote.records.jobs import PartRow

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
    """A section in millimetres, or in inches where it was made in inches.

    >>> bar_name("square 15.875"), bar_name("flat 40 x 8")
    ('square 5/8 in', 'flat 40 x 8 mm')
    """
    section = section_of(key)
    metric = all(size.nm % 500_000 == 0 for size in section.sizes)
    return section.name("mm" if metric else "in")


def _newest_revisions() -> Any:
    return (
        select(JobRevision.id, JobRevision.job_id)
        .join(Job, and_(Job.id == JobRevision.job_id, Job.revision == JobRevision.revision))
        .subquery("newest")
    )


WON_STATES = ("won", "started", "finished", "closed")
LOST_STATES = ("lost",)
MARGIN_BANDS = (0, 10, 20, 30, 40, 50)


def count_win_rates(session: Session, filters: Filters) -> tuple[WinRate, ...]:
    """Won, lost and open quotes by the margin that they were quoted at; by the day of the quote.

    Dropped jobs are left out: nobody decided on their price.
    """
    chosen = chosen_quotes()
    query = select(chosen.c.margin_pct, Job.state).join(Job, Job.id == chosen.c.job_id)
    query = query.where(Job.state != "dropped")
    if filters.since is not None:
        query = query.where(chosen.c.issued_on >= filters.since)
    if filters.until is not None:
        query = query.where(chosen.c.issued_on <= filters.until)
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(func.lower(Customer.name) == filters.customer.lower())
    band = case(
        *((chosen.c.margin_pct < Decimal(limit), index) for index, limit in enumerate(MARGIN_BANDS)),
        else_=len(MARGIN_BANDS),
    )
    query = query.with_only_columns(band.label("band"), Job.state, func.count()).group_by(band, Job.state)
    counts: dict[int, list[int]] = {}
    for index, state, number in session.execute(query):
        row = counts.setdefault(index, [0, 0, 0])
        row[0 if state in WON_STATES else 1 if state in LOST_STATES else 2] += number
    return tuple(WinRate(_band_name(index), *counts[index]) for index in sorted(counts))


def _band_name(index: int) -> str:
    if index == 0:
        return "below 0 %"
    if index == len(MARGIN_BANDS):
        return f"{MARGIN_BANDS[-1]} % and more"
    return f"{MARGIN_BANDS[index - 1]} to {MARGIN_BANDS[index]} %"
