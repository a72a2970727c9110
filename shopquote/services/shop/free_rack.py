"""What a quote asks for on the rack: free bars, what they cost, and whether its job has bars already."""

from collections.abc import Collection, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import Executable, select, union_all
from sqlalchemy.orm import Session

from shopquote.calc.takeoff.cut_plan import RackBar
from shopquote.calc.units import ZERO, Length
from shopquote.records.bars import OF_JOBS, RACK
from shopquote.records.jobs import Job


def free_rack(
    session: Session, section_key: str, grade: str, *, at_least: Length = ZERO, limit: int | None = None
) -> tuple[RackBar, ...]:
    """Free pieces of a section and grade, ready for the cut planner, the shortest first.

    A piece that cost nothing on file has no value of its own: the planner takes that of its length.
    """
    query = (
        select(RACK.c.code, RACK.c.length, RACK.c.heat, RACK.c.cost)
        .where(
            RACK.c.state == "free",
            RACK.c.section_key == section_key,
            RACK.c.grade == grade,
            RACK.c.length >= at_least,
        )
        .order_by(RACK.c.length, RACK.c.code)
        .limit(limit)
    )
    return tuple(
        RackBar(code, length, heat, value=cost or None) for code, length, heat, cost in _asked(session, query)
    )


def costs_of(session: Session, codes: Sequence[str]) -> dict[str, Decimal]:
    """What pieces cost the shop, by code, in its own currency."""
    if not codes:
        return {}
    query = select(RACK.c.code, RACK.c.cost).where(RACK.c.code.in_(codes))
    return {code: cost for code, cost in _asked(session, query)}


def have_bars(session: Session, jobs: Collection[str]) -> bool:
    """Whether anything was ever promised, ordered or cut for these jobs; of most that are quoted nothing was.

    Asked by itself it takes a fifth of the time of the questions for the bars.
    """
    ids = select(Job.id).where(Job.number.in_(jobs))
    query = union_all(*(select(key).where(key.in_(ids)) for key in OF_JOBS)).limit(1)
    return _asked(session, query).first() is not None


def _asked(session: Session, query: Executable) -> Any:
    """The answer from what is stored and what the session is about to store.

    A table that is only named does not tell the session that its own rows are meant.
    """
    session.flush()
    return session.execute(query)
