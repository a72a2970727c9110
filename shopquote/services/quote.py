"""Quotes: draft, store, print again, answer "what if", compare, accept or decline.

A stored quote is a document that nothing changes; a changed job, rate or wish makes the
next revision. `draft_quote` only reads, so plan with it in a reading session and store
the draft with `store_quote` in a short writing one; `make_quote` does both in one.
"""

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import cast

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import WELD_PROCESSES, HoleSpec, JobSpec
from shopquote.calc.pricing.answers import (
    Estimate,
    Learning,
    LineStyle,
    MaterialBasis,
    PriceOverride,
    PricingPolicy,
    TaxRate,
)
from shopquote.calc.pricing.cautions import quote_cautions
from shopquote.calc.pricing.document import (
    Address,
    PartPicture,
    QuoteDocument,
    Wording,
    document_from_text,
    document_text,
)
from shopquote.calc.pricing.estimate import PricesPerMetre, estimate_job
from shopquote.calc.pricing.price import PriceTarget, price_job, price_target
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work import job_work
from shopquote.calc.takeoff.answers import Material, RackBar, StockBar
from shopquote.calc.takeoff.takeoff import take_off
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.records.jobs import Job
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote, QuoteBreak, QuoteCost, QuoteLine, QuoteMaterial, QuoteMinutes
from shopquote.records.shop import Shop
from shopquote.records.shop import TaxRate as TaxRow
from shopquote.services.database import next_number
from shopquote.services.jobs import LoadedJob, find_job, load_job, move_job, work_out_parts
from shopquote.services.on_file import bending_shop, saw_settings, standards_book, the_shop
from shopquote.services.takeoff import rack_bars, stock_bars

# Search time for the cut plans: of the quoted quantity, and of all others together.
SECONDS = 0.4
SECONDS_FOR_BREAKS = 1.6
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
    book = standards_book(session, today)
    policy = _policy(session, shop, loaded.job.customer, wishes)
    work = job_work(spec, answers, book)
    planner = _Planner(session, loaded, answers, today)
    sets = _checked_sets(wishes.sets or spec.sets)
    asked = _checked_breaks(spec.breaks if wishes.breaks is None else wishes.breaks)

    def estimated(count: int, materials: tuple[Material, ...]) -> Estimate:
        return estimate_job(
            spec, answers, materials, book, policy, count,
            prices_per_metre=planner.prices_per_metre, offcut_credit_pct=planner.saw.keep_percent, work=work,
        )  # fmt: skip

    materials = planner.plan(sets, SECONDS)
    estimate = estimated(sets, materials)
    other_sets = [count for count in asked if count != sets]
    seconds = SECONDS_FOR_BREAKS / max(1, len(other_sets))
    others = [estimated(count, planner.plan(count, min(SECONDS, seconds))) for count in other_sets]
    priced = price_job(spec, estimate, policy, others=others)
    if asked and sets not in asked:
        priced = replace(priced, breaks=tuple(step for step in priced.breaks if step.sets != sets))
    problems = tuple(
        f"Part {answer.mark}: {problem.message}" for answer in answers.values() for problem in answer.problems
    )
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
        estimate=replace(estimate, notes=(*estimate.notes, *problems)),
        standards=tuple(book.values()),
        parts=_pictures(spec, answers),
        cautions=quote_cautions(spec, answers.values()),
        materials=tuple(_to_keep(material) for material in materials),
        due=spec.due,
    )
    return Draft(loaded, document)


