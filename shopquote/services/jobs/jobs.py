"""Jobs on file: add, find, load, revise, change state, remove, export.

A job reads back exactly as typed (`load_job`). A stored revision never changes: a changed job file becomes
the next revision. The caller passes the time.
"""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, selectinload
from sqlalchemy.orm.attributes import set_committed_value

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.errors import InputError, NotFoundError
from shopquote.files import put_file
from shopquote.reading.kinds.documents import document_number
from shopquote.records.jobs import Job, JobRevision, PartRow, StateChange
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote
from shopquote.services.jobs.job_rows import revision_rows, spec_of
from shopquote.services.jobs.job_states import MOVES, STATES_TO_REVISE, move_job, one_of, state_of_job
from shopquote.services.shop.database import next_number
from shopquote.services.shop.shop_on_file import bending_shop, name_on_file, shop_notation

if TYPE_CHECKING:
    from shopquote.services.jobs.check import CheckedJob

NOTHING_STORED = "nothing was stored"


# Names of what refers to a job, by table, for the message that it cannot be removed.
_KEPT = {
    "quotes": "quotes",
    "order_jobs": "orders",
    "order_line_jobs": "orders",
    "time_entries": "logged minutes",
    "minute_sums": "logged minutes",
    "bar_uses": "logged bars",
    "bought_uses": "logged bought items",
    "floor_entries": "entries from the floor",
    "outside_bills": "bills for outside work",
    "invoices": "invoices",
    "job_deliveries": "deliveries",
    "scrap_notes": "notes of scrap",
    "closings": "closed figures",
    "rack_pieces": "pieces of the rack",
    "rack_piece_jobs": "pieces of the rack",
    "rack_moves": "movements of the rack",
}


@dataclass(frozen=True)
class LoadedJob:
    """A job on file, one of its revisions, and that revision as typed."""

    job: Job
    revision: JobRevision
    spec: JobSpec


def add_jobs(session: Session, paths: Sequence[Path], *, at: datetime) -> list[Job]:
    """Add every job of these files, or none of them; they begin in state asked.

    A customer whose name is not on file is added.

    Raises:
        InputError: the mistakes of all files together, or a retired customer.
        CannotMakeError: a part has no possible geometry.
    """
    from shopquote.services.jobs.check import check_jobs  # all that bends a bar; finding a job needs none

    checked = check_jobs(paths, bending_shop(session), shop_notation(session), after=NOTHING_STORED)
    return [store_job(session, job, at=at) for job in checked]


def add_job(session: Session, spec: JobSpec, *, at: datetime) -> Job:
    """Add one job that is already read; its parts are worked out here.

    Raises:
        InputError: a part cannot be read, or the customer is retired.
        CannotMakeError: a part has no possible geometry.
    """
    from shopquote.reading.job_file import write_job_text
    from shopquote.services.jobs.check import CheckedJob
    from shopquote.services.jobs.part import work_out_parts

    answers = work_out_parts(spec, bending_shop(session))
    return store_job(session, CheckedJob(spec, answers, write_job_text(spec)), at=at)


def store_job(session: Session, checked: "CheckedJob", *, at: datetime) -> Job:
    """Store a checked job under the next number, in state asked.

    Raises:
        InputError: the customer is retired.
    """
    job = Job(
        number=next_number(session, "J"),
        customer=_served(customer_named(session, checked.spec.customer)),
        state="asked",
        revision=1,
        created_on=at.date(),
    )
    job.state_changes.append(StateChange(from_state=None, to_state="asked", at=at))
    job.revisions.append(revision_rows(checked, 1, at, ""))
    session.add(job)
    session.flush()
    return job


def _served(customer: Customer) -> Customer:
    """The customer, unless the shop has retired it.

    Raises:
        InputError: retired.
    """
    if customer.retired:
        raise InputError(
            f"Customer {customer.name} is retired: no new job is made for this customer.",
            hint=f'To take this customer up again: shopquote customers set "{customer.name}" retired=no',
        )
    return customer


def customer_named(session: Session, name: str) -> Customer:
    """The customer with this name, whatever its case and blanks; a new name is added to the customers."""
    known = name_on_file(session, Customer.name, name)
    if known is not None:
        return session.scalars(select(Customer).where(Customer.name == known)).one()
    customer = Customer(name=name)
    session.add(customer)
    session.flush()
    return customer


