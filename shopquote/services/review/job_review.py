"""Review of one job in full: what it was quoted at, what it cost, what it earned.

A closed job has the figures fixed when it was closed (`close`); others are worked out from what is logged
now. The caller opens a reading session.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import CATEGORIES, NEVER_LOGGED, NEVER_MISSED
from shopquote.calc.review.variance import Earned, Variance, add_up, explain, follow_labour, per_cent
from shopquote.calc.snapshot import Snapshot
from shopquote.errors import InputError, NotFoundError, counted, nearest_word
from shopquote.reading.kinds.words import name_key
from shopquote.records.closings import Closing
from shopquote.records.jobs import Job
from shopquote.records.logs import BoughtUse, Invoice, OutsideBill, ScrapNote
from shopquote.records.quotes import Quote
from shopquote.records.rack import BarUse
from shopquote.services.floor.delivery_note import delivered_words
from shopquote.services.floor.time_log import running_timers
from shopquote.services.jobs.jobs import find_job, newest_revision
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.cost_lines import (
    LoggedWork,
    as_quoted,
    bought_lines,
    labour_lines,
    logged_minutes,
    material_lines,
    not_in_lines,
    outside_lines,
)
from shopquote.services.review.good_pieces import short_of_good
from shopquote.services.review.missing import (
    Missing,
    deliveries_untold,
    hardly_logged,
    what_is_missing,
    wrong_operation,
)
from shopquote.services.review.review_sums import earned_price, job_figures
from shopquote.services.review.selection import Filters
from shopquote.services.shop.shop_on_file import shop_currency

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class JobReview:
    """One job in full; `lines` are its costs, each with the parts of its variance.

    `assumed` names what counts as quoted because nothing was logged; `notes` say what is missing or doubtful;
    `sentences` explain the large variances.
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
        """Sum of all lines."""
        return add_up(self.lines)

    @property
    def minutes_assumed(self) -> Decimal:
        """Minutes that count as quoted because nobody logged any."""
        return sum((line.minutes_actual for line in self.lines if line.as_quoted), ZERO)

    @property
    def gap(self) -> Decimal:
        """Cost that counts as quoted because nobody logged it; without consumables, which nobody logs."""
        return sum(
            (line.actual for line in self.lines if line.as_quoted and line.category not in NEVER_MISSED), ZERO
        )

    @property
    def not_spent(self) -> Decimal:
        """Allowances and contingency of the quote that were not spent in any line."""
        allowed = (line for line in self.lines if line.is_allowed)
        return sum((max(ZERO, line.estimated - line.actual) for line in allowed), ZERO)

    @property
    def margin_if_spent_pct(self) -> Decimal | None:
        """Margin in per cent of the price if all of `not_spent` were spent."""
        return per_cent(self.actual.margin - self.not_spent, self.price)

    @property
    def categories(self) -> dict[str, Variance]:
        """Sum of each category's lines, in the usual order."""
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
            (getattr(line, side) for line in self.lines if line.category not in ("labour", *NEVER_LOGGED)),
            ZERO,
        )
        worked = total.minutes_estimated if side == "estimated" else total.minutes_actual
        return Earned(price, getattr(total, side), price - paid, worked)


def review_job(session: Session, number: str, *, closing: int | None = None) -> JobReview:
    """Review of one job; `closing` 1, 2, ... returns the figures of an earlier closing.

    Raises:
        NotFoundError: no such job or closing.
        InputError: the job has no quote to compare with.
    """
    job = find_job(session, number)
    held = session.scalars(select(Closing).where(Closing.job_id == job.id).order_by(Closing.id)).all()
    if closing is not None:
        if not 1 <= closing <= len(held):
            raise NotFoundError(
                f"{job.number} was closed {counted(len(held), 'time')}; closing {closing} is not on file."
            )
        return _as_printed_again(held[closing - 1])
    # A closing's figures stand, however rates and house rules have changed since.
    if job.state == "closed" and held and held[-1].snapshot:
        return read_snapshot(held[-1].snapshot)
    return work_out(session, job)


def _as_printed_again(closing: Closing) -> JobReview:
    """The review of a closing; if it was reopened, with a note why it no longer stands."""
    review = read_snapshot(closing.snapshot)
    if closing.reopened_on is None:
        return review
    return replace(review, notes=(*review.notes, f"Opened again on {closing.reopened_on}: {closing.reason}"))


