"""The bars that jobs have: promised to them, on order for them, or cut for them.

What a job still needs depends on all jobs that share a bar with it. Begin at `bars_for_job` and
`linked_jobs`.
"""

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session, joinedload, selectinload
from sqlalchemy.sql.base import ExecutableOption

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.units import ZERO, Length
from shopquote.records.jobs import Job, JobRevision, PartRow
from shopquote.records.orders import BOUGHT_STATES, ON_ORDER, Order, OrderLine, OrderLineJob, ReceivedBar
from shopquote.records.rack import BarUse, RackPiece, RackPieceJob
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.free_rack import have_bars


@dataclass(frozen=True, slots=True)
class JobBar:
    """One or more equal bars that a job has; `name` is a piece's code, or the order line.

    `state`: "on the rack", "on order" or "used". A used bar's length is what of it did not come back. `cut`:
    the supplier sawed it to the length of a piece, so that it needs no cut and no trim. `load`: what will be
    cut from it, as (job, mark, length, count); may be empty. `batch`: the order line that it came from; bars
    of one batch count as one heat until heats are known.
    """

    name: str
    section_key: str
    section_text: str
    grade: str
    length: Length
    state: str
    count: int = 1
    code: str | None = None
    place: str = ""
    heat: str = ""
    order_number: str | None = None
    job: str = ""
    cut: bool = False
    load: tuple[tuple[str, str, Length, int], ...] = ()
    batch: str = ""

    def names(self) -> tuple[str, ...]:
        """A name for each single bar."""
        if self.count == 1:
            return (self.name,)
        return tuple(f"{self.name} bar {i}" for i in range(1, self.count + 1))


def bars_for_job(session: Session, job_number: str) -> tuple[JobBar, ...]:
    """Every bar that a job has: on the rack, on order or used.

    Raises:
        NotFoundError: no such job.
    """
    return bars_for_jobs(session, [find_job(session, job_number)])


def bars_for_jobs(session: Session, jobs: Sequence[Job]) -> tuple[JobBar, ...]:
    """Every bar that these jobs have; a bar shared by several of them appears once."""
    numbers = {job.id: job.number for job in jobs}
    # One cheap query first: most jobs that are quoted have no bars yet.
    if not numbers or not have_bars(session, numbers.values()):
        return ()
    return (*_promised(session, numbers), *_on_order(session, numbers), *_used(session, numbers))


def without_bars(session: Session, job_numbers: Collection[str]) -> set[str]:
    """Those of these jobs that have parts but no bar on the rack, on order or used."""
    parts = (
        select(PartRow.id)
        .join(JobRevision, JobRevision.id == PartRow.job_revision_id)
        .where(JobRevision.job_id == Job.id, JobRevision.revision == Job.revision)
    )
    ordered = (
        select(OrderLineJob.job_id)
        .join(OrderLine, OrderLine.id == OrderLineJob.order_line_id)
        .join(Order, Order.id == OrderLine.order_id)
        .where(OrderLineJob.job_id == Job.id, Order.state.in_(BOUGHT_STATES))
    )
    shared = select(RackPieceJob.job_id).where(RackPieceJob.job_id == Job.id)
    own = select(RackPiece.id).where(
        (RackPiece.promised_job_id == Job.id) | (RackPiece.used_job_id == Job.id)
    )
    # Uses logged by hand count too: their bars were never on the rack.
    logged = select(BarUse.id).where(BarUse.job_id == Job.id)
    query = select(Job.number).where(
        Job.number.in_(job_numbers), exists(parts), ~exists(ordered), ~exists(shared), ~exists(own),
        ~exists(logged),
    )  # fmt: skip
    return set(session.scalars(query))


def linked_jobs(session: Session, jobs: Sequence[Job]) -> tuple[Job, ...]:
    """The jobs, and all running jobs that share a bar with them, directly or through other jobs."""
    known = {job.id: job for job in jobs}
    fresh = set(known)
    # Breadth first over shared bars, until a step finds no new job.
    while fresh:
        found = _neighbours(session, fresh) - set(known)
        fresh = set()
        for job in session.scalars(select(Job).where(Job.id.in_(found), Job.state.not_in(STATES_OVER))):
            known[job.id] = job
            fresh.add(job.id)
    return tuple(sorted(known.values(), key=lambda job: job.id))


