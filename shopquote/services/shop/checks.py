"""`shopquote db check`: everything that must hold in the records, looked at from the records alone.

To add a check, write a function of one `Session` that yields a line for every fault
it finds, and name it in `CHECKS`.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import Subquery, and_, case, func, or_, select, text, union_all
from sqlalchemy.orm import Session, aliased

from shopquote.records.closings import Closing, ClosingLine
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.logs import BarUse, MinuteSum, TimeEntry
from shopquote.records.orders import OrderLine, ReceivedBar
from shopquote.records.quotes import Quote, QuoteCost, QuoteLine, QuoteMinutes, QuoteOperation
from shopquote.records.rack import RackMove, RackPiece
from shopquote.records.schema import newest_version, stored_version
from shopquote.services.shop.doubles import names_stand_once

MOST_LINES = 20


@dataclass(frozen=True)
class Check:
    """One thing that must hold, in plain words, and how to look for its faults."""

    name: str
    find_faults: Callable[[Session], Iterable[str]]


@dataclass(frozen=True)
class CheckResult:
    """What a check found; no faults is good."""

    name: str
    faults: tuple[str, ...]


def run_checks(session: Session) -> tuple[CheckResult, ...]:
    """Every check on the database, in order."""
    return tuple(CheckResult(check.name, tuple(check.find_faults(session))) for check in CHECKS)


def file_is_sound(session: Session) -> Iterator[str]:
    """SQLite's own integrity check; PostgreSQL checks its pages itself."""
    if session.get_bind().dialect.name == "sqlite":
        for (line,) in session.execute(text("PRAGMA integrity_check")):
            if line != "ok":
                yield str(line)


def references_are_whole(session: Session) -> Iterator[str]:
    """Every reference leads to a row that is there; PostgreSQL never lets one dangle."""
    if session.get_bind().dialect.name == "sqlite":
        for table, row, parent, _number in session.execute(text("PRAGMA foreign_key_check")):
            yield f"{table} row {row} refers to a row of {parent} that is not there"


