"""Free rack pieces that are promised to a job: when a person asks, and when nothing more is cut for it."""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import counted
from shopquote.records.jobs import Job
from shopquote.records.rack import RackMove, RackPiece
from shopquote.services.shop import clock


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