def store_quote(session: Session, draft: Draft) -> QuoteDocument:
    """Store a draft as the next revision; the same quote made again the same day stays one revision.

    Raises:
        InputError: the job was revised or left the states in which it is quoted meanwhile.
    """
    document = draft.document
    job = find_job(session, document.job)
    _refuse_to_quote(job)
    if job.revision != document.job_revision:
        raise InputError(f"Job {job.number} was revised meanwhile; quote it again.")
    newest = session.scalar(_newest_first(job).limit(1))
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
    at = datetime.combine(document.issued_on, time(), UTC)
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
    """Stored quotes, newest last; one that nobody answered in time counts as expired."""
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
    session: Session, job_number: str, answer: str, on: date, *, reason: str = "", revision: int | None = None
) -> QuoteRow:
    """Note that the customer accepted or declined; the job is won or lost with it.

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
    if state != "sent":
        hint = f"Quote it again: shopquote quote {quote.job.number}" if state == "expired" else None
        raise InputError(
            f"{quote.number} revision {quote.revision} is {state} and cannot be {answer}.", hint=hint
        )
    quote.state, quote.decided_on, quote.reason = answer, on, reason.strip()
    job = quote.job
    at = datetime.combine(on, time(), UTC)
    if job.state == "quoted":
        move_job(job, "won" if answer == "accepted" else "lost", at=at, reason=reason.strip())
    session.flush()
    return next(
        row for row in list_quotes(session, on, job_number=job.number) if row.revision == quote.revision
    )


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs between two quotes; amounts where it is a figure."""

    what: str
    before: str
    after: str
    change: str = ""


def compare_quotes(before: QuoteDocument, after: QuoteDocument) -> tuple[Difference, ...]:
    """What differs between two revisions, in words and figures, the price first."""
    differences: list[Difference] = []

    def figure(what: str, one: Decimal | None, other: Decimal | None) -> None:
        if one != other:
            change = "" if one is None or other is None else f"{other - one:+f}"
            differences.append(Difference(what, _shown(one), _shown(other), change))

    def word(what: str, one: object, other: object) -> None:
        if one != other:
            differences.append(Difference(what, str(one or ""), str(other or "")))

    word("job revision", before.job_revision, after.job_revision)
    word("currency", before.priced.currency, after.priced.currency)
    figure("sets", Decimal(before.priced.sets), Decimal(after.priced.sets))
    figure("total", before.priced.total, after.priced.total)
    figure("tax", before.priced.tax, after.priced.tax)
    figure("net", before.priced.net, after.priced.net)
    _compare(figure, "unit price of {}", {line.text: line.unit_price for line in before.priced.lines},
             {line.text: line.unit_price for line in after.priced.lines})  # fmt: skip
    _compare(figure, "unit price of {} sets", {step.sets: step.unit_price for step in before.priced.breaks},
             {step.sets: step.unit_price for step in after.priced.breaks})  # fmt: skip
    figure("cost", before.priced.cost, after.priced.cost)
    figure("margin %", before.priced.margin_pct, after.priced.margin_pct)
    _compare(figure, "cost of {}", before.estimate.by_category, after.estimate.by_category)
    _compare(figure, "minutes of {}", before.estimate.by_operation, after.estimate.by_operation)
    _compare(figure, "standard {}", {line.standard: line.value for line in before.estimate.minutes},
             {line.standard: line.value for line in after.estimate.minutes})  # fmt: skip
    _compare(figure, "rate of {}", {cost.operation: cost.rate for cost in before.estimate.operations},
             {cost.operation: cost.rate for cost in after.estimate.operations})  # fmt: skip
    for name in ("lead_time", "terms", "deposit_pct", "included", "excluded", "delivery_term"):
        word(name.replace("_", " "), getattr(before.wording, name), getattr(after.wording, name))
    word("valid until", before.valid_until, after.valid_until)
    return tuple(differences)


@dataclass(frozen=True)
class WhatIf:
    """A stored quote beside the same job under other conditions; stored nowhere."""

    before: QuoteDocument
    after: QuoteDocument
    changes: tuple[str, ...]
    differences: tuple[Difference, ...]


_POLICY_WORDS = {
    "margin": "margin_pct", "markup": "markup_pct", "rush": "rush_pct", "discount": "discount_pct",
    "overhead": "overhead_pct", "contingency": "contingency_pct", "scrap": "scrap_pct",
}  # fmt: skip
# What people call a standard that stands for a whole price list.
_STANDARD_WORDS = {
    "stock-price": "price.material",
    "bought-price": "price.bought",
    "outside-price": "price.outside",
}


