"""Free rack pieces that are promised to a job: when a person asks, and when nothing more is cut for it."""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import counted
from shopquote.records.jobs import Job
from shopquote.records.rack import RackMove, RackPiece, RackPieceJob
from shopquote.services.shop import clock

SHARED = "it has cuts of several jobs"
_AT_THEIR_END = ("closed", "lost", "dropped")


@dataclass(frozen=True, slots=True)
class Released:
    """What became of bars that a job gave up.

    Codes of those that are free now; codes of those that go on to another job with cuts in them, with that
    job's number; and codes of those that were promised to another job, where this one's cuts are struck out.
    """

    free: tuple[str, ...] = ()
    goes_on: tuple[tuple[str, str], ...] = ()
    struck_out: tuple[str, ...] = ()


def promised_to(session: Session, job: Job) -> list[RackPiece]:
    """The rack pieces promised to a job."""
    return list(session.scalars(select(RackPiece).where(RackPiece.promised_job_id == job.id)))


def still_promised(session: Session, job: Job) -> str:
    """A warning about promised bars of a finished job that nobody logged as sawn; else empty."""
    pieces = promised_to(session, job) if job.state == "finished" else []
    if not pieces:
        return ""
    shown = ", ".join(piece.code for piece in pieces[:5]) + (" ..." if len(pieces) > 5 else "")
    return (
        f"Not logged as sawn: {counted(len(pieces), 'bar')} promised to {job.number} ({shown}). Log them, or "
        "closing counts those of a material that nobody logged as sawn whole; what is left on the rack: "
        f"shopquote rack release --job {job.number}"
    )


def give_up_bars(session: Session, job: Job) -> Released:
    """Nothing more is cut for a job: its bars are free, but for those of others' cuts.

    A bar that another job has cuts in too goes over to it, and the first job has none in it any more, nor
    in a bar that is promised to another.
    """
    shared = select(RackPieceJob.rack_piece_id).where(RackPieceJob.job_id == job.id)
    query = select(RackPiece).where(
        RackPiece.state == "promised", (RackPiece.promised_job_id == job.id) | RackPiece.id.in_(shared)
    )
    free, goes_on, struck_out = [], [], []
    for piece in session.scalars(query.order_by(RackPiece.id)).all():
        for share in [share for share in piece.shares if share.job_id == job.id]:
            piece.shares.remove(share)
        heir = _next_in(piece)
        if piece.promised_job_id != job.id:
            struck_out.append(piece.code)
        elif heir is None:
            free.append(piece)
        else:
            goes_on.append((piece.code, heir.number))
            for kind, owner in (("released", job.id), ("promised", heir.id)):
                session.add(RackMove(piece_id=piece.id, kind=kind, job_id=owner, at=clock.now(), note=SHARED))
            piece.promised_job, piece.promised_job_id = heir, heir.id
        piece.version += 1
    free_promised(session, free)
    return Released(tuple(piece.code for piece in free), tuple(goes_on), tuple(struck_out))


def _next_in(piece: RackPiece) -> Job | None:
    """The first job with cuts in a piece that is not at its end, a running one before a finished one."""
    there = [share.job for share in piece.shares if share.job.state not in _AT_THEIR_END]
    return min(there, key=lambda job: (job.state == "finished", job.id), default=None)


def free_promised(session: Session, pieces: Iterable[RackPiece]) -> None:
    """Free promised pieces for other jobs, and note a move for each; the caller commits."""
    for piece in pieces:
        session.add(
            RackMove(
                piece_id=piece.id, kind="released", job_id=piece.promised_job_id, at=clock.now(), note=""
            )
        )
        piece.state = "free"
        piece.promised_job = None
        piece.promised_job_id = None
        piece.version += 1
        piece.shares.clear()
    session.flush()
