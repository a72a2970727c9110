"""Questions to a stored quote: what if, what a given price leaves, what differs between two revisions.

Nothing is stored here. Figures are those of the quote's own day, not today's.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import WELD_PROCESSES, JobSpec
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.inwards import saved_together
from shopquote.calc.pricing.price import PriceTarget, price_job, price_target
from shopquote.calc.pricing.priced_quote import Estimate, PricingPolicy
from shopquote.calc.pricing.standards import Standard, StandardsBook, completed
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import Notation, count, name_key, read_typed, standard
from shopquote.reading.kinds.numbers import MOST
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.jobs.job_changes import Difference, compare_jobs
from shopquote.services.jobs.jobs import LoadedJob, load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.draft import PLAN_WORK, checked_sets
from shopquote.services.quotes.planner import PlannedMaterial, Planner
from shopquote.services.quotes.quote import draft_quote, was_quoted
from shopquote.services.quotes.quotes_on_file import stored_quote
from shopquote.services.shop.shop_on_file import bending_shop, shop_notation
from shopquote.services.shop.values import without_idle_zeros

# Decimal places that a figure is shown with; one with more is written without trailing zeros.
SHOWN_PLACES = 4


Told = Mapping[str, object]  # values to compare, by their names in words; a Decimal is a figure


def compare_quotes(
    before: QuoteDocument, after: QuoteDocument, jobs: tuple[JobSpec, JobSpec]
) -> tuple[Difference, ...]:
    """Differences between two revisions: in what the job asks for, then in the price and what makes it.

    `jobs` are the job's revisions that the two were quoted from.
    """
    revisions = ({"job revision": one.job_revision} for one in (before, after))
    told = [(topic(before), topic(after)) for topic in _TOPICS]
    found = [difference for one, other in told for difference in _differences(one, other)]
    return (*_differences(*revisions), *compare_jobs(*jobs), *found)


def _differences(before: Told, after: Told) -> Iterator[Difference]:
    for what in dict.fromkeys([*before, *after]):
        one, other = before.get(what), after.get(what)
        if one != other:
            both = isinstance(one, Decimal) and isinstance(other, Decimal)
            yield Difference(what, _shown(one), _shown(other), f"{_short(other - one):+f}" if both else "")  # type: ignore[operator]  # both are figures


def _named(words: str, found: Mapping[Any, object]) -> Told:
    return {words.format(name): value for name, value in found.items()}


def _prices(quote: QuoteDocument) -> Told:
    priced = quote.priced
    return {
        "currency": priced.currency,
        "sets": Decimal(priced.sets),
        "total": priced.total,
        "tax": priced.tax,
        "net": priced.net,
    }


def _lines(quote: QuoteDocument) -> Told:
    return _named("unit price of {}", {line.text: line.unit_price for line in quote.priced.lines})


def _by_hand(quote: QuoteDocument) -> Told:
    reasons = {line.text: line.override_reason for line in quote.priced.lines if line.override_reason}
    return _named("price by hand of {}", reasons)


def _policy(quote: QuoteDocument) -> Told:
    asked = {what: getattr(quote.policy, name) for name, what in _POLICY_FIGURES.items()}
    chosen = {what: _yes_no(getattr(quote.policy, name)) for name, what in _POLICY_CHOICES.items()}
    return {**_named("asked {}", asked), **chosen}


def _breaks(quote: QuoteDocument) -> Told:
    return _named("unit price of {} sets", {step.sets: step.unit_price for step in quote.priced.breaks})


def _cost(quote: QuoteDocument) -> Told:
    return {"cost": quote.priced.cost, "margin %": quote.priced.margin_pct}


def _wording(quote: QuoteDocument) -> Told:
    kept = ("lead_time", "terms", "deposit_pct", "included", "excluded", "delivery_term")
    said = {name.replace("_", " "): str(getattr(quote.wording, name)) for name in kept}
    return {**said, "valid until": quote.valid_until}


# In the order shown. Topics are compared one by one, so that a line which only one quote has stays in its
# topic.
_TOPICS: tuple[Callable[[QuoteDocument], Told], ...] = (
    _prices,
    _lines,
    _by_hand,
    _policy,
    _breaks,
    _cost,
    lambda quote: _named("cost of {}", quote.estimate.by_category),
    lambda quote: _named("minutes of {}", quote.estimate.by_operation),
    lambda quote: _named("standard {}", {line.standard: line.value for line in quote.estimate.minutes}),
    lambda quote: _named("rate of {}", {cost.operation: cost.rate for cost in quote.estimate.operations}),
    _wording,
)


def compare_revisions(
    session: Session, job_number: str, before: int, after: int | None
) -> tuple[QuoteDocument, QuoteDocument, tuple[Difference, ...]]:
    """Two stored revisions of a quote (`after` None: the newest) and their differences.

    Raises:
        NotFoundError: the job was not quoted, or has no such revision.
    """
    older, newer = stored_quote(session, job_number, before), stored_quote(session, job_number, after)
    first, second = (load_job(session, job_number, revision=one.job_revision).spec for one in (older, newer))
    return older, newer, compare_quotes(older, newer, (first, second))


@dataclass(frozen=True)
class WhatIf:
    """A quote and the same job under other conditions; not stored."""

    before: QuoteDocument
    after: QuoteDocument
    changes: tuple[str, ...]
    differences: tuple[Difference, ...]


_POLICY_WORDS = {
    "margin": "margin_pct", "markup": "markup_pct", "rush": "rush_pct", "discount": "discount_pct",
    "overhead": "overhead_pct", "contingency": "contingency_pct", "scrap": "scrap_pct",
    "minimum-order": "minimum_order",
}  # fmt: skip
# Words that change only the price: the cost stays, so no part is worked out again.
_ON_THE_PRICE = frozenset({"margin", "markup", "rush", "discount", "minimum-order"})
# Everyday words for standards that scale a whole price list.
_STANDARD_WORDS = {
    "stock-price": "price.material",
    "bought-price": "price.bought",
    "outside-price": "price.outside",
}


def quote_to_ask(session: Session, job_number: str, today: date, revision: int | None) -> QuoteDocument:
    """The stored quote, or if the job was never quoted, a draft as of today.

    Raises:
        NotFoundError: no such job or revision.
        InputError, CannotMakeError: as `draft_quote` raises.
    """
    if revision is None and not was_quoted(session, job_number):
        return draft_quote(session, job_number, today).document
    return stored_quote(session, job_number, revision)


def what_if(
    session: Session,
    job_number: str,
    today: date,
    changes: Mapping[str, str],
    revision: int | None = None,
    *,
    before: QuoteDocument | None = None,
) -> WhatIf:
    """Price the job of a stored quote under other conditions, from the figures of the quote's day.

    Args:
        session: reading is enough.
        job_number: a job; if it was never quoted, a draft of today is asked about.
        today: day of the prices if another quantity has to be planned.
        changes: text by word: margin or markup, rush, discount, overhead, contingency, scrap (per cent),
            minimum-order, sets, process (of all welds), stock-price, bought-price, outside-price, or the
            name of any standard. A standard takes a number, or a change such as +10% or -5%.
        revision: of the quote; None for the newest.
        before: a draft to ask about in place of a stored quote.

    Raises:
        NotFoundError: no such revision, or a word is neither of these nor a standard.
        InputError: a value cannot be used, or both margin and markup are given.
    """
    before = before or quote_to_ask(session, job_number, today, revision)
    loaded = load_job(session, job_number, revision=before.job_revision)
    spec, policy, sets = loaded.spec, before.policy, before.priced.sets
    book = completed(before.standards)
    values: dict[str, Decimal] = {}
    notation = shop_notation(session)
    words = [word_asked(typed, book) for typed in changes]
    if {"margin", "markup"} <= set(words):
        raise InputError("Ask for a margin (on the price) or a markup (on the cost), one of the two.")
    for word, (typed, text) in zip(words, changes.items(), strict=True):
        if word == "sets":
            sets = checked_sets(read_typed(typed, count(least=1), text, notation))
        elif word == "process":
            spec = _with_process(spec, text)
        elif word in _POLICY_WORDS:
            policy = _with_policy(policy, word, _number(typed, text, notation))
        else:
            values[word] = _changed(typed, text, book[word], notation)
    book = book.with_values(values)
    if _ON_THE_PRICE.issuperset(words):
        estimate = before.estimate
    else:
        estimate = _estimated(session, replace(loaded, spec=spec), before, book, policy, sets, today)
    priced = replace(price_job(spec, estimate, policy), breaks=before.priced.breaks)
    after = replace(
        before, policy=policy, priced=priced, estimate=estimate, standards=tuple(book.values()), materials=()
    )
    told = tuple(f"{word} {text}" for word, text in changes.items())
    return WhatIf(before, after, told, compare_quotes(before, after, (loaded.spec, spec)))


def _estimated(
    session: Session,
    loaded: LoadedJob,
    before: QuoteDocument,
    book: StandardsBook,
    policy: PricingPolicy,
    sets: int,
    today: date,
) -> Estimate:
    """The estimate of so many sets by these standards; for the quoted sets, with the quote's own bars."""
    answers = work_out_parts(loaded.spec, bending_shop(session, loaded.job.number))
    planner = Planner(BooksOnFile(session), loaded, answers, today)
    # The bars planned for the quote are kept: a what-if shows the effect of what was asked, not of prices or
    # rack pieces that changed since.
    as_planned = before.materials and sets == before.priced.sets
    kept = PlannedMaterial(before.materials, before.charges)
    bought = kept if as_planned else planner.plan(sets, PLAN_WORK)
    on_the_day = {(price.section_key, price.grade): price.price for price in before.metre_prices}
    credit = before.offcut_credit_pct
    return estimate_job(
        loaded.spec, answers, bought.materials, book, policy, sets, charges=bought.charges,
        prices_per_metre={**planner.prices_per_metre, **on_the_day},
        offcut_credit_pct=planner.saw.keep_percent if credit is None else credit,
        saving=saved_together(before.estimate.costs) if as_planned else Decimal(0),
    )  # fmt: skip


