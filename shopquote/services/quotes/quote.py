"""Quotes: draft, store, print again, list, accept or decline.

A stored quote is a document that nothing changes; a changed job, rate or wish makes the
next revision. `draft_quote` only reads, so plan with it in a reading session and store
the draft with `store_quote` in a short writing one; `make_quote` does both in one.
Questions to a stored quote ("at another margin?") are in `quote_changes`.
"""

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, cast

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.job import HoleSpec, JobSpec, WeldSpec
from shopquote.calc.pricing.answers import (
    Estimate,
    InwardsRule,
    Learning,
    LineStyle,
    MaterialBasis,
    PriceOverride,
    PricingPolicy,
    RackBasis,
    TaxRate,
)
from shopquote.calc.pricing.cautions import quote_cautions
from shopquote.calc.pricing.document import (
    Address,
    MetrePrice,
    PartPicture,
    QuoteDocument,
    SetContent,
    Wording,
    document_from_text,
    document_text,
)
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.price import price_job
from shopquote.calc.pricing.standards import completed
from shopquote.calc.pricing.work import job_work
from shopquote.calc.takeoff.answers import Material
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import CannotMakeError, InputError, NotFoundError, nearest_word
from shopquote.records.jobs import Job
from shopquote.records.people import Customer
from shopquote.records.quotes import (
    QUOTE_STATES,
    Quote,
    QuoteBreak,
    QuoteCost,
    QuoteLine,
    QuoteMaterial,
    QuoteMinutes,
    QuoteOperation,
)
from shopquote.records.shop import Shop
from shopquote.records.shop import TaxRate as TaxRow
from shopquote.services.buying.offers import stale_price_notes
from shopquote.services.jobs.jobs import LoadedJob, find_job, load_job, move_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.planner import PlannedMaterial, Planner
from shopquote.services.shop.database import next_number
from shopquote.services.shop.made_up import invented_benders, invented_words
from shopquote.services.shop.on_file import (
    bending_shop,
    standards_book,
    the_shop,
    without_idle_zeros,
)

# Work for the cut plans (see `Work`): of the quoted quantity, and of all others together.
PLAN_WORK = 4 * A_SECOND // 10
WORK_FOR_BREAKS = 16 * A_SECOND // 10
LARGEST_LOGO_BYTES = 400_000
LOGO_ENDINGS = (".png", ".jpg", ".jpeg", ".gif")
MOST_BREAKS = 20


@dataclass(frozen=True, slots=True)
class QuoteWishes:
    """What is asked differently for one quote; None and empty keep the job's and the shop's own."""

    sets: int | None = None
    breaks: tuple[int, ...] | None = None
    margin_pct: Decimal | None = None
    markup_pct: Decimal | None = None
    rush_pct: Decimal | None = None
    discount_pct: Decimal | None = None
    lines: LineStyle | None = None
    learning: Learning | None = None
    valid_days: int | None = None
    taxes: tuple[str, ...] = ()
    overrides: tuple[PriceOverride, ...] = ()


@dataclass(frozen=True)
class Draft:
    """A quote worked out and not stored. `document` has neither number nor revision yet."""

    loaded: LoadedJob
    document: QuoteDocument


@dataclass(frozen=True, slots=True)
class QuoteRow:
    """A stored quote as a list shows it."""

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


def make_quote(
    session: Session, job_number: str, today: date, wishes: QuoteWishes | None = None
) -> QuoteDocument:
    """Price a job and store it as the next revision of its quote.

    Raises:
        NotFoundError: no such job, or a standard that it needs is not on file.
        InputError: a wish that cannot be used, a job that is past quoting.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
    """
    return store_quote(session, draft_quote(session, job_number, today, wishes))


