"""Won, lost and open quotes by the margin at which they were quoted."""

from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from shopquote.calc.review.variance import (
    per_cent,
)
from shopquote.records.jobs import Job
from shopquote.records.people import Customer
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.selection import Filters


@dataclass(frozen=True, slots=True)
class WinRate:
    """Quotes whose margin lay in one band: how many were won and lost."""

    band: str
    won: int
    lost: int
    open: int

    @property
    def won_pct(self) -> Decimal | None:
        """Won of those decided."""
        return per_cent(Decimal(self.won), Decimal(self.won + self.lost))


WON_STATES = ("won", "started", "finished", "closed")
LOST_STATES = ("lost",)
MARGIN_BANDS = (0, 10, 20, 30, 40, 50)


def count_win_rates(session: Session, filters: Filters) -> tuple[WinRate, ...]:
    """Won, lost and open quotes by the margin that they were quoted at; by the day of the quote.

    Dropped jobs are left out: nobody decided on their price.
    """
    chosen = chosen_quotes()
    query = select(chosen.c.margin_pct, Job.state).join(Job, Job.id == chosen.c.job_id)
    query = query.where(Job.state != "dropped")
    if filters.since is not None:
        query = query.where(chosen.c.issued_on >= filters.since)
    if filters.until is not None:
        query = query.where(chosen.c.issued_on <= filters.until)
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(func.lower(Customer.name) == filters.customer.lower())
    band = case(
        *((chosen.c.margin_pct < Decimal(limit), index) for index, limit in enumerate(MARGIN_BANDS)),
        else_=len(MARGIN_BANDS),
    )
    query = query.with_only_columns(band.label("band"), Job.state, func.count()).group_by(band, Job.state)
    counts: dict[int, list[int]] = {}
    for index, state, number in session.execute(query):
        row = counts.setdefault(index, [0, 0, 0])
        # Closed jobs were won; what is neither won nor lost still waits for its answer.
        row[0 if state in WON_STATES else 1 if state in LOST_STATES else 2] += number
    return tuple(WinRate(_band_name(index), *counts[index]) for index in sorted(counts))


def _band_name(index: int) -> str:
    if index == 0:
        return "below 0 %"
    if index == len(MARGIN_BANDS):
        return f"{MARGIN_BANDS[-1]} % and more"
    return f"{MARGIN_BANDS[index - 1]} to {MARGIN_BANDS[index]} %"
