"""Won, lost and open quotes by their margin."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.review.variance import per_cent
from shopquote.records.jobs import Job
from shopquote.records.people import Customer
from shopquote.services.jobs.job_states import LOST_STATES, WON_STATES
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import NUMBER_STEPS, steps
from shopquote.services.review.selection import Filters


@dataclass(frozen=True, slots=True)
class WinRate:
    """Quotes with margins in one band: how many were won, lost and are open."""

    band: str
    won: int
    lost: int
    open: int

    @property
    def won_pct(self) -> Decimal | None:
        """Won quotes in per cent of decided ones."""
        return per_cent(Decimal(self.won), Decimal(self.won + self.lost))


BAND = 10  # percentage points of margin in one band
_MOST = 60  # margins above are in one band


def count_win_rates(session: Session, filters: Filters) -> tuple[WinRate, ...]:
    """Won, lost and open quotes by margin; the days of the filters are those of the quotes.

    Bands are centred on the margin asked most often, so that rounding does not divide quotes with equal
    margins. Dropped jobs are left out, as nobody decided on their price.
    """
    chosen = chosen_quotes()
    stored = steps(chosen.c.margin_pct)
    query = select(stored, Job.state, func.count()).join(Job, Job.id == chosen.c.job_id)
    query = query.where(Job.state != "dropped").group_by(stored, Job.state)
    if filters.since is not None:
        query = query.where(chosen.c.issued_on >= filters.since)
    if filters.until is not None:
        query = query.where(chosen.c.issued_on <= filters.until)
    if filters.customer is not None:
        query = query.join(Customer, Customer.id == Job.customer_id)
        query = query.where(Customer.name == filters.customer)
    asked: Counter[tuple[int, str]] = Counter()
    for margin, state, number in session.connection().execute(query):
        asked[whole_pct(margin), state] += number
    if not asked:
        return ()
    by_margin: Counter[int] = Counter()
    for (margin, _), number in asked.items():
        by_margin[margin] += number
    # With the usual margin in the middle of a band, since most quotes have exactly that one.
    edges = band_edges(min(by_margin, key=lambda margin: (-by_margin[margin], margin)))
    counts: dict[int, list[int]] = {}
    for (margin, state), number in asked.items():
        row = counts.setdefault(bisect_right(edges, margin), [0, 0, 0])
        row[0 if state in WON_STATES else 1 if state in LOST_STATES else 2] += number
    return tuple(WinRate(_band_name(index, edges), *counts[index]) for index in sorted(counts))


def whole_pct(stored: int) -> int:
    """Stored steps as a whole per cent, rounded half away from 0, without making a Decimal for every quote.

    >>> [whole_pct(stored) for stored in (29_500_000, 29_499_999, -500_000)]
    [30, 29, -1]
    """
    whole = (2 * abs(stored) + NUMBER_STEPS) // (2 * NUMBER_STEPS)
    return whole if stored >= 0 else -whole


def band_edges(usual: int) -> tuple[int, ...]:
    """Lower ends of the bands, placed so that the usual margin is in the middle of one.

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
