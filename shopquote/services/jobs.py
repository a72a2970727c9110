"""Jobs on file: add, list, show, revise, move from state to state, remove, load again.

What was typed comes back exactly (`load_job`). A revision never changes once it is
stored: a changed job file becomes the next revision and the older ones stay. Times
are handed in by the caller.
"""

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal, cast

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.job import (
    BendAxis,
    BoughtSpec,
    Dims,
    End,
    EndKind,
    FinishSpec,
    HoleSpec,
    JobSpec,
    LabourPer,
    LabourSpec,
    OutsideBasis,
    OutsideSpec,
    PartSpec,
    Use,
    WeldKind,
    WeldSpec,
)
from shopquote.calc.money import round_money
from shopquote.calc.units import Measure, Unit
from shopquote.errors import CannotMakeError, InputError, NotFoundError, ShopquoteError, nearest_word
from shopquote.records.base import Base
from shopquote.records.jobs import (
    BoughtItem,
    FinishRow,
    Job,
    JobRevision,
    LabourLine,
    OutsideWork,
    PartBend,
    PartHole,
    PartRow,
    StateChange,
    WeldRow,
)
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote
from shopquote.services.database import (
    ENVIRONMENT_WORD,
    database_url,
    next_number,
    open_database,
    sqlite_path,
)
from shopquote.services.job_book import read_job, write_beside, write_job_book
from shopquote.services.job_file import read_text, write_job_text
from shopquote.services.on_file import bending_shop, stored_number

JobState = Literal["asked", "quoted", "won", "started", "finished", "closed", "lost", "dropped"]

# From each state, where a job may go next. Closing and opening a closed job again is
# the business of `shopquote close`, which works out and keeps the figures.
MOVES: Mapping[str, tuple[JobState, ...]] = {
    "asked": ("quoted", "lost", "dropped"),
    "quoted": ("won", "lost", "dropped"),
    "won": ("started", "dropped"),
    "started": ("finished", "dropped"),
    "finished": ("closed", "dropped"),
    "closed": ("finished",),
    "lost": (),
    "dropped": (),
}

# A job may be changed until its work is done.
STATES_TO_REVISE = ("asked", "quoted", "won", "started")

_NUMBER = re.compile(r"(?:J-?)?0*([0-9]{1,9})", re.IGNORECASE | re.ASCII)

# What a table that refers to a job holds, for the reason why a job cannot be removed.
_KEPT = {
    "quotes": "quotes",
    "order_jobs": "orders",
    "order_line_jobs": "orders",
    "time_entries": "logged minutes",
    "bar_uses": "logged bars",
    "bought_uses": "logged bought items",
    "outside_bills": "bills for outside work",
    "invoices": "invoices",
    "scrap_notes": "notes of scrap",
    "closings": "closed figures",
    "rack_pieces": "pieces of the rack",
    "rack_moves": "movements of the rack",
}


@dataclass(frozen=True)
class CheckedJob:
    """A job that was read and can be made: its parts' answers by mark, and its text to keep."""

    spec: JobSpec
    answers: Mapping[str, PartAnswer]
    source: str
    path: Path | None = None


@dataclass(frozen=True)
class LoadedJob:
    """A job on file with one revision of it, as typed."""

    job: Job
    revision: JobRevision
    spec: JobSpec


@dataclass(frozen=True)
class JobLine:
    """A job as a list shows it; `price` is the net of its newest quote, if any."""

    job: str
    title: str
    customer: str
    sets: int
    state: str
    due: date | None
    price: Decimal | None
    currency: str | None
    revision: int


def check_jobs(paths: Sequence[Path], shop: BendingShop) -> tuple[CheckedJob, ...]:
    """Read job files and workbooks and work out their parts, storing nothing.

    Raises:
        InputError: the mistakes of all the files together.
        CannotMakeError: parts of no possible geometry, those of all the files together.
    """
    read: list[tuple[Path, JobSpec]] = []
    errors: list[ShopquoteError] = []
    for path in dict.fromkeys(paths):
        try:
            read.append((path, read_job(path, grades=shop.grades)))
        except InputError as error:
            errors.append(error)
    if errors:
        raise _together(errors, "nothing was stored")
    checked: list[CheckedJob] = []
    for path, spec in read:
        try:
            answers = work_out_parts(spec, shop, name=str(path))
        except CannotMakeError as error:
            errors.append(error)
        else:
            source = read_text(path) if path.suffix.lower() == ".toml" else write_job_text(spec)
            checked.append(CheckedJob(spec, answers, source, path))
    if errors:
        raise CannotMakeError("\n".join(error.message for error in errors), hint=errors[0].hint)
    return tuple(checked)


