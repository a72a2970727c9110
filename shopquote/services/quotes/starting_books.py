"""`QuoteBooks` of a shop without a database: what setting up would store, with no table loaded.

Begin at `StartingBooks`. A test compares every value with what `set_up` stores.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, cast

from shopquote.calc.bar.benders import LongestBar
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.splice import longest_bars
from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.standards import STARTING_STANDARDS, StandardsBook, standards_on
from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.takeoff.whole_sheets import Sold
from shopquote.calc.units import ZERO
from shopquote.services.buying.offers import ListedBar, guessed, listed
from shopquote.services.buying.wanted import wider_sheets
from shopquote.services.shop.books import QuoteBooks
from shopquote.services.shop.invented_words import INVENTED_WORD
from shopquote.services.shop.setup import (
    ShopDetails,
    starting_bar_rows,
    starting_saws,
    starting_shop_row,
    starting_supplier_rows,
    starting_tax_row,
)
from shopquote.services.shop.values import without_idle_zeros

if TYPE_CHECKING:
    from shopquote.records.shop import Shop, TaxRow
    from shopquote.services.buying.needs import JobBar


class _NewRow:
    """Stands in for a table row, with these columns as attributes."""

    def __init__(self, **columns: Any) -> None:
        vars(self).update(columns)


class _NewBar(_NewRow):
    """Stands in for a stock item; its prices are made from `priced` when first read."""

    priced: Iterator[dict[str, Any]]

    @cached_property
    def prices(self) -> list[_NewRow]:
        """As of a stored stock item."""
        return [_NewRow(**price) for price in self.priced]


@dataclass(frozen=True)
class StartingBooks(QuoteBooks):
    """`QuoteBooks` with the starting lists, whose prices apply from day `on`."""

    on: date

    @cached_property
    def shop(self) -> "Shop":
        """Stands in for the shop's row."""
        return cast("Shop", _NewRow(**starting_shop_row(ShopDetails())))

    @cached_property
    def saw(self) -> SawSettings:
        """Settings of the default saw."""
        usual: dict[str, Any] = next(iter(starting_saws(cast(Any, self.shop.units)).values()))
        return SawSettings(**usual, rack_worth_percent=self.shop.rack_worth_pct)

    @cached_property
    def longest(self) -> dict[tuple[str, str], LongestBar]:
        """Like `shop_on_file.longest_on_sale`, of the starting price list."""
        sold = ((bar.section_key, bar.grade, bar.length, ZERO) for bar in self._bars)
        return longest_bars(sold, self.saw.lost)

    def standards(self, on: date) -> StandardsBook:
        """The time standards and rates that apply on a day."""
        short = (
            replace(
                one,
                value=without_idle_zeros(one.value),
                spread_pct=without_idle_zeros(one.spread_pct),
            )
            for one in STARTING_STANDARDS
        )
        return standards_on(short, on)

    def taxes(self) -> "Sequence[TaxRow]":
        """The one starting tax."""
        return [cast("TaxRow", _NewRow(**starting_tax_row(ShopDetails())))]

    def listed(
        self, section: Section, grade: Grade, on: date, supplier: str | None = None
    ) -> tuple[ListedBar, ...]:
        """What suppliers list of a section and grade on a day, the longest bars first."""
        bars = (bar for bar in self._bars if (bar.section_key, bar.grade) == (section.key, grade.name))
        return listed(
            cast(Any, [bar for bar in bars if supplier in (None, bar.supplier.name)]), section, grade, on
        )

    def guessed(self, section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
        """For a size that no supplier lists: the nearest listed size priced by mass; see `offers.guessed`."""
        family = {name for name, other in STARTING_GRADES.items() if other.family == grade.family}
        bars = [bar for bar in self._bars if bar.grade in {*family, grade.name}]
        return guessed(cast(Any, bars), section, grade, on)

    def sheets(self, items: Sequence[Item], held: "Sequence[JobBar]") -> dict[tuple[str, str], Sold]:
        """The wider sheet that strips are cut from, by (section key, grade)."""
        grades = {answer.grade.name for answer, *_ in items if answer.section.form.by_width}
        if not grades:
            return {}
        rows = [
            (bar.section_key, bar.grade, bar.length)
            for bar in self._bars
            if bar.grade in grades and bar.section_key.startswith(("sheet ", "mesh "))
        ]
        return wider_sheets(items, rows, held)

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Those of the named benders that are invented starting entries."""
        wanted = set(names)
        return tuple(
            one.name for one in STARTING_BENDERS if one.name in wanted and one.note.startswith(INVENTED_WORD)
        )

    @cached_property
    def _bars(self) -> tuple[Any, ...]:
        """All listed bars, longest first, with the ids that they would get on file."""
        suppliers = {row["name"]: _NewRow(**row) for row in starting_supplier_rows(self.shop.currency)}
        bars: list[Any] = [
            _NewBar(id=number, supplier=suppliers[name], priced=prices, **row)
            for number, (name, row, prices) in enumerate(starting_bar_rows(self.on), 1)
        ]
        # In the order of the database's query, so that the same bars give the same plan.
        return tuple(sorted(bars, key=lambda bar: (-bar.length.nm, bar.supplier.name)))
