"""The options of `shopquote quote` and `price`: as typed, and read in the shop's notation."""

from collections.abc import Mapping
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import Learning, LineStyle, PriceOverride
from shopquote.reading.job_fields import MOST_BREAKS, MOST_SETS
from shopquote.reading.kinds import Kind, Notation, count, counts, money, percent, read_typed
from shopquote.services.quotes.draft import QuoteWishes

_MOST_MARKUP = 10_000

# By field of `QuoteWishes`: the option's name, and the kind that reads it.
_OPTIONS: Mapping[str, tuple[str, Kind[Any]]] = {
    "sets": ("--sets", count(least=1, most=MOST_SETS)),
    "breaks": ("--breaks", counts(most=MOST_BREAKS, high=MOST_SETS)),
    "margin_pct": ("--margin", percent()),
    "markup_pct": ("--markup", percent(_MOST_MARKUP)),
    "rush_pct": ("--rush", percent()),
    "discount_pct": ("--discount", percent()),
    "valid_days": ("--valid", count(least=1)),
}
_OTHER_OPTIONS = {"lines": "--lines", "learning": "--learning", "taxes": "--tax", "prices": "--price",
                  "because": "--because", "lead_time": "--lead-time"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class QuoteOptions:
    """The options as typed; None or empty if not given. `prices` are (line of the quote, price) as typed."""

    sets: str | None = None
    breaks: str | None = None
    margin_pct: str | None = None
    markup_pct: str | None = None
    rush_pct: str | None = None
    discount_pct: str | None = None
    lines: LineStyle | None = None
    learning: Learning | None = None
    valid_days: str | None = None
    taxes: tuple[str, ...] = ()
    prices: tuple[tuple[str, str], ...] = ()
    because: str = ""
    lead_time: str | None = None

    def given(self) -> list[str]:
        """Names of the options that were given."""
        named = {name: option for name, (option, _) in _OPTIONS.items()} | _OTHER_OPTIONS
        return [option for name, option in named.items() if getattr(self, name) not in (None, (), "")]

    def wishes(self, notation: Notation) -> QuoteWishes:
        """The options read in a shop's notation.

        Raises:
            InputError: an option cannot be used.
        """
        read = {
            name: read_typed(option, kind, text, notation)
            for name, (option, kind) in _OPTIONS.items()
            if (text := getattr(self, name)) is not None
        }
        overrides = tuple(
            PriceOverride(line, read_typed(f"--price {line}", money(), text, notation), self.because)
            for line, text in self.prices
        )
        return QuoteWishes(
            **read, lines=self.lines, learning=self.learning, taxes=self.taxes, overrides=overrides,
            lead_time=self.lead_time,
        )  # fmt: skip