def price_for(
    session: Session, job_number: str, net: Decimal, today: date, revision: int | None = None
) -> PriceTarget:
    """The margin that a net price leaves, and the minutes that would have to be saved for the asked margin.

    Raises:
        NotFoundError: no such job or revision.
        InputError: the price is not above zero.
    """
    document = quote_to_ask(session, job_number, today, revision)
    return price_target(document.estimate, document.policy, net)


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


def word_asked(typed: str, book: StandardsBook) -> str:
    """The word for --what-if that was typed, in its usual spelling, or the standard that it stands for.

    Raises:
        NotFoundError: neither; the message names the nearest.
    """
    said = ("sets", "process", *_POLICY_WORDS, *_STANDARD_WORDS)
    words = [*said, *book]
    known: dict[str, str] = {name_key(word): _STANDARD_WORDS.get(word, word) for word in words}
    if name_key(typed) not in known:
        near = nearest_word(typed, words)
        raise NotFoundError(
            f"{typed!r} is neither a word for --what-if nor a standard on file.",
            hint=f"Did you mean {near!r}?"
            if near
            else f"Words: {', '.join(said)}; standards: shopquote rates list",
        )
    return known[name_key(typed)]


def _changed(word: str, text: str, now: Standard, notation: Notation) -> Decimal:
    """The new value from "62", or from a change such as "+10%".

    Per cent without a plus or minus are the value of a standard in per cent; of another, they may mean two.
    """
    # Six decimals, as standards are stored: more could not be set afterwards.
    if not text.endswith("%") or (now.unit == "%" and text[0] not in _CHANGES):
        return round(_number(word, text, notation), 6)
    if text[0] in _CHANGES:
        return round(now.value * (1 + _number(word, text, notation) / 100), 6)
    expected = f"a number ({now.unit}), or a change such as +10% or -5%"
    raise InputError(f"{word} is {text!r}; expected {expected}.")


