"""Won, lost and open quotes by the margin at which they were quoted."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.review.variance import per_cent, round_to
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
BAND = 10  # per cent of margin in one band
_MOST = 60  # margins beyond are told together


def count_win_rates(session: Session, filters: Filters) -> tuple[WinRate, ...]:
    """Won, lost and open quotes by the margin that they were quoted at; by the day of the quote.

    The bands lie about the margin that the shop asks most often, so that no cent of rounding parts quotes
    that were asked alike. Dropped jobs are left out: nobody decided on their price.
    """
    chosen = chosen_quotes()
    query = select(chosen.c.margin_pct, Job.state, func.count()).join(Job, Job.id == chosen.c.job_id)
    query = query.where(Job.state != "dropped").group_by(chosen.c.margin_pct, Job.state)
    if filters.since is not None:
        query = query.where(chosen.c.issued_on >= filters.since)
    if filters.until is not None:
        query = query.where(chosen.c.issued_on <= filters.until)
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(func.lower(Customer.name) == filters.customer.lower())
    rows = [(round_to(margin, "1"), state, number) for margin, state, number in session.execute(query)]
    if not rows:
        return ()
    asked: dict[Decimal, int] = {}
    for margin, _, number in rows:
        asked[margin] = asked.get(margin, 0) + number
    usual = min(asked, key=lambda margin: (-asked[margin], margin))
    edges = band_edges(int(usual))
    counts: dict[int, list[int]] = {}
    for margin, state, number in rows:
        row = counts.setdefault(sum(margin >= edge for edge in edges), [0, 0, 0])
        row[0 if state in WON_STATES else 1 if state in LOST_STATES else 2] += number
    return tuple(WinRate(_band_name(index, edges), *counts[index]) for index in sorted(counts))


def band_edges(usual: int) -> tuple[int, ...]:
    """Where bands begin, so that the usual margin lies in the middle of one.

    >>> band_edges(30), band_edges(2)
    ((5, 15, 25, 35, 45, 55), (7, 17, 27, 37, 47, 57))
    """
    first = (usual - BAND // 2) % BAND
    return tuple(range(first or BAND, _MOST, BAND))


def _band_name(index: int, edges: Sequence[int]) -> str:
    if index == 0:
        return f"below {edges[0]} %"
    if index == len(edges):
        return f"{edges[-1]} % and more"
    return f"{edges[index - 1]} to {edges[index]} %"
