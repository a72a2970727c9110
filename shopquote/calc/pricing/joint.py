"""Quotes of several jobs as one paper: their lines, one net, tax and total. Begin at `joint_document`."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from shopquote.calc.job import OPERATIONS
from shopquote.calc.pricing.answers import Confidence, Estimate, OperationCost, PricedQuote, TaxLine
from shopquote.calc.pricing.document import QuoteDocument


def joint_document(number: str, revision: int, quotes: Sequence[QuoteDocument]) -> QuoteDocument:
    """The quotes of several jobs of one customer as one document; every sum is the sum of theirs.

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
        priced=_priced([quote.priced for quote in quotes], titles),
        estimate=_estimate([quote.estimate for quote in quotes]),
        parts=tuple(
            replace(part, mark=f"{quote.job} {part.mark}") for quote in quotes for part in quote.parts
        ),
        cautions=_once(caution for quote in quotes for caution in quote.cautions),
        materials=(),
        charges=(),
        content=None,
        # Jobs that are due on different days are said in each one's words.
        due=dues.pop() if len(dues) == 1 else None,
        wording=replace(first.wording, lead_time=lead_time),
        description=said_by_job(quote.description for quote in quotes),
        drawing=", ".join(_once(quote.drawing for quote in quotes if quote.drawing)),
        enquiry=", ".join(_once(quote.enquiry for quote in quotes if quote.enquiry)),
        guessed=_once(words for quote in quotes for words in quote.guessed),
        invented=_once(words for quote in quotes for words in quote.invented),
    )


def _titles(quotes: Sequence[QuoteDocument]) -> list[str]:
    counts = Counter(quote.title for quote in quotes)
    return [quote.title if counts[quote.title] == 1 else f"{quote.title} ({quote.job})" for quote in quotes]


def _priced(prices: Sequence[PricedQuote], titles: Sequence[str]) -> PricedQuote:
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
        # A set whose text is its job's title stays one, though the title had its number added.
        lines=tuple(
            replace(line, of=title, text=title if title.startswith(f"{line.text} (") else line.text)
            for title, price in named
            for line in price.lines
        ),
        net=sum((price.net for price in prices), Decimal(0)),
        taxes=tuple(taxes.values()),
        breaks=tuple(replace(step, of=title) for title, price in named for step in price.breaks),
        cost=sum((price.cost for price in prices), Decimal(0)),
        # The jobs share their standards: what goes wrong in one does in all. So the worst chance stands.
        chance_below_target_pct=max(price.chance_below_target_pct for price in prices),
        chance_of_loss_pct=max(price.chance_of_loss_pct for price in prices),
        notes=_once(note for price in prices for note in price.notes),
    )


def _estimate(estimates: Sequence[Estimate]) -> Estimate:
    sure = [estimate.confidence for estimate in estimates]
    return Estimate(
        sets=1,
        currency=estimates[0].currency,
        minutes=tuple(line for estimate in estimates for line in estimate.minutes),
        operations=_operations([cost for estimate in estimates for cost in estimate.operations]),
        costs=tuple(line for estimate in estimates for line in estimate.costs),
        materials=tuple(line for estimate in estimates for line in estimate.materials),
        parts=tuple(line for estimate in estimates for line in estimate.parts),
        # Spreads are common to the jobs (see above) and are added as they are, not by squares.
        confidence=Confidence(
            deviation=sum((one.deviation for one in sure), Decimal(0)),
            low=sum((one.low for one in sure), Decimal(0)),
            high=sum((one.high for one in sure), Decimal(0)),
            drivers=(),
            known=all(one.known for one in sure),
        ),
        contingency=sum((estimate.contingency for estimate in estimates), Decimal(0)),
        cautions=_once(caution for estimate in estimates for caution in estimate.cautions),
        notes=_once(note for estimate in estimates for note in estimate.notes),
    )


def _operations(costs: Sequence[OperationCost]) -> tuple[OperationCost, ...]:
    added: dict[str, OperationCost] = {}
    for cost in costs:
        held = added.get(cost.operation)
        added[cost.operation] = cost if held is None else replace(
            held, set_up=held.set_up + cost.set_up, run=held.run + cost.run, amount=held.amount + cost.amount
        )  # fmt: skip
    return tuple(sorted(added.values(), key=lambda cost: OPERATIONS.index(cost.operation)))


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