def shop_to_check_with(url: str | None) -> BendingShop:
    """The shop on file; the starting one where no database was named and there is none yet.

    Raises:
        DatabaseError: a database was named, or is there, and cannot be used.
    """
    where = database_url(url)
    path = sqlite_path(where)
    if url is None and ENVIRONMENT_WORD not in os.environ and path is not None and not path.exists():
        from shopquote.calc.bar.starting import starting_shop

        return starting_shop()
    with open_database(url) as database, database.reading() as session:
        return bending_shop(session)


def work_out_parts(spec: JobSpec, shop: BendingShop, *, name: str = "") -> dict[str, PartAnswer]:
    """The bar room's answer for each part of a job, by mark; `name` goes before every reason.

    Raises:
        CannotMakeError: the reasons of all the parts that have no possible geometry.
    """
    from shopquote.calc.bar.part import analyse_part

    answers: dict[str, PartAnswer] = {}
    reasons: list[CannotMakeError] = []
    for part in spec.parts:
        try:
            answers[part.mark] = analyse_part(part, spec.units, shop)
        except CannotMakeError as error:
            reasons.append(error)
    if reasons:
        before = f"{name}: " if name else ""
        raise CannotMakeError(
            "\n".join(f"{before}{error.message}" for error in reasons), hint=reasons[0].hint
        )
    return answers


def add_jobs(session: Session, paths: Sequence[Path], *, at: datetime) -> list[Job]:
    """Add every job of these files, or none of them.

    A customer who is not on file is put on file by name. Jobs begin as asked.

    Raises:
        InputError: the mistakes of all the files together.
        CannotMakeError: a part has no possible geometry.
    """
    checked = check_jobs(paths, bending_shop(session))
    return [store_job(session, job, at=at) for job in checked]


def add_job(session: Session, spec: JobSpec, *, at: datetime) -> Job:
    """Add one job that is already in hand; see `add_jobs`."""
    answers = work_out_parts(spec, bending_shop(session))
    return store_job(session, CheckedJob(spec, answers, write_job_text(spec)), at=at)


def store_job(session: Session, checked: CheckedJob, *, at: datetime) -> Job:
    """Store a checked job under the next number."""
    job = Job(
        number=next_number(session, "J"),
        customer=customer_named(session, checked.spec.customer),
        state="asked",
        revision=1,
        created_on=at.date(),
    )
    job.state_changes.append(StateChange(from_state=None, to_state="asked", at=at))
    job.revisions.append(_revision(checked, 1, at, ""))
    session.add(job)
    session.flush()
    return job


def customer_named(session: Session, name: str) -> Customer:
    """The customer of this name, capitals aside; a new one is put on file."""
    exact = session.scalar(select(Customer).where(Customer.name == name))
    if exact is not None:
        return exact
    for found_id, found_name in session.execute(select(Customer.id, Customer.name)):
        if found_name.casefold() == name.casefold():
            return session.get_one(Customer, found_id)
    customer = Customer(name=name)
    session.add(customer)
    session.flush()
    return customer


def find_job(session: Session, number: str) -> Job:
    """The job of a number; J-0007, j-7 and 7 are the same.

    Raises:
        NotFoundError: no job has this number.
    """
    match = _NUMBER.fullmatch(number.strip())
    wanted = f"J-{int(match[1]):04d}" if match else number.strip()
    job = session.scalar(select(Job).where(Job.number == wanted))
    if job is None:
        shown = wanted if len(wanted) <= 60 else wanted[:57] + "..."
        raise NotFoundError(f"Job {shown} is not on file.", hint="See: shopquote job list")
    return job


