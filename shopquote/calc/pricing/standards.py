"""Standards, from which an estimate is made: time standards, hourly rates, prices of consumables.

A standard is one number with its unit, its source, the day since which it counts, and its spread. Names are
dotted, the operation first: `saw.bar-handling`, `rate.welding`. Begin at `StandardsBook`; a new shop has
`STARTING_STANDARDS` until it puts its own figures on file. Money is in the shop's currency.
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
    """One standard. `spread_pct` is the standard deviation from job to job in per cent of the value.

    `since` None: it has always counted.
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
    """Name of the factor for minutes given by hand, which exists once a shop has measured such work.

    >>> by_hand("welding")
    'by-hand.welding'
    """
    return f"{BY_HAND}{operation}"


class StandardsBook(Mapping[str, Standard]):
    """The standards in force on one day by name; immutable."""

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
        """The value of a standard.

        Raises:
            NotFoundError: no standard has this name; the message offers the nearest one.
        """
        return self[name].value

    def divisor(self, name: str) -> float:
        """The value of a standard to divide by, such as a speed, as a float in the standard's unit.

        Raises:
            NotFoundError: no standard has this name.
            InputError: it is zero.
        """
        value = self.value(name)
        if value == 0:
            raise InputError(f"Standard {name} is 0; it must be above 0, for minutes are divided by it.")
        return float(value)

    def of_family(self, stem: str, family: str) -> str:
        """The name `stem.family` of a grade family's standard; that of mild steel where it has none."""
        name = f"{stem}.{family}"
        return name if name in self._standards else f"{stem}.mild"

    def of_metal(self, stem: str, metal: str) -> str:
        """The name `stem.metal` of a metal group's standard; the common one where it has none."""
        name = f"{stem}.{metal}"
        return name if name in self._standards else stem

    def with_values(self, values: Mapping[str, Decimal], *, source: str = "asked for") -> "StandardsBook":
        """A copy in which some standards have other values, with `source` as theirs.

        Raises:
            NotFoundError: a name is not in this book.

        >>> book = starting_book().with_values({"rate.welding": Decimal(70)})
        >>> book.value("rate.welding")
        Decimal('70')
        """
        changed = {name: replace(self[name], value=value, source=source) for name, value in values.items()}
        return StandardsBook((self._standards | changed).values())


def standards_on(standards: Iterable[Standard], day: date) -> StandardsBook:
    """The standards in force on a day: of each name the newest not after it; undated ones are the oldest."""
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
    """A book of these standards, with starting standards for names that are missing.

    An older database or stored quote lacks standards that a newer program needs.

    >>> completed([]).value("weld.tacks")
    Decimal('2')
    """
    return StandardsBook((*STARTING_STANDARDS, *standards))


def starting_book() -> StandardsBook:
    """The starting standards as a book."""
    return StandardsBook(STARTING_STANDARDS)


def is_measured(name: str, book: StandardsBook) -> bool:
    """Whether the shop entered or learned this standard itself, so that it is no starting figure."""
    if name not in _STARTED or name not in book:
        return name in book
    # Shops that were set up earlier have starting figures with the source texts of their day.
    return book[name].source not in (_STARTED[name].source, *FORMER_SOURCES.get(name, ()))


_STARTED = starting_book()
