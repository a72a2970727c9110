"""Draft a quote: plan the bars, estimate, price, and collect all that the paper shows. Begin at `draft_from`.

It reads the shop through `QuoteBooks`, from a database or from starting lists, so that it loads no table.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, cast

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.cautions import quote_cautions
from shopquote.calc.pricing.document import MetrePrice, QuoteDocument
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.price import price_job
from shopquote.calc.pricing.priced_quote import (
    Estimate,
    InwardsRule,
    Learning,
    LineStyle,
    MaterialBasis,
    MinutesLine,
    PricedQuote,
    PriceOverride,
    PricingPolicy,
    RackBasis,
    TaxRate,
)
from shopquote.calc.pricing.standards import StandardsBook, completed
from shopquote.calc.pricing.work import job_work
from shopquote.calc.takeoff.cut_plan import Material
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.errors import CannotMakeError, InputError, NotFoundError, nearest_word
from shopquote.reading.job_fields import MOST_BREAKS
from shopquote.reading.kinds import name_key
from shopquote.services.buying.offers import stale_price_notes
from shopquote.services.quotes.document_content import (
    material_to_keep,
    part_pictures,
    set_content,
    wording,
)
from shopquote.services.quotes.planner import PlannedMaterial, Planner
from shopquote.services.shop.books import QuoteBooks
from shopquote.services.shop.invented_words import invented_words
from shopquote.services.shop.logo import logo_fault
from shopquote.services.shop.values import address_of, shop_address, without_idle_zeros

if TYPE_CHECKING:
    from shopquote.records.people import Customer, Supplier
    from shopquote.records.shop import Shop, TaxRow
    from shopquote.services.jobs.jobs import LoadedJob

# Limits of work for cut plans (see `Work`): for the quoted quantity, and for all other quantities together.
PLAN_WORK = 4 * A_SECOND // 10
WORK_FOR_BREAKS = 16 * A_SECOND // 10
# Typed in place of a lead time: it is then worked out from the open jobs.
WORKED_OUT = "worked out"


@dataclass(frozen=True, slots=True)
class QuoteWishes:
    """What is asked differently for one quote; None and empty keep the job's or the shop's own.

    `saving` is what the quoted sets save because bars are bought together with other jobs'. `ahead` holds,
    for jobs ordered together, the minutes of each job that is made before this one.
    """

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
    lead_time: str | None = None
    minimum_order: Decimal | None = None
    saving: Decimal = Decimal(0)
    ahead: tuple[tuple[MinutesLine, ...], ...] = ()


@dataclass(frozen=True)
class Draft:
    """A quote worked out and not stored; `document` has neither number nor revision yet."""

    loaded: "LoadedJob"
    document: QuoteDocument


@dataclass(frozen=True, slots=True)
class _Figures:
    """The figures of a quote and what they rest on: standards, plan of the bars, estimate and prices."""

    book: StandardsBook
    planner: Planner
    bought: PlannedMaterial
    estimate: Estimate
    others: "_OtherQuantities"
    priced: PricedQuote
    policy: PricingPolicy


def _figures(
    books: QuoteBooks,
    loaded: "LoadedJob",
    answers: Mapping[str, PartAnswer],
    today: date,
    wishes: QuoteWishes,
) -> _Figures:
    spec = loaded.spec
    # A standard that an older database lacks has the value that a new shop starts with.
    book = completed(books.standards(today).values())
    policy = _policy(books, books.shop, loaded.job.customer, wishes)
    # Counted once: the work of a set does not depend on the quantity.
    work = job_work(spec, answers, book)
    planner = Planner(books, loaded, answers, today)
    sets = checked_sets(wishes.sets or spec.sets)
    asked = _checked_breaks(spec.breaks if wishes.breaks is None else wishes.breaks)

    def estimated(count: int, planned: PlannedMaterial, saving: Decimal = Decimal(0)) -> Estimate:
        return estimate_job(
            spec, answers, planned.materials, book, policy, count, charges=planned.charges,
            prices_per_metre=planner.prices_per_metre, offcut_credit_pct=planner.saw.keep_percent, work=work,
            saving=saving,
        )  # fmt: skip

    bought = planner.plan(sets, PLAN_WORK)
    estimate = estimated(sets, bought, wishes.saving)
    # After the quoted quantity, which has its own limit of work: further quantities never change its price.
    others = _other_quantities([count for count in asked if count != sets], planner, estimated)
    priced = price_job(spec, estimate, policy, others=others.estimates)
    # `price_job` lists the quoted quantity too; it is shown among the breaks only if it was asked for.
    if asked and sets not in asked:
        priced = replace(priced, breaks=tuple(step for step in priced.breaks if step.sets != sets))
    return _Figures(book, planner, bought, estimate, others, priced, policy)


def draft_from(
    books: QuoteBooks,
    loaded: "LoadedJob",
    answers: Mapping[str, PartAnswer],
    today: date,
    wishes: QuoteWishes,
) -> Draft:
    """Draft the quote of a job whose parts are worked out; a job without a number is not on file yet.

    Raises:
        NotFoundError: a standard or tax is not on file.
        InputError: a wish that cannot be used.
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    shop, spec, customer = books.shop, loaded.spec, loaded.job.customer
    made = _figures(books, loaded, answers, today, wishes)
    bought, planner = made.bought, made.planner
    benders = (bend.bender for answer in answers.values() for bend in answer.bends)
    invented = invented_words(
        bought.suppliers, tuple(made.book.values()), made.estimate, books.invented_benders(benders)
    )
    locale = customer.locale or shop.locale
    lead_time, lead_notes = _lead_time(
        books, shop, wishes, made.estimate.minutes, bought.suppliers, today, locale
    )
    notes = _notes(books, loaded, made, today, (*invented, *made.others.not_offered), lead_notes)
    # Number "" and revision 0 until `store_quote` gives both.
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
        shop=shop_address(shop),
        customer=address_of(customer),
        wording=replace(wording(shop, spec, locale), lead_time=lead_time),
        policy=made.policy,
        priced=made.priced,
        estimate=replace(made.estimate, notes=(*notes, *_problems(answers.values()))),
        standards=tuple(made.book.values()),
        parts=part_pictures(spec, answers),
        cautions=quote_cautions(spec, answers.values()),
        materials=tuple(material_to_keep(material) for material in bought.materials),
        charges=bought.charges,
        guessed=bought.guessed,
        invented=invented,
        due=spec.due,
        metre_prices=tuple(MetrePrice(*key, price) for key, price in planner.prices_per_metre.items()),
        offcut_credit_pct=planner.saw.keep_percent,
        content=set_content(spec),
        description=spec.description,
        drawing=spec.drawing,
        enquiry=spec.enquiry,
    )
    return Draft(loaded, document)


