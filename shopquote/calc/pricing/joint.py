"""Joint quotes: the quotes of several jobs merged into one document. Begin at `joint_document`."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from shopquote.calc.job import OPERATIONS
from shopquote.calc.money import round_money
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.priced_quote import Confidence, Estimate, OperationCost, PricedQuote, TaxLine


def joint_document(number: str, revision: int, quotes: Sequence[QuoteDocument]) -> QuoteDocument:
    """Merge the quotes of several jobs of one customer; every total is the sum of theirs.

    Args:
        number: of the joint quote; empty while it is not stored.
        revision: of the joint quote.
        quotes: stored or drafted on the same day, in one currency, in the order of the paper.
    """
    first = quotes[0]
    titles = _titles(quotes)
    dues = {quote.due for quote in quotes}

    def said_by_job(texts: Iterable[str]) -> str:
        return "\n".join(f"{title}: {text}" for title, text in zip(titles, texts, strict=True) if text)

    leads = [quote.wording.lead_time for quote in quotes]
    lead_time = leads[0] if len(set(leads)) == 1 else said_by_job(leads)
    return replace(
        first,
        job=", ".join(quote.job for quote in quotes),
        title=", ".join(titles),
        number=number,
        revision=revision,
        valid_until=min(quote.valid_until for quote in quotes),
        priced=_priced(quotes, titles),
        estimate=_estimate(quotes),
        parts=tuple(
            replace(part, mark=f"{quote.job} {part.mark}") for quote in quotes for part in quote.parts
        ),
        cautions=_once(_all(quotes, "cautions")),
        materials=(),
        charges=(),
        content=None,
        # One due day is printed for all; different ones are printed in the words of each job.
        due=dues.pop() if len(dues) == 1 else None,
        wording=replace(first.wording, lead_time=lead_time),
        description=said_by_job(quote.description for quote in quotes),
        drawing=_each(quotes, "drawing"),
        enquiry=_each(quotes, "enquiry"),
        guessed=_once(_all(quotes, "guessed")),
        invented=_once(_all(quotes, "invented")),
    )


def _titles(quotes: Sequence[QuoteDocument]) -> list[str]:
    counts = Counter(quote.title for quote in quotes)
    return [quote.title if counts[quote.title] == 1 else f"{quote.title} ({quote.job})" for quote in quotes]


def _priced(quotes: Sequence[QuoteDocument], titles: Sequence[str]) -> PricedQuote:
    prices = [quote.priced for quote in quotes]
    named = list(zip(titles, prices, strict=True))
    taxes: dict[tuple[str, Decimal], TaxLine] = {}
    for tax in (tax for price in prices for tax in price.taxes):
        held = taxes.get((tax.name, tax.percent), replace(tax, base=Decimal(0), amount=Decimal(0)))
        taxes[tax.name, tax.percent] = replace(
            held, base=held.base + tax.base, amount=held.amount + tax.amount
        )
    return PricedQuote(
        sets=1,
        currency=prices[0].currency,
        # A line's text that equals its job's title gets the same addition as the title.
        lines=tuple(
            replace(line, of=title, text=title if title.startswith(f"{line.text} (") else line.text)
            for title, price in named
            for line in price.lines
        ),
        net=_sum(prices, "net"),
        taxes=tuple(taxes.values()),
        breaks=tuple(replace(step, of=title) for title, price in named for step in price.breaks),
        cost=_sum(prices, "cost"),
        # The jobs share their standards, so their errors go together: the greatest chance holds for all.
        chance_below_target_pct=max(price.chance_below_target_pct for price in prices),
        chance_of_loss_pct=max(price.chance_of_loss_pct for price in prices),
        notes=(
            *_notes(quotes, [price.notes for price in prices]),
            *_tax_notes(taxes.values(), prices[0].currency),
        ),
    )


def _tax_notes(taxes: Iterable[TaxLine], currency: str) -> list[str]:
    """A note where a tax differs from its rate on the joint net, being rounded for each job's invoice."""
    return [
        f"{tax.name} is reckoned and rounded job by job."
        for tax in taxes
        if tax.amount != round_money(tax.base * tax.percent / 100, currency)
    ]


def _notes(quotes: Sequence[QuoteDocument], notes: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """The notes of all jobs; a note that all have once, others with the job that they are about."""
    common = [note for note in notes[0] if all(note in others for others in notes[1:])]
    apart = (
        f"{quote.job}: {note}"
        for quote, own in zip(quotes, notes, strict=True)
        for note in own
        if note not in common
    )
    return _once((*common, *apart))


def _estimate(quotes: Sequence[QuoteDocument]) -> Estimate:
    estimates = [quote.estimate for quote in quotes]
    sure = [estimate.confidence for estimate in estimates]
    return Estimate(
        sets=1,
        currency=estimates[0].currency,
        minutes=_all(estimates, "minutes"),
        operations=_operations(_all(estimates, "operations")),
        costs=_all(estimates, "costs"),
        materials=_all(estimates, "materials"),
        parts=_all(estimates, "parts"),
        # The jobs' errors are correlated (see above), so deviations are added, not their squares.
        confidence=Confidence(
            deviation=_sum(sure, "deviation"),
            low=_sum(sure, "low"),
            high=_sum(sure, "high"),
            drivers=(),
            known=all(one.known for one in sure),
        ),
        contingency=_sum(estimates, "contingency"),
        cautions=_once(_all(estimates, "cautions")),
        notes=_notes(quotes, [estimate.notes for estimate in estimates]),
    )


def _operations(costs: Sequence[OperationCost]) -> tuple[OperationCost, ...]:
    added: dict[str, OperationCost] = {}
    for cost in costs:
        held = added.get(cost.operation)
        added[cost.operation] = cost if held is None else replace(
            held, set_up=held.set_up + cost.set_up, run=held.run + cost.run, amount=held.amount + cost.amount
        )  # fmt: skip
    return tuple(sorted(added.values(), key=lambda cost: OPERATIONS.index(cost.operation)))


def _sum(things: Iterable[object], name: str) -> Decimal:
    """The sum of one attribute over objects."""
    return sum((getattr(thing, name) for thing in things), Decimal(0))


def _all(things: Iterable[object], name: str) -> tuple[Any, ...]:
    """The concatenation of one attribute, a tuple, over objects."""
    return tuple(held for thing in things for held in getattr(thing, name))


def _each(quotes: Iterable[QuoteDocument], name: str) -> str:
    """The different texts of one attribute over quotes, joined."""
    return ", ".join(_once(filter(None, (getattr(quote, name) for quote in quotes))))


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
