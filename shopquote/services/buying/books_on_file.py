"""`Books` of a shop on file, read in a session. Begin at `BooksOnFile`."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.takeoff.cut_plan import RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.takeoff.whole_sheets import Sold
from shopquote.records.people import Customer
from shopquote.records.shop import Shop, TaxRow
from shopquote.services.buying.available_bars import rack_with, sheets_of
from shopquote.services.buying.offers import ListedBar
from shopquote.services.buying.offers_on_file import guessed_bars, listed_bars
from shopquote.services.shop.books import Books
from shopquote.services.shop.customers_alike import like_customers
from shopquote.services.shop.free_rack import costs_of, have_bars
from shopquote.services.shop.invented_entries import invented_benders
from shopquote.services.shop.shop_on_file import saw_settings, standards_book, the_shop

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class BooksOnFile(Books):
    """`Books` read from the database; nothing is cached, so that answers follow changes in the session."""

    session: Session

    @property
    def shop(self) -> Shop:
        """The shop's own row."""
        return the_shop(self.session)

    @property
    def saw(self) -> SawSettings:
        """Settings of the shop's default saw."""
        return saw_settings(self.session)

    def standards(self, on: date) -> StandardsBook:
        """The time standards and rates that apply on a day."""
        return standards_book(self.session, on)

    def taxes(self) -> Sequence[TaxRow]:
        """All taxes, in the order in which they were put on file."""
        return self.session.scalars(select(TaxRow).order_by(TaxRow.id)).all()

    def listed(
        self, section: Section, grade: Grade, on: date, supplier: str | None = None
    ) -> tuple[ListedBar, ...]:
        """What suppliers list of a section and grade on a day, the longest bars first."""
        return listed_bars(self.session, section, grade, on, supplier=supplier)

    def guessed(self, section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
        """For a size that no supplier lists: the nearest listed size priced by mass; see `offers.guessed`."""
        return guessed_bars(self.session, section, grade, on)

    def sheets(self, items: Sequence[Item], held: Sequence["JobBar"]) -> dict[tuple[str, str], Sold]:
        """The wider sheet that strips are cut from, by (section key, grade)."""
        return sheets_of(self.session, items, held)

    def bars_of(self, job: str) -> Sequence["JobBar"]:
        """Every bar promised, ordered or cut for a job number; empty for a job that has no number yet."""
        if not job or not have_bars(self.session, [job]):
            return ()
        from shopquote.services.buying.needs import bars_for_job  # the classes of rack and orders

        return bars_for_job(self.session, job)

    def rack(
        self,
        section: Section,
        grade: Grade,
        held: Sequence["JobBar"],
        jobs: Collection[str],
        saw: SawSettings,
    ) -> Sequence[RackBar]:
        """Bars on the rack that are free, or promised to these jobs."""
        return rack_with(self.session, section, grade, held, jobs, saw)

    def rack_costs(self, codes: Sequence[str]) -> Mapping[str, Decimal]:
        """Cost on file of rack pieces, by code, in the shop's currency."""
        return costs_of(self.session, codes)

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Those of the named benders that are invented starting entries."""
        return invented_benders(self.session, names)

    def like_customers(self, customer: Customer, job: str) -> tuple[str, ...]:
        """A note where the job's customer is new and has a name like one on file; else empty."""
        return like_customers(self.session, customer, job)
