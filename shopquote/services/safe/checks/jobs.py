"""Jobs: revisions, states, running numbers, typed texts, and closings against what was logged."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise
from typing import Any

from sqlalchemy import Integer, and_, cast, func, or_, select
from sqlalchemy.orm import Session

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.money import money_step
from shopquote.calc.units import Length, Measure
from shopquote.errors import ShopquoteError
from shopquote.records.closings import ASSUMED_BETWEEN, Closing, ClosingLine
from shopquote.records.jobs import Job, JobRevision, JointRow, PartHole, PartRow, StateChange, WeldRow
from shopquote.records.joint_quotes import JointQuote
from shopquote.records.logs import BoughtUse, MinuteSum, OutsideBill
from shopquote.records.orders import Order
from shopquote.records.quotes import Quote
from shopquote.records.rack import BarUse, RackMove, RackPiece
from shopquote.records.shop import Counter, Shop
from shopquote.services.jobs.job_states import MOVES
from shopquote.services.safe.checks.found import MOST_LINES, Cure, Found, put
from shopquote.services.shop.database import count_from

# The letter of each running number (counter) and the column that uses it.
_NUMBERED: tuple[tuple[str, Any], ...] = (
    ("J", Job.number), ("Q", Quote.number), ("Q", JointQuote.number), ("O", Order.number),
    ("R", RackPiece.code),
)  # fmt: skip

# Lengths that a job keeps together with the text typed: what each is called, its table and column.
TYPED_LENGTHS: tuple[tuple[str, Any, str], ...] = (
    ("length", PartRow, "length"), ("hold", PartRow, "hold"), ("width", PartRow, "width"),
    ("weld leg", WeldRow, "leg"), ("weld length", WeldRow, "length"),
    ("hole", PartHole, "dia"), ("slot", PartHole, "slot"), ("depth", PartHole, "deep"),
    ("counterbore", PartHole, "counterbore"), ("countersink", PartHole, "countersink"),
    ("joint", JointRow, "dia"), ("joint's grip", JointRow, "grip"),
)  # fmt: skip


def counters_are_not_behind(session: Session) -> Iterator[Found]:
    """Each counter has reached the highest number in use, so that no number is given out twice."""
    last = {letter: number for letter, number in session.execute(select(Counter.letter, Counter.last))}
    for letter, number in _NUMBERED:
        highest = session.scalar(
            # After the letter and the hyphen; as a number, since J-10000 sorts before J-9999 as text.
            select(func.max(cast(func.substr(number, 3), Integer))).where(number.like(f"{letter}-%"))
        )
        if highest and highest > last.get(letter, 0):
            yield Found(
                f"the counter of {letter} stands at {last.get(letter, 0)}, {letter}-{highest:04d} is on file",
                _count_from(letter, highest),
                f"it goes on from {highest}",
            )


def _count_from(letter: str, highest: int) -> Cure:
    return lambda session: count_from(session, letter, highest)


def jobs_have_their_revision(session: Session) -> Iterator[Found]:
    """A job's current revision is the newest that exists, and none before it is missing."""
    newest = (
        select(
            JobRevision.job_id, func.max(JobRevision.revision).label("revision"), func.count().label("count")
        )
        .group_by(JobRevision.job_id)
        .subquery()
    )
    rows = session.execute(
        select(Job.id, Job.number, Job.revision, newest.c.revision, newest.c.count)
        .outerjoin(newest, newest.c.job_id == Job.id)
        .where(
            or_(
                newest.c.revision.is_(None),
                newest.c.revision != Job.revision,
                newest.c.count != newest.c.revision,
            )
        )
        .limit(MOST_LINES)
    )
    for row, number, named, found, count in rows.all():
        if found is not None and named == found:
            yield Found(f"job {number} has {count} of its {found} revisions")
        # No cure: what the lost revision said is not known.
        elif found is not None and count == found and named > found:
            yield Found(f"job {number} names revision {named}, its newest is {found}; a revision is lost")
        elif found is not None:
            yield Found(
                f"job {number} names revision {named}, its newest is {found}",
                put(Job, row, revision=found),
                f"it names revision {found}",
            )
        else:
            yield Found(f"job {number} names revision {named}, its newest is missing")


def states_follow_events(session: Session) -> Iterator[Found]:
    """A job is in the state of its last event, and every event is a move that jobs can make."""
    last = (
        select(StateChange.job_id, func.max(StateChange.id).label("event"))
        .group_by(StateChange.job_id)
        .subquery()
    )
    rows = session.execute(
        select(Job.id, Job.number, Job.state, StateChange.to_state)
        .outerjoin(last, last.c.job_id == Job.id)
        .outerjoin(StateChange, StateChange.id == last.c.event)
        .where(or_(StateChange.id.is_(None), StateChange.to_state != Job.state))
        .limit(MOST_LINES)
    )
    for row, number, state, event in rows.all():
        if event is None:
            yield Found(f"job {number} is {state}, and no event of it is on file")
        else:
            yield Found(
                f"job {number} is {state}, its last event left it {event}",
                put(Job, row, state=event),
                f"it is {event}",
            )
    yield from _events_out_of_order(session)