def missing_of(session: Session, job: Job) -> Missing:
    """What the job's quote plans and nobody logged.

    Raises:
        InputError: the job has no quote to compare with.
    """
    logged = _Logged.of(session, job)
    return _missing(quote_of(session, job), logged)


@dataclass(frozen=True, slots=True)
class BeforeClosing:
    """What to ask a person before a job is closed.

    `missing` is planned and not logged; `few` are operations with hardly any minutes, and `short` marks with
    too few good pieces, both in words.
    """

    missing: Missing
    few: tuple[str, ...]
    short: tuple[str, ...]


def before_closing(session: Session, job: Job) -> BeforeClosing:
    """What to ask a person before the figures of a job are fixed.

    Raises:
        InputError: the job has no quote to compare with.
    """
    quote, logged = quote_of(session, job), _Logged.of(session, job)
    missing, made = _missing(quote, logged), _made(session, job, quote)
    quoted = {row.category: row.amount for row in quote.costs}.get("labour", ZERO)
    currency = shop_currency(session)
    labour, _ = labour_lines(quote, quoted, logged.minutes, made, currency, missing.labour)
    return BeforeClosing(missing, hardly_logged(labour), short_of_good(session, job))


def _made(session: Session, job: Job, quote: Quote) -> Decimal:
    """Sets made over sets quoted; they differ if the job was revised after it was quoted."""
    return Decimal(newest_revision(session, job).sets) / Decimal(quote.job_revision.sets)


def _missing(quote: Quote, logged: "_Logged") -> Missing:
    return what_is_missing(quote, logged.minutes, logged.bars, logged.bought, logged.bills)


@dataclass(frozen=True, slots=True)
class _Logged:
    """What was logged on a job: minutes by operation, bars, bought items and bills."""

    minutes: Mapping[str, LoggedWork]
    bars: Sequence[BarUse]
    bought: Sequence[BoughtUse]
    bills: Sequence[OutsideBill]

    @classmethod
    def of(cls, session: Session, job: Job) -> "_Logged":
        return cls(
            logged_minutes(session, job),
            session.scalars(select(BarUse).where(BarUse.job_id == job.id)).all(),
            session.scalars(select(BoughtUse).where(BoughtUse.job_id == job.id)).all(),
            session.scalars(select(OutsideBill).where(OutsideBill.job_id == job.id)).all(),
        )

    @property
    def categories(self) -> frozenset[str]:
        """Cost categories on which anything is logged."""
        held = {"labour": self.minutes, "material": self.bars, "bought": self.bought, "outside": self.bills}
        return frozenset(name for name, things in held.items() if things)


def work_out(session: Session, job: Job, *, closing: Missing | None = None) -> JobReview:
    """The review of a job from what is logged now.

    `closing` says which missing entries count as quoted, all others as 0; None: all of them count as quoted,
    since unlogged work was not free.

    Raises:
        InputError: the job has no quote to compare with.
    """
    quote = quote_of(session, job)
    revision = newest_revision(session, job)
    made = _made(session, job, quote)
    currency = shop_currency(session)
    quoted = dict.fromkeys(CATEGORIES, ZERO) | {row.category: row.amount for row in quote.costs}
    logged = _Logged.of(session, job)
    missing = closing if closing is not None else _missing(quote, logged)
    lines, labour, rework = _cost_lines(quote, quoted, logged, made, currency, missing)
    price, invoiced = _price(session, job, quote)
    return JobReview(
        job.number, revision.title, job.customer.name, job.state, _done_on(session, job), revision.sets,
        currency,
        f"{quote.number} revision {quote.revision}", quote.net, price, invoiced, tuple(lines), rework,
        _scrapped(session, job), _assumed(quoted, logged, labour, missing),
        (
            *_notes(session, job, labour, invoiced),
            *_other_names(quote, logged.bought),
            *deliveries_untold(job, quote, logged.bars, logged.bought, currency),
        ),
        explain(lines, price, quoted=quote.net if invoiced else None, currency=currency),
    )  # fmt: skip