def what_if(
    session: Session, job_number: str, today: date, changes: Mapping[str, str], revision: int | None = None
) -> WhatIf:
    """Answer "what if" beside the stored quote, from the figures of its day.

    Args:
        session: reading is enough.
        job_number: a job that was quoted.
        today: for prices where another quantity has to be planned.
        changes: by word: margin, markup, rush, discount, overhead, contingency, scrap (per cent), sets,
            process (of all welds), stock-price, bought-price, outside-price or any standard's name.
            A standard takes a number, or a change such as +10% or -5%.
        revision: of the quote; None for the newest.

    Raises:
        NotFoundError: the job was not quoted, a word is neither of these nor a standard.
        InputError: a value cannot be used.
    """
    before = stored_quote(session, job_number, revision)
    loaded = load_job(session, job_number, revision=before.job_revision)
    spec, policy, sets = loaded.spec, before.policy, before.priced.sets
    book = StandardsBook(before.standards)
    values: dict[str, Decimal] = {}
    for word, text in changes.items():
        if word == "sets":
            sets = _checked_sets(_whole(word, text))
        elif word == "process":
            spec = _with_process(spec, text)
        elif word in _POLICY_WORDS:
            policy = _with_policy(policy, word, _number(word, text))
        else:
            name = _standard_named(word, book)
            values[name] = _changed(word, text, book.value(name))
    book = book.with_values(values)
    answers = work_out_parts(spec, bending_shop(session))
    planner = _Planner(session, loaded, answers, today)
    materials = before.materials if sets == before.priced.sets else planner.plan(sets, SECONDS)
    estimate = estimate_job(
        spec, answers, materials, book, policy, sets,
        prices_per_metre=planner.prices_per_metre if values or sets != before.priced.sets else None,
        offcut_credit_pct=planner.saw.keep_percent,
    )  # fmt: skip
    priced = replace(price_job(spec, estimate, policy), breaks=before.priced.breaks)
    after = replace(
        before, policy=policy, priced=priced, estimate=estimate, standards=tuple(book.values()), materials=()
    )
    words = tuple(f"{word} {text}" for word, text in changes.items())
    return WhatIf(before, after, words, compare_quotes(before, after))


def price_for(session: Session, job_number: str, net: Decimal, revision: int | None = None) -> PriceTarget:
    """Which margin a wished net price leaves, and which minutes would have to be saved.

    Raises:
        NotFoundError: the job was not quoted.
        InputError: the price is not above zero.
    """
    document = stored_quote(session, job_number, revision)
    return price_target(document.estimate, document.policy, net)


# --- drafting ------------------------------------------------------------------------------


class _Planner:
    """Plans the cutting for any quantity; asks the database once for each section."""

    def __init__(
        self, session: Session, loaded: LoadedJob, answers: Mapping[str, PartAnswer], today: date
    ) -> None:
        self._session, self._loaded, self._answers, self._today = session, loaded, answers, today
        self._stocks: dict[tuple[str, str], list[StockBar]] = {}
        self._racks: dict[tuple[str, str], list[RackBar]] = {}
        self.saw = saw_settings(session)

    def plan(self, sets: int, seconds: float) -> tuple[Material, ...]:
        """Materials of so many sets."""
        spec, number = self._loaded.spec, self._loaded.job.number
        items = [(self._answers[part.mark], part, part.per_set * sets, number) for part in spec.parts]
        return take_off(items, self._stocks_for, self._rack_for, self.saw, spec.units, seconds)

    @property
    def prices_per_metre(self) -> PricesPerMetre:
        """The lowest price of a metre of each section and grade that was asked for."""
        lowest = {}
        for key, stocks in self._stocks.items():
            prices = [stock.price / stock.length.mm * 1000 for stock in stocks if stock.price is not None]
            if prices:
                lowest[key] = min(prices)
        return lowest

    def _stocks_for(self, section: Section, grade: Grade) -> Sequence[StockBar]:
        key = (section.key, grade.name)
        if key not in self._stocks:
            self._stocks[key] = stock_bars(self._session, section, grade, self._today)
        return self._stocks[key]

    def _rack_for(self, section: Section, grade: Grade) -> Sequence[RackBar]:
        key = (section.key, grade.name)
        if key not in self._racks:
            self._racks[key] = rack_bars(self._session, section, grade, [self._loaded.job.number])
        return self._racks[key]


def _refuse_to_quote(job: Job) -> None:
    if job.state not in ("asked", "quoted", "won", "started"):
        raise InputError(
            f"Job {job.number} is {job.state} and is quoted no more.",
            hint=f"Print a quote again: shopquote quote {job.number} --again",
        )