def _notes(
    books: QuoteBooks,
    loaded: "LoadedJob",
    made: _Figures,
    today: date,
    warnings: Sequence[str],
    lead_notes: Sequence[str],
) -> tuple[str, ...]:
    """Notes for the shop, those that question the quote as a whole first."""
    stale = stale_price_notes(
        [*made.bought.materials, *made.others.materials],
        {name: market.listed for name, market in made.planner.markets.items()},
        today,
        old_after=made.book.value("price.old-after"),
        policy=made.policy,
    )
    return (
        *filter(None, [logo_fault(books.shop.logo_path)]),
        *books.like_customers(loaded.job.customer, loaded.job.number),
        *warnings,
        *made.bought.guessed,
        *made.bought.tight,
        *made.estimate.notes,
        *lead_notes,
        *stale,
    )


def _lead_time(
    books: QuoteBooks,
    shop: "Shop",
    wishes: QuoteWishes,
    minutes: Iterable[MinutesLine],
    suppliers: "Iterable[Supplier]",
    on: date,
    locale: str,
) -> tuple[str, tuple[str, ...]]:
    """The lead time as printed, worked out if `WORKED_OUT` is typed in its place, and notes for the shop."""
    typed = shop.lead_time if wishes.lead_time is None else wishes.lead_time
    if name_key(typed) != WORKED_OUT:
        return typed, ()
    return books.lead_time(minutes, suppliers, locale, on, wishes.ahead)