def find_job(session: Session, number: str | Job) -> Job:
    """The job with a number, as J-0007, j-7 or 7; a `Job` is returned unchanged.

    Raises:
        NotFoundError: no job has this number.
    """
    if isinstance(number, Job):
        return number
    wanted = document_number(number, "J")
    job = session.scalar(select(Job).where(Job.number == wanted))
    if job is None:
        shown = wanted if len(wanted) <= 60 else wanted[:57] + "..."
        raise NotFoundError(f"Job {shown} is not on file.", hint="See: shopquote job list")
    return job


def newest_revision(session: Session, job: Job) -> JobRevision:
    """The row of the job's current revision, which is what the shop makes."""
    return session.scalars(
        select(JobRevision).where(JobRevision.job_id == job.id, JobRevision.revision == job.revision)
    ).one()


def load_job(session: Session, number: str, *, revision: int | None = None) -> LoadedJob:
    """A job with its current revision, or another one, exactly as typed.

    Raises:
        NotFoundError: no such job, or no such revision of it.
    """
    job = find_job(session, number)
    wanted = job.revision if revision is None else revision
    row = _with_lists(session, JobRevision.job_id == job.id, JobRevision.revision == wanted)
    if row is None:
        raise NotFoundError(
            f"Job {job.number} has no revision {wanted}.", hint=f"Its revisions are 1 to {job.revision}."
        )
    return LoadedJob(job, row, spec_of(row))


def _with_lists(session: Session, *wanted: ColumnElement[bool]) -> JobRevision | None:
    """A revision with all its lists. Few jobs fill many, and asking an empty one costs a millisecond."""
    lists = (
        JobRevision.welds, JobRevision.bought, JobRevision.outside, JobRevision.labour, JobRevision.finish,
        JobRevision.steps, JobRevision.templates, JobRevision.joints, JobRevision.site,
    )  # fmt: skip
    some = [one.any() if one.property.uselist else one.has() for one in lists]
    holes = JobRevision.parts.any(PartRow.holes.any())
    filled = session.execute(select(holes, *some).where(*wanted)).one_or_none()
    if filled is None:
        return None
    parts = selectinload(JobRevision.parts)
    asked = [
        parts.selectinload(PartRow.holes) if filled[0] else parts,
        *(selectinload(one) for one, is_filled in zip(lists, filled[1:], strict=True) if is_filled),
    ]
    row = session.scalars(select(JobRevision).where(*wanted).options(*asked)).one()
    for one, is_filled in zip(lists, filled[1:], strict=True):
        if not is_filled:
            set_committed_value(row, one.key, [] if one.property.uselist else None)
    if not filled[0]:
        for part in row.parts:
            set_committed_value(part, PartRow.holes.key, [])
    return row


def revise_job(session: Session, number: str, path: Path, *, at: datetime, reason: str = "") -> LoadedJob:
    """Store a changed job file as the next revision; older revisions stay as they are.

    Raises:
        NotFoundError: no such job.
        InputError: the file has mistakes or changes nothing, or the job's state forbids a revision.
        CannotMakeError: a part has no possible geometry.
    """
    from shopquote.services.jobs.check import check_jobs

    loaded = _to_revise(session, number)
    shop = bending_shop(session, loaded.job.number)
    (checked,) = check_jobs([path], shop, shop_notation(session), after=NOTHING_STORED)
    return _revised(session, loaded, checked, at, reason, f"{path}: ")


def revise_job_to(
    session: Session, number: str, spec: JobSpec, *, at: datetime, reason: str = ""
) -> LoadedJob:
    """Like `revise_job`, for a job that is already read.

    Raises:
        NotFoundError: no such job.
        InputError: nothing changes, a part cannot be read, or the job's state forbids a revision.
        CannotMakeError: a part has no possible geometry.
    """
    from shopquote.reading.job_file import write_job_text
    from shopquote.services.jobs.check import CheckedJob
    from shopquote.services.jobs.part import work_out_parts

    loaded = _to_revise(session, number)
    answers = work_out_parts(spec, bending_shop(session, loaded.job.number))
    return _revised(session, loaded, CheckedJob(spec, answers, write_job_text(spec)), at, reason, "")


def _to_revise(session: Session, number: str) -> LoadedJob:
    loaded = load_job(session, number)
    job = loaded.job
    if job.state not in STATES_TO_REVISE:
        raise InputError(
            f"Job {job.number} is {job.state} and cannot be revised; "
            f"only a job that is {one_of(STATES_TO_REVISE)} can.",
            hint="For more of the same, add it as a new job: shopquote job add FILE",
        )
    return loaded