def _neighbours(session: Session, job_ids: Iterable[int]) -> set[int]:
    ids = list(job_ids)
    mine, other = OrderLineJob.__table__.alias(), OrderLineJob.__table__.alias()
    by_line = (
        select(other.c.job_id)
        .join(mine, mine.c.order_line_id == other.c.order_line_id)
        .join(OrderLine, OrderLine.id == other.c.order_line_id)
        .join(Order, Order.id == OrderLine.order_id)
        .where(mine.c.job_id.in_(ids), Order.state.in_(BOUGHT_STATES))
    )
    ours, theirs = RackPieceJob.__table__.alias(), RackPieceJob.__table__.alias()
    by_piece = (
        select(theirs.c.job_id)
        .join(ours, ours.c.rack_piece_id == theirs.c.rack_piece_id)
        .where(ours.c.job_id.in_(ids))
    )
    return set(session.scalars(by_line)) | set(session.scalars(by_piece))


def _promised(session: Session, numbers: dict[int, str]) -> list[JobBar]:
    shared = select(RackPieceJob.rack_piece_id).where(RackPieceJob.job_id.in_(numbers))
    query = (
        select(RackPiece)
        .where(
            RackPiece.state == "promised", RackPiece.promised_job_id.in_(numbers) | RackPiece.id.in_(shared)
        )
        .options(*_with_origin())
        .order_by(RackPiece.place, RackPiece.section_key, RackPiece.length.desc(), RackPiece.code)
    )
    return [
        JobBar(
            piece.code, piece.section_key, piece.section_text, piece.grade, piece.length, "on the rack",
            code=piece.code, place=piece.place, heat=piece.heat, cut=_is_sawn(piece),
            job=numbers.get(piece.promised_job_id or 0, ""), load=load_of(piece), batch=_batch_of(piece),
        )
        for piece in session.scalars(query)
    ]  # fmt: skip


def _on_order(session: Session, numbers: dict[int, str]) -> list[JobBar]:
    query = (
        select(OrderLine)
        .join(Order)
        .where(
            Order.state.in_(ON_ORDER),
            OrderLine.id.in_(select(OrderLineJob.order_line_id).where(OrderLineJob.job_id.in_(numbers))),
        )
        .options(selectinload(OrderLine.order))
        .order_by(Order.number, OrderLine.position)
    )
    wanted = set(numbers.values())
    bars = []
    for line in session.scalars(query):
        for i, load in enumerate(loaded(line.loads), start=1):
            owners = {owner for owner, _, _, _ in load}
            # Bars are received in the order of their loads: the first `received` are on the rack by now, and
            # the last `cancelled` do not come.
            if not line.received < i <= line.count - line.cancelled or not owners & wanted:
                continue
            bars.append(
                JobBar(
                    f"{line.order.number} line {line.position} bar {i}", line.section_key,
                    line.section_text, line.grade, line.length, "on order", cut=line.cut,
                    order_number=line.order.number, job=load[0][0], load=load, batch=_batch(line),
                )
            )  # fmt: skip
    return bars


def loaded(loads: Sequence[Any]) -> tuple[tuple[tuple[str, str, Length, int], ...], ...]:
    """Stored loads of an order line, one per bar, each as (job, mark, length, count)."""
    return tuple(tuple((job, mark, Length(nm), count) for job, mark, nm, count in load) for load in loads)


def load_length(load: Sequence[tuple[str, str, Length, int]], saw: SawSettings, *, sawn: bool) -> Length:
    """The shortest bar that holds a load with kerfs, trim and grip.

    `sawn`: the supplier sawed the bar to the length of its piece, so that it needs no cut.
    """
    net = sum(length.nm * count for _, _, length, count in load)
    if sawn or not load:
        return Length(net)
    cuts = sum(count for _, _, _, count in load) - 1
    return Length(net + saw.kerf.nm * cuts + saw.lost.nm)