def _policy(session: Session, shop: Shop, customer: Customer, wishes: QuoteWishes) -> PricingPolicy:
    margin, markup = shop.margin_pct, shop.markup_pct
    if wishes.margin_pct is not None or wishes.markup_pct is not None:
        margin, markup = wishes.margin_pct, wishes.markup_pct
    return PricingPolicy(
        currency=shop.currency,
        margin_pct=margin,
        markup_pct=markup,
        overhead_pct=shop.overhead_pct,
        contingency_pct=shop.contingency_pct,
        scrap_pct=shop.scrap_pct,
        minimum_order=shop.minimum_order,
        material_basis=cast(MaterialBasis, shop.material_basis),
        net_share_pct=shop.net_share_pct,
        credit_offcuts=shop.credit_offcuts,
        rack_charge_pct=shop.rack_charge_pct,
        bought_markup_pct=shop.bought_markup_pct,
        outside_markup_pct=shop.outside_markup_pct,
        rush_pct=wishes.rush_pct or Decimal(0),
        discount_pct=wishes.discount_pct or Decimal(0),
        learning=wishes.learning or cast(Learning, shop.learning),
        lines=wishes.lines or cast(LineStyle, shop.quote_lines),
        taxes=_taxes(session, wishes.taxes),
        tax_exempt=customer.tax_exempt,
        overrides=wishes.overrides,
    )


def _taxes(session: Session, names: Sequence[str]) -> tuple[TaxRate, ...]:
    rows = {row.name: row for row in session.scalars(select(TaxRow).order_by(TaxRow.id))}
    for name in names:
        if name not in rows:
            near = nearest_word(name, rows)
            raise NotFoundError(
                f"Tax {name!r} is not on file.",
                hint=f"Did you mean {near!r}?" if near else f"On file: {', '.join(rows)}",
            )
    chosen = [rows[name] for name in names] or [row for row in rows.values() if row.is_default]
    return tuple(TaxRate(row.name, row.percent) for row in chosen)


def _valid_days(shop: Shop, wishes: QuoteWishes) -> int:
    days = shop.quote_valid_days if wishes.valid_days is None else wishes.valid_days
    if not 1 <= days <= 3650:
        raise InputError(f"A quote is valid for {days} days; expected 1 to 3650.")
    return days


def _checked_sets(sets: int) -> int:
    if not 1 <= sets <= 100_000:
        raise InputError(f"Quantity is {sets} sets; expected 1 to 100 000.")
    return sets


def _checked_breaks(breaks: Sequence[int]) -> tuple[int, ...]:
    if len(breaks) > MOST_BREAKS:
        raise InputError(f"{len(breaks)} quantities side by side; expected at most {MOST_BREAKS}.")
    return tuple(sorted({_checked_sets(sets) for sets in breaks}))


def _shop_address(shop: Shop) -> Address:
    return Address(shop.name, shop.address, shop.email, shop.phone, shop.tax_number)


def _customer_address(customer: Customer) -> Address:
    return Address(customer.name, customer.address, customer.email, customer.phone)


def _wording(shop: Shop) -> Wording:
    return Wording(
        lead_time=shop.lead_time,
        terms=shop.terms,
        deposit_pct=shop.deposit_pct,
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
    hint = "Set another with: shopquote setup --logo FILE"
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
                grade=part.grade,
                size=_size_words(answer.envelope_mm, spec.units),
                depth_mm=round(answer.section.depth_mm(part.bend_axis), 3),
                line_mm=line,
                holes=", ".join(_hole_words(hole) for hole in part.holes),
            )
        )
    return tuple(pictures)


def _size_words(envelope_mm: Sequence[float], unit: Unit) -> str:
    """Sizes over all with the unit once: 250 x 300 x 40 mm."""
    sizes = [show_length(Length.from_mm(size), unit) for size in envelope_mm if size >= 0.05]
    return " x ".join(size.removesuffix(f" {unit}") for size in sizes) + f" {unit}"


def _hole_words(hole: HoleSpec) -> str:
    kinds = [word for word, is_so in (("tapped", hole.tapped), ("countersunk", hole.countersunk)) if is_so]
    return " ".join([f"{hole.count} x dia {hole.dia.text}", *kinds])


