"""Warnings that a quote, plan or order rests on invented entries; loads no table."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from shopquote.calc.pricing.priced_quote import Estimate
from shopquote.calc.pricing.standards import Standard
from shopquote.calc.pricing.starting_rows import INVENTED

if TYPE_CHECKING:
    from shopquote.records.people import Supplier

# The note of an invented starting bender or bar begins with this word.
INVENTED_WORD = "invented"


def invented_words(
    suppliers: "Iterable[Supplier]",
    standards: Sequence[Standard] = (),
    estimate: Estimate | None = None,
    benders: Iterable[str] = (),
) -> tuple[str, ...]:
    """A warning for each kind of invented entry used (suppliers, rates, benders); empty where there is none.

    `standards` are those of the shop: only invented ones whose minutes or cost are in `estimate` are told.
    """
    words = []
    names = sorted({supplier.name for supplier in suppliers if supplier.invented})
    if names:
        words.append(f"Invented prices, to try the program with: those of {', '.join(names)}.")
    if estimate is not None:
        used = {line.standard for line in estimate.minutes} | {line.standard for line in estimate.costs}
        used |= {f"rate.{cost.operation}" for cost in estimate.operations}
        rates = sorted(s.name for s in standards if s.source == INVENTED and s.name in used)
        if rates:
            words.append(f"Invented rates: {', '.join(rates)}; put your own on file: shopquote rates set")
    made_up = sorted(set(benders))
    if made_up:
        words.append(f"Invented benders: {', '.join(made_up)}; put your own on file: shopquote benders set")
    return tuple(words)