def load_job(session: Session, number: str, *, revision: int | None = None) -> LoadedJob:
    """A job with its newest revision, or the one asked for, exactly as typed.

    Raises:
        NotFoundError: no such job, or no such revision of it.
    """
    job = find_job(session, number)
    wanted = job.revision if revision is None else revision
    row = session.scalar(
        select(JobRevision)
        .where(JobRevision.job_id == job.id, JobRevision.revision == wanted)
        .options(
            selectinload(JobRevision.parts).selectinload(PartRow.holes),
            selectinload(JobRevision.welds),
            selectinload(JobRevision.bought),
            selectinload(JobRevision.outside),
            selectinload(JobRevision.labour),
            selectinload(JobRevision.finish),
        )
    )
    if row is None:
        raise NotFoundError(
            f"Job {job.number} has no revision {wanted}.", hint=f"Its revisions are 1 to {job.revision}."
        )
    return LoadedJob(job, row, spec_of(row))


def list_jobs(session: Session, *, states: Sequence[str] = (), customer: str | None = None) -> list[JobLine]:
    """Jobs by number, newest last; of some states, or of one customer.

    Raises:
        InputError: a word that is no state.
    """
    for state in states:
        _check_state(state)
    query = (
        select(Job, JobRevision, Customer.name, Quote)
        .join(JobRevision, (JobRevision.job_id == Job.id) & (JobRevision.revision == Job.revision))
        .join(Customer, Customer.id == Job.customer_id)
        .outerjoin(Quote, Quote.id == _newest_quote().scalar_subquery())
        .order_by(Job.id)
    )
    if states:
        query = query.where(Job.state.in_(states))
    lines = [
        JobLine(
            job=job.number,
            title=revision.title,
            customer=name,
            sets=revision.sets,
            state=job.state,
            due=revision.due,
            price=None if quote is None else round_money(quote.net, quote.currency),
            currency=None if quote is None else quote.currency,
            revision=job.revision,
        )
        for job, revision, name, quote in session.execute(query)
    ]
    if customer is not None:
        lines = [line for line in lines if customer.casefold() in line.customer.casefold()]
    return lines


def revise_job(session: Session, number: str, path: Path, *, at: datetime, reason: str = "") -> LoadedJob:
    """Store a changed job file as the next revision; the older revisions stay as they are.

    Raises:
        NotFoundError: no such job.
        InputError: the file has mistakes, says nothing new, or the job is too far on.
        CannotMakeError: a part has no possible geometry.
    """
    loaded = load_job(session, number)
    job = loaded.job
    if job.state not in STATES_TO_REVISE:
        raise InputError(
            f"Job {job.number} is {job.state} and cannot be revised; "
            f"only a job that is {_or(STATES_TO_REVISE)} can.",
            hint="For more of the same, add it as a new job: shopquote job add FILE",
        )
    (checked,) = check_jobs([path], bending_shop(session))
    if checked.spec == loaded.spec:
        raise InputError(f"{path}: the job is the same as revision {job.revision} of {job.number}.")
    job.revision += 1
    job.customer = customer_named(session, checked.spec.customer)
    row = _revision(checked, job.revision, at, reason)
    job.revisions.append(row)
    session.flush()
    return LoadedJob(job, row, checked.spec)


def set_state(session: Session, number: str, to: str, *, at: datetime, reason: str = "") -> Job:
    """Move a job as a person asks; closing and opening again have a command of their own.

    Raises:
        NotFoundError: no such job.
        InputError: no such state, or the job cannot go there from where it is.
    """
    job = find_job(session, number)
    _check_state(to)
    if to == "closed" and "closed" in MOVES[job.state]:
        raise InputError(
            f"Job {job.number} is closed with its figures, not by its state.",
            hint=f"Close it: shopquote close {job.number}",
        )
    if job.state == "closed" and to == "finished":
        raise InputError(
            f"Job {job.number} is closed; it is opened again with a reason.",
            hint=f'Open it: shopquote close {job.number} --reopen --reason "..."',
        )
    move_job(job, to, at=at, reason=reason)
    session.flush()
    return job