def _cost_lines(
    quote: Quote,
    quoted: Mapping[str, Decimal],
    logged: _Logged,
    made: Decimal,
    currency: str,
    missing: Missing,
) -> tuple[list[Variance], list[Variance], Decimal]:
    """All cost lines, those of labour alone, and minutes of rework; `made` is sets made over sets quoted."""
    labour, rework = labour_lines(quote, quoted["labour"], logged.minutes, made, currency, missing.labour)
    lines = [
        *material_lines(quote, quoted["material"], logged.bars, currency, missing.material),
        *labour,
        *as_quoted("consumables", quoted["consumables"]),
        *bought_lines(quote, quoted["bought"], logged.bought, currency, missing.bought),
        *outside_lines(quoted["outside"], logged.bills, made, currency, none=not missing.outside),
    ]
    if quoted["overhead"]:
        # Overhead is charged on hours worked, so it follows the logged hours.
        expected = sum((line.minutes_estimated for line in labour), ZERO)
        spent = sum((line.minutes_actual for line in labour), ZERO)
        lines.append(
            follow_labour(
                "overhead", "overhead", estimated=quoted["overhead"], minutes_estimated=expected,
                minutes_actual=spent, currency=currency,
            )
        )  # fmt: skip
    lines += not_in_lines("contingency", "contingency", quoted["contingency"], not logged.minutes)
    return lines, labour, rework


def _assumed(
    quoted: Mapping[str, Decimal], logged: _Logged, labour: Sequence[Variance], missing: Missing
) -> tuple[str, ...]:
    """Names of what counts as quoted because nothing was logged on it."""
    could_be: list[str] = [name for name in CATEGORIES if quoted[name] and name not in NEVER_LOGGED]
    assumed = [name for name in could_be if name not in logged.categories]
    # Not line by line for a category that is assumed as a whole.
    assumed += [name for name in missing.words if name.split(":")[0] not in assumed]
    if quoted["overhead"] and (not logged.minutes or not any(line.minutes_estimated for line in labour)):
        assumed.append("overhead")
    if quoted["contingency"] and not logged.minutes:
        assumed.append("contingency")
    return tuple(assumed)


def quote_of(session: Session, job: Job) -> Quote:
    """The quote that a job is compared with, with its costs, minutes and materials.

    Raises:
        InputError: the job has none.
    """
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


def _price(session: Session, job: Job, quote: Quote) -> tuple[Decimal, bool]:
    rows = session.scalars(select(Invoice).where(Invoice.job_id == job.id)).all()
    billed, credited = (
        sum((row.amount for row in rows if row.kind == kind), ZERO) for kind in ("invoice", "credit")
    )
    return earned_price(quote.net, billed, credited), bool(rows)


def _scrapped(session: Session, job: Job) -> tuple[tuple[str, int, str], ...]:
    rows = session.scalars(select(ScrapNote).where(ScrapNote.job_id == job.id).order_by(ScrapNote.id))
    return tuple((row.mark, row.count, row.reason) for row in rows)


def _notes(session: Session, job: Job, labour: Sequence[Variance], invoiced: bool) -> tuple[str, ...]:
    notes = []
    notes += wrong_operation(session, job, labour)
    notes += [
        f"Next to nothing is logged of {words}: did the rest go unlogged?" for words in hardly_logged(labour)
    ]
    notes += [f"Good pieces are short: {words}." for words in short_of_good(session, job)]
    if not invoiced:
        notes.append("Nothing was invoiced yet: the price is the quoted one.")
    for entry in running_timers(session, job=job):
        notes.append(f"A timer of {entry.person or 'somebody'} still runs on {entry.operation}.")
    notes += filter(None, [delivered_words(session, job)])
    return tuple(notes)


def _other_names(quote: Quote, bought: Sequence[BoughtUse]) -> list[str]:
    """Doubts that a bought item logged but not planned is a planned one under another name."""
    planned = {name_key(item.name): item.name for item in quote.job_revision.bought}
    logged = {name_key(use.name): use.name for use in bought}
    waiting = [name for key, name in planned.items() if key not in logged]
    told = []
    for key, name in logged.items():
        # Compared only with planned items that nobody logged: the others have their own use.
        near = nearest_word(name, waiting) if key not in planned else None
        if near is not None:
            told.append(f"{name} was logged and not planned, {near} planned and not logged: the same item?")
    return told


def _done_on(session: Session, job: Job) -> str:
    rows, _ = job_figures(session, Filters(jobs=(job.number,)), shop_currency(session))
    return rows[0].done_on


# Older closings were stored as the bare content, with the same fields.
_CLOSING = Snapshot("closing", JobReview, older=lambda content: content)


def write_snapshot(review: JobReview) -> str:
    """The stored text of a review."""
    return _CLOSING.text(review)


def read_snapshot(text: str) -> JobReview:
    """The review of a stored text, of an older version too: fields that it lacks have their default.

    Raises:
        InputError: the text is no review.
    """
    return _CLOSING.read(text)