def part_for(bar: JobBar, jobs: Collection[str], saw: SawSettings) -> Length:
    """The length of a bar left for these jobs when other jobs' pieces have been cut from it."""
    others = sum(
        # One kerf per foreign piece separates it from the rest.
        (length.nm + saw.kerf.nm) * count
        for owner, _, length, count in bar.load
        if owner not in jobs
    )
    return Length(max(0, bar.length.nm - others))


def load_of(piece: RackPiece) -> tuple[tuple[str, str, Length, int], ...]:
    """What will be cut from a rack piece, as (job, mark, length, count)."""
    return tuple(
        (share.job.number, mark, Length(nm), count)
        for share in piece.shares
        for mark, nm, count in share.pieces
    )


def _batch(line: OrderLine) -> str:
    return f"{line.order.number} line {line.position}"


def _batch_of(piece: RackPiece) -> str:
    bar = piece.received_bar
    return "" if bar is None or bar.order_line is None else _batch(bar.order_line)


def _is_sawn(piece: RackPiece) -> bool:
    """Whether a piece is one that the supplier sawed to length, and uncut since."""
    if piece.parent_id is not None or piece.received_bar is None or piece.received_bar.order_line is None:
        return False
    return piece.received_bar.order_line.cut


def _with_origin() -> tuple[ExecutableOption, ...]:
    """Options that load a piece's delivery and shares with it.

    A function, since building them at import would configure every mapped class.
    """
    return (
        joinedload(RackPiece.received_bar).joinedload(ReceivedBar.order_line).joinedload(OrderLine.order),
        selectinload(RackPiece.shares).joinedload(RackPieceJob.job),
    )


def used_length(bar: JobBar, saw: SawSettings) -> Length:
    """The length that a bar has for pieces.

    A used bar did hold its pieces, so a plan must find that they fit what did not come back: the length in
    the vise left with the offcut, and the last kerf may have been measured with it.
    """
    return bar.length + saw.kerf + saw.grip if bar.state == "used" else bar.length


def _used(session: Session, numbers: dict[int, str]) -> list[JobBar]:
    bars = []
    returned = (
        select(RackPiece.parent_id, func.sum(RackPiece.length).label("back"))
        .where(RackPiece.parent_id.is_not(None))
        .group_by(RackPiece.parent_id)
        .subquery()
    )
    shared = select(RackPieceJob.rack_piece_id).where(RackPieceJob.job_id.in_(numbers))
    # A bar that was spoilt, or cut for rework, covers no part of the job's need.
    in_vain = select(BarUse.rack_piece_id).where(BarUse.rack_piece_id.is_not(None), BarUse.kind != "work")
    query = (
        select(RackPiece, returned.c.back)
        .outerjoin(returned, returned.c.parent_id == RackPiece.id)
        .where(
            RackPiece.state == "used",
            RackPiece.id.not_in(in_vain),
            RackPiece.used_job_id.in_(numbers) | RackPiece.id.in_(shared),
        )
        .options(*_with_origin())
        .order_by(RackPiece.id)
    )
    for piece, back in session.execute(query):
        # Databases sum the lengths to a plain number, which the column type does not always convert.
        length = piece.length - Length(int(back.nm if isinstance(back, Length) else back or 0))
        bars.append(
            JobBar(
                f"{piece.code} used", piece.section_key, piece.section_text, piece.grade, length, "used",
                code=piece.code, heat=piece.heat, cut=_is_sawn(piece),
                job=numbers.get(piece.used_job_id or 0, ""), batch=_batch_of(piece),
            )
        )  # fmt: skip
    typed = select(BarUse).where(
        BarUse.job_id.in_(numbers), BarUse.rack_piece_id.is_(None), BarUse.kind == "work"
    )
    for use in session.scalars(typed.order_by(BarUse.id)):
        length = use.length - (use.returned or ZERO)
        bars.append(
            JobBar(
                f"use {use.id}", use.section_key, use.section_text, use.grade, length, "used",
                count=use.count, job=numbers[use.job_id],
            )
        )  # fmt: skip
    return [bar for bar in bars if bar.length > ZERO]
