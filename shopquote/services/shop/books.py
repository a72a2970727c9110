"""The records of a shop that a quote or a purchase reads, as one interface. Loads no table.

`buying.books_on_file` implements it on a session, `quotes.starting_books` for a new shop without a database.
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
    """Read-only access to the shop's row and lists.

    Methods with a body return what a shop without a database has: an empty rack, no jobs, no customers.
    """

    @property
    @abstractmethod
    def shop(self) -> "Shop":
        """The shop's own row."""

    @property
    @abstractmethod
    def saw(self) -> SawSettings:
        """Settings of the shop's default saw."""

    @abstractmethod
    def standards(self, on: date) -> StandardsBook:
        """The time standards and rates that apply on a day."""

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
        """For a size that no supplier lists: the nearest listed size priced by mass; see `offers.guessed`."""

    @abstractmethod
    def sheets(self, items: Sequence[Item], held: "Sequence[JobBar]") -> dict[tuple[str, str], Sold]:
        """The wider sheet that strips are cut from, by (section key, grade)."""

    def bars_of(self, job: str) -> "Sequence[JobBar]":
        """Every bar promised, ordered or cut for a job number; empty for a job that has no number yet."""
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
        """Cost on file of rack pieces, by code, in the shop's currency."""
        return {}

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Those of the named benders that are invented starting entries."""
        return ()

    def like_customers(self, customer: "Customer", job: str) -> tuple[str, ...]:
        """A note where the job's customer is new and has a name like one on file; else empty."""
        return ()


class QuoteBooks(Books):
    """What a quote reads beside what a purchase reads."""

    def lead_time(
        self,
        minutes: Iterable[MinutesLine],
        suppliers: "Iterable[Supplier]",
        locale: str,
        on: date,
        ahead: Sequence[Iterable[MinutesLine]],
    ) -> tuple[str, tuple[str, ...]]:
        """Lead time as printed (from the open jobs where the house rule asks so), and notes for the shop."""
        return self.shop.lead_time, ()
