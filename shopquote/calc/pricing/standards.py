"""Time standards, rates and prices of materials used up: what an estimate is made from.

A standard is one number with its unit, where it came from, since when it counts
and how far it spreads. Names are dotted, the operation first: `saw.bar-handling`,
`rate.welding`. Begin at `StandardsBook`; `STARTING_STANDARDS` is what a new shop has
until it puts its own figures on file. Money is in the shop's currency.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.starting_rows import FORMER_SOURCES, STARTING_ROWS
from shopquote.errors import InputError, NotFoundError, nearest_word

BY_HAND = "by-hand."


@dataclass(frozen=True, slots=True)
class Standard:
    """One figure of the shop's.

    `spread_pct` is one standard deviation in per cent of the value: how far the
    true figure of one job usually lies from it. `since` None means from the start.
    """

    name: str
    value: Decimal
    unit: str
    source: str
    since: date | None = None
    spread_pct: Decimal = Decimal(20)

    def __post_init__(self) -> None:
        if not self.value.is_finite() or self.value < 0:
            raise InputError(f"Standard {self.name} is {self.value}; it must be a number of at least 0.")
        if not self.spread_pct.is_finite() or self.spread_pct < 0:
            raise InputError(f"Standard {self.name}: spread is {self.spread_pct} %; it must be at least 0.")


def by_hand(operation: str) -> str:
    """Name of the standard that minutes given by hand are multiplied by, once a shop has measured one.

    >>> by_hand("welding")
    'by-hand.welding'
    """
    return f"{BY_HAND}{operation}"


class StandardsBook(Mapping[str, Standard]):
    """All standards that count on one day, by name; never changed in place."""

    def __init__(self, standards: Iterable[Standard] = ()) -> None:
        self._standards = {standard.name: standard for standard in standards}

    def __getitem__(self, name: str) -> Standard:
        try:
            return self._standards[name]
        except KeyError:
            nearest = nearest_word(name, self._standards)
            hint = f"Did you mean {nearest!r}? " if nearest else ""
            raise NotFoundError(
                f"Standard {name!r} is not on file.", hint=f"{hint}See: shopquote rates list"
            ) from None

    def __contains__(self, name: object) -> bool:
        return name in self._standards

    def __iter__(self) -> Iterator[str]:
        return iter(self._standards)

    def __len__(self) -> int:
        return len(self._standards)

    def value(self, name: str) -> Decimal:
        """The number itself.

        Raises:
            NotFoundError: no standard has this name; the nearest one is told.
        """
        return self[name].value

    def divisor(self, name: str) -> float:
        """The number of a speed, rate or share that something is divided by.

        Raises:
            NotFoundError: no standard has this name.
            InputError: it is zero.
        """
        value = self.value(name)
        if value == 0:
            raise InputError(f"Standard {name} is 0; it must be above 0, for minutes are divided by it.")
        return float(value)

    def of_family(self, stem: str, family: str) -> str:
        """Name of the standard of a grade family, `stem.family`, or of mild steel where it has none."""
        name = f"{stem}.{family}"
        return name if name in self._standards else f"{stem}.mild"

    def of_metal(self, stem: str, metal: str) -> str:
        """Name of the standard of a metal group, `stem.metal`, or the common one where it has none."""
        name = f"{stem}.{metal}"
        return name if name in self._standards else stem

    def with_values(self, values: Mapping[str, Decimal], *, source: str = "asked for") -> "StandardsBook":
        """Another book in which some standards have other values.

        Raises:
            NotFoundError: a name is not in this book.

        >>> book = starting_book().with_values({"rate.welding": Decimal(70)})
        >>> book.value("rate.welding")
        Decimal('70')
        """
        changed = {name: replace(self[name], value=value, source=source) for name, value in values.items()}
        return StandardsBook((self._standards | changed).values())


def standards_on(standards: Iterable[Standard], day: date) -> StandardsBook:
    """The newest figure of each name that counts on a day; those without a date are the oldest."""
    newest: dict[str, Standard] = {}
    for standard in standards:
        if standard.since is not None and standard.since > day:
            continue
        held = newest.get(standard.name)
        if held is None or (standard.since or date.min) >= (held.since or date.min):
            newest[standard.name] = standard
    return StandardsBook(newest.values())


def _standards(rows: Iterable[tuple[str, str, str, str, str]]) -> tuple[Standard, ...]:
    return tuple(
        Standard(name, Decimal(value), unit, source, None, Decimal(spread))
        for name, value, unit, spread, source in rows
    )


STARTING_STANDARDS: tuple[Standard, ...] = _standards(STARTING_ROWS)


def completed(standards: Iterable[Standard]) -> StandardsBook:
    """A book of these standards in which the starting figures stand for those that are missing.

    An older database or stored quote does not hold what a newer program also asks for.

    >>> completed([]).value("weld.tacks")
    Decimal('2')
    """
    return StandardsBook((*STARTING_STANDARDS, *standards))


def starting_book() -> StandardsBook:
    """The starting standards as a book."""
    return StandardsBook(STARTING_STANDARDS)


def is_measured(name: str, book: StandardsBook) -> bool:
    """Whether the shop put this figure on file itself, or learned it; a starting figure is not measured."""
    if name not in _STARTED or name not in book:
        return name in book
    # A shop that was set up earlier holds starting figures of their day, with the words of their day.
    return book[name].source not in (_STARTED[name].source, *FORMER_SOURCES.get(name, ()))


_STARTED = starting_book()