_CHANGES = "+-\u2212"
# Changes may be negative.
_CHANGE = standard(least=-MOST)


def _number(word: str, text: str, notation: Notation) -> Decimal:
    return read_typed(word, _CHANGE, text, notation)


_POLICY_FIGURES = {
    "margin_pct": "margin %", "markup_pct": "markup %", "rush_pct": "rush %", "discount_pct": "discount %",
    "overhead_pct": "overhead %", "contingency_pct": "contingency %", "scrap_pct": "scrap %",
    "minimum_order": "minimum order", "net_share_pct": "share on net material %",
    "usual_inwards": "usual charge for deliveries", "rack_charge_pct": "charge for rack bar %",
    "bought_markup_pct": "markup on bought items %",
    "outside_markup_pct": "markup on outside work %",
}  # fmt: skip
_POLICY_CHOICES = {
    "material_basis": "material charged", "credit_offcuts": "offcuts credited",
    "inwards": "deliveries and the rest of bars", "rack_basis": "rack bars charged at",
    "learning": "learning over the run", "lines": "a line is a", "tax_exempt": "customer exempt from tax",
}  # fmt: skip


def _yes_no(value: object) -> object:
    # bool is an int in Python and would be shown as True or 1.
    return ("no", "yes")[value] if isinstance(value, bool) else value


def _shown(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{_short(value):f}"
    return "" if value is None else str(value)


def _short(value: Decimal) -> Decimal:
    """A figure with up to `SHOWN_PLACES` as it is, so that money keeps its cents; others without zeros."""
    exponent = value.as_tuple().exponent
    return value if isinstance(exponent, int) and exponent >= -SHOWN_PLACES else without_idle_zeros(value)