def _problems(answers: Iterable[PartAnswer]) -> tuple[str, ...]:
    return tuple(
        f"Part {answer.mark}: {problem.message}" for answer in answers for problem in answer.problems
    )


@dataclass(frozen=True, slots=True)
class _OtherQuantities:
    """Estimates of the other quantities, their materials, and a note for each that cannot be offered."""

    estimates: tuple[Estimate, ...]
    materials: tuple[Material, ...]
    not_offered: tuple[str, ...]


def _other_quantities(
    counts: Sequence[int], planner: Planner, estimated: Callable[[int, PlannedMaterial], Estimate]
) -> _OtherQuantities:
    # Each gets at most what the quoted quantity gets, and all together a fixed amount.
    share = min(PLAN_WORK, WORK_FOR_BREAKS // max(1, len(counts)))
    estimates: list[Estimate] = []
    materials: list[Material] = []
    not_offered: list[str] = []
    for count in counts:
        try:
            planned = planner.plan(count, share)
            estimates.append(estimated(count, planned))
            materials += planned.materials
        except CannotMakeError as error:
            # A stock length with a limit may not reach for the largest quantity; the rest is still quoted.
            not_offered.append(f"{count} sets are not offered: {error.message}")
    return _OtherQuantities(tuple(estimates), tuple(materials), tuple(not_offered))


def _policy(books: QuoteBooks, shop: "Shop", customer: "Customer", wishes: QuoteWishes) -> PricingPolicy:
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
        minimum_order=without_idle_zeros(
            shop.minimum_order if wishes.minimum_order is None else wishes.minimum_order
        ),
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
        taxes=taxes_named(books.taxes(), wishes.taxes),
        tax_exempt=customer.tax_exempt,
        overrides=wishes.overrides,
    )


def _short(value: Decimal | None) -> Decimal | None:
    return None if value is None else without_idle_zeros(value)


def taxes_named(on_file: "Sequence[TaxRow]", names: Sequence[str]) -> tuple[TaxRate, ...]:
    """The taxes with these names; without names the default ones.

    Raises:
        NotFoundError: one is not on file.
        InputError: one is retired, or named twice.
    """
    rows = {name_key(row.name): row for row in on_file}
    keys = list(map(name_key, names))
    for name, key in zip(names, keys, strict=True):
        if key not in rows:
            known = [row.name for row in rows.values()]
            near = nearest_word(name, known)
            raise NotFoundError(
                f"Tax {name!r} is not on file.",
                hint=f"Did you mean {near!r}?" if near else f"On file: {', '.join(known)}",
            )
        # Tax rows are retired, not deleted, because older quotes name them.
        if rows[key].retired:
            raise InputError(f"Tax {name!r} is retired: no new quote charges it.")
        if keys.count(key) > 1:
            raise InputError(f"Tax {name!r} is named twice; a quote charges it once.")
    chosen = [rows[key] for key in keys] or [row for row in rows.values() if row.is_default]
    return tuple(TaxRate(row.name, without_idle_zeros(row.percent)) for row in chosen)


def _valid_days(shop: "Shop", wishes: QuoteWishes) -> int:
    days = shop.quote_valid_days if wishes.valid_days is None else wishes.valid_days
    if not 1 <= days <= 3650:
        raise InputError(f"A quote is valid for {days} days; expected 1 to 3650.")
    return days


def checked_sets(sets: int) -> int:
    """The number of sets, if it can be quoted.

    Raises:
        InputError: it is not from 1 to 100 000.
    """
    if not 1 <= sets <= 100_000:
        raise InputError(f"Quantity is {sets} sets; expected 1 to 100 000.")
    return sets


def _checked_breaks(breaks: Sequence[int]) -> tuple[int, ...]:
    if len(breaks) > MOST_BREAKS:
        raise InputError(f"{len(breaks)} quantities side by side; expected at most {MOST_BREAKS}.")
    # A set, so that a quantity typed twice is one column.
    return tuple(sorted({checked_sets(sets) for sets in breaks}))
