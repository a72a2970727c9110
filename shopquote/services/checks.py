"""`shopquote db check`: everything that must hold in the records, looked at from the records alone.

To add a check, write a function of one `Session` that yields a line for every fault
it finds, and name it in `CHECKS`.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from sqlalchemy import func, or_, select, text
from sqlalchemy.orm import Session

from shopquote.records.jobs import Job, JobRevision
from shopquote.records.orders import OrderLine, ReceivedBar
from shopquote.records.quotes import Quote, QuoteLine
from shopquote.records.rack import RackPiece
from shopquote.records.schema import newest_version, stored_version

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


CHECKS: tuple[Check, ...] = (
    Check("the file is sound", file_is_sound),
    Check("references are whole", references_are_whole),
    Check("the schema is this program's", schema_is_known),
    Check("jobs have their newest revision", jobs_have_their_revision),
    Check("printed quotes add up", quote_lines_add_up),
    Check("deliveries agree with orders", received_counts_agree),
    Check("no piece is promised twice", pieces_are_promised_once),
)