def _events_out_of_order(session: Session) -> Iterator[Found]:
    events = session.execute(
        select(Job.number, StateChange.job_id, StateChange.from_state, StateChange.to_state, StateChange.at)
        .join(Job, Job.id == StateChange.job_id)
        .order_by(StateChange.job_id, StateChange.id)
    ).all()
    listed = 0
    begun = set()
    for event in events:
        if event.job_id not in begun and event.from_state is not None:
            yield Found(f"job {event.number}: its first event is from {event.from_state}, not its beginning")
        begun.add(event.job_id)
    for before, after in pairwise(events):
        # One lost event would otherwise give a fault for each that follows.
        if listed >= MOST_LINES or before.job_id != after.job_id:
            continue
        if after.from_state != before.to_state:
            listed += 1
            yield Found(f"job {after.number}: an event from {after.from_state} follows {before.to_state}")
        elif after.to_state not in MOVES[before.to_state]:
            listed += 1
            yield Found(f"job {after.number}: from {before.to_state} to {after.to_state}, which no job does")


def typed_texts_give_their_values(session: Session) -> Iterator[Found]:
    """Each stored length is what its typed text says in the unit of the revision, and each section key what
    the typed bar says.
    """
    for what, owner, name in TYPED_LENGTHS:
        text, value = getattr(owner, f"{name}_text"), getattr(owner, name)
        # Grouped: the same few lengths are typed again and again, and each is parsed once.
        query = select(text, value, JobRevision.units, func.min(JobRevision.id)).select_from(owner)
        if owner is PartHole:
            query = query.join(PartRow, PartRow.id == PartHole.part_id)
        query = query.join(JobRevision, JobRevision.id == _revision_of(owner))
        for typed, length, unit, row in session.execute(
            query.where(text.is_not(None), text != "").group_by(text, value, JobRevision.units)
        ):
            if not _text_gives_length(typed, length, unit):
                shown = "nothing" if length is None else f"{length.mm.normalize():f} mm"
                yield Found(f"{what} {typed!r} stands for {shown} in revision row {row}")
    bars = select(PartRow.bar, PartRow.section_key, JobRevision.units, func.min(JobRevision.id)).join(
        JobRevision, JobRevision.id == PartRow.job_revision_id
    )
    for bar, key, unit, row in session.execute(
        bars.group_by(PartRow.bar, PartRow.section_key, JobRevision.units)
    ):
        if not _text_gives_key(bar, key, unit):
            yield Found(f"bar {bar!r} stands as {key!r} in revision row {row}")


def _revision_of(owner: Any) -> Any:
    return PartRow.job_revision_id if owner is PartHole else owner.job_revision_id


def _text_gives_length(typed: str | None, length: Length | None, unit: str) -> bool:
    try:
        return Measure.parse(typed or "", "in" if unit == "in" else "mm").length == length
    except ShopquoteError:
        return False


def _text_gives_key(bar: str, key: str, unit: str) -> bool:
    try:
        return parse_section(bar, "in" if unit == "in" else "mm").key == key
    except ShopquoteError:
        return False


def closings_fit_their_jobs(session: Session) -> Iterator[Found]:
    """A closed job has exactly one valid closing, any other job none; closings agree with what is logged."""
    standing = (
        select(Closing.job_id, func.count().label("count"))
        .where(Closing.reopened_on.is_(None))
        .group_by(Closing.job_id)
        .subquery()
    )
    count = func.coalesce(standing.c.count, 0)
    rows = session.execute(
        select(Job.number, Job.state, count)
        .outerjoin(standing, standing.c.job_id == Job.id)
        .where(or_(and_(Job.state == "closed", count != 1), and_(Job.state != "closed", count != 0)))
        .limit(MOST_LINES)
    )
    for number, state, found in rows.all():
        yield Found(f"job {number} is {state}, and {found} closings of it stand")
    yield from _minutes_of_closings(session)
    for category, used, cost in _USED:
        yield from _uses_of_closings(session, category, used, cost)


