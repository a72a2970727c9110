"""What a quote and a purchase look up of a shop: on file, or as a new shop has it. Loads no table.

`buying.books_on_file` reads them in a session; `quotes.starting_books` has those of a shop without a
database.
"""

from abc import ABC, abstractmethod
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.pricing.priced_quote import MinutesLine
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.takeoff.cut_plan import RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.takeoff.whole_sheets import Sold

if TYPE_CHECKING:
    from shopquote.records.people import Customer, Supplier
    from shopquote.records.shop import Shop, TaxRow
    from shopquote.services.buying.needs import JobBar
    from shopquote.services.buying.offers import ListedBar


class Books(ABC):
    """The shop's own row and lists; whoever asks writes nothing. What is answered here is empty at first."""

    @property
    @abstractmethod
    def shop(self) -> "Shop":
        """The shop's own row."""

    @property
    @abstractmethod
    def saw(self) -> SawSettings:
        """The saw that is used unless another is named."""

    @abstractmethod
    def standards(self, on: date) -> StandardsBook:
        """The standards that count on a day."""

    @abstractmethod
    def taxes(self) -> "Sequence[TaxRow]":
        """All taxes, in the order in which they were put on file."""

    @abstractmethod
    def listed(
        self, section: Section, grade: Grade, on: date, supplier: str | None = None
    ) -> "tuple[ListedBar, ...]":
        """What suppliers list of a section and grade on a day, the longest bars first."""

    @abstractmethod
    def guessed(self, section: Section, grade: Grade, on: date) -> "tuple[ListedBar, ...]":
        """The nearest bar that is listed, for a size that nobody lists; see `offers.guessed`."""

    @abstractmethod
    def sheets(self, items: Sequence[Item], held: "Sequence[JobBar]") -> dict[tuple[str, str], Sold]:
        """The wider sheet that pieces come off, by section key and grade."""

    def bars_of(self, job: str) -> "Sequence[JobBar]":
        """Every bar that a job has; of a job without a number, none."""
        return ()

    def rack(
        self,
        section: Section,
        grade: Grade,
        held: "Sequence[JobBar]",
        jobs: Collection[str],
        saw: SawSettings,
    ) -> Sequence[RackBar]:
        """Bars on the rack that are free, or promised to these jobs."""  # fmt: skip
        return ()

    def rack_costs(self, codes: Sequence[str]) -> Mapping[str, Decimal]:
        """What pieces of the rack cost the shop, by code."""
        return {}

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Of these benders those that the shop started with."""
        return ()

    def like_customers(self, customer: "Customer", job: str) -> tuple[str, ...]:
        """A note where a new customer has a name like one on file."""
        return ()


class QuoteBooks(Books):
    """Besides, what a quote alone asks."""

    def lead_time(
        self,
        minutes: Iterable[MinutesLine],
        suppliers: "Iterable[Supplier]",
        locale: str,
        on: date,
        ahead: Sequence[Iterable[MinutesLine]],
    ) -> tuple[str, tuple[str, ...]]:
        """A lead time that follows from the open jobs, with notes for the shop."""  # fmt: skip
        return self.shop.lead_time, ()
