"""Questions to a stored quote: what if, which price leaves what, what differs.

Nothing here is stored; the figures of the quote's own day count, not today's.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.job import WELD_PROCESSES, JobSpec
from shopquote.calc.pricing.answers import PricingPolicy
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.price import PriceTarget, price_job, price_target
from shopquote.calc.pricing.standards import StandardsBook, completed
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import Notation, count, number, read_typed
from shopquote.reading.kinds.numbers import MOST
from shopquote.services.jobs.job_changes import Difference, compare_jobs
from shopquote.services.jobs.jobs import load_job, work_out_parts
from shopquote.services.quotes.planner import PlannedMaterial, Planner
from shopquote.services.quotes.quote import PLAN_WORK, checked_sets, stored_quote
from shopquote.services.shop.on_file import bending_shop, shop_notation, without_idle_zeros

SHOWN_PLACES = 4  # of money and standards; what was reckoned with more is written short


def compare_quotes(
    before: QuoteDocument, after: QuoteDocument, jobs: tuple[JobSpec, JobSpec]
) -> tuple[Difference, ...]:
    """What differs between two revisions: what the job asks for, then the price and what makes it.

    `jobs` are the revisions of the job that the two were quoted from.
    """
    differences: list[Difference] = []

    def figure(what: str, one: Decimal | None, other: Decimal | None) -> None:
        if one != other:
            change = "" if one is None or other is None else f"{_short(other - one):+f}"
            differences.append(Difference(what, _shown(one), _shown(other), change))

    def word(what: str, one: object, other: object) -> None:
        if one != other:
            shown = ("" if value is None else str(value) for value in (one, other))
            differences.append(Difference(what, *shown))

    word("job revision", before.job_revision, after.job_revision)
    differences += compare_jobs(*jobs)
    word("currency", before.priced.currency, after.priced.currency)
    figure("sets", Decimal(before.priced.sets), Decimal(after.priced.sets))
    figure("total", before.priced.total, after.priced.total)
    figure("tax", before.priced.tax, after.priced.tax)
    figure("net", before.priced.net, after.priced.net)
    _compare(figure, "unit price of {}", {line.text: line.unit_price for line in before.priced.lines},
             {line.text: line.unit_price for line in after.priced.lines})  # fmt: skip
    reasons = [{line.text: line.override_reason for line in one.priced.lines} for one in (before, after)]
    for text in dict.fromkeys([*reasons[0], *reasons[1]]):
        word(f"price by hand of {text}", reasons[0].get(text) or "", reasons[1].get(text) or "")
    for name, what in _POLICY_FIGURES.items():
        figure(f"asked {what}", *(getattr(one.policy, name) for one in (before, after)))
    for name, what in _POLICY_CHOICES.items():
        word(what, *(_yes_no(getattr(one.policy, name)) for one in (before, after)))
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


def compare_revisions(
    session: Session, job_number: str, before: int, after: int | None
) -> tuple[QuoteDocument, QuoteDocument, tuple[Difference, ...]]:
    """Two stored revisions of a quote (None: the newest) and what differs between them.

    Raises:
        NotFoundError: the job was not quoted, or has no such revision.
    """
    older, newer = stored_quote(session, job_number, before), stored_quote(session, job_number, after)
    first, second = (load_job(session, job_number, revision=one.job_revision).spec for one in (older, newer))
    return older, newer, compare_quotes(older, newer, (first, second))


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
    "minimum-order": "minimum_order",
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
        changes: by word: margin or markup, rush, discount, overhead, contingency, scrap (per cent),
            minimum-order, sets,
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
    book = completed(before.standards)
    values: dict[str, Decimal] = {}
    notation = shop_notation(session)
    if {"margin", "markup"} <= changes.keys():
        raise InputError("Ask for a margin (on the price) or a markup (on the cost), one of the two.")
    for word, text in changes.items():
        if word == "sets":
            sets = checked_sets(read_typed(word, count(least=1), text, notation))
        elif word == "process":
            spec = _with_process(spec, text)
        elif word in _POLICY_WORDS:
            policy = _with_policy(policy, word, _number(word, text, notation))
        else:
            name = _standard_named(word, book)
            values[name] = _changed(word, text, book.value(name), notation)
    book = book.with_values(values)
    answers = work_out_parts(spec, bending_shop(session))
    planner = Planner(session, loaded, answers, today)
    as_planned = before.materials and sets == before.priced.sets
    kept = PlannedMaterial(before.materials, before.charges)
    bought = kept if as_planned else planner.plan(sets, PLAN_WORK)
    on_the_day = {(price.section_key, price.grade): price.price for price in before.metre_prices}
    credit = before.offcut_credit_pct
    estimate = estimate_job(
        spec, answers, bought.materials, book, policy, sets, charges=bought.charges,
        prices_per_metre={**planner.prices_per_metre, **on_the_day},
        offcut_credit_pct=planner.saw.keep_percent if credit is None else credit,
    )  # fmt: skip
    priced = replace(price_job(spec, estimate, policy), breaks=before.priced.breaks)
    after = replace(
        before, policy=policy, priced=priced, estimate=estimate, standards=tuple(book.values()), materials=()
    )
    words = tuple(f"{word} {text}" for word, text in changes.items())
    return WhatIf(before, after, words, compare_quotes(before, after, (loaded.spec, spec)))


def price_for(session: Session, job_number: str, net: Decimal, revision: int | None = None) -> PriceTarget:
    """Which margin a wished net price leaves, and which minutes would have to be saved.

    Raises:
        NotFoundError: the job was not quoted.
        InputError: the price is not above zero.
    """
    document = stored_quote(session, job_number, revision)
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


def _changed(word: str, text: str, now: Decimal, notation: Notation) -> Decimal:
    """A new value from "62" or from a change such as "+10%"."""
    if text.endswith("%"):
        return round(now * (1 + _number(word, text[:-1], notation) / 100), 6)
    return round(_number(word, text, notation), 6)


# A change of a figure may be downward.
_CHANGE = number(least=-MOST)


def _number(word: str, text: str, notation: Notation) -> Decimal:
    return read_typed(word, _CHANGE, text, notation)


def _compare(
    figure: Callable[[str, Decimal | None, Decimal | None], None],
    words: str,
    before: Mapping[Any, Decimal],
    after: Mapping[Any, Decimal],
) -> None:
    for name in dict.fromkeys([*before, *after]):
        figure(words.format(name), before.get(name), after.get(name))


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
    return ("no", "yes")[value] if isinstance(value, bool) else value


def _shown(value: Decimal | None) -> str:
    return "" if value is None else f"{_short(value):f}"


def _short(value: Decimal) -> Decimal:
    """Money keeps its cents; what has more places is written as short as it can be."""
    exponent = value.as_tuple().exponent
    return value if isinstance(exponent, int) and exponent >= -SHOWN_PLACES else without_idle_zeros(value)
