"""Quotes on file: store, find, list, accept and decline them.

A stored quote is a document that never changes; a changed job, rate or wish makes the next revision.
`make_quote` drafts and stores in one session; a draft that may take long is made in a reading session first.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

from sqlalchemy import ScalarSelect, Select, func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.document import QuoteDocument, document_from_text, document_text
from shopquote.calc.pricing.inwards import quoted_deliveries
from shopquote.calc.pricing.priced_quote import Estimate
from shopquote.calc.units import Length
from shopquote.errors import InputError, NotFoundError, counted
from shopquote.reading.kinds import word_typed
from shopquote.records.jobs import Job
from shopquote.records.people import Customer
from shopquote.records.quotes import (
    QUOTE_STATES,
    Quote,
    QuoteBreak,
    QuoteCost,
    QuoteLineRow,
    QuoteMaterial,
    QuoteMinutes,
    QuoteOperation,
)
from shopquote.services.jobs.job_states import STATES_ASKED, STATES_ENDED, move_job, on_from_the_end
from shopquote.services.jobs.jobs import find_job, revise_job_to
from shopquote.services.quotes.draft import Draft, QuoteWishes
from shopquote.services.quotes.quote import draft_quote, refuse_to_quote
from shopquote.services.shop.database import next_number


@dataclass(frozen=True, slots=True)
class QuoteRow:
    """A stored quote in a list; `joint` is the number of the joint quote that it belongs to, if any."""

    number: str
    revision: int
    job: str
    customer: str
    state: str
    issued_on: date
    valid_until: date
    currency: str
    net: Decimal
    total: Decimal
    margin_pct: Decimal
    reason: str
    joint: str = ""
    job_state: str = ""

    @property
    def answers(self) -> tuple[str, ...]:
        """Answers that can still be recorded."""
        return open_answers(self.state, self.job_state)


def open_answers(state: str, job_state: str) -> tuple[str, ...]:
    """Answers that a quote in this state can still get; none if its job is over.

    An expired quote can still be declined: the reason is worth having, however late.
    """
    if job_state in STATES_ENDED:
        return ()
    # An expired quote cannot be accepted, as its prices are old, but it is often declined late.
    return {"sent": ("accepted", "declined"), "expired": ("declined",)}.get(state, ())


def make_quote(
    session: Session, job_number: str, today: date, wishes: QuoteWishes | None = None
) -> QuoteDocument:
    """Draft a job's quote and store it as the next revision.

    Raises:
        NotFoundError: no such job, or a standard that it needs is not on file.
        InputError: a wish that cannot be used, or the job's state forbids a quote.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
    """
    return store_quote(session, draft_quote(session, job_number, today, wishes))


def store_quote(
    session: Session, draft: Draft, *, at: datetime | None = None, paper: str = ""
) -> QuoteDocument:
    """Store a draft as the next revision; if it equals the newest one, no revision is added.

    A quote for another number of sets than the job's revises the job to that number, unless it is won.

    Args:
        session: open and writing; the caller commits.
        draft: what `draft_quote` returned.
        at: the moment, for the job's history; None for the beginning of the day of issue.
        paper: number of the joint quote that it belongs to, for the history.

    Raises:
        InputError: since the draft was made, the job was revised or may no longer be quoted.
    """
    document = draft.document
    job = find_job(session, document.job)
    refuse_to_quote(session, job)
    if job.revision != document.job_revision:
        raise InputError(f"Job {job.number} was revised meanwhile; quote it again.")
    newest: Quote | None = session.scalar(_newest_first(job).limit(1))
    if newest is None:
        number, revision = next_number(session, "Q"), 1
    else:
        number, revision = newest.number, newest.revision + 1
        # Compared with the newest's own number and revision, so that these are no difference.
        same = replace(document, number=number, revision=newest.revision)
        # Quoting again without any change keeps the revision: the customer holds that paper already.
        if newest.state == "sent" and newest.snapshot == document_text(same):
            return same
        if newest.state == "sent":
            newest.state = "replaced"
    stored = replace(document, number=number, revision=revision)
    at = at or datetime.combine(document.issued_on, time(), UTC)
    of_job, sets = draft.loaded.revision, stored.priced.sets
    if sets != draft.loaded.spec.sets and job.state in STATES_ASKED:
        # What is quoted is what is bought, made and compared once the customer accepts it.
        spec = replace(draft.loaded.spec, sets=sets)
        why = f"quoted for {counted(sets, 'set')}"
        of_job = revise_job_to(session, job.number, spec, at=at, reason=why).revision
        stored = replace(stored, job_revision=of_job.revision)
    session.add(quote_row(stored, job.id, of_job.id, at))
    if job.state == "asked":
        move_job(job, "quoted", at=at, reason=f"{number} revision {revision}{paper and f' in {paper}'}")
    session.flush()
    return stored


def stored_quote(session: Session, job_number: str, revision: int | None = None) -> QuoteDocument:
    """A stored quote as it was issued; `revision` None is the newest.

    Raises:
        NotFoundError: the job was not quoted, or has no such revision.
    """
    return document_from_text(_quote(session, job_number, revision).snapshot)


def list_quotes(
    session: Session, today: date, *, states: Sequence[str] = (), job_number: str | None = None
) -> list[QuoteRow]:
    """Stored quotes, newest last; a sent one past its validity on `today` is listed as expired.

    Raises:
        NotFoundError: no such job.
        InputError: a word that is no state.
    """
    wanted = [word_typed("State", QUOTE_STATES, state) for state in states]
    query = (
        select(
            Quote.number, Quote.revision, Job.number, Customer.name, Quote.state, Quote.issued_on,
            Quote.valid_until, Quote.currency, Quote.net, Quote.total, Quote.margin_pct, Quote.reason,
            func.coalesce(_joint_number(), ""), Job.state,
        )
        .join(Job, Job.id == Quote.job_id)
        .join(Customer, Customer.id == Job.customer_id)
        .order_by(Quote.id)
    )  # fmt: skip
    if job_number is not None:
        query = query.where(Quote.job_id == find_job(session, job_number).id)
    rows = [QuoteRow(*list(row)) for row in session.execute(query)]
    # Expired is not stored: it follows from the day.
    rows = [replace(row, state=_state_on(row.state, row.valid_until, today)) for row in rows]
    return [row for row in rows if not states or row.state in wanted]


def _why_not(quote: Quote, state: str, answer: str) -> tuple[str, str | None]:
    """Why a quote cannot get this answer, to follow "is", and a hint what can be done instead."""
    job = quote.job
    # Of a dropped job nobody decided on the quote: its own state is still "sent".
    if job.state in STATES_ENDED and state in ("sent", "expired"):
        return f"of job {job.number}, which is {job.state}, and cannot be {answer}", on_from_the_end(job)
    if state == answer:
        return f"{state} already", None
    hint = None
    if job.state in STATES_ENDED:
        hint = on_from_the_end(job)
    elif state == "accepted":
        hint = f"If the customer has withdrawn: shopquote job status {job.number} dropped"
    elif state in ("expired", "declined"):
        hint = f"Quote it again: shopquote quote {job.number}"
    return f"{state} and cannot be {answer}", hint


def answer_quote(
    session: Session,
    job_number: str,
    answer: str,
    on: date,
    *,
    reason: str = "",
    revision: int | None = None,
    at: datetime | None = None,
) -> QuoteRow:
    """Record that the customer accepted or declined; the job becomes won or lost with it.

    Args:
        session: open and writing; the caller commits.
        job_number: the job.
        answer: accepted or declined.
        on: day of the answer.
        reason: required for a declined quote.
        revision: of the quote; None for the newest.
        at: the moment, for the job's history; None for the beginning of the day.

    Raises:
        NotFoundError: the job was not quoted, or has no such revision.
        InputError: another word, a quote that is no longer open or whose job is over, a day before the
            quote's own, or no reason for a declined one.
    """
    if answer not in ("accepted", "declined"):
        raise InputError(f"The answer is {answer!r}; expected accepted or declined.")
    if answer == "declined" and not reason.strip():
        raise InputError("A declined quote needs the reason why; it is what the next quote learns from.")
    quote = _quote(session, job_number, revision)
    state = _state_on(quote.state, quote.valid_until, on)
    job = quote.job
    if answer not in open_answers(state, job.state):
        why, hint = _why_not(quote, state, answer)
        raise InputError(f"{quote.number} revision {quote.revision} is {why}.", hint=hint)
    if on < quote.issued_on:
        raise InputError(
            f"The answer is of {on}, before {quote.number} revision {quote.revision} of {quote.issued_on}.",
            hint="Say on which day it came: --on DATE. If the quote's own day is wrong, quote it again: "
            f"shopquote quote {job.number}",
        )
    quote.state, quote.decided_on, quote.reason = answer, on, reason.strip()
    at = at or datetime.combine(on, time(), UTC)
    # A job already started stays so: only its answer came late.
    if job.state == "quoted":
        move_job(job, "won" if answer == "accepted" else "lost", at=at, reason=reason.strip())
    session.flush()
    return next(
        row for row in list_quotes(session, on, job_number=job.number) if row.revision == quote.revision
    )


def _newest_first(job: Job) -> Select[Any]:
    return select(Quote).where(Quote.job_id == job.id).order_by(Quote.revision.desc())


def _quote(session: Session, job_number: str, revision: int | None) -> Quote:
    job = find_job(session, job_number)
    query = _newest_first(job)
    if revision is not None:
        query = query.where(Quote.revision == revision)
    quote: Quote | None = session.scalar(query.limit(1))
    if quote is None:
        newest = session.scalar(select(func.max(Quote.revision)).where(Quote.job_id == job.id))
        if newest is None:
            raise NotFoundError(
                f"Job {job.number} was not quoted yet.",
                hint=on_from_the_end(job)
                if job.state in STATES_ENDED
                else f"Quote it: shopquote quote {job.number}",
            )
        raise NotFoundError(
            f"Job {job.number} has no quote revision {revision}.", hint=f"Revisions: 1 to {newest}."
        )
    return quote


def _minutes_rows(estimate: Estimate) -> list[QuoteMinutes]:
    # Rounded per line, not per operation: reviews learn from the lines and add them up.
    rates = {cost.operation: cost.rate for cost in estimate.operations}
    return [
        QuoteMinutes(
            operation=line.operation, standard=line.standard, kind=line.kind, quantity=line.quantity,
            how=line.how, value=line.value, factor=line.factor, minutes=line.minutes,
            rate=round(rates[line.operation], 4),
            cost=round(line.minutes * rates[line.operation] / 60, 4),
        )
        for line in estimate.minutes
    ]  # fmt: skip


def _added_up(minutes: Sequence[QuoteMinutes]) -> list[QuoteOperation]:
    """Minutes and cost by operation, stored beside the lines because reviews of many jobs read only these."""
    sums: dict[str, QuoteOperation] = {}
    for row in minutes:
        held = sums.setdefault(
            row.operation, QuoteOperation(operation=row.operation, minutes=Decimal(0), cost=Decimal(0))
        )
        held.minutes += row.minutes
        held.cost += row.cost
    return list(sums.values())


def quote_row(
    document: QuoteDocument, job_id: int, job_revision_id: int, at: datetime | None, text: str | None = None
) -> Quote:
    """New rows of a quote's document, not yet in a session; `text` is its stored text if already made."""
    priced, estimate = document.priced, document.estimate
    spread = estimate.confidence.deviation / estimate.cost * 100
    minutes = _minutes_rows(estimate)
    return Quote(
        job_id=job_id,
        job_revision_id=job_revision_id,
        number=document.number,
        revision=document.revision,
        state="sent",
        issued_on=document.issued_on,
        issued_at=at,
        valid_until=document.valid_until,
        currency=priced.currency,
        net=priced.net,
        tax=priced.tax,
        total=priced.total,
        cost=priced.cost,
        deliveries=quoted_deliveries(estimate.costs, document.charges),
        margin_pct=priced.margin_pct,
        spread_pct=round(spread, 2),
        snapshot=text or document_text(document),
        lines=[
            QuoteLineRow(
                position=position, text=line.text, quantity=Decimal(line.quantity),
                unit_price=line.unit_price, amount=line.amount, reason=line.override_reason,
            )
            for position, line in enumerate(priced.lines, start=1)
        ],
        breaks=[
            QuoteBreak(sets=step.sets, unit_price=step.unit_price, total=step.total)
            for step in priced.breaks
        ],
        minutes=minutes,
        operations=_added_up(minutes),
        costs=[QuoteCost(category=name, amount=amount) for name, amount in estimate.by_category.items()],
        materials=[
            QuoteMaterial(
                section_key=material.section_key, section_text=material.section, grade=material.grade,
                bought=Length.from_mm(material.bought_m * 1000), net=Length.from_mm(material.net_m * 1000),
                bars=material.bars, mass_kg=material.mass_kg, cost=material.amount,
            )
            for material in estimate.materials
        ],
    )  # fmt: skip


def _state_on(state: str, valid_until: date, day: date) -> str:
    return "expired" if state == "sent" and valid_until < day else state


def _joint_number() -> ScalarSelect[str]:
    """The number of the joint quote that a quote belongs to; it stays the same over revisions."""
    from shopquote.records.joint_quotes import JointQuote, JointQuoteMember  # to store a quote none is read

    # A quote can be on several papers if jobs were quoted together in other groups; the newest counts.
    number = select(func.max(JointQuote.number)).join(JointQuoteMember)
    return number.where(JointQuoteMember.quote_id == Quote.id).correlate(Quote).scalar_subquery()
