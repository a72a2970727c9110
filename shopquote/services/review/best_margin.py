"""Which margin earns most: the chance of winning at each, learned from won and lost quotes."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.records.jobs import Job, StateChange
from shopquote.records.people import Customer
from shopquote.services.jobs.job_states import LOST_STATES, WON_STATES
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.review.job_figures import MONEY_STEPS, NUMBER_STEPS, steps
from shopquote.services.review.job_groups import NO_PARTS, kinds_of_jobs

if TYPE_CHECKING:
    from shopquote.calc.review.chances import Best, Chance, Chances

# Percentage points of margin between two rows.
_STEP = 4


@dataclass(frozen=True, slots=True)
class Asking:
    """Chances of a typical quote at several margins, the best margin, and why quotes were lost.

    `rows` is empty and `best` None if decided quotes are too few, or too alike, to tell.
    """

    decided: int = 0
    rows: "tuple[Chance, ...]" = ()
    best: "Best | None" = None
    reasons: tuple[tuple[str, int], ...] = ()


def asking_of(session: Session, kinds: Mapping[int, str]) -> Asking:
    """What all decided quotes show; `kinds` is the kind of each job by id, see `kinds_of_jobs`."""
    chances, decided = learn_chances(session, kinds)
    reasons = _reasons(session)
    if chances is None:
        return Asking(decided, (), None, reasons)
    middle = round(chances.margin_pct)
    # Seven rows around the usual margin, as many as can be compared at a glance.
    margins = [middle + _STEP * place for place in range(-3, 4)]
    asked = [margin for margin in margins if chances.least_pct <= margin <= chances.most_pct]
    # Only within the margins that were ever quoted: beyond them nothing was learned.
    rows = tuple(chances.at(margin, chances.cost) for margin in asked or [middle])
    return Asking(decided, rows, chances.best(chances.cost), reasons)


def learn_chances(session: Session, kinds: Mapping[int, str]) -> "tuple[Chances | None, int]":
    """The model fitted to all decided quotes, None if they are too few or too alike, and their number."""
    rows = _decided(session)
    return _learn(rows, kinds), len(rows)


def _decided(session: Session) -> Sequence[Any]:
    """The newest decided quotes: job id, job state, customer, margin and cost in stored steps."""
    chosen = chosen_quotes()
    query = (
        select(Job.id, Job.state, Customer.name, steps(chosen.c.margin_pct), steps(chosen.c.cost))
        .join(chosen, chosen.c.job_id == Job.id)
        .join(Customer, Customer.id == Job.customer_id)
        .where(Job.state.in_((*WON_STATES, *LOST_STATES)))
        .order_by(Job.id.desc())
        .limit(MOST_QUOTES)
    )
    return session.connection().execute(query).all()


def _learn(rows: Sequence[Any], kinds: Mapping[int, str]) -> "Chances | None":
    from shopquote.calc.review.chances import Decided, fit_chances

    return fit_chances(
        [
            Decided(
                margin / NUMBER_STEPS,
                cost / MONEY_STEPS,
                customer,
                kinds.get(job, NO_PARTS),
                state in WON_STATES,
            )
            for job, state, customer, margin, cost in rows
        ]
    )


def chance_of_decided(session: Session, number: str) -> "tuple[Chance, Best] | None":
    """Chance and best margin of a job's quote; None if too few quotes are decided, or it has none."""
    from shopquote.calc.review.chances import LEAST_DECIDED

    rows = _decided(session)
    if len(rows) < LEAST_DECIDED:
        return None  # before the slow query of all jobs' kinds
    kinds = kinds_of_jobs(session)
    chances = _learn(rows, kinds)
    if chances is None:
        return None
    chosen = chosen_quotes()
    query = (
        select(Job.id, Customer.name, steps(chosen.c.margin_pct), steps(chosen.c.cost))
        .join(chosen, chosen.c.job_id == Job.id)
        .join(Customer, Customer.id == Job.customer_id)
        .where(Job.number == number)
    )
    row = session.execute(query).one_or_none()
    if row is None or row[3] <= 0:
        return None
    job, customer, margin, cost = row[0], row[1], row[2] / NUMBER_STEPS, row[3] / MONEY_STEPS
    kind = kinds.get(job, NO_PARTS)
    return chances.at(margin, cost, customer, kind), chances.best(cost, customer, kind)


# Quotes learned from: older ones say little of what customers accept today.
MOST_QUOTES = 1_000


def _reasons(session: Session) -> tuple[tuple[str, int], ...]:
    """The five most frequent reasons noted for lost quotes, with their counts."""
    count = func.count()
    query = (
        select(StateChange.reason, count)
        .join(Job, Job.id == StateChange.job_id)
        .where(StateChange.to_state == "lost", Job.state == "lost", StateChange.reason != "")
        .group_by(StateChange.reason)
        .order_by(count.desc(), StateChange.reason)
        .limit(5)
    )
    return tuple((reason, number) for reason, number in session.execute(query))
