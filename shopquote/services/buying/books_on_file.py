"""The shop's books as they are on file, read in a session. Begin at `BooksOnFile`."""

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
from shopquote.services.buying.at_hand import rack_with, sheets_of
from shopquote.services.buying.offers import ListedBar
from shopquote.services.buying.offers_on_file import guessed_bars, listed_bars
from shopquote.services.shop.books import Books
from shopquote.services.shop.customers_alike import like_customers
from shopquote.services.shop.free_rack import costs_of, have_bars
from shopquote.services.shop.made_up import invented_benders
from shopquote.services.shop.shop_on_file import saw_settings, standards_book, the_shop

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class BooksOnFile(Books):
    """`Books` of a shop on file; each question is asked of the database anew."""

    session: Session

    @property
    def shop(self) -> Shop:
        """The shop's own row."""
        return the_shop(self.session)

    @property
    def saw(self) -> SawSettings:
        """The saw that is used unless another is named."""
        return saw_settings(self.session)

    def standards(self, on: date) -> StandardsBook:
        """The standards that count on a day."""
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
        """The nearest bar that is listed, for a size that nobody lists."""
        return guessed_bars(self.session, section, grade, on)

    def sheets(self, items: Sequence[Item], held: Sequence["JobBar"]) -> dict[tuple[str, str], Sold]:
        """The wider sheet that pieces come off, by section key and grade."""
        return sheets_of(self.session, items, held)

    def bars_of(self, job: str) -> Sequence["JobBar"]:
        """Every bar that a job has; of a job without a number, none."""
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
        """What pieces of the rack cost the shop, by code."""
        return costs_of(self.session, codes)

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Of these benders those that the shop started with."""
        return invented_benders(self.session, names)

    def like_customers(self, customer: Customer, job: str) -> tuple[str, ...]:
        """A note where a new customer has a name like one on file."""
        return like_customers(self.session, customer, job)
