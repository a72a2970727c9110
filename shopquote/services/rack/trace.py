"""Trace a job or piece back to heat and certificate, and a heat on to every job. Read only.

A link describes one piece: its order, supplier, delivery, heat and certificate, and the jobs it went into.
"""

from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.jobs import Job
from shopquote.records.orders import Receipt, ReceivedBar
from shopquote.records.rack import RackPiece, RackPieceJob
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.heats import bar_of
from shopquote.services.rack.rack_on_file import find_piece


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a bar came from; all but the heat is empty where no delivery brought it.

    `heat_entered` is the heat entered at delivery, if it was corrected since.
    """

    heat: str = ""
    heat_entered: str = ""
    certificate: str = ""
    certificate_kind: str = ""
    certificate_sha256: str = ""
    order: str = ""
    supplier: str = ""
    received_on: date | None = None
    delivery_note: str = ""


@dataclass(frozen=True, slots=True)
class TraceLink:
    """One piece, its origin and where it went.

    `cut_from` has the codes of the pieces it was cut from, nearest first; `jobs` those that used it or that
    it is promised to; `parts` what was planned from it, as (job number, mark, count).
    """

    code: str
    section: str
    grade: str
    length: Length
    state: str
    place: str
    cut_from: tuple[str, ...]
    jobs: tuple[str, ...]
    parts: tuple[tuple[str, str, int], ...]
    origin: Origin


def trace_job(session: Session, number: str, mark: str | None = None) -> tuple[TraceLink, ...]:
    """Every piece that went into a job or is promised to it, with its origin.

    With `mark`, only pieces from which that part was planned; all of them if no plan is on file.

    Raises:
        NotFoundError: no such job.
        InputError: plans are on file, but none cuts this mark.
    """
    job = find_job(session, number)
    shared = select(RackPieceJob.rack_piece_id).where(RackPieceJob.job_id == job.id)
    query = select(RackPiece).where(
        (RackPiece.used_job_id == job.id) | (RackPiece.promised_job_id == job.id) | RackPiece.id.in_(shared)
    )
    links = _links(session.scalars(query.options(*_WHOLE).order_by(RackPiece.id)).unique().all())
    if mark is None:
        return links
    found = tuple(link for link in links if any(j == job.number and m == mark for j, m, _ in link.parts))
    planned = sorted({m for link in links for j, m, _ in link.parts if j == job.number})
    if not found and planned:
        raise InputError(
            f"Part {mark!r} was planned from none of the pieces of {job.number}; "
            f"they hold {', '.join(planned)}."
        )
    # Without a plan on file any of the pieces may hold the part.
    return found or links


def trace_heat(session: Session, heat: str) -> tuple[TraceLink, ...]:
    """Every piece of a heat, wherever it went, and pieces entered with this heat and corrected since.

    Raises:
        NotFoundError: no bar of this heat is on file.
        InputError: not a heat number.
    """
    read = HEAT.read(heat, Notation())
    # The heat as it was typed at receipt too: papers of the supplier name it even after a correction.
    entered = select(ReceivedBar.id).where(ReceivedBar.heat == read)
    query = (
        select(RackPiece)
        .where((RackPiece.heat == read) | RackPiece.received_bar_id.in_(entered))
        .options(*_WHOLE)
        .order_by(RackPiece.id)
    )
    pieces = session.scalars(query).unique().all()
    if not pieces:
        raise NotFoundError(f"No bar of heat {heat.strip()[:60]!r} is on file.")
    return _links(pieces)


def trace_piece(session: Session, code: str) -> tuple[TraceLink, ...]:
    """A piece and all others cut from the same bar, with their origin.

    Raises:
        NotFoundError: no such piece.
    """
    family = [piece.id for piece in bar_of(session, find_piece(session, code))]
    query = select(RackPiece).where(RackPiece.id.in_(family)).options(*_WHOLE).order_by(RackPiece.id)
    return _links(session.scalars(query).unique().all())


# Loaded with the pieces: a trace reads all of this of each, and must not query for every piece.
_WHOLE = (
    joinedload(RackPiece.received_bar).joinedload(ReceivedBar.certificate),
    joinedload(RackPiece.received_bar).joinedload(ReceivedBar.receipt).joinedload(Receipt.order),
    joinedload(RackPiece.promised_job),
    joinedload(RackPiece.used_job),
    selectinload(RackPiece.shares).joinedload(RackPieceJob.job),
)


def _links(pieces: Sequence[RackPiece]) -> tuple[TraceLink, ...]:
    return tuple(
        TraceLink(
            piece.code, piece.section_text, piece.grade, piece.length, piece.state, piece.place,
            _ancestors(piece), _jobs(piece), _parts(piece), _origin(piece),
        )
        for piece in pieces
    )  # fmt: skip


def _ancestors(piece: RackPiece) -> tuple[str, ...]:
    codes = []
    parent = piece.parent
    while parent is not None:
        codes.append(parent.code)
        parent = parent.parent
    return tuple(codes)


def _jobs(piece: RackPiece) -> tuple[str, ...]:
    jobs: Iterable[Job | None] = (piece.used_job, piece.promised_job, *(share.job for share in piece.shares))
    return tuple(dict.fromkeys(job.number for job in jobs if job is not None))


def _parts(piece: RackPiece) -> tuple[tuple[str, str, int], ...]:
    return tuple(
        (share.job.number, str(mark), int(count)) for share in piece.shares for mark, _, count in share.pieces
    )


def _origin(piece: RackPiece) -> Origin:
    bar = piece.received_bar
    if bar is None:
        return Origin(heat=piece.heat)
    receipt, certificate = bar.receipt, bar.certificate
    return Origin(
        heat=piece.heat,
        heat_entered=bar.heat if bar.heat != piece.heat else "",
        certificate="" if certificate is None else certificate.file_name,
        certificate_kind="" if certificate is None else certificate.kind,
        certificate_sha256="" if certificate is None else certificate.sha256,
        order=receipt.order.number,
        supplier=receipt.order.supplier.name,
        received_on=receipt.received_on,
        delivery_note=receipt.reference,
    )
