"""The chance that a customer takes a quote, as the shop's won and lost quotes tell it."""

from typing import TYPE_CHECKING

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.review.chances import LEAST_DECIDED
from shopquote.records.jobs import Job
from shopquote.services.jobs.job_states import LOST_STATES, WON_STATES

if TYPE_CHECKING:
    from shopquote.calc.review.chances import Best, Chance


def chance_of_job(session: Session, number: str) -> "tuple[Chance, Best] | None":
    """The chance of a job's quote at its margin, and the margin that most is expected of; None if untold."""
    decided = select(func.count()).where(Job.state.in_((*WON_STATES, *LOST_STATES)))
    if (session.scalar(decided) or 0) < LEAST_DECIDED:
        return None  # what the quotes were of need not be asked for
    from shopquote.services.review.asking import chance_of_decided

    return chance_of_decided(session, number)
