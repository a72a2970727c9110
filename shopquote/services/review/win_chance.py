"""The chance that a customer accepts a quote, learned from the shop's won and lost quotes.

A module of its own, so that a shop with few decided quotes loads no statistics.
"""

from typing import TYPE_CHECKING

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.review.chances import LEAST_DECIDED
from shopquote.records.jobs import Job
from shopquote.services.jobs.job_states import LOST_STATES, WON_STATES

if TYPE_CHECKING:
    from shopquote.calc.review.chances import Best, Chance


def chance_of_job(session: Session, number: str) -> "tuple[Chance, Best] | None":
    """Chance of a job's quote at its margin, and the margin of best expected profit; None if unknown."""
    decided = select(func.count()).where(Job.state.in_((*WON_STATES, *LOST_STATES)))
    if (session.scalar(decided) or 0) < LEAST_DECIDED:
        return None
    from shopquote.services.review.best_margin import chance_of_decided

    return chance_of_decided(session, number)