def move_job(job: Job, to: str, *, at: datetime, reason: str = "") -> None:
    """Move a job to another state and note it.

    Raises:
        InputError: the move is not open to it; says which are.
    """
    _check_state(to)
    if to == job.state:
        raise InputError(f"Job {job.number} is {to} already.")
    moves = MOVES[job.state]
    if to not in moves:
        way = f"it can become {_or(moves)}" if moves else "that is its end"
        raise InputError(
            f"Job {job.number} is {job.state} and cannot become {to}; {way}.", hint=_way_to(job, to)
        )
    job.state_changes.append(StateChange(from_state=job.state, to_state=to, at=at, reason=reason))
    job.state = to


def remove_job(session: Session, number: str) -> str:
    """Take a job off file, where nothing yet depends on it; returns its number.

    Raises:
        NotFoundError: no such job.
        InputError: it was quoted, ordered for, logged or billed; says which.
    """
    job = find_job(session, number)
    reasons = sorted({_KEPT.get(table, table) for table in _tables_that_keep(session, job)})
    if reasons:
        raise InputError(
            f"Job {job.number} has {_and(reasons)} on file and cannot be removed.",
            hint=f"Drop it instead: shopquote job status {job.number} dropped",
        )
    session.delete(job)
    session.flush()
    return job.number


def export_job(loaded: LoadedJob, folder: Path) -> list[Path]:
    """Write a job as a job file and as a workbook into a folder; returns both paths."""
    newest = loaded.revision.revision == loaded.job.revision
    name = loaded.job.number if newest else f"{loaded.job.number}-revision-{loaded.revision.revision}"
    toml = write_beside(folder / f"{name}.toml", write_job_text(loaded.spec).encode())
    return [toml, write_job_book(loaded.spec, folder / f"{name}.xlsx")]


def spec_of(row: JobRevision) -> JobSpec:
    """The job as typed, from the rows of one revision."""
    return JobSpec(
        title=row.title,
        customer=row.customer,
        sets=row.sets,
        units=cast(Unit, row.units),
        use=cast(Use, row.use),
        due=row.due,
        breaks=tuple(int(sets) for sets in row.breaks),
        parts=tuple(_part_of(part) for part in row.parts),
        welds=tuple(
            WeldSpec(
                kind=cast(WeldKind, weld.kind),
                leg=Measure(weld.leg_text, weld.leg),
                length=Measure(weld.length_text, weld.length),
                count=weld.count,
                process=weld.process,
                note=weld.note,
            )
            for weld in row.welds
        ),
        bought=tuple(BoughtSpec(item.name, item.per_set, item.unit_cost) for item in row.bought),
        outside=tuple(
            OutsideSpec(work.name, cast(OutsideBasis, work.basis), work.rate, work.minimum)
            for work in row.outside
        ),
        labour=tuple(
            LabourSpec(line.operation, line.minutes, cast(LabourPer, line.per)) for line in row.labour
        ),
        finish=None if row.finish is None else FinishSpec(row.finish.kind, row.finish.coats),
    )


def _part_of(part: PartRow) -> PartSpec:
    length = None
    if part.length is not None and part.length_text is not None:
        length = Measure(part.length_text, part.length)
    return PartSpec(
        mark=part.mark,
        name=part.name,
        per_set=part.per_set,
        bar=part.bar,
        grade=part.grade,
        dims=cast(Dims, part.dims),
        shape=part.shape,
        length=length,
        bend_axis=cast(BendAxis, part.bend_axis),
        ends=(
            End(cast(EndKind, part.end_a), part.end_a_mitre),
            End(cast(EndKind, part.end_b), part.end_b_mitre),
        ),
        holes=tuple(
            HoleSpec(Measure(hole.dia_text, hole.dia), hole.count, hole.tapped, hole.countersunk)
            for hole in part.holes
        ),
        one_heat=part.one_heat,
    )