def schema_is_known(session: Session) -> Iterator[str]:
    """The schema is this program's, in name and in tables and columns."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from shopquote.records.tables import metadata

    version = stored_version(session.connection())
    if version != newest_version():
        yield f"schema is {version}, this program needs {newest_version()}"
    for difference in compare_metadata(MigrationContext.configure(session.connection()), metadata):
        yield f"schema differs from the program's: {difference}"


def jobs_have_their_revision(session: Session) -> Iterator[str]:
    """The newest revision of every job is the one that the job names."""
    newest = (
        select(JobRevision.job_id, func.max(JobRevision.revision).label("revision"))
        .group_by(JobRevision.job_id)
        .subquery()
    )
    rows = session.execute(
        select(Job.number, Job.revision, newest.c.revision)
        .outerjoin(newest, newest.c.job_id == Job.id)
        .where(or_(newest.c.revision.is_(None), newest.c.revision != Job.revision))
        .limit(MOST_LINES)
    )
    for number, named, found in rows:
        yield f"job {number} names revision {named}, its newest is {found or 'missing'}"


def quote_lines_add_up(session: Session) -> Iterator[str]:
    """Printed lines add up to the printed net, and net and tax to the total."""
    sums = (
        select(QuoteLine.quote_id, func.sum(QuoteLine.amount).label("net"))
        .group_by(QuoteLine.quote_id)
        .subquery()
    )
    rows = session.execute(
        select(Quote.number, Quote.revision, Quote.net, Quote.tax, Quote.total, sums.c.net)
        .join(sums, sums.c.quote_id == Quote.id)
        .where(or_(sums.c.net != Quote.net, Quote.net + Quote.tax != Quote.total))
        .limit(MOST_LINES)
    )
    for number, revision, net, tax, total, lines in rows:
        yield f"quote {number} revision {revision}: lines {lines}, net {net}, tax {tax}, total {total}"


def received_counts_agree(session: Session) -> Iterator[str]:
    """An order line counts as received exactly the bars that arrived on it."""
    arrived = (
        select(ReceivedBar.order_line_id, func.sum(ReceivedBar.count).label("count"))
        .where(ReceivedBar.order_line_id.is_not(None))
        .group_by(ReceivedBar.order_line_id)
        .subquery()
    )
    rows = session.execute(
        select(OrderLine.id, OrderLine.received, func.coalesce(arrived.c.count, 0))
        .outerjoin(arrived, arrived.c.order_line_id == OrderLine.id)
        .where(func.coalesce(arrived.c.count, 0) != OrderLine.received)
        .limit(MOST_LINES)
    )
    for line, counted, came in rows:
        yield f"order line {line} says {counted} bars received, {came} arrived"


def pieces_are_promised_once(session: Session) -> Iterator[str]:
    """A piece has one code and one state; only open jobs hold promises; nothing cut is still promised."""
    twice = select(RackPiece.code).group_by(RackPiece.code).having(func.count() > 1).limit(MOST_LINES)
    for code in session.scalars(twice):
        yield f"rack code {code} is on two pieces"
    ended = (
        select(RackPiece.code, Job.number, Job.state)
        .join(Job, Job.id == RackPiece.promised_job_id)
        .where(Job.state.in_(("finished", "closed", "lost", "dropped")))
        .limit(MOST_LINES)
    )
    for code, number, state in session.execute(ended):
        yield f"rack piece {code} is still promised to job {number}, which is {state}"
    wrong = (
        select(RackPiece.code, RackPiece.state)
        .where((RackPiece.state == "promised") != RackPiece.promised_job_id.is_not(None))
        .limit(MOST_LINES)
    )
    for code, state in session.execute(wrong):
        yield f"rack piece {code} is {state}, yet its promise says otherwise"


def costs_add_up(session: Session) -> Iterator[str]:
    """A quote's categories add up to its cost, and a closing's lines to its two costs."""
    sums = (
        select(QuoteCost.quote_id, func.sum(QuoteCost.amount).label("cost"))
        .group_by(QuoteCost.quote_id)
        .subquery()
    )
    quotes = (
        select(Quote.number, Quote.revision, Quote.cost, sums.c.cost)
        .join(sums, sums.c.quote_id == Quote.id)
        .where(sums.c.cost != Quote.cost)
        .limit(MOST_LINES)
    )
    for number, revision, cost, parts in session.execute(quotes):
        yield f"quote {number} revision {revision}: cost {cost}, its categories {parts}"
    lines = (
        select(
            ClosingLine.closing_id,
            func.sum(ClosingLine.estimated).label("estimated"),
            func.sum(ClosingLine.actual).label("actual"),
        )
        .group_by(ClosingLine.closing_id)
        .subquery()
    )
    closings = (
        select(
            Job.number,
            Closing.closed_on,
            Closing.cost_estimated,
            lines.c.estimated,
            Closing.cost_actual,
            lines.c.actual,
        )
        .join(Job, Job.id == Closing.job_id)
        .join(lines, lines.c.closing_id == Closing.id)
        .where(or_(lines.c.estimated != Closing.cost_estimated, lines.c.actual != Closing.cost_actual))
        .limit(MOST_LINES)
    )
    for number, day, estimated, estimated_lines, actual, actual_lines in session.execute(closings):
        yield (
            f"job {number}, closed {day}: estimated {estimated}, its lines {estimated_lines}; "
            f"actual {actual}, its lines {actual_lines}"
        )


def minutes_add_up(session: Session) -> Iterator[str]:
    """What the minutes of a job or a quote are kept to add up to is what they add up to."""
    entries = select(
        TimeEntry.job_id, TimeEntry.operation, TimeEntry.kind, TimeEntry.minutes, TimeEntry.cost
    ).where(TimeEntry.minutes > Decimal(0))  # a timer that runs adds nothing yet
    kept = select(MinuteSum.job_id, MinuteSum.operation, MinuteSum.kind, -MinuteSum.minutes, -MinuteSum.cost)
    off = _what_is_off(entries, kept)
    for row in session.execute(select(Job.number, off).join(Job, Job.id == off.c.job_id)):
        yield f"job {row.number}, {row.operation} ({row.kind}): {_more_than_kept(row.minutes, row.cost)}"
    quoted = select(QuoteMinutes.quote_id, QuoteMinutes.operation, QuoteMinutes.minutes, QuoteMinutes.cost)
    stored = select(
        QuoteOperation.quote_id, QuoteOperation.operation, -QuoteOperation.minutes, -QuoteOperation.cost
    )
    off = _what_is_off(quoted, stored)
    for row in session.execute(
        select(Quote.number, Quote.revision, off).join(Quote, Quote.id == off.c.quote_id)
    ):
        amounts = _more_than_kept(row.minutes, row.cost)
        yield f"quote {row.number} revision {row.revision}, {row.operation}: {amounts}"


def _what_is_off(rows: Any, kept: Any) -> Subquery:
    """Rows less what is kept, by all columns but the last two (minutes, cost), where that is not zero."""
    both = union_all(rows, kept).subquery()
    *key, minutes, cost = both.c
    sums = [func.sum(minutes), func.sum(cost)]
    return (
        select(*key, sums[0].label("minutes"), sums[1].label("cost"))
        .group_by(*key)
        .having(or_(*(total != Decimal(0) for total in sums)))
        .limit(MOST_LINES)
        .subquery()
    )


def _more_than_kept(minutes: Decimal, cost: Decimal) -> str:
    return f"its minutes come to {minutes.normalize():f} min and {cost.normalize():f} more than is kept"


def deliveries_lie_on_the_rack(session: Session) -> Iterator[str]:
    """Every bar that arrived became one piece with a code, and pieces were not used before they came."""
    pieces = (
        select(RackPiece.received_bar_id, func.count().label("pieces"))
        .where(RackPiece.parent_id.is_(None), RackPiece.received_bar_id.is_not(None))
        .group_by(RackPiece.received_bar_id)
        .subquery()
    )
    found = func.coalesce(pieces.c.pieces, 0)
    missing = (
        select(ReceivedBar.id, ReceivedBar.section_text, ReceivedBar.count, found)
        .outerjoin(pieces, pieces.c.received_bar_id == ReceivedBar.id)
        .where(found != ReceivedBar.count)
        .limit(MOST_LINES)
    )
    for row, section, count, there in session.execute(missing):
        yield f"delivery row {row}, {section}: {count} bars arrived, {there} became rack pieces"
    came, used = aliased(RackMove), aliased(RackMove)
    early = (
        select(RackPiece.code, used.at, came.at)
        .join(came, and_(came.piece_id == RackPiece.id, came.kind.in_(COMING_MOVES)))
        .join(used, and_(used.piece_id == RackPiece.id, used.kind == "used"))
        .where(used.at < came.at)
        .limit(MOST_LINES)
    )
    for code, used_at, came_at in session.execute(early):
        yield f"rack piece {code} was used at {used_at}, before it came at {came_at}"


def bar_is_accounted_for(session: Session) -> Iterator[str]:
    """Mass balance: bar that came in is on the rack, scrapped, or used; and what was used is on its jobs.

    Piece by piece: its moves add up to its length; the pieces cut from it are not longer
    than it; a used piece stands on its jobs with its whole length and cost, less what came back.
    """
    yield from _moves_and_lengths(session)
    yield from _offcuts_and_bars(session)
    yield from _uses_and_pieces(session)


def _moves_and_lengths(session: Session) -> Iterator[str]:
    moved = (
        select(
            RackMove.piece_id,
            func.sum(case((RackMove.kind.in_(LENGTH_MOVES), RackMove.length), else_=None)).label("length"),
            func.sum(case((RackMove.kind.in_(COMING_MOVES), 1), else_=0)).label("came"),
            func.sum(case((RackMove.kind == "used", 1), (RackMove.kind == "taken back", -1), else_=0)).label(
                "used"
            ),
        )
        .group_by(RackMove.piece_id)
        .subquery()
    )
    came, used = func.coalesce(moved.c.came, 0), func.coalesce(moved.c.used, 0)
    wrong = (
        select(RackPiece.code, RackPiece.state, RackPiece.length, moved.c.length, came, used)
        .outerjoin(moved, moved.c.piece_id == RackPiece.id)
        .where(
            or_(
                came != 1,
                moved.c.length != RackPiece.length,
                used != case((RackPiece.state == "used", 1), else_=0),
            )
        )
        .limit(MOST_LINES)
    )
    for code, state, length, added_up, times_came, times_used in session.execute(wrong):
        moves = "nothing" if added_up is None else f"{added_up.mm.normalize():f} mm"
        yield (
            f"rack piece {code} is {state} and {length.mm.normalize():f} mm long; its moves say {moves}, "
            f"came {times_came} times, used {times_used} times"
        )


def _offcuts_and_bars(session: Session) -> Iterator[str]:
    offcut, bar = aliased(RackPiece), aliased(RackPiece)
    total = func.sum(offcut.length)
    rows = session.execute(
        select(bar.code, bar.state, bar.length, total)
        .join(offcut, offcut.parent_id == bar.id)
        .group_by(bar.id, bar.code, bar.state, bar.length)
        .having(or_(total > bar.length, bar.state != "used"))
        .limit(MOST_LINES)
    )
    for code, state, length, cut in rows:
        yield (
            f"rack piece {code}, {state}, {length.mm.normalize():f} mm: "
            f"{cut.mm.normalize():f} mm of offcuts were cut from it"
        )


def _uses_and_pieces(session: Session) -> Iterator[str]:
    back = (
        select(RackPiece.parent_id, func.sum(RackPiece.length).label("length"))
        .where(RackPiece.parent_id.is_not(None))
        .group_by(RackPiece.parent_id)
        .subquery()
    )
    uses = (
        select(
            BarUse.rack_piece_id,
            func.sum(BarUse.length * BarUse.count).label("length"),
            func.sum(BarUse.cost).label("cost"),
            func.sum(BarUse.returned).label("back"),
        )
        .where(BarUse.rack_piece_id.is_not(None))
        .group_by(BarUse.rack_piece_id)
        .subquery()
    )
    rows = session.execute(
        select(RackPiece.code, RackPiece.state)
        .outerjoin(uses, uses.c.rack_piece_id == RackPiece.id)
        .outerjoin(back, back.c.parent_id == RackPiece.id)
        .where(
            or_(
                and_(RackPiece.state != "used", uses.c.rack_piece_id.is_not(None)),
                and_(
                    RackPiece.state == "used",
                    or_(
                        uses.c.rack_piece_id.is_(None),
                        uses.c.length != RackPiece.length,
                        uses.c.cost != RackPiece.cost,
                        func.coalesce(uses.c.back, 0) != func.coalesce(back.c.length, 0),
                    ),
                ),
            )
        )
        .limit(MOST_LINES)
    )
    for code, state in rows:
        yield f"rack piece {code} is {state}; what its jobs were charged for it does not agree"


# Moves that bring a piece, and those that say how long it is.
COMING_MOVES = ("added", "received", "returned")
LENGTH_MOVES = (*COMING_MOVES, "measured")

CHECKS: tuple[Check, ...] = (
    Check("the file is sound", file_is_sound),
    Check("references are whole", references_are_whole),
    Check("the schema is this program's", schema_is_known),
    Check("jobs have their newest revision", jobs_have_their_revision),
    Check("printed quotes add up", quote_lines_add_up),
    Check("deliveries agree with orders", received_counts_agree),
    Check("costs add up", costs_add_up),
    Check("minutes add up", minutes_add_up),
    Check("deliveries lie on the rack", deliveries_lie_on_the_rack),
    Check("no piece is promised twice", pieces_are_promised_once),
    Check("all bar is accounted for", bar_is_accounted_for),
    Check("nothing stands twice in two spellings", names_stand_once),
)