def _minutes_of_closings(session: Session) -> Iterator[Found]:
    """A standing closing has the minutes and cost logged of each operation, and the amount of outside bills.

    The two must be equal, for nothing can be logged on a closed job.
    """
    logged = (
        select(
            MinuteSum.job_id,
            MinuteSum.operation,
            func.sum(MinuteSum.minutes).label("minutes"),
            func.sum(MinuteSum.cost).label("cost"),
        )
        .group_by(MinuteSum.job_id, MinuteSum.operation)
        .subquery()
    )
    rows = session.execute(
        _with_closing_line(
            select(
                Job.number, logged.c.operation, logged.c.minutes, logged.c.cost, ClosingLine.minutes_actual,
                ClosingLine.actual,
            ),
            logged,
            ClosingLine.operation == logged.c.operation,
        ).where(
            or_(
                ClosingLine.id.is_(None), ClosingLine.minutes_actual != logged.c.minutes,
                ClosingLine.actual != logged.c.cost,
            )
        )
    )  # fmt: skip
    for number, operation, minutes, cost, closed, at_cost in rows.all():
        was = "nothing" if closed is None else f"{closed.normalize():f} min for {at_cost:f}"
        amounts = f"{minutes.normalize():f} min for {cost:f}"
        yield Found(f"job {number}, {operation}: {amounts} are logged, closed with {was}")
    bills = (
        select(OutsideBill.job_id, func.sum(OutsideBill.amount).label("cost"))
        .group_by(OutsideBill.job_id)
        .subquery()
    )
    paid = _with_closing_line(
        select(Job.number, bills.c.cost, ClosingLine.actual), bills, ClosingLine.category == "outside"
    ).where(or_(ClosingLine.id.is_(None), ClosingLine.actual != bills.c.cost))
    for number, cost, closed in session.execute(paid).all():
        was = "nothing" if closed is None else f"{closed:f}"
        yield Found(f"job {number}, outside work: bills of {cost:f} are logged, closed with {was}")


# Categories of cost that are logged use by use: the table, and the cost of one use.
_USED: tuple[tuple[str, Any, Any], ...] = (
    ("material", BarUse, BarUse.cost - BarUse.credit), ("bought", BoughtUse, BoughtUse.cost),
)  # fmt: skip


def _uses_of_closings(session: Session, category: str, used: Any, cost: Any) -> Iterator[Found]:
    """A standing closing has the cost of the bars or bought items logged, but for rounding.

    A closing may say more where it took a category as quoted, or where an offcut came back after it.
    """
    logged = (
        select(used.job_id, func.sum(cost).label("cost"), func.count().label("count"))
        .group_by(used.job_id)
        .subquery()
    )
    rows = _with_closing_line(
        select(
            Job.number, Closing, logged.c.cost, logged.c.count, ClosingLine.actual,
        ),
        logged,
        ClosingLine.category == category,
    )  # fmt: skip
    shop = session.get(Shop, 1)
    # Every use is rounded by itself and the closing's line once more: each rounding is off by up to one step.
    step = money_step(shop.currency if shop is not None else "EUR")
    for number, closing, spent, count, closed in session.execute(rows.limit(None)).all():
        text = f"job {number}, {category}: {spent:f} is logged, closed with"
        if closed is None:
            yield Found(f"{text} nothing")
        elif closed < spent - step * (1 + count):
            yield Found(f"{text} {closed:f}")
        elif closed > spent + step * (1 + count):
            as_quoted = any(word.split(":")[0] == category for word in closing.assumed.split(ASSUMED_BETWEEN))
            back = _cost_returned_after(session, closing) if used is BarUse and not as_quoted else Decimal(0)
            if not as_quoted and closed > spent + back + step * (1 + count):
                yield Found(f"{text} {closed:f}")


def _cost_returned_after(session: Session, closing: Closing) -> Decimal:
    """The cost of offcuts that came back after a closing, of bars that its job used.

    An offcut may be entered for an earlier day, so the moment of the entry counts; and the day too, since a
    clock may have been set back between.
    """
    entered_later = (RackMove.kind == "returned") & (RackMove.at >= closing.closed_at)
    query = select(func.sum(RackPiece.cost)).where(
        RackPiece.parent_id.in_(select(BarUse.rack_piece_id).where(BarUse.job_id == closing.job_id)),
        or_(
            RackPiece.made_on >= closing.closed_on,
            RackPiece.id.in_(select(RackMove.piece_id).where(entered_later)),
        ),
    )
    return session.scalar(query) or Decimal(0)


def _with_closing_line(query: Any, logged: Any, line: Any) -> Any:
    """The query joined to what was logged on closed jobs and the line of the closing that stands, if any."""
    return (
        query.join(Closing, Closing.job_id == Job.id)
        .join(logged, logged.c.job_id == Job.id)
        .outerjoin(ClosingLine, and_(ClosingLine.closing_id == Closing.id, line))
        .where(Job.state == "closed", Closing.reopened_on.is_(None))
        .limit(MOST_LINES)
    )