def _revision(checked: CheckedJob, revision: int, at: datetime, reason: str) -> JobRevision:
    spec = checked.spec
    return JobRevision(
        revision=revision,
        made_at=at,
        title=spec.title,
        customer=spec.customer,
        units=spec.units,
        use=spec.use,
        sets=spec.sets,
        breaks=list(spec.breaks),
        due=spec.due,
        reason=reason,
        source=checked.source,
        parts=[
            _part_row(position, part, checked.answers[part.mark])
            for position, part in enumerate(spec.parts, 1)
        ],
        welds=[
            WeldRow(
                position=position,
                kind=weld.kind,
                leg=weld.leg.length,
                leg_text=weld.leg.text,
                length=weld.length.length,
                length_text=weld.length.text,
                count=weld.count,
                process=weld.process,
                note=weld.note,
            )
            for position, weld in enumerate(spec.welds, 1)
        ],
        bought=[
            BoughtItem(position=position, name=item.name, per_set=item.per_set, unit_cost=item.unit_cost)
            for position, item in enumerate(spec.bought, 1)
        ],
        outside=[
            OutsideWork(
                position=position, name=work.name, basis=work.basis, rate=work.rate, minimum=work.minimum
            )
            for position, work in enumerate(spec.outside, 1)
        ],
        labour=[
            LabourLine(position=position, operation=line.operation, minutes=line.minutes, per=line.per)
            for position, line in enumerate(spec.labour, 1)
        ],
        finish=None if spec.finish is None else FinishRow(kind=spec.finish.kind, coats=spec.finish.coats),
    )


def _part_row(position: int, part: PartSpec, answer: PartAnswer) -> PartRow:
    first, last = part.ends
    return PartRow(
        position=position,
        mark=part.mark,
        name=part.name,
        per_set=part.per_set,
        bar=part.bar,
        section_key=answer.section.key,
        grade=part.grade,
        dims=part.dims,
        shape=part.shape,
        length=None if part.length is None else part.length.length,
        length_text=None if part.length is None else part.length.text,
        bend_axis=part.bend_axis,
        end_a=first.kind,
        end_a_mitre=first.mitre,
        end_b=last.kind,
        end_b_mitre=last.mitre,
        one_heat=part.one_heat,
        developed=answer.developed,
        cut=answer.cut,
        mass_kg=stored_number(answer.mass_kg),
        bends=[
            PartBend(
                position=number,
                angle=stored_number(bend.angle),
                radius=bend.inside_radius,
                mark=bend.mark.centre,
                hits=bend.hits,
            )
            for number, bend in enumerate(answer.bends, 1)
        ],
        holes=[
            PartHole(
                position=number,
                dia=hole.dia.length,
                dia_text=hole.dia.text,
                count=hole.count,
                tapped=hole.tapped,
                countersunk=hole.countersunk,
            )
            for number, hole in enumerate(part.holes, 1)
        ],
    )


def _newest_quote() -> Select[Any]:
    return select(func.max(Quote.id)).where(Quote.job_id == Job.id).correlate(Job)


def _tables_that_keep(session: Session, job: Job) -> list[str]:
    """Tables with rows that refer to this job, its own revisions and state changes aside."""
    own = {JobRevision.__tablename__, StateChange.__tablename__}
    found = []
    for table in Base.metadata.sorted_tables:
        for key in table.foreign_keys:
            if key.column.table.name == Job.__tablename__ and table.name not in own:
                row = session.execute(select(table.c.id).where(key.parent == job.id).limit(1)).first()
                found += [table.name] if row is not None else []
    return found


def _check_state(word: str) -> None:
    if word not in MOVES:
        near = nearest_word(word, MOVES)
        meant = f" Did you mean {near!r}?" if near else ""
        raise InputError(f"{word[:60]!r} is no state of a job; expected {_or(tuple(MOVES))}.{meant}")


def _way_to(job: Job, to: str) -> str | None:
    """The states between here and there, so that a person knows what is missing."""
    ways: list[list[str]] = [[job.state]]
    seen = {job.state}
    for way in ways:
        for state in MOVES[way[-1]]:
            if state == to:
                return f"The way there: {' -> '.join([*way, to])}."
            if state not in seen:
                seen.add(state)
                ways.append([*way, state])
    return None


def _or(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _together(errors: Sequence[ShopquoteError], what: str) -> InputError:
    """One error for the mistakes of several files."""
    if len(errors) == 1 and isinstance(errors[0], InputError):
        return errors[0]
    faults = [fault for error in errors if isinstance(error, InputError) for fault in error.faults]
    plain = [str(error) for error in errors if not (isinstance(error, InputError) and error.faults)]
    lines = [*plain, *map(str, faults)]
    head = f"{len(lines)} mistakes in {len(errors)} files; {what}."
    return InputError("\n".join([head, *(f"  {line}" for line in lines)]), faults=faults)