def _revised(
    session: Session, loaded: LoadedJob, checked: "CheckedJob", at: datetime, reason: str, where: str
) -> LoadedJob:
    job = loaded.job
    # An unchanged revision would only make the quotes of the one before look out of date.
    if checked.spec == loaded.spec:
        raise InputError(f"{where}the job is the same as revision {job.revision} of {job.number}.")
    customer = customer_named(session, checked.spec.customer)
    # A job keeps a customer who was retired since; it is not handed to another one who is.
    job.customer = customer if customer is job.customer else _served(customer)
    job.revision += 1
    row = revision_rows(checked, job.revision, at, reason)
    job.revisions.append(row)
    session.flush()
    return LoadedJob(job, row, checked.spec)


def set_state(session: Session, number: str, to: str, *, at: datetime, reason: str = "") -> Job:
    """Change a job's state as a person asks; closing and reopening have a command of their own.

    The open quote of a job that becomes won or lost is accepted or declined with it.

    Raises:
        NotFoundError: no such job.
        InputError: no such state, or it may not follow the present one.
    """
    job = find_job(session, number)
    to = state_of_job(to)
    if to == "closed" and "closed" in MOVES[job.state]:
        raise InputError(
            f"Job {job.number} is not closed by its state: closing fixes its figures.",
            hint=f"Close it: shopquote close {job.number}",
        )
    if job.state == "closed" and to == "finished":
        raise InputError(
            f"Job {job.number} is closed; it is opened again with a reason.",
            hint=f'Open it: shopquote close {job.number} --reopen "why"',
        )
    move_job(job, to, at=at, reason=reason)
    _answer_open_quote(session, job, at=at, reason=reason)
    session.flush()
    return job


def _answer_open_quote(session: Session, job: Job, *, at: datetime, reason: str) -> None:
    """Accept or decline the newest sent quote of a job that became won or lost."""
    answer = {"won": "accepted", "lost": "declined"}.get(job.state)
    quote = session.scalar(
        select(Quote)
        .where(Quote.job_id == job.id, Quote.state == "sent")
        .order_by(Quote.revision.desc())
        .limit(1)
    )
    # Left as sent it would stay open for ever and distort the share of quotes won.
    if answer is not None and quote is not None:
        quote.state, quote.decided_on, quote.reason = answer, at.date(), reason


def remove_job(session: Session, number: str) -> str:
    """Delete a job that nothing else on file depends on; returns its number.

    Raises:
        NotFoundError: no such job.
        InputError: it was quoted, ordered for, logged or billed; says which.
    """
    job = find_job(session, number)
    reasons = sorted({_KEPT.get(table, table) for table in _tables_that_keep(session, job)})
    if reasons:
        raise InputError(
            f"Job {job.number} has {_and(reasons)} on file and cannot be removed.",
            hint=f"Drop it instead: shopquote job status {job.number} dropped"
            if "dropped" in MOVES[job.state]
            else "It is over, and stays readable.",
        )
    session.delete(job)
    session.flush()
    return job.number


def export_job(loaded: LoadedJob, folder: Path) -> list[Path]:
    """Write a job as a job file and as a workbook into a folder; returns both paths.

    Raises:
        InputError: a file cannot be written.
    """
    from shopquote.reading.job_book_sheets import write_job_book
    from shopquote.reading.job_file import write_job_text

    newest = loaded.revision.revision == loaded.job.revision
    name = loaded.job.number if newest else f"{loaded.job.number}-revision-{loaded.revision.revision}"
    toml = put_file(folder / f"{name}.toml", write_job_text(loaded.spec).encode())
    return [toml, write_job_book(loaded.spec, folder / f"{name}.xlsx")]


def _tables_that_keep(session: Session, job: Job) -> list[str]:
    """Tables with rows that refer to this job, besides its own revisions, state changes and drafts."""
    from shopquote.records.tables import metadata  # all tables; other commands need a few

    own = {JobRevision.__tablename__, StateChange.__tablename__, "drafts"}
    found = []
    # Found by foreign key, not from a list: a table added later cannot be forgotten here.
    for table in metadata.sorted_tables:
        for key in table.foreign_keys:
            if key.column.table.name == Job.__tablename__ and table.name not in own:
                row = session.execute(select(table.c.id).where(key.parent == job.id).limit(1)).first()
                found += [table.name] if row is not None else []
    return found


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