def draft_quote(session: Session, job_number: str, today: date, wishes: QuoteWishes | None = None) -> Draft:
    """Work a quote out and store nothing; see `make_quote`."""
    wishes = wishes or QuoteWishes()
    loaded = load_job(session, job_number)
    _refuse_to_quote(loaded.job)
    shop = the_shop(session)
    spec = loaded.spec
    answers = work_out_parts(spec, bending_shop(session))
    book = completed(standards_book(session, today).values())
    policy = _policy(session, shop, loaded.job.customer, wishes)
    work = job_work(spec, answers, book)
    planner = Planner(session, loaded, answers, today)
    sets = checked_sets(wishes.sets or spec.sets)
    asked = _checked_breaks(spec.breaks if wishes.breaks is None else wishes.breaks)

    def estimated(count: int, planned: PlannedMaterial) -> Estimate:
        return estimate_job(
            spec, answers, planned.materials, book, policy, count, charges=planned.charges,
            prices_per_metre=planner.prices_per_metre, offcut_credit_pct=planner.saw.keep_percent, work=work,
        )  # fmt: skip

    bought = planner.plan(sets, PLAN_WORK)
    estimate = estimated(sets, bought)
    other_sets = [count for count in asked if count != sets]
    share = min(PLAN_WORK, WORK_FOR_BREAKS // max(1, len(other_sets)))
    others: list[Estimate] = []
    planned = [*bought.materials]
    not_planned: list[str] = []
    for count in other_sets:
        try:
            made = planner.plan(count, share)
            others.append(estimated(count, made))
            planned += made.materials
        except CannotMakeError as error:
            # A stock length with a limit may not reach for the largest quantity; the rest is still quoted.
            not_planned.append(f"{count} sets are not offered: {error.message}")
    priced = price_job(spec, estimate, policy, others=others)
    if asked and sets not in asked:
        priced = replace(priced, breaks=tuple(step for step in priced.breaks if step.sets != sets))
    problems = tuple(
        f"Part {answer.mark}: {problem.message}" for answer in answers.values() for problem in answer.problems
    )
    stale = stale_price_notes(session, planned, today, old_after=book.value("price.old-after"), policy=policy)
    benders = (bend.bender for answer in answers.values() for bend in answer.bends)
    invented = invented_words(
        bought.suppliers, tuple(book.values()), estimate, invented_benders(session, benders)
    )
    notes = (*invented, *not_planned, *bought.guessed, *estimate.notes, *stale, *problems)
    document = QuoteDocument(
        job=loaded.job.number,
        job_revision=loaded.revision.revision,
        title=spec.title,
        number="",
        revision=0,
        issued_on=today,
        valid_until=today + timedelta(days=_valid_days(shop, wishes)),
        units=spec.units,
        use=spec.use,
        shop=_shop_address(shop),
        customer=_customer_address(loaded.job.customer),
        wording=_wording(shop),
        policy=policy,
        priced=priced,
        estimate=replace(estimate, notes=notes),
        standards=tuple(book.values()),
        parts=_pictures(spec, answers),
        cautions=quote_cautions(spec, answers.values()),
        materials=tuple(_to_keep(material) for material in bought.materials),
        charges=bought.charges,
        guessed=bought.guessed,
        invented=invented,
        due=spec.due,
        metre_prices=tuple(MetrePrice(*key, price) for key, price in planner.prices_per_metre.items()),
        offcut_credit_pct=planner.saw.keep_percent,
        content=_content(spec),
        description=spec.description,
        drawing=spec.drawing,
        enquiry=spec.enquiry,
    )
    return Draft(loaded, document)


def store_quote(session: Session, draft: Draft, *, at: datetime | None = None) -> QuoteDocument:
    """Store a draft as the next revision; the same quote made again the same day stays one revision.

    Args:
        session: open and writing; the caller commits.
        draft: what `draft_quote` worked out.
        at: the moment, for the job's history; None for the beginning of the day of issue.

    Raises:
        InputError: the job was revised or left the states in which it is quoted meanwhile.
    """
    document = draft.document
    job = find_job(session, document.job)
    _refuse_to_quote(job)
    if job.revision != document.job_revision:
        raise InputError(f"Job {job.number} was revised meanwhile; quote it again.")
    newest: Quote | None = session.scalar(_newest_first(job).limit(1))
    if newest is None:
        number, revision = next_number(session, "Q"), 1
    else:
        number, revision = newest.number, newest.revision + 1
        same = replace(document, number=number, revision=newest.revision)
        if newest.state == "sent" and newest.snapshot == document_text(same):
            return same
        if newest.state == "sent":
            newest.state = "replaced"
    stored = replace(document, number=number, revision=revision)
    at = at or datetime.combine(document.issued_on, time(), UTC)
    session.add(_quote_row(stored, job, draft.loaded.revision.id, at))
    if job.state == "asked":
        move_job(job, "quoted", at=at, reason=f"{number} revision {revision}")
    session.flush()
    return stored


def stored_quote(session: Session, job_number: str, revision: int | None = None) -> QuoteDocument:
    """A stored quote, to be printed again as it was.

    Raises:
        NotFoundError: the job was not quoted, or not so often.
    """
    return document_from_text(_quote(session, job_number, revision).snapshot)


def list_quotes(
    session: Session, today: date, *, states: Sequence[str] = (), job_number: str | None = None
) -> list[QuoteRow]:
    """Stored quotes, newest last; one that nobody answered in time counts as expired.

    Raises:
        NotFoundError: no such job.
        InputError: a word that is no state.
    """
    for state in states:
        if state not in QUOTE_STATES:
            near = nearest_word(state, QUOTE_STATES)
            meant = f" Did you mean {near!r}?" if near else ""
            raise InputError(f"{state!r} is no state of a quote; expected {', '.join(QUOTE_STATES)}.{meant}")
    query = (
        select(
            Quote.number, Quote.revision, Job.number, Customer.name, Quote.state, Quote.issued_on,
            Quote.valid_until, Quote.currency, Quote.net, Quote.total, Quote.margin_pct, Quote.reason,
        )
        .join(Job, Job.id == Quote.job_id)
        .join(Customer, Customer.id == Job.customer_id)
        .order_by(Quote.id)
    )  # fmt: skip
    if job_number is not None:
        query = query.where(Quote.job_id == find_job(session, job_number).id)
    rows = [QuoteRow(*list(row)) for row in session.execute(query)]
    rows = [replace(row, state=_state_on(row.state, row.valid_until, today)) for row in rows]
    return [row for row in rows if not states or row.state in states]


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
    """Note that the customer accepted or declined; the job is won or lost with it.

    `at` is the moment for the job's history; None for the beginning of the day.

    Raises:
        NotFoundError: the job was not quoted.
        InputError: another word than accepted or declined, a quote that is no longer open,
            a declined one without the reason why.
    """
    if answer not in ("accepted", "declined"):
        raise InputError(f"The answer is {answer!r}; expected accepted or declined.")
    if answer == "declined" and not reason.strip():
        raise InputError("A declined quote needs the reason why; it is what the next quote learns from.")
    quote = _quote(session, job_number, revision)
    state = _state_on(quote.state, quote.valid_until, on)
    late_no = state == "expired" and answer == "declined"  # the reason is worth having, however late
    if state != "sent" and not late_no:
        hint = f"Quote it again: shopquote quote {quote.job.number}" if state == "expired" else None
        raise InputError(
            f"{quote.number} revision {quote.revision} is {state} and cannot be {answer}.", hint=hint
        )
    quote.state, quote.decided_on, quote.reason = answer, on, reason.strip()
    job = quote.job
    at = at or datetime.combine(on, time(), UTC)
    if job.state == "quoted":
        move_job(job, "won" if answer == "accepted" else "lost", at=at, reason=reason.strip())
    session.flush()
    return next(
        row for row in list_quotes(session, on, job_number=job.number) if row.revision == quote.revision
    )


# --- drafting ------------------------------------------------------------------------------


def _refuse_to_quote(job: Job) -> None:
    if job.state not in ("asked", "quoted", "won", "started"):
        raise InputError(
            f"Job {job.number} is {job.state} and is quoted no more.",
            hint=f"Print a quote again: shopquote quote {job.number} --again",
        )


def _policy(session: Session, shop: Shop, customer: Customer, wishes: QuoteWishes) -> PricingPolicy:
    margin, markup = _short(shop.margin_pct), _short(shop.markup_pct)
    if wishes.margin_pct is not None or wishes.markup_pct is not None:
        margin, markup = wishes.margin_pct, wishes.markup_pct
    return PricingPolicy(
        currency=shop.currency,
        margin_pct=margin,
        markup_pct=markup,
        overhead_pct=without_idle_zeros(shop.overhead_pct),
        contingency_pct=without_idle_zeros(shop.contingency_pct),
        scrap_pct=without_idle_zeros(shop.scrap_pct),
        minimum_order=without_idle_zeros(shop.minimum_order),
        material_basis=cast(MaterialBasis, shop.material_basis),
        net_share_pct=without_idle_zeros(shop.net_share_pct),
        credit_offcuts=shop.credit_offcuts,
        rack_charge_pct=without_idle_zeros(shop.rack_charge_pct),
        rack_basis=cast(RackBasis, shop.rack_basis),
        inwards=cast(InwardsRule, shop.inwards),
        usual_inwards=without_idle_zeros(shop.usual_inwards),
        bought_markup_pct=_short(shop.bought_markup_pct),
        outside_markup_pct=_short(shop.outside_markup_pct),
        rush_pct=wishes.rush_pct or Decimal(0),
        discount_pct=wishes.discount_pct or Decimal(0),
        learning=wishes.learning or cast(Learning, shop.learning),
        lines=wishes.lines or cast(LineStyle, shop.quote_lines),
        taxes=_taxes(session, wishes.taxes),
        tax_exempt=customer.tax_exempt,
        overrides=wishes.overrides,
    )


def _short(value: Decimal | None) -> Decimal | None:
    return None if value is None else without_idle_zeros(value)


def _taxes(session: Session, names: Sequence[str]) -> tuple[TaxRate, ...]:
    rows = {row.name: row for row in session.scalars(select(TaxRow).order_by(TaxRow.id))}
    for name in names:
        if name not in rows:
            near = nearest_word(name, rows)
            raise NotFoundError(
                f"Tax {name!r} is not on file.",
                hint=f"Did you mean {near!r}?" if near else f"On file: {', '.join(rows)}",
            )
        if names.count(name) > 1:
            raise InputError(f"Tax {name!r} is named twice; a quote charges it once.")
    chosen = [rows[name] for name in names] or [row for row in rows.values() if row.is_default]
    return tuple(TaxRate(row.name, without_idle_zeros(row.percent)) for row in chosen)


def _valid_days(shop: Shop, wishes: QuoteWishes) -> int:
    days = shop.quote_valid_days if wishes.valid_days is None else wishes.valid_days
    if not 1 <= days <= 3650:
        raise InputError(f"A quote is valid for {days} days; expected 1 to 3650.")
    return days


def checked_sets(sets: int) -> int:
    """A number of sets that can be quoted.

    Raises:
        InputError: it cannot.
    """
    if not 1 <= sets <= 100_000:
        raise InputError(f"Quantity is {sets} sets; expected 1 to 100 000.")
    return sets


def _checked_breaks(breaks: Sequence[int]) -> tuple[int, ...]:
    if len(breaks) > MOST_BREAKS:
        raise InputError(f"{len(breaks)} quantities side by side; expected at most {MOST_BREAKS}.")
    return tuple(sorted({checked_sets(sets) for sets in breaks}))


def _shop_address(shop: Shop) -> Address:
    return Address(shop.name, shop.address, shop.email, shop.phone, shop.tax_number)


def _customer_address(customer: Customer) -> Address:
    return Address(customer.name, customer.address, customer.email, customer.phone)


def _wording(shop: Shop) -> Wording:
    return Wording(
        lead_time=shop.lead_time,
        terms=shop.terms,
        deposit_pct=without_idle_zeros(shop.deposit_pct),
        included=shop.included,
        excluded=shop.excluded,
        delivery_term=shop.delivery_term,
        locale=shop.locale,
        paper=shop.paper,
        logo=_logo(shop.logo_path),
        invented=shop.invented,
    )


def _logo(path_text: str) -> str:
    """The logo's bytes as base64, kept with the quote; empty without a logo.

    Raises:
        InputError: the file is not there, too large or not a picture.
    """
    if not path_text:
        return ""
    path = Path(path_text).expanduser()
    hint = "Name another, or none, in: shopquote setup"
    if path.suffix.lower() not in LOGO_ENDINGS:
        raise InputError(f"Logo {path} is not a picture; expected {', '.join(LOGO_ENDINGS)}.", hint=hint)
    try:
        picture = path.read_bytes()
    except OSError as error:
        raise InputError(f"Logo {path} cannot be read: {error.strerror or error}.", hint=hint) from error
    if len(picture) > LARGEST_LOGO_BYTES:
        raise InputError(
            f"Logo {path} has {len(picture)} bytes; expected at most {LARGEST_LOGO_BYTES}.", hint=hint
        )
    return base64.b64encode(picture).decode("ascii")


def _pictures(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[PartPicture, ...]:
    pictures = []
    for part in spec.parts:
        answer = answers[part.mark]
        line = tuple((round(x, 3), round(y, 3), round(z, 3)) for x, y, z in answer.centreline_mm)
        pictures.append(
            PartPicture(
                mark=part.mark,
                name=part.name,
                per_set=part.per_set,
                bar=part.bar,
                grade=answer.grade.on_paper(hollow=answer.section.is_hollow),
                size=_size_words(answer.envelope_mm, spec.units),
                depth_mm=round(answer.section.depth_mm(part.bend_axis), 3),
                line_mm=line,
                holes=", ".join(_hole_words(hole) for hole in part.holes),
                turned=dict(part.worked_ends).get("turned", 0),
                threaded=dict(part.worked_ends).get("threaded", 0),
                twists=answer.twists,
            )
        )
    return tuple(pictures)


def _content(spec: JobSpec) -> SetContent:
    finish = spec.finish if spec.finish is not None and spec.finish.kind != "none" else None
    return SetContent(
        welds=tuple(_weld_words(weld) for weld in spec.welds),
        bought=tuple((item.name, item.per_set) for item in spec.bought),
        outside=tuple(work.name for work in spec.outside),
        finish=finish.kind if finish else "",
        coats=finish.coats if finish else 0,
    )


def _weld_words(weld: WeldSpec) -> str:
    return f"{weld.count} x {weld.kind} {weld.leg.text} x {weld.length.text} {weld.process}"


def _size_words(envelope_mm: Sequence[float], unit: Unit) -> str:
    """Sizes over all with the unit once: 250 x 300 x 40 mm."""
    sizes = [show_length(Length.from_mm(size), unit) for size in envelope_mm if size >= 0.05]
    return " x ".join(size.removesuffix(f" {unit}") for size in sizes) + f" {unit}"


def _hole_words(hole: HoleSpec) -> str:
    return " ".join([f"{hole.count} x {hole.size}", *hole.works])


def _to_keep(material: Material) -> Material:
    """A material without its proof, its search time and the sources of its grade."""
    return replace(
        material,
        grade=replace(material.grade, sources={}),
        plan=replace(material.plan, proof=None, seconds=0.0, work=0),
    )


# --- storing -------------------------------------------------------------------------------


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
                f"Job {job.number} was not quoted yet.", hint=f"Quote it: shopquote quote {job.number}"
            )
        raise NotFoundError(
            f"Job {job.number} has no quote revision {revision}.", hint=f"Revisions: 1 to {newest}."
        )
    return quote


def _minutes_rows(estimate: Estimate) -> list[QuoteMinutes]:
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
    """The rows of each operation together, for reviews of many jobs."""
    sums: dict[str, QuoteOperation] = {}
    for row in minutes:
        held = sums.setdefault(
            row.operation, QuoteOperation(operation=row.operation, minutes=Decimal(0), cost=Decimal(0))
        )
        held.minutes += row.minutes
        held.cost += row.cost
    return list(sums.values())


def _quote_row(document: QuoteDocument, job: Job, job_revision_id: int, at: datetime) -> Quote:
    priced, estimate = document.priced, document.estimate
    spread = estimate.confidence.deviation / estimate.cost * 100
    minutes = _minutes_rows(estimate)
    return Quote(
        job_id=job.id,
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
        margin_pct=priced.margin_pct,
        spread_pct=round(spread, 2),
        snapshot=document_text(document),
        lines=[
            QuoteLine(
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