def _to_keep(material: Material) -> Material:
    """A material without its proof and without the sources of its grade, which are long."""
    return replace(
        material, grade=replace(material.grade, sources={}), plan=replace(material.plan, certificate=None)
    )


# --- storing -------------------------------------------------------------------------------


def _newest_first(job: Job):  # type: ignore[no-untyped-def]  # a Select of Quote
    return select(Quote).where(Quote.job_id == job.id).order_by(Quote.revision.desc())


def _quote(session: Session, job_number: str, revision: int | None) -> Quote:
    job = find_job(session, job_number)
    query = _newest_first(job)
    if revision is not None:
        query = query.where(Quote.revision == revision)
    quote = session.scalar(query.limit(1))
    if quote is None:
        newest = session.scalar(select(func.max(Quote.revision)).where(Quote.job_id == job.id))
        if newest is None:
            raise NotFoundError(
                f"Job {job.number} was not quoted yet.", hint=f"Quote it: shopquote quote {job.number}"
            )
        raise NotFoundError(
            f"Job {job.number} has no quote revision {revision}.", hint=f"Revisions: 1 to {newest}."
        )
    found: Quote = quote
    return found


def _quote_row(document: QuoteDocument, job: Job, job_revision_id: int, at: datetime) -> Quote:
    priced, estimate = document.priced, document.estimate
    rates = {cost.operation: cost.rate for cost in estimate.operations}
    spread = estimate.confidence.deviation / estimate.cost * 100
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
        minutes=[
            QuoteMinutes(
                operation=line.operation, standard=line.standard, kind=line.kind, quantity=line.quantity,
                how=line.how, value=line.value, factor=line.factor, minutes=line.minutes,
                rate=round(rates[line.operation], 4),
                cost=round(line.minutes * rates[line.operation] / 60, 4),
            )
            for line in estimate.minutes
        ],
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


# --- what if -------------------------------------------------------------------------------


def _with_policy(policy: PricingPolicy, word: str, value: Decimal) -> PricingPolicy:
    if word == "margin":
        return replace(policy, margin_pct=value, markup_pct=None)
    if word == "markup":
        return replace(policy, margin_pct=None, markup_pct=value)
    return replace(policy, **{_POLICY_WORDS[word]: value})  # type: ignore[arg-type]


def _with_process(spec: JobSpec, process: str) -> JobSpec:
    known = {word.casefold(): word for word in WELD_PROCESSES}
    if process.casefold() not in known:
        raise InputError(f"Process is {process!r}; expected one of {', '.join(WELD_PROCESSES)}.")
    welds = tuple(replace(weld, process=known[process.casefold()]) for weld in spec.welds)
    return replace(spec, welds=welds)


def _standard_named(word: str, book: StandardsBook) -> str:
    name = _STANDARD_WORDS.get(word, word)
    if name not in book:
        known = [*_POLICY_WORDS, "sets", "process", *_STANDARD_WORDS, *book]
        near = nearest_word(word, known)
        raise NotFoundError(
            f"{word!r} is neither a word for --what-if nor a standard on file.",
            hint=f"Did you mean {near!r}?" if near else "See: shopquote rates list",
        )
    return name


def _changed(word: str, text: str, now: Decimal) -> Decimal:
    """A new value from "62" or from a change such as "+10%"."""
    if text.endswith("%"):
        return round(now * (1 + _number(word, text[:-1]) / 100), 6)
    return round(_number(word, text), 6)


def _number(word: str, text: str) -> Decimal:
    try:
        value = Decimal(text.strip())
    except ArithmeticError as error:
        raise InputError(f"{word} is {text!r}; expected a number such as 25 or 12.5.") from error
    if not value.is_finite():
        raise InputError(f"{word} is {text!r}; expected a number such as 25 or 12.5.")
    return value


def _whole(word: str, text: str) -> int:
    value = _number(word, text)
    if value != value.to_integral_value():
        raise InputError(f"{word} is {text!r}; expected a whole number.")
    return int(value)


def _compare(figure, words: str, before: Mapping, after: Mapping) -> None:  # type: ignore[no-untyped-def,type-arg]
    for name in dict.fromkeys([*before, *after]):
        figure(words.format(name), before.get(name), after.get(name))


def _shown(value: Decimal | None) -> str:
    return "" if value is None else f"{value:f}"
